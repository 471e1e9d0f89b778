#include <plumbline/audit/audit.hpp>

#include "../calibration/identity.hpp"
#include "../units/figures.hpp"
#include "lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <type_traits>
#include <variant>

namespace plumbline::inline v0::audit {

namespace {

int rank(line_is v) {
    switch (v) {
        case line_is::dangerous:
            return 0;
        case line_is::bad:
            return 1;
        case line_is::condition:
            return 2;
        case line_is::unknown:
            return 3;
        default:
            return 4;
    }
}

suitability judged(const std::vector<line>& lines) {
    int worst = 4;
    for (const line& l : lines) worst = std::min(worst, rank(l.verdict));
    if (worst == 0) return suitability::do_not_connect;
    if (worst == 1) return suitability::not_suitable;
    return worst == 4 ? suitability::suitable : suitability::with_conditions;
}

/// The lines alone, in the order of their verdicts and within one verdict as they were looked at.
report looked_at(const record::record& r, const job& as_given, assuming also = assuming::nothing) {
    const job j = with_probe_of_record(r, as_given);
    const on_the_job on(r, j, also);
    const subject s{r, j, on, on.worst()};
    report found;
    found.job = j.name;
    found.record = r.number;
    found.channel = j.channel;
    found.range = j.range;
    found.years = on.years();
    found.invented = r.invented;
    found.accuracy = accuracy_of(s);
    found.decision = decision_of(s);
    plus_or_minus(s, found.accuracy, found.lines);
    judging(s, found.decision, found.lines);
    range_and_clipping(s, found.lines);
    mode(s, found.lines);
    bandwidth(s, found.lines);
    samples(s, found.lines);
    timing(s, found.lines);
    aliasing(s, found.lines);
    compensation(s, found.lines);
    converters_pin(s, found.lines);
    probe_by_record(s, found.lines);
    resolution_and_noise(s, found.lines);
    state_of_calibration(s, found.lines);
    safety(s, found.lines);
    std::stable_sort(found.lines.begin(), found.lines.end(),
                     [](const line& a, const line& b) { return rank(a.verdict) < rank(b.verdict); });
    found.verdict = judged(found.lines);
    return found;
}

/// A record whose references are better by a factor.
record::record with_better_references(record::record r, double by) {
    uncertainty::input_set better;
    for (const uncertainty::shared_input& in : r.inputs.all()) {
        uncertainty::input one = *in;
        if (one.id.starts_with(calibration::identity::reference(""))) {
            std::visit(
                [&](auto& spread) {
                    if constexpr (requires { spread.coefficient; }) {
                        spread.coefficient /= by;
                    } else if constexpr (requires { spread.half_width; }) {
                        spread.half_width /= by;
                    } else {
                        spread.u /= by;
                    }
                },
                one.spread);
        }
        better.add(std::move(one));
    }
    r.inputs = std::move(better);
    return r;
}

/// Tries changes and keeps those that help.
class trials {
public:
    trials(const record::record& r, const job& j, report& to) : record_(r), job_(j), to_(to), deciding_(to.lines.front()) {}

    template <class Changed>
    void with_job(const std::string& what, Changed changed) {
        job other = job_;
        changed(other);
        with(what, record_, other);
    }

    void with(const std::string& what, const record::record& r, const job& j, assuming also = assuming::nothing) {
        report other;
        try {
            other = looked_at(r, j, also);
        } catch (const bad_input&) {
            return;  // no such range, or a change that cannot be made
        }
        const auto same =
            std::find_if(other.lines.begin(), other.lines.end(), [&](const line& l) { return l.name == deciding_.name; });
        change c{what, same == other.lines.end() ? line{deciding_.name} : *same, other.verdict};
        const double before = deciding_.margin().value_or(0.0);
        constexpr double worth_it = 0.02;
        const bool helps = c.verdict < to_.verdict || (c.verdict == to_.verdict && same != other.lines.end() &&
                                                       c.deciding.margin().value_or(before) > before + worth_it);
        if (helps) to_.changes.push_back(std::move(c));
    }

    void sort() {
        std::stable_sort(to_.changes.begin(), to_.changes.end(), [](const change& a, const change& b) {
            if (a.verdict != b.verdict) return a.verdict < b.verdict;
            return a.deciding.margin().value_or(1.0) > b.deciding.margin().value_or(1.0);
        });
    }

private:
    const record::record& record_;
    const job& job_;
    report& to_;
    line deciding_;
};

void try_changes(const record::record& r, const job& j, report& to) {
    trials t(r, j, to);
    const auto of = std::find_if(r.ranges.begin(), r.ranges.end(),
                                 [&](const auto& one) { return one.channel == j.channel && one.range == j.range; });
    t.with_job("recalibrate just before", [&](job& other) { other.date = r.dates.ended; });
    t.with_job("work at the temperature of the calibration, within 1 K", [&](job& other) {
        other.ambient = of->ambient;
        other.ambient_half_width = 1.0 * kelvin;
    });
    t.with_job("recalibrate on the spot, at that temperature within 1 K", [&](job& other) {
        other.date = r.dates.ended;
        other.ambient = of->ambient;
        other.ambient_half_width = 1.0 * kelvin;
    });
    t.with("calibrate with references four times better", with_better_references(r, 4.0), j);
    if (j.read != reading_of::peak_to_peak && (j.read == reading_of::level || j.samples < 64.0)) {
        t.with_job("average 64 readings", [](job& other) {
            if (other.read == reading_of::level) other.read = reading_of::mean;
            other.samples = 64.0;
        });
    }
    for (const auto& range : r.ranges) {
        if (range.channel != j.channel || range.range == j.range) continue;
        t.with_job("use the range " + range.range, [&](job& other) { other.range = range.range; });
    }
    if (j.probe) {
        t.with_job("connect without the probe", [](job& other) {
            other.probe.reset();
            other.probe_record.reset();
        });
        if (!j.probe->calibrated_together) {
            t.with("calibrate with the probe attached", r, j, assuming::calibrated_with_the_probe);
            if (!j.probe_record)
                t.with_job("know the probe's series resistance within 0.1 %",
                           [](job& other) { other.probe->tolerance = 0.1 * percent; });
        }
    }
    if (j.source.resistance > resistance()) {
        t.with_job("put a buffer between source and input", [](job& other) { other.source = {}; });
        if (!j.source.corrected) {
            t.with_job("correct for the source's resistance", [](job& other) { other.source.corrected = true; });
        }
    }
    if (j.sample_rate && *j.sample_rate != of->mode.sample_rate) {
        t.with_job("use the sample rate of the calibration, " + shown(of->mode.sample_rate, "Hz"),
                   [](job& other) { other.sample_rate.reset(); });
    }
    for (const double faster : {10.0, 100.0}) {
        if (j.fastest.what == event_kind::dc) break;
        const frequency rate = of->mode.sample_rate * faster;
        record::record other = r;  // as if it had been calibrated so
        for (auto& range : other.ranges) range.mode.sample_rate = rate;
        job at_that_rate = j;
        at_that_rate.sample_rate = rate;
        t.with(fmt::format("sample at {}, and calibrate in that mode", shown(rate, "Hz")), other, at_that_rate);
    }
    t.sort();
}

}  // namespace

report audit(const record::record& r, const job& j) {
    report found = looked_at(r, j);
    // No reading is worth the danger: what would make it safe is not for a calculation to say.
    if (found.verdict == suitability::not_suitable || found.verdict == suitability::with_conditions)
        try_changes(r, with_probe_of_record(r, j), found);
    return found;
}

}  // namespace plumbline::inline v0::audit
