#include "bench.hpp"

#include <doctest/doctest.h>
#include <array>
#include <cmath>
#include <limits>
#include <plumbline/error.hpp>
#include <string>

namespace calibration_reading_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

struct calibrated {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    range_calibration range = solve(
        bench::ten_volts(),
        {bench::stepped("short", bench::seen(bench::code_of(0.0))), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
        references, inputs);

    [[nodiscard]] un::budget at(double volts, const reading_conditions& when) const {
        return make_convolved_budget(reading(inputs, references, range, code_at(range, volts * volt), when));
    }
    [[nodiscard]] un::budget at(double volts) const { return at(volts, at_calibration(range)); }
};

double sensitivity_of(const un::budget& b, const std::string& id) {
    for (const un::budget_row& row : b.rows) {
        if (row.in->id == id) return row.sensitivity;
    }
    return 0.0;
}

}  // namespace

TEST_CASE("the five sensitivities of the two-point line equal the closed form to 1e-12 of the largest") {
    // design: dV/dc = g, dV/dm0 = -g (1 - r), dV/dm1 = -g r, dV/dV0 = 1 - r, dV/dV1 = r with r = (V - V0) / (V1 - V0)
    for (const double c_value : {-500.0, 12.4, 400.0, 2048.0, 2731.25, 4002.7, 4095.0, 6000.0}) {
        const double m0 = 12.4;
        const double m1 = 4002.7;
        const double v0 = 0.0002;
        const double v1 = 4.9987;
        using five = std::array<double, 5>;
        const auto V = two_point_reading{}(
            dual<codes::unit_type, 5>::variable(c_value * code, 0), dual<codes::unit_type, 5>::variable(m0 * code, 1),
            dual<codes::unit_type, 5>::variable(m1 * code, 2), dual<voltage::unit_type, 5>::variable(v0 * volt, 3),
            dual<voltage::unit_type, 5>::variable(v1 * volt, 4));
        const double g = (v1 - v0) / (m1 - m0);
        const double r = (c_value - m0) / (m1 - m0);
        const five closed{g, -g * (1.0 - r), -g * r, 1.0 - r, r};
        // codes and volts are of different size: each group against its own largest
        const double largest_code = std::max({std::abs(closed[0]), std::abs(closed[1]), std::abs(closed[2])});
        const double largest_volt = std::max(std::abs(closed[3]), std::abs(closed[4]));
        CAPTURE(c_value);
        for (std::size_t i = 0; i < 5; ++i) {
            CAPTURE(i);
            CHECK(std::abs(V.derivative(i) - closed[i]) <= 1e-12 * (i < 3 ? largest_code : largest_volt));
        }
        CHECK(std::abs(V.value().value() - (v0 + g * (c_value - m0))) <= 1e-12);
        CHECK(two_point_reading{}(c_value * code, m0 * code, m1 * code, v0 * volt, v1 * volt) == V.value());
    }
}

TEST_CASE("a corrected reading is the line through the two steps") {
    const calibrated c;
    for (const double v : {-8.0, -2.0, 0.0, 2.5, 5.0, 8.0}) {
        const auto y = reading(c.inputs, c.references, c.range, bench::code_of(v) * code, at_calibration(c.range));
        CHECK(std::abs(y.value.value() - v) <= 1e-12);
    }
    CHECK(std::abs(c.range.result.gain.value() * (bench::code_of(5.0) - bench::code_of(0.0)) - 5.0) <= 1e-12);
    CHECK(std::abs(c.range.result.offset.value() + c.range.result.gain.value() * bench::code_of(0.0)) <= 1e-12);
}

TEST_CASE("the zero step rules near zero, the reference at its voltage, and both grow outside") {
    const calibrated c;
    CHECK(std::abs(sensitivity_of(c.at(0.0), "reference/five/error")) <= 1e-12);
    CHECK(std::abs(sensitivity_of(c.at(5.0), "reference/five/error") - 2.5e-3) <= 1e-12);
    CHECK(std::abs(sensitivity_of(c.at(-8.0), "reference/five/error") + 4e-3) <= 1e-12);
    CHECK(std::abs(sensitivity_of(c.at(5.0), "A/8 V/zero/mean")) <= 1e-9 * c.range.result.gain.value());
    CHECK(c.at(-8.0).u > c.at(-5.0).u);
    CHECK(c.at(8.0).u > c.at(5.0).u);
}

TEST_CASE("gain and offset are correlated, and their covariance reproduces u of the line") {
    // without what only the reading has: u^2(c) = u_offset^2 + 2 c cov + c^2 u_gain^2
    const calibrated c;
    const correction& r = c.range.result;
    const codes at = 1234.5 * code;
    const double u2 = r.u_offset.value() * r.u_offset.value() + 2.0 * at.value() * r.covariance +
                      at.value() * at.value() * r.u_gain.value() * r.u_gain.value();
    const auto y = reading(c.inputs, c.references, c.range, at, {1.0, 0.0 * kelvin, 0.0 * kelvin});
    double from_steps = 0.0;
    for (const un::budget_row& row : make_convolved_budget(y).rows) {
        if (row.in->id.starts_with("A/8 V/reading/")) continue;
        from_steps += row.contribution * row.contribution;
    }
    CHECK(std::abs(from_steps - u2) <= 1e-9 * from_steps);
    CHECK(r.covariance < 0.0);
}

