#pragma once
// A budget by where its figures come from: what would a better data sheet, or more readings, buy?

#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// The inputs of one source together, in the unit of the result.
struct source_row {
    std::string source;         ///< as the inputs have it; "A; B" for second-order terms of inputs from two sources
    std::size_t inputs = 0;     ///< how many; 0 for second-order terms of inputs from two sources
    double contribution = 0.0;  ///< root of the variance that they have together, correlations among them included
    double share = 0.0;         ///< that variance / u_c^2; below 0 where second-order terms take more away than there is
};

/// The rows of a budget grouped by the source text of their inputs, the largest first.
///
///     u_g^2 = sum over i, j of one source of c_i c_j u_i u_j r_ij, and the second-order terms of pairs within it
///
/// Shares add up to 1 where no input is correlated with one of another source; else what is missing is that correlation, which belongs to
/// neither.
/// @param correlations  those the budget was made with
/// @throws bad_input    as make_budget
/// Source: JCGM 100:2008, eq. (13), its terms sorted.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<source_row> by_source(const budget& b, std::span<const correlation> correlations = {});

}  // namespace plumbline::inline v0::uncertainty
