#pragma once
// An input with an amplifier as a circuit, for tests of what closed forms and budgets say of it.

#include <optional>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/front_end/circuit.hpp>

namespace amplified_bench {

/// Values in the coherent units.
struct parts {
    double source = 0.0;
    double rs = 0.0;  ///< 0: none
    double top = 1e6;
    std::optional<double> bottom{};
    std::optional<double> bias{};
    double supply = 3.3;
    std::optional<double> feedback{};  ///< none: a follower
    std::optional<double> ground{};
    double offset = 0.0;
    double into_plus = 0.0;
    double into_minus = 0.0;
    double open_loop = 1e5;
};

struct voltages {
    double connector, plus, output;
};

inline voltages built(const parts& p) {
    using namespace plumbline;
    front_end::circuit c;
    const auto source = c.add_node("source"), plus = c.add_node("plus"), minus = c.add_node("minus"), out = c.add_node("out");
    c.add_source(source, front_end::circuit::ground, p.source * volt);
    auto connector = source;
    if (p.rs > 0.0) {
        connector = c.add_node("connector");
        c.add_resistor(source, connector, p.rs * ohm);
    }
    c.add_resistor(connector, plus, p.top * ohm);
    if (p.bottom) c.add_resistor(plus, front_end::circuit::ground, *p.bottom * ohm);
    if (p.bias) {
        const auto rail = c.add_node("rail");
        c.add_source(rail, front_end::circuit::ground, p.supply * volt);
        c.add_resistor(rail, plus, *p.bias * ohm);
    }
    if (p.feedback) {
        c.add_resistor(out, minus, *p.feedback * ohm);
        c.add_resistor(minus, front_end::circuit::ground, *p.ground * ohm);
    } else {
        c.add_source(out, minus, 0.0 * volt);
    }
    c.add_current(plus, front_end::circuit::ground, p.into_plus * ampere);
    c.add_current(minus, front_end::circuit::ground, p.into_minus * ampere);
    c.add_amplifier(plus, minus, out, p.open_loop, p.offset * volt);
    const front_end::operating_point o = c.solve();
    return {o.nodes[connector].value(), o.nodes[plus].value(), o.nodes[out].value()};
}

/// A chain's parts at their nominal values; of the open-loop gain twice its least, the middle of one over it.
inline parts nominal(const plumbline::front_end::chain& c) {
    parts p;
    p.top = c.input.top.nominal.value();
    if (c.input.bottom) p.bottom = c.input.bottom->nominal.value();
    if (c.input.bias) {
        p.bias = c.input.bias->branch.nominal.value();
        p.supply = c.input.bias->supply.value();
    }
    if (c.amplifier->gain) {
        p.feedback = c.amplifier->gain->feedback.nominal.value();
        p.ground = c.amplifier->gain->ground.nominal.value();
    }
    p.open_loop = 2.0 * c.amplifier->open_loop_gain;
    return p;
}

}  // namespace amplified_bench
