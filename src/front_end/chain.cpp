#include <plumbline/front_end/node.hpp>

#include <fmt/format.h>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::front_end {

namespace {

// stands for an absent branch in the callables, which do not look at it
constexpr resistance absent = 1.0 * ohm;

voltage reading_at(const chain& c, codes at) {
    const network& n = c.input;
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

resistance nominal_pin_resistance(const chain& c, resistance source) {
    const network& n = c.input;
    return pin_resistance{branches_of(n)}(n.top.nominal + source, n.bottom ? n.bottom->nominal : absent,
                                          n.bias ? n.bias->branch.nominal : absent);
}

voltage nominal_node_voltage(const chain& c, voltage at_connector) {
    const codes at = (at_connector - nominal_offset(c)) / nominal_gain(c);
    return node_voltage{c.adc.bits}(at, c.adc.reference);
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
    expect(c.low < c.high, where + ", range", fmt::format("{} V to {} V", c.low.value(), c.high.value()),
           "a low end below the high end");
}

}  // namespace plumbline::inline v0::front_end
