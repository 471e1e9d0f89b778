#include <plumbline/certificate/rounding.hpp>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <plumbline/error.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace plumbline::inline v0::certificate {
namespace {

void expect_finite(double x, const char* what) {
    if (!std::isfinite(x)) {
        throw bad_input(std::string("certificate, ") + what, std::isnan(x) ? "not a number" : "infinite", "a finite figure",
                        "look at where it was computed from");
    }
}

/// A decimal number: digits times a power of ten. Zero has the one digit 0.
struct decimal {
    bool negative = false;
    std::string digits;  ///< no leading zeros
    int exponent = 0;    ///< of the last digit

    [[nodiscard]] bool is_zero() const { return digits == "0"; }
    [[nodiscard]] int leading() const { return exponent + static_cast<int>(digits.size()) - 1; }
};

/// The shortest decimal that reads back as x.
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

/// Rounded to a whole number of 10^place.
decimal round_at(decimal d, int place, rounding how) {
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
    const bool increment = how == rounding::up ? rest.find_first_not_of('0') != std::string::npos : rest.front() >= '5';
    if (increment) {
        auto digit = kept.rbegin();
        for (; *digit == '9'; ++digit) *digit = '0';
        ++*digit;
    }
    const std::size_t first = std::min(kept.find_first_not_of('0'), kept.size() - 1);
    kept.erase(0, first);
    return {d.negative && kept != "0", kept, place};
}

/// To so many significant digits, also where rounding carries into a new one.
decimal round_significant(const decimal& d, int digits, rounding how) {
    if (d.is_zero()) return d;
    decimal out = round_at(d, d.leading() - digits + 1, how);
    if (static_cast<int>(out.digits.size()) > digits) {
        out.digits.pop_back();
        ++out.exponent;
    }
    return out;
}

/// In units of 10^scale.
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

struct prefixed_unit {
    std::string symbol;
    int scale;  ///< power of ten in coherent units
    int least;  ///< used from this leading power of ten on
};

/// The prefixes of a coherent unit, the largest first; the last is used for everything below. A zero takes the one for zero.
struct ladder {
    std::vector<prefixed_unit> rungs;
    prefixed_unit for_zero;
};

ladder ladder_of(const std::string& unit) {
    if (unit == "1") return {{{"%", -2, -3}, {"ppm", -6, 0}}, {"%", -2, 0}};
    if (unit == "1/K") return {{{"%/K", -2, -3}, {"ppm/K", -6, 0}}, {"ppm/K", -6, 0}};
    if (unit == "ohm") return {{{"MΩ", 6, 6}, {"kΩ", 3, 3}, {"Ω", 0, 0}}, {"Ω", 0, 0}};
    if (unit == "Hz") return {{{"MHz", 6, 6}, {"kHz", 3, 3}, {"Hz", 0, 0}}, {"Hz", 0, 0}};
    const bool scales_down = unit == "V" || unit == "A" || unit == "s" || unit.starts_with("V/");
    if (scales_down) return {{{unit, 0, -1}, {"m" + unit, -3, -4}, {"µ" + unit, -6, 0}}, {unit, 0, 0}};
    return {{{unit, 0, 0}}, {unit, 0, 0}};
}

prefixed_unit prefix_for(const std::string& unit, const decimal& largest) {
    const ladder all = ladder_of(unit);
    if (largest.is_zero()) return all.for_zero;
    for (const prefixed_unit& rung : all.rungs) {
        if (largest.leading() >= rung.least) return rung;
    }
    return all.rungs.back();
}

std::string with_unit(const std::string& figure, const std::string& unit) { return unit.empty() ? figure : figure + ' ' + unit; }

struct pair {
    decimal value;
    decimal U;
};

pair round_both(double value, double U, rounding how) {
    expect_finite(value, "a result");
    expect_finite(U, "an uncertainty");
    if (!(U > 0.0)) {
        throw bad_input("certificate, an uncertainty", U == 0.0 ? "zero" : "a negative figure", "a figure above 0",
                        "find out what the result does depend on");
    }
    const decimal rounded_U = round_significant(shortest(U), 2, how);
    return {round_at(shortest(value), rounded_U.exponent, rounding::nearest), rounded_U};
}

}  // namespace

std::string rounded::plus_minus() const { return with_unit('(' + value + " ± " + U + ')', unit); }

std::string rounded::value_with_unit() const { return with_unit(value, unit); }

std::string rounded::U_with_unit() const { return with_unit(U, unit); }

std::string rounded::short_form() const {
    std::string last = U;
    std::erase(last, '.');
    last.erase(0, last.find_first_not_of('0'));
    return with_unit(value + '(' + last + ')', unit);
}

rounded round_result(double value, double U, const std::string& unit, rounding how) {
    const pair both = round_both(value, U, how);
    return {text_of(both.value, 0), text_of(both.U, 0), unit};
}

rounded round_with_prefix(double value, double U, const std::string& unit, rounding how) {
    const pair both = round_both(value, U, how);
    const bool value_is_larger = !both.value.is_zero() && both.value.leading() > both.U.leading();
    const prefixed_unit in = prefix_for(unit, value_is_larger ? both.value : both.U);
    return {text_of(both.value, in.scale), text_of(both.U, in.scale), in.symbol};
}

std::string significant(double value, int digits, const std::string& unit, rounding how) {
    expect_finite(value, "a figure");
    const decimal d = round_significant(shortest(value), digits, how);
    const prefixed_unit in = prefix_for(unit, d);
    return with_unit(text_of(d, in.scale), in.symbol);
}

std::string fixed(double value, int decimals) {
    expect_finite(value, "a figure");
    return text_of(round_at(shortest(value), -decimals, rounding::nearest), 0);
}

std::string as_stated(double value, const std::string& unit, int at_most) {
    expect_finite(value, "a figure");
    decimal d = round_significant(shortest(value), at_most, rounding::nearest);
    for (; !d.is_zero() && d.digits.back() == '0'; ++d.exponent) d.digits.pop_back();
    const prefixed_unit in = prefix_for(unit, d);
    return with_unit(text_of(d, d.is_zero() ? 0 : in.scale), in.symbol);
}

std::string power_of_ten(double value, int digits, rounding how) {
    expect_finite(value, "a figure");
    const decimal d = round_significant(shortest(value), digits, how);
    if (d.is_zero()) return "0";
    return text_of(d, d.leading()) + " × 10^" + std::to_string(d.leading());
}

}  // namespace plumbline::inline v0::certificate
