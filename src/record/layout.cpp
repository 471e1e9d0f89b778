#include "layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <set>
#include <string_view>
#include <type_traits>

namespace plumbline::inline v0::record {

namespace {

constexpr std::size_t longest_number = 64;

// What is_date() and is_record_number() accept, as far as JSON Schema can say it.
constexpr const char* date_schema = R"({"pattern": "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"})";
constexpr const char* date_or_nothing_schema = R"({"pattern": "^([0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01]))?$"})";
constexpr const char* number_schema = R"({"pattern": "^[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}$"})";
constexpr const char* number_or_nothing_schema = R"({"pattern": "^([A-Za-z0-9_-][A-Za-z0-9._-]{0,63})?$"})";

/// A text that may be left out of a session and is then empty.
void may_text(fields& f, const char* key, std::string& value) {
    if (f.gives(key)) f.text(key, value);
}

/// Written only where it is set.
void may_flag(fields& f, const char* key, bool& value) {
    if (f.has(key, value)) f.flag(key, value);
}

/// Dates written as YYYY-MM-DD come in the order of their texts.
void expect_order(fields& f, const char* key, const std::string& earlier, const std::string& later, const char* earlier_name) {
    f.expect(earlier <= later, key, "found " + shown(later), fmt::format("a day not before \"{}\", {}", earlier_name, earlier),
             "correct one of the two dates");
}

/// A date that may be left out of a session and is then empty.
void may_date(fields& f, const char* key, std::string& value) {
    if (!f.gives(key)) return;
    f.text(key, value);
    f.expect(value.empty() || is_date(value), key, "found " + shown(value), "a day of the calendar as YYYY-MM-DD, or nothing",
             "correct the date", date_or_nothing_schema);
}

void visit(fields& f, dates& d) {
    may_date(f, "received", d.received);
    visit_date(f, "begun", d.begun);
    visit_date(f, "ended", d.ended);
    visit_date(f, "issued", d.issued);
    expect_order(f, "begun", d.received, d.begun, "received");
    expect_order(f, "ended", d.begun, d.ended, "begun");
    expect_order(f, "issued", d.ended, d.issued, "ended");
}

void visit(fields& f, party& p) {
    f.text("name", p.name, wording::not_empty);
    f.text("contact", p.contact, wording::not_empty);
}

void visit(fields& f, device& d) {
    f.text("description", d.description, wording::not_empty);
    f.text("maker", d.maker, wording::not_empty);
    f.text("model", d.model, wording::not_empty);
    f.text("serial", d.serial, wording::not_empty);
    may_text(f, "firmware", d.firmware);
    may_text(f, "condition", d.condition);
}

void visit(fields& f, ambient& a) {
    visit_temperature(f, "temperature", a.temperature);
    f.quantity("temperature_half_width", a.temperature_half_width, demand::not_negative);
    if (f.has("humidity_percent", a.humidity_percent.has_value())) {
        double percent = a.humidity_percent.value_or(0.0);
        f.number("humidity_percent", percent, demand::not_negative);
        f.expect(percent <= 100.0, "humidity_percent", fmt::format("found {}", percent), "at most 100", "correct the number",
                 R"({"maximum": 100})");
        a.humidity_percent = percent;
    }
    if (f.gives("warm_up_minutes")) f.number("warm_up_minutes", a.warm_up_minutes, demand::not_negative);
}

void visit(fields& f, method& m) {
    f.text("text", m.text, wording::not_empty);
    may_text(f, "deviations", m.deviations);
    may_text(f, "not_covered", m.not_covered);
}

void visit(fields& f, front_end::resistor& r) {
    f.quantity("nominal", r.nominal, demand::above_zero);
    f.quantity("tolerance", r.tolerance, demand::not_negative);
    f.quantity("temperature_coefficient", r.temperature_coefficient, demand::not_negative);
}

void visit_resistor(fields& f, const char* key, front_end::resistor& r) {
    f.object(key, [&] { visit(f, r); });
}

/// Value with its spread: {"value", "U", "k"} or {"value", "limits"}, among the fields of the object that states it.
void visit_stated(fields& f, calibration::stated_voltage& v) {
    f.quantity("value", v.value);
    const auto visit_limits = [&] {
        const auto* known = std::get_if<calibration::limits>(&v.spread);
        calibration::limits l = known != nullptr ? *known : calibration::limits{};
        f.quantity("limits", l.half_width, demand::above_zero);
        may_flag(f, "at_limit", l.at_limit);
        v.spread = l;
    };
    const auto visit_expanded = [&] {
        const auto* known = std::get_if<calibration::expanded>(&v.spread);
        calibration::expanded e = known != nullptr ? *known : calibration::expanded{};
        f.quantity("U", e.U, demand::above_zero);
        f.number("k", e.k, demand::above_zero);
        v.spread = e;
    };
    f.either("limits", std::holds_alternative<calibration::limits>(v.spread), visit_limits, visit_expanded);
}

void visit_band(fields& f, const char* key, std::optional<calibration::temperature_band>& band) {
    if (!f.has(key, band.has_value())) return;
    if (!band) band.emplace();
    f.object(key, [&] {
        visit_temperature(f, "low", band->low);
        visit_temperature(f, "high", band->high);
        f.expect(band->low.degrees <= band->high.degrees, "high", fmt::format("found {} degC", band->high.degrees),
                 fmt::format("at least the low end, {} degC", band->low.degrees), "correct the ends");
    });
}

void visit(fields& f, calibration::meter& m) {
    f.quantity("of_reading", m.of_reading, demand::not_negative);
    f.number("counts", m.counts, demand::not_negative);
    f.quantity("count", m.count, demand::above_zero);
    f.quantity("range", m.range, demand::above_zero);
    f.quantity("input_resistance", m.input_resistance, demand::above_zero);
    visit_band(f, "valid_temperature", m.band);
    if (f.gives("outside_per_kelvin")) f.number("outside_per_kelvin", m.outside_per_kelvin, demand::not_negative);
    may_flag(f, "at_limit", m.at_limit);
}

void visit(fields& f, calibration::reference_part& p) {
    f.quantity("nominal", p.nominal);
    f.quantity("initial_tolerance", p.initial_tolerance, demand::not_negative);
    if (f.gives("nominal_temperature")) visit_temperature(f, "nominal_temperature", p.nominal_temperature);
    f.quantity("temperature_coefficient", p.temperature_coefficient, demand::not_negative);
    if (f.gives("ageing")) f.quantity("ageing", p.ageing, demand::not_negative);
    if (f.gives("regulation")) f.quantity("regulation", p.regulation, demand::not_negative);
    if (f.gives("noise")) f.quantity("noise", p.noise, demand::not_negative);
}

void visit(fields& f, calibration::reference& r) {
    f.text("id", r.id, wording::not_empty);
    f.text("description", r.description, wording::not_empty);
    may_text(f, "maker", r.maker);
    may_text(f, "model", r.model);
    may_text(f, "serial", r.serial);
    may_text(f, "traceability", r.traceability);
    if (f.has("output", r.output.has_value())) {
        if (!r.output) r.output.emplace();
        f.object("output", [&] { visit_stated(f, *r.output); });
    }
    if (f.has("divider", r.divider.has_value())) {
        if (!r.divider) r.divider.emplace();
        f.object("divider", [&] {
            f.text("from", r.divider->from, wording::not_empty);
            visit_resistor(f, "top", r.divider->top);
            visit_resistor(f, "bottom", r.divider->bottom);
            if (f.has("nominal_temperature", r.divider->nominal_temperature.has_value())) {
                celsius t = r.divider->nominal_temperature.value_or(celsius{25.0});
                visit_temperature(f, "nominal_temperature", t);
                r.divider->nominal_temperature = t;
            }
        });
    }
    f.expect(!(r.output && r.divider), "divider", "found both an output and a divider", "one of them",
             "keep the output where the voltage was measured, the divider where it is computed");
    if (f.has("meter", r.meter.has_value())) {
        if (!r.meter) r.meter.emplace();
        f.object("meter", [&] { visit(f, *r.meter); });
    }
    if (f.has("part", r.part.has_value())) {
        if (!r.part) r.part.emplace();
        f.object("part", [&] { visit(f, *r.part); });
    }
    const int forms = (r.output ? 1 : 0) + (r.divider ? 1 : 0) + (r.meter ? 1 : 0) + (r.part ? 1 : 0);
    f.expect(forms <= 1, r.part ? "part" : "meter", "found another form of the same reference beside it",
             "one of \"output\", \"divider\", \"meter\", \"part\"", "keep the one that was used");
    f.also("", R"({"not": {"anyOf": [{"required": ["output", "divider"]}, {"required": ["output", "meter"]},
                                    {"required": ["output", "part"]}, {"required": ["divider", "meter"]},
                                    {"required": ["divider", "part"]}, {"required": ["meter", "part"]}]}})",
           "");
    may_date(f, "valid_from", r.valid_from);
    may_date(f, "valid_until", r.valid_until);
    if (!r.valid_until.empty()) expect_order(f, "valid_until", r.valid_from, r.valid_until, "valid_from");
    visit_band(f, "valid_temperature", r.valid);
}

