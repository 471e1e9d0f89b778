#include <plumbline/front_end/node.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/front_end/amplifier.hpp>

namespace plumbline::inline v0::front_end {

namespace {

// stands for an absent branch in the callables, which do not look at it
constexpr resistance absent = 1.0 * ohm;

struct nominal_gain_resistors {
    resistance feedback, ground;
};

nominal_gain_resistors nominal_of(const amplifier_stage& a) {
    if (!a.gain) return {0.0 * ohm, absent};
    return {a.gain->feedback.nominal, a.gain->ground.nominal};
}

voltage reading_at(const chain& c, codes at) {
    const network& n = c.input;
    if (c.amplifier) {
        const nominal_gain_resistors by = nominal_of(*c.amplifier);
        const voltage node =
            before_amplifier{}(converter_voltage{c.adc.bits}(at, 0.0 * code, ratio(0.0), c.adc.reference), 0.0 * volt,
                               0.0 * ampere, nominal_one_over_a(*c.amplifier), by.feedback, by.ground);
        return connector_voltage{branches_of(n)}(node, n.top.nominal, n.bottom ? n.bottom->nominal : absent,
                                                 n.bias ? n.bias->branch.nominal : absent, n.bias ? n.bias->supply : 0.0 * volt);
    }
    return nominal_reading{c.adc.bits, branches_of(n)}(
        at, 0.0 * code, ratio(0.0), c.adc.reference, n.top.nominal, n.bottom ? n.bottom->nominal : absent,
        n.bias ? n.bias->branch.nominal : absent, n.bias ? n.bias->supply : 0.0 * volt);
}

void expect(bool good, const std::string& where, const std::string& found, const std::string& expected) {
    if (!good) throw bad_input(where, found, expected, "correct the front end");
}

void expect_resistor(const resistor& r, const std::string& where) {
    expect(r.nominal.value() > 0.0 && std::isfinite(r.nominal.value()), where + " resistor",
           fmt::format("{} ohm", r.nominal.value()), "more than 0 ohm");
    expect(r.tolerance.value() >= 0.0 && r.tolerance.value() < 1.0, where + " resistor",
           fmt::format("a tolerance of {}", r.tolerance.value()), "a fraction from 0 to less than 1");
    expect(r.temperature_coefficient.value() >= 0.0, where + " resistor",
           fmt::format("a temperature coefficient of {} 1/K", r.temperature_coefficient.value()), "its limits as 0 or more");
}

void expect_limit(double found, const char* what, const char* unit, const std::string& where) {
    expect(found >= 0.0 && std::isfinite(found), where, fmt::format("{} of {} {}", what, found, unit), "its limits as 0 or more");
}

/// What the amplifier's output would be for a voltage at the connector.
voltage nominal_output(const chain& c, voltage at_connector) {
    return node_voltage{c.adc.bits}((at_connector - nominal_offset(c)) / nominal_gain(c), c.adc.reference);
}

void expect_amplifier(const chain& c, const amplifier_stage& a, const std::string& where) {
    if (a.gain) {
        expect_resistor(a.gain->feedback, where + ", feedback");
        expect_resistor(a.gain->ground, where + ", ground");
    }
    expect_limit(a.offset_limit.value(), "an offset", "V", where);
    expect_limit(a.offset_drift.value(), "a drift of the offset", "V/K", where);
    expect_limit(a.bias_current.value(), "a bias current", "A", where);
    expect_limit(a.bias_current_drift.value(), "a drift of the bias current", "A/K", where);
    expect(a.open_loop_gain > 1.0 && std::isfinite(a.open_loop_gain), where,
           fmt::format("an open-loop gain of {}", a.open_loop_gain), "more than 1");
    expect(!a.gain_bandwidth || (a.gain_bandwidth->value() > 0.0 && std::isfinite(a.gain_bandwidth->value())), where,
           fmt::format("a gain-bandwidth product of {} Hz", a.gain_bandwidth ? a.gain_bandwidth->value() : 0.0),
           "more than 0 Hz");
    const double one_code = std::ldexp(c.adc.reference.value(), -c.adc.bits);  // an end may stand on the last code's edge
    const double lowest = std::max(a.lowest_output.value_or(voltage()), voltage()).value();
    const double highest = std::min(a.highest_output.value_or(c.adc.reference), c.adc.reference).value();
    for (const voltage& end : {c.low, c.high}) {
        const double out = nominal_output(c, end).value();
        expect(out >= lowest - one_code && out <= highest + one_code, where,
               fmt::format("an output of {:.4g} V at {} V", out, end.value()),
               fmt::format("{:.4g} V to {:.4g} V, which amplifier and converter reach", lowest, highest));
    }
}

}  // namespace

volts_per_code nominal_gain(const chain& c) { return (reading_at(c, 1.0 * code) - reading_at(c, 0.0 * code)) / (1.0 * code); }

voltage nominal_offset(const chain& c) { return reading_at(c, 0.0 * code); }

resistance nominal_input_resistance(const chain& c) {
    const network& n = c.input;
    return input_resistance{branches_of(n)}(n.top.nominal, n.bottom ? n.bottom->nominal : absent,
                                            n.bias ? n.bias->branch.nominal : absent);
}

voltage nominal_open_voltage(const chain& c) {
    const network& n = c.input;
    return open_voltage{branches_of(n)}(n.bottom ? n.bottom->nominal : absent, n.bias ? n.bias->branch.nominal : absent,
                                        n.bias ? n.bias->supply : 0.0 * volt);
}

resistance nominal_node_resistance(const chain& c, resistance source) {
    const network& n = c.input;
    return pin_resistance{branches_of(n)}(n.top.nominal + source, n.bottom ? n.bottom->nominal : absent,
                                          n.bias ? n.bias->branch.nominal : absent);
}

resistance nominal_pin_resistance(const chain& c, resistance source) {
    return c.amplifier ? resistance() : nominal_node_resistance(c, source);
}

ratio nominal_one_over_a(const amplifier_stage& a) { return ratio(0.5 / a.open_loop_gain); }

ratio nominal_inverse_gain(const amplifier_stage& a) {
    const nominal_gain_resistors by = nominal_of(a);
    return inverse_gain{}(nominal_one_over_a(a), by.feedback, by.ground);
}

frequency amplifier_bandwidth(const amplifier_stage& a) {
    const nominal_gain_resistors by = nominal_of(a);
    return amplifier_bandwidth(a.gain_bandwidth.value_or(frequency()), by.feedback, by.ground);
}

voltage unmoved_by_reference(const chain& c) {
    return c.input.bias && c.input.bias->from_converter_reference ? voltage() : nominal_offset(c);
}

voltage nominal_node_voltage(const chain& c, voltage at_connector) {
    const voltage at_converter = nominal_output(c, at_connector);
    return c.amplifier ? at_converter * nominal_inverse_gain(*c.amplifier) : at_converter;
}

void expect_sound(const chain& c, const std::string& where) {
    expect_resistor(c.input.top, where + ", top");
    if (c.input.bottom) expect_resistor(*c.input.bottom, where + ", bottom");
    if (c.input.bias) {
        expect_resistor(c.input.bias->branch, where + ", bias");
        expect(!c.input.bias->from_converter_reference || c.input.bias->supply == c.adc.reference, where + ", bias supply",
               fmt::format("{} V", c.input.bias->supply.value()),
               fmt::format("the converter's reference, {} V, since it comes from there", c.adc.reference.value()));
    }
    expect(c.input.bottom || c.input.bias, where + ", network", "neither a bottom resistor nor a bias branch",
           "at least one of them");
    expect(c.adc.bits >= 1 && c.adc.bits <= 24, where + ", converter", fmt::format("{} bits", c.adc.bits), "1 to 24 bits");
    expect(c.adc.reference.value() > 0.0 && std::isfinite(c.adc.reference.value()), where + ", converter",
           fmt::format("a reference of {} V", c.adc.reference.value()), "more than 0 V");
    expect(!c.adc.reference_by_supply || (c.adc.reference_by_supply->value() >= 0.0 && c.adc.reference_by_supply->value() < 1.0),
           where + ", converter",
           fmt::format("a reference that its supply moves by {}", c.adc.reference_by_supply.value_or(ratio(0.0)).value()),
           "a fraction from 0 to less than 1");
    expect(c.low < c.high, where + ", range", fmt::format("{} V to {} V", c.low.value(), c.high.value()),
           "a low end below the high end");
    if (c.amplifier) expect_amplifier(c, *c.amplifier, where + ", amplifier");
}

}  // namespace plumbline::inline v0::front_end
