#pragma once
// What was known of a quantity before it was measured, and what is known after.

#include <plumbline/conformity/tolerance.hpp>
#include <plumbline/export.hpp>

namespace plumbline::inline v0::conformity {

/// Normal knowledge of one quantity: of the items that come to be measured, or of a value after a measurement.
template <class Number>
struct knowledge {
    Number estimate{};
    Number u{};  ///< standard uncertainty, or the standard deviation of the items: > 0, finite
    friend bool operator==(const knowledge&, const knowledge&) = default;
};

/// Both together, each weighted by 1/u^2:
///
///     y = (y0/u0^2 + eta/um^2) / (1/u0^2 + 1/um^2)        u = u0 um / sqrt(u0^2 + um^2)
///
/// @param reading    eta, finite
/// @param u_reading  um, its standard uncertainty: > 0, finite
/// @throws bad_input outside these
/// Source: JCGM 106:2012, A.4.4, eqs. (A.13), (A.14).
[[nodiscard]] PLUMBLINE_EXPORT knowledge<double> posterior(const knowledge<double>& prior, double reading, double u_reading,
                                                           const char* unit = "1");

template <judged_quantity Quantity>
[[nodiscard]] knowledge<double> plain(const knowledge<Quantity>& k) {
    return {k.estimate.value(), k.u.value()};
}

template <judged_quantity Quantity>
[[nodiscard]] knowledge<Quantity> posterior(const knowledge<Quantity>& prior, like<Quantity> reading, like<Quantity> u_reading) {
    const auto found = posterior(plain(prior), reading.value(), u_reading.value(), unit_symbol<Quantity>);
    return {Quantity::from_value(found.estimate), Quantity::from_value(found.u)};
}

}  // namespace plumbline::inline v0::conformity