template <class T>
auto by_id(const std::vector<T>& all, const std::string& id) {
    return std::find_if(all.begin(), all.end(), [&](const T& one) { return one.id == id; });
}

void expect_sound(fields& f, const std::vector<calibration::reference>& references) {
    for (std::size_t i = 0; i < references.size(); ++i) {
        const calibration::reference& r = references[i];
        const std::string at = fmt::format("references/{}/", i);
        f.expect(by_id(references, r.id) - references.begin() == static_cast<std::ptrdiff_t>(i), at + "id",
                 "found " + shown(r.id) + " a second time", "an id of its own for each reference", "rename one of them");
        if (!r.divider) continue;
        const auto from = by_id(references, r.divider->from);
        f.expect(from != references.end() && (from->output || from->part), at + "divider/from", "found " + shown(r.divider->from),
                 "the id of a reference that states its output", "name that reference, or state its output");
    }
}

void visit(fields& f, capture::statistics& s) {
    f.count("n", s.n, 1);
    f.quantity("mean", s.mean);
    f.quantity("s", s.s, demand::not_negative);
    f.number("n_eff", s.n_eff, demand::above_zero);
    f.whole("min", s.min);
    f.whole("max", s.max, s.min);
    f.count("at_bottom", s.at_bottom);
    f.count("at_top", s.at_top);
    f.quantity("drift", s.drift);
    f.quantity("noise", s.noise, demand::not_negative);
    if (f.has("trend", s.slope.has_value())) {
        if (!s.slope) s.slope.emplace();
        f.object("trend", [&] {
            f.quantity("change", s.slope->change);
            f.quantity("u", s.slope->u, demand::not_negative);
        });
    }
    f.list("hum", s.hum, [&](capture::spectral_line& line) {
        f.quantity("frequency", line.at, demand::above_zero);
        f.number("periods", line.periods, demand::above_zero);
        f.quantity("amplitude", line.amplitude, demand::not_negative);
        f.quantity("u", line.u, demand::not_negative);
    });
    if (f.has("removed_hum", s.removed.has_value())) {
        if (!s.removed) s.removed.emplace();
        f.object("removed_hum", [&] {
            f.quantity("frequency", s.removed->at, demand::above_zero);
            f.quantity("amplitude", s.removed->amplitude, demand::not_negative);
            f.quantity("shift", s.removed->shift);
            f.quantity("u", s.removed->u, demand::not_negative);
            f.quantity("noise", s.removed->noise, demand::not_negative);
            f.number("n_eff", s.removed->n_eff, demand::above_zero);
        });
    }
    if (f.has("slow_noise", s.slow.has_value())) {
        if (!s.slow) s.slow.emplace();
        f.object("slow_noise", [&] {
            f.quantity("floor", s.slow->floor, demand::above_zero);
            f.number("degrees_of_freedom", s.slow->degrees_of_freedom, demand::above_zero);
            f.quantity("white", s.slow->white, demand::not_negative);
        });
    }
    if (f.has("few_codes", !s.few_codes.empty())) {
        f.list("few_codes", s.few_codes, [&](capture::code_count& c) {
            f.whole("code", c.code);
            f.count("samples", c.samples, 1);
        });
    }
}

