#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <stdexcept>
#include <type_traits>
#include <utility>

#include <plumbline/units/dual.hpp>

namespace dual_test {

using namespace plumbline;

namespace {

template <class Quantity, std::size_t N>
using dual_of = dual<typename Quantity::unit_type, N>;

static_assert(!std::is_convertible_v<dual_of<codes, 1>, double>);
static_assert(!std::is_convertible_v<dual_of<ratio, 1>, double>, "the derivatives would be lost in silence");
static_assert(!std::is_constructible_v<dual_of<voltage, 1>, double>);
static_assert(!std::is_constructible_v<dual_of<voltage, 1>, codes>);
static_assert(std::is_same_v<decltype(dual_of<volts_per_code, 2>() * dual_of<codes, 2>()), dual_of<voltage, 2>>);
static_assert(std::is_same_v<decltype(voltage() / dual_of<resistance, 2>()), dual_of<current, 2>>);
static_assert(std::is_same_v<decltype(sqrt(dual_of<voltage, 2>() * dual_of<voltage, 2>())), dual_of<voltage, 2>>);

double number(double x) { return x; }
template <class Unit>
double number(const boost::units::quantity<Unit>& x) {
    return x.value();
}
template <class Unit, std::size_t N>
double number(const dual<Unit, N>& x) {
    return x.value().value();
}

/// One callable, both evaluations: the values must be the same bits, the derivatives those of central differences.
template <class Model, class... Quantities>
void check_both_evaluations(const char* what, const Model& model, const Quantities&... x) {
    constexpr std::size_t inputs = sizeof...(Quantities);
    [&]<std::size_t... I>(std::index_sequence<I...>) {
        CAPTURE(what);
        const auto first_order = model(dual_of<Quantities, inputs>::variable(x, I)...);
        CHECK(number(first_order) == number(model(x...)));

        const std::array<double, inputs> at{x.value()...};
        for (std::size_t i = 0; i < inputs; ++i) {
            CAPTURE(i);
            const auto shifted = [&](double step) {
                return number(model(Quantities::from_value(at[I] + (I == i ? step : 0.0))...));
            };
            // eps^(1/3) balances the error of the difference (h^2) against that of rounding (eps/h).
            const double h = std::cbrt(std::numeric_limits<double>::epsilon()) * std::max(1e-3, std::abs(at[i]));
            const double difference = (shifted(h) - shifted(-h)) / (2.0 * h);
            CHECK(std::abs(first_order.derivative(i) - difference) <= 1e-8 * std::max(1.0, std::abs(difference)));
        }
    }
    (std::index_sequence_for<Quantities...>());
}

constexpr auto two_point = [](const auto& c, const auto& m0, const auto& m1, const auto& v0, const auto& v1) {
    return v0 + (v1 - v0) / (m1 - m0) * (c - m0);
};

}  // namespace

TEST_CASE("the five sensitivities of the two-point line are the closed form") {
    // design: g = (V1-V0)/(m1-m0), r = (V-V0)/(V1-V0); dV/dc = g, dV/dm0 = -g(1-r), dV/dm1 = -g r, dV/dV0 = 1-r, dV/dV1 = r
    using c5 = dual_of<codes, 5>;
    using v5 = dual_of<voltage, 5>;
    for (const double c : {-100.0, 17.25, 2000.0, 3900.5}) {
        CAPTURE(c);
        const double m0 = 17.25, m1 = 3295.75, v0 = 0.0002, v1 = 4.0963;
        const auto v = two_point(c5::variable(c * code, 0), c5::variable(m0 * code, 1), c5::variable(m1 * code, 2),
                                 v5::variable(v0 * volt, 3), v5::variable(v1 * volt, 4));
        const double g = (v1 - v0) / (m1 - m0);
        const double r = (c - m0) / (m1 - m0);
        CHECK(v.value() == two_point(c * code, m0 * code, m1 * code, v0 * volt, v1 * volt));
        CHECK(std::abs(v.derivative(0) - g) <= 1e-12 * g);
        CHECK(std::abs(v.derivative(1) + g * (1.0 - r)) <= 1e-12 * g);
        CHECK(std::abs(v.derivative(2) + g * r) <= 1e-12 * g);
        CHECK(std::abs(v.derivative(3) - (1.0 - r)) <= 1e-12);
        CHECK(std::abs(v.derivative(4) - r) <= 1e-12);
    }
}

TEST_CASE("the divider ratio has the logarithmic derivatives -(1-k) and 1-k") {
    using r2 = dual_of<resistance, 2>;
    const auto top = r2::variable(910e3 * ohm, 0);
    const auto bottom = r2::variable(91e3 * ohm, 1);
    const auto k = bottom / (top + bottom);
    const double kv = number(k);
    CHECK(std::abs(kv - 91.0 / 1001.0) < 1e-16);
    CHECK(std::abs(k.derivative(0) * 910e3 / kv + (1.0 - kv)) < 1e-14);
    CHECK(std::abs(k.derivative(1) * 91e3 / kv - (1.0 - kv)) < 1e-14);
}

TEST_CASE("an input minus itself has no derivative left") {
    const auto x = dual_of<voltage, 3>::variable(0.1 * volt, 1);
    const auto zero = x - x;
    CHECK(zero.value() == 0.0 * volt);
    for (std::size_t i = 0; i < 3; ++i) CHECK(zero.derivative(i) == 0.0);
}

TEST_CASE("every mixture of numbers, constants and inputs is the same model in both evaluations") {
    const voltage v = 1.7 * volt;
    const voltage w = -0.3 * volt;
    const ratio a = 0.37;

    check_both_evaluations(
        "+ and -, two inputs", [](auto x, auto y) { return -(x + y) - (y - x) + +x; }, v, w);
    check_both_evaluations(
        "* and /, two inputs", [](auto x, auto y) { return x * y + x * x * (x / y); }, v, w);
    check_both_evaluations(
        "constant quantity + -", [](auto x) { return (0.5 * volt + x) - (x - 3.0 * volt) + (volt - x); }, v);
    check_both_evaluations(
        "constant quantity * /", [](auto x) { return (2.0 * ohm) * x / (4.0 * ohm) + (9.0 * volt * volt) / x; }, v);
    check_both_evaluations(
        "double * /", [](auto x) { return 2.0 * x + x * 3.0 + x / 4.0; }, v);
    check_both_evaluations(
        "int * /", [](auto x) { return 2 * x + x * 3 + x / 4; }, v);
    check_both_evaluations(
        "number / input", [](auto x) { return 2.0 / x + 3 / x; }, v);
    check_both_evaluations(
        "ratio and double", [](auto r) { return (1.0 + r) * (r - 2.0) / (3.0 - r) + (r + 0.5); }, a);
    check_both_evaluations(
        "ratio and int", [](auto r) { return (1 + r) * (r - 2) / (3 - r) + 2 / r + r / 2; }, a);
    check_both_evaluations(
        "ratio and constant ratio", [](auto r) { return (one + r) * (r - 3.0 * percent) / (one - r); }, a);
    check_both_evaluations(
        "ratio times quantity", [](auto r, auto x) { return r * x + x * (1.0 - r) + x / (1 + r); }, a, v);
    check_both_evaluations(
        "temperature effect", [](auto x, auto alpha, auto dt) { return x * (1.0 + alpha * dt); }, v, per_kelvin(25e-6 / kelvin),
        7.0 * kelvin);
    check_both_evaluations(
        "compound assignment",
        [](auto x, auto r) {
            x += 2.0 * volt;
            x -= r * x;
            x *= 3.0;
            x /= 1.0 + r;
            return x;
        },
        v, a);
    check_both_evaluations(
        "branch on the value", [](auto x) { return x > 1.0 * volt && 0.0 * volt < x && x != 2.0 * volt ? 2.0 * x : 5.0 * x; }, v);
    check_both_evaluations(
        "branch on a ratio", [](auto r) { return r < 1 && 0.1 <= r && !(r == 0) ? r * r : 3.0 * r; }, a);
}

TEST_CASE("every function is the same in both evaluations, and its derivative is right") {
    using std::atan, std::cos, std::exp, std::log, std::sin, std::sqrt, std::tan;  // for numbers such as 1.0 + ratio
    const voltage v = 1.7 * volt;
    const ratio a = 0.37;

    check_both_evaluations(
        "sqrt of V^2", [](auto x, auto y) { return sqrt(x * x + y * y); }, v, -0.3 * volt);
    check_both_evaluations(
        "sqrt of V", [](auto x) { return sqrt(x); }, v);
    check_both_evaluations(
        "sqrt of a number", [](auto r) { return sqrt(1.0 + r); }, a);
    check_both_evaluations(
        "abs above 0", [](auto x) { return abs(x); }, v);
    check_both_evaluations(
        "abs below 0", [](auto x) { return abs(x); }, -1.0 * v);
    check_both_evaluations(
        "pow<2> and pow<3>", [](auto x) { return pow<3>(x) / (1.0 * volt) + pow<2>(x); }, v);
    check_both_evaluations(
        "pow<-1>", [](auto x) { return pow<-1>(x); }, v);
    check_both_evaluations(
        "pow<2> of a number", [](auto r) { return plumbline::pow<2>(1.0 + r); }, a);
    check_both_evaluations(
        "pow with a real exponent", [](auto r) { return plumbline::pow(r, 1.5) + plumbline::pow(1.0 + r, -0.5); }, a);
    check_both_evaluations(
        "exp", [](auto r) { return exp(r) + exp(2.0 - r); }, a);
    check_both_evaluations(
        "log", [](auto r) { return log(r) + log(2.0 - r); }, a);
    check_both_evaluations(
        "sin", [](auto r) { return sin(r) + sin(2.0 - r); }, a);
    check_both_evaluations(
        "cos", [](auto r) { return cos(r) + cos(2.0 - r); }, a);
    check_both_evaluations(
        "tan", [](auto r) { return tan(r) + tan(1.0 - r); }, a);
    check_both_evaluations(
        "atan", [](auto r) { return atan(r) + atan(2.0 - r); }, a);
    check_both_evaluations(
        "one-pole roll-off", [](auto f, auto f3) { return 1.0 / plumbline::sqrt(1.0 + plumbline::pow<2>(f / f3)); }, 20e3 * hertz,
        50e3 * hertz);
}

TEST_CASE("functions have the derivatives of the textbook") {
    using r1 = dual_of<ratio, 1>;
    const double x = 0.37;
    const auto d = r1::variable(x, 0);
    CHECK(std::abs(exp(d).derivative(0) - std::exp(x)) < 1e-15);
    CHECK(std::abs(log(d).derivative(0) - 1.0 / x) < 1e-15);
    CHECK(std::abs(sin(d).derivative(0) - std::cos(x)) < 1e-15);
    CHECK(std::abs(cos(d).derivative(0) + std::sin(x)) < 1e-15);
    CHECK(std::abs(tan(d).derivative(0) - 1.0 / (std::cos(x) * std::cos(x))) < 1e-15);
    CHECK(std::abs(atan(d).derivative(0) - 1.0 / (1.0 + x * x)) < 1e-15);
    CHECK(std::abs(sqrt(d).derivative(0) - 0.5 / std::sqrt(x)) < 1e-15);
    CHECK(std::abs(pow<3>(d).derivative(0) - 3.0 * x * x) < 1e-15);
    CHECK(std::abs(pow(d, 2.5).derivative(0) - 2.5 * std::pow(x, 1.5)) < 1e-15);
    CHECK(abs(r1::variable(-0.0, 0)).derivative(0) == -1.0);
    CHECK(std::isinf(sqrt(r1::variable(0.0, 0)).derivative(0)));
}

TEST_CASE("comparisons of duals look at the value alone, and NaN is unordered") {
    const auto x = dual_of<voltage, 2>::variable(1.0 * volt, 0);
    const auto y = dual_of<voltage, 2>::variable(1.0 * volt, 1);
    CHECK(x == y);
    CHECK(x <= y);
    CHECK_FALSE(x < y);
    CHECK(x < 2.0 * volt);
    CHECK(2.0 * volt > x);
    CHECK(2.0 * volt != x);
    const auto nan = dual_of<voltage, 2>::constant(std::nan("") * volt);
    CHECK_FALSE(nan < x);
    CHECK_FALSE(nan >= x);
    CHECK(nan != nan);
}

TEST_CASE("constants carry no derivatives, and an index beyond the last input throws") {
    using v2 = dual_of<voltage, 2>;
    const v2 constant = v2::constant(3.0 * volt);
    CHECK(constant.value() == 3.0 * volt);
    CHECK(constant.derivative(0) == 0.0);
    CHECK(constant.derivative(1) == 0.0);
    const v2 converted = 3 * volt;
    CHECK(converted.partials() == constant.partials());
    const dual_of<ratio, 2> number_converted = 3;
    CHECK(number_converted == 3.0);
    CHECK_THROWS_AS(static_cast<void>(constant.derivative(2)), std::out_of_range);
    CHECK_THROWS_AS(static_cast<void>(v2::variable(1.0 * volt, 2)), std::out_of_range);
}

TEST_CASE("dual arithmetic is usable in constant expressions") {
    constexpr auto x = dual_of<voltage, 2>::variable(2.0 * volt, 0);
    constexpr auto y = dual_of<voltage, 2>::variable(5.0 * volt, 1);
    constexpr auto product = (x * y - 1 * volt * volt) / (2.0 * volt) + pow<2>(x) / (1.0 * volt);
    static_assert(product.value().value() == 8.5);
    static_assert(product.derivative(0) == 6.5);
    static_assert(product.derivative(1) == 1.0);
    CHECK(product > 8 * volt);
}

}  // namespace dual_test
