#pragma once
// Conformance probability: how likely the true value lies within the tolerance, given what is known of it.

#include <plumbline/conformity/tolerance.hpp>
#include <plumbline/export.hpp>

namespace plumbline::inline v0::conformity {

/// Normal distribution with estimate y and standard uncertainty u:
///
///     p_c = Phi((TU - y)/u) - Phi((TL - y)/u)
///
/// @param y  finite
/// @param u  > 0, finite
/// @return   0 to 1; accurate far out in the tails too
/// @throws bad_input outside these
/// Source: JCGM 106:2012, 7.3 (one limit), 7.4 (two).
[[nodiscard]] PLUMBLINE_EXPORT double conformance_probability(const tolerance<double>& limits, double y, double u,
                                                              const char* unit = "1");

/// 1 - p_c, summed from the two tails: 1e-12 stays 1e-12 where 1 - p_c would leave noise.
[[nodiscard]] PLUMBLINE_EXPORT double nonconformance_probability(const tolerance<double>& limits, double y, double u,
                                                                 const char* unit = "1");

/// From the values of any distribution function at the limits: p_c = G(TU) - G(TL).
/// @throws bad_input  not 0 <= at_lower <= at_upper <= 1
/// Source: JCGM 106:2012, 7.1.
[[nodiscard]] PLUMBLINE_EXPORT double conformance_probability_between(double at_lower, double at_upper);

/// Readings whose conformance probability is p or more: the acceptance interval of a rule that asks for p.
/// @param p  0 < p < 1; with one limit and p below 1/2 the reading may lie beyond that limit
/// @throws bad_input  also if no reading reaches p: the tolerance is too narrow for u
/// Source: JCGM 106:2012, 7.3.3 (one limit), 7.7 (two).
[[nodiscard]] PLUMBLINE_EXPORT interval<double> readings_conforming_with(double p, const tolerance<double>& limits, double u,
                                                                         const char* unit = "1");

template <judged_quantity Quantity>
[[nodiscard]] double conformance_probability(const tolerance<Quantity>& limits, like<Quantity> y, like<Quantity> u) {
    return conformance_probability(limits.plain(), y.value(), u.value(), unit_symbol<Quantity>);
}

template <judged_quantity Quantity>
[[nodiscard]] double nonconformance_probability(const tolerance<Quantity>& limits, like<Quantity> y, like<Quantity> u) {
    return nonconformance_probability(limits.plain(), y.value(), u.value(), unit_symbol<Quantity>);
}

/// Any distribution, from a Monte Carlo evaluation for instance.
/// @param distribution_function  G(x) = P(true value <= x), continuous at the limits; called with finite limits only
template <class Number, std::invocable<Number> DistributionFunction>
[[nodiscard]] double conformance_probability(const tolerance<Number>& limits, const DistributionFunction& distribution_function) {
    return conformance_probability_between(limits.has_lower() ? distribution_function(limits.lower()) : 0.0,
                                           limits.has_upper() ? distribution_function(limits.upper()) : 1.0);
}

template <judged_quantity Quantity>
[[nodiscard]] interval<Quantity> readings_conforming_with(double p, const tolerance<Quantity>& limits, like<Quantity> u) {
    const auto found = readings_conforming_with(p, limits.plain(), u.value(), unit_symbol<Quantity>);
    return {Quantity::from_value(found.lower), Quantity::from_value(found.upper)};
}

}  // namespace plumbline::inline v0::conformity
