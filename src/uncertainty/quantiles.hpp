#pragma once
// Quantiles of distributions for which Boost.Math, a large header, is compiled once. All arithmetic is in double, whatever the platform's
// long double is.

namespace plumbline::inline v0::uncertainty {

// What is exceeded with this chance, 0 < chance < 1. By the upper tail, so that 1e-20 is as good as 0.1.

[[nodiscard]] double normal_exceeded_by(double chance);
/// @pre degrees_of_freedom > 0, here and below; need not be whole
[[nodiscard]] double student_t_exceeded_by(double chance, double degrees_of_freedom);
[[nodiscard]] double chi_squared_exceeded_by(double chance, double degrees_of_freedom);

/// What chi-squared stays below with this probability.
[[nodiscard]] double chi_squared_quantile(double probability, double degrees_of_freedom);

/// How likely chi-squared exceeds x >= 0.
[[nodiscard]] double chance_of_chi_squared_above(double x, double degrees_of_freedom);

}  // namespace plumbline::inline v0::uncertainty
