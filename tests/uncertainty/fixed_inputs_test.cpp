// First order for inputs known at compile time, on the reference problem: its answers, finite differences, and the general evaluation.

#include "../benchmark/reference_problem.hpp"

#include <doctest/doctest.h>
#include <array>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/fixed_inputs.hpp>
#include <utility>

namespace fixed_inputs_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using benchmarks::reading_model;
using benchmarks::reading_problem;

namespace {

constexpr std::size_t count = 13;

std::array<double, count> estimates(const reading_problem& p) {
    return {p.c0, 0.0, p.c1, 0.0, p.c, 0.0, p.reference, 0.0, 0.0, 0.0, 0.0, p.source, p.input};
}

double value_at(const std::array<double, count>& x) {
    return reading_model{}(codes::from_value(x[0]), codes::from_value(x[1]), codes::from_value(x[2]), codes::from_value(x[3]),
                           codes::from_value(x[4]), codes::from_value(x[5]), voltage::from_value(x[6]), ratio::from_value(x[7]),
                           per_kelvin::from_value(x[8]), kelvins::from_value(x[9]), ratio::from_value(x[10]),
                           resistance::from_value(x[11]), resistance::from_value(x[12]))
        .value();
}

/// Central differences over two steps, error of the fourth order: the step is a thousandth of the estimate, or of 1.
double slope_of(std::array<double, count> x, std::size_t i) {
    const double middle = x[i];
    const double h = 1e-3 * (middle == 0.0 ? 1.0 : std::abs(middle));
    const auto at = [&](double steps) {
        x[i] = middle + steps * h;
        return value_at(x);
    };
    return (8.0 * (at(1.0) - at(-1.0)) - (at(2.0) - at(-2.0))) / (12.0 * h);
}

}  // namespace

TEST_CASE("the reference problem has its value, u, degrees of freedom and k") {
    // computed independently, see the problem's description in tests/benchmark/reference_problem.hpp
    const auto y = benchmarks::first_order_of(benchmarks::inputs_of(benchmarks::first_numbers));
    CHECK(std::abs(y.value.value() - 3.4099139) <= 0.5e-7);
    CHECK(std::abs(y.u.value() - 1.906216e-3) <= 0.5e-9);
    CHECK(std::abs(y.degrees_of_freedom - 820.4) <= 0.06);
    CHECK(std::abs(y.k(0.95) - 1.9629) <= 0.5e-4);
    CHECK(std::abs(y.k(0.95) - boost::math::quantile(boost::math::students_t(y.degrees_of_freedom), 0.975)) <= 1e-12);
}

TEST_CASE("every sensitivity of the reference problem, in both its numbers, is that of finite differences") {
    for (const reading_problem& p : {benchmarks::first_numbers, benchmarks::other_numbers}) {
        const auto y = benchmarks::first_order_of(benchmarks::inputs_of(p));
        for (std::size_t i = 0; i < count; ++i) {
            CAPTURE(i);
            const double expected = slope_of(estimates(p), i);
            CHECK(std::abs(y.sensitivities[i] - expected) <= 1e-9 * std::abs(expected) + 1e-12 * y.value.value());
        }
    }
}

TEST_CASE("inputs known at compile time have the u and the degrees of freedom that a budget of them has") {
    const figures<voltage> v{voltage::from_value(5.0), voltage::from_value(0.02), 7.0};
    const figures<resistance> top{resistance::from_value(9e3), resistance::from_value(30.0), 12.0};
    const figures<resistance> bottom{resistance::from_value(1e3), resistance::from_value(4.0)};
    const auto divider = [](const auto& applied, const auto& r_top, const auto& r_bottom) {
        return applied * (r_bottom / (r_top + r_bottom));
    };
    const auto y = first_order(divider, v, top, bottom);

    const auto as_input = [](const char* id, const auto& f) {
        using quantity = typename std::remove_cvref_t<decltype(f)>::quantity_type;
        input in{id, id, "invented", unit_symbol<quantity>, f.estimate.value(), repeated{f.u.value(), f.degrees_of_freedom}};
        return from_input<quantity>(shared_input(std::move(in)));
    };
    const budget b = make_budget(first_order(divider, as_input("v", v), as_input("top", top), as_input("bottom", bottom)), 0.95);
    CHECK(std::abs(y.value.value() - b.value) <= 1e-15 * b.value);
    CHECK(std::abs(y.u.value() - b.u) <= 1e-14 * b.u);
    CHECK(std::abs(y.degrees_of_freedom - b.degrees_of_freedom) <= 1e-12 * b.degrees_of_freedom);
    CHECK(std::abs(y.k(0.95) - b.covered.k) <= 1e-12);
}

TEST_CASE("inputs that are exact have a u of 0, no NaN and the k of a normal distribution") {
    const figures<voltage> exact{voltage::from_value(5.0), voltage::from_value(0.0), 3.0};
    const auto y = first_order([](const auto& a, const auto& b) { return a - b; }, exact, exact);
    CHECK(y.value.value() == 0.0);
    CHECK(y.u.value() == 0.0);
    CHECK(y.degrees_of_freedom == infinite);
    CHECK(std::abs(y.k() - 2.0) <= 1e-12);
}

TEST_CASE("a u that is not a number shows in the u of the result") {
    const figures<voltage> bad{voltage::from_value(5.0), voltage::from_value(std::numeric_limits<double>::quiet_NaN()), 3.0};
    const auto y = first_order([](const auto& a) { return 2.0 * a; }, bad);
    CHECK(y.value.value() == 10.0);
    CHECK(std::isnan(y.u.value()));
}

}  // namespace fixed_inputs_test
