#include <plumbline/front_end/pin.hpp>

#include <doctest/doctest.h>

#include "../reference/published.hpp"
#include "message.hpp"

#include <cmath>
#include <plumbline/front_end/amplifier.hpp>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/circuit.hpp>
#include <plumbline/front_end/noise.hpp>
#include <plumbline/front_end/sampling.hpp>

namespace pin_test {

using namespace plumbline;
using namespace plumbline::front_end;
using refused::message;

namespace {

void same(double found, double expected, double relative = 1e-9) {
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(std::abs(found - expected) <= relative * std::abs(expected));
}

/// 1 V/octave into a converter: invented.
chain control_voltage() {
    chain c;
    c.input.top = {100e3 * ohm, {}, {}};
    c.input.bottom = resistor{22e3 * ohm, {}, {}};
    c.adc.bits = 12;
    c.adc.reference = 2.5 * volt;
    c.adc.noise = 0.5 * code;
    c.low = 0.0 * volt;
    c.high = 10.0 * volt;
    return c;
}

}  // namespace

TEST_CASE("thermal noise is the published one, and kT/C whatever the resistance") {
    const auto e = published::entry("converters", "thermal-noise");
    const auto& cases = e.at("inputs").at("cases");
    const auto v = e.at("recomputed").at("v").get<std::vector<double>>();
    REQUIRE(cases.size() == v.size());
    for (std::size_t i = 0; i < v.size(); ++i) {
        same(thermal_noise(cases[i].at("R").get<double>() * ohm, {cases[i].at("T").get<double>() - 273.15},
                           cases[i].at("B").get<double>() * hertz)
                 .value(),
             v[i]);
    }
    published::check_recomputed(e, "v_1k_300K_1kHz", thermal_noise(1e3 * ohm, {26.85}, 1e3 * hertz).value());
    for (const double r : {1e2, 1e6}) {
        same(thermal_noise(r * ohm, {26.85}, noise_bandwidth(pole(r * ohm, 10e-12 * farad))).value(),
             std::sqrt(1.380649e-23 * 300.0 / 10e-12));
    }
}

TEST_CASE("settling takes the published number of time constants") {
    const auto e = published::entry("converters", "single-pole-settling");
    const double to_a_thousandth = settling_time(0.001, 1.0 * second).value();
    published::check_printed(e, "t_over_tau_0_1_percent", to_a_thousandth);
    published::check_recomputed(e, "t_0_1_percent", to_a_thousandth);
    const auto bits = e.at("inputs").at("bits").get<std::vector<int>>();
    for (std::size_t i = 0; i < bits.size(); ++i) {
        const duration t = settling_time_to_half_a_code(bits[i], 2.0 * second);
        same(t.value() / 2.0, e.at("recomputed").at("half_lsb")[i]);
        same(left_after(t, 2.0 * second).value(), 0.5 / std::ldexp(1.0, bits[i]));
    }
}

TEST_CASE("effective bits are those of a full-scale sine over noise and quantisation") {
    const auto e = published::entry("converters", "adc-ideal-snr");
    const auto bits = e.at("inputs").at("bits").get<std::vector<int>>();
    for (const int n : bits) CHECK(effective_bits(n, 0.0 * code) == n);
    // SINAD of an amplitude of half the codes, then (SINAD - offset) / slope
    const double sinad = 20.0 * std::log10(std::ldexp(1.0, 11) / std::sqrt(2.0) / std::sqrt(0.49 + 1.0 / 12.0));
    const auto& exact = e.at("recomputed");
    same(effective_bits(12, 0.7 * code),
         (sinad - exact.at("offset_dB").get<double>()) / exact.at("slope_dB_per_bit").get<double>());
    same(noise_free_bits(12, 1.0 * code), 12.0 - std::log2(6.6));
    CHECK(noise_free_bits(12, 0.0 * code) == 12.0);
    CHECK(noise_free_bits(8, 1e6 * code) == 0.0);
}

TEST_CASE("a sampling capacitor that is emptied each time loads like 1 / (fs Cs): the circuit with that resistor loses as much") {
    same(sampling_load(250e3 * hertz, 10e-12 * farad).value(), 400e3);
    for (const double fs : {1e3, 100e3, 1e6}) {
        const resistance at_pin = 18e3 * ohm;
        circuit c;
        const auto in = c.add_node("in"), pin = c.add_node("pin");
        const auto source = c.add_source(in, circuit::ground, 1.0 * volt);
        c.add_resistor(in, pin, at_pin);
        c.add_resistor(pin, circuit::ground, sampling_load(fs * hertz, 10e-12 * farad));
        same(shared_charge(at_pin, 10e-6 * farad, 10e-12 * farad, fs * hertz).value(), 1.0 - c.response(source, pin).value(),
             5e-3);
    }
}

TEST_CASE("shared charge is what sample after sample comes to, stepped one by one") {
    for (const double fs : {1e3, 30e3, 1e6}) {
        const double r = 20e3, c_pin = 2e-9, c_s = 20e-12, v = 2.0, held = 0.5;
        double pin = v;
        double sample = v;
        for (int i = 0; i < 20000; ++i) {
            sample = (c_pin * pin + c_s * held) / (c_pin + c_s);
            pin = v + (sample - v) * std::exp(-1.0 / (fs * r * (c_pin + c_s)));
        }
        same(shared_charge(r * ohm, c_pin * farad, c_s * farad, fs * hertz).value(), (v - sample) / (v - held), 1e-8);
    }
}

TEST_CASE("what an emptied capacitor misses, sample after sample, is what its two circuits come to, stepped one by one") {
    struct pin {
        double c_pin, connected;
    };
    for (const double fs : {1e3, 30e3, 200e3}) {
        for (const pin& p : {pin{0.0, 1e-6}, pin{20e-12, 1e-6}, pin{20e-12, 4e-6}, pin{500e-12, 2e-6}, pin{2e-9, 1e-6}}) {
            CAPTURE(fs);
            CAPTURE(p.c_pin);
            CAPTURE(p.connected);
            const double r = 80e3, c_s = 12e-12, v = 2.0;
            double pin = v;
            double sample = v;
            for (int i = 0; i < 20000; ++i) {
                sample = p.c_pin * pin / (p.c_pin + c_s);  // shared at once with a capacitor that is empty
                sample = v + (sample - v) * std::exp(-p.connected / (r * (p.c_pin + c_s)));
                pin = p.c_pin > 0.0 ? v + (sample - v) * std::exp(-(1.0 / fs - p.connected) / (r * p.c_pin)) : v;
            }
            same(missed_when_emptied(r * ohm, {}, p.c_pin * farad, c_s * farad, p.connected * second, fs * hertz).value(),
                 (v - sample) / v, 1e-8);
        }
    }
    // Without a capacitor at the pin it is what the time leaves, at any rate; with a large one what shared_charge gives.
    for (const double fs : {1e3, 400e3}) {
        same(missed_when_emptied(80e3 * ohm, 2e3 * ohm, {}, 12e-12 * farad, 2e-6 * second, fs * hertz).value(),
             std::exp(-2e-6 / (82e3 * 12e-12)));
        same(missed_when_emptied(80e3 * ohm, {}, 10e-6 * farad, 12e-12 * farad, 1e-9 * second, fs * hertz).value(),
             shared_charge(80e3 * ohm, 10e-6 * farad, 12e-12 * farad, fs * hertz).value(), 1e-4);
    }
    // A converter that is connected for longer than its samples are apart: as if there were no pause.
    const auto without_a_pause = [](double connected) {
        return missed_when_emptied(80e3 * ohm, {}, 1e-9 * farad, 12e-12 * farad, connected * second, 1e6 * hertz).value();
    };
    same(without_a_pause(1e-6), without_a_pause(1e-6 * (1.0 + 1e-12)), 1e-6);
}

TEST_CASE("away from its calibration a gain changes as the circuit with the sampling capacitor's load does") {
    // A capacitor of 1 uF at the pin: on average the sampling capacitor is a resistor to ground.
    const chain c = control_voltage();
    const mode m{10e3 * hertz, 1, "DC", "battery", ""};
    const pin_details pin{10e-12 * farad, {}, 1e-6 * second, 1e-6 * farad};
    const auto response = [&](double fs, double rs) {
        circuit k;
        const auto in = k.add_node("in"), node = k.add_node("node");
        const auto source = k.add_source(in, circuit::ground, 1.0 * volt);
        k.add_resistor(in, node, 100e3 * ohm + rs * ohm);
        k.add_resistor(node, circuit::ground, 22e3 * ohm);
        if (fs > 0.0) k.add_resistor(node, circuit::ground, sampling_load(fs * hertz, 10e-12 * farad));
        return k.response(source, node).value();
    };
    const auto gain = [&](double fs, double rs) { return response(fs, rs) / response(0.0, rs); };
    for (const double fs : {2e3, 10e3, 250e3}) {
        for (const double rs : {0.0, 50e3, 1e6}) {
            CAPTURE(fs);
            CAPTURE(rs);
            same(1.0 + gain_by_sampling(c, {fs * hertz, 1, "DC", "battery", ""}, pin, rs * ohm).value(), gain(fs, rs), 2e-5);
            same(1.0 + gain_away_from(c, m, pin, fs * hertz, rs * ohm).value(), gain(fs, rs) / gain(10e3, 0.0), 2e-5);
        }
    }
    CHECK(gain_away_from(c, m, pin, 10e3 * hertz, {}).value() == 0.0);
    // four conversions a code are four samples
    same(gain_by_sampling(c, {10e3 * hertz, 4, "DC", "battery", ""}, pin).value(),
         gain_by_sampling(c, {40e3 * hertz, 1, "DC", "battery", ""}, pin).value());
    CHECK(message([&] { (void)gain_away_from(c, m, pin, 0.0 * hertz, {}); }) ==
          "converter's pin, sample rate: 0 Hz, expected more than 0; correct it");
}

TEST_CASE("a leakage doubles with every ten kelvin") {
    CHECK(leakage_growth(0.0 * kelvin).value() == 1.0);
    same(leakage_growth(10.0 * kelvin).value(), 2.0);
    same(leakage_growth(-20.0 * kelvin).value(), 0.25);
}

TEST_CASE("an amplifier's closed forms are what its circuit solves") {
    const voltage v = 0.4 * volt, offset = 1e-3 * volt;
    const resistance rs = 50e3 * ohm, rf = 30e3 * ohm, rg = 10e3 * ohm;
    const current plus = 30e-9 * ampere, minus = 25e-9 * ampere;
    circuit c;
    const auto in = c.add_node("in"), p = c.add_node("plus"), m = c.add_node("minus"), out = c.add_node("out");
    const auto source = c.add_source(in, circuit::ground, v);
    c.add_resistor(in, p, rs);
    c.add_resistor(out, m, rf);
    c.add_resistor(m, circuit::ground, rg);
    c.add_current(p, circuit::ground, plus);
    c.add_current(m, circuit::ground, minus);
    c.add_amplifier(p, m, out, 2e3, offset);
    same(amplified{}(v, rs, offset, plus, minus, 2e3, rf, rg).value(), c.solve().nodes[out].value());
    same(closed_loop_gain{}(2e3, rf, rg), c.response(source, out).value());
    // one pole of the open loop: A / (1 + j f / f0) closed is GBW beta wide
    const double a = 1e6, f0 = 10.0, beta = 0.25;
    const double f = amplifier_bandwidth(a * f0 * hertz, rf, rg).value();
    const double magnitude = a / std::hypot(1.0 + a * beta, f / f0);
    same(magnitude, a / (1.0 + a * beta) * std::sqrt(0.5), 1e-4);
}

TEST_CASE("the figures of a pin are those of its parts") {
    const pin_details pin{8e-12 * farad, 1e3 * ohm, 1e-6 * second, {}, 50e-9 * ampere};
    const mode m{10e3 * hertz, 1, "DC", "battery", ""};
    const pin_figures f = figures_of_pin(control_voltage(), m, pin, 1e3 * ohm);
    same(f.at_pin.value(), 101e3 * 22e3 / 123e3);
    same(f.missing.value(), std::exp(-1e-6 / ((101e3 * 22e3 / 123e3 + 1e3) * 8e-12)));
    same(f.offset_by_leakage.value(), 50e-9 * 101e3);  // pushed back through source and top alone
    CHECK(f.bandwidth.value() == 0.0);
    CHECK(f.rise_time.value() == 0.0);
    same(f.gain_by_sampling.value(), -f.missing.value());  // an emptied capacitor misses that part of the whole voltage
    // Noise by hand. At the pin sqrt(kT/C), whatever the resistance: k 298.15 K = 4.116405e-21 J, over 8 pF: 5.145506e-10 V², 22.68371 uV.
    // To what drives the connector by the divider, 123k over 22k: 126.8226 uV. Of 2.5 V in 4096 codes it is 0.03716499 code, beside 0.5 code
    // of the converter 0.5013793. Free of it are 12 - log2(6.6 x 0.5013793) = 12 - 1.726440 bits; and effective are, with 1/12 of a code
    // squared for quantisation, 12 - log2(1 + 12 x 0.5013793²) / 2 = 12 - log2(4.016575) / 2 = 12 - 1.002983.
    same(f.thermal_noise.value(), 126.8226e-6, 1e-6);
    same(f.noise.value(), 0.5013793, 1e-6);
    same(f.noise_free_bits, 10.273560, 1e-6);
    same(f.effective_bits, 10.997017, 1e-6);
    REQUIRE(f.text.size() == 2);
    CHECK(f.text[0] ==
          "The sampling capacitor settles to 5.8 codes of the full range in 1 µs; half a code takes 1.37 µs: sample for longer, "
          "put a capacitor of more than 33 nF at the pin, or buffer it.");
    CHECK(f.text[1] ==
          "Leakage of the pin shifts a reading by up to 5 mV, 1.5 codes, and doubles with every ten kelvin or so (common "
          "practice, no source): a zero step takes it off at its temperature alone.");

    // with the capacitor that it asks for, the sample stands
    pin_details better = pin;
    better.at_pin = 68e-9 * farad;
    better.leakage = {};
    const pin_figures g = figures_of_pin(control_voltage(), {10.0 * hertz, 1, "DC", "battery", ""}, better, 1e3 * ohm);
    CHECK(g.text.empty());
    same(g.bandwidth.value(), pole(g.at_pin, 68e-9 * farad).value());
    same(g.rise_time.value(), rise_time(g.bandwidth).value());
    // sqrt(kT/C) again, with what is at the pin: 4.116405e-21 J over 68 nF, 246.0394 nV, at what drives the connector 1.375584 uV
    same(g.thermal_noise.value(), 1.375584e-6, 1e-6);
    same(figures_of_pin(control_voltage(), {10.0 * hertz, 8, "DC", "battery", ""}, better, 1e3 * ohm).missing.value(),
         shared_charge(g.at_pin, 68e-9 * farad, 8e-12 * farad, 80.0 * hertz).value());
    // and loses it where the sample rate leaves no time to recover: s = 8 / 68008, of 18.06504 kohm times 68.008 nF a sample's 10 us are
    // 0.008139562, so 1 - a = 0.008106526 and s / (1 - a + a s) = 0.01430503, of 4096 codes 58.6
    const pin_figures fast = figures_of_pin(control_voltage(), {100e3 * hertz, 1, "DC", "battery", ""}, better, 1e3 * ohm);
    same(fast.missing.value(), 0.01430503, 1e-6);
    // With the microsecond of sampling, 1 kohm of the switch before it, and 9 us alone: a = exp(-1 us / (19.06504 kohm x 68.008 nF)) =
    // 0.999229035, b = exp(-9 us / (18.06504 kohm x 68 nF)) = 0.992700305, a s / (1 - a b (1 - s)) = 0.01436649
    same(fast.gain_by_sampling.value(), -0.01436649, 1e-6);
    REQUIRE(fast.text.size() == 1);
    CHECK(fast.text[0] ==
          "Each sample misses 1.4 % of the difference to what the sampling capacitor held before, 59 codes of the full range: "
          "sample more slowly, or lower the 18.1 kΩ that the pin sees, or buffer it.");
}

TEST_CASE("thermal noise is told where it is above the converter's own, and only there") {
    // 0.03717 code at the pin and 127 uV at what drives the connector: derived above
    const pin_details pin{8e-12 * farad, 1e3 * ohm, 10e-6 * second};
    const mode m{10e3 * hertz, 1, "DC", "battery", ""};
    chain c = control_voltage();
    const auto said = [&](double converter) {
        c.adc.noise = converter * code;
        return figures_of_pin(c, m, pin, 1e3 * ohm).text;
    };
    REQUIRE(said(0.036).size() == 1);
    CHECK(said(0.036)[0] ==
          "Thermal noise of the resistors, 127 µV rms at the connector, is above the converter's own: lower resistors or less "
          "bandwidth lower it.");
    CHECK(said(0.038).empty());
    CHECK(said(0.0).empty());  // not stated
}

TEST_CASE("a fed reference stands where a circuit with its load puts it") {
    const voltage supply = 5.0 * volt;
    const current drawn = 1.2e-3 * ampere;
    const resistance r = 100.0 * ohm;
    CHECK(std::abs((fed_reference{}(supply, drawn, r) - 4.88 * volt).value()) < 1e-12);
    circuit c;
    const auto feed = c.add_node("feed"), reference = c.add_node("reference");
    const auto source = c.add_source(feed, circuit::ground, supply);
    c.add_resistor(feed, reference, r);
    c.add_current(reference, circuit::ground, drawn);
    same(fed_reference{}(supply, drawn, r).value(), c.solve().nodes[reference].value());
    // what the supply moves, the reference moves
    same(((fed_reference{}(supply + 0.1 * volt, drawn, r) - fed_reference{}(supply, drawn, r)) / (0.1 * volt)).value(),
         c.response(source, reference).value());
}

TEST_CASE("a pin without its figures is refused") {
    const mode m{10e3 * hertz, 1, "DC", "battery", ""};
    CHECK(message([&] { (void)figures_of_pin(control_voltage(), m, {}); }) ==
          "converter's pin, sampling capacitor: 0 F, expected more than 0; correct it");
    pin_details pin{8e-12 * farad, 1e3 * ohm, 1e-6 * second, {}, -1.0 * ampere};
    CHECK(message([&] { (void)figures_of_pin(control_voltage(), m, pin); }) ==
          "converter's pin, leakage: -1 A, expected 0 or more; correct it");
}

}  // namespace pin_test
