#include "../../src/record/figure.hpp"

#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <string>

namespace figure_test {

using plumbline::record::demand;
using plumbline::record::describe_figure;
using plumbline::record::meets;
using plumbline::record::read_figure;
using plumbline::record::shown;
using plumbline::record::write_figure;

TEST_CASE("figures are read as people write them, to the double nearest to their decimal value") {
    struct row {
        const char* text;
        const char* unit;
        double value;
    };
    for (const row& r : {row{"220 kohm", "ohm", 220e3},
                         row{"1 Mohm", "ohm", 1e6},
                         row{"1 mohm", "ohm", 1e-3},
                         row{"4.7k\xce\xa9", "ohm", 4.7e3},
                         row{"4.7 k\xe2\x84\xa6", "ohm", 4.7e3},
                         row{"4.096 V", "V", 4.096},
                         row{"4.1 mV", "V", 4.1e-3},
                         row{"-7.3 uV", "V", -7.3e-6},
                         row{"7.3 \xc2\xb5V", "V", 7.3e-6},
                         row{"7.3 \xce\xbcV", "V", 7.3e-6},
                         row{"+10 V", "V", 10.0},
                         row{"1e3 mV", "V", 1.0},
                         row{"2.5E-05 V", "V", 2.5e-5},
                         row{"10 kHz", "Hz", 1e4},
                         row{"16 MHz", "Hz", 16e6},
                         row{"0.1 %", "1", 1e-3},
                         row{"0.1%", "1", 1e-3},
                         row{"25 ppm", "1", 25e-6},
                         row{"0.003", "1", 3e-3},
                         row{"25 ppm/K", "1/K", 25e-6},
                         row{"0.01 %/K", "1/K", 1e-4},
                         row{"2.5e-05 1/K", "1/K", 2.5e-5},
                         row{"5 uV/K", "V/K", 5e-6},
                         row{"10 pA/K", "A/K", 1e-11},
                         row{"0.5 LSB", "code", 0.5},
                         row{"4 codes", "code", 4.0},
                         row{"12 code", "code", 12.0},
                         row{"5 mV/code", "V/code", 5e-3},
                         row{"5 mV/LSB", "V/code", 5e-3},
                         row{"22.5 \xc2\xb0"
                             "C",
                             "degC", 22.5},
                         row{"-5 degC", "degC", -5.0},
                         row{"500 mK", "K", 0.5},
                         row{"1.5e-08 V^2/code", "V^2/code", 1.5e-8}}) {
        CAPTURE(r.text);
        const std::optional<double> value = read_figure(r.text, r.unit);
        REQUIRE(value.has_value());
        CHECK(*value == r.value);  // the compiler's own decimal conversion is the other side
    }
}

TEST_CASE("what is no figure of the unit is not read") {
    struct row {
        const char* text;
        const char* unit;
    };
    for (const row& r : {row{"", "V"},           row{"V", "V"},           row{"4.096", "V"},
                         row{"4.096 ohm", "V"},  row{"4,096 V", "V"},     row{"4.096 v", "V"},
                         row{"4.096 KV", "V"},   row{"4.096 V x", "V"},   row{"4.096 V ", "V"},
                         row{" 4.096 V", "V"},   row{"nan V", "V"},       row{"inf V", "V"},
                         row{"-inf V", "V"},     row{"0x1p3 V", "V"},     row{"1e999 V", "V"},
                         row{"1e-999 V", "V"},   row{"1e308 kV", "V"},    row{"1e99999999999 V", "V"},
                         row{"1. V", "V"},       row{".5 V", "V"},        row{"--5 V", "V"},
                         row{"5 mcode", "code"}, row{"5 %", "V"},         row{"5 m%", "1"},
                         row{"5 ppm", "1/K"},    row{"5 ppm/V", "1/K"},   row{"5 K", "degC"},
                         row{"5 mdegC", "degC"}, row{"5 mV^2", "V^2"},    row{"5 m V", "V"},
                         row{"5 k", "1"},        row{"220 kohm/K", "ohm"}}) {
        CAPTURE(r.text);
        CHECK_FALSE(read_figure(r.text, r.unit).has_value());
    }
}

TEST_CASE("a figure that is written reads back bit for bit") {
    std::mt19937_64 random(20250314);
    int tried = 0;
    while (tried < 20000) {
        const auto value = std::bit_cast<double>(random());
        if (!std::isfinite(value)) continue;
        ++tried;
        const std::optional<double> back = read_figure(write_figure(value, "V/code"), "V/code");
        REQUIRE(back.has_value());
        REQUIRE(std::bit_cast<std::uint64_t>(*back) == std::bit_cast<std::uint64_t>(value));
    }
    for (const double value :
         {0.0, -0.0, std::numeric_limits<double>::denorm_min(), std::numeric_limits<double>::max(), 0.1, 220000.0}) {
        const std::optional<double> back = read_figure(write_figure(value, "V"), "V");
        REQUIRE(back.has_value());
        CHECK(std::bit_cast<std::uint64_t>(*back) == std::bit_cast<std::uint64_t>(value));
    }
}

TEST_CASE("figures are written with the fewest digits and the coherent unit") {
    CHECK(write_figure(4.096, "V") == "4.096 V");
    CHECK(write_figure(0.005, "V/code") == "0.005 V/code");
    CHECK(write_figure(2.5e-5, "1/K") == "2.5e-05 1/K");
    CHECK(write_figure(220e3, "ohm") == "220000 ohm");
    CHECK(write_figure(12.0, "code") == "12 code");
}

TEST_CASE("a figure that is not a number meets no demand") {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    for (const demand d : {demand::any, demand::not_negative, demand::above_zero}) CHECK_FALSE(meets(nan, d));
    CHECK(meets(-1.0, demand::any));
    CHECK_FALSE(meets(-1.0, demand::not_negative));
    CHECK(meets(0.0, demand::not_negative));
    CHECK_FALSE(meets(0.0, demand::above_zero));
}

TEST_CASE("what was expected is described with an example that would be read") {
    CHECK(describe_figure("V", demand::any) == "a voltage such as \"4.096 V\"");
    CHECK(describe_figure("ohm", demand::above_zero) == "a resistance above 0 such as \"220 kohm\"");
    CHECK(describe_figure("1", demand::not_negative) == "a ratio of 0 or more such as \"0.1 %\"");
    CHECK(describe_figure("V^2", demand::any) == "a figure in V^2 such as \"1 V^2\"");
    for (const char* unit :
         {"V", "code", "ohm", "A", "Hz", "s", "1", "K", "V/code", "1/K", "V/K", "A/K", "degC", "V^2", "V^2/code"}) {
        CAPTURE(unit);
        const std::string text = describe_figure(unit, demand::any);
        const std::size_t from = text.find('"') + 1;
        CHECK(read_figure(text.substr(from, text.rfind('"') - from), unit).has_value());
    }
}

TEST_CASE("a text is shown cut at 40 characters, whole ones, and cannot steer a terminal") {
    CHECK(shown("abc") == "\"abc\"");
    CHECK(shown("a\"b\\c") == "\"a\\\"b\\\\c\"");
    CHECK(shown("a\xc2\x9b"
                "2J\u202e") == "\"a\\u009b2J\\u202e\"");
    CHECK(shown("a\x1b[2J\n") == "\"a\\u001b[2J\\u000a\"");
    std::string omegas;
    for (int i = 0; i < 41; ++i) omegas += "\xce\xa9";
    CHECK(shown(omegas) == "\"" + omegas.substr(0, 80) + "...\"");
    CHECK(shown(omegas.substr(0, 80)) == "\"" + omegas.substr(0, 80) + "\"");
}

}  // namespace figure_test
