#pragma once
// Noise that a longer capture does not average out, from the Allan variances of one.

#include <optional>
#include <plumbline/capture/statistics.hpp>
#include <vector>

namespace plumbline::inline v0::capture {

/// See summarise. @param deviations  of the samples from any level, in their order
[[nodiscard]] std::optional<slow_noise> slow_noise_of(const std::vector<double>& deviations);

}  // namespace plumbline::inline v0::capture
