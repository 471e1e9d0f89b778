#include "figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace plumbline::inline v0 {

namespace {

std::string with_digits(double value, int digits) {
    if (value == 0.0) return "0";
    const std::string rounded =
        fmt::format("{:.{}e}", value, digits - 1);  // carries first: 9.996 has its last place where 10.0 has
    const int leading = std::stoi(rounded.substr(rounded.find('e') + 1));
    std::string text = fmt::format("{:.{}f}", value, std::max(0, digits - 1 - leading));
    if (text.find('.') == std::string::npos) return text;
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text;
}

}  // namespace

std::string shown(double value, std::string_view unit, int digits) {
    if (unit == "1") return with_digits(value, digits);
    constexpr std::array<const char*, 7> prefixes{"p", "n", "µ", "m", "", "k", "M"};
    const double size = std::abs(value);
    int step = size > 0.0 ? static_cast<int>(std::floor(std::log10(size * (1.0 + 0.5 * std::pow(10.0, -digits))) / 3.0)) : 0;
    step = std::clamp(step, -4, 2);
    return with_digits(value / std::pow(1000.0, step), digits) + " " + prefixes[static_cast<std::size_t>(step + 4)] +
           (unit == "ohm" ? "Ω" : std::string(unit));
}

std::string per_cent(double part) {
    const double p = 100.0 * part;
    if (p != 0.0 && std::abs(p) < 0.01) return p > 0.0 ? "below 0.01 %" : "0 %";
    const double from_end = std::min(std::abs(p), std::abs(100.0 - p));
    const int decimals = from_end >= 1.0 || from_end == 0.0 ? 0 : from_end >= 0.1 ? 1 : 2;
    return fmt::format("{:.{}f} %", p, decimals);
}

}  // namespace plumbline::inline v0
