// Three steps, two steps above zero, and what non-linearity does between and beyond them.

#include "bench.hpp"
#include "covering.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>
#include <vector>

namespace steps_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

std::vector<reference> references() {
    std::vector<reference> all = bench::references();
    reference below;
    below.id = "minus five";
    below.description = "negative reference part";
    below.output = stated_voltage{-5.0 * volt, limits{4e-3 * volt}};
    all.push_back(below);
    reference one_volt;
    one_volt.id = "one volt";
    one_volt.description = "reference part";
    one_volt.output = stated_voltage{1.0 * volt, limits{1e-3 * volt}};
    all.push_back(one_volt);
    return all;
}

/// Mean code below the zero step where the slope there is `steeper` times that above, in codes per volt.
double bent_code(double volts, double steeper) {
    const double zero = bench::code_of(0.0);
    return zero + (volts < 0.0 ? steeper : 1.0) * (bench::code_of(volts) - zero);
}

step seen_at(const std::string& by, double mean) { return bench::stepped(by, bench::seen(mean)); }

steps three(double steeper) {
    return {seen_at("short", bench::code_of(0.0)), seen_at("five", bench::code_of(5.0)),
            seen_at("minus five", bent_code(-5.0, steeper))};
}

range_setup still() {
    range_setup setup = bench::ten_volts();
    setup.temperature_half_width = 0.0 * kelvin;
    return setup;
}

struct calibrated {
    std::vector<reference> all = references();
    un::input_set inputs;
    range_calibration of;

    explicit calibrated(const steps& seen, const range_setup& setup = still()) : of(solve(setup, seen, all, inputs)) {}

    [[nodiscard]] un::budget at_code(double c) const {
        return make_convolved_budget(reading(inputs, all, of, c * code, at_calibration(of)));
    }
    [[nodiscard]] double value(double c) const { return at_code(c).value; }
};

double sensitivity_of(const un::budget& b, const std::string& id) {
    for (const un::budget_row& row : b.rows) {
        if (row.in->id == id) return row.sensitivity;
    }
    return 0.0;
}

std::string refusal(const steps& seen, const range_setup& setup = still(), const std::vector<reference>& all = references()) {
    un::input_set inputs;
    std::string text = "no exception";
    try {
        (void)solve(setup, seen, all, inputs);
    } catch (const error& e) {
        text = e.what();
    }
    CHECK(inputs.all().empty() == (text != "no exception"));  // nothing half-solved
    return text;
}

const finding* found(const range_calibration& of, int number) {
    const auto at = std::find_if(of.findings.begin(), of.findings.end(), [&](const finding& f) { return f.number == number; });
    return at == of.findings.end() ? nullptr : &*at;
}

}  // namespace

TEST_CASE("with three steps the line of each side passes through its two points") {
    for (const double steeper : {1.0, 0.98, 1.03}) {
        CAPTURE(steeper);
        const calibrated c(three(steeper));
        CHECK(std::abs(c.value(bench::code_of(0.0))) <= 1e-12);
        CHECK(std::abs(c.value(bench::code_of(5.0)) - 5.0) <= 1e-12);
        CHECK(std::abs(c.value(bent_code(-5.0, steeper)) + 5.0) <= 1e-12);
        for (const double v : {-8.0, -2.0, 2.0, 8.0}) CHECK(std::abs(c.value(bent_code(v, steeper)) - v) <= 1e-12);
        REQUIRE(c.of.negative_result);
        CHECK(std::abs(c.of.result.gain.value() / c.of.negative_result->gain.value() - steeper) <= 1e-12);
        const double zero = bench::code_of(0.0);
        CHECK(std::abs(c.of.negative_result->offset.value() + c.of.negative_result->gain.value() * zero) <= 1e-12);
    }
}

