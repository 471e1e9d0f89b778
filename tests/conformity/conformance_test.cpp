#include "../message.hpp"

#include <plumbline/conformity/conformance.hpp>

#include <doctest/doctest.h>
#include <rapidcheck.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>

namespace conformance_test {

using namespace plumbline;
using namespace plumbline::conformity;
using refused::message;

namespace {

const auto battery = tolerance<voltage>::between(14.3 * volt, 14.5 * volt);

}  // namespace

TEST_CASE("as u vanishes the conformance probability becomes 1 inside, 0 outside and 1/2 on a limit") {
    for (const double u : {1e-6, 1e-12, 1e-300}) {
        CAPTURE(u);
        CHECK(conformance_probability(battery, 14.4 * volt, u * volt) == 1.0);
        CHECK(conformance_probability(battery, 14.6 * volt, u * volt) == 0.0);
        CHECK(conformance_probability(battery, 14.2 * volt, u * volt) == 0.0);
        CHECK(conformance_probability(battery, 14.5 * volt, u * volt) == 0.5);
        CHECK(nonconformance_probability(battery, 14.3 * volt, u * volt) == 0.5);
        CHECK(nonconformance_probability(battery, 14.4 * volt, u * volt) == 0.0);
    }
}

TEST_CASE("as u grows without bound nothing conforms, or half of it with one limit") {
    CHECK(conformance_probability(battery, 14.4 * volt, 1e6 * volt) < 1e-7);
    CHECK(std::abs(conformance_probability(tolerance<voltage>::at_most(14.4 * volt), 0.0 * volt, 1e9 * volt) - 0.5) < 1e-7);
}

TEST_CASE("probabilities far out in a tail keep their digits") {
    // Q(10) = 7.61985302416052606597e-24 and Q(11) = 1.91065957449868e-28, by mpmath with 40 digits
    const auto limit = tolerance<double>::at_most(0.0);
    CHECK(std::abs(conformance_probability(limit, 10.0, 1.0) / 7.61985302416052606597e-24 - 1.0) <= 1e-13);
    CHECK(std::abs(nonconformance_probability(limit, -10.0, 1.0) / 7.61985302416052606597e-24 - 1.0) <= 1e-13);
    const auto both = tolerance<double>::within(10.0);
    CHECK(std::abs(nonconformance_probability(both, 0.0, 1.0) / (2.0 * 7.61985302416052606597e-24) - 1.0) <= 1e-13);
    CHECK(std::abs(conformance_probability(tolerance<double>::between(10.0, 11.0), 0.0, 1.0) /
                       (7.61985302416052606597e-24 - 1.91065957449868e-28) -
                   1.0) <= 1e-13);
}

TEST_CASE("the conformance probability is symmetric, free of unit and origin, falls away from the middle, and has a complement") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("properties", [] {
        const double lower = *rc::gen::inRange(-1000, 1000);
        const double width = *rc::gen::inRange(1, 1000);
        const double u = *rc::gen::inRange(1, 1000);
        const double distance = *rc::gen::inRange(0, 3000);
        const double scale = *rc::gen::element(0x1p-40, 0x1p-10, 0x1p30);  // powers of two: exact
        const double shift = *rc::gen::inRange(-1000, 1000);
        const double y = lower + 0.5 * width + distance;
        const auto limits = tolerance<double>::between(lower, lower + width);
        const double p = conformance_probability(limits, y, u);
        RC_ASSERT(p >= 0.0);
        RC_ASSERT(p <= 1.0);
        RC_ASSERT(conformance_probability(limits, lower + 0.5 * width - distance, u) == p);
        RC_ASSERT(conformance_probability(tolerance<double>::between(scale * lower, scale * (lower + width)), scale * y,
                                          scale * u) == p);
        RC_ASSERT(conformance_probability(tolerance<double>::between(lower + shift, lower + width + shift), y + shift, u) == p);
        RC_ASSERT(conformance_probability(limits, y + 1.0, u) <= p);
        RC_ASSERT(std::abs(p + nonconformance_probability(limits, y, u) - 1.0) <= 1e-15);
        const double at_most = conformance_probability(tolerance<double>::at_most(lower + width), y, u);
        const double at_least = conformance_probability(tolerance<double>::at_least(lower), y, u);
        RC_ASSERT(std::abs(at_most + at_least - 1.0 - p) <= 1e-15);
    }));
}