TEST_CASE("noise falls with the mean of n readings, the systematic part stays") {
    const calibrated c;
    const auto noise = [&](double n) {
        const un::budget b = c.at(2.0, {n, 0.0 * kelvin, 0.0 * kelvin});
        return sensitivity_of(b, "A/8 V/reading/noise");
    };
    CHECK(std::abs(noise(100.0) * 10.0 - noise(1.0)) <= 1e-12 * noise(1.0));
    CHECK(c.at(2.0, {1e12, 0.0 * kelvin, 0.0 * kelvin}).u > 0.5 * c.at(2.0, {1.0, 0.0 * kelvin, 0.0 * kelvin}).u);
}

TEST_CASE("a shift by temperature enters with 1 at the reading, 1 - r at the zero step and r at the reference step") {
    calibrated c;
    range_setup swinging = bench::ten_volts();
    swinging.temperature_half_width = 3.0 * kelvin;
    c.inputs = {};
    c.range = solve(
        swinging,
        {bench::stepped("short", bench::seen(bench::code_of(0.0))), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
        c.references, c.inputs);
    for (const double v : {-6.0, 0.0, 2.0, 5.0, 7.5}) {
        CAPTURE(v);
        const double r = v / 5.0;
        const un::budget b = c.at(v);
        // the top resistor's effect is that of the voltage across it, which is linear in the code
        const double at_zero = sensitivity_of(c.at(0.0), "A/8 V/reading/temperature of A/8 V/top");
        const double at_five = sensitivity_of(c.at(5.0), "A/8 V/reading/temperature of A/8 V/top");
        CHECK(std::abs(at_five - at_zero) > 0.1);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/reading/temperature of A/8 V/top") - ((1.0 - r) * at_zero + r * at_five)) <=
              1e-9);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/zero/temperature of A/8 V/top") + (1.0 - r) * at_zero) <= 1e-9);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/reference/temperature of A/8 V/top") + r * at_five) <= 1e-9);
    }
}

TEST_CASE("temperature enters although coefficient and difference are both estimated as zero") {
    const calibrated c;
    const double still = c.at(7.0, {1.0, 0.0 * kelvin, 0.0 * kelvin}).u;
    const double within = c.at(7.0, {1.0, 0.0 * kelvin, 20.0 * kelvin}).u;
    const double away = c.at(7.0, {1.0, 20.0 * kelvin, 0.0 * kelvin}).u;
    CHECK(within > still);
    // u = u(alpha) sqrt(d^2 + h^2/3): known to be 20 K away counts sqrt(3) times as much as anywhere within 20 K
    CHECK(std::abs((away * away - still * still) / (within * within - still * still) - 3.0) <= 1e-9);
}

TEST_CASE("a reference of the converter that feeds the bias too leaves the reading at the bias's balance alone") {
    // top resistor and node: V = Vref * (stuff): with a ratiometric bias the whole reading scales with the reference
    const calibrated c;
    const un::budget b =
        make_convolved_budget(uncalibrated_reading(c.inputs, c.range, bench::code_of(0.0) * code, at_calibration(c.range)));
    const double reading_there = b.value;
    const double slope = sensitivity_of(b, "A/8 V/converter reference/deviation");
    CHECK(std::abs(slope - reading_there) <= 1e-9);
    CHECK(std::abs(reading_there) < 0.1);
}

TEST_CASE("calibration makes the reading better than its data sheets say, and both agree") {
    const calibrated c;
    for (const double v : {-8.0, 0.0, 3.0, 8.0}) {
        CAPTURE(v);
        const codes at = code_at(c.range, v * volt);
        const un::budget before = make_convolved_budget(uncalibrated_reading(c.inputs, c.range, at, at_calibration(c.range)));
        const un::budget after = c.at(v);
        CHECK(after.U < before.U);
        CHECK(std::abs(before.value - after.value) <= before.U);
    }
}

TEST_CASE("A + C (V - Vc)^2 is never below U^2 at 1000 readings over the range") {
    const calibrated c;
    const compact_uncertainty form = compact_form(c.range, c.references, c.inputs);
    double largest_excess = 0.0;
    for (int i = 0; i < 1000; ++i) {
        const double v = -8.0 + 16.0 * (i + 0.37) / 1000.0;
        const double U = c.at(v).U;
        const double bound = std::sqrt(form.a + form.c * (v - form.centre.value()) * (v - form.centre.value()));
        CAPTURE(v);
        CHECK(bound >= U);
        largest_excess = std::max(largest_excess, bound / U - 1.0);
    }
    CHECK(form.a >= 0.0);
    CHECK(form.c >= 0.0);
    MESSAGE("largest excess of the compact form: ", 100.0 * largest_excess, " % at 1000 readings, stated ",
            100.0 * form.largest_excess, " %");
    CHECK(std::abs(largest_excess - form.largest_excess) <= 0.01);
    CHECK(form.largest_excess < 0.25);
}

TEST_CASE("a reading that cannot be is refused with what to do") {
    const calibrated c;
    const auto message = [&](codes at, const reading_conditions& when) -> std::string {
        try {
            (void)reading(c.inputs, c.references, c.range, at, when);
        } catch (const bad_input& e) {
            return e.what();
        }
        return "no exception";
    };
    CHECK(message(std::nan("") * code, {1.0, {}, {}}) ==
          "reading, channel A, range 8 V: code nan, expected a finite mean code; look at the capture it came from");
    CHECK(message(1.0 * code, {0.0, {}, {}}) ==
          "reading, channel A, range 8 V: a mean of 0 samples, expected 1 or more; state how many samples were averaged");
    CHECK(message(1.0 * code, {1.0, {}, -1.0 * kelvin}) ==
          "reading, channel A, range 8 V: a temperature difference of 0 K within -1 K, expected finite figures, the second 0 or "
          "more; state "
          "how far the temperature is from that of the calibration");
}

}  // namespace calibration_reading_test
