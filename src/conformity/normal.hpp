#pragma once
// The standard normal distribution, without loss of digits in the tails.

namespace plumbline::inline v0::conformity {

[[nodiscard]] double normal_density(double z);
/// Q(z) = 1 - Phi(z).
[[nodiscard]] double upper_tail(double z);
/// Phi(b) - Phi(a), a <= b; either may be infinite.
[[nodiscard]] double normal_between(double a, double b);
/// z with Q(z) = p, 0 < p < 1.
[[nodiscard]] double upper_quantile(double p);

}  // namespace plumbline::inline v0::conformity
