#pragma once
// What an audit finds: a verdict, the lines it rests on, and what would change it.

#include <optional>
#include <plumbline/conformity/risk.hpp>
#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace plumbline::inline v0::audit {

/// The verdict on a job.
enum class suitability { suitable, with_conditions, not_suitable, do_not_connect };

/// "suitable", "suitable with conditions", "not suitable" or "do not connect".
[[nodiscard]] PLUMBLINE_EXPORT std::string_view word(suitability s);

/// What one line says.
enum class line_is {
    good,
    condition,  ///< good if what it says is kept to
    unknown,    ///< a figure is missing: a condition too, until it is entered
    bad,
    dangerous,  ///< a limit of safety is exceeded, or not known where it counts
};

/// One thing that was looked at.
struct line {
    std::string name;
    line_is verdict = line_is::good;
    std::optional<double> figure{};  ///< in unit
    std::optional<double> limit{};   ///< in unit
    bool at_least = false;           ///< the figure has to reach the limit; else it must not exceed it
    std::string unit{};              ///< coherent unit, "1" for a number
    std::string text{};              ///< what was found, and what to do where it is not good

    /// Part of what is allowed that is left: 1 - figure/limit, or 1 - limit/figure; below 0 it is exceeded. None without both figures.
    [[nodiscard]] PLUMBLINE_EXPORT std::optional<double> margin() const;
    friend bool operator==(const line&, const line&) = default;
};

/// Judging a value by limits: which readings to accept, and what can go wrong.
/// Guarded acceptance by U (JCGM 106:2012, 8.3.2); risks for a normal distribution with u = (U + what is left uncorrected) / k.
struct decision {
    conformity::interval<voltage> accepted;           ///< readings
    voltage u;                                        ///< standard uncertainty of a reading at the limits, the larger one
    conformity::specific_risks at_limit;              ///< of a reading just at the worse acceptance limit
    std::optional<conformity::global_risks> overall;  ///< where the job says what is expected
};

/// How well the job's reading is known where it is worst in relation to what is needed.
struct accuracy {
    voltage at;  ///< value read
    voltage U;   ///< expanded uncertainty at the job's confidence
    double k = 0.0;
    voltage uncorrected;      ///< what the reading may be off besides: loading, bandwidth, sampling. Bound of its size
    voltage allowed;          ///< 0 where nothing is asked: one limit only
    double conformity = 0.0;  ///< probability that the reading is off by no more than allowed
    voltage
        off{};  ///< what the reading is off by at most, with the job's confidence: U, and of what is uncorrected what U leaves room for
};

/// One change, with the audit computed again.
struct change {
    std::string what;
    line deciding;  ///< the line that decided before, as it is then
    suitability verdict = suitability::suitable;
};

struct report {
    std::string job;
    std::string record;
    std::string channel;
    std::string range;
    double years = 0.0;    ///< since the calibration
    std::string invented;  ///< what the record says of invented data
    suitability verdict = suitability::suitable;
    audit::accuracy accuracy;
    std::optional<audit::decision> decision;
    std::vector<line> lines;      ///< what is dangerous first, then what is bad, conditions, unknown, good
    std::vector<change> changes;  ///< most effective first
};

/// The report for a person.
[[nodiscard]] PLUMBLINE_EXPORT std::string text(const report& r);

/// The report for a program: JSON, coherent units, ending in a line feed.
[[nodiscard]] PLUMBLINE_EXPORT std::string to_json(const report& r);

}  // namespace plumbline::inline v0::audit