bool is_sha256(const std::string& text) {
    return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

void visit_sha256(fields& f, const char* key, std::string& value) {
    f.text(key, value);
    f.expect(is_sha256(value), key, "found " + shown(value), "64 hexadecimal digits in lower case",
             "use the record as it was written", R"({"pattern": "^[0-9a-f]{64}$"})");
}

void visit(fields& f, stored_check& c) {
    visit_date(f, "date", c.date);
    visit_sha256(f, "image_sha256", c.image_sha256);
    f.flag("same", c.same);
    f.text("result", c.result, wording::not_empty);
}

void visit(fields& f, calibration::capture_evidence& e) {
    f.text("file", e.file, wording::not_empty);
    f.text("column", e.column);
    if (f.has("format", e.format != capture::code_format::csv)) visit_format(f, e.format);
    visit_sha256(f, "sha256", e.sha256);
    f.quantity("sample_rate", e.sample_rate, demand::above_zero);
}

void visit(fields& f, checked_point& p) {
    f.object("capture", [&] { visit(f, p.evidence); });
    f.quantity("reading", p.reading);
    f.quantity("U", p.U, demand::above_zero);
    f.quantity("applied", p.applied);
    f.quantity("U_applied", p.U_applied, demand::above_zero);
    f.number("e_n", p.e_n, demand::not_negative);
}

void visit(fields& f, intermediate_check& c) {
    visit_date(f, "date", c.date);
    f.text("occasion", c.occasion, wording::not_empty);
    f.text("channel", c.channel, wording::not_empty);
    f.text("range", c.range, wording::not_empty);
    visit_temperature(f, "ambient", c.ambient);
    f.object("zero", [&] { visit(f, c.zero); });
    f.object("reference", [&] { visit(f, c.reference); });
    f.text("result", c.result, wording::not_empty);
}

void visit(fields& f, calibration::carried_voltage& c) {
    f.text("channel", c.channel, wording::not_empty);
    f.text("range", c.range, wording::not_empty);
    f.object("capture", [&] { visit(f, c.evidence); });
    f.object("seen", [&] { visit(f, c.seen); });
    f.quantity("value", c.value);
    f.list("by", c.by, [&](uncertainty::sensitivity_to& s) {
        f.text("id", s.id, wording::not_empty);
        f.number("sensitivity", s.sensitivity);
    });
}

void visit_step(fields& f, calibration::step& s) {
    f.object("applied", [&] {
        visit(f, s.source);
        if (f.has("transfer", s.source.carried.has_value())) {
            if (!s.source.carried) s.source.carried.emplace();
            f.object("transfer", [&] { visit(f, *s.source.carried); });
        }
    });
    f.object("capture", [&] { visit(f, s.evidence); });
    f.object("seen", [&] { visit(f, s.seen); });
}

void visit(fields& f, calibration::comparison& c) {
    f.text("name", c.name, wording::not_empty);
    f.object("first", [&] { visit(f, c.first); });
    f.object("second", [&] { visit(f, c.second); });
    f.quantity("difference", c.difference);
    f.quantity("U", c.U, demand::above_zero);
    f.number("k", c.k, demand::above_zero);
    f.number("e_n", c.e_n, demand::not_negative);
}

/// Inputs that a carried voltage depends on are inputs of the record, in their order.
void expect_carried(fields& f, const std::string& at, const calibration::step& s, const uncertainty::input_set& inputs) {
    if (!s.source.carried) return;
    const std::vector<uncertainty::sensitivity_to>& by = s.source.carried->by;
    for (std::size_t i = 0; i < by.size(); ++i) {
        const std::string key = fmt::format("{}/applied/transfer/by/{}/id", at, i);
        f.expect(inputs.find(by[i].id) != nullptr, key, "found " + shown(by[i].id), "the id of one of the inputs",
                 "use the record as it was written");
        f.expect(i == 0 || by[i - 1].id < by[i].id, key, "found " + shown(by[i].id), "ids in order, each once",
                 "use the record as it was written");
    }
}

void visit(fields& f, calibration::interval_by_trials& i) {
    f.quantity("low", i.low);
    f.quantity("high", i.high);
    visit_word(f, "first_order", i.first_order,
               std::array{"validated", "short of readings", "short of order", "of another shape"});
}

void visit(fields& f, calibration::validation& v) {
    constexpr std::int64_t most = std::int64_t{1} << 53U;  // whole numbers that every reader of JSON keeps
    f.whole("trials", v.trials, 2, most);
    f.whole("seed", v.seed, 0, most);
    f.whole("significant_digits", v.significant_digits, 1, 6);
    const auto visit_reading = [&](calibration::reading_by_trials& r) {
        f.quantity("at", r.at);
        visit(f, r.interval);
    };
    f.list("readings", v.readings, visit_reading);
    // records of before these were compared have none of them
    if (f.has("in_use", !v.in_use.empty())) f.list("in_use", v.in_use, visit_reading);
    if (f.has("uncalibrated", !v.uncalibrated.empty())) f.list("uncalibrated", v.uncalibrated, visit_reading);
    if (f.has("kinds", !v.kinds.empty())) {
        f.list("kinds", v.kinds, [&](calibration::kind_by_trials& k) {
            f.number("samples", k.what.samples, demand::above_zero);
            f.quantity("at", k.what.at);
            visit_if_stated(f, "to", k.what.to, demand::any);
            visit(f, k.interval);
        });
    }
}

void visit(fields& f, calibration::check_point& c) {
    f.text("name", c.name, wording::not_empty);
    f.flag("as_found", c.as_found);
    visit_step(f, c.observed);
    f.quantity("applied_value", c.applied_value);
    f.quantity("indication", c.indication);
    f.quantity("error", c.error);
    f.quantity("U", c.U, demand::not_negative);
    f.number("k", c.k, demand::above_zero);
    f.flag("convolved", c.convolved);
    f.number_or_infinite("degrees_of_freedom", c.degrees_of_freedom, demand::above_zero);
    f.quantity("permissible", c.permissible, demand::not_negative);
    if (f.has("verdict", c.verdict.has_value())) {
        conformity::verdict v = c.verdict.value_or(conformity::verdict::pass);
        visit_word(f, "verdict", v, std::array{"pass", "conditional pass", "conditional fail", "fail"});
        c.verdict = v;
    }
    f.number("conformance_probability", c.conformance_probability, demand::not_negative);
    f.flag("tests_reference", c.tests_reference);
    if (f.has("by_trials", c.by_trials.has_value())) {
        if (!c.by_trials) c.by_trials.emplace();
        f.object("by_trials", [&] { visit(f, *c.by_trials); });
    }
}

void visit(fields& f, calibration::correction& c) {
    f.quantity("gain", c.gain);
    f.quantity("u_gain", c.u_gain, demand::not_negative);
    f.quantity("offset", c.offset);
    f.quantity("u_offset", c.u_offset, demand::not_negative);
    f.figure("covariance", c.covariance, "V^2/code");
}

/// Zero and reference in turn, as calibration::without_drift takes them.
void expect_turns(fields& f, const std::vector<calibration::repeated_capture>& turns) {
    f.expect(turns.size() >= 5, "turns", fmt::format("found {} captures", turns.size()), "5 or more",
             "use the record as it was written", R"({"minItems": 5})");
    for (std::size_t i = 1; i < turns.size(); ++i) {
        f.expect(turns[i].at > turns[i - 1].at, fmt::format("turns/{}/at", i), fmt::format("found {} s", turns[i].at.value()),
                 "a time after the one before", "use the record as it was written");
    }
}

void visit(fields& f, calibration::line_of_points& p) {
    f.list("steps", p.more, [&](calibration::named_step& s) {
        f.text("name", s.name, wording::not_empty);
        visit_step(f, s.seen);
    });
    f.expect(!p.more.empty(), "steps", "found an empty list", "at least one step", "use the record as it was written",
             R"({"minItems": 1})");
    f.list("weights", p.points, [&](calibration::weighted_point& w) {
        f.text("name", w.name, wording::not_empty);
        f.quantity("applied", w.applied);
        f.quantity("residual", w.residual);
        f.number("height", w.of_height);
        f.figure("slope", w.of_slope, "1/code");
    });
    f.quantity("height", p.height);
    f.quantity("slope", p.slope);
    f.quantity("centre", p.centre);
    const auto visit_lack = [&](const char* key, calibration::lack_of_fit& l) {
        f.object(key, [&] {
            f.number("chi_squared", l.observed, demand::not_negative);
            f.number("limit", l.limit, demand::above_zero);
        });
    };
    visit_lack("straight", p.straight);
    visit_lack("by_data_sheet", p.by_data_sheet);
    f.quantity("nonlinearity", p.nonlinearity, demand::not_negative);
    f.number("degrees_of_freedom", p.degrees_of_freedom, demand::above_zero);
    f.flag("measured", p.measured);
    visit_if_stated(f, "moved_by_drift", p.drift);
}

void visit(fields& f, calibration::seen_crosstalk& c) {
    f.text("channel", c.channel, wording::not_empty);
    f.text("range", c.range, wording::not_empty);
    const auto visit_end = [&](const char* key, voltage& v, calibration::capture_evidence& e, capture::statistics& s) {
        f.object(key, [&] {
            f.quantity("voltage", v);
            f.object("capture", [&] { visit(f, e); });
            f.object("seen", [&] { visit(f, s); });
        });
    };
    visit_end("low", c.low, c.low_evidence, c.low_seen);
    visit_end("high", c.high, c.high_evidence, c.high_seen);
    f.quantity("value", c.value);
    f.quantity("U", c.U, demand::not_negative);
    f.quantity("most", c.most, demand::not_negative);
}

void visit(fields& f, calibration::repeated_capture& c) {
    f.quantity("at", c.at);
    f.object("capture", [&] { visit(f, c.evidence); });
    f.object("seen", [&] { visit(f, c.seen); });
}

void visit(fields& f, calibration::seen_warm_up& w) {
    f.list("curve", w.curve, [&](calibration::repeated_capture& c) { visit(f, c); });
    visit_warm_up_limits(f, w);
    visit_if_stated(f, "warm_after", w.warm_after, demand::not_negative);
    f.quantity("span", w.span, demand::not_negative);
}

void visit(fields& f, calibration::seen_at_supply& s) {
    f.text("name", s.name, wording::not_empty);
    const auto visit_one = [&](const char* key, calibration::capture_evidence& e, capture::statistics& seen) {
        f.object(key, [&] {
            f.object("capture", [&] { visit(f, e); });
            f.object("seen", [&] { visit(f, seen); });
        });
    };
    visit_one("zero", s.zero_evidence, s.zero_seen);
    visit_one("reference", s.reference_evidence, s.reference_seen);
}

void visit(fields& f, calibration::seen_at_two_temperatures& t) {
    f.text("record", t.record);
    f.expect(is_record_number(t.record), "record", "found " + shown(t.record), "the number of a record",
             "use the record as it was written", number_schema);
    visit_sha256(f, "sha256", t.sha256);
    visit_date(f, "date", t.date);
    visit_temperature(f, "ambient", t.ambient);
    f.quantity("temperature_half_width", t.temperature_half_width, demand::not_negative);
    f.quantity("gain", t.gain);
    f.quantity("U_gain", t.U_gain, demand::not_negative);
    const auto visit_offset = [&](const char* key, volts_per_kelvin& q, demand d) {
        double value = q.value();
        f.figure(key, value, "V/K", d);
        q = volts_per_kelvin::from_value(value);
    };
    visit_offset("offset", t.offset, demand::any);
    visit_offset("U_offset", t.U_offset, demand::not_negative);
    if (!f.has("middle", t.middle.has_value())) return;
    if (!t.middle) t.middle.emplace();
    f.object("middle", [&] {
        f.quantity("centre", t.middle->centre);
        visit_offset("change", t.middle->change, demand::any);
        visit_offset("U", t.middle->U, demand::not_negative);
    });
}

/// What was captured of a range beyond one capture per step, each where it was.
void visit_further(fields& f, calibration::range_calibration& r) {
    if (f.has("turns", !r.turns.empty())) {
        f.list("turns", r.turns, [&](calibration::repeated_capture& c) { visit(f, c); });
        expect_turns(f, r.turns);
    }
    const auto visit_if = [&](const char* key, auto& part) {
        if (!f.has(key, part.has_value())) return;
        if (!part) part.emplace();
        f.object(key, [&] { visit(f, *part); });
    };
    visit_if("points", r.points);
    const std::size_t weights = r.points ? r.points->more.size() + (r.negative ? 3 : 2) : 0;
    f.expect(!r.points || r.points->points.size() == weights, "points/weights",
             fmt::format("found {}", r.points ? r.points->points.size() : 0), fmt::format("{}, one for each step", weights),
             "use the record as it was written");
    if (f.has("crosstalk", !r.crosstalk.empty())) {
        f.list("crosstalk", r.crosstalk, [&](calibration::seen_crosstalk& c) { visit(f, c); });
    }
    visit_if("warm_up", r.warm_up);
    if (f.has("supplies", !r.supplies.empty())) {
        f.list("supplies", r.supplies, [&](calibration::seen_at_supply& s) { visit(f, s); });
    }
    visit_if("temperatures", r.temperatures);
}

void visit(fields& f, calibration::range_calibration& r) {
    f.text("channel", r.channel, wording::not_empty);
    f.text("range", r.range, wording::not_empty);
    f.object("mode", [&] { visit(f, r.mode); });
    f.object("chain", [&] { visit(f, r.chain); });
    visit_temperature(f, "ambient", r.ambient);
    f.quantity("temperature_half_width", r.temperature_half_width, demand::not_negative);
    f.object("zero", [&] { visit_step(f, r.zero); });
    f.object("reference", [&] { visit_step(f, r.reference); });
    f.figure("nominal_gain", r.nominal_gain, "V/code");
    f.object("correction", [&] { visit(f, r.result); });
    const auto visit_negative = [&] {
        if (!r.negative) r.negative.emplace();
        if (!r.negative_result) r.negative_result.emplace();
        f.object("negative", [&] { visit_step(f, *r.negative); });
        f.object("negative_correction", [&] { visit(f, *r.negative_result); });
    };
    f.either("negative", r.negative.has_value(), visit_negative, [] {});
    visit_before_and_after(f, r.before, r.in_use);
    f.object("compact", [&] {
        f.figure("a", r.compact.a, "V^2", demand::not_negative);
        f.number("c", r.compact.c, demand::not_negative);
        f.quantity("centre", r.compact.centre);
        f.number("largest_excess", r.compact.largest_excess, demand::not_negative);
    });
    f.object("accept", [&] { visit(f, r.limit); });
    f.list("checks", r.checks, [&](calibration::check_point& c) { visit(f, c); });
    f.list("findings", r.findings, [&](calibration::finding& one) {
        f.whole("number", one.number);
        f.text("where", one.where);
        f.text("text", one.text);
    });
    visit_if_stated(f, "longest_time", r.longest_time);
    visit_if_stated(f, "largest_hum", r.largest_hum, demand::not_negative);
    visit_if_stated(f, "slow_disturbance", r.slow);
    if (f.has("by_trials", r.by_trials.has_value())) {
        if (!r.by_trials) r.by_trials.emplace();
        f.object("by_trials", [&] { visit(f, *r.by_trials); });
    }
    visit_further(f, r);
}

// Distributions, by the word that names them in "distribution".

using uncertainty::distribution;

constexpr std::array<const char*, std::variant_size_v<distribution>> distribution_names{
    "normal", "rectangular", "triangular", "repeated", "coefficient times difference", "trapezoidal", "arcsine", "two-point"};

distribution distribution_of(std::size_t index) {
    switch (index) {
        case 0:
            return uncertainty::normal{};
        case 1:
            return uncertainty::rectangular{};
        case 2:
            return uncertainty::triangular{};
        case 3:
            return uncertainty::repeated{};
        case 4:
            return uncertainty::coefficient_times_difference{};
        case 5:
            return uncertainty::trapezoidal{};
        case 6:
            return uncertainty::arcsine{};
        default:
            return uncertainty::two_point{};
    }
}

/// The fields of the distribution that there is.
void visit_figures(fields& f, const std::string& unit, distribution& d) {
    std::visit(
        [&](auto& spread) {
            using kind = std::remove_reference_t<decltype(spread)>;
            if constexpr (std::is_same_v<kind, uncertainty::coefficient_times_difference>) {
                const std::string per_kelvin_unit = unit + "/K";
                f.figure("coefficient", spread.coefficient, per_kelvin_unit.c_str(), demand::not_negative);
                f.figure("difference", spread.difference, "K");
                f.figure("half_width", spread.half_width, "K", demand::not_negative);
                f.text("coefficient_of", spread.coefficient_of);
                f.text("factor", spread.factor);
            } else if constexpr (std::is_same_v<kind, uncertainty::trapezoidal>) {
                f.figure("half_width", spread.half_width, unit.c_str(), demand::not_negative);
                f.figure("top_half_width", spread.top_half_width, unit.c_str(), demand::not_negative);
                f.expect(spread.top_half_width <= spread.half_width, "top_half_width",
                         fmt::format("found {}", spread.top_half_width), "at most half_width", "correct the number");
            } else if constexpr (requires { spread.half_width; }) {
                f.figure("half_width", spread.half_width, unit.c_str(), demand::not_negative);
            } else {
                f.figure("u", spread.u, unit.c_str(), demand::not_negative);
                f.number_or_infinite("degrees_of_freedom", spread.degrees_of_freedom, demand::above_zero);
            }
        },
        d);
}

void visit_spread(fields& f, const std::string& unit, distribution& d) {
    std::string name = distribution_names[d.index()];
    f.word("distribution", name, distribution_names, fmt::format("\"{}\"", fmt::join(distribution_names, "\", \"")),
           "use the record as it was written");
    f.by_word("distribution", name, distribution_names, [&] {
        const auto* known = std::find(distribution_names.begin(), distribution_names.end(), name);
        const auto index = static_cast<std::size_t>(known - distribution_names.begin());
        if (d.index() != index) d = distribution_of(index);
        visit_figures(f, unit, d);
    });
}

constexpr std::array<const char*, 12> input_units{"V", "code", "ohm", "A", "Hz", "s", "1", "K", "V/code", "1/K", "V/K", "A/K"};

void visit(fields& f, uncertainty::input& in) {
    f.text("id", in.id, wording::not_empty);
    f.text("label", in.label);
    f.text("source", in.source);
    f.word("unit", in.unit, input_units, fmt::format("\"{}\"", fmt::join(input_units, "\", \"")),
           "use the record as it was written");
    f.by_word("unit", in.unit, input_units, [&] {
        f.figure("estimate", in.estimate, in.unit.c_str());
        visit_spread(f, in.unit, in.spread);
    });
}

void visit_inputs(fields& f, uncertainty::input_set& set) {
    std::vector<uncertainty::input> inputs;
    for (const auto& in : set.all()) inputs.push_back(*in);
    f.list("inputs", inputs, [&](uncertainty::input& in) { visit(f, in); });
    set = {};
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        const std::string& id = inputs[i].id;
        f.expect(set.find(id) == nullptr, fmt::format("inputs/{}/id", i), "found " + shown(id) + " a second time",
                 "an id of its own for each input", "use the record as it was written");
        f.expect(std::isfinite(uncertainty::standard_uncertainty(inputs[i].spread)), fmt::format("inputs/{}", i),
                 "found figures that make a standard uncertainty beyond double", "a finite one",
                 "use the record as it was written");
        set.add(inputs[i]);
    }
}

