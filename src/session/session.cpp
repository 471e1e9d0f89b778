#include <plumbline/session/schema.hpp>
#include <plumbline/session/session.hpp>

#include "../calibration/findings.hpp"
#include "../record/json_reader.hpp"
#include "../record/layout.hpp"
#include "../record/schema.hpp"
#include "observe.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/calibration/surroundings.hpp>
#include <plumbline/calibration/transfer.hpp>
#include <plumbline/calibration/two_temperatures.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/error.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>

namespace plumbline::inline v0::session {

namespace {

using record::demand;
using record::fields;
using record::wording;

/// Whether a path stays below the folder that it is relative to, whatever the folder.
bool stays_below(const std::filesystem::path& path) {
    return path.is_relative() && std::find(path.begin(), path.end(), "..") == path.end();
}

/// What stays_below() and expect_plain_name() ask for, as far as JSON Schema can say it.
constexpr const char* below_schema = R"json({"not": {"pattern": "^/|(^|/)\\.\\.(/|$)"}})json";
constexpr const char* plain_name_schema = R"({"maxLength": 256, "not": {"pattern": "/"}})";

void visit(fields& f, capture_source& c) {
    f.text("file", c.file, wording::not_empty);
    f.expect(stays_below(c.file), "file", "found " + record::shown(c.file),
             "a file in the folder of the session or below it, without \"..\"",
             "copy the capture there and name it relative to the session", below_schema);
    if (f.gives("column")) f.text("column", c.column);
    if (f.gives("format")) record::visit_format(f, c.format);
    f.expect(c.format == capture::code_format::csv || c.column.empty(), "column", "found " + record::shown(c.column),
             "no column, since samples of 16 bits follow one another", "leave it out, or correct the format");
    f.also("", R"json({"not": {"properties": {"format": {"enum": ["s16", "u16"]}, "column": {"minLength": 1}},
                           "required": ["format", "column"]}})json",
           "");
    if (f.has("sample_rate", c.sample_rate.has_value())) {
        frequency rate = c.sample_rate.value_or(1.0 * hertz);
        f.quantity("sample_rate", rate, demand::above_zero);
        c.sample_rate = rate;
    }
}

void visit_step(fields& f, step& s) {
    f.object("applied", [&] {
        record::visit(f, s.source);
        if (f.has("transfer", s.by_range.has_value())) {
            if (!s.by_range) s.by_range.emplace();
            f.object("transfer", [&] {
                f.text("channel", s.by_range->channel, wording::not_empty);
                f.text("range", s.by_range->range, wording::not_empty);
                f.object("capture", [&] { visit(f, s.by_range->capture); });
            });
        }
        f.expect(!s.by_range || !(s.source.stated || s.source.indicated || s.source.reversed || s.source.source), "transfer",
                 "found a transfer beside another voltage", "one of them", "keep what was used");
    });
    f.object("capture", [&] { visit(f, s.capture); });
}

void visit(fields& f, repetitions& r) {
    f.quantity("reference_at", r.reference_at, demand::above_zero);
    f.list("captures", r.captures, [&](repetitions::one& c) {
        f.quantity("at", c.at, demand::above_zero);
        f.object("capture", [&] { visit(f, c.capture); });
    });
    f.expect(r.captures.size() >= 3, "captures", fmt::format("found {} captures", r.captures.size()),
             "3 or more, which make 0-R-0-R-0 with those of the steps",
             "repeat the zero and the reference step in turn, each connected anew", R"({"minItems": 3})");
    for (std::size_t i = 0; i < r.captures.size(); ++i) {
        const duration before = i == 0 ? r.reference_at : r.captures[i - 1].at;
        f.expect(r.captures[i].at > before, fmt::format("captures/{}/at", i), fmt::format("found {} s", r.captures[i].at.value()),
                 fmt::format("more than {} s, when the one before was captured", before.value()),
                 "put the captures in their order: zero first, then in turn");
    }
}

void visit_point(fields& f, point& p) {
    f.text("name", p.name, wording::not_empty);
    f.also("name", plain_name_schema, "");
    visit_step(f, p.step);
}

