#pragma once
// Figures for reading: a result and its uncertainty rounded together, with a unit whose prefix suits them.

#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>

namespace plumbline::inline v0::certificate {

/// How the two digits of an uncertainty are found. The estimate is always rounded to nearest.
enum class rounding {
    nearest,  ///< the default; a tie goes away from zero
    up,       ///< never below what was computed
};

/// A result as text: "4.9987", "0.0038", "V". Decimal point whatever the locale, no grouping, never "-0.000".
struct PLUMBLINE_EXPORT rounded {
    std::string value;
    std::string U;  ///< same unit and as many decimals as the value
    std::string unit;

    /// "(4.9987 ± 0.0038) V"
    [[nodiscard]] std::string plus_minus() const;
    /// "4.9987(38) V": U in the last digits of the value. Say that it is U and give k: the form usually means the standard uncertainty.
    [[nodiscard]] std::string short_form() const;
    /// "4.9987 V"
    [[nodiscard]] std::string value_with_unit() const;
    /// "0.0038 V"
    [[nodiscard]] std::string U_with_unit() const;
};

/// Rounds U to two significant digits and the value to the same decimal place, in the unit given. Where rounding carries (0.0996 to 0.10)
/// the place is that of the last digit kept. What is rounded, once, is the shortest decimal text that reads back as the same number,
/// the text that a record holds: so 0.0038 rounded up is 0.0038, though the nearest double lies above it.
///
/// @param value  finite
/// @param U      finite and above 0, in the same unit: an uncertainty of zero, like an unknown one, has no digits to keep
/// @throws bad_input otherwise
/// Source: JCGM 100:2008, 7.2.6; for ties: common practice, no source.
[[nodiscard]] PLUMBLINE_EXPORT rounded round_result(double value, double U, const std::string& unit,
                                                    rounding how = rounding::nearest);

/// The same from coherent units to a prefix that suits the larger of value and U: "V" to 0.1 V, "mV" to 0.1 mV, then "µV"; "%" to 0.1 %, then
/// "ppm"; likewise V/code, Ω, Hz, A, s and 1/K. Other units stay as they are. The decimal point is moved, nothing is rounded twice.
/// @param unit  as plumbline::unit_symbol has it
[[nodiscard]] PLUMBLINE_EXPORT rounded round_with_prefix(double value, double U, const std::string& unit,
                                                         rounding how = rounding::nearest);

template <class Quantity>
[[nodiscard]] rounded round_with_prefix(Quantity value, Quantity U, rounding how = rounding::nearest) {
    return round_with_prefix(value.value(), U.value(), unit_symbol<Quantity>, how);
}

/// A figure without an uncertainty of its own, to so many significant digits, with prefix and unit: "1.22 mV/code".
/// @param digits  1 to 17
/// @throws bad_input  the value is not finite
[[nodiscard]] PLUMBLINE_EXPORT std::string significant(double value, int digits, const std::string& unit,
                                                       rounding how = rounding::nearest);

/// A figure with so many decimals and no unit: "95.45", "0.000".
/// @param decimals  0 or more
/// @throws bad_input  the value is not finite
[[nodiscard]] PLUMBLINE_EXPORT std::string fixed(double value, int decimals);

/// A stated figure without padding, with prefix and unit: "4.096 V", "100 kΩ", "25 ppm/K".
/// @param at_most  significant digits, 1 to 15: more were never stated, only computed
/// @throws bad_input  the value is not finite
[[nodiscard]] PLUMBLINE_EXPORT std::string as_stated(double value, const std::string& unit, int at_most = 15);

template <class Quantity>
[[nodiscard]] std::string as_stated(Quantity value, int at_most = 15) {
    return as_stated(value.value(), unit_symbol<Quantity>, at_most);
}

/// A figure to so many significant digits as a power of ten: "1.25 × 10^-5".
/// @throws bad_input  the value is not finite
[[nodiscard]] PLUMBLINE_EXPORT std::string power_of_ten(double value, int digits, rounding how = rounding::nearest);

}  // namespace plumbline::inline v0::certificate