void visit_correlations(fields& f, record& r) {
    f.list("correlations", r.correlations, [&](uncertainty::correlation& c) {
        f.text("first", c.first);
        f.text("second", c.second);
        f.number("coefficient", c.coefficient);
        f.expect(c.coefficient >= -1.0 && c.coefficient <= 1.0, "coefficient", fmt::format("found {}", c.coefficient),
                 "a number from -1 to 1", "correct the number", R"({"minimum": -1, "maximum": 1})");
    });
    for (std::size_t i = 0; i < r.correlations.size(); ++i) {
        for (const auto& [key, id] :
             {std::pair{"first", r.correlations[i].first}, std::pair{"second", r.correlations[i].second}}) {
            f.expect(r.inputs.find(id) != nullptr, fmt::format("correlations/{}/{}", i, key), "found " + shown(id),
                     "the id of one of the inputs", "use the record as it was written");
        }
    }
}

void visit_model(fields& f, model_identity& m) {
    f.object("model", [&] {
        f.word("name", m.name, std::array{calibration::model_name},
               fmt::format("\"{}\", the model that this library computes", calibration::model_name),
               "read it with the library that wrote it, or a newer one");
        f.whole("version", m.version, 1);
        constexpr int oldest = calibration::oldest_model_version;
        constexpr int newest = calibration::model_version;
        f.expect(m.version >= oldest && m.version <= newest, "version", fmt::format("found version {}", m.version),
                 fmt::format("{} to {}, the versions that this library computes", oldest, newest),
                 "read it with the library that wrote it", fmt::format(R"({{"minimum": {}, "maximum": {}}})", oldest, newest));
    });
}

