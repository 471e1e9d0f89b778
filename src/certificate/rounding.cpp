#include <plumbline/certificate/rounding.hpp>

#include "../units/decimal.hpp"

#include <algorithm>
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
    if (unit == "F") return {{{"µF", -6, -6}, {"nF", -9, -9}, {"pF", -12, 0}}, {"pF", -12, 0}};
    if (unit == "A" || unit == "A/K")
        return {{{unit, 0, -1}, {"m" + unit, -3, -4}, {"µ" + unit, -6, -7}, {"n" + unit, -9, -10}, {"p" + unit, -12, 0}},
                {unit, 0, 0}};
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
    const decimal rounded_U = round_significant(shortest(U), 2, how == rounding::up);
    return {round_at(shortest(value), rounded_U.exponent), rounded_U};
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
    const decimal d = round_significant(shortest(value), digits, how == rounding::up);
    const prefixed_unit in = prefix_for(unit, d);
    return with_unit(text_of(d, in.scale), in.symbol);
}

std::string fixed(double value, int decimals) {
    expect_finite(value, "a figure");
    return text_of(round_at(shortest(value), -decimals), 0);
}

std::string as_stated(double value, const std::string& unit, int at_most) {
    expect_finite(value, "a figure");
    const decimal d = without_zeros(round_significant(shortest(value), at_most));
    const prefixed_unit in = prefix_for(unit, d);
    return with_unit(text_of(d, d.is_zero() ? 0 : in.scale), in.symbol);
}

std::string power_of_ten(double value, int digits, rounding how) {
    expect_finite(value, "a figure");
    const decimal d = round_significant(shortest(value), digits, how == rounding::up);
    if (d.is_zero()) return "0";
    return text_of(d, d.leading()) + " × 10^" + std::to_string(d.leading());
}

}  // namespace plumbline::inline v0::certificate
