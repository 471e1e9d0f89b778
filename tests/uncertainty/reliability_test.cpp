// How well standard uncertainties are known, against JCGM 100:2008.

#include <plumbline/uncertainty/reliability.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include "../message.hpp"
#include "../reference/published.hpp"

namespace reliability {

using namespace plumbline::uncertainty;
using plumbline::published::entry;
using refused::message;

TEST_CASE("a standard deviation of n observations is known as well as GUM table E.1 says") {
    const auto e = entry("gum", "gum-table-e1");
    const auto n = e["inputs"]["n"].get<std::vector<std::size_t>>();
    REQUIRE(n.size() == 8);
    for (std::size_t i = 0; i < n.size(); ++i) {
        CAPTURE(n[i]);
        const double percent = 100.0 * relative_uncertainty_of_s(n[i]);
        CHECK(std::abs(percent - e["expected"]["percent"][i].get<double>()) <=
              e["tolerance"]["absolute"]["percent"].get<double>());
        // for n = 5 the file has 36.2999289425, where 32 / (9 pi) gives 36.2999289543: see the next test
        CHECK(std::abs(percent - e["recomputed"]["percent"][i].get<double>()) <= (n[i] == 5 ? 4e-10 : 1e-11) * percent);
    }
}

TEST_CASE("the relative uncertainty of s is exact where its gamma functions are, and falls as 1 / sqrt(2 (n - 1))") {
    // n = 2: c4 = sqrt(2 / pi); n = 3: sqrt(pi) / 2; n = 5: 3 sqrt(2 pi) / 8
    const double pi = std::acos(-1.0);
    CHECK(std::abs(relative_uncertainty_of_s(2) - std::sqrt(pi / 2.0 - 1.0)) <= 1e-15);
    CHECK(std::abs(relative_uncertainty_of_s(3) - std::sqrt(4.0 / pi - 1.0)) <= 1e-15);
    CHECK(std::abs(relative_uncertainty_of_s(5) - std::sqrt(32.0 / (9.0 * pi) - 1.0)) <= 1e-15);
    // on both sides of where the series takes over, by the quotient of gamma functions
    for (const double observations : {62.0, 63.0, 64.0, 65.0}) {
        CAPTURE(observations);
        const double c4 = std::sqrt(2.0 / (observations - 1.0)) *
                          std::exp(std::lgamma(0.5 * observations) - std::lgamma(0.5 * (observations - 1.0)));
        CHECK(std::abs(relative_uncertainty_of_s(static_cast<std::size_t>(observations)) - std::sqrt(1.0 / (c4 * c4) - 1.0)) <=
              1e-11);
    }
    CHECK(std::abs(relative_uncertainty_of_s(1'000'001) / std::sqrt(0.5e-6) - 1.0) <= 2e-7);
}

TEST_CASE("a judged u has the degrees of freedom of GUM G.4.2") {
    const auto e = entry("gum", "gum-g4.2-type-b-dof");
    const auto relative = e["inputs"]["relative_uncertainty_of_u"].get<std::vector<double>>();
    REQUIRE(relative.size() == 3);
    for (std::size_t i = 0; i < relative.size(); ++i) {
        CAPTURE(relative[i]);
        CHECK(std::abs(degrees_of_freedom_of_judged_u(relative[i]) - e["expected"]["dof"][i].get<double>()) <= 1e-12);
    }
    CHECK(degrees_of_freedom_of_judged_u(0.0) == std::numeric_limits<double>::infinity());
}

TEST_CASE("one observation and an impossible doubt are refused") {
    CHECK(message([] { static_cast<void>(relative_uncertainty_of_s(1)); }) ==
          "uncertainty of a standard deviation: 1 observations, expected at least 2; take more: one shows no scatter");
    CHECK(
        message([] { static_cast<void>(degrees_of_freedom_of_judged_u(-0.25)); }) ==
        "degrees of freedom of a judged u: a relative uncertainty of -0.25, expected 0 or more, and finite; say how far u may be "
        "off: 0.25 for a quarter of it");
    CHECK(message([] { static_cast<void>(degrees_of_freedom_of_judged_u(std::nan(""))); }) ==
          "degrees of freedom of a judged u: a relative uncertainty of nan, expected 0 or more, and finite; say how far u may be "
          "off: 0.25 for a quarter of it");
}

}  // namespace reliability
