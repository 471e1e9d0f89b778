#include <doctest/doctest.h>

#include <boost/units/cmath.hpp>
#include <boost/units/systems/si.hpp>
#include <cmath>
#include <type_traits>
#include <vector>

#include <plumbline/units/dual.hpp>
#include <plumbline/units/quantities.hpp>

namespace quantities_test {

using namespace plumbline;

static_assert(!std::is_convertible_v<codes, double>, "a raw code is not a bare number");
static_assert(!std::is_constructible_v<double, codes>);
static_assert(!std::is_convertible_v<double, codes>);
static_assert(!std::is_convertible_v<codes, ratio>);
static_assert(!std::is_convertible_v<codes, voltage>);
static_assert(!std::is_convertible_v<voltage, double>);
static_assert(std::is_convertible_v<ratio, double>, "a ratio is a number");

static_assert(std::is_same_v<decltype(volts_per_code() * codes()), voltage>, "V/code times code is V");
static_assert(std::is_same_v<decltype(voltage() / resistance()), current>);
static_assert(std::is_same_v<decltype(ratio() / resistance()), conductance>);
static_assert(std::is_same_v<decltype(per_kelvin() * kelvins()), ratio>);
static_assert(std::is_same_v<decltype(duration() * frequency()), ratio>);
static_assert(std::is_same_v<decltype(celsius{} - celsius{}), kelvins>);

TEST_CASE("a straight line through two mean codes gives volts") {
    const voltage v0 = 0.001 * volt;
    const volts_per_code gain = 4.096 * volt / (4096.0 * code);
    const voltage v = v0 + gain * (2048.0 * code - 1024.0 * code);
    CHECK(std::abs(v.value() - 1.025) < 1e-15);
}

TEST_CASE("volts of Boost's SI system are accepted with the same value") {
    namespace si = boost::units::si;
    const boost::units::quantity<si::electric_potential> battery = 12.6 * si::volt;
    const voltage v = battery;
    CHECK(v.value() == 12.6);
    CHECK(voltage(2.0 * battery).value() == 25.2);
}

TEST_CASE("sums and comparisons of Boost's SI quantities are Boost's own") {
    namespace si = boost::units::si;
    const auto v = 1.5 * si::volt;
    CHECK((v + v).value() == 3.0);
    CHECK(v < 2.0 * si::volt);
    CHECK((si::volt + si::volt) == si::volt);
}

TEST_CASE("whole numbers scale a quantity as their double does") {
    const voltage v = 1.5 * volt;
    CHECK((2 * v).value() == 3.0);
    CHECK((v * 2).value() == 3.0);
    CHECK((v / 2).value() == 0.75);
    CHECK((3 / (2 * second)).value() == 1.5);
    CHECK((v / std::vector<int>(3).size()).value() == 0.5);
    CHECK(2 * ratio(0.25) == 0.5);
    static_assert(std::is_same_v<decltype(1 / second), frequency>);
}

TEST_CASE("a ratio mixes with numbers in sums, products and comparisons, on either side") {
    const per_kelvin alpha = 25.0 * ppm / kelvin;
    const kelvins dt = 4.0 * kelvin;
    CHECK(std::abs(1.0 + alpha * dt - 1.0001) < 1e-15);
    CHECK(std::abs(1 - alpha * dt - 0.9999) < 1e-15);
    CHECK(one + ratio(0.5) == 1.5);
    CHECK(alpha * dt < 1);
    CHECK(0.0 < alpha * dt);
    CHECK(alpha * dt != 0);
    CHECK(2.0 * percent == 20000.0 * ppm);
    CHECK(boost::units::quantity<boost::units::si::dimensionless>(1.5) + ratio(0.5) == 2.0);
}

TEST_CASE("all six comparisons order quantities of one unit") {
    const voltage low = 1.0 * volt;
    const voltage high = 2.0 * volt;
    CHECK(low < high);
    CHECK(low <= high);
    CHECK(high > low);
    CHECK(high >= low);
    CHECK(low == 1 * volt);
    CHECK(low != high);
    CHECK_FALSE(high < low);
    CHECK_FALSE(low == high);
}

TEST_CASE("the room's functions and Boost's cmath stand side by side without ambiguity") {
    CHECK(sqrt(4.0 * volt * volt) == 2.0 * volt);
    CHECK(abs(-2.0 * volt) == 2.0 * volt);
    CHECK(exp(ratio(0.0)) == 1.0);
    CHECK(atan(ratio(0.0)) == 0.0);
    CHECK(cos(ratio(0.0)) == 1.0);
    CHECK(pow<3>(2.0 * volt) == 8.0 * volt * volt * volt);
}

TEST_CASE("temperature points differ in kelvins") {
    CHECK(celsius{31.5} - celsius{23.0} == 8.5 * kelvin);
    CHECK(celsius{23.0} == celsius{23.0});
    CHECK_FALSE(celsius{23.0} == celsius{23.5});
}

}  // namespace quantities_test
