#pragma once
// How many independent samples a run counts as.

#include <vector>

namespace plumbline::inline v0::capture {

/// n_eff as summarise describes it, within [1, n].
/// @param deviations      from their mean
/// @param sum_of_squares  of them
[[nodiscard]] double effective_number(const std::vector<double>& deviations, double sum_of_squares);

}  // namespace plumbline::inline v0::capture