TEST_CASE(
    "on the negative side the sensitivities are the closed form of zero and negative step, and the reference step has none") {
    // dV/dm0 = -g (1 - r), dV/dm- = -g r, dV/dV0 = 1 - r, dV/dV- = r, r = (V - V0) / (V- - V0) with the errors of bench's references:
    // +-20 uV at 0 V, +-4 mV at -5 V, which an error in proportion makes -4 mV times the error in units of its limits
    constexpr double steeper = 1.02;
    const calibrated c(three(steeper));
    const double g = -5.0 / (bent_code(-5.0, steeper) - bench::code_of(0.0));
    for (const double v : {-8.0, -5.0, -2.0, -0.02}) {
        CAPTURE(v);
        const double r = v / -5.0;
        const un::budget b = c.at_code(bent_code(v, steeper));
        CHECK(std::abs(sensitivity_of(b, "A/8 V/zero/mean") + g * (1.0 - r)) <= 1e-12 * g);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/negative/mean") + g * r) <= 1e-12 * g);
        CHECK(std::abs(sensitivity_of(b, "reference/short/error") - 20e-6 * (1.0 - r)) <= 1e-15);
        CHECK(std::abs(sensitivity_of(b, "reference/minus five/error") + 4e-3 * r) <= 1e-15);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/reading/noise") - g) <= 1e-12 * g);
        CHECK(sensitivity_of(b, "A/8 V/reference/mean") == 0.0);
        CHECK(sensitivity_of(b, "reference/five/error") == 0.0);
    }
    // and above zero the negative step has none
    const un::budget above = c.at_code(bench::code_of(3.0));
    CHECK(sensitivity_of(above, "A/8 V/negative/mean") == 0.0);
    CHECK(sensitivity_of(above, "reference/minus five/error") == 0.0);
    CHECK(std::abs(sensitivity_of(above, "reference/five/error") - 2.5e-3 * 0.6) <= 1e-15);
}

TEST_CASE("a third step makes the far negative end better than extrapolation does") {
    const calibrated of_three(three(1.0));
    steps two = three(1.0);
    two.negative.reset();
    const calibrated of_two(two);
    const double far = bench::code_of(-8.0);
    // r = 1.6 on a line of its own against r = -1.6 on the other side's: 1 - r is -0.6 against 2.6
    CHECK(of_three.at_code(far).U < 0.8 * of_two.at_code(far).U);
    CHECK(std::abs(of_three.at_code(bench::code_of(4.0)).U - of_two.at_code(bench::code_of(4.0)).U) <=
          1e-4 * of_two.at_code(bench::code_of(4.0)).U);
}

TEST_CASE("code_at is the inverse of the reading on both sides, whichever side the reference step is on") {
    constexpr double steeper = 1.03;
    const calibrated usual(three(steeper));
    const calibrated exchanged({seen_at("short", bench::code_of(0.0)), seen_at("minus five", bent_code(-5.0, steeper)),
                                seen_at("five", bench::code_of(5.0))});
    for (const calibrated* c : {&usual, &exchanged}) {
        for (const double v : {-8.0, -5.0, -1.0, -1e-9, 0.0, 1e-9, 1.0, 5.0, 8.0}) {
            CAPTURE(v);
            const codes at = code_at(c->of, v * volt);
            CHECK(std::abs(at.value() - bent_code(v, steeper)) <= 1e-9);
            CHECK(std::abs(c->value(at.value()) - v) <= 1e-12);
        }
    }
}

TEST_CASE("slopes that differ by more than their uncertainty are found, and said in a sentence") {
    // 2 % more codes per volt below zero; the same part gave both voltages, its leads reversed below
    steps seen = three(1.02);
    seen.negative->source.reference = "five";
    seen.negative->source.reversed = true;
    const calibrated c(seen);
    // by hand, relative to the gain above: lengths of the two lines in codes, non-linearity +-1 code at each end (shared at the zero
    // step), 0.8 code / sqrt(1000) of noise, +-20 uV at zero; what the part is off changes both slopes alike but for the 2 %
    const double above = bench::code_of(5.0) - bench::code_of(0.0);
    const double below = 1.02 * above;
    const double slope = above / below;  // of the gain below to that above
    const double at_zero = slope / below + 1.0 / above;
    const double noise = 0.8 / std::sqrt(1000.0) * std::hypot(at_zero, slope / below, 1.0 / above);
    const double per_volt = above / 5.0;  // 1 / gain
    const double U = bench::covering({at_zero, slope / below, 1.0 / above, 20e-6 * per_volt * (1.0 / below + 1.0 / above),
                                      2.5e-3 * per_volt * (1.0 / above - 1.0 / below)},
                                     noise, 0.997);
    CHECK(std::abs(100.0 * (slope - 1.0) + 1.96) <= 0.005);
    CHECK(std::abs(100.0 * U - 0.70) <= 0.005);
    const finding* f = found(c.of, 203);
    REQUIRE(f != nullptr);
    CHECK(f->where == "negative step, channel A, range 8 V");
    CHECK(
        f->text ==
        "the slope below the zero step differs from that above it by -1.96 %, more than its uncertainty of 0.70 %; each side is "
        "corrected by its own, readings that span both carry both");
}

