#pragma once
// First order beside Monte Carlo, for everything that a certificate states of a range: JCGM 101:2008, clause 8.

#include <cstdint>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <vector>

namespace plumbline::inline v0::calibration {

/// The voltages at which a range's U is stated, from its low to its high end.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<voltage> stated_voltages(const front_end::chain& chain);

struct validation_settings {
    std::uint64_t trials = 100'000;
    std::uint64_t seed = 1;
    int significant_digits = 1;  ///< of u: the tolerance is half a unit of the last one
    double probability = uncertainty::default_coverage_probability;
    std::vector<uncertainty::correlation> correlations{};
};

/// Runs the models of a range, readings at calibration and errors at check points, all by the same trials, and keeps what came out with the
/// range and its check points. First order is validated where both ends of the interval are those of y +- U within the tolerance of u.
///
/// The ends of an interval from 10^5 trials scatter by 0.9 % of u. With one significant digit of u, twice that is within the fifth of the
/// tolerance that 8.2 asks for where u begins with 1 to 5, and within a third above; with two digits it would take some 10^7 trials. The
/// interval is the symmetric one: the ends of the shortest scatter several times as much.
/// @throws as monte_carlo; `of` is then unchanged
/// Source: JCGM 101:2008, 8.1.3 and 8.2.
PLUMBLINE_EXPORT void validate(range_calibration& of, const std::vector<reference>& references,
                               const uncertainty::input_set& inputs, const validation_settings& settings = {});

}  // namespace plumbline::inline v0::calibration
