#pragma once
// Type A evaluation: inputs from readings taken again and again.

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

}  // namespace plumbline::inline v0::uncertainty
