#include <plumbline/units/taylor.hpp>

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <type_traits>
#include <utility>

namespace taylor_test {

using namespace plumbline;

namespace {

template <class Quantity>
using taylor_of = taylor<typename Quantity::unit_type>;

static_assert(!std::is_convertible_v<taylor_of<ratio>, double>, "the derivatives would be lost in silence");
static_assert(!std::is_constructible_v<taylor_of<voltage>, double>);
static_assert(!std::is_constructible_v<taylor_of<voltage>, codes>);
static_assert(std::is_same_v<decltype(taylor_of<volts_per_code>() * taylor_of<codes>()), taylor_of<voltage>>);
static_assert(std::is_same_v<decltype(voltage() / taylor_of<resistance>()), taylor_of<current>>);
static_assert(std::is_same_v<decltype(sqrt(taylor_of<voltage>() * taylor_of<voltage>())), taylor_of<voltage>>);

double number(double x) { return x; }
template <class Unit>
double number(const boost::units::quantity<Unit>& x) {
    return x.value();
}
template <class Unit>
double number(const taylor<Unit>& x) {
    return x.value().value();
}

/// One callable of two quantities: the value has the bits of the plain evaluation, the first derivatives those of dual quantities, and each
/// higher one is the central difference of the one below it.
template <class Model, class X, class Y>
void check_derivatives(const char* what, const Model& model, X x, Y y) {
    CAPTURE(what);
    const auto at = [&](double dx, double dy) {
        return model(taylor_of<X>::variable(X::from_value(x.value() + dx), false),
                     taylor_of<Y>::variable(Y::from_value(y.value() + dy), true));
    };
    const auto t = at(0.0, 0.0);
    CHECK(number(t) == number(model(x, y)));
    const auto d = model(dual<typename X::unit_type, 2>::variable(x, 0), dual<typename Y::unit_type, 2>::variable(y, 1));
    CHECK(std::abs(t.derivative(1, 0) - d.derivative(0)) <= 1e-14 * std::abs(d.derivative(0)));
    CHECK(std::abs(t.derivative(0, 1) - d.derivative(1)) <= 1e-14 * std::abs(d.derivative(1)));
    for (std::size_t a = 0; a <= 3; ++a) {
        for (std::size_t b = 0; a + b <= 3; ++b) {
            CAPTURE(a);
            CAPTURE(b);
            const auto close = [&](double found, double difference) {
                CHECK(std::abs(found - difference) <= 1e-7 * (1.0 + std::abs(difference)));
            };
            constexpr double h = 1e-5;
            if (a > 0) close(t.derivative(a, b), (at(h, 0).derivative(a - 1, b) - at(-h, 0).derivative(a - 1, b)) / (2.0 * h));
            if (b > 0) close(t.derivative(a, b), (at(0, h).derivative(a, b - 1) - at(0, -h).derivative(a, b - 1)) / (2.0 * h));
        }
    }
}

}  // namespace

TEST_CASE("every operator's derivatives up to the third are those of the one below, and its value that of the plain evaluation") {
    const voltage v = 1.7 * volt;
    const voltage w = -0.8 * volt;
    const ratio a = 0.37;
    const ratio b = 0.61;
    check_derivatives(
        "+ and -", [](auto x, auto y) { return -(x + y) * x - (y - x) * y + +x * x; }, v, w);
    check_derivatives(
        "* and /", [](auto x, auto y) { return x * y + x * x * (x / y) + x * x * y / (x + 3.0 * volt); }, v, w);
    check_derivatives(
        "constant quantities",
        [](auto x, auto y) { return (0.5 * volt + x) * (y - 3.0 * volt) / (volt - x) + (9.0 * volt * volt) / y; }, v, w);
    check_derivatives(
        "numbers of the language", [](auto x, auto y) { return 2.0 * x + y * 3 - x * y / (4 * volt); }, v, w);
    check_derivatives(
        "ratios", [](auto x, auto y) { return (1.0 + x) * (y - 2) / (3.0 - x * y) + one / y + 1 / x; }, a, b);
    check_derivatives(
        "compound assignment",
        [](auto x, auto y) {
            x += y;
            x -= 2.0 * x * y;
            x *= y;
            x /= 1.0 + y;
            return x;
        },
        a, b);
    check_derivatives(
        "branch on the value", [](auto x, auto y) { return x > 1.0 * volt && y != x && !(0.0 * volt < y) ? x * y : y * y; }, v,
        w);
}

TEST_CASE("every function's derivatives up to the third are those of the one below") {
    const voltage v = 1.7 * volt;
    const voltage w = -0.8 * volt;
    const ratio a = 0.37;
    const ratio b = 0.61;
    check_derivatives(
        "sqrt", [](auto x, auto y) { return sqrt(x * x + y * y); }, v, w);
    check_derivatives(
        "abs", [](auto x, auto y) { return abs(x * y) + abs(x) * x; }, v, w);
    check_derivatives(
        "whole powers", [](auto x, auto y) { return pow<3>(x) / (1.0 * volt) * pow<-1>(y) * x + pow<2>(y) + pow<1>(x) * y; }, v,
        w);
    check_derivatives(
        "real powers", [](auto x, auto y) { return plumbline::pow(x, 2.5) * plumbline::pow(1.0 + y, -0.5); }, a, b);
    check_derivatives(
        "exp and log", [](auto x, auto y) { return exp(x * y) + log(x + y * y); }, a, b);
    check_derivatives(
        "sin and cos", [](auto x, auto y) { return sin(x * y) + x * cos(x + y); }, a, b);
    check_derivatives(
        "tan and atan", [](auto x, auto y) { return tan(x * y) + atan(x + y * y); }, a, b);
}

TEST_CASE("the third derivatives of a polynomial are exact") {
    const auto x = taylor_of<ratio>::variable(2.0, false);
    const auto y = taylor_of<ratio>::variable(5.0, true);
    const auto f = 3.0 * x * y * y + x * x * x - 7.0 * x * x * y;
    CHECK(f.derivative(1, 0) == 75.0 + 12.0 - 140.0);
    CHECK(f.derivative(0, 1) == 60.0 - 28.0);
    CHECK(f.derivative(2, 0) == 12.0 - 70.0);
    CHECK(f.derivative(1, 1) == 30.0 - 28.0);
    CHECK(f.derivative(0, 2) == 12.0);
    CHECK(f.derivative(3, 0) == 6.0);
    CHECK(f.derivative(2, 1) == -14.0);
    CHECK(f.derivative(1, 2) == 6.0);
    CHECK(f.derivative(0, 3) == 0.0);
}

TEST_CASE("a whole power of zero has finite derivatives, and a constant none even where a slope is infinite") {
    const auto zero = taylor_of<ratio>::variable(0.0, false);
    CHECK(pow<2>(zero).derivative(1, 0) == 0.0);
    CHECK(pow<2>(zero).derivative(2, 0) == 2.0);
    CHECK(pow<2>(zero).derivative(3, 0) == 0.0);
    CHECK(pow<1>(zero).derivative(1, 0) == 1.0);
    CHECK(sqrt(taylor_of<ratio>(0.0)).derivative(1, 0) == 0.0);
    CHECK_FALSE(std::isfinite(sqrt(zero).derivative(1, 0)));
}

TEST_CASE("Taylor arithmetic is usable in constant expressions") {
    constexpr auto x = taylor_of<voltage>::variable(2.0 * volt, false);
    constexpr auto product = x * x * x / (1.0 * volt * volt);
    static_assert(product.value() == 8.0 * volt);
    static_assert(product.derivative(3, 0) == 6.0);
    CHECK(product == 8.0 * volt);
}

}  // namespace taylor_test
