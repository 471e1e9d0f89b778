#pragma once
// Type A evaluation: inputs from readings taken again and again.

#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// Mean of n independent readings with u = s / sqrt(n), n - 1 degrees of freedom.
/// @param readings  in the coherent unit named; at least 2, finite
/// @throws bad_input fewer than 2 readings, or one not finite
/// Source: JCGM 100:2008, 4.2.1 to 4.2.3.
[[nodiscard]] PLUMBLINE_EXPORT input observed(std::string id, std::string label, std::string source, std::string unit,
                                              std::span<const double> readings);

/// Experimental standard deviation of one reading, by deviations from the mean (no cancellation: JCGM GUM-6:2020, 8.6.5).
/// @pre at least 2 readings
[[nodiscard]] PLUMBLINE_EXPORT double experimental_standard_deviation(std::span<const double> readings);

/// Correlation coefficient of the means of two quantities read together, r = s(x, y) / (s(x) s(y)); 0 where one does not scatter.
/// @pre as many readings of one as of the other, at least 2
/// Source: JCGM 100:2008, 5.2.3, eqs. (17) and (14).
[[nodiscard]] PLUMBLINE_EXPORT double correlation_of_means(std::span<const double> x, std::span<const double> y);

/// Autocorrelation coefficient of readings taken one after the other, of each with that `lag` later: the sum of products of their deviations
/// from the mean over the sum of squares, near 0 for independent readings; 0 where they do not scatter. Readings that hang together are not
/// for `observed`: JCGM 100:2008, 4.2.7.
/// @param lag  at least 1; from as many readings on there is no pair, and it is 0
/// @pre   at least 2 readings
/// Source: NIST StRD, univariate summary statistics (lag 1).
[[nodiscard]] PLUMBLINE_EXPORT double autocorrelation(std::span<const double> readings, std::size_t lag = 1);

}  // namespace plumbline::inline v0::uncertainty
