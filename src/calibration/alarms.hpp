#pragma once
// How often each test behind a finding may blame what is clean, so that all tests of one calibration together keep to 1 %.

#include <algorithm>
#include <cstddef>

namespace plumbline::inline v0::calibration {

inline constexpr double alarms_of_a_calibration = 0.01;  // the chance of one or more, on clean captures
inline constexpr double alarm_of_a_test = 1e-4;          // at most: of programs that solve() alone, and of small sessions
/// Of 1 %, for slopes that differ. Three steps' non-linearity, each within the data sheet's limit, can be four times that together, which a
/// bound by chance of 1e-5 nearly reaches: here alone a larger share finds smaller faults.
inline constexpr double alarm_of_slopes = 0.003;
/// Drift, noise, hum, a line, samples far out, slow noise, samples that hang together.
inline constexpr std::size_t tests_of_a_capture = 7;

/// What one calibration looks at, a whole session's.
struct looks {
    std::size_t captures = 0;
    /// Beside each capture by itself: a line through points, a channel beside, a warm-up curve, a step at another supply.
    std::size_t others = 0;
    std::size_t two_slopes = 0;  ///< ranges with a negative step
};

/// The chance that one test blames what is clean: equal shares of 1 %, less what two slopes have. However tests depend on each other, all
/// together keep to it, for the chance of one or more is the sum of theirs at most (Bonferroni's inequality).
[[nodiscard]] inline double alarm_of_one(const looks& all) {
    const std::size_t tests = std::max<std::size_t>(1, tests_of_a_capture * all.captures + all.others);
    const double left = alarms_of_a_calibration - (all.two_slopes > 0 ? alarm_of_slopes : 0.0);
    return std::min(alarm_of_a_test, left / static_cast<double>(tests));
}

/// The same for the slopes of one range.
[[nodiscard]] inline double alarm_of_slopes_in_one(const looks& all) {
    return alarm_of_slopes / static_cast<double>(std::max<std::size_t>(1, all.two_slopes));
}

}  // namespace plumbline::inline v0::calibration
