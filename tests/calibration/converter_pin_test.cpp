// What the converter's pin does to a calibration: leakage, sampling capacitor, noise of the network behind a capacitor at the pin.

#include <doctest/doctest.h>

#include "bench.hpp"
#include "message.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <plumbline/calibration/through_probe.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/front_end/circuit.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/sampling.hpp>
#include <string>
#include <vector>

namespace converter_pin_test {

using namespace plumbline;
using namespace plumbline::calibration;
using front_end::circuit;
namespace un = plumbline::uncertainty;

namespace {

constexpr double leakage = 20e-9;
const std::string leakage_id = "A/8 V/converter/leakage";
const std::string capacitor_id = "A/8 V/converter/sampling capacitor";

/// 10 pF sampled from 1 uF, which makes it a resistor on average.
front_end::pin_details described() { return {10e-12 * farad, {}, 1e-6 * second, 1e-6 * farad, leakage * ampere}; }

struct calibrated {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    range_calibration of;

    /// @param source  behind the reference step; 0: none
    explicit calibrated(const std::optional<front_end::pin_details>& pin, double source = 0.0, double half_width = 1.0)
        : of(solve(setup(pin, half_width),
                   {bench::stepped("short", bench::seen(bench::code_of(0.0))), reference_from(source), {}}, references, inputs)) {
    }

