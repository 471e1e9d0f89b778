#pragma once
// Checks of arguments that every function of this room makes.

#include <string>

namespace plumbline::inline v0::conformity {

/// "0.05 V", "0.05" where the unit is 1.
[[nodiscard]] std::string with_unit(double x, const char* unit);

/// @throws bad_input  x is not finite
void expect_finite(const char* where, const char* what, double x, const char* unit);
/// @throws bad_input  x is not finite or not above 0
void expect_positive(const char* where, const char* what, double x, const char* unit);

}  // namespace plumbline::inline v0::conformity
