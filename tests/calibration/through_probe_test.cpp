#include <plumbline/calibration/through_probe.hpp>

#include <doctest/doctest.h>

#include "bench.hpp"
#include "message.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/front_end/circuit.hpp>
#include <plumbline/front_end/node.hpp>
#include <string>
#include <vector>

namespace through_probe_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

/// Relative deviations of the parts.
struct deviations {
    double probe = 0.0, top = 0.0, bottom = 0.0, bias = 0.0, supply = 0.0;
};

/// Voltage at the tip of a 9 Mohm probe for one at the connector, by the circuit: the bench's range behind the probe.
double tip_by_circuit(double connector, const deviations& d) {
    front_end::circuit c;
    const auto tip = c.add_node("tip"), input = c.add_node("connector"), node = c.add_node("node"), rail = c.add_node("rail");
    const auto source = c.add_source(tip, front_end::circuit::ground, 1.0 * volt);
    c.add_source(rail, front_end::circuit::ground, 3.3 * (1.0 + d.supply) * volt);
    c.add_resistor(tip, input, 9e6 * (1.0 + d.probe) * ohm);
    c.add_resistor(input, node, 1e6 * (1.0 + d.top) * ohm);
    c.add_resistor(node, front_end::circuit::ground, 150e3 * (1.0 + d.bottom) * ohm);
    c.add_resistor(node, rail, 200e3 * (1.0 + d.bias) * ohm);
    c.set_source(source, 0.0 * volt);
    const double at_zero = c.solve().nodes[input].value();
    return (connector - at_zero) / c.response(source, input).value();
}

double slope(double connector, double deviations::*part) {
    constexpr double step = 1e-4;
    deviations up, down;
    up.*part = step;
    down.*part = -step;
    return (tip_by_circuit(connector, up) - tip_by_circuit(connector, down)) / (2.0 * step);
}

double sensitivity(const un::uncertain<voltage>& y, const std::string& id) {
    const auto found = std::find_if(y.dependences.begin(), y.dependences.end(), [&](const auto& d) { return d.on->id == id; });
    return found == y.dependences.end() ? 0.0 : found->sensitivity;
}

const un::input& input(const un::uncertain<voltage>& y, const std::string& id) {
    const auto found = std::find_if(y.dependences.begin(), y.dependences.end(), [&](const auto& d) { return d.on->id == id; });
    REQUIRE(found != y.dependences.end());
    return *found->on;
}

front_end::probe ten_to_one() { return {"x10", 9e6 * ohm, 1.0 * percent}; }

struct calibrated {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    range_calibration of = solve(
        bench::ten_volts(),
        {bench::stepped("short", bench::seen(bench::code_of(0.0))), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
        references, inputs);
    reading_conditions when = at_calibration(of);

    [[nodiscard]] un::uncertain<voltage> at(double connector) const {
        return reading(inputs, references, of, code_at(of, connector * volt), when);
    }
    [[nodiscard]] un::uncertain<voltage> tip(double connector, const front_end::probe& p = ten_to_one()) const {
        return through_probe(inputs, of, at(connector), p, when);
    }
};

bool near(double found, double expected, double tolerance) { return std::abs(found - expected) <= tolerance; }

}  // namespace

TEST_CASE("a reading through a probe is the voltage at its tip, as the circuit of both solves it") {
    const calibrated c;
    for (const double v : {-2.0, 0.0, 0.7, 3.0}) {
        CAPTURE(v);
        const auto y = c.tip(v);
        CHECK(near(y.value.value(), tip_by_circuit(v, {}), 1e-10));
        // No part of the calibrated reading hangs on what its parts deviate; the factor does.
        CHECK(near(sensitivity(y, "A/8 V/probe/series"), slope(v, &deviations::probe), 1e-6));
        CHECK(near(sensitivity(y, "A/8 V/top/deviation"), slope(v, &deviations::top), 1e-6));
        CHECK(near(sensitivity(y, "A/8 V/bottom/deviation"), slope(v, &deviations::bottom), 1e-6));
        CHECK(near(sensitivity(y, "A/8 V/bias/deviation"), slope(v, &deviations::bias), 1e-6));
        CHECK(near(sensitivity(y, "A/8 V/converter reference/deviation"), slope(v, &deviations::supply), 1e-6));
    }
    CHECK(input(c.tip(3.0), "A/8 V/probe/series").spread == un::distribution(un::rectangular{0.01}));
    CHECK(input(c.tip(3.0), "A/8 V/probe/series").source == "x10");
}