void visit(fields& f, crosstalk& c) {
    f.text("channel", c.channel, wording::not_empty);
    f.text("range", c.range, wording::not_empty);
    const auto visit_end = [&](const char* key, crosstalk::end& e) {
        f.object(key, [&] {
            f.quantity("voltage", e.there);
            f.object("capture", [&] { visit(f, e.capture); });
        });
    };
    visit_end("low", c.low);
    visit_end("high", c.high);
    f.expect(c.low.there < c.high.there, "high/voltage", fmt::format("found {} V", c.high.there.value()),
             fmt::format("more than the low voltage, {} V", c.low.there.value()), "put the two in their order");
}

void visit(fields& f, warm_up& w) {
    f.list("curve", w.curve, [&](repetitions::one& c) {
        f.quantity("at", c.at, demand::not_negative);
        f.object("capture", [&] { visit(f, c.capture); });
    });
    f.expect(w.curve.size() >= 3, "curve", fmt::format("found {} captures", w.curve.size()), "3 or more",
             "capture one constant input again and again from switching on", R"({"minItems": 3})");
    for (std::size_t i = 1; i < w.curve.size(); ++i) {
        f.expect(w.curve[i].at > w.curve[i - 1].at, fmt::format("curve/{}/at", i),
                 fmt::format("found {} s", w.curve[i].at.value()),
                 fmt::format("more than {} s, when the one before was captured", w.curve[i - 1].at.value()),
                 "put the captures in their order");
    }
    record::visit_warm_up_limits(f, w.limits);
}

void visit(fields& f, at_supply& s) {
    f.text("name", s.name, wording::not_empty);
    f.object("zero", [&] { visit(f, s.zero); });
    f.object("reference", [&] { visit(f, s.reference); });
}

/// What a range may have besides its steps and checks.
void visit_further(fields& f, range& r) {
    const auto visit_if = [&](const char* key, auto& part) {
        if (!f.has(key, part.has_value())) return;
        if (!part) part.emplace();
        f.object(key, [&] { visit(f, *part); });
    };
    visit_if("turns", r.turns);
    f.expect(!r.turns || !r.negative, "turns", "found repetitions in turn beside a negative step", "zero and reference alone",
             "leave the negative step out, or the repetitions: it would stand at one moment of a drift");
    f.also("", R"({"not": {"required": ["turns", "negative"]}})", "");
    if (f.gives("points")) f.list("points", r.points, [&](point& p) { visit_point(f, p); });
    if (f.gives("crosstalk")) f.list("crosstalk", r.crosstalk, [&](crosstalk& c) { visit(f, c); });
    visit_if("warm_up", r.warm_up);
    if (f.gives("supplies")) f.list("supplies", r.supplies, [&](at_supply& s) { visit(f, s); });
    const bool used = r.setup.in_use.has_value();
    f.expect(r.supplies.empty() || used, "supplies", "found supplies without the conditions of use that they are for",
             "\"in_use\" in the range", "state how the range is used after the calibration");
    f.expect(!r.warm_up || !r.warm_up->limits.used_from || used, "warm_up/used_from",
             "found a use before it is warm without the conditions of use", "\"in_use\" in the range",
             "state how the range is used after the calibration, or leave \"used_from\" out");
    if (f.has("earlier", !r.earlier.empty())) f.text("earlier", r.earlier, wording::not_empty);
}

