#include <doctest/doctest.h>

#include "../reference/published.hpp"

#include <cmath>
#include <numbers>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/probe.hpp>
#include <string>
#include <utility>

namespace bandwidth_test {

namespace pl = plumbline;
namespace fe = plumbline::front_end;
using plumbline::hertz;
using plumbline::ohm;
using plumbline::second;
using plumbline::volt;

namespace {

void same(double found, double expected, double relative = 1e-12) {
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(std::abs(found - expected) <= relative * std::abs(expected));
}

}  // namespace

TEST_CASE("rise time times bandwidth is the published product") {
    const auto e = pl::published::entry("converters", "rise-time-bandwidth");
    const double product = (fe::rise_time(20e3 * hertz) * (20e3 * hertz)).value();
    pl::published::check_printed(e, "product", product);
    pl::published::check_recomputed(e, "product", product);
}

TEST_CASE("a rise time is parted from the generator's by the formula of EURAMET cg-7") {
    const auto e = pl::published::entry("guidelines", "euramet-cg-7-measurands");
    const std::string formula = e.at("expected").at("rise_time_formula");
    const auto power = [&](const std::string& of) {  // of what is under the root, with its sign
        const std::size_t at = formula.find(of);
        REQUIRE(at >= 2);
        REQUIRE(at + of.size() + 1 < formula.size());
        REQUIRE(formula[at + of.size()] == '^');
        return std::pair(formula[at - 2] == '-' ? -1.0 : 1.0, formula[at + of.size() + 1] - '0');
    };
    REQUIRE(formula.starts_with("t_scope = sqrt("));
    const auto [sign, measured] = power("t_measured");
    const auto [minus, generator] = power("t_generator");
    for (const double t : {5e-6, 3.1e-6}) {
        same(fe::before(t * second, 3e-6 * second).value(),
             std::sqrt(sign * std::pow(t, measured) + minus * std::pow(3e-6, generator)));
    }
    same(fe::before(fe::in_a_row(4e-6 * second, 3e-6 * second), 3e-6 * second).value(), 4e-6);
}

TEST_CASE("root-sum-square of two poles' rise times is systematically off, as its users are cautioned") {
    const auto e = pl::published::entry("guidelines", "rise-time-rss-caution");
    REQUIRE(e.at("expected").at("statement").get<std::string>().find("systematic error") != std::string::npos);
    // Two equal poles: 1 - (1 + t / tau) exp(-t / tau)
    const auto reaches = [](double part) {
        double low = 0.0;
        double high = 10.0;
        for (int i = 0; i < 60; ++i) {
            const double t = 0.5 * (low + high);
            (1.0 - (1.0 + t) * std::exp(-t) < part ? low : high) = t;
        }
        return low;
    };
    const double exact = reaches(0.9) - reaches(0.1);
    const pl::duration one = fe::rise_time(1.0 / (2.0 * std::numbers::pi) * hertz);  // tau = 1 s
    const double off = fe::in_a_row(one, one).value() / exact - 1.0;
    CHECK(off < -0.07);
    CHECK(off > -0.08);
}

TEST_CASE("one pole takes 3 dB off at its frequency, and a tenth of it 0.5 %") {
    same(fe::one_pole_amplitude(1e3 * hertz, 1e3 * hertz).value(), std::sqrt(0.5));
    same(fe::one_pole_amplitude(1e3 * hertz, 10e3 * hertz).value(), 1.0 / std::sqrt(1.01));
}

TEST_CASE("the rise time of a pole is that of its step response, found on the step response") {
    const double tau = 1.0 / (2.0 * std::numbers::pi * 5e3);
    const auto reaches = [&](double part) { return -tau * std::log(1.0 - part); };
    same(fe::rise_time(5e3 * hertz).value(), reaches(0.9) - reaches(0.1));
}

TEST_CASE("one pole settles to a fraction, and to one and half an LSB, in the published number of time constants") {
    const auto e = pl::published::entry("converters", "single-pole-settling");
    const double tau = 25e-6;
    const pl::duration rise = fe::rise_time(1.0 / (2.0 * std::numbers::pi * tau) * hertz);
    const auto left = [&](double taus) { return fe::not_reached(taus * tau * second, rise).value(); };
    const double printed = e.at("expected").at("t_over_tau_0_1_percent");
    CHECK(-std::log(left(printed) / 1e-3) >= -double(e.at("tolerance").at("absolute").at("t_over_tau_0_1_percent")));
    CHECK(-std::log(left(printed) / 1e-3) <= double(e.at("tolerance").at("absolute").at("t_over_tau_0_1_percent")));
    same(left(e.at("recomputed").at("t_0_1_percent")), 1e-3);
    const auto& bits = e.at("inputs").at("bits");
    for (std::size_t i = 0; i < bits.size(); ++i) {
        const double lsb = std::exp2(-double(bits[i]));
        same(left(e.at("recomputed").at("one_lsb")[i]), lsb);
        same(left(e.at("recomputed").at("half_lsb")[i]), 0.5 * lsb);
    }
}

TEST_CASE("what was stretched by a rise time in a row comes back, and nothing comes back from the instrument's own") {
    const pl::duration seen = fe::in_a_row(30e-6 * second, 40e-6 * second);
    same(seen.value(), 50e-6);
    same(fe::before(seen, 40e-6 * second).value(), 30e-6);
    CHECK(fe::before(40e-6 * second, 41e-6 * second).value() == 0.0);
}

TEST_CASE("resistance and capacitance make a pole at 1 / (2 pi R C)") {
    same(fe::pole(1e3 * ohm, 1e-9 * pl::farad).value(), 159154.94309189534, 1e-12);
}

TEST_CASE("the highest sample of a sine, by trying all phases, is never below what is stated and reaches it") {
    for (const double per_period : {2.5, 4.0, 6.25, 10.0}) {
        double worst = 1.0;
        for (int phase = 0; phase < 1000; ++phase) {
            double highest = -1.0;
            for (int i = 0; i < 3; ++i) {  // the samples about one peak
                highest = std::max(highest, std::cos(2.0 * std::numbers::pi * (i - 1 + phase / 1000.0) / per_period));
            }
            worst = std::min(worst, highest);
        }
        same(fe::sampled_peak(1.0 * hertz, per_period * hertz).value(), worst, 1e-4);
    }
    CHECK(fe::sampled_peak(1.0 * hertz, 2.0 * hertz).value() == 0.0);
}

TEST_CASE("a frequency above half the sample rate shows where its samples say") {
    for (const double f : {9e3, 11e3, 15.5e3, 100e3, 3e3}) {
        const double shows = fe::alias(f * hertz, 10e3 * hertz).value();
        CHECK(shows <= 5e3);
        for (int i = 0; i < 20; ++i) {
            const double t = i / 10e3;
            CHECK(std::abs(std::cos(2.0 * std::numbers::pi * f * t) - std::cos(2.0 * std::numbers::pi * shows * t)) < 1e-9);
        }
    }
}

TEST_CASE("what a mean leaves of a sine is the largest mean over all phases") {
    for (const double f : {50.0, 130.0, 3e3, 10e3, 12.3e3}) {
        double largest = 0.0;
        for (int phase = 0; phase < 2000; ++phase) {
            double sum = 0.0;
            for (int i = 0; i < 64; ++i) sum += std::sin(2.0 * std::numbers::pi * (f * i / 10e3 + phase / 2000.0));
            largest = std::max(largest, std::abs(sum / 64.0));
        }
        CHECK(std::abs(fe::left_in_a_mean(f * hertz, 10e3 * hertz, 64.0).value() - largest) < 1e-5);
    }
}

TEST_CASE("a probe's factor follows from the input resistance: x10 into 1 Mohm only") {
    CHECK(fe::unloaded{}(0.5 * volt, 9e6 * ohm, 0.0 * volt, 1e6 * ohm).value() == doctest::Approx(5.0).epsilon(1e-12).scale(0));
    CHECK(fe::unloaded{}(0.5 * volt, 9e6 * ohm, 0.0 * volt, 1.2e6 * ohm).value() ==
          doctest::Approx(4.25).epsilon(1e-12).scale(0));
    // and it undoes what loading did, with a biased input too
    const pl::voltage seen = fe::loaded{}(7.0 * volt, 9e6 * ohm, 1.9 * volt, 1.2e6 * ohm);
    CHECK(fe::unloaded{}(seen, 9e6 * ohm, 1.9 * volt, 1.2e6 * ohm).value() == doctest::Approx(7.0).epsilon(1e-12).scale(0));
}

TEST_CASE("a mismatched probe steps by the ratio of its capacitive and its resistive divider") {
    const double r = 9e6, r_in = 1e6, c_in = 30e-12, m = 0.1;
    const double c = (1.0 + m) * r_in * c_in / r;
    const double capacitive = c / (c + c_in);
    const double resistive = r_in / (r_in + r);
    same(fe::compensation_step{}(m, r * ohm, r_in * ohm).value(), capacitive / resistive);
    CHECK(fe::compensation_step{}(0.0, r * ohm, r_in * ohm).value() == 1.0);
}

}  // namespace bandwidth_test