TEST_CASE("slopes that agree within their uncertainty are not called different") {
    for (const double steeper : {1.0, 1.006, 0.994}) {
        CAPTURE(steeper);
        steps seen = three(steeper);
        seen.negative->source.reference = "five";
        seen.negative->source.reversed = true;
        CHECK(found(calibrated(seen).of, 203) == nullptr);
    }
    for (const double steeper : {1.009, 0.991}) {
        CAPTURE(steeper);
        steps seen = three(steeper);
        seen.negative->source.reference = "five";
        seen.negative->source.reversed = true;
        CHECK(found(calibrated(seen).of, 203) != nullptr);
    }
    steps two = three(1.0);
    two.negative.reset();
    CHECK(found(calibrated(two).of, 203) == nullptr);
}

TEST_CASE("what one part is off tilts both sides alike and is no difference of slopes; what two parts are off may be") {
    // 5 V +- 2.5 mV and -5 V +- 400 mV: 2 % of slope prove nothing if the second is off by so much
    std::vector<reference> all = references();
    all[4].output->spread = limits{0.4 * volt};
    un::input_set inputs;
    CHECK(found(solve(still(), three(1.02), all, inputs), 203) == nullptr);
    all[1].output->spread = limits{0.4 * volt};
    steps seen = three(1.02);
    seen.negative->source.reference = "five";
    seen.negative->source.reversed = true;
    un::input_set others;
    CHECK(found(solve(still(), seen, all, others), 203) != nullptr);
}

TEST_CASE("a third step on the side of the reference step is refused") {
    steps seen = three(1.0);
    seen.negative = seen_at("five", bench::code_of(5.0));
    CHECK(refusal(seen) ==
          "negative step, channel A, range 8 V: 5 V, on the same side of 0 V as 5 V, expected a voltage on the other side of the "
          "zero step; apply the reference with its leads reversed");
    steps turned = three(1.0);
    turned.reference = *turned.negative;
    CHECK(
        refusal(turned) ==
        "negative step, channel A, range 8 V: -5 V, on the same side of 0 V as -5 V, expected a voltage on the other side of the "
        "zero step; apply the reference with its leads reversed");
    steps at_zero = three(1.0);
    at_zero.negative = seen_at("short", bench::code_of(-5.0));
    CHECK(refusal(at_zero) ==
          "negative step, channel A, range 8 V: 0 V, on the same side of 0 V as 5 V, expected a voltage on the other side of the "
          "zero step; apply the reference with its leads reversed");
}

