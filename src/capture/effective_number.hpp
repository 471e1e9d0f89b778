#pragma once
// How many independent samples a run counts as.

#include <vector>

namespace plumbline::inline v0::capture {

/// Are neighbours correlated: by lags 1 to min(10, n/5), false where n is below 5.
///
///     Q = n (n + 2) sum rho_k^2 / (n - k)
///
/// is about chi-squared with as many degrees of freedom as lags, for white noise.
/// @param deviations  from the mean, in order
/// @param chance      that white noise is taken for correlated
/// Source: G. M. Ljung, G. E. P. Box, Biometrika 65 (1978) 297-303, from memory.
[[nodiscard]] bool correlated(const std::vector<double>& deviations, double sum_of_squares, double chance);

/// n_eff as summarise describes it, within [1, n].
/// @param deviations      from their mean
/// @param sum_of_squares  of them
[[nodiscard]] double effective_number(const std::vector<double>& deviations, double sum_of_squares);

}  // namespace plumbline::inline v0::capture
