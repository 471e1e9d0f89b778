#include "decimal.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <string_view>

namespace plumbline::inline v0 {

decimal shortest(double x) {
    std::array<char, 32> text{};
    const auto end = std::to_chars(text.data(), text.data() + text.size(), std::abs(x), std::chars_format::scientific).ptr;
    const std::string_view all(text.data(), static_cast<std::size_t>(end - text.data()));
    const std::size_t e = all.find('e');
    decimal out;
    out.negative = x < 0.0;
    for (const char c : all.substr(0, e)) {
        if (c != '.') out.digits += c;
    }
    const std::size_t sign = all[e + 1] == '+' ? 1 : 0;
    int exponent = 0;
    std::from_chars(all.data() + e + 1 + sign, end, exponent);
    out.exponent = exponent - static_cast<int>(out.digits.size()) + 1;
    return out;
}

decimal round_at(decimal d, int place, bool up) {
    if (d.is_zero()) return {false, "0", place};
    const int dropped = place - d.exponent;
    if (dropped <= 0) {  // what is finer than it has only zeros
        d.digits.append(static_cast<std::size_t>(-dropped), '0');
        d.exponent = place;
        return d;
    }
    const std::string padded(static_cast<std::size_t>(std::max(0, dropped - static_cast<int>(d.digits.size()))), '0');
    const std::string all = padded + d.digits;
    std::string kept = "0" + all.substr(0, all.size() - static_cast<std::size_t>(dropped));
    const std::string rest = all.substr(all.size() - static_cast<std::size_t>(dropped));
    const bool increment = up ? rest.find_first_not_of('0') != std::string::npos : rest.front() >= '5';
    if (increment) {
        auto digit = kept.rbegin();
        for (; *digit == '9'; ++digit) *digit = '0';
        ++*digit;
    }
    const std::size_t first = std::min(kept.find_first_not_of('0'), kept.size() - 1);
    kept.erase(0, first);
    return {d.negative && kept != "0", kept, place};
}

decimal round_significant(const decimal& d, int digits, bool up) {
    if (d.is_zero()) return d;
    decimal out = round_at(d, d.leading() - digits + 1, up);
    if (static_cast<int>(out.digits.size()) > digits) {
        out.digits.pop_back();
        ++out.exponent;
    }
    return out;
}

std::string text_of(const decimal& d, int scale) {
    const int exponent = d.exponent - scale;
    std::string digits = d.digits;
    if (exponent > 0 && !d.is_zero()) digits.append(static_cast<std::size_t>(exponent), '0');
    if (exponent < 0) {
        const auto decimals = static_cast<std::size_t>(-exponent);
        if (digits.size() <= decimals) digits.insert(0, decimals + 1 - digits.size(), '0');
        digits.insert(digits.size() - decimals, 1, '.');
    }
    return (d.negative ? "-" : "") + digits;
}

decimal without_zeros(decimal d) {
    for (; !d.is_zero() && d.digits.back() == '0'; ++d.exponent) d.digits.pop_back();
    return d;
}

}  // namespace plumbline::inline v0
