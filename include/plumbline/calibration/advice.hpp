#pragma once
// Advice from a budget: which reference voltage is best for a range, and what is worth improving.

#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
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
    voltage largest_now;                ///< as calibrated
    std::string text;                   ///< the recommendation and what it gains
};

/// Candidates from a tenth of the range's farther end to that end, n of them, each known within the same part of its voltage.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<candidate> candidates_within(const range_calibration& of, ratio limits, int n = 10);

/// Solves the range again for each candidate, as it would have come out: its captures' noise, zero step and front end, and mean codes on the
/// line that was found. A negative step is taken with the candidate reversed. Candidates that the range cannot take are left out.
/// @throws bad_input  no candidate is left
[[nodiscard]] PLUMBLINE_EXPORT advice_on_reference best_reference(const range_calibration& of,
                                                                  const std::vector<reference>& references,
                                                                  const uncertainty::input_set& inputs,
                                                                  const std::vector<candidate>& candidates,
                                                                  double probability = uncertainty::default_coverage_probability);

/// What U would be with less of one input.
struct improvement {
    std::string label;  ///< of the budget's row
    voltage now;
    voltage halved;   ///< U with half of this input's u
    voltage removed;  ///< U without it
    std::string text;
};

/// Every row of a result's budget, largest effect first; rows that take less than a hundredth off U when removed are left out.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<improvement> what_to_improve(
    const uncertainty::uncertain<voltage>& result, double probability = uncertainty::default_coverage_probability);

/// All of this for one range, in sentences: whether its steps and check points (as left) lie on a straight line, what is worth improving where U
/// is largest, at most three rows of it, and what reference voltage would be best if it were known to the same part of itself as now.
/// @param inputs  the record's, or the session's after solve() and check()
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> advice(const range_calibration& of,
                                                               const std::vector<reference>& references,
                                                               const uncertainty::input_set& inputs,
                                                               double probability = uncertainty::default_coverage_probability);

}  // namespace plumbline::inline v0::calibration
