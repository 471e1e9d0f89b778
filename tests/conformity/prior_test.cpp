#include <plumbline/conformity/prior.hpp>

#include <doctest/doctest.h>
#include <rapidcheck.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>

namespace prior_test {

using namespace plumbline;
using namespace plumbline::conformity;

namespace {

std::string message(double y0, double u0, double eta, double u_m) {
    try {
        (void)posterior(knowledge<voltage>{y0 * volt, u0 * volt}, eta * volt, u_m * volt);
    } catch (const bad_input& e) {
        return e.what();
    }
    return "no exception";
}

}  // namespace

TEST_CASE("prior and reading of equal uncertainty meet in the middle, with u smaller by the root of 2") {
    const auto found = posterior(knowledge<voltage>{14.3 * volt, 0.05 * volt}, 14.5 * volt, 0.05 * volt);
    CHECK(std::abs(found.estimate.value() - 14.4) <= 1e-14);
    CHECK(std::abs(found.u.value() - 0.05 / std::sqrt(2.0)) <= 1e-16);
}

TEST_CASE("two readings one after the other tell the same in either order") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("order", [] {
        const auto any = [](int from, int to) { return 0.01 * *rc::gen::inRange(from, to); };
        const knowledge<double> prior{any(-1000, 1000), any(1, 1000)};
        const knowledge<double> a{any(-1000, 1000), any(1, 1000)};
        const knowledge<double> b{any(-1000, 1000), any(1, 1000)};
        const auto ab = posterior(posterior(prior, a.estimate, a.u), b.estimate, b.u);
        const auto ba = posterior(posterior(prior, b.estimate, b.u), a.estimate, a.u);
        RC_ASSERT(std::abs(ab.estimate - ba.estimate) <= 1e-13);
        RC_ASSERT(std::abs(ab.u - ba.u) <= 1e-14 * ab.u);
        RC_ASSERT(ab.u < std::min(prior.u, std::min(a.u, b.u)));
    }));
}

TEST_CASE("squares too large or too small for a double do no harm") {
    CHECK(posterior(knowledge<double>{1.0, 1e200}, 3.0, 1e200).estimate == doctest::Approx(2.0).epsilon(1e-15).scale(0));
    CHECK(posterior(knowledge<double>{1.0, 1e-200}, 3.0, 1e-200).u ==
          doctest::Approx(1e-200 / std::sqrt(2.0)).epsilon(1e-15).scale(0));
}

TEST_CASE("knowledge that is no figure is refused with what to do") {
    const double nan = std::nan("");
    const std::string finite = ", expected a finite figure; look at where it was computed from";
    const std::string positive = ", expected more than 0; look at where it was computed from";
    CHECK(message(nan, 1.0, 1.0, 1.0) == "posterior: the prior estimate is nan V" + finite);
    CHECK(message(1.0, 0.0, 1.0, 1.0) == "posterior: the prior standard uncertainty is 0 V" + positive);
    CHECK(message(1.0, 1.0, no_limit, 1.0) == "posterior: the reading is inf V" + finite);
    CHECK(message(1.0, 1.0, 1.0, -1.0) == "posterior: the standard uncertainty of the reading is -1 V" + positive);
}

}  // namespace prior_test