TEST_CASE("a distribution function takes the place of the normal one, and is not asked about limits that are not there") {
    // rectangular between 14.35 V and 14.55 V: three quarters lie below 14.5 V
    const auto rectangular = [](const voltage& x) { return std::clamp((x.value() - 14.35) / 0.2, 0.0, 1.0); };
    CHECK(std::abs(conformance_probability(battery, rectangular) - 0.75) <= 1e-12);
    const auto below = [&](const voltage& x) {
        REQUIRE(x.value() == 14.5);
        return rectangular(x);
    };
    CHECK(std::abs(conformance_probability(tolerance<voltage>::at_most(14.5 * volt), below) - 0.75) <= 1e-12);
    CHECK(std::abs(conformance_probability(tolerance<voltage>::at_least(14.5 * volt), below) - 0.25) <= 1e-12);
    // the normal one given so agrees with the closed form
    const auto normal = [](const voltage& x) { return 0.5 * std::erfc((14.42 - x.value()) / 0.05 / std::sqrt(2.0)); };
    CHECK(std::abs(conformance_probability(battery, normal) - conformance_probability(battery, 14.42 * volt, 0.05 * volt)) <=
          1e-14);
}

TEST_CASE("what is no distribution function is refused") {
    const std::string rest = " at the upper limit, expected 0 to 1, not falling; look at the distribution function";
    CHECK(message([] { (void)conformance_probability(battery, [](const voltage&) { return 1.5; }); }) ==
          "conformance probability: a distribution function that is 1.5 at the lower and 1.5" + rest);
    CHECK(message([] {
              (void)conformance_probability(battery, [](const voltage& x) { return x < 14.4 * volt ? 0.75 : 0.25; });
          }) == "conformance probability: a distribution function that is 0.75 at the lower and 0.25" + rest);
    CHECK(message([] { (void)conformance_probability(battery, [](const voltage&) { return std::nan(""); }); }) ==
          "conformance probability: a distribution function that is nan at the lower and nan" + rest);
}

TEST_CASE("readings that conform with a probability have just that probability at their ends") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("inverse", [] {
        const double lower = *rc::gen::inRange(-1000, 1000);
        const double width = *rc::gen::inRange(100, 1000);
        const double u = *rc::gen::inRange(1, 100);
        const double best = conformance_probability(tolerance<double>::within(0.5 * width), 0.0, u);
        const double p = best * 0.001 * *rc::gen::inRange(1, 1000);
        const auto limits = tolerance<double>::between(lower, lower + width);
        const auto found = readings_conforming_with(p, limits, u);
        // rounding of readings up to 2000 by the steepest slope 0.4/u
        RC_ASSERT(std::abs(conformance_probability(limits, found.lower, u) - p) <= 1e-12);
        RC_ASSERT(std::abs(conformance_probability(limits, found.upper, u) - p) <= 1e-12);
        RC_ASSERT(found.lower < found.upper);
        RC_ASSERT(conformance_probability(limits, 0.5 * (found.lower + found.upper), u) > p);
    }));
}

TEST_CASE("a tolerance too narrow for the uncertainty is refused with the best it can do") {
    CHECK(
        message([] { (void)readings_conforming_with(0.95, tolerance<voltage>::within(1.0 * volt), 1.0 * volt); }) ==
        "conformance probability: 0.6826894921370859 at best, in the middle of a tolerance 2 V wide with u = 1 V, expected 0.95; "
        "measure with less uncertainty or ask for less");
}

TEST_CASE("estimates, uncertainties and probabilities out of range are refused with what to do") {
    const double nan = std::nan("");
    const auto of = [](double y, double u) {
        return message([&] { (void)conformance_probability(battery, y * volt, u * volt); });
    };
    CHECK(of(nan, 0.1) ==
          "conformance probability: the estimate is nan V, expected a finite figure; look at where it was computed from");
    CHECK(of(no_limit, 0.1) ==
          "conformance probability: the estimate is inf V, expected a finite figure; look at where it was computed from");
    CHECK(of(14.4, 0.0) ==
          "conformance probability: the standard uncertainty is 0 V, expected more than 0; look at where it was computed from");
    CHECK(of(14.4, nan) ==
          "conformance probability: the standard uncertainty is nan V, expected a finite figure; look at where it was computed "
          "from");
    CHECK_THROWS_AS((void)nonconformance_probability(battery, 14.4 * volt, -1.0 * volt), bad_input);
    CHECK(message([] { (void)readings_conforming_with(1.0, battery, 0.01 * volt); }) ==
          "conformance probability: conformance probability 1, expected more than 0 and less than 1; state it as a fraction, "
          "0.95 for "
          "instance");
    CHECK_THROWS_AS((void)readings_conforming_with(nan, battery, 0.01 * volt), bad_input);
    CHECK_THROWS_AS((void)readings_conforming_with(0.0, battery, 0.01 * volt), bad_input);
}

}  // namespace conformance_test