constexpr std::array kind_names{"instrument", "probe"};  // in the order of `kind`

void visit_kind(fields& f, kind& k) {
    std::string name = kind_names[static_cast<std::size_t>(k)];
    f.word("kind", name, kind_names, "\"instrument\" or \"probe\"", "correct the word");
    k = name == kind_names[0] ? kind::instrument : kind::probe;
}

void visit_numbers(fields& f, record& r) {
    const char* expected = "1 to 64 letters, digits, '.', '_' or '-', not beginning with '.'";
    const char* remedy = "choose a number that can name a file";
    f.text("number", r.number);
    f.expect(is_record_number(r.number), "number", "found " + shown(r.number), expected, remedy, number_schema);
    may_text(f, "replaces", r.replaces);
    may_text(f, "reason", r.reason);
    f.expect(r.replaces.empty() || is_record_number(r.replaces), "replaces", "found " + shown(r.replaces), expected,
             "give the number of the earlier record", number_or_nothing_schema);
    if (!r.replaces.empty()) {
        f.expect(r.replaces != r.number, "replaces", "found the record's own number", "that of an earlier one",
                 "give the new record a number of its own");
    }
    f.expect(r.replaces.empty() == r.reason.empty(), "reason", r.reason.empty() ? "found no reason" : "found a reason",
             r.reason.empty() ? "why the earlier record is replaced" : "none, since no record is replaced",
             r.reason.empty() ? "say what was wrong with it" : "name the earlier record in \"replaces\", or remove the reason");
}

}  // namespace

void visit_date(fields& f, const char* key, std::string& value) {
    f.text(key, value);
    f.expect(is_date(value), key, "found " + shown(value), "a day of the calendar as YYYY-MM-DD", "correct the date",
             date_schema);
}

void visit_temperature(fields& f, const char* key, celsius& t) {
    f.figure(key, t.degrees, "degC");
    f.expect(t.degrees >= -273.15, key, fmt::format("found {} degC", t.degrees), "a temperature above absolute zero",
             "correct the number");
}

void visit_envelope(fields& f, const char* what, int known_version) {
    std::string found = what;
    const bool ours = f.has("plumbline", true);
    if (ours) f.text("plumbline", found);
    f.expect(ours && found == what, "plumbline", ours ? "found " + shown(found) : "found no such field",
             fmt::format("\"{}\"", what), fmt::format("give a {} file", what));
    f.also("", R"({"required": ["plumbline"]})", "");
    f.also("plumbline", fmt::format(R"({{"const": "{}"}})", what), "");
    int version = known_version;
    f.whole("schema", version, 1);
    f.expect(version <= known_version, "schema", fmt::format("found version {}", version),
             fmt::format("at most {}, the newest that this library reads", known_version), "read it with a newer library",
             fmt::format(R"({{"maximum": {}}})", known_version));
}

