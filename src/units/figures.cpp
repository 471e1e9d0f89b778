#include "figures.hpp"

#include "decimal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace plumbline::inline v0 {

std::string shown(double value, std::string_view unit, int digits) {
    const std::string symbol = unit == "ohm" ? "Ω" : unit == "1" ? "" : std::string(unit);
    if (!std::isfinite(value)) return fmt::format("{} {}", value, symbol);
    const decimal exact = shortest(value);
    const decimal d = round_significant(exact, digits);
    constexpr std::array<const char*, 7> prefixes{"p", "n", "µ", "m", "", "k", "M"};
    const int thousands = d.is_zero() || symbol.empty() ? 0 : static_cast<int>(std::floor(d.leading() / 3.0));
    const int step = std::clamp(thousands, -4, 2);
    // What stands before the point is printed as it is.
    const int place = std::min(d.leading() - digits + 1, 3 * step);
    const std::string text = text_of(without_zeros(round_at(exact, place)), 3 * step);
    const int from_pico = step + 4;
    return symbol.empty() ? text : text + " " + prefixes[static_cast<std::size_t>(from_pico)] + symbol;
}

std::string per_cent(double part) {
    const double p = 100.0 * part;
    if (p != 0.0 && std::abs(p) < 0.01) return p > 0.0 ? "below 0.01 %" : "0 %";
    const double from_end = std::min(std::abs(p), std::abs(100.0 - p));
    const int decimals = from_end >= 1.0 || from_end == 0.0 ? 0 : from_end >= 0.1 ? 1 : 2;
    return fmt::format("{:.{}f} %", p, decimals);
}

}  // namespace plumbline::inline v0