    static range_setup setup(const std::optional<front_end::pin_details>& pin, double half_width) {
        range_setup s = bench::ten_volts();
        s.chain.pin = pin;
        s.temperature_half_width = half_width * kelvin;
        return s;
    }
    static step reference_from(double source) {
        step s = bench::stepped("five", bench::seen(bench::code_of(5.0)));
        if (source > 0.0) s.source.source = front_end::resistor{source * ohm, 1.0 * percent, {}};
        return s;
    }
    [[nodiscard]] un::uncertain<voltage> at(double volts, const reading_conditions& when) const {
        return reading(inputs, references, of, code_at(of, volts * volt), when);
    }
};

/// The bench's range, driven through a resistance, with a current into its node and a resistor beside it to ground.
struct node_and_connector {
    double node, connector;
};
node_and_connector by_circuit(double volts, double source, double into_node, double load) {
    circuit c;
    const auto drive = c.add_node("drive"), input = c.add_node("connector"), node = c.add_node("node"), rail = c.add_node("rail");
    c.add_source(drive, circuit::ground, volts * volt);
    c.add_source(rail, circuit::ground, 3.3 * volt);
    c.add_resistor(drive, input, std::max(source, 1e-3) * ohm);
    c.add_resistor(input, node, 1e6 * ohm);
    c.add_resistor(node, circuit::ground, 150e3 * ohm);
    c.add_resistor(node, rail, 200e3 * ohm);
    if (load > 0.0) c.add_resistor(node, circuit::ground, load * ohm);
    c.add_current(circuit::ground, node, into_node * ampere);
    const auto p = c.solve();
    return {p.nodes[node].value(), p.nodes[input].value()};
}

/// The voltage of an ideal source that gives the same node voltage.
double ideal_for(double node, double load) {
    const double at_zero = by_circuit(0.0, 0.0, 0.0, load).node;
    return (node - at_zero) / (by_circuit(1.0, 0.0, 0.0, load).node - at_zero);
}

double sensitivity(const un::uncertain<voltage>& y, const std::string& id) {
    const auto found = std::find_if(y.dependences.begin(), y.dependences.end(), [&](const auto& d) { return d.on->id == id; });
    return found == y.dependences.end() ? 0.0 : found->sensitivity;
}

const un::input* input(const un::uncertain<voltage>& y, const std::string& id) {
    const auto found = std::find_if(y.dependences.begin(), y.dependences.end(), [&](const auto& d) { return d.on->id == id; });
    return found == y.dependences.end() ? nullptr : &*found->on;
}

bool near(double found, double expected, double relative) { return std::abs(found - expected) <= relative * std::abs(expected); }

}  // namespace

TEST_CASE("a range whose chain states no pin has no input of it, and one that does has the same U where nothing differs") {
    const calibrated without(std::nullopt, 0.0, 0.0);
    CHECK(without.inputs.find(leakage_id) == nullptr);
    CHECK(without.inputs.find(capacitor_id) == nullptr);
    CHECK(without.inputs.find("A/8 V/converter/thermal noise") == nullptr);
    const calibrated with(described(), 0.0, 0.0);
    for (const double v : {-7.0, 0.0, 3.0}) {
        const double U = un::make_convolved_budget(without.at(v, at_calibration(without.of))).U;
        CHECK(near(un::make_convolved_budget(with.at(v, at_calibration(with.of))).U, U, 1e-9));
    }
}

TEST_CASE("a chain with a pin that cannot be one is not calibrated") {
    front_end::pin_details pin = described();
    pin.leakage = std::nan("") * ampere;
    CHECK(refused::message([&] { const calibrated c(pin); }) ==
          "converter's pin, leakage: nan A, expected 0 or more; correct it");
    pin = described();
    pin.sampling = {};
    CHECK(refused::message([&] { const calibrated c(pin); }) ==
          "converter's pin, sampling capacitor: 0 F, expected more than 0; correct it");
}

TEST_CASE("what the pin leaks through a step's source moves the connector as the circuit has it") {
    const double source = 47e3;
    const calibrated c(described(), source);
    // at the reference step's own code the reading goes with its voltage, 1 to 1
    const auto y = reading(c.inputs, c.references, c.of, c.of.reference.seen.mean, at_calibration(c.of));
    const double moved = by_circuit(5.0, source, leakage, 0.0).connector - by_circuit(5.0, source, 0.0, 0.0).connector;
    CHECK(moved > 1e-5);
    CHECK(near(sensitivity(y, leakage_id), moved, 1e-6));
    // and a step whose source has no resistance is not moved
    const calibrated direct(described());
    CHECK(sensitivity(direct.at(5.0, at_calibration(direct.of)), leakage_id) == 0.0);
}

TEST_CASE("what leaks more when it is warm shifts a reading by its drop across the top resistor") {
    const calibrated c(described());
    const std::string id = "A/8 V/reading/temperature of " + leakage_id;
    const double shift = ideal_for(by_circuit(2.0, 0.0, leakage, 0.0).node, 0.0) - 2.0;
    const auto spread_at = [&](double difference, double half_width) {
        const auto y = c.at(2.0, {1.0, difference * kelvin, half_width * kelvin});
        CHECK(near(sensitivity(y, id), -shift, 1e-6));  // it reads too high, and is known for none
        const un::input* in = input(y, id);
        REQUIRE(in != nullptr);
        return std::get<un::coefficient_times_difference>(in->spread);
    };
    CHECK(near(spread_at(20.0, 0.0).difference, 3.0, 1e-12));  // four times as much, less what the calibration has taken off
    CHECK(spread_at(20.0, 0.0).half_width == 0.0);
    CHECK(near(spread_at(-10.0, 0.0).difference, -0.5, 1e-12));
    CHECK(near(spread_at(0.0, 10.0).difference + spread_at(0.0, 10.0).half_width, 1.0, 1e-12));
    CHECK(near(spread_at(0.0, 10.0).difference - spread_at(0.0, 10.0).half_width, -0.5, 1e-12));
    // At the steps too, whose temperatures are known to 1 K; in a difference of two readings it cancels.
    CHECK(sensitivity(c.at(2.0, {}), "A/8 V/zero/temperature of " + leakage_id) != 0.0);
    const auto apart = difference(c.inputs, c.references, c.of, code_at(c.of, 1.0 * volt), code_at(c.of, 3.0 * volt),
                                  {1.0, 20.0 * kelvin, 0.0 * kelvin});
    CHECK(std::abs(sensitivity(apart, id)) < 1e-12 * shift);
}

TEST_CASE("what the sampling capacitor takes off through a step's source is what the circuit with its load shows") {
    const double source = 47e3;
    const calibrated c(described(), source);
    const auto y = reading(c.inputs, c.references, c.of, c.of.reference.seen.mean, at_calibration(c.of));
    const double load = front_end::sampling_load(10e3 * hertz, 10e-12 * farad).value();
    const double without = by_circuit(5.0, source, 0.0, 0.0).connector;
    // The load at the node divides the connector down too; both are in the voltage of an ideal source for the same node.
    const double as_read = ideal_for(by_circuit(5.0, source, 0.0, load).node, load);
    CHECK(near(sensitivity(y, capacitor_id), as_read - without, 1e-3));
    const calibrated direct(described());
    CHECK(sensitivity(direct.at(5.0, at_calibration(direct.of)), capacitor_id) == 0.0);
}

TEST_CASE("a reading at another sample rate has a row for what the sampling capacitor takes off more") {
    const calibrated c(described());
    const double before = front_end::sampling_load(10e3 * hertz, 10e-12 * farad).value();
    const double now = front_end::sampling_load(250e3 * hertz, 10e-12 * farad).value();
    for (const double v : {-6.0, 0.0, 5.0}) {
        CAPTURE(v);
        const auto y = c.at(v, {1.0, {}, {}, 250e3 * hertz});
        // applied so that the calibrated instrument reads v, what stands there is more
        const double node = by_circuit(v, 0.0, 0.0, before).node;
        const double there = ideal_for(node, now);
        CHECK(y.value == c.at(v, {}).value);
        CHECK(near(sensitivity(y, capacitor_id), there - v, 1e-3));
        REQUIRE(input(y, capacitor_id) != nullptr);
        CHECK(input(y, capacitor_id)->label == "gain, by the sampling capacitor (sample rate, source)");
        CHECK(input(y, capacitor_id)->spread == un::distribution(un::rectangular{1.0}));
        CHECK(sensitivity(c.at(v, {1.0, {}, {}, 10e3 * hertz}), capacitor_id) == 0.0);
        const auto used = reading_in_use(c.inputs, c.references, c.of, code_at(c.of, v * volt), 1.0, {}, {}, 250e3 * hertz);
        CHECK(near(sensitivity(used, capacitor_id), sensitivity(y, capacitor_id), 1e-12));
    }
    // In proportion to the node's voltage: a difference has it in proportion to itself.
    const codes low = code_at(c.of, -1.0 * volt), high = code_at(c.of, 3.0 * volt);
    const auto one = c.at(4.0, {1.0, {}, {}, 250e3 * hertz});
    const auto zero = c.at(0.0, {1.0, {}, {}, 250e3 * hertz});
    const double of_four = sensitivity(one, capacitor_id) - sensitivity(zero, capacitor_id);
    for (const auto& y : {difference(c.inputs, c.references, c.of, low, high, {1.0, {}, {}, 250e3 * hertz}),
                          difference_in_use(c.inputs, c.references, c.of, low, high, 1.0, {}, {}, 250e3 * hertz),
                          peak_to_peak_in_use(c.inputs, c.references, c.of, low, high, 100.0, {}, {}, 250e3 * hertz)}) {
        CHECK(near(sensitivity(y, capacitor_id), of_four, 1e-9));
    }
    // and trials draw the same
    const std::vector<kind_of_reading> kinds{read_mean{high}, read_difference{low, high}};
    read_in_use faster{{}, 1.0, {}};
    faster.sample_rate = 250e3 * hertz;
    for (const validated_reading& r : validate_readings(c.of, c.references, c.inputs, kinds, faster)) {
        const double U = r.first_order.U;
        CHECK(std::abs(r.by_trials.low.value() - (r.first_order.value - U)) <= 0.03 * U);
        CHECK(std::abs(r.by_trials.high.value() - (r.first_order.value + U)) <= 0.03 * U);
    }
}

TEST_CASE("without the pin another sample rate is refused, and the rest of a mode is refused as ever") {
    const calibrated without(std::nullopt);
    const auto refusal = [&](const reading_conditions& when) { return refused::message([&] { (void)without.at(1.0, when); }); };
    CHECK(refusal({1.0, {}, {}, 50e3 * hertz}) ==
          "reading, channel A, range 8 V: a sample rate of 50000 Hz, expected 10000 Hz as in the calibration, since the chain "
          "does not state its converter's pin; calibrate at this rate, or state \"pin\" with the chain");
    CHECK(refusal({1.0, {}, {}, 10e3 * hertz}) == "no exception");
    CHECK(refusal({1.0, {}, {}, -1.0 * hertz}) ==
          "reading, channel A, range 8 V: a sample rate of -1 Hz, expected a finite one of more than 0 Hz; correct it");
    front_end::mode now = without.of.mode;
    now.sample_rate = 50e3 * hertz;
    CHECK(refused::message([&] { expect_mode(without.of, now); }).starts_with("channel A, range 8 V: sample rate 50000 Hz"));
    const calibrated with(described());
    CHECK(refused::message([&] { expect_mode(with.of, now); }) == "no exception");
    now.supply = "charger attached";
    CHECK(refused::message([&] { expect_mode(with.of, now); }).starts_with("channel A, range 8 V: supply"));
}

TEST_CASE("through a probe the pin's leakage and its sampling capacitor do what the circuit shows") {
    const calibrated c(described());
    const double series = 9e6, load = front_end::sampling_load(10e3 * hertz, 10e-12 * farad).value();
    const front_end::probe p{"x10", series * ohm, 1.0 * percent};
    const double connector = 2.0;
    const auto y = through_probe(c.inputs, c.of, c.at(connector, {}), p, {});
    const double tip = y.value.value();
    CHECK(near(by_circuit(tip, series, 0.0, 0.0).connector, connector, 1e-9));
    // The tip is lower than it is taken for by what the leakage raises the connector by, times the factor.
    const double raised = by_circuit(tip, series, leakage, 0.0).connector - connector;
    const double factor = 1.0 + (p.series / front_end::nominal_input_resistance(c.of.chain)).value();
    CHECK(near(sensitivity(y, leakage_id), -factor * raised, 1e-6));
    // and higher by what the capacitor takes off: the voltage there for which the calibrated instrument reads as much
    const double seen = by_circuit(connector, 0.0, 0.0, load).node;
    const double at_zero = by_circuit(0.0, series, 0.0, load).node;
    const double there = (seen - at_zero) / (by_circuit(1.0, series, 0.0, load).node - at_zero);
    CHECK(near(sensitivity(y, capacitor_id), there - tip, 1e-3));
}

TEST_CASE("uncalibrated, the pin counts with all that it takes off and adds") {
    const calibrated c(described());
    const codes at = code_at(c.of, 3.0 * volt);
    const auto y = uncalibrated_reading(c.inputs, c.of, at, {});
    const double shift = ideal_for(by_circuit(2.0, 0.0, leakage, 0.0).node, 0.0) - 2.0;
    CHECK(near(sensitivity(y, leakage_id), -shift, 1e-6));
    const double load = front_end::sampling_load(10e3 * hertz, 10e-12 * farad).value();
    const double by_parts = y.value.value();
    const double node = by_circuit(by_parts, 0.0, 0.0, 0.0).node;
    CHECK(near(sensitivity(y, capacitor_id), ideal_for(node, load) - by_parts, 1e-3));
    // sqrt(kT/C) of 1 uF at 25 degrees: k T = 4.116405e-21 J, 64.15921 nV of 3.3 V in 4096 codes
    const un::input* noise = input(y, "A/8 V/converter/thermal noise");
    REQUIRE(noise != nullptr);
    CHECK(near(un::standard_uncertainty(noise->spread), 64.15921e-9 / 3.3 * 4096.0, 1e-6));
    CHECK(sensitivity(y, noise->id) == sensitivity(y, "A/8 V/converter/noise"));
    front_end::pin_details bare = described();
    bare.at_pin = {};
    bare.leakage = {};
    const calibrated without(bare);  // the data sheet's noise has kT/C of the sampling capacitor in it
    CHECK(without.inputs.find("A/8 V/converter/thermal noise") == nullptr);
    CHECK(without.inputs.find(leakage_id) == nullptr);
}

}  // namespace converter_pin_test
