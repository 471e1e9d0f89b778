#pragma once
// JSON in canonical form.

#include <nlohmann/json_fwd.hpp>

#include <string>

namespace plumbline::inline v0::record {

/// The one text that RFC 8785 gives for a JSON value: no space, members in the order of their names' UTF-16 units, numbers as ECMAScript
/// writes them (each taken as a double).
/// @throws bad_input  a text that is not UTF-8, a number that is not finite
[[nodiscard]] std::string canonical_json(const nlohmann::json& value);

/// A number as RFC 8785, 3.2.2.3 has it: ECMAScript's Number::toString. @pre finite
[[nodiscard]] std::string canonical_number(double x);

}  // namespace plumbline::inline v0::record
