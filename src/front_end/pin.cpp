#include <plumbline/front_end/pin.hpp>

#include "../units/figures.hpp"

#include <fmt/format.h>

#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/noise.hpp>
#include <plumbline/front_end/sampling.hpp>

namespace plumbline::inline v0::front_end {

namespace {

constexpr double reservoir = 100.0;  // of the sampling capacitor: one sample then takes less than 1 % of a change

void expect_pin(bool good, const char* what, double found, const char* unit, const char* expected) {
    if (!good)
        throw bad_input(fmt::format("converter's pin, {}", what), fmt::format("{} {}", found, unit), expected, "correct it");
}

void expect_sound_pin(const pin_details& p, const mode& m, resistance source, celsius temperature) {
    const auto positive = [](const char* what, auto q, const char* unit) {
        expect_pin(q.value() > 0.0 && std::isfinite(q.value()), what, q.value(), unit, "more than 0");
    };
    const auto not_below = [](const char* what, auto q, const char* unit) {
        expect_pin(q.value() >= 0.0 && std::isfinite(q.value()), what, q.value(), unit, "0 or more");
    };
    positive("sampling capacitor", p.sampling, "F");
    positive("sampling time", p.sampling_time, "s");
    positive("sample rate", m.sample_rate, "Hz");
    not_below("switch", p.switch_on, "ohm");
    not_below("capacitor at the pin", p.at_pin, "F");
    not_below("leakage", p.leakage, "A");
    not_below("source", source, "ohm");
    expect_pin(temperature.degrees > -273.15 && std::isfinite(temperature.degrees), "temperature", temperature.degrees,
               "degrees Celsius", "a temperature");
}

frequency conversions_of(const mode& m) { return static_cast<double>(m.oversampling) * m.sample_rate; }

/// What limits a signal on its way to the pin, 0 Hz where that is not known, and the thermal noise there.
struct at_the_pin {
    frequency bandwidth;
    voltage noise;
};

at_the_pin behind_network(resistance at_pin, const pin_details& pin, celsius temperature) {
    const bool has_capacitor = pin.at_pin > capacitance();
    const frequency f = pole(at_pin, has_capacitor ? pin.at_pin : pin.sampling);
    return {has_capacitor ? f : frequency(), front_end::thermal_noise(at_pin, temperature, noise_bandwidth(f))};
}

at_the_pin behind_amplifier(const amplifier_stage& a, resistance at_node, celsius temperature) {
    if (!a.gain_bandwidth) return {};
    const frequency f = amplifier_bandwidth(a);
    const resistance at_minus =
        a.gain ? a.gain->feedback.nominal * a.gain->ground.nominal / (a.gain->feedback.nominal + a.gain->ground.nominal)
               : resistance();
    return {f, front_end::thermal_noise(at_node + at_minus, temperature, noise_bandwidth(f)) / nominal_inverse_gain(a)};
}

}  // namespace

ratio gain_by_sampling(const chain& c, const mode& m, const pin_details& pin, resistance source) {
    expect_sound(c, "front end");
    expect_sound_pin(pin, m, source, {25.0});
    return -1.0 * missed_when_emptied(nominal_pin_resistance(c, source), pin.switch_on, pin.at_pin, pin.sampling,
                                      pin.sampling_time, conversions_of(m));
}

ratio gain_away_from(const chain& c, const mode& calibrated, const pin_details& pin, frequency sample_rate, resistance source) {
    mode now = calibrated;
    now.sample_rate = sample_rate;
    return (1.0 + gain_by_sampling(c, now, pin, source)) / (1.0 + gain_by_sampling(c, calibrated, pin)) - 1.0;
}

pin_figures figures_of_pin(const chain& c, const mode& m, const pin_details& pin, resistance source, celsius temperature) {
    expect_sound(c, "front end");
    expect_sound_pin(pin, m, source, temperature);
    pin_figures f;
    f.at_pin = nominal_pin_resistance(c, source);
    const bool has_reservoir = pin.at_pin > reservoir * pin.sampling;
    f.missing = c.amplifier ? left_after(pin.sampling_time, sampling_time_constant(f.at_pin, pin.switch_on, pin.sampling))
                : has_reservoir
                    ? shared_charge(f.at_pin, pin.at_pin, pin.sampling, conversions_of(m))
                    : left_after(pin.sampling_time, sampling_time_constant(f.at_pin, pin.switch_on, pin.sampling + pin.at_pin));
    f.gain_by_sampling = gain_by_sampling(c, m, pin, source);
    const double node_per_connector = ((node_voltage{c.adc.bits}(1.0 * code, c.adc.reference)) / (nominal_gain(c) * (1.0 * code)))
                                          .value();  // slope of the node against the connector
    // The source's resistance lowers the slope that the leakage is divided by.
    const double slope = node_per_connector * (nominal_input_resistance(c) / (nominal_input_resistance(c) + source)).value();
    f.offset_by_leakage = leakage_shift(pin.leakage, f.at_pin) / slope;
    const at_the_pin pole_there = c.amplifier ? behind_amplifier(*c.amplifier, nominal_node_resistance(c, source), temperature)
                                              : behind_network(f.at_pin, pin, temperature);
    if (pole_there.bandwidth > frequency()) {
        f.bandwidth = pole_there.bandwidth;
        f.rise_time = rise_time(f.bandwidth);
    }
    const voltage at_node = pole_there.noise;
    f.thermal_noise = at_node / slope;
    const double full = std::ldexp(1.0, c.adc.bits);
    f.noise = std::hypot((at_node / c.adc.reference).value() * full, c.adc.noise.value()) * code;
    f.noise_free_bits = front_end::noise_free_bits(c.adc.bits, f.noise);
    f.effective_bits = front_end::effective_bits(c.adc.bits, f.noise);

    const double half_a_code = 0.5 / full;
    if (f.missing.value() > half_a_code) {
        const duration tau = sampling_time_constant(f.at_pin, pin.switch_on, pin.sampling + pin.at_pin);
        f.text.push_back(
            has_reservoir
                ? fmt::format(
                      "Each sample misses {} of the difference to what the sampling capacitor held before, {} codes of the "
                      "full range: sample more slowly, or lower the {} that the pin sees, or buffer it.",
                      shown(100.0 * f.missing.value(), "1", 2) + " %", shown(f.missing.value() * full, "1", 2),
                      shown(f.at_pin, "ohm"))
                : fmt::format(
                      "The sampling capacitor settles to {} codes of the full range in {}; half a code takes {}: sample for "
                      "longer, put a capacitor of more than {} at the pin, or buffer it.",
                      shown(f.missing.value() * full, "1", 2), shown(pin.sampling_time, "s"),
                      shown(settling_time_to_half_a_code(c.adc.bits, tau), "s"), shown(full * pin.sampling.value(), "F", 2)));
    }
    const volts_per_code gain = nominal_gain(c);
    if (f.offset_by_leakage > 0.5 * code * gain) {
        f.text.push_back(
            fmt::format("Leakage of the pin shifts a reading by up to {}, {} codes, and doubles with every ten kelvin or "
                        "so (common practice, no source): a zero step takes it off at its temperature alone.",
                        shown(f.offset_by_leakage, "V", 2), shown((f.offset_by_leakage / gain).value(), "1", 2)));
    }
    if (at_node / c.adc.reference * full > c.adc.noise.value() && c.adc.noise > codes()) {
        f.text.push_back(
            fmt::format("Thermal noise of the resistors, {} rms at the connector, is above the converter's own: lower "
                        "resistors or less bandwidth lower it.",
                        shown(f.thermal_noise, "V", 2)));
    }
    return f;
}

}  // namespace plumbline::inline v0::front_end
