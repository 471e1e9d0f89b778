#pragma once
// How fine a measurement is beside the tolerance it serves.

#include <plumbline/conformity/tolerance.hpp>
#include <plumbline/export.hpp>

namespace plumbline::inline v0::conformity {

/// Measurement capability index C_m = T / (4 u), T the full width TU - TL.
/// @param u  standard uncertainty: > 0, finite
/// @throws bad_input  also for a one-sided tolerance, which has no width
/// Source: JCGM 106:2012, 7.6.
[[nodiscard]] PLUMBLINE_EXPORT double capability_index(const tolerance<double>& limits, double u, const char* unit = "1");

/// Test uncertainty ratio: tolerance over expanded uncertainty, T / (2 U) = half the full width over U; C_m if U = 2 u.
/// For an error within +-E_max it is E_max / U.
/// @param U  expanded uncertainty: > 0, finite
/// @throws bad_input  also for a one-sided tolerance, which has no width
/// Source: JCGM 106:2012, 7.6.
[[nodiscard]] PLUMBLINE_EXPORT double test_uncertainty_ratio(const tolerance<double>& limits, double U, const char* unit = "1");

/// Guard band that keeps the global consumer's risk to 2 % for every prior centred between the limits, in multiples of U:
///
///     M = 1.04 - exp(0.38 ln TUR - 0.54), and 0 where that is negative (TUR above 4.59)
///
/// A fit: with U = 1.96 u the largest risk is 1.99 % to 2.01 % over TUR 1.5 to 4.6.
///
/// @param ratio  test uncertainty ratio: > 0, finite
/// @throws bad_input outside these
/// Source: ANSI/NCSL Z540.3 handbook, method 6 (Dobbert); the formula from memory, its claim computed in tests/conformity.
[[nodiscard]] PLUMBLINE_EXPORT double managed_guard_band(double ratio);

template <judged_quantity Quantity>
[[nodiscard]] double capability_index(const tolerance<Quantity>& limits, like<Quantity> u) {
    return capability_index(limits.plain(), u.value(), unit_symbol<Quantity>);
}

template <judged_quantity Quantity>
[[nodiscard]] double test_uncertainty_ratio(const tolerance<Quantity>& limits, like<Quantity> U) {
    return test_uncertainty_ratio(limits.plain(), U.value(), unit_symbol<Quantity>);
}

}  // namespace plumbline::inline v0::conformity
