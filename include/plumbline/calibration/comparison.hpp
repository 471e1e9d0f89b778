#pragma once
// Two references at one voltage: reported, never averaged away.

#include <plumbline/calibration/applied.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// What two references said of one voltage at one time.
struct comparison {
    std::string name;
    applied first;
    applied second;
    voltage difference;  ///< second minus first
    voltage U;           ///< of the difference; an error that both share is not in it
    double k = 0.0;
    double e_n = 0.0;  ///< |difference| / U: above 1 they disagree, and at least one of the two statements is wrong
    friend bool operator==(const comparison&, const comparison&) = default;
};

/// @param first, second  by a stated value, a meter's reading, an output or a part, measured at one pair of terminals
/// @throws bad_input  one is a divider or has a source resistance: what it gives depends on what it feeds
/// Source: E_n by ISO 13528:2015, 9.7 (from memory), with U of the difference, correlation included.
[[nodiscard]] PLUMBLINE_EXPORT comparison compare(const std::string& name, const applied& first, const applied& second,
                                                  const std::vector<reference>& references, celsius ambient,
                                                  kelvins temperature_half_width, uncertainty::input_set& inputs,
                                                  double probability = uncertainty::default_coverage_probability);

}  // namespace plumbline::inline v0::calibration
