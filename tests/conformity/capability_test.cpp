#include "../message.hpp"

#include <plumbline/conformity/capability.hpp>

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>

namespace capability_test {

using namespace plumbline;
using namespace plumbline::conformity;
using refused::message;

TEST_CASE("the ratio of 0.1 V either side to U = 0.025 V is 4, also for unequal limits of that width") {
    CHECK(test_uncertainty_ratio(tolerance<voltage>::within(0.125 * volt), 0.03125 * volt) == 4.0);
    CHECK(test_uncertainty_ratio(tolerance<voltage>::between(-0.0625 * volt, 0.1875 * volt), 0.03125 * volt) == 4.0);
    CHECK(capability_index(tolerance<voltage>::within(0.125 * volt), 0.015625 * volt) == 4.0);
}

TEST_CASE("a tolerance with one limit has no ratio") {
    const std::string rest =
        ": a tolerance with one limit, expected a lower and an upper limit; a single limit has no width to compare with: ask for "
        "the "
        "conformance probability instead";
    const auto least = tolerance<voltage>::at_least(1.0 * volt);
    CHECK(message([&] { (void)test_uncertainty_ratio(least, 0.1 * volt); }) == "test uncertainty ratio" + rest);
    CHECK(message([&] { (void)capability_index(least, 0.1 * volt); }) == "measurement capability index" + rest);
}

TEST_CASE("uncertainties and ratios that are not positive figures are refused") {
    const auto limits = tolerance<voltage>::within(1.0 * volt);
    CHECK(message([&] { (void)test_uncertainty_ratio(limits, 0.0 * volt); }) ==
          "test uncertainty ratio: the expanded uncertainty U is 0 V, expected more than 0; look at where it was computed from");
    CHECK(message([&] { (void)capability_index(limits, std::nan("") * volt); }) ==
          "measurement capability index: the standard uncertainty is nan V, expected a finite figure; look at where it was "
          "computed "
          "from");
    CHECK(message([] { (void)managed_guard_band(-1.0); }) ==
          "managed guard band: the test uncertainty ratio is -1, expected more than 0; look at where it was computed from");
}

TEST_CASE("a managed guard band shrinks as the ratio grows, and never turns negative") {
    double before = 2.0;
    for (int i = 0; i < 40; ++i) {
        const double now = managed_guard_band(0.5 * std::pow(1.1, i));  // 0.5 to 20.6
        CHECK(now >= 0.0);
        CHECK((now < before || (now == 0.0 && before == 0.0)));
        before = now;
    }
    CHECK(before == 0.0);
}

}  // namespace capability_test
