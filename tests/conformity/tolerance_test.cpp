#include <plumbline/conformity/tolerance.hpp>

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>

namespace tolerance_test {

using namespace plumbline;
using namespace plumbline::conformity;

namespace {

std::string message(double lower, double upper) {
    try {
        (void)tolerance<voltage>::between(lower * volt, upper * volt);
    } catch (const bad_input& e) {
        return e.what();
    }
    return "no exception";
}

}  // namespace

TEST_CASE("a tolerance contains its limits, and has the width between them") {
    const auto battery = tolerance<voltage>::between(14.3 * volt, 14.5 * volt);
    CHECK(battery.two_sided());
    CHECK(battery.contains(14.3 * volt));
    CHECK(battery.contains(14.5 * volt));
    CHECK_FALSE(battery.contains(std::nextafter(14.5, 15.0) * volt));
    CHECK_FALSE(battery.contains(std::nextafter(14.3, 14.0) * volt));
    CHECK(battery.width().value() == 14.5 - 14.3);
}

TEST_CASE("a one-sided tolerance has no limit on the other side") {
    const auto gate = tolerance<voltage>::at_least(3.5 * volt);
    CHECK_FALSE(gate.two_sided());
    CHECK(gate.has_lower());
    CHECK_FALSE(gate.has_upper());
    CHECK(gate.contains(1e9 * volt));
    CHECK_FALSE(gate.contains(3.4 * volt));
    const auto ripple = tolerance<voltage>::at_most(0.1 * volt);
    CHECK_FALSE(ripple.has_lower());
    CHECK(ripple.has_upper());
    CHECK(ripple.contains(-1e9 * volt));
    CHECK(ripple.width().value() == no_limit);
}

TEST_CASE("an error within a limit may have either sign") {
    const auto error = tolerance<voltage>::within(5.0 / 1200.0 * volt);  // 5 cents at 1 V/octave
    CHECK(error.lower().value() == -5.0 / 1200.0);
    CHECK(error.upper().value() == 5.0 / 1200.0);
}

TEST_CASE("limits that leave nothing between them, or no limit at all, are refused") {
    const double nan = std::nan("");
    const std::string rest =
        ", expected a lower limit below the upper one, at least one of them finite; look at the specification";
    CHECK(message(14.5, 14.3) == "tolerance: from 14.5 V to 14.3 V" + rest);
    CHECK(message(1.0, 1.0) == "tolerance: from 1 V to 1 V" + rest);
    CHECK(message(nan, 1.0) == "tolerance: from nan V to 1 V" + rest);
    CHECK(message(0.0, nan) == "tolerance: from 0 V to nan V" + rest);
    CHECK(message(-no_limit, no_limit) == "tolerance: from -inf V to inf V" + rest);
    CHECK(message(no_limit, no_limit) == "tolerance: from inf V to inf V" + rest);
    CHECK(message(-1e300, 1e300) == "no exception");
    CHECK_THROWS_AS((void)tolerance<voltage>::within(-0.1 * volt), bad_input);
    CHECK_THROWS_AS((void)tolerance<voltage>::within(0.0 * volt), bad_input);
}

}  // namespace tolerance_test
