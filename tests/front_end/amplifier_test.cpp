#include <plumbline/front_end/amplifier.hpp>

#include <doctest/doctest.h>

#include "front_end/amplified_bench.hpp"

#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/noise.hpp>
#include <plumbline/front_end/overvoltage.hpp>
#include <plumbline/front_end/pin.hpp>
#include <random>
#include <string>

namespace amplifier_test {

using namespace plumbline;
using namespace plumbline::front_end;
using amplified_bench::built;
using amplified_bench::parts;

namespace {

void same(double found, double expected, double relative = 1e-9) {
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(std::abs(found - expected) <= relative * std::abs(expected));
}

/// +-10 V onto 0.4 V to 1.66 V, by 1.9 onto a converter of 3.3 V.
chain amplified_chain() {
    const auto made = [](double ohms) { return resistor{ohms * ohm, 1.0 * percent, 50.0 * ppm / kelvin}; };
    chain c;
    c.input.top = made(1e6);
    c.input.bottom = made(100e3);
    c.input.bias = bias_branch{made(200e3), 3.3 * volt, true, {}, {}};
    c.adc.bits = 12;
    c.adc.reference = 3.3 * volt;
    c.low = -10.0 * volt;
    c.high = 10.0 * volt;
    c.amplifier.emplace();
    c.amplifier->gain = gain_resistors{made(9e3), made(10e3)};
    c.amplifier->offset_limit = 2e-3 * volt;
    c.amplifier->bias_current = 20e-9 * ampere;
    c.amplifier->open_loop_gain = 1e4;
    return c;
}

std::string message(const chain& c) {
    try {
        expect_sound(c, "front end");
    } catch (const bad_input& e) {
        return e.what();
    }
    return "no exception";
}

}  // namespace

TEST_CASE("network and amplifier by their closed forms are what the circuit solves, with any parts") {
    std::mt19937 random(11);
    std::uniform_real_distribution<double> even(-1.0, 1.0);
    const auto any = [&](double near) { return near * std::pow(10.0, even(random)); };
    for (int i = 0; i < 60; ++i) {
        const branches has{i % 3 != 0, i % 3 != 1};
        parts p;
        p.source = 8.0 * even(random);
        p.rs = any(100e3);
        p.top = any(1e6);
        if (has.bottom) p.bottom = any(100e3);
        if (has.bias) p.bias = any(200e3);
        if (i % 4 != 0) {
            p.feedback = any(30e3);
            p.ground = any(10e3);
        }
        p.offset = 5e-3 * even(random);
        p.into_plus = 1e-7 * even(random);
        p.into_minus = 1e-7 * even(random);
        p.open_loop = any(1e4);
        const auto found = built(p);
        CAPTURE(i);
        const resistance bottom = p.bottom.value_or(1.0) * ohm, bias = p.bias.value_or(1.0) * ohm;
        const resistance feedback = p.feedback.value_or(0.0) * ohm, ground = p.ground.value_or(1.0) * ohm;
        const voltage node =
            before_amplifier{}(found.output * volt, p.offset * volt, p.into_minus * ampere, 1.0 / p.open_loop, feedback, ground);
        same(node.value(), found.plus, 1e-7);
        const voltage connector = connector_voltage{has}(node, p.top * ohm, bottom, bias, p.supply * volt, p.into_plus * ampere);
        CHECK(std::abs(connector.value() - found.connector) < 1e-8);
        const voltage open = open_voltage{has}(bottom, bias, p.supply * volt, p.into_plus * ampere);
        const voltage loaded_there =
            loaded{}(p.source * volt, p.rs * ohm, open, input_resistance{has}(p.top * ohm, bottom, bias));
        CHECK(std::abs(loaded_there.value() - found.connector) < 1e-8);
    }
}

TEST_CASE("nominal gain, offset and node of a chain with an amplifier are those of its circuit") {
    for (const bool follower : {false, true}) {
        chain c = amplified_chain();
        if (follower) c.amplifier->gain.reset();
        for (const double v : {-9.0, 0.0, 4.0, 9.5}) {
            parts p = amplified_bench::nominal(c);
            p.source = v;
            const auto found = built(p);
            const double code_there = found.output / 3.3 * 4096.0;
            CHECK(std::abs(nominal_offset(c).value() + nominal_gain(c).value() * code_there - v) < 1e-9);
            same(nominal_node_voltage(c, v * volt).value(), found.plus, 1e-8);
        }
        same(nominal_node_resistance(c, 50e3 * ohm).value(), 1.0 / (1.0 / 1.05e6 + 1.0 / 100e3 + 1.0 / 200e3));
        CHECK(nominal_pin_resistance(c, 50e3 * ohm).value() == 0.0);
        // the amplifier's input takes nothing from what the resistors show
        same(nominal_input_resistance(c).value(), 1e6 + 200e3 / 3.0);
        same(nominal_open_voltage(c).value(), 1.1);
    }
}

TEST_CASE("what a converter's reference leaves unmoved is 0 V with a bias from there, else the voltage of code 0") {
    chain c = amplified_chain();
    for (const bool from_there : {true, false}) {
        c.input.bias->from_converter_reference = from_there;
        for (const bool with_stage : {true, false}) {
            if (!with_stage) c.amplifier.reset();
            const double at = 1700.0;
            const auto read = [&](double reference) {
                chain moved = c;
                moved.adc.reference = reference * volt;
                if (from_there) moved.input.bias->supply = reference * volt;
                return (nominal_offset(moved) + at * code * nominal_gain(moved)).value();
            };
            const double now = read(3.3);
            same((read(3.3 * 1.001) - now) / 0.001, now - unmoved_by_reference(c).value(), 1e-7);
        }
        c = amplified_chain();
    }
}

TEST_CASE("an amplifier that cannot be, or does not reach what its range needs, is refused") {
    chain c = amplified_chain();
    CHECK(message(c) == "no exception");
    c.amplifier->open_loop_gain = 1.0;
    CHECK(message(c) == "front end, amplifier: an open-loop gain of 1, expected more than 1; correct the front end");
    c = amplified_chain();
    c.amplifier->bias_current = -1e-9 * ampere;
    CHECK(message(c) ==
          "front end, amplifier: a bias current of -1e-09 A, expected its limits as 0 or more; correct the front end");
    c = amplified_chain();
    c.amplifier->gain->ground.nominal = 0.0 * ohm;
    CHECK(message(c) == "front end, amplifier, ground resistor: 0 ohm, expected more than 0 ohm; correct the front end");
    c = amplified_chain();
    c.amplifier->gain_bandwidth = 0.0 * hertz;
    CHECK(message(c) == "front end, amplifier: a gain-bandwidth product of 0 Hz, expected more than 0 Hz; correct the front end");
    // by hand: conductances of 16 uS, 1.03125 V + 10 V / 16 at the node, times 3 = 4.969 V
    c = amplified_chain();
    c.amplifier->gain->feedback.nominal = 20e3 * ohm;
    c.amplifier->open_loop_gain = 1e9;
    CHECK(message(c) ==
          "front end, amplifier: an output of 4.969 V at 10 V, expected 0 V to 3.3 V, which amplifier and converter reach; "
          "correct the front end");
    // 1.9 (1.03125 - 0.625) = 0.7719 V at -10 V
    c = amplified_chain();
    c.amplifier->open_loop_gain = 1e9;
    c.amplifier->lowest_output = 0.8 * volt;
    CHECK(message(c) ==
          "front end, amplifier: an output of 0.7719 V at -10 V, expected 0.8 V to 3.3 V, which amplifier and converter reach; "
          "correct the front end");
    c = amplified_chain();
    c.amplifier->highest_output = 3.2 * volt;
    CHECK(message(c) == "no exception");
    // what reaches farther than the converter helps nothing
    c.amplifier->highest_output = 5.0 * volt;
    c.amplifier->gain->feedback.nominal = 20e3 * ohm;
    CHECK(message(c).find(" V at 10 V, expected 0 V to 3.3 V, which") != std::string::npos);
    c = amplified_chain();
    c.adc.reference_by_supply = 1.0 * one;
    CHECK(message(c) ==
          "front end, converter: a reference that its supply moves by 1, expected a fraction from 0 to less than 1; correct the "
          "front end");
}

TEST_CASE("behind an amplifier the pin sees no network: it settles by its switch, leakage shifts nothing, noise is the node's") {
    chain c = amplified_chain();
    const pin_details pin{8e-12 * farad, 10e3 * ohm, 0.2e-6 * second, {}, 50e-9 * ampere};
    const mode m{10e3 * hertz, 1, "DC", "battery", ""};
    const pin_figures unknown = figures_of_pin(c, m, pin, 1e3 * ohm);
    CHECK(unknown.at_pin.value() == 0.0);
    CHECK(unknown.offset_by_leakage.value() == 0.0);
    same(unknown.missing.value(), std::exp(-0.2e-6 / (10e3 * 8e-12)));
    CHECK(unknown.bandwidth.value() == 0.0);
    CHECK(unknown.thermal_noise.value() == 0.0);
    c.amplifier->gain_bandwidth = 1e6 * hertz;
    const pin_figures f = figures_of_pin(c, m, pin, 1e3 * ohm);
    same(f.bandwidth.value(), 1e6 * 10.0 / 19.0);
    // referred to the source: node over source is R_node / (R_top + R_source)
    const double node = 1.0 / (1.0 / 1.001e6 + 1.0 / 100e3 + 1.0 / 200e3);
    const double noise =
        std::sqrt(4.0 * 1.380649e-23 * 298.15 * (node + 90.0 / 19.0 * 1e3) * 3.14159265358979 / 2.0 * 1e7 / 19.0);
    same(f.thermal_noise.value(), noise * 1.001e6 / node, 1e-6);
}

TEST_CASE("an overvoltage strains the amplifier's input, and what its output does is said to be left out") {
    chain c = amplified_chain();
    protection by;
    by.supply = {3.3 * volt, 1.0 * ohm, 10e-3 * ampere, true, {}, true};
    by.to_supply = clamp_diode{0.3 * volt, 10.0 * ohm, {}};
    by.to_ground = clamp_diode{0.3 * volt, 10.0 * ohm, {}};
    by.pin_beyond_supply = 0.2 * volt;
    const overvoltage o = under_overvoltage(c, by, 200.0 * volt);
    bool strained = false;
    for (const strain& s : o.strains)
        strained = strained || (s.what == "voltage of the amplifier's input beyond its supply" && s.exceeded());
    CHECK(strained);
    bool said = false;
    for (const std::string& line : o.text)
        said = said || line == "What the amplifier's output then does to the converter is not looked at.";
    CHECK(said);
}

}  // namespace amplifier_test