void visit(fields& f, range& r, kelvins temperature_half_width) {
    calibration::range_setup& setup = r.setup;
    f.text("channel", setup.channel, wording::not_empty);
    f.also("channel", plain_name_schema, "");
    f.also("channel", R"({"not": {"enum": ["reference", "comparison"]}})", "");
    f.text("range", setup.range, wording::not_empty);
    f.also("range", plain_name_schema, "");
    f.object("mode", [&] { record::visit(f, setup.mode); });
    f.object("chain", [&] { record::visit(f, setup.chain); });
    setup.temperature_half_width = temperature_half_width;
    if (f.gives("temperature_half_width"))
        f.quantity("temperature_half_width", setup.temperature_half_width, demand::not_negative);
    f.object("accept", [&] { record::visit(f, setup.limit); });
    record::visit_if_stated(f, "longest_time", setup.longest_time);
    record::visit_if_stated(f, "largest_hum", setup.largest_hum, demand::not_negative);
    record::visit_if_stated(f, "slow_disturbance", setup.slow);
    f.object("zero", [&] { visit_step(f, r.zero); });
    f.object("reference", [&] { visit_step(f, r.reference); });
    if (f.has("negative", r.negative.has_value())) {
        if (!r.negative) r.negative.emplace();
        f.object("negative", [&] { visit_step(f, *r.negative); });
    }
    record::visit_before_and_after(f, setup.before, setup.in_use);
    if (f.gives("checks")) {
        f.list("checks", r.checks, [&](check& c) {
            f.text("name", c.name, wording::not_empty);
            f.also("name", plain_name_schema, "");
            if (f.gives("as_found")) f.flag("as_found", c.as_found);
            f.expect(!c.as_found || setup.before, "as_found", "found a check as found without the correction from before",
                     "the gain and offset that were in force, as \"before\" in the range", "state them, or check as left");
            visit_step(f, c.step);
        });
    }
    visit_further(f, r);
}

/// Names that become part of the identity of an input (src/calibration/identity.hpp), where '/' joins them: two inputs of one identity
/// would be taken for one. Long ones would not fit into the record's texts, which repeat them.
void expect_plain_name(fields& f, const std::string& at, const std::string& name) {
    constexpr std::size_t longest_name = 256;
    f.expect(name.size() <= longest_name, at, fmt::format("found a name of {} bytes", name.size()),
             fmt::format("at most {}", longest_name), "shorten it");
    f.expect(name.find('/') == std::string::npos, at, "found " + record::shown(name), "a name without \"/\"",
             "write another character, or \"per\"");
}

void expect_plain_names(fields& f, const session& s) {
    constexpr std::size_t longest_description = 4096;
    for (std::size_t i = 0; i < s.header.references.size(); ++i) {
        const calibration::reference& r = s.header.references[i];
        const std::string at = fmt::format("references/{}/", i);
        expect_plain_name(f, at + "id", r.id);
        f.expect(r.description.size() <= longest_description, at + "description",
                 fmt::format("found a text of {} bytes", r.description.size()), fmt::format("at most {}", longest_description),
                 "shorten it");
    }
    for (std::size_t i = 0; i < s.ranges.size(); ++i) {
        const range& r = s.ranges[i];
        const std::string at = fmt::format("ranges/{}/", i);
        expect_plain_name(f, at + "channel", r.setup.channel);
        for (const char* taken : {"reference", "comparison"}) {
            f.expect(r.setup.channel != taken, at + "channel", "found " + record::shown(taken),
                     fmt::format("another name, since the inputs of {}s begin with that one", taken), "rename the channel");
        }
        expect_plain_name(f, at + "range", r.setup.range);
        for (std::size_t k = 0; k < r.checks.size(); ++k) {
            expect_plain_name(f, fmt::format("{}checks/{}/name", at, k), r.checks[k].name);
        }
        for (std::size_t k = 0; k < r.points.size(); ++k) {
            expect_plain_name(f, fmt::format("{}points/{}/name", at, k), r.points[k].name);
        }
    }
}

const range* range_named(const session& s, const std::string& channel, const std::string& name) {
    const auto found = std::find_if(s.ranges.begin(), s.ranges.end(),
                                    [&](const range& r) { return r.setup.channel == channel && r.setup.range == name; });
    return found == s.ranges.end() ? nullptr : &*found;
}