TEST_CASE("what the parts' temperature does to the reading and to the factor is one error") {
    const calibrated c;
    const reading_conditions warm{1.0, 12.0 * kelvin, 1.0 * kelvin};
    const double v = 3.0;
    const auto seen = reading(c.inputs, c.references, c.of, code_at(c.of, v * volt), warm);
    const auto y = through_probe(c.inputs, c.of, seen, ten_to_one(), warm);
    const double factor = 1.0 + 9e6 / (1e6 + 1.0 / (1.0 / 150e3 + 1.0 / 200e3));
    const auto both = [&](const char* name, double deviations::*part) {
        const std::string id = "A/8 V/reading/temperature of A/8 V/" + std::string(name);
        CAPTURE(id);
        CHECK(sensitivity(seen, id) != 0.0);
        CHECK(near(sensitivity(y, id), factor * sensitivity(seen, id) + slope(v, part), 1e-6));
    };
    both("top", &deviations::top);
    both("bottom", &deviations::bottom);
    both("bias", &deviations::bias);
    both("converter reference", &deviations::supply);
}

TEST_CASE("uncalibrated, the divider's deviations count once in the reading and once in the factor, as one error") {
    const calibrated c;
    const codes at = code_at(c.of, 3.0 * volt);
    const auto seen = uncalibrated_reading(c.inputs, c.of, at, c.when);
    const auto y = through_probe(c.inputs, c.of, seen, ten_to_one(), c.when);
    const double v = seen.value.value();
    const double factor = 1.0 + 9e6 / front_end::nominal_input_resistance(c.of.chain).value();
    const auto expect = [&](const char* id, double deviations::*part) {
        CAPTURE(id);
        CHECK(sensitivity(seen, id) != 0.0);
        CHECK(near(sensitivity(y, id), factor * sensitivity(seen, id) + slope(v, part), 1e-6));
    };
    expect("A/8 V/top/deviation", &deviations::top);
    expect("A/8 V/bottom/deviation", &deviations::bottom);
}

TEST_CASE("in a difference through a probe the open connector's voltage cancels") {
    const calibrated c;
    const codes low = code_at(c.of, -1.0 * volt), high = code_at(c.of, 2.0 * volt);
    const auto y = difference_through_probe(c.inputs, c.of, difference(c.inputs, c.references, c.of, low, high, c.when),
                                            ten_to_one(), c.when);
    CHECK(near(y.value.value(), tip_by_circuit(2.0, {}) - tip_by_circuit(-1.0, {}), 1e-10));
    const auto expect = [&](const char* id, double deviations::*part) {
        CAPTURE(id);
        CHECK(near(sensitivity(y, id), slope(2.0, part) - slope(-1.0, part), 1e-6));
    };
    expect("A/8 V/probe/series", &deviations::probe);
    expect("A/8 V/top/deviation", &deviations::top);
    expect("A/8 V/bias/deviation", &deviations::bias);
    CHECK(sensitivity(y, "A/8 V/converter reference/deviation") == 0.0);
}

TEST_CASE("a measured factor takes the place of the resistances, with its own u") {
    const calibrated c;
    front_end::probe p = ten_to_one();
    p.series = 1.0 * ohm;  // does not count
    p.factor = front_end::measured_factor{9.31 * one, 0.004 * one};
    const double v = 3.0;
    const auto y = c.tip(v, p);
    const double open = front_end::nominal_open_voltage(c.of.chain).value();
    CHECK(near(y.value.value(), open + 9.31 * (v - open), 1e-10));
    CHECK(sensitivity(y, "A/8 V/probe/series") == 0.0);
    const un::input& factor = input(y, "A/8 V/probe/factor");
    CHECK(near(std::abs(sensitivity(y, factor.id)) * un::standard_uncertainty(factor.spread), 0.004 * (v - open), 1e-9));
    CHECK(sensitivity(y, "A/8 V/top/deviation") == 0.0);  // it was measured with this very top resistor
}

