#pragma once
// How often each test behind a finding may blame what is clean, so that all tests of one calibration together keep to 1 %.

#include <algorithm>
#include <cstddef>

namespace plumbline::inline v0::calibration {

inline constexpr double alarms_of_a_calibration = 0.01;  // the chance of one or more, on clean captures
inline constexpr double alarm_of_a_test = 1e-4;          // at most: of programs that solve() alone, and of small sessions
/// Drift, noise, hum, a line, samples far out, slow noise, samples that hang together.
inline constexpr std::size_t tests_of_a_capture = 7;

/// What one calibration looks at, a whole session's.
struct looks {
    std::size_t captures = 0;
    /// Beside each capture by itself: two slopes or a line through points, a channel beside, a warm-up curve, a step at another supply.
    std::size_t others = 0;
};

/// The chance that one test blames what is clean: equal shares of 1 %. However tests depend on each other, all together keep to it, for the
/// chance of one or more is the sum of theirs at most (Bonferroni's inequality).
[[nodiscard]] inline double alarm_of_one(const looks& all) {
    const std::size_t tests = std::max<std::size_t>(1, tests_of_a_capture * all.captures + all.others);
    return std::min(alarm_of_a_test, alarms_of_a_calibration / static_cast<double>(tests));
}

}  // namespace plumbline::inline v0::calibration
