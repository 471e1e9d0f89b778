#include <doctest/doctest.h>

#include "../message.hpp"
#include "../reference/published.hpp"
#include "../slow_build.hpp"
#include "jobs.hpp"

#include <numbers>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/uncertainty/budget.hpp>

namespace audit_test {

using namespace jobs;
using refused::message;

namespace {

audit::report run(const audit::job& j) { return audit::audit(scope(), j); }

bool near(double found, double expected, double relative = 1e-9) {
    CAPTURE(found);
    CAPTURE(expected);
    return std::abs(found - expected) <= relative * std::abs(expected);
}

/// The same job on a sine, all of its figures known.
audit::job on_a_sine(double f, double bandwidth) {
    audit::job j = easy();
    j.fastest = {audit::event_kind::sine, f * hertz, {}, {}};
    j.instrument.bandwidth = bandwidth * hertz;
    return j;
}

}  // namespace

TEST_CASE("a job far inside everything is suitable, without conditions and without changes to try") {
    const audit::report r = run(easy());
    CHECK(r.verdict == audit::suitability::suitable);
    CHECK(r.changes.empty());
    for (const audit::line& l : r.lines) {
        CAPTURE(l.name);
        CHECK(l.verdict == audit::line_is::good);
        CHECK(l.margin().value_or(0.0) >= 0.0);
    }
}

TEST_CASE("plus or minus is that of the record's reading in use, at the confidence asked for") {
    audit::job j = easy();
    j.low = j.high;
    j.date = "2026-03-14";
    j.ambient = {12.5};
    j.ambient_half_width = 3.0 * kelvin;
    j.need.confidence = 0.99;
    const audit::report r = run(j);
    const auto& of = scope().ranges.front();
    pl::calibration::use_conditions use = *of.in_use;
    use.years = 365.0 / 365.2425;
    use.temperature_half_width = 3.0 * kelvin + of.temperature_half_width;
    const auto read = pl::calibration::reading_in_use(scope().inputs, scope().references, of,
                                                      pl::calibration::code_at(of, 4.0 * volt), 1.0, use, -10.0 * kelvin);
    CHECK(near(r.accuracy.U.value(), pl::uncertainty::make_convolved_budget(read, 0.99).U, 1e-6));
    CHECK(r.accuracy.uncorrected.value() == 0.0);
    CHECK(near(*line_of(r, "plus or minus").margin(), 1.0 - r.accuracy.U.value(), 1e-9));
}

TEST_CASE("an error that may be as large as U happens with the probability that U leaves") {
    audit::job j = easy();
    j.low = j.high;
    for (const double p : {0.8, 0.9, 0.95, 0.99}) {
        j.need.confidence = p;
        j.need.absolute = run(easy()).accuracy.U;
        j.need.absolute = run(j).accuracy.U;
        CHECK(std::abs(run(j).accuracy.conformity - p) < 1e-4);
    }
}

TEST_CASE("loading that is not corrected for is the divider of source and input, to one side of what is not known") {
    audit::job j = easy();
    j.low = j.high;
    const double U = run(j).accuracy.U.value();
    j.source = {100e3 * ohm, 0.1 * one, false};
    const audit::report r = run(j);
    const double loading = (v_open() - 4.0) * 100e3 / (100e3 + r_in());  // superposition
    CHECK(near(r.accuracy.uncorrected.value(), std::abs(loading)));
    // 10 % of the resistance, rectangular: dV/dR = (v_open - 4) r_in / (R + r_in)^2
    const double by_source = (v_open() - 4.0) * r_in() / std::pow(100e3 + r_in(), 2.0) * 10e3 / std::sqrt(3.0);
    CHECK(r.accuracy.U.value() / r.accuracy.k > std::abs(by_source));
    CHECK(r.accuracy.U.value() < U + 2.0 * std::abs(by_source));
    const double figure = *line_of(r, "plus or minus").figure;
    CHECK(figure == r.accuracy.off.value());
    CHECK(figure > std::abs(loading));
    CHECK(figure < std::abs(loading) + r.accuracy.U.value());
}

TEST_CASE("an error that may be as large as a reading is off happens with the probability asked for, loading or not") {
    for (const double ohms : {0.0, 300.0, 3e3, 100e3}) {
        for (const double p : {0.5, 0.8, 0.95, 0.9999}) {
            CAPTURE(ohms);
            CAPTURE(p);
            audit::job j = easy();
            j.low = j.high;
            j.source = {ohms * ohm, 0.1 * one, false};
            j.need.confidence = p;
            j.need.absolute = run(j).accuracy.off;
            const audit::accuracy a = run(j).accuracy;
            CHECK(a.conformity > p - 1e-4);
            CHECK(a.conformity < p + 1e-3 * (1.0 - p) + 1e-4);  // as far as it is searched for
            CHECK(a.off >= a.uncorrected);
            CHECK(a.off <= a.U + a.uncorrected + 1e-9 * volt);
        }
    }
}

TEST_CASE("corrected loading leaves the limits of the resistances: closed form") {
    audit::job j = easy();
    j.low = j.high;
    const double u_before = run(j).accuracy.U.value() / run(j).accuracy.k;
    j.source = {100e3 * ohm, 0.1 * one, true};
    const audit::report r = run(j);
    CHECK(r.accuracy.uncorrected.value() == 0.0);
    const double connector = 4.0 + (v_open() - 4.0) * 100e3 / (100e3 + r_in());
    const double factor = 1.0 + 100e3 / r_in();
    const double by_source = (connector - v_open()) / r_in() * 100e3 * 0.1 / std::sqrt(3.0);
    const double u = r.accuracy.U.value() / r.accuracy.k;
    // besides these two, 1 % of the input's resistors and of the open voltage: a tenth of what the source brings
    CHECK(u > std::hypot(factor * u_before, by_source) * 0.98);
    CHECK(u < std::hypot(factor * u_before, by_source) * 1.10);
}

TEST_CASE("amplitude lost to bandwidth is that of the poles, for each end of a peak to peak reading") {
    audit::job j = on_a_sine(1000.0, 8e3);
    j.read = audit::reading_of::peak_to_peak;
    j.samples = 1000.0;
    j.instrument.input_capacitance = 100e-12 * pl::farad;
    j.source = {100e3 * ohm, 0.0 * one, true};
    const double f_source = 1.0 / (2.0 * std::numbers::pi * 100e3 * 100e-12);
    const auto pole = [](double f, double f3) { return 1.0 / std::sqrt(1.0 + f / f3 * (f / f3)); };
    const double lost = 1.0 - pole(1000.0, 8e3) * pole(1000.0, f_source) + 1.0 - std::cos(std::numbers::pi / 10.0);
    CHECK(near(run(j).accuracy.uncorrected.value(), 4.0 * lost));
}

TEST_CASE("a probe of 9 Mohm divides by what the input makes of it, and its rating is asked for") {
    audit::job j = easy();
    j.high = 30.0 * volt;
    j.highest = 40.0 * volt;
    j.probe = pl::front_end::probe{"x10 (invented)", 9e6 * ohm, 0.01 * one};
    const audit::report unrated = run(j);
    CHECK(unrated.verdict == audit::suitability::do_not_connect);
    CHECK(unrated.lines.front().name == "probe rating");
    CHECK(unrated.lines.front().text ==
          "by accident 40 V at the tip; what it withstands is not known. Do not connect before you know; then enter "
          "\"probe/rating\"");
    j.probe->rating = 300.0 * volt;
    const audit::report r = run(j);
    CHECK(r.verdict == audit::suitability::suitable);
    CHECK(near(*line_of(r, "probe rating").margin(), 1.0 - 40.0 / 300.0));
    const double at_connector = 40.0 + (v_open() - 40.0) * 9e6 / (9e6 + r_in());
    CHECK(near(*line_of(r, "input limits").figure, at_connector, 1e-9));
    // 1 % of the series resistance alone: (V - V_open) R / R_in of what is at the connector
    const double connector = 30.0 + (v_open() - 30.0) * 9e6 / (9e6 + r_in());
    CHECK(r.accuracy.U.value() > 1.9 * std::abs(connector - v_open()) / r_in() * 9e6 * 0.01 / std::sqrt(3.0));
    j.probe->calibrated_together = true;  // the record's own connector is then the tip: no factor, and 30 V is out of range
    CHECK(*line_of(run(j), "range").figure == doctest::Approx(30.0).epsilon(1e-12).scale(0));
}

TEST_CASE("beyond the range nothing is taken as safe: limits unknown or exceeded come first, whatever else") {
    audit::job j = easy();
    j.need.absolute = 1e-6 * volt;  // not suitable either
    j.highest = 40.0 * volt;
    const audit::report unknown = run(j);
    CHECK(unknown.verdict == audit::suitability::do_not_connect);
    CHECK(unknown.lines.front().name == "input limit");
    CHECK(unknown.changes.empty());
    j.instrument.highest_input = 50.0 * volt;
    j.instrument.clamp_current = pl::current::from_value(25e-6);
    j.instrument.top_resistor_power = 0.1 * pl::watt;
    const audit::report clamped = run(j);
    CHECK(clamped.verdict == audit::suitability::do_not_connect);
    // above, what 3.3 V over the bottom resistor leaves of 36.7 V over 1 Mohm; below, all of 40 V over the top one
    const double through = 36.7 / 1e6 - 3.3 / 430e3;
    CHECK(near(*line_of(clamped, "clamp current").figure, through, 1e-6));
    CHECK(near(*line_of(clamped, "clamp current").margin(), 1.0 - through / 25e-6, 1e-6));
    CHECK(near(*line_of(clamped, "dissipation").figure, 1.6e-3, 1e-6));
    j.instrument.clamp_current = pl::current::from_value(50e-6);
    CHECK(run(j).verdict == audit::suitability::not_suitable);
    j.instrument.highest_input = 39.0 * volt;
    CHECK(run(j).lines.front().text == "by accident 40 V at the connector, and its limit is 39 V");
}

namespace {

/// The pocket scope with limits of its parts in its record: the supply feeds 30 uA and takes nothing back. Invented.
pl::record::record with_limits() {
    pl::record::record r = scope();
    for (auto& range : r.ranges) {
        pl::front_end::protection p;
        p.to_supply = pl::front_end::clamp_diode{0.3 * volt, 20.0 * ohm, 1e-3 * pl::ampere};
        p.to_ground = p.to_supply;
        p.supply = {3.3 * volt, 1.0 * ohm, 30e-6 * pl::ampere, false, 3.6 * volt, true};
        p.pin_beyond_supply = 0.5 * volt;
        p.top = {0.1 * pl::watt, 150.0 * volt};
        p.bottom = p.top;
        p.bias = p.top;
        range.chain.limits = p;
    }
    return r;
}

audit::job spiking(double highest) {
    audit::job j = easy();
    j.highest = highest * volt;
    return j;
}

}  // namespace

TEST_CASE(
    "limits of the parts in the record say whether the supply can sink it, what gives way first and what else it disturbs") {
    pl::record::record r = with_limits();
    // Hand calculation, feed off: node x, rail y; what the clamp and the bias resistor bring flows through the load g.
    const double g = 30e-6 / 3.3, link = 1.0 / 300e3 + 1.0 / 20.0;
    // the same at 60 V reads 3.3 / 4.75 of the truth, and 45.7 V lifts the supply to 3.6 V
    // x (1/1M + 1/430k) + y g = 80/1M;  x link - y (link + g) = 0.3 / 20
    const double a = 1.0 / 1e6 + 1.0 / 430e3;
    const double y = (80e-6 * link - a * 0.3 / 20.0) / (a * (link + g) + g * link);
    const double x = (80e-6 - y * g) / a;
    const audit::report lifted = audit::audit(r, spiking(80.0));
    CHECK(lifted.verdict == audit::suitability::do_not_connect);
    CHECK(near(*line_of(lifted, "supply can sink it").figure, y, 1e-6));
    CHECK(line_of(lifted, "supply can sink it").text ==
          "clamp and bias branch bring 57.8 \u00b5A into the supply, which it lifts to 6.36 V, and its limit is 3.6 V");
    CHECK(line_of(lifted, "gives way first").verdict == audit::line_is::dangerous);
    CHECK(line_of(lifted, "gives way first").text ==
          "by accident 80 V; the first limit that is reached is that of the voltage of the supply, at 45.7 V");
    CHECK(near(*line_of(lifted, "dissipation").figure, 6400e-6, 0.02));  // below ground all but a drop
    CHECK(near(*line_of(lifted, "working voltage").figure, 79.7, 1e-3));
    CHECK(line_of(lifted, "clamp current").verdict == audit::line_is::good);
    CHECK(near(*line_of(lifted, "pin voltage").figure, std::max(x - y, 0.3), 0.01));
    CHECK_FALSE(has(lifted, "input limit"));

    for (auto& range : r.ranges) range.chain.limits->supply.load = 1e-3 * pl::ampere;
    const audit::report held = audit::audit(r, spiking(80.0));
    CHECK(held.verdict == audit::suitability::with_conditions);
    CHECK(line_of(held, "supply can sink it").text ==
          "clamp and bias branch bring 68 \u00b5A into the supply, which takes it and stays at 3.3 V; its limit is 3.6 V");
    CHECK(line_of(held, "other channels").verdict == audit::line_is::condition);
    CHECK(line_of(held, "other channels").text ==
          "while a clamp conducts, this channel is clipped and others of the same converter may read wrong");
    CHECK(audit::audit(r, spiking(9.0)).verdict == audit::suitability::suitable);
    // below what lifts the supply beyond its limit, readings of all channels are off for a while
    for (auto& range : r.ranges)
        range.chain.limits->supply = {3.3 * volt, 1.0 * ohm, 30e-6 * pl::ampere, false, 5.5 * volt, true};
    CHECK(
        line_of(audit::audit(r, spiking(60.0)), "other channels").text ==
        "while a clamp conducts, this channel is clipped and others of the same converter may read wrong; the converter measures "
        "against the supply: every channel then reads 31 % too low");
    // without clamps the bias branch alone lifts it: 100 V over 1M, 430k and, through 300k, the load's 110k
    for (auto& range : r.ranges) {
        range.chain.limits->to_supply.reset();
        range.chain.limits->to_ground.reset();
    }
    const double branch = 1.0 / (300e3 + 1.0 / g);
    const double rail = 100e-6 / (1.0 / 1e6 + 1.0 / 430e3 + branch) * branch / g;
    const audit::report unclamped = audit::audit(r, spiking(100.0));
    CHECK(near(*line_of(unclamped, "supply can sink it").figure, rail, 1e-6));
    CHECK(line_of(unclamped, "supply can sink it").text ==
          "the bias branch brings 42.3 \u00b5A into the supply, which it lifts to 4.65 V; its limit is 5.5 V");
    CHECK(line_of(unclamped, "other channels").verdict == audit::line_is::condition);
    CHECK(line_of(unclamped, "other channels").text ==
          "the converter measures against the supply: every channel then reads 29 % too low");
}

TEST_CASE("a limit of a part that is not known is never taken as good, and the job may fill it in" * doctest::skip(slow::build)) {
    pl::record::record r = with_limits();
    for (auto& range : r.ranges) {
        range.chain.limits->supply.load = 1e-3 * pl::ampere;
        range.chain.limits->top.dissipation.reset();
    }
    audit::job j = spiking(80.0);
    CHECK(line_of(audit::audit(r, j), "dissipation").text ==
          "up to 6.35 mW: dissipation of the top resistor; what it withstands is not known. Do not connect before you know; then "
          "enter \"chain/limits\"");
    j.instrument.top_resistor_power = 0.1 * pl::watt;
    CHECK(audit::audit(r, j).verdict == audit::suitability::with_conditions);
    j.instrument.highest_input = 60.0 * volt;
    CHECK(line_of(audit::audit(r, j), "input limit").verdict == audit::line_is::dangerous);
    j.instrument.highest_input.reset();
    for (auto& range : r.ranges) range.chain.limits->bottom = {};
    CHECK(line_of(audit::audit(r, j), "working voltage").verdict == audit::line_is::unknown);
    CHECK(line_of(audit::audit(r, j), "working voltage")
              .text.ends_with("voltage across the bottom resistor; what it withstands is not known: state it in the session, in "
                              "\"chain/limits\""));
    for (auto& range : r.ranges) {
        range.chain.limits->to_supply.reset();  // the pin itself then stands it, or not
        range.chain.limits->to_ground.reset();
    }
    CHECK(line_of(audit::audit(r, j), "pin voltage").verdict == audit::line_is::dangerous);
}

TEST_CASE("where the record describes the converter's pin, an audit says whether its sampling capacitor follows on this job") {
    pl::record::record r = scope();
    CHECK_FALSE(has(run(easy()), "sampling capacitor"));
    const auto with = [&](double sampling_time, double source) {
        for (auto& range : r.ranges) range.chain.pin = pl::front_end::pin_details{5e-12 * pl::farad, {}, sampling_time * second};
        audit::job j = easy();
        j.source.resistance = source * ohm;
        return line_of(audit::audit(r, j), "sampling capacitor");
    };
    const auto missing = [](double sampling_time, double source) {
        const double at_pin = 1.0 / (1.0 / (1e6 + source) + 1.0 / node_shunt());
        return 4096.0 * std::exp(-sampling_time / (at_pin * 5e-12));
    };
    const audit::line slow = with(1e-6, 0.0);
    CHECK(slow.verdict == audit::line_is::condition);
    CHECK(near(*slow.figure, missing(1e-6, 0.0)));
    CHECK(
        slow.text.starts_with("The sampling capacitor settles to 1081 codes of the full range in 1 \u00b5s; half a code takes "));
    const audit::line fast = with(7e-6, 0.0);
    CHECK(fast.verdict == audit::line_is::good);
    CHECK(near(*fast.figure, missing(7e-6, 0.0)));
    CHECK(fast.text == "a step over the full range is read to 0.37 codes by the next sample");
    CHECK(with(7e-6, 1e6).verdict == audit::line_is::condition);
}

TEST_CASE("at another sample rate a record with its pin widens the plus or minus, and one without refuses the mode") {
    audit::job j = easy();
    j.sample_rate = 50e3 * hertz;
    CHECK(line_of(run(j), "mode").verdict == audit::line_is::bad);
    pl::record::record r = scope();
    for (auto& range : r.ranges)
        range.chain.pin = pl::front_end::pin_details{10e-12 * pl::farad, {}, 1e-6 * second, 100e-9 * pl::farad};
    const audit::report as_calibrated = audit::audit(r, easy());
    CHECK(line_of(as_calibrated, "mode").verdict == audit::line_is::good);
    const audit::report faster = audit::audit(r, j);
    const audit::line mode = line_of(faster, "mode");
    CHECK(mode.verdict == audit::line_is::condition);
    CHECK(mode.text ==
          "50 kHz is asked for, and the calibration holds at 10 kHz: what the sampling capacitor does to the gain is counted in "
          "the plus or minus, by the data sheet of its pin; check a point at that rate first");
    // Limits alone, of the gain's change times what the voltage is above that of code 0: most of U by far.
    const double load = 40e3 * 10e-12 / (1.0 / 1e6 + 1.0 / node_shunt() + 10e3 * 10e-12);
    CHECK(faster.accuracy.off.value() > 5.0 * as_calibrated.accuracy.off.value());
    const double above_code_zero = faster.accuracy.at.value() - pl::front_end::nominal_offset(r.ranges[0].chain).value();
    CHECK(near(faster.accuracy.off.value(), 0.95 * load * above_code_zero, 0.03));
    // Within a thousandth it is the same one.
    j.sample_rate = 10.005e3 * hertz;
    CHECK(line_of(audit::audit(r, j), "mode").verdict == audit::line_is::good);
}

TEST_CASE("what the converter's pin leaks, lets through and adds as noise stands in the audit, in figures of this job") {
    pl::record::record r = scope();
    for (auto& range : r.ranges) {
        range.chain.adc.noise = 0.4 * pl::code;
        range.chain.pin = pl::front_end::pin_details{5e-12 * pl::farad, {}, 7e-6 * second};
    }
    const audit::report bare = audit::audit(r, easy());
    CHECK_FALSE(has(bare, "leakage"));
    CHECK_FALSE(has(bare, "bandwidth of the pin"));
    // By hand. The pin sees 1 Mohm beside the shunt; noise there is sqrt(kT/C), at the source 6.66 times that.
    const double at_pin = 1.0 / (1.0 / 1e6 + 1.0 / node_shunt());
    const double divider = 1e6 / at_pin;
    const double kT = 1.380649e-23 * (273.15 + easy().ambient.degrees);
    const double codes = std::hypot(std::sqrt(kT / 5e-12) / 3.3 * 4096.0, 0.4);
    CHECK(near(*line_of(bare, "noise of the pin").figure, codes, 1e-9));
    CHECK(line_of(bare, "noise of the pin").text ==
          "thermal noise of the resistors, 190 \u00b5V rms at the source, and the converter's own make 0.4 codes rms: of 12 bits "
          "11.2 are effective and 10.6 stand still in single samples");
    CHECK(bare.verdict == audit::suitability::suitable);

    for (auto& range : r.ranges) {
        range.chain.pin->at_pin = 1e-6 * pl::farad;
        range.chain.pin->leakage = 1e-9 * pl::ampere;
    }
    const audit::report tight = audit::audit(r, easy());
    // what leaks through 1 Mohm in codes of 3.3 V / 4096 times the divider
    CHECK(near(*line_of(tight, "leakage").figure, 1e-3 / (3.3 / 4096.0 * divider), 1e-9));
    CHECK(line_of(tight, "leakage").verdict == audit::line_is::good);
    CHECK(line_of(tight, "leakage").text == "of the pin shifts a reading by up to 1 mV, 0.19 codes");
    const double f = 1.0 / (2.0 * std::numbers::pi * at_pin * 1e-6);
    CHECK(near(*line_of(tight, "bandwidth of the pin").figure, f, 1e-9));
    CHECK(line_of(tight, "bandwidth of the pin").text ==
          "network and capacitor at the pin take 3 dB off at 1.06 Hz; an edge takes 330 ms");

    for (auto& range : r.ranges) range.chain.pin->leakage = 10e-9 * pl::ampere;
    pl::record::record counted = r;
    const std::string leakage = "A/10 V/converter/leakage";
    counted.inputs.add({leakage, "leakage", "data sheet", "1", 0.0, pl::uncertainty::rectangular{1.0}});
    for (const std::string step : {"zero", "reference", "negative"}) {
        counted.inputs.add({"A/10 V/" + step + "/temperature of " + leakage, "growth of leakage", "data sheet", "1", 0.0,
                            pl::uncertainty::coefficient_times_difference{1.0, 0.0, 0.07, leakage, step}});
    }
    CHECK(line_of(audit::audit(counted, easy()), "leakage").text ==
          "of the pin shifts a reading by up to 10 mV, 1.9 codes; it doubles with every ten kelvin or so (common practice, no "
          "source), and what it has grown by since the calibration is in the plus or minus");
    CHECK(line_of(audit::audit(counted, easy()), "leakage").verdict == audit::line_is::good);
    const audit::report leaking = audit::audit(r, easy());
    CHECK(line_of(leaking, "leakage").verdict == audit::line_is::condition);
    CHECK(line_of(leaking, "leakage").text ==
          "of the pin shifts a reading by up to 10 mV, 1.9 codes; it doubles with every ten kelvin or so (common practice, no "
          "source), and a zero step takes it off at its temperature alone");
}

TEST_CASE("limits of the value: readings to accept are inside by U, the ratio says how comfortable that is") {
    audit::job j = easy();
    j.need.absolute = 0.0 * volt;
    j.need.limits = pl::conformity::interval<pl::voltage>{1.0 * volt, 3.0 * volt};
    const audit::report wide = run(j);
    CHECK(wide.verdict == audit::suitability::suitable);
    REQUIRE(wide.decision.has_value());
    audit::job at = easy();
    at.low = at.high = wide.decision->accepted.upper;
    CHECK(near(3.0 - wide.decision->accepted.upper.value(), run(at).accuracy.U.value(), 1e-6));
    CHECK(near(*line_of(wide, "test uncertainty ratio").figure, 1.0 / wide.accuracy.U.value(), 1e-9));
    // guarded by U at k: Phi(-k) is left beyond one limit
    double beyond = 0.0;
    for (const pl::voltage& limit : {wide.decision->accepted.lower, wide.decision->accepted.upper}) {
        at.low = at.high = limit;
        beyond = std::max(beyond, 0.5 * std::erfc(run(at).accuracy.k / std::sqrt(2.0)));
    }
    CHECK(near(wide.decision->at_limit.consumers, beyond, 1e-3));

    const double U = wide.accuracy.U.value();
    j.need.limits = pl::conformity::interval<pl::voltage>{(2.0 - 2.0 * U) * volt, (2.0 + 2.0 * U) * volt};
    const audit::report narrow = run(j);
    CHECK(narrow.verdict == audit::suitability::with_conditions);
    CHECK(near(*line_of(narrow, "test uncertainty ratio").figure, 2.0, 1e-6));
    // the aim of EURAMET cg-15 parts limits themselves from acceptance limits
    const std::string aim = pl::published::entry("guidelines", "euramet-cg-15").at("expected").at("facts").at(2);
    REQUIRE(aim.find(":1 ratio between instrument accuracy and calibration uncertainty is an aim") == 3);
    const double ratio = aim[2] - '0';
    for (const double off : {-0.001, 0.001}) {
        const double half = (ratio + off) * U;
        j.need.limits = pl::conformity::interval<pl::voltage>{(2.0 - half) * volt, (2.0 + half) * volt};
        CHECK(line_of(run(j), "test uncertainty ratio").verdict ==
              (off < 0.0 ? audit::line_is::condition : audit::line_is::good));
    }
    j.need.limits = pl::conformity::interval<pl::voltage>{(2.0 - 0.5 * U) * volt, (2.0 + 0.5 * U) * volt};
    const audit::report hopeless = run(j);
    CHECK(hopeless.verdict == audit::suitability::not_suitable);
    CHECK_FALSE(hopeless.decision.has_value());
    CHECK(near(*line_of(hopeless, "test uncertainty ratio").margin(), 1.0 - 1.0 / 0.5, 1e-6));
}

TEST_CASE("in a difference of two readings the drift of the offset cancels, in a level it does not") {
    audit::job level = easy();
    level.date = "2035-03-14";
    level.low = level.high = 1.0 * volt;
    audit::job difference = level;
    difference.read = audit::reading_of::difference;
    difference.low = 0.0 * volt;
    pl::record::record drifting = scope();
    const auto grows = [&](const audit::job& j) {
        drifting.ranges.front().in_use->offset_per_year = 0.0 * volt;
        const double without = audit::audit(drifting, j).accuracy.U.value();
        drifting.ranges.front().in_use->offset_per_year = 5e-3 * volt;
        return audit::audit(drifting, j).accuracy.U.value() - without;
    };
    CHECK(run(difference).accuracy.at.value() == 1.0);
    CHECK(grows(level) > 0.03);
    CHECK(grows(difference) == 0.0);
}

TEST_CASE("averaging takes off noise, but no more than the calibration's capture shows") {
    audit::job j = easy();
    const auto& seen = scope().ranges.front().zero.seen;
    const double code_size = scope().ranges.front().result.gain.value();
    CHECK(near(*line_of(run(j), "noise").figure, 2.0 * seen.noise.value() * code_size));
    j.read = audit::reading_of::mean;
    j.samples = 1e9;
    CHECK(near(*line_of(run(j), "noise").figure, 2.0 * seen.noise.value() * code_size / std::sqrt(seen.n_eff)));
}

TEST_CASE("resolution is half a code, referred to the source") {
    audit::job j = easy();
    const double code_size = scope().ranges.front().result.gain.value();
    CHECK(near(*line_of(run(j), "resolution").figure, 0.5 * code_size));
    j.source.resistance = 100e3 * ohm;
    CHECK(near(*line_of(run(j), "resolution").figure, 0.5 * code_size * (1.0 + 100e3 / r_in())));
}

TEST_CASE("a span beyond the range or onto the converter's end is not suitable, by how much is said") {
    audit::job j = easy();
    j.high = 10.5 * volt;
    j.highest = 11.0 * volt;
    j.instrument.highest_input = 30.0 * volt;
    j.instrument.clamp_current = pl::current::from_value(1e-3);
    j.instrument.top_resistor_power = 0.1 * pl::watt;
    const audit::report r = run(j);
    CHECK(r.verdict == audit::suitability::not_suitable);
    CHECK(near(*line_of(r, "range").margin(), 1.0 - 1.05));
    CHECK(line_of(r, "clipping").verdict == audit::line_is::good);
    CHECK(line_of(r, "extrapolation").verdict == audit::line_is::condition);  // checked up to 7.5 V
    j.high = 11.5 * volt;
    j.highest = 12.0 * volt;
    CHECK(line_of(run(j), "clipping").verdict == audit::line_is::bad);
}

TEST_CASE("another sample rate than that of the calibration is another mode") {
    audit::job j = easy();
    j.sample_rate = 20e3 * hertz;
    const audit::report r = run(j);
    CHECK(r.verdict == audit::suitability::not_suitable);
    CHECK(r.lines.front().text == "20 kHz is asked for, and the calibration holds at 10 kHz: calibrate in that mode");
    REQUIRE_FALSE(r.changes.empty());
    CHECK(r.changes.front().what == "use the sample rate of the calibration, 10 kHz");
    CHECK(r.changes.front().verdict == audit::suitability::suitable);
}

TEST_CASE("too few samples a period are not suitable, whatever the accuracy") {
    const audit::report r = run(on_a_sine(5e3, 1e6));
    CHECK(r.verdict == audit::suitability::not_suitable);
    CHECK(near(*line_of(r, "samples").margin(), 1.0 - 2.5 / 2.0));
    CHECK(run(on_a_sine(1e3, 1e6)).verdict == audit::suitability::suitable);
}

TEST_CASE("a rise time is stretched by bandwidth: within limits good, beyond them to be corrected") {
    audit::job j = easy();
    j.fastest = {audit::event_kind::rise_time, {}, 1e-3 * second, 0.2e-3 * second};
    j.instrument.bandwidth = 1e3 * hertz;
    j.instrument.clock_tolerance = 0.0 * one;
    const audit::report r = run(j);
    const double own = std::log(9.0) / (2.0 * std::numbers::pi * 1e3);
    CHECK(near(*line_of(r, "rise time").figure, std::hypot(1e-3, own) - 1e-3));
    CHECK(r.verdict == audit::suitability::suitable);
    j.instrument.bandwidth = 300.0 * hertz;
    CHECK(line_of(run(j), "rise time").verdict == audit::line_is::condition);
    CHECK(line_of(run(j), "rise time").text == "1 ms shows as 1.54 ms: correct it, sqrt(t² - (1.17 ms)²)");
}

TEST_CASE("a time between two edges is known to one interval and the clock: triangle and rectangle") {
    audit::job j = easy();
    j.fastest = {audit::event_kind::pulse_width, {}, 10e-3 * second, 0.2e-3 * second};
    j.instrument.bandwidth = 100e3 * hertz;
    j.instrument.clock_tolerance = 0.0 * one;
    // 95 % of a triangle of half-width a lies within a (1 - sqrt(0.05))
    CHECK(near(*line_of(run(j), "timing").figure, 1e-4 * (1.0 - std::sqrt(0.05)), 2e-4));
    j.instrument.clock_tolerance = 0.02 * one;
    const audit::report coarse = run(j);
    CHECK(*line_of(coarse, "timing").figure > 1.9e-4);
    j.fastest.within = 0.1e-3 * second;
    CHECK(run(j).verdict == audit::suitability::not_suitable);
    j.instrument.clock_tolerance.reset();
    CHECK(line_of(run(j), "clock").verdict == audit::line_is::unknown);
}

TEST_CASE("a clock that the record has measured takes the place of a tolerance") {
    audit::job j = easy();
    j.fastest = {audit::event_kind::pulse_width, {}, 10e-3 * second, 0.2e-3 * second};
    j.instrument.bandwidth = 100e3 * hertz;
    j.instrument.clock_tolerance = 0.02 * one;
    pl::record::record r = scope();
    r.clock.emplace();
    r.clock->nominal = 10e3 * hertz;
    r.clock->rate = 10.01e3 * hertz;
    r.clock->ambient = {22.5};
    r.clock->U = 2.0 * hertz;
    const audit::report exact = audit::audit(r, j);
    CHECK(line_of(exact, "clock").verdict == audit::line_is::good);
    CHECK(line_of(exact, "clock").text == "measured to be 0.10 % off its nominal rate, ± 0.02 %, at 22.5 degC on " +
                                              r.dates.ended +
                                              ": counted as uncorrected, in place of a tolerance; another temperature moves it");
    // edges as above, and a thousandth of 10 ms
    CHECK(near(*line_of(exact, "timing").figure, 1e-4 * (1.0 - std::sqrt(0.05)) + 1e-5, 2e-4));
    r.clock->u_by_reference = 200.0 * hertz;  // 2 % of 10 ms by itself: far more than two edges
    r.clock->degrees_of_freedom = 14.0;
    CHECK(*line_of(audit::audit(r, j), "timing").figure > 3.9e-4);
    j.instrument.clock_tolerance.reset();  // not asked for any more
    CHECK(line_of(audit::audit(r, j), "clock").verdict == audit::line_is::good);
}

TEST_CASE("the record's tolerance of the clock counts where neither job nor calibration say more") {
    audit::job j = easy();
    j.fastest = {audit::event_kind::pulse_width, {}, 10e-3 * second, 0.2e-3 * second};
    j.instrument.bandwidth = 100e3 * hertz;
    j.instrument.clock_tolerance = 0.02 * one;
    pl::record::record r = scope();
    const double by_job = *line_of(audit::audit(r, j), "timing").figure;
    r.clock_tolerance = 0.01 * one;
    const audit::report job_first = audit::audit(r, j);
    CHECK(near(*line_of(job_first, "timing").figure, by_job));
    j.instrument.clock_tolerance.reset();
    const audit::report by_record = audit::audit(r, j);
    CHECK(line_of(by_record, "clock").verdict == audit::line_is::good);
    CHECK(line_of(by_record, "clock").text ==
          "within ± 1 % of its nominal rate by its data sheet, as the record states it; not calibrated");
    // 95 % of a triangle and a rectangle, both of half-width a: 1 - x/a to the third over 6 is 0.025 at either end of their sum
    const double a = 1e-4;
    CHECK(near(*line_of(by_record, "timing").figure, a * (2.0 - std::cbrt(12.0 * 0.025)), 1e-3));
    r.clock_tolerance.reset();
    CHECK(line_of(audit::audit(r, j), "clock").verdict == audit::line_is::unknown);
}

TEST_CASE("what the record lacks is said to be not known, with the field to enter, and never passes") {
    audit::job j = easy();
    j.fastest = {audit::event_kind::sine, 100.0 * hertz, {}, {}};
    j.probe = pl::front_end::probe{"x1 (invented)", 100.0 * ohm, 0.1 * one};
    j.probe->rating = 300.0 * volt;
    j.continuous = true;
    pl::record::record fresh = scope();
    fresh.ranges.front().in_use.reset();
    const audit::report r = audit::audit(fresh, j);
    CHECK(r.verdict == audit::suitability::with_conditions);
    CHECK(line_of(r, "bandwidth").text ==
          "not known, so what it takes off the signal is missing below: enter \"instrument/bandwidth\" and \"probe/bandwidth\"");
    CHECK(line_of(r, "aliasing").text ==
          "not known what else is on the wire; above 5 kHz it shows as something slow. Look once at a higher rate, and enter "
          "\"signal/also_present\"");
    CHECK(line_of(r, "compensation").text ==
          "of the probe is not known: adjust it on a square wave, and enter \"probe/mismatch\"");
    CHECK(line_of(r, "age").text ==
          "drift is not known, and 0.0 years have passed: enter \"instrument/in_use\"; it is missing in the plus or minus");
    for (const char* name : {"bandwidth", "aliasing", "compensation", "age"}) {
        CHECK(line_of(r, name).verdict == audit::line_is::unknown);
    }
}

TEST_CASE("what else is on the wire widens the reading, and a mean takes it off") {
    audit::job j = easy();
    j.low = j.high;
    const double U = run(j).accuracy.U.value();
    j.also_present = std::vector<audit::disturbance>{{"hum", 50.0 * hertz, 0.1 * volt}};
    const double with_hum = run(j).accuracy.U.value();
    CHECK(with_hum > 0.09);
    CHECK(with_hum < 0.1 + U);
    j.read = audit::reading_of::mean;
    j.samples = 200.0;  // one period
    CHECK(run(j).accuracy.U.value() < U);
    j.also_present = std::vector<audit::disturbance>{{"switching ripple", 21e3 * hertz, 0.1 * volt}};
    j.continuous = true;
    CHECK(line_of(run(j), "aliasing").text ==
          "switching ripple, 100 mV at 21 kHz, shows as 1 kHz: in the plus or minus; do not take it for a signal");
    CHECK(run(j).verdict == audit::suitability::with_conditions);
}

TEST_CASE("a failed check of the calibration is a condition") {
    pl::record::record failed = scope();
    failed.ranges.front().checks.back().verdict = pl::conformity::verdict::fail;
    const audit::report r = audit::audit(failed, easy());
    CHECK(r.verdict == audit::suitability::with_conditions);
    CHECK(line_of(r, "check point").text == "the calibration's own check \"7.5 V\" failed: find out why first");
}

TEST_CASE("a mismatched probe adds the step that it makes") {
    audit::job j = on_a_sine(100.0, 1e6);
    j.probe = pl::front_end::probe{"x10 (invented)", 9e6 * ohm, 0.01 * one};
    j.probe->rating = 300.0 * volt;
    j.probe->bandwidth = 10e6 * hertz;
    j.probe->mismatch = 0.0 * one;
    const double before = run(j).accuracy.uncorrected.value();
    j.probe->mismatch = 0.1 * one;
    const double down = 1.0 - 0.9 * (r_in() + 9e6) / (0.9 * r_in() + 9e6);
    CHECK(near(run(j).accuracy.uncorrected.value() - before, 2.0 * down, 1e-6));
}

TEST_CASE("what would change a verdict is tried, sorted by what it does, and each figure is that of an audit of its own") {
    audit::job j = easy();
    j.date = "2027-03-14";
    j.ambient = {2.5};
    j.source.resistance = 20e3 * ohm;
    j.need.absolute = 12e-3 * volt;
    const audit::report r = run(j);
    CHECK(r.verdict == audit::suitability::not_suitable);
    REQUIRE(r.changes.size() >= 2);
    for (std::size_t i = 1; i < r.changes.size(); ++i) CHECK(r.changes[i - 1].verdict <= r.changes[i].verdict);
    audit::job buffered = j;
    buffered.source = {};
    const auto by_buffer = std::find_if(r.changes.begin(), r.changes.end(),
                                        [](const auto& c) { return c.what == "put a buffer between source and input"; });
    REQUIRE(by_buffer != r.changes.end());
    CHECK(by_buffer->verdict == run(buffered).verdict);
    CHECK(by_buffer->deciding == line_of(run(buffered), by_buffer->deciding.name));
}

TEST_CASE("jobs that do not fit the record are refused by name") {
    audit::job j = easy();
    j.range = "5 V";
    CHECK(message([&] { static_cast<void>(run(j)); }) ==
          "easy.json: /range: channel \"A\", range \"5 V\", expected one of record PS2-0007-2025-03: \"A\" \"10 V\", \"A\" \"1 "
          "V\", "
          "\"B\" \"10 V\", \"B\" \"1 V\"; correct channel or range, or take another record");
    j = easy();
    j.date = "2025-03-13";
    CHECK(message([&] { static_cast<void>(run(j)); }) ==
          "easy.json: /date: found \"2025-03-13\", expected a day not before the calibration, 2025-03-14; correct the date, or "
          "take "
          "an earlier record");
    pl::record::record probe = scope();
    probe.what = pl::record::kind::probe;
    CHECK(message([&] { static_cast<void>(audit::audit(probe, easy())); }) ==
          "record PS2-0007-2025-03: found the record of a probe, expected that of an instrument; describe the probe in the job, "
          "and "
          "give the instrument's record");
}

}  // namespace audit_test
