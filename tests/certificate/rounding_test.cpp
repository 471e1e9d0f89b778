#include <plumbline/certificate/rounding.hpp>

#include <doctest/doctest.h>
#include <cmath>
#include <cstddef>
#include <limits>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <reference/published.hpp>
#include <string>

namespace rounding_test {

using namespace plumbline;
using certificate::as_stated;
using certificate::round_result;
using certificate::round_with_prefix;
using certificate::rounding;
using certificate::significant;

namespace {

/// "27 mOhm"
struct measured {
    double value = 0.0;
    std::string unit;
    explicit measured(const std::string& text) {
        std::size_t end = 0;
        value = std::stod(text, &end);
        unit = text.substr(end + 1);
    }
};

std::string message_of(double value, double U) {
    try {
        const auto text = round_result(value, U, "V");
        return "accepted: " + text.plus_minus();
    } catch (const bad_input& refused) {
        return refused.what();
    }
}

}  // namespace

TEST_CASE("the mass of JCGM 100:2008, 7.2.2 and 7.2.4 is reported as it is printed there") {
    const auto mass = published::entry("gum", "gum-7.2.2-7.2.4-reporting");
    const double value = mass.at("inputs").at("value");
    const double u = mass.at("inputs").at("uc");
    const double k = mass.at("inputs").at("k");
    std::string plus_minus = mass.at("expected").at("form_U");
    plus_minus.replace(plus_minus.find("+-"), 2, "±");
    CHECK(round_result(value, u, "g").short_form() == mass.at("expected").at("form_parenthesis"));
    CHECK(round_result(value, k * u, "g").plus_minus() == plus_minus);
    published::check_printed(mass, "t95_9",
                             uncertainty::coverage_factor(mass.at("inputs").at("level"), mass.at("inputs").at("dof")));
    published::check_printed(mass, "U", k * u);
}

TEST_CASE("the three examples of JCGM 100:2008, 7.2.6 come out as printed") {
    const auto rule = published::entry("gum", "gum-7.2.6-rounding");
    const auto& cases = rule.at("inputs").at("cases");
    const auto& printed = rule.at("expected").at("results");
    REQUIRE(cases.size() == 3);
    const measured raised(cases[0].at("u"));
    CHECK(round_result(0.0, raised.value, raised.unit, rounding::up).U_with_unit() + " (may be rounded up)" == printed[0]);
    CHECK(round_result(0.0, raised.value, raised.unit).U_with_unit() == "10 mOhm");
    const measured lowered(cases[1].at("u"));
    CHECK(round_result(0.0, lowered.value, lowered.unit).U_with_unit() + " (rounded down)" == printed[1]);
    const measured estimate(cases[2].at("y"));
    const measured milliohms(cases[2].at("u"));
    CHECK(round_result(estimate.value, milliohms.value / 1000.0, estimate.unit).value_with_unit() == printed[2]);
}

TEST_CASE("where rounding U carries, the place is that of the last digit kept") {
    CHECK(round_result(4.99873, 0.0996, "V").plus_minus() == "(5.00 ± 0.10) V");
    CHECK(round_result(4.99873, 0.00996, "V").plus_minus() == "(4.999 ± 0.010) V");
    CHECK(round_result(4.99873, 0.0991, "V", rounding::up).plus_minus() == "(5.00 ± 0.10) V");
    CHECK(round_result(1234.5, 99.6, "V").plus_minus() == "(1230 ± 100) V");
    CHECK(round_result(9.996, 0.012, "V").plus_minus() == "(9.996 ± 0.012) V");
    CHECK(round_result(9.996, 0.12, "V").plus_minus() == "(10.00 ± 0.12) V");
}

TEST_CASE("the value keeps its trailing zeros and the place of U") {
    CHECK(round_result(5.0, 0.012, "V").plus_minus() == "(5.000 ± 0.012) V");
    CHECK(round_result(4.99868, 0.0038, "V").plus_minus() == "(4.9987 ± 0.0038) V");
    CHECK(round_result(4.99868, 0.0038, "V").short_form() == "4.9987(38) V");
    CHECK(round_result(-4.99868, 0.038, "V").short_form() == "-4.999(38) V");
    CHECK(round_result(5.03, 1.2, "V").short_form() == "5.0(12) V");
    CHECK(round_result(12345.0, 2841.0, "Hz").plus_minus() == "(12300 ± 2800) Hz");
    CHECK(round_result(12.0, 2841.0, "Hz").plus_minus() == "(0 ± 2800) Hz");
}

TEST_CASE("a value that rounds to zero has no sign") {
    CHECK(round_result(-0.0004, 0.012, "V").plus_minus() == "(0.000 ± 0.012) V");
    CHECK(round_result(-0.0, 0.012, "V").plus_minus() == "(0.000 ± 0.012) V");
    CHECK(round_result(-0.0005, 0.012, "V").plus_minus() == "(-0.001 ± 0.012) V");
    CHECK(significant(-0.0, 3, "V") == "0 V");
}

TEST_CASE("what is rounded is the decimal text of the record, once") {
    // The nearest doubles of these ties lie below them: rounding the double itself would go down.
    REQUIRE(1.005L > static_cast<long double>(1.005));
    CHECK(round_result(1.005, 0.10, "V").value == "1.01");
    CHECK(round_result(-1.005, 0.10, "V").value == "-1.01");
    CHECK(round_result(0.0, 0.145, "V").U == "0.15");
    CHECK(round_result(0.0, 0.14499, "V").U == "0.14");  // not 0.145 and then 0.15
}

TEST_CASE("U rounded up is never below U and is left alone where two digits say it all") {
    CHECK(round_result(0.0, 0.0038, "V", rounding::up).U == "0.0038");
    CHECK(round_result(0.0, 0.00380001, "V", rounding::up).U == "0.0039");
    for (int i = 1; i < 2000; ++i) {
        const double U = std::exp(-0.0173 * i) * 7.0;
        const double up = std::stod(round_result(0.0, U, "V", rounding::up).U);
        const double nearest = std::stod(round_result(0.0, U, "V").U);
        CAPTURE(U);
        CHECK(up >= U);
        CHECK(up <= U * 1.1);
        CHECK(std::abs(nearest - U) <= 0.05 * U * (1.0 + 1e-12));
    }
}

TEST_CASE("the prefix suits the larger of value and U") {
    CHECK(round_with_prefix(0.8 * volt, 0.00012 * volt).plus_minus() == "(0.80000 ± 0.00012) V");
    CHECK(round_with_prefix(0.05 * volt, 0.00012 * volt).plus_minus() == "(50.00 ± 0.12) mV");
    CHECK(round_with_prefix(0.0 * volt, 0.0038 * volt).plus_minus() == "(0.0 ± 3.8) mV");
    CHECK(round_with_prefix(0.0 * volt, 0.38 * volt).plus_minus() == "(0.00 ± 0.38) V");
    CHECK(round_with_prefix(0.000012 * volt, 0.0000034 * volt).plus_minus() == "(12.0 ± 3.4) µV");
    CHECK(round_with_prefix(0.0 * volt, 3.4e-9 * volt).plus_minus() == "(0.0000 ± 0.0034) µV");
    CHECK(round_with_prefix(0.0123 * one, 0.0011 * one).plus_minus() == "(1.23 ± 0.11) %");
    CHECK(round_with_prefix(0.000123 * one, 0.000011 * one).plus_minus() == "(123 ± 11) ppm");
    CHECK(round_with_prefix(volts_per_code::from_value(0.00488281), volts_per_code::from_value(1.2e-7)).plus_minus() ==
          "(4.88281 ± 0.00012) mV/code");
    CHECK(round_with_prefix(1234.5, 1.5, "code").plus_minus() == "(1234.5 ± 1.5) code");
    CHECK(round_with_prefix(99600.0, 960.0, "ohm").plus_minus() == "(99.60 ± 0.96) kΩ");
}

TEST_CASE("moving the decimal point to a prefix rounds nothing") {
    REQUIRE(0.00129 * 1000.0 != 1.29);
    CHECK(as_stated(0.00129 * volt) == "1.29 mV");
    CHECK(as_stated(0.000029 * volt) == "29 µV");
    REQUIRE((0.07 * percent).value() != 0.0007);
    CHECK(as_stated(0.07 * percent) == "700 ppm");  // what multiplying left behind is not stated
    CHECK(as_stated(5.0 * percent) == "5 %");
    CHECK(as_stated(1e6 * ohm) == "1 MΩ");
    CHECK(as_stated(100e3 * ohm) == "100 kΩ");
    CHECK(as_stated(10.0 * ohm) == "10 Ω");
    CHECK(as_stated(0.0 * one) == "0 %");
    CHECK(as_stated(20e-9 * ampere) == "20 nA");
    CHECK(as_stated(amperes_per_kelvin::from_value(5e-12)) == "5 pA/K");
    CHECK(as_stated(volts_per_kelvin::from_value(10e-6)) == "10 µV/K");
    CHECK(as_stated(per_kelvin::from_value(25e-6)) == "25 ppm/K");
    CHECK(as_stated(4.096 * volt) == "4.096 V");
    CHECK(as_stated(-10.0 * volt) == "-10 V");
}

TEST_CASE("figures without uncertainty are rounded to the digits asked for") {
    CHECK(significant(0.00122349, 3, "V/code") == "1.22 mV/code");
    CHECK(significant(0.99961, 3, "V/V") == "1.00 V/V");
    CHECK(significant(-123456.0, 3, "") == "-123000");
    CHECK(significant(2.0, 3, "code") == "2.00 code");
    CHECK(certificate::fixed(95.4499736, 2) == "95.45");
    CHECK(certificate::fixed(-0.0004, 3) == "0.000");
    CHECK(certificate::fixed(2047.5, 0) == "2048");
    CHECK(certificate::power_of_ten(-0.00001254, 3) == "-1.25 × 10^-5");
    CHECK(certificate::power_of_ten(0.00001251, 3, rounding::up) == "1.26 × 10^-5");
    CHECK(certificate::power_of_ten(9.996, 3, rounding::up) == "1.00 × 10^1");
    CHECK(as_stated(0.000000413467, "code", 3) == "0.000000413 code");
    CHECK(certificate::power_of_ten(3e5, 2) == "3.0 × 10^5");
    CHECK(certificate::power_of_ten(0.0, 3) == "0");
}

TEST_CASE("no figure that is not finite and no uncertainty without digits is printed") {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    constexpr double infinity = std::numeric_limits<double>::infinity();
    CHECK(message_of(nan, 1.0) ==
          "certificate, a result: not a number, expected a finite figure; look at where it was computed from");
    CHECK(message_of(1.0, nan) ==
          "certificate, an uncertainty: not a number, expected a finite figure; look at where it was computed from");
    CHECK(message_of(1.0, infinity) ==
          "certificate, an uncertainty: infinite, expected a finite figure; look at where it was computed from");
    CHECK(message_of(1.0, 0.0) ==
          "certificate, an uncertainty: zero, expected a figure above 0; find out what the result does depend on");
    CHECK(message_of(1.0, -1.0) ==
          "certificate, an uncertainty: a negative figure, expected a figure above 0; find out what the result does depend on");
    CHECK_THROWS_AS((void)significant(nan, 3, "V"), bad_input);
    CHECK_THROWS_AS((void)as_stated(infinity, "V"), bad_input);
    CHECK_THROWS_AS((void)certificate::power_of_ten(-infinity, 3), bad_input);
}

TEST_CASE("the smallest and the largest doubles have a text") {
    CHECK(round_result(0.0, std::numeric_limits<double>::denorm_min(), "V").U.size() == 2 + 325);  // 0. and down to 4.9e-324
    CHECK(round_result(std::numeric_limits<double>::max(), 1.0, "V").value.size() == 309 + 2);
}

}  // namespace rounding_test