/// Further points name references and each other; crosstalk names the range of another channel.
void expect_sound_points(fields& f, const std::string& at, const range& r, const session& s) {
    for (auto p = r.points.begin(); p != r.points.end(); ++p) {
        const std::string point_at = fmt::format("{}/points/{}", at, p - r.points.begin());
        f.expect(std::none_of(r.points.begin(), p, [&](const point& other) { return other.name == p->name; }), point_at + "/name",
                 "found " + record::shown(p->name) + " a second time", "a name of its own for each point", "rename one of them");
        record::expect_known(f, point_at + "/applied", p->step.source, p->step.by_range.has_value(), s.header.references);
    }
    for (auto c = r.crosstalk.begin(); c != r.crosstalk.end(); ++c) {
        const std::string other_at = fmt::format("{}/crosstalk/{}", at, c - r.crosstalk.begin());
        f.expect(c->channel != r.setup.channel, other_at + "/channel", "found " + record::shown(c->channel) + ", this one",
                 "another channel", "name the channel that the voltages were applied to");
        f.expect(std::none_of(r.crosstalk.begin(), c, [&](const crosstalk& other) { return other.channel == c->channel; }),
                 other_at + "/channel", "found " + record::shown(c->channel) + " a second time", "each other channel once",
                 "keep the range of it that reaches farther");
        f.expect(range_named(s, c->channel, c->range) != nullptr, other_at,
                 fmt::format("found channel {}, range {}", record::shown(c->channel), record::shown(c->range)),
                 "a range of this session", "correct channel or range, or describe that range");
    }
}

void expect_sound(fields& f, const session& s) {
    for (std::size_t i = 0; i < s.comparisons.size(); ++i) {
        const std::string at = fmt::format("comparisons/{}", i);
        const comparison& c = s.comparisons[i];
        expect_plain_name(f, at + "/name", c.name);
        const auto same_name = [&](const comparison& other) { return other.name == c.name; };
        f.expect(std::none_of(s.comparisons.begin(), s.comparisons.begin() + static_cast<std::ptrdiff_t>(i), same_name),
                 at + "/name", "found " + record::shown(c.name) + " a second time", "a name of its own for each comparison",
                 "rename one of them");
        record::expect_known(f, at + "/first", c.first, false, s.header.references);
        record::expect_known(f, at + "/second", c.second, false, s.header.references);
    }
    f.expect(!s.clock || range_named(s, s.clock->known.channel, s.clock->known.range) != nullptr, "clock/range",
             s.clock ? fmt::format("found channel {}, range {}", record::shown(s.clock->known.channel),
                                   record::shown(s.clock->known.range))
                     : "",
             "a range of this session", "name the range that captured the signal");
    f.expect(!s.ranges.empty(), "ranges", "found an empty list", "at least one range", "describe the range that was calibrated",
             R"({"minItems": 1})");
    for (std::size_t i = 0; i < s.ranges.size(); ++i) {
        const range& r = s.ranges[i];
        const std::string at = fmt::format("ranges/{}", i);
        const auto same_range = [&](const range& other) {
            return other.setup.channel == r.setup.channel && other.setup.range == r.setup.range;
        };
        f.expect(
            std::none_of(s.ranges.begin(), s.ranges.begin() + static_cast<std::ptrdiff_t>(i), same_range), at,
            fmt::format("found channel {}, range {} a second time", record::shown(r.setup.channel), record::shown(r.setup.range)),
            "each range of a channel once", "remove one of them, or give it another name");
        const auto expect_step = [&](const std::string& key, const step& one) {
            record::expect_known(f, at + key + "/applied", one.source, one.by_range.has_value(), s.header.references);
        };
        expect_step("/zero", r.zero);
        expect_step("/reference", r.reference);
        if (r.negative) expect_step("/negative", *r.negative);
        expect_sound_points(f, at, r, s);
        for (auto c = r.checks.begin(); c != r.checks.end(); ++c) {
            const std::string check_at = fmt::format("{}/checks/{}", at, c - r.checks.begin());
            const auto same_name = [&](const check& other) { return other.name == c->name; };
            f.expect(std::none_of(r.checks.begin(), c, same_name), check_at + "/name",
                     "found " + record::shown(c->name) + " a second time", "a name of its own for each check",
                     "rename one of them");
            expect_step(fmt::format("/checks/{}", c - r.checks.begin()), c->step);
        }
    }
}