TEST_CASE("a third step that carries no line is refused by its own name") {
    steps same_code = three(1.0);
    same_code.negative = seen_at("minus five", bench::code_of(0.0));
    CHECK(refusal(same_code) ==
          "zero and negative step, channel A, range 8 V: mean code 1622.38 at 0 V and 1622.38 at -5 V, expected two voltages on "
          "two "
          "codes; check that the reference was connected during its step and the input shorted during the other");
    steps too_close = three(1.0);
    too_close.negative = seen_at("minus five", bench::code_of(0.0) - 150.0);
    CHECK(refusal(too_close) ==
          "zero and negative step, channel A, range 8 V: a span of 150.0 codes between the steps, expected at least 205, a "
          "twentieth of "
          "the converter's; apply a larger reference voltage (the range reaches -8 V)");
    steps off = three(1.3);
    CHECK(
        refusal(off) ==
        "negative step, channel A, range 8 V: a gain of 0.00783439 V/code, -23.2 % off nominal, expected 0.0102051 V/code within "
        "8.2 % by resistors and converter; check the range switch, the probe's factor, the reference voltage (volts, not "
        "millivolts) and the front end's values");
    steps clipped = three(1.0);
    clipped.negative->seen.at_bottom = 500;
    CHECK(refusal(clipped) ==
          "negative step, channel A, range 8 V: 500 of 1000 samples on code 0, expected at most 1 in 1000 on an end code; "
          "connect the "
          "reference the right way round, or use a bipolar range");
    steps single = three(1.0);
    single.negative->seen.n = 1;
    CHECK(refusal(single) ==
          "negative step, channel A, range 8 V: 1 sample, expected at least 2; capture more: one sample shows no scatter");
    steps nowhere = three(1.0);
    nowhere.negative->source.reference = "meter";
    nowhere.negative->source.stated = stated_voltage{std::nan("") * volt, expanded{1e-3 * volt, 2.0}};
    CHECK(refusal(nowhere) ==
          "negative step, channel A, range 8 V: an applied voltage of nan V, expected a finite voltage; correct the session");
}

TEST_CASE("a third step whose code went the wrong way is refused as swapped") {
    steps swapped = three(1.0);
    swapped.negative = seen_at("minus five", bench::code_of(5.0));
    CHECK(refusal(swapped) ==
          "zero and negative step, channel A, range 8 V: mean code 1622.38 at 0 V and 2113.31 at -5 V, expected codes that rise "
          "with the "
          "voltage; the leads are reversed: connect the reference the right way round, or state its voltage with the other sign");
}

namespace {

/// 300 kohm and 100 kohm for a 12 V battery, single supply: at 0 V the converter would stand 6 codes below its bottom code.
range_setup battery() {
    range_setup setup = still();
    setup.range = "12 V";
    setup.chain.input.top.nominal = 300e3 * ohm;
    setup.chain.input.bottom->nominal = 100e3 * ohm;
    setup.chain.input.bias.reset();
    setup.chain.low = 0.0 * volt;
    setup.chain.high = 12.0 * volt;
    return setup;
}

double battery_code(double volts) { return 4096.0 * volts / 4.0 / 3.3 - 6.0; }

}  // namespace

TEST_CASE("a zero step that is clipped is refused with the advice to apply two voltages above zero, and they do") {
    step shorted = bench::stepped("short", bench::seen(0.0, 0.0));
    shorted.seen.at_bottom = 1000;
    const step ten = bench::metered(10.0, bench::seen(battery_code(10.0)));
    CHECK(refusal({shorted, ten, {}}, battery()) ==
          "zero step, channel A, range 12 V: 1000 of 1000 samples on code 0, expected at most 1 in 1000 on an end code; the true "
          "zero "
          "lies below it: calibrate at two voltages above zero instead");

    const calibrated c({seen_at("one volt", battery_code(1.0)), ten, {}}, battery());
    // span fraction from the lower of the two; the offset that the clipped zero hid: 6 codes of 4 * 3.3 V / 4096
    CHECK(std::abs(c.of.result.offset.value() - 6.0 * 4.0 * 3.3 / 4096.0) <= 1e-12);
    const double g = 4.0 * 3.3 / 4096.0;
    for (const double v : {0.05, 1.0, 5.5, 10.0, 12.0}) {
        CAPTURE(v);
        const double r = (v - 1.0) / 9.0;
        const un::budget b = c.at_code(battery_code(v));
        CHECK(std::abs(b.value - v) <= 1e-12);
        CHECK(std::abs(sensitivity_of(b, "reference/one volt/error") - 1e-3 * (1.0 - r)) <= 1e-15);
        CHECK(std::abs(sensitivity_of(b, "reference/meter/error") - 0.5e-3 * r) <= 1e-15);
        CHECK(std::abs(sensitivity_of(b, "A/12 V/zero/mean") + g * (1.0 - r)) <= 1e-12 * g);
    }
}

