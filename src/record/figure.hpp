#pragma once
// Figures as files write them: number, space, unit.

#include <optional>
#include <string>
#include <string_view>

namespace plumbline::inline v0::record {

/// What a figure must satisfy besides being finite.
enum class demand { any, not_negative, above_zero };

/// Whether a value meets the demand. NaN meets none.
[[nodiscard]] bool meets(double value, demand d) noexcept;

/// Value of "220 kohm", "-2 mV", "0.1 %" or "25 ppm/K" in the coherent unit.
///
/// The prefix moves the decimal exponent of the text, so "4.1 mV" is the double nearest to 0.0041. Read besides the unit itself: prefixes
/// p n u m k M G before V, ohm, A, Hz, s and K; the letters of the Greek omega and mu; "%" and "ppm" for the number 1; "°C" for degC;
/// "LSB" and "codes" for code.
///
/// @param unit  symbol of the coherent unit: "V", "V/code", "1/K", "V^2/code" ...; "1" for a pure number
/// @return      finite; nothing if the text is no such figure or too large or small for a double
[[nodiscard]] std::optional<double> read_figure(std::string_view text, std::string_view unit);

/// The same figure as text, in the coherent unit, with the shortest digits that read back bit for bit.
[[nodiscard]] std::string write_figure(double value, std::string_view unit);

/// What messages say was expected: "a voltage above 0 such as "4.096 V"".
[[nodiscard]] std::string describe_figure(std::string_view unit, demand d);

/// The same as messages quote it: in quotation marks, at most 40 characters.
[[nodiscard]] std::string shown(std::string_view text);

}  // namespace plumbline::inline v0::record