void visit(fields& f, probe_work& p) {
    record::visit_described(f, p.described);
    f.object("instrument", [&] {
        f.text("record", p.record, wording::not_empty);
        f.text("channel", p.channel, wording::not_empty);
        f.text("range", p.range, wording::not_empty);
    });
    f.object("compensation", [&] {
        f.object("square_wave", [&] { record::visit(f, p.fed); });
        f.object("capture", [&] { visit(f, p.capture); });
    });
    if (!f.has("ratio", p.ratio.has_value())) return;
    if (!p.ratio) p.ratio.emplace();
    f.object("ratio", [&] {
        f.object("square_wave", [&] { record::visit(f, p.ratio->fed); });
        f.object("direct", [&] { visit(f, p.ratio->direct); });
        f.object("divided", [&] { visit(f, p.ratio->divided); });
        f.quantity("temperature_coefficient", p.ratio->temperature_coefficient, demand::not_negative);
    });
}

void visit(fields& f, clock& c) {
    f.text("channel", c.known.channel, wording::not_empty);
    f.text("range", c.known.range, wording::not_empty);
    f.object("capture", [&] { visit(f, c.capture); });
    record::visit_known(f, c.known);
}

void visit_of_instrument(fields& f, session& s) {
    if (f.gives("comparisons")) {
        f.list("comparisons", s.comparisons, [&](comparison& c) {
            f.text("name", c.name, wording::not_empty);
            f.also("name", plain_name_schema, "");
            f.object("first", [&] { record::visit(f, c.first); });
            f.object("second", [&] { record::visit(f, c.second); });
        });
    }
    f.list("ranges", s.ranges, [&](range& r) { visit(f, r, s.header.ambient.temperature_half_width); });
    if (f.has("clock", s.clock.has_value())) {
        if (!s.clock) s.clock.emplace();
        f.object("clock", [&] { visit(f, *s.clock); });
    }
    record::visit_if_stated(f, "clock_tolerance", s.header.clock_tolerance);
    expect_plain_names(f, s);
    expect_sound(f, s);
}

void visit(fields& f, session& s) {
    record::visit_envelope(f, "session", schema_version);
    record::visit_header(f, s.header);
    record::by_kind(
        f, s.header.what, [&] { visit_of_instrument(f, s); },
        [&] {
            if (!s.probe) s.probe.emplace();
            f.object("probe", [&] { visit(f, *s.probe); });
        });
}

/// The steps of one range, as they are turned from the session's into the record's.
struct observer {
    const session& all;
    double chance;  ///< of a false alarm of one test
    const range& of;
    record::record& result;
    std::vector<calibration::seen_capture> captures{};  ///< all that were looked at, for their findings

    /// @param name  for what is transferred: unique in the session
    /// @param what  for findings: unique in the range
    [[nodiscard]] calibration::step operator()(const step& from, const std::string& name, const std::string& what) {
        const observation o = look(from.capture, what);
        return {from.by_range ? carried(*from.by_range, from.source.reference, name) : from.source, o.evidence, o.seen};
    }

    /// A capture in the mode of the range, whose codes are kept in `captures`.
    [[nodiscard]] observation look(const capture_source& from, const std::string& what) {
        observation o = observe(from, of.setup.mode, of.setup.chain.adc, all.folder);
        captures.push_back({what, {{}, o.evidence, o.seen}, std::move(o.run)});
        return o;
    }

private:
    [[nodiscard]] calibration::applied carried(const transfer& by, const std::string& reference, const std::string& name) const {
        const auto source = std::find_if(result.ranges.begin(), result.ranges.end(),
                                         [&](const auto& r) { return r.channel == by.channel && r.range == by.range; });
        if (source == result.ranges.end()) {
            throw bad_input(
                all.file + ": transfer to " + name,
                "channel " + record::shown(by.channel) + ", range " + record::shown(by.range) + ", which is not calibrated yet",
                "a range that stands before this one in the session", "correct the name, or change the order");
        }
        observation o = observe(by.capture, source->mode, source->chain.adc, all.folder);
        calibration::applied there =
            calibration::transferred(*source, reference, name, o.evidence, o.seen, result.references, result.inputs);
        const std::vector<calibration::seen_capture> seen{{"transfer " + name, {{}, o.evidence, o.seen}, std::move(o.run)}};
        calibration::add_findings(*source, seen, chance);
        return there;
    }
};

