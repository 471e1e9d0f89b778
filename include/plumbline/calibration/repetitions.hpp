#pragma once
// Zero and reference in turn, 0-R-0-R-0, each connected anew: linear drift drops out, and what reconnecting does is seen.

#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
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

/// The same of captures as the record keeps them: zero step first.
[[nodiscard]] PLUMBLINE_EXPORT drift_free without_drift(std::span<const repeated_capture> turns);

/// How far the codes drifted from the first turn to the last; none where that is within its own U (95.45 %). A capture of another voltage, at
/// an unknown moment not farther from the middle of the series than the series is long, is off by this at most.
[[nodiscard]] PLUMBLINE_EXPORT std::optional<codes> drift_seen(std::span<const repeated_capture> turns);

/// What all captures of one step say together: samples, extremes and end codes of all, scatter pooled, mean of the series without drift.
/// Noise, trend and hum are those of the first.
/// @param turns  as without_drift() takes them
[[nodiscard]] PLUMBLINE_EXPORT capture::statistics of_all_turns(std::span<const repeated_capture> turns, const drift_free& by,
                                                                bool of_reference);

/// How the mean codes of zero and reference step hang together, to be stated with budgets: empty where the range has no repetitions or they
/// are not correlated.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<uncertainty::correlation> correlations_of(const range_calibration& of);

}  // namespace plumbline::inline v0::calibration