bool is_date(const std::string& text) {
    const auto digits = [&](std::size_t from, std::size_t n) {
        int value = -1;
        const char* end = text.data() + from + n;
        return text[from] != '-' && std::from_chars(text.data() + from, end, value).ptr == end ? value : -1;
    };
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
    const int y = digits(0, 4);
    const int m = digits(5, 2);
    const int d = digits(8, 2);
    return y >= 0 && m >= 0 && d >= 0 &&
           std::chrono::year_month_day(std::chrono::year(y), std::chrono::month(static_cast<unsigned>(m)),
                                       std::chrono::day(static_cast<unsigned>(d)))
               .ok();
}

bool is_record_number(const std::string& text) {
    constexpr const char* allowed = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-";
    return !text.empty() && text.size() <= longest_number && text.front() != '.' &&
           text.find_first_not_of(allowed) == std::string::npos;
}

void visit_header(fields& f, record& r) {
    visit_kind(f, r.what);
    visit_numbers(f, r);
    f.object("device", [&] { visit(f, r.device); });
    f.object("owner", [&] { visit(f, r.owner); });
    f.object("calibrated_by", [&] { visit(f, r.calibrated_by); });
    f.text("authorised_by", r.authorised_by, wording::not_empty);
    f.text("place", r.place, wording::not_empty);
    f.object("dates", [&] { visit(f, r.dates); });
    f.object("ambient", [&] { visit(f, r.ambient); });
    f.object("method", [&] { visit(f, r.method); });
    may_text(f, "data_from_others", r.data_from_others);
    may_text(f, "invented", r.invented);
    f.list("references", r.references, [&](calibration::reference& one) { visit(f, one); });
    expect_sound(f, r.references);
}

void by_kind(fields& f, kind& k, const fields::alternative& instrument, const fields::alternative& probe) {
    std::string name = kind_names[static_cast<std::size_t>(k)];
    f.by_word("kind", name, kind_names, [&] {
        k = name == kind_names[0] ? kind::instrument : kind::probe;
        k == kind::instrument ? instrument() : probe();
    });
}

void visit_described(fields& f, front_end::probe& p) {
    f.quantity("series", p.series, demand::above_zero);
    f.quantity("tolerance", p.tolerance, demand::not_negative);
    f.expect(p.tolerance < 1.0 * one, "tolerance", fmt::format("found {}", p.tolerance.value()), "less than 1",
             "state the limits of the series resistance");
    visit_if_stated(f, "tip_capacitance", p.tip_capacitance);
    visit_if_stated(f, "bandwidth", p.bandwidth);
    visit_if_stated(f, "rating", p.rating);
}

void visit(fields& f, calibration::wave& w) {
    f.quantity("frequency", w.at, demand::above_zero);
    if (f.gives("rise_time")) f.quantity("rise_time", w.rise_time, demand::not_negative);
    if (f.gives("droop")) f.quantity("droop", w.droop, demand::not_negative);
    f.expect(w.droop < 1.0 * one, "droop", fmt::format("found {}", w.droop.value()), "less than 1",
             "state by what fraction of its amplitude the square wave falls over half a period");
}

void visit(fields& f, calibration::applied& a) {
    f.text("reference", a.reference, wording::not_empty);
    const auto visit_value = [&] {
        if (!a.stated) a.stated.emplace();
        visit_stated(f, *a.stated);
    };
    f.either("value", a.stated.has_value(), visit_value, [] {});
    if (f.has("reading", a.indicated.has_value())) {
        voltage reading = a.indicated.value_or(voltage());
        f.quantity("reading", reading);
        a.indicated = reading;
    }
    f.expect(!(a.stated && a.indicated), "reading", "found both a value and a reading", "one of them",
             "give the reading where the meter has a specification, the value where its uncertainty is stated");
    f.also("", R"({"not": {"required": ["value", "reading"]}})", "");
    if (f.gives("reversed")) f.flag("reversed", a.reversed);
    f.expect(!a.reversed || !(a.stated || a.indicated), "reversed", "found reversed leads beside a value or reading",
             "a signed value or reading, or the reference's own voltage reversed", "give the sign with the value");
    f.also("", R"({"not": {"properties": {"reversed": {"const": true}}, "required": ["reversed"],
                           "anyOf": [{"required": ["value"]}, {"required": ["reading"]}]}})",
           "");
    if (f.has("source", a.source.has_value())) {
        if (!a.source) a.source.emplace();
        f.object("source", [&] {
            visit(f, *a.source);
            if (!f.has("id", !a.source_id.empty())) return;
            f.text("id", a.source_id, wording::not_empty);
            f.expect(a.source_id.size() <= 256 && a.source_id.find('/') == std::string::npos, "id", "found " + shown(a.source_id),
                     "at most 256 bytes without \"/\"", "choose another name", R"({"maxLength": 256, "not": {"pattern": "/"}})");
        });
    }
}

void visit(fields& f, conformity::decision_rule<voltage>& rule) {
    f.number("times_U", rule.times_U);
    f.quantity("absolute", rule.absolute);
    visit_word(f, "words", rule.words, std::array{"two", "four"});
    f.expect(rule.words == conformity::wording::two || rule.times_U > 0.0 || rule.absolute > voltage(), "words",
             "found four words without a guard band", "a guard band above 0 for four words", "give one, or use two words");
}

void visit(fields& f, calibration::acceptance& a) {
    f.quantity("absolute", a.absolute, demand::not_negative);
    f.quantity("relative", a.relative, demand::not_negative);
    if (f.gives("rule")) f.object("rule", [&] { visit(f, a.rule); });
}

void visit_if_stated(fields& f, const char* key, std::optional<calibration::slow_disturbance>& slow) {
    if (!f.has(key, slow.has_value())) return;
    if (!slow) slow.emplace();
    f.object(key, [&] {
        f.quantity("amplitude", slow->amplitude, demand::above_zero);
        visit_if_stated(f, "frequency", slow->at);
    });
}

void visit_warm_up_limits(fields& f, calibration::seen_warm_up& w) {
    double an_hour = w.slope_limit.value();
    f.figure("slope_limit", an_hour, "V/h", demand::above_zero);
    w.slope_limit = voltage::from_value(an_hour);
    f.quantity("window", w.window, demand::above_zero);
    visit_if_stated(f, "used_from", w.used_from, demand::not_negative);
}

void visit_known(fields& f, calibration::clock_calibration& c) {
    f.object("known", [&] {
        calibration::stated_frequency& s = c.known;
        f.quantity("value", s.value, demand::above_zero);
        const auto visit_limits = [&] {
            frequency half_width = s.limits.value_or(frequency());
            f.quantity("limits", half_width, demand::above_zero);
            s.limits = half_width;
        };
        const auto visit_expanded = [&] {
            f.quantity("U", s.U, demand::above_zero);
            f.number("k", s.k, demand::above_zero);
        };
        f.either("limits", s.limits.has_value(), visit_limits, visit_expanded);
    });
    f.text("source", c.source, wording::not_empty);
    if (f.gives("traceability")) f.text("traceability", c.traceability);
}

void visit(fields& f, calibration::plain_correction& c) {
    f.quantity("gain", c.gain);
    f.quantity("offset", c.offset);
}

void visit(fields& f, calibration::use_conditions& u) {
    f.number("years", u.years, demand::not_negative);
    f.quantity("temperature_half_width", u.temperature_half_width, demand::not_negative);
    f.quantity("gain_per_year", u.gain_per_year, demand::not_negative);
    f.quantity("offset_per_year", u.offset_per_year, demand::not_negative);
    f.quantity("gain_by_supply", u.gain_by_supply, demand::not_negative);
    f.quantity("offset_by_supply", u.offset_by_supply, demand::not_negative);
}