/// All captures of zero and reference in turn: those of the steps, then the repetitions.
std::vector<calibration::repeated_capture> in_turn(const calibration::steps& steps, const repetitions& r, observer& seen) {
    std::vector<calibration::repeated_capture> all{{duration(), steps.zero.evidence, steps.zero.seen},
                                                   {r.reference_at, steps.reference.evidence, steps.reference.seen}};
    for (const repetitions::one& c : r.captures) {
        const observation o = seen.look(
            c.capture, fmt::format("{} step, capture {} in turn", all.size() % 2 == 1 ? "reference" : "zero", all.size() + 1));
        all.push_back({c.at, o.evidence, o.seen});
    }
    for (calibration::seen_capture& c : seen.captures) c.hum_has_a_row = false;
    return all;
}

std::vector<calibration::named_step> further_steps(const range& r, observer& seen, const std::string& place) {
    std::vector<calibration::named_step> all;
    for (const point& p : r.points) all.push_back({p.name, seen(p.step, place + p.name, "step " + p.name)});
    return all;
}

void add_crosstalk(calibration::range_calibration& to, const range& r, const session& s, observer& seen,
                   uncertainty::input_set& inputs) {
    for (const crosstalk& c : r.crosstalk) {
        const observation low = seen.look(c.low.capture, "crosstalk from channel " + c.channel + ", low");
        const observation high = seen.look(c.high.capture, "crosstalk from channel " + c.channel + ", high");
        calibration::add_crosstalk(
            to, {c.channel, c.range, c.low.there, c.high.there, low.evidence, low.seen, high.evidence, high.seen, {}, {}, {}},
            range_named(s, c.channel, c.range)->setup.chain, inputs);
    }
}

void add_warm_up_and_supplies(calibration::range_calibration& to, const range& r, observer& seen) {
    for (const at_supply& a : r.supplies) {
        const observation zero = seen.look(a.zero, "supply " + a.name + ", zero step");
        const observation reference = seen.look(a.reference, "supply " + a.name + ", reference step");
        to.supplies.push_back({a.name, zero.evidence, zero.seen, reference.evidence, reference.seen});
    }
    if (!to.supplies.empty()) {
        const calibration::supply_effect e = calibration::by_supply(to);
        to.in_use->gain_by_supply = e.gain;
        to.in_use->offset_by_supply = e.offset;
    }
    if (!r.warm_up) return;
    calibration::seen_warm_up& w = to.warm_up.emplace(r.warm_up->limits);
    for (const repetitions::one& c : r.warm_up->curve) {
        const observation o = seen.look(c.capture, fmt::format("warm-up, capture {}", w.curve.size() + 1));
        seen.captures.back().during = calibration::applied_during::warming_up;
        w.curve.push_back({c.at, o.evidence, o.seen});
    }
    (void)calibration::warm_up_of(to, w);
}

/// Temperature coefficients against the same range in an earlier record of the same instrument.
void add_temperatures(calibration::range_calibration& to, const range& r, const session& s, const record::record& now) {
    if (r.earlier.empty()) return;
    const record::record before = record::read_record((std::filesystem::path(s.folder) / r.earlier).string());
    const std::string where = s.file + ": earlier record of channel " + to.channel + ", range " + to.range;
    const auto same = [&](const record::device& d) { return d.model == now.device.model && d.serial == now.device.serial; };
    if (before.what != record::kind::instrument || !same(before.device)) {
        throw bad_input(where, "record " + before.number + " of " + before.device.model + ' ' + before.device.serial,
                        "one of " + now.device.model + ' ' + now.device.serial, "name an earlier record of this instrument");
    }
    const auto found = std::find_if(before.ranges.begin(), before.ranges.end(),
                                    [&](const auto& one) { return one.channel == to.channel && one.range == to.range; });
    if (found == before.ranges.end()) {
        throw bad_input(where, "record " + before.number + " without it", "a record with this range",
                        "name another record, or leave \"earlier\" out");
    }
    calibration::seen_at_two_temperatures seen = calibration::seen_by({*found, before.inputs, before.references},
                                                                      {to, now.inputs, now.references}, now.coverage_probability);
    seen.record = before.number;
    seen.sha256 = record::sections_digest(before);
    seen.date = before.dates.ended;
    to.temperatures = std::move(seen);
}

