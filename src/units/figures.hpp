#pragma once
// Figures as reports and advice print them.

#include <string>
#include <string_view>

namespace plumbline::inline v0 {

/// To so many significant digits, with a prefix that suits: "4.17 mV", "1.6 kHz", "35 %" for the unit "1".
[[nodiscard]] std::string shown(double value, std::string_view unit, int digits = 3);

/// "35 %", whole from 1 % on, no finer than needed below: "0.4 %", "below 0.01 %".
[[nodiscard]] std::string per_cent(double part);

template <class Quantity>
[[nodiscard]] std::string shown(Quantity value, std::string_view unit, int digits = 3) {
    return shown(value.value(), unit, digits);
}

}  // namespace plumbline::inline v0
