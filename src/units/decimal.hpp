#pragma once
// Decimal figures: what is rounded for a reader is the text that a record holds.

#include <string>

namespace plumbline::inline v0 {

/// A decimal number: digits times a power of ten. Zero has the one digit 0.
struct decimal {
    bool negative = false;
    std::string digits;  ///< no leading zeros
    int exponent = 0;    ///< of the last digit

    [[nodiscard]] bool is_zero() const { return digits == "0"; }
    [[nodiscard]] int leading() const { return exponent + static_cast<int>(digits.size()) - 1; }
};

/// The shortest decimal that reads back as x. @pre finite
[[nodiscard]] decimal shortest(double x);

/// Rounded to a whole number of 10^place: to nearest, ties away from zero, or up in size.
[[nodiscard]] decimal round_at(decimal d, int place, bool up = false);

/// To so many significant digits, also where rounding carries into a new one.
[[nodiscard]] decimal round_significant(const decimal& d, int digits, bool up = false);

/// The same number without zeros at its end.
[[nodiscard]] decimal without_zeros(decimal d);

/// In units of 10^scale.
[[nodiscard]] std::string text_of(const decimal& d, int scale);

}  // namespace plumbline::inline v0