void visit_before_and_after(fields& f, std::optional<calibration::plain_correction>& before,
                            std::optional<calibration::use_conditions>& in_use) {
    if (f.has("before", before.has_value())) {
        if (!before) before.emplace();
        f.object("before", [&] { visit(f, *before); });
    }
    if (f.has("in_use", in_use.has_value())) {
        if (!in_use) in_use.emplace();
        f.object("in_use", [&] { visit(f, *in_use); });
    }
}

void visit_format(fields& f, capture::code_format& format) { visit_word(f, "format", format, std::array{"csv", "s16", "u16"}); }

void visit(fields& f, front_end::mode& m) {
    f.quantity("sample_rate", m.sample_rate, demand::above_zero);
    if (f.gives("oversampling")) f.whole("oversampling", m.oversampling, 1);
    may_text(f, "coupling", m.coupling);
    may_text(f, "supply", m.supply);
    may_text(f, "sampling", m.sampling);
}

namespace {

void visit_rating(fields& f, const char* key, front_end::resistor_rating& r) {
    if (!f.has(key, r.dissipation || r.working)) return;
    f.object(key, [&] {
        visit_if_stated(f, "dissipation", r.dissipation);
        visit_if_stated(f, "working", r.working);
    });
}

void visit_clamp(fields& f, const char* key, std::optional<front_end::clamp_diode>& clamp) {
    if (!f.has(key, clamp.has_value())) return;
    if (!clamp) clamp.emplace();
    f.object(key, [&] {
        f.quantity("drop", clamp->drop, demand::not_negative);
        f.quantity("on", clamp->on, demand::above_zero);
        visit_if_stated(f, "rating", clamp->rating);
    });
}

void visit(fields& f, front_end::protection& p) {
    f.object("supply", [&] {
        f.quantity("nominal", p.supply.nominal, demand::above_zero);
        f.quantity("output", p.supply.output, demand::above_zero);
        f.quantity("load", p.supply.load, demand::not_negative);
        f.flag("sinks", p.supply.sinks);
        f.flag("converter_reference", p.supply.converter_reference);
        visit_if_stated(f, "highest", p.supply.highest);
    });
    visit_clamp(f, "clamp_to_supply", p.to_supply);
    visit_clamp(f, "clamp_to_ground", p.to_ground);
    visit_if_stated(f, "pin_beyond_supply", p.pin_beyond_supply);
    visit_rating(f, "top", p.top);
    visit_rating(f, "bottom", p.bottom);
    visit_rating(f, "bias", p.bias);
}

void visit(fields& f, front_end::amplifier_stage& a) {
    if (f.has("gain", a.gain.has_value())) {
        if (!a.gain) a.gain.emplace();
        f.object("gain", [&] {
            visit_resistor(f, "feedback", a.gain->feedback);
            visit_resistor(f, "ground", a.gain->ground);
        });
    }
    f.quantity("offset_limit", a.offset_limit, demand::not_negative);
    f.quantity("offset_drift", a.offset_drift, demand::not_negative);
    f.quantity("bias_current", a.bias_current, demand::not_negative);
    f.quantity("bias_current_drift", a.bias_current_drift, demand::not_negative);
    f.number("open_loop_gain", a.open_loop_gain, demand::above_zero);
    visit_if_stated(f, "gain_bandwidth", a.gain_bandwidth);
    visit_if_stated(f, "lowest_output", a.lowest_output, demand::any);
    visit_if_stated(f, "highest_output", a.highest_output, demand::any);
}

void visit(fields& f, front_end::pin_details& p) {
    f.quantity("sampling", p.sampling, demand::above_zero);
    f.quantity("sampling_time", p.sampling_time, demand::above_zero);
    if (f.gives("switch_on")) f.quantity("switch_on", p.switch_on, demand::not_negative);
    if (f.gives("at_pin")) f.quantity("at_pin", p.at_pin, demand::not_negative);
    if (f.gives("leakage")) f.quantity("leakage", p.leakage, demand::not_negative);
}

}  // namespace

void visit(fields& f, front_end::chain& c) {
    visit_resistor(f, "top", c.input.top);
    if (f.has("bottom", c.input.bottom.has_value())) {
        if (!c.input.bottom) c.input.bottom.emplace();
        visit_resistor(f, "bottom", *c.input.bottom);
    }
    bool supply_given = true;
    if (f.has("bias", c.input.bias.has_value())) {
        if (!c.input.bias) c.input.bias.emplace();
        front_end::bias_branch& bias = *c.input.bias;
        f.object("bias", [&] {
            visit_resistor(f, "branch", bias.branch);
            if (f.gives("from_converter_reference")) f.flag("from_converter_reference", bias.from_converter_reference);
            f.by_flag("from_converter_reference", bias.from_converter_reference, [&] {
                if (!bias.from_converter_reference || f.gives("supply")) {
                    f.quantity("supply", bias.supply);
                } else {
                    supply_given = false;
                }
                if (!bias.from_converter_reference || f.gives("supply_tolerance")) {
                    f.quantity("supply_tolerance", bias.supply_tolerance, demand::not_negative);
                }
                if (!bias.from_converter_reference || f.gives("supply_temperature_coefficient")) {
                    f.quantity("supply_temperature_coefficient", bias.supply_temperature_coefficient, demand::not_negative);
                }
            });
        });
    }
    f.object("adc", [&] {
        f.whole("bits", c.adc.bits, 1, 24);
        f.quantity("reference", c.adc.reference, demand::above_zero);
        f.quantity("reference_tolerance", c.adc.reference_tolerance, demand::not_negative);
        f.quantity("reference_temperature_coefficient", c.adc.reference_temperature_coefficient, demand::not_negative);
        f.quantity("offset_limit", c.adc.offset_limit, demand::not_negative);
        f.quantity("gain_error_limit", c.adc.gain_error_limit, demand::not_negative);
        f.quantity("integral_nonlinearity", c.adc.integral_nonlinearity, demand::not_negative);
        f.quantity("noise", c.adc.noise, demand::not_negative);
        if (f.gives("nonlinearity_shape")) visit_word(f, "nonlinearity_shape", c.adc.shape, std::array{"stepped", "smooth"});
        visit_if_stated(f, "reference_by_supply", c.adc.reference_by_supply, demand::not_negative);
    });
    if (f.has("amplifier", c.amplifier.has_value())) {
        if (!c.amplifier) c.amplifier.emplace();
        f.object("amplifier", [&] { visit(f, *c.amplifier); });
    }
    f.quantity("low", c.low);
    f.quantity("high", c.high);
    f.expect(c.low < c.high, "high", fmt::format("found {} V", c.high.value()),
             fmt::format("more than the low end, {} V", c.low.value()), "correct the ends of the range");
    if (f.has("limits", c.limits.has_value())) {
        if (!c.limits) c.limits.emplace();
        f.object("limits", [&] { visit(f, *c.limits); });
    }
    if (f.has("pin", c.pin.has_value())) {
        if (!c.pin) c.pin.emplace();
        f.object("pin", [&] { visit(f, *c.pin); });
    }
    if (!c.input.bias || !c.input.bias->from_converter_reference) return;
    if (!supply_given) c.input.bias->supply = c.adc.reference;
    f.expect(c.input.bias->supply == c.adc.reference, "bias/supply", fmt::format("found {} V", c.input.bias->supply.value()),
             fmt::format("{} V, since the supply is the converter's reference", c.adc.reference.value()),
             "leave the supply out, or set \"from_converter_reference\" to false");
    f.expect(c.input.bias->supply_tolerance == 0.0 * one, "bias/supply_tolerance", "found a tolerance",
             "none, since the supply is the converter's reference", "leave it out");
    f.expect(c.input.bias->supply_temperature_coefficient == 0.0 / kelvin, "bias/supply_temperature_coefficient",
             "found a temperature coefficient", "none, since the supply is the converter's reference", "leave it out");
}

