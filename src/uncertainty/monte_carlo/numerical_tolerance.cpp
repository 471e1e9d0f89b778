#include <plumbline/uncertainty/numerical_tolerance.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

long power_of_ten(int n) { return n == 0 ? 1 : 10 * power_of_ten(n - 1); }

}  // namespace

numerical_tolerance tolerance_of(double u, int significant_digits) {
    if (!std::isfinite(u) || u < 0.0 || significant_digits < 1 || significant_digits > 6) {
        throw bad_input("numerical tolerance", fmt::format("u = {} to {} digits", u, significant_digits),
                        "a finite u of 0 or more, and 1 to 6 digits", "correct the figures");
    }
    numerical_tolerance t;
    if (u == 0.0) return t;
    // The fewest decimal digits that are u, as d.ddde-xx, rounded half up: 0.00035 is 4e-4 to one digit though its double is below.
    std::array<char, 40> text{};
    const auto end = std::to_chars(text.data(), text.data() + text.size(), u, std::chars_format::scientific).ptr;
    const char* e = std::find(text.data(), end, 'e');
    std::from_chars(e[1] == '+' ? e + 2 : e + 1, end, t.exponent);
    int taken = 0;
    for (const char* c = text.data(); c != e && taken <= significant_digits; ++c) {
        if (*c == '.') continue;
        if (taken++ < significant_digits) {
            t.c = 10 * t.c + (*c - '0');
        } else if (*c >= '5') {
            ++t.c;
        }
    }
    for (; taken < significant_digits; ++taken) t.c *= 10;
    t.exponent -= significant_digits - 1;
    if (t.c == power_of_ten(significant_digits)) {
        t.c /= 10;
        ++t.exponent;
    }
    const std::string half = fmt::format("5e{}", t.exponent - 1);
    std::from_chars(half.data(), half.data() + half.size(), t.delta);
    return t;
}

validation validate(const budget& first_order, const monte_carlo_result& by_trials, std::size_t output, int significant_digits,
                    bool shortest_interval) {
    const sampled_output& y = by_trials.outputs.at(output);
    if (first_order.unit != y.unit || first_order.covered.probability != by_trials.probability) {
        throw bad_input("validation of first order",
                        fmt::format("a budget in {} at {} and trials in {} at {}", first_order.unit,
                                    first_order.covered.probability, y.unit, by_trials.probability),
                        "the same unit and coverage probability", "compare the same result, at the same probability");
    }
    const coverage_interval& interval = shortest_interval ? y.shortest : y.symmetric;
    validation v;
    v.d_low = std::abs(first_order.value - first_order.U - interval.low);
    v.d_high = std::abs(first_order.value + first_order.U - interval.high);
    v.delta = tolerance_of(first_order.u, significant_digits).delta;
    v.validated = v.d_low <= v.delta && v.d_high <= v.delta;
    return v;
}

}  // namespace plumbline::inline v0::uncertainty
