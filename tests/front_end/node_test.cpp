#include <plumbline/front_end/node.hpp>

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/units/dual.hpp>
#include <string>

namespace node_test {

using namespace plumbline;
using namespace plumbline::front_end;

namespace {

using R = dual<resistance::unit_type, 2>;

chain divider() {
    chain c;
    c.input.top = {900e3 * ohm, {}, {}};
    c.input.bottom = resistor{100e3 * ohm, {}, {}};
    c.adc.bits = 12;
    c.adc.reference = 2.5 * volt;
    c.low = 0.0 * volt;
    c.high = 25.0 * volt;
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

TEST_CASE("a divider alone reads full scale at the reference over its ratio") {
    const chain c = divider();
    CHECK(std::abs(nominal_gain(c).value() * 4096.0 - 25.0) <= 1e-12);
    CHECK(std::abs(nominal_offset(c).value()) <= 1e-15);
    CHECK(std::abs(nominal_input_resistance(c).value() - 1e6) <= 1e-6);
}

TEST_CASE("the logarithmic sensitivities of a divider's ratio are -(1 - k) and 1 - k") {
    // k = Rb / (Rt + Rb) from the node equation: connector voltage V at a node of 1 V is 1 / k
    const double rt = 900e3;
    const double rb = 100e3;
    const auto v =
        connector_voltage{{true, false}}(1.0 * volt, R::variable(rt * ohm, 0), R::variable(rb * ohm, 1), 1.0 * ohm, 0.0 * volt);
    const double k = rb / (rt + rb);
    const double ln_slope_top = -v.derivative(0) * rt / v.value().value();  // of k, hence the sign
    const double ln_slope_bottom = -v.derivative(1) * rb / v.value().value();
    CHECK(std::abs(ln_slope_top + (1.0 - k)) <= 1e-12);
    CHECK(std::abs(ln_slope_bottom - (1.0 - k)) <= 1e-12);
}

TEST_CASE("the node equation holds: the currents into the node add up to nothing") {
    const double rt = 1e6;
    const double rb = 430e3;
    const double rs = 300e3;
    const double supply = 3.3;
    for (const double node : {0.0, 0.4, 1.65, 3.3}) {
        const double v = connector_voltage{{true, true}}(node * volt, rt * ohm, rb * ohm, rs * ohm, supply * volt).value();
        CHECK(std::abs((v - node) / rt - node / rb + (supply - node) / rs) <= 1e-18);
    }
    // the open connector shows the node's voltage without input current
    const double open = open_voltage{{true, true}}(rb * ohm, rs * ohm, supply * volt).value();
    CHECK(std::abs(-open / rb + (supply - open) / rs) <= 1e-18);
    CHECK(open_voltage{{true, false}}(rb * ohm, rs * ohm, supply * volt).value() == 0.0);
}

TEST_CASE("a loaded source lies between its own voltage and that of the open connector") {
    const double v = loaded{}(1.0 * volt, 1e3 * ohm, 0.5 * volt, 1e6 * ohm).value();
    CHECK(std::abs(v - (1.0 - 0.5 * 1e3 / 1.001e6)) <= 1e-15);
}

TEST_CASE("a front end that cannot be is refused with what was found") {
    chain c = divider();
    CHECK(message(c) == "no exception");
    c.input.bottom.reset();
    CHECK(
        message(c) ==
        "front end, network: neither a bottom resistor nor a bias branch, expected at least one of them; correct the front end");
    c = divider();
    c.input.top.nominal = 0.0 * ohm;
    CHECK(message(c) == "front end, top resistor: 0 ohm, expected more than 0 ohm; correct the front end");
    c = divider();
    c.adc.bits = 40;
    CHECK(message(c) == "front end, converter: 40 bits, expected 1 to 24 bits; correct the front end");
    c = divider();
    c.high = c.low;
    CHECK(message(c) == "front end, range: 0 V to 0 V, expected a low end below the high end; correct the front end");
    c = divider();
    c.input.bias = bias_branch{{1e5 * ohm, {}, {}}, 3.3 * volt, true, {}, {}};
    CHECK(message(c) ==
          "front end, bias supply: 3.3 V, expected the converter's reference, 2.5 V, since it comes from there; correct the "
          "front end");
}

}  // namespace node_test