namespace {

range_setup bowed() {
    range_setup setup = still();
    setup.chain.adc.shape = front_end::converter::inl_shape::smooth;
    setup.chain.adc.integral_nonlinearity = 3.0 * code;
    return setup;
}

/// A bow of height 1: 4 x (1 - x) over the codes 0 to 4095.
double bow_at(double c) { return 4.0 * c / 4095.0 * (1.0 - c / 4095.0); }

}  // namespace

TEST_CASE("a bow leaves e(c) - (1-r) e(m0) - r e(m1): nothing at the two steps, more outside than between") {
    steps two = three(1.0);
    two.negative.reset();
    const calibrated c(two, bowed());
    const double m0 = bench::code_of(0.0);
    const double m1 = bench::code_of(5.0);
    const double g = 5.0 / (m1 - m0);
    double between = 0.0;
    double outside = 0.0;
    for (const double v : {-12.0, -8.0, -5.0, 0.0, 1.0, 2.5, 4.0, 5.0, 8.0, 12.0}) {
        CAPTURE(v);
        const double at = bench::code_of(v);
        const double r = v / 5.0;
        const double closed = g * (bow_at(at) - (1.0 - r) * bow_at(m0) - r * bow_at(m1));
        const un::budget b = c.at_code(at);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/converter/bow") - closed) <= 1e-12 * g);
        if (v == 0.0 || v == 5.0) CHECK(std::abs(closed) <= 1e-12 * g);
        double& largest = v >= 0.0 && v <= 5.0 ? between : outside;
        largest = std::max(largest, std::abs(closed));
        // a smooth bow has no second input anywhere
        for (const un::budget_row& row : b.rows) CHECK(row.in->id.find("/nonlinearity") == std::string::npos);
    }
    // of a parabola: r (r - 1), at most 1/4 between the steps and 2.4 * 3.4 = 8.16 at -12 V
    CHECK(std::abs(outside / between - 8.16 / 0.25) <= 1e-9);
}

TEST_CASE("with three steps a bow leaves nothing at all three and bends each side on its own") {
    const calibrated c(three(1.0), bowed());
    const double m0 = bench::code_of(0.0);
    const double below = bench::code_of(-5.0);
    const double g = 5.0 / (bench::code_of(5.0) - m0);
    for (const double v : {-8.0, -5.0, -2.5, -1.0}) {
        CAPTURE(v);
        const double r = v / -5.0;
        const double at = bench::code_of(v);
        const double closed = g * (bow_at(at) - (1.0 - r) * bow_at(m0) - r * bow_at(below));
        CHECK(std::abs(sensitivity_of(c.at_code(at), "A/8 V/converter/bow") - closed) <= 1e-12 * g);
    }
    for (const double v : {-5.0, 0.0, 5.0}) {
        CHECK(std::abs(sensitivity_of(c.at_code(bench::code_of(v)), "A/8 V/converter/bow")) <= 1e-12 * g);
    }
}

TEST_CASE("stepped non-linearity is new at each code: g at the reading, g (1-r) at the zero step, g r at the reference step") {
    steps two = three(1.0);
    two.negative.reset();
    const calibrated c(two);
    const double g = 5.0 / (bench::code_of(5.0) - bench::code_of(0.0));
    for (const double v : {-8.0, 0.0, 2.5, 5.0, 8.0}) {
        CAPTURE(v);
        const double r = v / 5.0;
        const un::budget b = c.at_code(bench::code_of(v));
        CHECK(std::abs(sensitivity_of(b, "A/8 V/reading/nonlinearity") - g) <= 1e-12 * g);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/zero/nonlinearity") + g * (1.0 - r)) <= 1e-12 * g);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/reference/nonlinearity") + g * r) <= 1e-12 * g);
        double u2 = 0.0;
        for (const un::budget_row& row : b.rows) {
            if (row.in->id.ends_with("/nonlinearity")) u2 += row.contribution * row.contribution;
        }
        // three rectangles of +-1 code
        const double by_hand = g * g / 3.0 * (1.0 + (1.0 - r) * (1.0 - r) + r * r);
        CHECK(std::abs(u2 - by_hand) <= 1e-12 * by_hand);
    }
}

}  // namespace steps_test