TEST_CASE("a probe that the instrument was calibrated with changes nothing") {
    const calibrated c;
    front_end::probe p;
    p.calibrated_together = true;
    const auto seen = c.at(3.0);
    const auto y = c.tip(3.0, p);
    CHECK(y.value == seen.value);
    REQUIRE(y.dependences.size() == seen.dependences.size());
    for (std::size_t i = 0; i < y.dependences.size(); ++i) {
        CHECK(y.dependences[i].on->id == seen.dependences[i].on->id);
        CHECK(y.dependences[i].sensitivity == seen.dependences[i].sensitivity);
    }
}

TEST_CASE("readings through a probe are validated by the same composition that first order states") {
    const calibrated c;
    const codes low = code_at(c.of, -1.0 * volt), high = code_at(c.of, 3.0 * volt);
    const std::vector<kind_of_reading> kinds{read_mean{high}, read_difference{low, high}};
    const auto expect = [&](const budget_of_reading& budget, const std::vector<un::uncertain<voltage>>& stated) {
        const auto found = validate_readings(c.of, c.references, c.inputs, kinds, budget);
        for (std::size_t i = 0; i < kinds.size(); ++i) {
            const un::budget b = un::make_convolved_budget(stated[i]);
            CHECK(found[i].first_order.value == b.value);
            CHECK(found[i].first_order.U == b.U);
            CHECK(near(found[i].by_trials.low.value(), b.value - b.U, 0.03 * b.U));
            CHECK(near(found[i].by_trials.high.value(), b.value + b.U, 0.03 * b.U));
        }
    };
    const front_end::probe p = ten_to_one();
    expect(read_at_calibration{c.when, p},
           {through_probe(c.inputs, c.of, reading(c.inputs, c.references, c.of, high, c.when), p, c.when),
            difference_through_probe(c.inputs, c.of, difference(c.inputs, c.references, c.of, low, high, c.when), p, c.when)});
    use_conditions use;
    use.temperature_half_width = 10.0 * kelvin;
    use.gain_by_supply = 100.0 * ppm;
    const reading_conditions then{1.0, 5.0 * kelvin, 10.0 * kelvin};
    expect(read_in_use{use, 1.0, 5.0 * kelvin, p},
           {through_probe(c.inputs, c.of, reading_in_use(c.inputs, c.references, c.of, high, 1.0, use, 5.0 * kelvin), p, then),
            difference_through_probe(
                c.inputs, c.of, difference_in_use(c.inputs, c.references, c.of, low, high, 1.0, use, 5.0 * kelvin), p, then)});
}

TEST_CASE("a probe that cannot be one is refused") {
    const calibrated c;
    const auto of = [&](const std::function<void(front_end::probe&)>& change) {
        front_end::probe p = ten_to_one();
        change(p);
        return refused::message([&] { (void)c.tip(1.0, p); });
    };
    const std::string end = "; correct the description of the probe";
    CHECK(of([](auto& p) { p.series = 0.0 * ohm; }) ==
          "probe at channel A, range 8 V: a resistance of 0 ohm, expected a finite one of more than 0 ohm" + end);
    CHECK(of([](auto& p) { p.series = std::numeric_limits<double>::infinity() * ohm; }) ==
          "probe at channel A, range 8 V: a resistance of inf ohm, expected a finite one of more than 0 ohm" + end);
    CHECK(of([](auto& p) { p.tolerance = -0.5 * percent; }) ==
          "probe at channel A, range 8 V: a tolerance of -0.005, expected a fraction from 0 to less than 1" + end);
    CHECK(of([](auto& p) { p.tolerance = ratio(std::nan("")); }) ==
          "probe at channel A, range 8 V: a tolerance of nan, expected a fraction from 0 to less than 1" + end);
    CHECK(of([](auto& p) {
              p.factor = front_end::measured_factor{1.0 * one, 0.1 * one};
          }) == "probe at channel A, range 8 V: a factor of 1, expected a finite one of more than 1" + end);
    CHECK(of([](auto& p) {
              p.factor = front_end::measured_factor{10.0 * one, -0.1 * one};
          }) == "probe at channel A, range 8 V: a factor known to -0.1, expected a finite u of 0 or more" + end);
}

}  // namespace through_probe_test
