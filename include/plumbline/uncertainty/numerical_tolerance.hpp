#pragma once
// What the last digits of an uncertainty are worth, and whether first order may be trusted: JCGM 101:2008, 7.9.2 and clause 8.

#include <plumbline/export.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>

namespace plumbline::inline v0::uncertainty {

/// u = c * 10^exponent with c a whole number of so many digits, and delta = 10^exponent / 2.
/// Source: JCGM 101:2008, 7.9.2.
struct numerical_tolerance {
    long c = 0;
    int exponent = 0;
    double delta = 0.0;
};

/// @param u                   standard uncertainty, more than 0 and finite; u = 0 has c = 0 and delta = 0
/// @param significant_digits  1 to 6
/// @throws bad_input          outside these
[[nodiscard]] PLUMBLINE_EXPORT numerical_tolerance tolerance_of(double u, int significant_digits);

/// First order beside Monte Carlo: y -+ U against the ends of a coverage interval.
struct validation {
    double d_low = 0.0;   ///< |y - U - y_low|
    double d_high = 0.0;  ///< |y + U - y_high|
    double delta = 0.0;   ///< numerical tolerance of the first-order u
    bool validated = false;
};

/// Source: JCGM 101:2008, 8.1.3. The Monte Carlo run should itself stand to delta / 5: adaptive_rule::tolerance_fraction (8.2).
/// @throws bad_input  the two have different coverage probabilities or units
[[nodiscard]] PLUMBLINE_EXPORT validation validate(const budget& first_order, const monte_carlo_result& by_trials,
                                                   std::size_t output = 0, int significant_digits = 2,
                                                   bool shortest_interval = true);

}  // namespace plumbline::inline v0::uncertainty
