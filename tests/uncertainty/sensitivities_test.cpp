#include "../message.hpp"

#include <plumbline/uncertainty/sensitivities.hpp>

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <plumbline/uncertainty/budget.hpp>
#include <string>
#include <vector>

namespace sensitivities_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using refused::message;

namespace {

constexpr auto divider = [](const auto& v, const auto& top, const auto& bottom) { return v * (bottom / (top + bottom)); };

/// Root of the mean square: every sensitivity is another.
constexpr auto rms = [](const auto& x) {
    auto sum = x[0] * x[0];
    for (std::size_t i = 1; i < x.size(); ++i) sum += x[i] * x[i];
    return sqrt(sum / static_cast<double>(x.size()));
};

std::vector<voltage> some(std::size_t n) {
    std::vector<voltage> all;
    for (std::size_t i = 0; i < n; ++i) all.push_back((1.0 + 0.25 * static_cast<double>(i)) * volt);
    return all;
}

}  // namespace

TEST_CASE("a model's sensitivities as bare figures are those that its budget has") {
    const auto l = linearise(divider, 12.0 * volt, 910e3 * ohm, 91e3 * ohm);
    CHECK(l.value == divider(12.0 * volt, 910e3 * ohm, 91e3 * ohm));
    input_set set;
    const auto y = first_order(divider, from_input<voltage>(set.add({"a", "", "", "V", 12.0, normal{0.1, 20.0}})),
                               from_input<resistance>(set.add({"b", "", "", "ohm", 910e3, normal{5e3, 9.0}})),
                               from_input<resistance>(set.add({"c", "", "", "ohm", 91e3, normal{900.0}})));
    for (std::size_t i = 0; i < 3; ++i) CHECK(l.sensitivities[i] == y.dependences[i].sensitivity);
    const std::array u{0.1, 5e3, 900.0};
    const std::array nu{20.0, 9.0, infinite};
    const combined_uncertainty c = combine(l.sensitivities, u, nu);
    const budget b = make_budget(y);
    CHECK(std::abs(c.u - b.u) <= 1e-15 * b.u);
    CHECK(std::abs(c.degrees_of_freedom - b.degrees_of_freedom) <= 1e-12 * b.degrees_of_freedom);
    CHECK(combine(l.sensitivities, u).degrees_of_freedom == infinite);
}

TEST_CASE("sensitivities to any number of quantities are exact, whole chunks or not") {
    for (const std::size_t n :
         {std::size_t{1}, std::size_t{7}, std::size_t{8}, std::size_t{9}, std::size_t{16}, std::size_t{101}}) {
        CAPTURE(n);
        const std::vector<voltage> x = some(n);
        std::vector<double> c(n, std::nan(""));
        const voltage y = linearise(rms, std::span(x), std::span(c));
        CHECK(y == rms(std::span(x)));
        double worst = 0.0;
        for (std::size_t i = 0; i < n; ++i) {
            const double exact = x[i].value() / (static_cast<double>(n) * y.value());
            worst = std::max(worst, std::abs(c[i] / exact - 1.0));
        }
        CHECK(worst <= 1e-14);
    }
}

TEST_CASE("a model may walk through its quantities from begin to end") {
    const auto sum = [](const auto& x) {
        auto all = *x.begin();
        all = 0.0 * all;
        for (const auto& one : x) all += one;
        return all;
    };
    const std::vector<voltage> x = some(20);
    std::vector<double> c(20);
    CHECK(linearise(sum, std::span(x), std::span(c)) == sum(std::span(x)));
    for (const double one : c) CHECK(one == 1.0);
}

TEST_CASE("a span for the sensitivities that is too short or too long is refused and left alone") {
    const std::vector<voltage> x = some(5);
    std::vector<double> c(4, -1.0);
    CHECK(message([&] { (void)linearise(rms, std::span(x), std::span(c)); }) ==
          "sensitivities of 5 quantities: room for 4, expected room for each; give a span of the same length");
    CHECK(c == std::vector<double>(4, -1.0));
    const std::array two{1.0, 2.0};
    CHECK(message([&] { (void)combine(c, two); }) ==
          "combined uncertainty: 4 sensitivities, 2 uncertainties and 0 degrees of freedom, expected as many of each, or no "
          "degrees of "
          "freedom; give one of each for each input");
    CHECK(message([&] {
              (void)combine(two, two, c);
          }).starts_with("combined uncertainty: 2 sensitivities, 2 uncertainties and 4 "));
}

TEST_CASE("exact inputs combine to nothing, without NaN") {
    const std::array c{3.0, 0.0};
    const combined_uncertainty none = combine(c, std::array{0.0, 5.0}, std::array{4.0, 4.0});
    CHECK(none.u == 0.0);
    CHECK(none.degrees_of_freedom == infinite);
}

TEST_CASE("a linearisation is a constant expression") {
    constexpr auto l = linearise([](const auto& a, const auto& b) { return a * b; }, 3.0 * volt, ratio(2.0));
    static_assert(l.value == 6.0 * volt);
    static_assert(l.sensitivities[0] == 2.0);
    CHECK(l.sensitivities[1] == 3.0);
}

}  // namespace sensitivities_test