/// What all ranges together are judged by.
calibration::looks looks_of(const session& s) {
    calibration::looks all;
    const auto look_at = [&](const step& one) { all.captures += one.by_range ? 2 : 1; };
    for (const range& r : s.ranges) {
        look_at(r.zero);
        look_at(r.reference);
        if (r.negative) look_at(*r.negative);
        for (const check& c : r.checks) look_at(c.step);
        for (const point& p : r.points) look_at(p.step);
        if (r.turns) all.captures += r.turns->captures.size();
        all.captures += 2 * r.crosstalk.size() + 2 * r.supplies.size() + (r.warm_up ? r.warm_up->curve.size() : 0);
        // a step's level at each supply, both of them
        all.others += r.crosstalk.size() + 2 * r.supplies.size() + (r.warm_up ? 1 : 0) + (r.points.empty() ? 0 : 1);
        all.two_slopes += r.negative && r.points.empty() ? 1 : 0;
    }
    if (s.clock) ++all.captures;
    return all;
}

void calibrate_clock(record::record& result, const session& s, double chance) {
    if (!s.clock) return;
    const calibration::range_setup& by = range_named(s, s.clock->known.channel, s.clock->known.range)->setup;
    const observation o = observe(s.clock->capture, by.mode, by.chain.adc, s.folder);
    calibration::clock_calibration& c = result.clock.emplace(s.clock->known);
    c.evidence = o.evidence;
    c.nominal = by.mode.sample_rate;
    c.ambient = s.header.ambient.temperature;
    calibration::calibrate_clock(c, o.run, s.file + ": clock, capture " + s.clock->capture.file, result.coverage_probability);
    const std::vector<calibration::seen_capture> seen{
        {"clock", {{}, o.evidence, o.seen}, o.run, false, calibration::applied_during::known_sine}};
    const auto of = std::find_if(result.ranges.begin(), result.ranges.end(), [&](const auto& one) {
        return one.channel == s.clock->known.channel && one.range == s.clock->known.range;
    });
    calibration::add_findings(*of, seen, chance);
}

const calibration::range_calibration& range_of(const record::record& instrument, const session& s) {
    const auto found = std::find_if(instrument.ranges.begin(), instrument.ranges.end(), [&](const auto& one) {
        return one.channel == s.probe->channel && one.range == s.probe->range;
    });
    if (found != instrument.ranges.end()) return *found;
    throw bad_input(s.file + ": /probe/instrument/range",
                    fmt::format("found channel {}, range {}", record::shown(s.probe->channel), record::shown(s.probe->range)),
                    "a range of record " + instrument.number, "correct channel or range, or name another record");
}

record::record run_probe(const session& s) {
    record::record result = s.header;
    const probe_work& p = *s.probe;
    const record::record instrument = record::read_record((std::filesystem::path(s.folder) / p.record).string());
    const calibration::range_calibration& range = range_of(instrument, s);
    calibration::probe_calibration& found = result.probe.emplace();
    found.described = p.described;
    const resistance input = front_end::nominal_input_resistance(range.chain);
    found.on = {instrument.number,
                record::sections_digest(instrument),
                instrument.device.model,
                instrument.device.serial,
                range.channel,
                range.range,
                input};
    const capture_read step = observe(p.capture, s.folder);
    found.compensation =
        calibration::compensation_of(p.described, input, range.chain.adc, p.fed, step.run, step.evidence, p.capture.file);
    if (!p.ratio) return result;
    const capture_read direct = observe(p.ratio->direct, s.folder);
    const capture_read divided = observe(p.ratio->divided, s.folder);
    found.division = calibration::division_of(p.described, input, range.chain.adc, p.ratio->fed, direct.run, direct.evidence,
                                              divided.run, divided.evidence, "ratio of steps");
    found.division->temperature_coefficient = p.ratio->temperature_coefficient;
    return result;
}

}  // namespace

