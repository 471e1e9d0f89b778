#pragma once
// How well a standard uncertainty is itself known, and the degrees of freedom that say so.

#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/units/compiler.hpp>

namespace plumbline::inline v0::uncertainty {

/// Relative standard uncertainty of an experimental standard deviation s from n independent normal observations, and so of that of their
/// mean: sigma(s) / E(s) = sqrt(1 - c4^2) / c4, with c4 = E(s) / sigma. 0.76 for n = 2, 0.24 for n = 10; about 1 / sqrt(2 (n - 1)).
/// @param observations  n, at least 2
/// @throws bad_input    fewer
/// Source: JCGM 100:2008, E.4.3, table E.1; c4^2 as a product of 1 - 1/m^2 over m = n, n + 2, ... derived here from its gamma functions.
[[nodiscard]] PLUMBLINE_EXPORT double relative_uncertainty_of_s(std::size_t observations);

/// Degrees of freedom of a standard uncertainty that was judged, not observed: 1 / (2 r^2). For the degrees of freedom of `normal`.
/// @param relative_uncertainty_of_u  r: 0.25 where u is held for right within a quarter; 0 gives infinitely many
/// @throws bad_input  negative or not finite
/// Source: JCGM 100:2008, G.4.2, eq. (G.3).
[[nodiscard]] PLUMBLINE_EXPORT double degrees_of_freedom_of_judged_u(double relative_uncertainty_of_u);

}  // namespace plumbline::inline v0::uncertainty
