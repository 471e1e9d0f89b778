#pragma once
// Advice from a budget: which reference voltage is best for a range, and what is worth improving.

#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// A reference voltage that could be used, or has been.
struct candidate {
    stated_voltage voltage;
    std::string name;  ///< "10 V part"
};

/// U over the range if the reference step had been taken with a candidate.
struct judged_candidate {
    candidate by;
    std::vector<voltage> at;  ///< where U is stated: stated_voltages of the chain
    std::vector<voltage> U;   ///< of one sample at calibration
    voltage largest;          ///< over the range
};

struct advice_on_reference {
    std::vector<judged_candidate> all;  ///< least largest U first
    judged_candidate now;               ///< as calibrated
    std::string text;                   ///< the recommendation and what it gains
};

/// From a tenth of the range's farther end to that end, n of them.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<voltage> voltages_within(const range_calibration& of, int n = 10);

/// Candidates at these voltages, each known within the same part of its voltage.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<candidate> candidates_within(const range_calibration& of, ratio limits, int n = 10);

/// Judges the range for each candidate, as it would have come out: the reference step's capture moves along the line that was found, with its
/// noise and its distance from it, and all else stays: zero step, front end, further steps, repetitions' scatter, hum, crosstalk, measured
/// temperature coefficients. A negative step is taken with the candidate reversed. Candidates that the range cannot take are left out.
/// @param inputs        the record's, or the session's after solve()
/// @param correlations  stated ones, as with make_budget; those of repetitions in turn count in any case
/// @throws bad_input  no candidate is left
[[nodiscard]] PLUMBLINE_EXPORT advice_on_reference best_reference(const range_calibration& of,
                                                                  const std::vector<reference>& references,
                                                                  const uncertainty::input_set& inputs,
                                                                  const std::vector<candidate>& candidates,
                                                                  double probability = uncertainty::default_coverage_probability,
                                                                  std::span<const uncertainty::correlation> correlations = {});

/// The same with the present reference at other voltages: what it is off, with all that it shares with other steps, goes in proportion, and so
/// does a negative step's voltage. At the present voltage U is that of the range.
/// @throws bad_input  no voltage is left, or the reference step stands at 0 V
[[nodiscard]] PLUMBLINE_EXPORT advice_on_reference best_voltage(const range_calibration& of,
                                                                const std::vector<reference>& references,
                                                                const uncertainty::input_set& inputs,
                                                                const std::vector<voltage>& voltages,
                                                                double probability = uncertainty::default_coverage_probability,
                                                                std::span<const uncertainty::correlation> correlations = {});

/// What U would be with less of one input.
struct improvement {
    std::string label;  ///< of the budget's row
    voltage now;
    voltage halved;   ///< U with half of this input's u
    voltage removed;  ///< U without it
    std::string text;
};

/// Every row of a result's budget, largest effect first; rows that take less than a hundredth off U when removed are left out.
/// @param correlations  stated ones, as with make_budget
[[nodiscard]] PLUMBLINE_EXPORT std::vector<improvement> what_to_improve(
    const uncertainty::uncertain<voltage>& result, double probability = uncertainty::default_coverage_probability,
    std::span<const uncertainty::correlation> correlations = {});

/// All of this for one range, in lines: whether its steps and check points (as left) lie on a straight line; what is worth improving where U is
/// largest, at most three rows of it, at calibration and, with conditions of use, in use; which reference voltage would be best if it were known
/// to the same part of itself as now, or why that is not judged; and U by reference voltage, a table.
/// @param inputs        the record's, or the session's after solve() and check()
/// @param correlations  as with best_reference
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> advice(const range_calibration& of,
                                                               const std::vector<reference>& references,
                                                               const uncertainty::input_set& inputs,
                                                               double probability = uncertainty::default_coverage_probability,
                                                               std::span<const uncertainty::correlation> correlations = {});

}  // namespace plumbline::inline v0::calibration
