#pragma once
// Zero and reference in turn, 0-R-0-R-0, each connected anew: linear drift drops out, and what reconnecting does is seen.

#include <plumbline/calibration/reading.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// One capture of the series.
struct turn {
    bool is_reference = false;
    codes mean;
    duration at;  ///< since any moment; later than the turn before
};

using codes_per_second = decltype(codes() / duration());

/// Mean codes of both at the middle of the series, by least squares of m + [reference] span + drift t.
struct drift_free {
    codes zero;
    codes reference;
    codes u_zero;  ///< type A, what reconnecting brings included
    codes u_reference;
    double correlation = 0.0;         ///< of the two: 0 where both have the same mean time, as in 0-R-0-R-0 at equal intervals
    double degrees_of_freedom = 0.0;  ///< turns less 3, of both jointly
    codes scatter;                    ///< of one turn about the fit
    codes_per_second drift;
    codes_per_second u_drift;
    std::string text;
};

/// @throws bad_input  fewer than 5 turns; they do not change between zero and reference each time; times not rising; not finite
/// Source: least squares, JCGM 100:2008, H.3; a drift that is a straight line in time is one of its parameters.
[[nodiscard]] PLUMBLINE_EXPORT drift_free without_drift(std::span<const turn> turns);

/// The reading of a range whose zero and reference step have the means of a series, with the scatter of reconnecting as two inputs besides.
/// Where the series is correlated, state correlation_of with the budget.
///
/// @param of  solved with the series' zero and reference as the means of its steps
/// @throws bad_input  as reading(); the means of the steps are not those of the series
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> reading(const uncertainty::input_set& inputs,
                                                                       const std::vector<reference>& references,
                                                                       const range_calibration& of, const drift_free& by, codes c,
                                                                       const reading_conditions& when);
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::correlation correlation_of(const range_calibration& of, const drift_free& by);

}  // namespace plumbline::inline v0::calibration
