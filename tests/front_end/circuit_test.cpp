#include <plumbline/front_end/circuit.hpp>

#include <doctest/doctest.h>

#include "message.hpp"

#include <array>
#include <cmath>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/probe.hpp>
#include <random>

namespace circuit_test {

using namespace plumbline;
using namespace plumbline::front_end;
using refused::message;

namespace {

void same(double found, double expected, double relative = 1e-9) {
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(std::abs(found - expected) <= relative * std::abs(expected));
}

}  // namespace

TEST_CASE("the node equation's closed forms are what the circuit solves, for all kinds of network") {
    std::mt19937 random(1);
    std::uniform_real_distribution<double> power(3.0, 7.0);
    std::uniform_real_distribution<double> volts(-20.0, 20.0);
    const auto any = [&] { return std::pow(10.0, power(random)) * ohm; };
    for (int i = 0; i < 60; ++i) {
        const branches has{i % 3 != 0, i % 3 != 1};
        const resistance top = any(), bottom = any(), bias = any(), rs = any();
        const voltage supply = 3.3 * volt, v = volts(random) * volt;
        circuit c;
        const auto source = c.add_node("source"), connector = c.add_node("connector"), node = c.add_node("node");
        const auto fed = c.add_source(source, circuit::ground, v);
        c.add_resistor(source, connector, rs);
        c.add_resistor(connector, node, top);
        if (has.bottom) c.add_resistor(node, circuit::ground, bottom);
        if (has.bias) {
            const auto rail = c.add_node("rail");
            c.add_source(rail, circuit::ground, supply);
            c.add_resistor(rail, node, bias);
        }
        const operating_point o = c.solve();
        same(connector_voltage{has}(o.nodes[node], top, bottom, bias, supply).value(), o.nodes[connector].value(), 1e-7);
        const resistance r_in = input_resistance{has}(top, bottom, bias);
        const voltage open = open_voltage{has}(bottom, bias, supply);
        same(loaded{}(v, rs, open, r_in).value(), o.nodes[connector].value(), 1e-7);
        same(unloaded{}(o.nodes[connector], rs, open, r_in).value(), v.value(), 1e-7);
        same(c.seen_by(fed).value(), (rs + r_in).value());
        const double shunt = shunt_conductance{has}(bottom, bias).value();
        same(c.seen_between(node, circuit::ground).value(), pin_resistance{has}(rs + top, bottom, bias).value());
        same(c.response(fed, node).value(), 1.0 / (1.0 + (rs + top).value() * shunt));
    }
}

TEST_CASE("a bridge has the voltages and currents that its own equations give") {
    circuit c;
    const auto top = c.add_node("top"), left = c.add_node("left"), right = c.add_node("right");
    const auto source = c.add_source(top, circuit::ground, 10.0 * volt);
    c.add_resistor(top, left, 1e3 * ohm);
    c.add_resistor(top, right, 2e3 * ohm);
    c.add_resistor(left, circuit::ground, 3e3 * ohm);
    const auto lower = c.add_resistor(right, circuit::ground, 4e3 * ohm);
    const auto across = c.add_resistor(left, right, 5e3 * ohm);
    const operating_point o = c.solve();
    const double l = o.nodes[left].value(), r = o.nodes[right].value();
    CHECK(std::abs((10.0 - l) / 1e3 - l / 3e3 - (l - r) / 5e3) < 1e-15);
    CHECK(std::abs((10.0 - r) / 2e3 - r / 4e3 + (l - r) / 5e3) < 1e-15);
    same(o.currents[across].value(), (l - r) / 5e3);
    same(o.dissipated(lower).value(), r * r / 4e3);
    double all = 0.0;  // what is given is taken up
    for (std::size_t i = 0; i < o.currents.size(); ++i) all += o.dissipated(i).value();
    CHECK(std::abs(all) < 1e-15);
    CHECK(o.dissipated(source) < 0.0 * watt);
}

TEST_CASE("a clamp takes what is beyond its drop and nothing before") {
    circuit c;
    const auto in = c.add_node("in"), node = c.add_node("node"), rail = c.add_node("rail");
    const auto source = c.add_source(in, circuit::ground, 3.0 * volt);
    const auto supply = c.add_source(rail, circuit::ground, 3.3 * volt);
    c.add_resistor(in, node, 10e3 * ohm);
    c.add_resistor(node, circuit::ground, 1e9 * ohm);
    const auto up = c.add_clamp(node, rail, 0.5 * volt, 10.0 * ohm);
    const auto down = c.add_clamp(circuit::ground, node, 0.5 * volt, 10.0 * ohm);
    CHECK_FALSE(c.solve().conducts[up]);
    c.set_source(source, 24.0 * volt);
    const operating_point o = c.solve();
    CHECK(o.conducts[up]);
    CHECK_FALSE(o.conducts[down]);
    same(o.currents[up].value(), (24.0 - 3.8) / 10010.0, 1e-5);
    same(o.currents[supply].value(), o.currents[up].value());  // the supply has to take it
    same(o.dissipated(up).value(), o.currents[up].value() * (0.5 + 10.0 * o.currents[up].value()));
    c.set_source(source, -24.0 * volt);
    same(c.solve().currents[down].value(), 23.5 / 10010.0, 1e-4);
    CHECK(c.solve().currents[up].value() == 0.0);
}

TEST_CASE("with several clamps the solution found is the one state of all that contradicts none") {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> volts(-10.0, 10.0);
    std::uniform_real_distribution<double> power(2.0, 5.0);
    for (int i = 0; i < 40; ++i) {
        std::array<double, 3> v{};
        std::array<double, 5> r{};
        for (double& x : v) x = volts(random);
        for (double& x : r) x = std::pow(10.0, power(random));
        struct between {
            std::size_t a, b;
            double drop;
        };
        const std::array<between, 4> clamps{{{4, 0, 0.6}, {0, 5, 0.3}, {4, 5, 0.4}, {5, 4, 0.2}}};
        const auto build = [&](int state) {  // state below 0: real clamps; else each as the drop and resistance it is, or nothing
            circuit c;
            for (int n = 0; n < 5; ++n) c.add_node("n");
            for (std::size_t n = 0; n < 3; ++n) c.add_source(n + 1, 0, v[n] * volt);
            c.add_resistor(1, 4, r[0] * ohm);
            c.add_resistor(2, 4, r[1] * ohm);
            c.add_resistor(4, 5, r[2] * ohm);
            c.add_resistor(3, 5, r[3] * ohm);
            c.add_resistor(5, 0, r[4] * ohm);
            for (std::size_t k = 0; k < clamps.size(); ++k) {
                const auto& [a, b, drop] = clamps[k];
                if (state < 0) {
                    c.add_clamp(a, b, drop * volt, 5.0 * ohm);
                } else if ((state >> k) % 2 == 1) {
                    const auto inside = c.add_node("inside");
                    c.add_source(a, inside, drop * volt);
                    c.add_resistor(inside, b, 5.0 * ohm);
                }
            }
            return c.solve();
        };
        const operating_point found = build(-1);
        int consistent = 0;
        for (int state = 0; state < 16; ++state) {
            const operating_point o = build(state);
            bool good = true;
            for (std::size_t k = 0; k < clamps.size(); ++k) {
                const double beyond = (o.nodes[clamps[k].a] - o.nodes[clamps[k].b]).value() - clamps[k].drop;
                good = good && ((state >> k) % 2 == 1 ? beyond >= 0.0 : beyond <= 0.0);
            }
            if (!good) continue;
            ++consistent;
            CHECK(std::abs((o.nodes[4] - found.nodes[4]).value()) < 1e-9);
            CHECK(std::abs((o.nodes[5] - found.nodes[5]).value()) < 1e-9);
        }
        CHECK(consistent == 1);
    }
}

TEST_CASE("one pole falls by 3 dB at 1 / (2 pi R C) and as its closed form at every frequency") {
    circuit c;
    const auto in = c.add_node("in"), node = c.add_node("node");
    const auto source = c.add_source(in, circuit::ground, 0.0 * volt);
    c.add_resistor(in, node, 90e3 * ohm);
    c.add_resistor(node, circuit::ground, 10e3 * ohm);
    c.add_capacitor(node, circuit::ground, 1e-9 * farad);
    const frequency f = pole(c.seen_between(node, circuit::ground), 1e-9 * farad);
    same(c.bandwidth(source, node).value(), f.value());
    for (const double x : {0.01, 0.5, 1.0, 3.0, 100.0}) {
        same(c.response(source, node, x * f).value(), 0.1 * one_pole_amplitude(x * f, f).value());
    }
}

TEST_CASE("a compensated probe is flat, and a mismatched one steps by its closed form") {
    for (const double mismatch : {0.0, 0.1, -0.2}) {
        circuit c;
        const auto tip = c.add_node("tip"), node = c.add_node("node");
        const auto source = c.add_source(tip, circuit::ground, 1.0 * volt);
        const double c_in = 30e-12;
        c.add_resistor(tip, node, 9e6 * ohm);
        c.add_capacitor(tip, node, (1.0 + mismatch) * 1e6 * c_in / 9e6 * farad);
        c.add_resistor(node, circuit::ground, 1e6 * ohm);
        c.add_capacitor(node, circuit::ground, c_in * farad);
        same(c.response(source, node, 1e9 * hertz).value() / c.response(source, node).value(),
             compensation_step{}(mismatch, 9e6 * ohm, 1e6 * ohm).value(), 1e-6);
        CHECK(c.bandwidth(source, node).value() == 0.0);
    }
}

TEST_CASE("an amplifier follows with the error of its finite gain, its offset and its bias current") {
    circuit c;
    const auto in = c.add_node("in"), plus = c.add_node("plus"), minus = c.add_node("minus"), out = c.add_node("out");
    const auto source = c.add_source(in, circuit::ground, 0.5 * volt);
    c.add_resistor(in, plus, 100e3 * ohm);
    c.add_current(plus, circuit::ground, 20e-9 * ampere);  // bias flows into the amplifier
    c.add_resistor(out, minus, 3e3 * ohm);
    c.add_resistor(minus, circuit::ground, 1e3 * ohm);
    c.add_resistor(out, circuit::ground, 10e3 * ohm);
    c.add_amplifier(plus, minus, out, 1e4, 2e-3 * volt);
    const double at_plus = 0.5 - 20e-9 * 100e3;
    same(c.solve().nodes[out].value(), (at_plus - 2e-3) * 1e4 / (1.0 + 1e4 / 4.0));
    same(c.response(source, out).value(), 1e4 / (1.0 + 1e4 / 4.0));
}

TEST_CASE("what cannot be solved is refused by name") {
    circuit c;
    const auto a = c.add_node("a"), b = c.add_node("b");
    CHECK(message([&] { c.add_resistor(a, 7, 1.0 * ohm); }) == "circuit, part 0: node 7, expected 0 to 2; correct the circuit");
    CHECK(message([&] { c.add_resistor(a, b, 0.0 * ohm); }) ==
          "circuit, part 0: a resistance in ohm of 0, expected more than 0; correct the circuit");
    c.add_source(a, circuit::ground, 1.0 * volt);
    CHECK(message([&] { (void)c.solve(); }) ==
          "circuit: node \"b\" without a voltage of its own, expected one solution; give each node a path to ground, and no two "
          "sources the same two nodes");
    c.add_resistor(b, circuit::ground, 1.0 * ohm);
    c.add_source(a, circuit::ground, 2.0 * volt);
    CHECK(message([&] { (void)c.solve(); }) ==
          "circuit: sources that contradict each other or short-circuit one another, expected one solution; give each node a "
          "path to ground, and no two sources the same two nodes");
}

}  // namespace circuit_test