void expect_known(fields& f, const std::string& at, const calibration::applied& a, bool transferred,
                  const std::vector<calibration::reference>& references) {
    const auto named = by_id(references, a.reference);
    f.expect(named != references.end(), at + "/reference", "found " + shown(a.reference), "the id of one of the references",
             "correct the id, or add the reference");
    const bool states = named != references.end() && (named->output || named->divider || named->part);
    const bool metered = named != references.end() && named->meter.has_value();
    f.expect(a.stated || states || transferred || (metered && a.indicated), at,
             "found no value, and reference " + shown(a.reference) + " states none",
             metered ? "the meter's reading" : "a value with U and k, or with limits", "state the voltage that was applied");
    f.expect(!a.indicated || metered, at + "/reading", "found a reading, and reference " + shown(a.reference) + " is no meter",
             "a reference with a meter's specification",
             "give the meter's specification, or state the value with its uncertainty");
}

void visit(fields& f, calibration::probed_input& on) {
    f.text("record", on.record);
    f.expect(is_record_number(on.record), "record", "found " + shown(on.record), "the number of the instrument's record",
             "use the record as it was written", number_schema);
    visit_sha256(f, "sha256", on.sha256);
    f.text("model", on.model, wording::not_empty);
    f.text("serial", on.serial, wording::not_empty);
    f.text("channel", on.channel, wording::not_empty);
    f.text("range", on.range, wording::not_empty);
    f.quantity("resistance", on.resistance, demand::above_zero);
}

void visit(fields& f, calibration::probe_calibration& p) {
    visit_described(f, p.described);
    f.object("instrument", [&] { visit(f, p.on); });
    f.object("compensation", [&] {
        calibration::compensation& c = p.compensation;
        f.object("square_wave", [&] { visit(f, c.fed); });
        f.object("capture", [&] { visit(f, c.evidence); });
        f.quantity("mismatch", c.mismatch);
        f.quantity("U_mismatch", c.U_mismatch, demand::above_zero);
        f.quantity("time_constant", c.time_constant, demand::not_negative);
        f.quantity("rise_time", c.rise_time, demand::not_negative);
        f.quantity("U_rise_time", c.U_rise_time, demand::above_zero);
        f.quantity("overshoot", c.overshoot, demand::not_negative);
        f.quantity("U_overshoot", c.U_overshoot, demand::above_zero);
        f.quantity("step", c.step, demand::above_zero);
        f.count("periods", c.periods, 1);
    });
    if (!f.has("ratio", p.division.has_value())) return;
    if (!p.division) p.division.emplace();
    f.object("ratio", [&] {
        calibration::division& d = *p.division;
        f.object("square_wave", [&] { visit(f, d.fed); });
        f.object("direct", [&] { visit(f, d.direct); });
        f.object("divided", [&] { visit(f, d.divided); });
        f.quantity("factor", d.factor, demand::above_zero);
        f.quantity("U", d.U, demand::above_zero);
        f.quantity("temperature_coefficient", d.temperature_coefficient, demand::not_negative);
    });
}

void visit(fields& f, calibration::clock_calibration& c) {
    f.text("channel", c.channel, wording::not_empty);
    f.text("range", c.range, wording::not_empty);
    f.object("capture", [&] { visit(f, c.evidence); });
    f.quantity("nominal", c.nominal, demand::above_zero);
    visit_known(f, c);
    visit_temperature(f, "ambient", c.ambient);
    f.quantity("rate", c.rate, demand::above_zero);
    f.quantity("u_by_phase", c.u_by_phase, demand::not_negative);
    f.number("degrees_of_freedom", c.degrees_of_freedom, demand::above_zero);
    f.quantity("u_by_reference", c.u_by_reference, demand::not_negative);
    f.quantity("U", c.U, demand::not_negative);
    f.number("k", c.k, demand::above_zero);
}

void visit_of_instrument(fields& f, record& r) {
    visit_model(f, r.model);
    f.number("coverage_probability", r.coverage_probability, demand::above_zero);
    f.expect(r.coverage_probability < 1.0, "coverage_probability", fmt::format("found {}", r.coverage_probability),
             "a number below 1", "correct the number", R"({"exclusiveMaximum": 1})");
    visit_inputs(f, r.inputs);
    visit_correlations(f, r);
    f.list("comparisons", r.comparisons, [&](calibration::comparison& c) { visit(f, c); });
    f.list("ranges", r.ranges, [&](calibration::range_calibration& one) { visit(f, one); });
    f.expect(!r.ranges.empty(), "ranges", "found an empty list", "at least one range", "use the record as it was written",
             R"({"minItems": 1})");
    if (f.has("clock", r.clock.has_value())) {
        if (!r.clock) r.clock.emplace();
        f.object("clock", [&] { visit(f, *r.clock); });
    }
    visit_if_stated(f, "clock_tolerance", r.clock_tolerance);
    if (f.has("stored", !r.stored.empty())) f.list("stored", r.stored, [&](stored_check& c) { visit(f, c); });
    if (f.has("intermediate", !r.intermediate.empty())) {
        f.list("intermediate", r.intermediate, [&](intermediate_check& c) { visit(f, c); });
    }
    for (std::size_t i = 0; i < r.ranges.size(); ++i) {
        const calibration::range_calibration& range = r.ranges[i];
        const std::string at = fmt::format("ranges/{}/", i);
        const auto expect_step = [&](const std::string& key, const calibration::step& s) {
            expect_known(f, at + key + "/applied", s.source, s.source.carried.has_value(), r.references);
            expect_carried(f, at + key, s, r.inputs);
        };
        expect_step("zero", range.zero);
        expect_step("reference", range.reference);
        if (range.negative) expect_step("negative", *range.negative);
        for (std::size_t k = 0; range.points && k < range.points->more.size(); ++k) {
            expect_step(fmt::format("points/steps/{}", k), range.points->more[k].seen);
        }
        for (std::size_t k = 0; k < range.checks.size(); ++k) {
            expect_step(fmt::format("checks/{}", k), range.checks[k].observed);
        }
    }
    for (std::size_t i = 0; i < r.comparisons.size(); ++i) {
        expect_known(f, fmt::format("comparisons/{}/first", i), r.comparisons[i].first, false, r.references);
        expect_known(f, fmt::format("comparisons/{}/second", i), r.comparisons[i].second, false, r.references);
    }
}

void visit(fields& f, record& r) {
    visit_envelope(f, "record", schema_version);
    visit_header(f, r);
    by_kind(
        f, r.what, [&] { visit_of_instrument(f, r); },
        [&] {
            if (!r.probe) r.probe.emplace();
            f.object("probe", [&] { visit(f, *r.probe); });
        });
}

}  // namespace plumbline::inline v0::record