session read_session(const std::string& file) {
    record::json_reader in(record::read_json_text(file), file, record::completeness::may_default);
    session s;
    s.file = file;
    s.folder = std::filesystem::path(file).parent_path().string();
    visit(in, s);
    in.finish();
    return s;
}

std::string session_schema() {
    record::schema_writer out(record::completeness::may_default);
    session all;
    visit(out, all);
    return out.str(
        "Plumbline session",
        "Who calibrated what, with which references, and where the captures are. Figures are texts of number, space and unit "
        "with the prefixes p n u m k M G: \"4.096 V\", \"220 kohm\", \"0.1 %\". Beyond this schema the library checks names that "
        "point to other parts, the order of dates, bounds between fields, and sizes: 16 MiB a file, 64 KiB a text.");
}

record::record run(const session& s) {
    if (s.probe) return run_probe(s);
    record::record result = s.header;
    result.model = {calibration::model_name, calibration::model_version};
    for (const comparison& c : s.comparisons) {
        result.comparisons.push_back(calibration::compare(c.name, c.first, c.second, result.references,
                                                          s.header.ambient.temperature, s.header.ambient.temperature_half_width,
                                                          result.inputs, result.coverage_probability));
    }
    const calibration::looks all_looks = looks_of(s);
    const double chance = calibration::alarm_of_one(all_looks);
    for (const range& r : s.ranges) {
        observer seen{s, chance, r, result};
        const std::string place = r.setup.channel + " " + r.setup.range + " ";
        calibration::steps steps{
            seen(r.zero, place + "zero", "zero step"), seen(r.reference, place + "reference", "reference step"), {}};
        if (r.negative) steps.negative = seen(*r.negative, place + "negative", "negative step");
        if (r.turns) steps.turns = in_turn(steps, *r.turns, seen);
        calibration::range_setup setup = r.setup;
        setup.ambient = s.header.ambient.temperature;
        setup.begun = s.header.dates.begun;
        setup.ended = s.header.dates.ended;
        calibration::range_calibration solved = calibration::solve(setup, steps, result.references, result.inputs);
        const std::vector<uncertainty::correlation> correlations = calibration::correlations_of(solved);
        result.correlations.insert(result.correlations.end(), correlations.begin(), correlations.end());
        if (!r.points.empty()) {
            calibration::solve_points(solved, further_steps(r, seen, place), result.references, result.inputs,
                                      result.correlations);
        }
        add_temperatures(solved, r, s, result);
        add_crosstalk(solved, r, s, seen, result.inputs);
        add_warm_up_and_supplies(solved, r, seen);
        for (const check& c : r.checks) {
            const calibration::step observed = seen(c.step, place + c.name, "check point " + c.name);
            solved.checks.push_back(calibration::check(solved, c.name, c.as_found, observed, result.references, result.inputs,
                                                       result.coverage_probability));
        }
        calibration::judge_together(solved, result.references, result.inputs, chance,
                                    calibration::alarm_of_slopes_in_one(all_looks));
        calibration::add_findings(solved, seen.captures, chance);
        solved.compact =
            calibration::compact_form(solved, result.references, result.inputs, result.coverage_probability, result.correlations);
        calibration::validation_settings by_trials;
        by_trials.probability = result.coverage_probability;
        by_trials.correlations = result.correlations;
        calibration::validate(solved, result.references, result.inputs, by_trials);
        result.ranges.push_back(std::move(solved));
    }
    calibrate_clock(result, s, chance);
    return result;
}

}  // namespace plumbline::inline v0::session
