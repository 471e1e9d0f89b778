#pragma once
// Whether a step can carry a calibration, by itself.

#include <plumbline/calibration/range_calibration.hpp>
#include <string>

namespace plumbline::inline v0::calibration {

/// From the zero step to another, of the converter's codes; below, the line is mostly extrapolated.
inline constexpr double smallest_span = 0.05;

/// Where a step stands, for messages.
[[nodiscard]] std::string place(const std::string& step_name, const std::string& channel, const std::string& range);

/// @throws bad_step  fewer than two samples, or figures not finite
void expect_samples(const step& s, const std::string& where);

/// @param at_bottom, at_top  what to do about it
/// @throws bad_step  more than one sample in a thousand on an end code
void expect_unclipped(const step& s, const front_end::converter& adc, const std::string& where, const std::string& at_bottom,
                      const std::string& at_top);

}  // namespace plumbline::inline v0::calibration
