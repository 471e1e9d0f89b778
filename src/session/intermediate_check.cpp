#include <plumbline/session/intermediate_check.hpp>

#include "../record/layout.hpp"
#include "observe.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/budget.hpp>

namespace plumbline::inline v0::session {

namespace {

void expect(bool good, const std::string& where, const std::string& found, const std::string& expected,
            const std::string& remedy) {
    if (!good) throw bad_input("check on site: " + where, found, expected, remedy);
}

const calibration::range_calibration& checked_range(const record::record& r, const on_site& check) {
    const auto found = std::find_if(r.ranges.begin(), r.ranges.end(),
                                    [&](const auto& one) { return one.channel == check.channel && one.range == check.range; });
    expect(found != r.ranges.end(), "range",
           fmt::format("found channel {}, range {}", record::shown(check.channel), record::shown(check.range)),
           "a range of record " + r.number, "correct channel or range, or take another record");
    return *found;
}

double years_between(const std::string& first, const std::string& last) {
    const auto day = [](const std::string& text) {
        return std::chrono::sys_days(std::chrono::year(std::stoi(text.substr(0, 4))) / std::stoi(text.substr(5, 2)) /
                                     std::stoi(text.substr(8, 2)));
    };
    return std::chrono::duration<double, std::ratio<31556952>>(day(last) - day(first)).count();
}

/// "0.12"; a figure in a sentence.
std::string e_n_text(double e_n) { return fmt::format("{:.2f}", e_n); }

std::string verdict(const record::record& r, const record::intermediate_check& c, bool drift_known) {
    const std::string drift = drift_known ? "" : " The record states no drift: none was allowed for.";
    const std::string both = fmt::format("E_n is {} with the input shorted and {} on the pocket reference", e_n_text(c.zero.e_n),
                                         e_n_text(c.reference.e_n));
    const auto e_n_of = [](const record::checked_point& read, const record::checked_point& applied) {
        return std::abs((read.reading - applied.applied).value()) / std::hypot(read.U.value(), applied.U_applied.value());
    };
    const bool swapped = !agrees(c) && e_n_of(c.zero, c.reference) <= 1.0 && e_n_of(c.reference, c.zero) <= 1.0;
    if (swapped) {
        return fmt::format(
            "Does not read as record {} says: {}, and above 1 is none. Each capture reads what was applied in the "
            "other: they are swapped. Check again with each in its place.{}",
            r.number, both, drift);
    }
    if (agrees(c)) return fmt::format("Reads as record {} says: {}, and up to 1 is agreement.{}", r.number, both, drift);
    return fmt::format(
        "Does not read as record {} says: {}, and above 1 is none. Do not rely on its readings; find out why, and "
        "calibrate again.{}",
        r.number, both, drift);
}

}  // namespace

bool agrees(const record::intermediate_check& check) { return check.zero.e_n <= 1.0 && check.reference.e_n <= 1.0; }

record::record checked_on_site(const record::record& r, const on_site& check) {
    const calibration::range_calibration& range = checked_range(r, check);
    expect(record::is_date(check.date), "date", "found " + record::shown(check.date), "a day of the calendar as YYYY-MM-DD",
           "correct the date");
    const std::string& before = r.intermediate.empty() ? r.dates.ended : r.intermediate.back().date;
    expect(check.date >= before, "date", "found " + record::shown(check.date), "a day not before " + before,
           "correct the date, or take an earlier record");
    expect(check.occasion.find_first_not_of(" \n") != std::string::npos, "occasion", "found none", "why it was checked",
           "say for instance \"after a fall\"");
    for (const auto& [value, limits] : {std::pair{check.value, check.limits}, std::pair{check.zero_value, check.zero_limits}}) {
        expect(std::isfinite(value.value()) && limits.value() > 0.0 && std::isfinite(limits.value()), "voltage applied",
               fmt::format("found {} V within {} V", value.value(), limits.value()), "a voltage and limits above 0",
               "state what was applied, and how well that is known");
    }

    calibration::use_conditions use = range.in_use.value_or(calibration::use_conditions{});
    use.years = years_between(r.dates.ended, check.date);
    use.temperature_half_width = check.ambient_half_width + range.temperature_half_width;
    const auto point = [&](const capture_source& from, voltage applied, voltage limits) {
        const observation o = observe(from, range.mode, range.chain.adc, check.folder);
        expect(o.seen.at_bottom == 0 && o.seen.at_top == 0, from.file, "found samples on an end of the converter",
               "a capture inside the range", "apply a voltage that the range can read, two above 0 V on a single supply");
        const auto reading = calibration::reading_in_use(r.inputs, r.references, range, o.seen.mean, std::max(1.0, o.seen.n_eff),
                                                         use, check.ambient - range.ambient);
        const auto known = uncertainty::make_convolved_budget(reading, r.coverage_probability, r.correlations);
        record::checked_point p{o.evidence, known.value * volt, known.U * volt, applied, 2.0 / std::sqrt(3.0) * limits, 0.0};
        p.e_n = std::abs((p.reading - p.applied).value()) / std::hypot(p.U.value(), p.U_applied.value());
        return p;
    };
    record::intermediate_check done;
    done.date = check.date;
    done.occasion = check.occasion;
    done.channel = check.channel;
    done.range = check.range;
    done.ambient = check.ambient;
    done.zero = point(check.zero, check.zero_value, check.zero_limits);
    done.reference = point(check.reference, check.value, check.limits);
    done.result = verdict(r, done, range.in_use.has_value());
    record::record checked = r;
    checked.intermediate.push_back(std::move(done));
    return checked;
}

}  // namespace plumbline::inline v0::session
