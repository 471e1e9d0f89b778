#include <plumbline/audit/job_file.hpp>

#include "../record/json_reader.hpp"
#include "../record/layout.hpp"
#include "../record/schema.hpp"

#include <fmt/format.h>

#include <array>
#include <filesystem>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <string>

namespace plumbline::inline v0::audit {

namespace {

using record::demand;
using record::fields;
using record::wording;

constexpr std::array<const char*, 5> events{"dc", "sine", "rise time", "pulse width", "edge timing"};
constexpr std::array<const char*, 4> readings{"level", "mean", "difference", "peak to peak"};

/// An enumeration's word, and what hangs on it.
template <class Enum, std::size_t N, class Rest>
void visit_word_with(fields& f, const char* key, Enum& value, const std::array<const char*, N>& words, Rest rest) {
    record::visit_word(f, key, value, words);
    std::string word = words[static_cast<std::size_t>(value)];
    f.by_word(key, word, words, [&] {
        value = static_cast<Enum>(std::find(words.begin(), words.end(), word) - words.begin());
        rest();
    });
}

void visit(fields& f, event& e) {
    visit_word_with(f, "what", e.what, events, [&] {
        if (e.what == event_kind::dc) return;
        if (e.what == event_kind::sine) {
            f.quantity("frequency", e.at, demand::above_zero);
            return;
        }
        f.quantity("time", e.time, demand::above_zero);
        f.quantity("within", e.within, demand::above_zero);
    });
}

void visit(fields& f, signal_source& s) {
    f.quantity("resistance", s.resistance, demand::not_negative);
    if (f.gives("tolerance")) {
        f.quantity("tolerance", s.tolerance, demand::not_negative);
        f.expect(s.tolerance < 1.0 * one, "tolerance", fmt::format("found {}", s.tolerance.value()), "less than 1",
                 "state the limits of the resistance");
    }
    if (f.gives("corrected")) f.flag("corrected", s.corrected);
}

void visit_signal(fields& f, job& j) {
    f.quantity("low", j.low);
    f.quantity("high", j.high);
    f.expect(j.low <= j.high, "high", fmt::format("found {} V", j.high.value()),
             fmt::format("at least the low end, {} V", j.low.value()), "correct the ends");
    f.quantity("highest", j.highest, demand::not_negative);
    const voltage largest = std::max(-1.0 * j.low, j.high);
    f.expect(j.highest >= largest, "highest", fmt::format("found {} V", j.highest.value()),
             fmt::format("at least what is to be measured, {} V", largest.value()),
             "state the highest voltage that can appear by accident, without its sign");
    f.object("event", [&] { visit(f, j.fastest); });
    if (f.gives("source")) f.object("source", [&] { visit(f, j.source); });
    if (f.has("also_present", j.also_present.has_value())) {
        if (!j.also_present) j.also_present.emplace();
        f.list("also_present", *j.also_present, [&](disturbance& d) {
            f.text("name", d.name, wording::not_empty);
            f.quantity("frequency", d.at, demand::above_zero);
            f.quantity("amplitude", d.amplitude, demand::above_zero);
        });
    }
}

void visit(fields& f, need& n) {
    if (f.gives("absolute")) f.quantity("absolute", n.absolute, demand::not_negative);
    if (f.gives("relative")) f.quantity("relative", n.relative, demand::not_negative);
    std::optional<voltage> lower;
    std::optional<voltage> upper;
    record::visit_if_stated(f, "lower", lower, demand::any);
    record::visit_if_stated(f, "upper", upper, demand::any);
    const bool of_value = lower || upper;
    if (of_value) {
        n.limits = conformity::interval<voltage>{lower.value_or(-conformity::no_limit * volt),
                                                 upper.value_or(conformity::no_limit * volt)};
        f.expect(n.limits->lower < n.limits->upper, "upper", fmt::format("found {} V", n.limits->upper.value()),
                 fmt::format("more than the lower limit, {} V", n.limits->lower.value()), "correct the limits");
    }
    if (!f.gives("confidence")) return;
    f.number("confidence", n.confidence, demand::above_zero);
    f.expect(n.confidence >= 0.5 && n.confidence <= 0.9999, "confidence", fmt::format("found {}", n.confidence),
             "a number from 0.5 to 0.9999", "state how sure the reading has to be, 0.95 for instance",
             R"({"minimum": 0.5, "maximum": 0.9999})");
}

/// A description, or the file of a record.
void visit_probe(fields& f, job& j) {
    front_end::probe& p = *j.probe;
    const auto by_record = [&] {
        if (!j.probe_record) j.probe_record.emplace();
        f.text("record", j.probe_record->file, wording::not_empty);
    };
    const auto described = [&] {
        f.text("name", p.name, wording::not_empty);
        record::visit_described(f, p);
        record::visit_if_stated(f, "mismatch", p.mismatch, demand::not_negative);
        if (p.mismatch) {
            f.expect(*p.mismatch < 1.0 * one, "mismatch", fmt::format("found {}", p.mismatch->value()), "less than 1",
                     "compensate the probe first");
        }
    };
    f.either("record", j.probe_record.has_value(), by_record, described);
    if (f.gives("calibrated_together")) f.flag("calibrated_together", p.calibrated_together);
}

void visit(fields& f, instrument_figures& i) {
    record::visit_if_stated(f, "bandwidth", i.bandwidth);
    record::visit_if_stated(f, "input_capacitance", i.input_capacitance);
    record::visit_if_stated(f, "clock_tolerance", i.clock_tolerance, demand::not_negative);
    record::visit_if_stated(f, "highest_input", i.highest_input);
    record::visit_if_stated(f, "clamp_current", i.clamp_current);
    record::visit_if_stated(f, "top_resistor_power", i.top_resistor_power);
    if (f.has("in_use", i.in_use.has_value())) {
        if (!i.in_use) i.in_use.emplace();
        f.object("in_use", [&] { record::visit(f, *i.in_use); });
    }
}

void visit(fields& f, job& j) {
    record::visit_envelope(f, "job", schema_version);
    f.text("name", j.name, wording::not_empty);
    f.text("channel", j.channel, wording::not_empty);
    f.text("range", j.range, wording::not_empty);
    record::visit_date(f, "date", j.date);
    f.object("ambient", [&] {
        record::visit_temperature(f, "temperature", j.ambient);
        f.quantity("half_width", j.ambient_half_width, demand::not_negative);
    });
    f.object("signal", [&] { visit_signal(f, j); });
    visit_word_with(f, "read", j.read, readings, [&] {
        if (j.read == reading_of::level || (j.read == reading_of::difference && !f.gives("samples"))) return;
        f.number("samples", j.samples, demand::above_zero);
        f.expect(j.samples >= 2.0, "samples", fmt::format("found {}", j.samples), "2 or more",
                 "state how many samples are averaged or captured", R"({"minimum": 2})");
    });
    f.object("need", [&] { visit(f, j.need); });
    const bool of_error = j.need.absolute > voltage() || j.need.relative > ratio(0.0);
    f.expect(of_error != j.need.limits.has_value(), "need",
             of_error ? "found limits of error beside limits of the value" : "found no limits",
             "\"absolute\" and \"relative\", or \"lower\" and \"upper\"", "say how well the value has to be known");
    if (f.has("expected", j.expected.has_value())) {
        if (!j.expected) j.expected.emplace();
        f.object("expected", [&] {
            f.quantity("estimate", j.expected->estimate);
            f.quantity("u", j.expected->u, demand::above_zero);
        });
    }
    f.expect(!j.expected || j.need.limits, "expected", "found what is expected without limits to judge it by",
             "limits of the value, \"lower\" or \"upper\" in \"need\"", "leave it out, or state the limits");
    if (f.gives("mode")) {
        f.object("mode", [&] {
            record::visit_if_stated(f, "sample_rate", j.sample_rate);
            if (f.gives("continuous")) f.flag("continuous", j.continuous);
        });
    }
    if (f.has("probe", j.probe.has_value())) {
        if (!j.probe) j.probe.emplace();
        f.object("probe", [&] { visit_probe(f, j); });
    }
    if (f.gives("instrument")) f.object("instrument", [&] { visit(f, j.instrument); });
}

/// What the probe's record says. Its file is found from the folder of the job file.
void read_probe_record(fields& f, const job& j, probe_record& p) {
    const char* const at = "probe/record";
    record::record of;
    std::string why;
    try {
        of = record::read_record((std::filesystem::path(j.file).parent_path() / p.file).string());
    } catch (const bad_input& refused) {
        why = refused.what();
    }
    f.expect(why.empty(), at, "found " + record::shown(p.file) + ", which cannot be used (" + why + ")", "the record of a probe",
             "correct its path, from the folder of the job file");
    f.expect(of.probe.has_value(), at, "found " + record::shown(p.file) + ", the record of an instrument",
             "the record of a probe", "calibrate the probe, or describe it here");
    f.expect(of.dates.ended <= j.date, at, "found " + record::shown(p.file) + ", made on " + of.dates.ended,
             "a record not after the job, " + j.date, "correct the date, or take an earlier record");
    p = {p.file, of.number, of.device.model + " " + of.device.serial, of.ambient.temperature, *of.probe};
}

}  // namespace

job job_from_json(std::string_view text, const std::string& file) {
    record::json_reader in(text, file, record::completeness::may_default);
    job j;
    j.file = file;
    visit(in, j);
    if (j.probe_record) read_probe_record(in, j, *j.probe_record);
    in.finish();
    return j;
}

job read_job(const std::string& file) { return job_from_json(record::read_json_text(file), file); }

std::string job_schema() {
    record::schema_writer out(record::completeness::may_default);
    job all;
    visit(out, all);
    return out.str(
        "Plumbline job",
        "What is to be measured, how well, and with what attached. Figures are texts of number, space and unit with the "
        "prefixes p n u m k M G: \"4.2 mV\", \"1.6 kHz\", \"15 pF\", \"0.5 %\". Beyond this schema the library checks bounds "
        "between fields and which limits are stated.");
}

}  // namespace plumbline::inline v0::audit
