// Applied voltages against budgets worked by hand: each expectation below is arithmetic on the figures of its own specification.

#include "bench.hpp"
#include "covering.hpp"
#include "message.hpp"

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>
#include <vector>

namespace applied_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

// Invented: no specification or data sheet of a product.

constexpr double p_two_sigma = 0.9545;  // to four digits, as budgets on paper have it

double sq(double x) { return x * x; }

/// The bench's input without non-linearity, in still air: what is left is noise and the applied voltages.
range_setup quiet() {
    range_setup setup = bench::ten_volts();
    setup.chain.adc.integral_nonlinearity = 0.0 * code;
    setup.temperature_half_width = 0.0 * kelvin;
    // as found, a correction that shows 0 V always: its error is the applied voltage itself, with that voltage's uncertainty alone
    setup.before = plain_correction{};
    return setup;
}

/// 0.5 % of reading + 2 counts of 10 mV on the 20 V range, from 18 to 28 degrees, a tenth of the limits more for each kelvin outside.
reference handheld(const std::string& id) {
    reference r;
    r.id = id;
    r.description = "hand-held meter " + id;
    r.meter = meter{0.5 * percent, 2.0, 10e-3 * volt, 20.0 * volt, temperature_band{{18.0}, {28.0}}, 0.1, 10e6 * ohm};
    return r;
}

/// 4.096 V +- 0.1 % at 25 degrees, 20 ppm/K, 60 ppm by age, 100 ppm by line and load, 50 uV of noise.
reference precise_part() {
    reference r;
    r.id = "part";
    r.description = "4.096 V reference part";
    r.part =
        reference_part{4.096 * volt, 0.1 * percent, {25.0}, 20.0 * bench::ppm_per_kelvin, 60.0 * ppm, 100.0 * ppm, 50e-6 * volt};
    return r;
}

std::vector<reference> all_references() {
    std::vector<reference> all = bench::references();
    all.push_back(handheld("first"));
    all.push_back(handheld("second"));
    all.push_back(precise_part());
    reference divider;
    divider.id = "divided part";
    divider.description = "divider behind the part";
    divider.divider = divided{"part",
                              {10e3 * ohm, 0.1 * percent, 10.0 * bench::ppm_per_kelvin},
                              {30e3 * ohm, 0.1 * percent, 10.0 * bench::ppm_per_kelvin}};
    all.push_back(divider);
    return all;
}

constexpr std::size_t many = 100000;

step by(const applied& source, double volts) {
    step s = bench::stepped(source.reference, bench::seen(bench::code_of(volts), 0.8, many));
    s.source = source;
    return s;
}

applied own(const std::string& reference) {
    applied a;
    a.reference = reference;
    return a;
}

applied read_on(const std::string& meter, double volts) {
    applied a = own(meter);
    a.indicated = volts * volt;
    return a;
}

struct worked {
    double value;
    double u;
    double U;
};

/// What the library makes of an applied voltage by itself.
worked alone(const applied& source, double about, const range_setup& setup = quiet()) {
    const std::vector<reference> references = all_references();
    un::input_set inputs;
    const range_calibration of = solve(setup, {by(own("short"), 0.0), by(own("five"), 5.0), {}}, references, inputs);
    const check_point c = check(of, "alone", true, by(source, about), references, inputs);
    return {c.applied_value.value(), c.U.value() / c.k, c.U.value()};
}

/// A range whose zero is the shorting plug, 0 V +- 20 uV, and the applied voltage of its reference step.
struct calibrated {
    std::vector<reference> references = all_references();
    un::input_set inputs;
    range_calibration of;

    calibrated(const applied& source, double about, const range_setup& setup = quiet(), const applied& zero = own("short"))
        : of(solve(setup, {by(zero, 0.0), by(source, about), {}}, references, inputs)) {}

    /// The mean of 10 000 samples.
    [[nodiscard]] un::budget at(double volts) const {
        return make_convolved_budget(
            reading(inputs, references, of, code_at(of, volts * volt), {1e4, 0.0 * kelvin, of.temperature_half_width}));
    }
};

/// A reading at r between the steps, by hand:
///
///     u^2(V) = (1-r)^2 u^2(V0) + r^2 u^2(V1) + g^2 ((1-r)^2 + r^2) s^2/n + g^2 s^2/N
///
/// (line through two points, JCGM 100:2008, 5.1.2) with V0 = 0 V +- 20 uV, s = 0.8 code, n = 100 000 in each step, N = 10 000 in the reading.
/// Quantisation, dithered by 0.8 code of noise, is below 2e-5 code and left out.
double u_by_hand(double r, double g, double u_V1) {
    return std::sqrt(sq((1.0 - r) * 20e-6) / 3.0 + sq(r * u_V1) + sq(g * 0.8) * (sq(1.0 - r) + sq(r)) / 100000.0 +
                     sq(g * 0.8) / 10000.0);
}

double normal_part(double r, double g) {
    return std::sqrt(sq(g * 0.8) * (sq(1.0 - r) + sq(r)) / 100000.0 + sq(g * 0.8) / 10000.0);
}

constexpr double worked_u = 1e-6;  // of u: what is left out above
constexpr double worked_U = 3e-4;  // of U: 1e-4 each of convolution and grid, and t of 1e5 degrees of freedom against normal

std::string refusal(const applied& source, double about, const range_setup& setup = quiet(),
                    std::vector<reference> references = all_references()) {
    un::input_set inputs;
    std::string text = "no exception";
    try {
        (void)solve(setup, {by(own("short"), 0.0), by(source, about), {}}, references, inputs);
    } catch (const bad_input& e) {
        text = e.what();
    }
    CHECK(inputs.all().empty() == (text != "no exception"));  // nothing half-solved
    return text;
}

double sensitivity_of(const un::budget& b, const std::string& id) {
    for (const un::budget_row& row : b.rows) {
        if (row.in->id == id) return row.sensitivity;
    }
    return 0.0;
}

}  // namespace

TEST_CASE("a meter's 0.5 % of 5 V + 2 counts of 10 mV and half a count make 18.7 mV and an interval of 35.9 mV") {
    // three rectangular errors: 0.5 % of 5 V, 2 counts of 10 mV, half of the last digit (JCGM 100:2008, 4.3.7 and F.2.2.1)
    const double u = std::sqrt((sq(0.005 * 5.0) + sq(2.0 * 0.010) + sq(0.5 * 0.010)) / 3.0);
    // the tails of a sum of rectangles of 25, 20 and 5 mV: t short of all their 50 mV lie (t^3 - (t - 10)^3) / (24 * 25 * 20 * 5) of both
    // together, which is 1 - p where 30 t^2 - 300 t + 1000 = 60000 (1 - p)
    const double t = (300.0 + std::sqrt(sq(300.0) - 120.0 * (1000.0 - 60000.0 * (1.0 - p_two_sigma)))) / 60.0;
    const double U = 1e-3 * (25.0 + 20.0 + 5.0 - t);
    const worked found = alone(read_on("first", 5.0), 5.0);
    CHECK(found.value == 5.0);
    CHECK(std::abs(found.u - u) <= 1e-12);
    CHECK(std::abs(found.U - U) <= 2e-4 * U);
    CHECK(std::abs(bench::covering({25e-3, 20e-3, 5e-3}, 0.0, p_two_sigma) - U) <= 1e-4 * U);
    CHECK(std::abs(u - 0.01871) <= 5e-6);
    CHECK(std::abs(U - 0.0359) <= 5e-5);
}

TEST_CASE("the meter's part of reading goes with the size of the voltage, its counts do not") {
    for (const double v : {-7.5, -0.01, 0.0, 0.01, 2.0, 8.0}) {
        CAPTURE(v);
        const worked found = alone(read_on("first", v), v);
        CHECK(std::abs(found.u - std::sqrt((sq(0.005 * v) + sq(0.020) + sq(0.005)) / 3.0)) <= 1e-12);
        CHECK(found.value == v);
    }
}

TEST_CASE("a reading calibrated with a meter has the budget worked by hand at, between and beyond the steps") {
    const calibrated c(read_on("first", 5.0), 5.0);
    const double g = 5.0 / (bench::code_of(5.0) - bench::code_of(0.0));
    const double u_V1 = std::sqrt((sq(0.005 * 5.0) + sq(0.020) + sq(0.005)) / 3.0);
    for (const double v : {-8.0, -5.0, 0.0, 1.0, 2.5, 5.0, 8.0}) {
        CAPTURE(v);
        const double r = v / 5.0;
        const un::budget b = c.at(v);
        CHECK(std::abs(b.value - v) <= 1e-12);
        const double u = u_by_hand(r, g, u_V1);
        CHECK(std::abs(b.u - u) <= worked_u * u);
        std::vector<double> rectangles{std::abs(1.0 - r) * 20e-6};
        for (const double a : {0.025, 0.020, 0.005}) rectangles.push_back(std::abs(r) * a);
        std::erase(rectangles, 0.0);
        const double U = bench::covering(rectangles, normal_part(r, g), p_two_sigma);
        CHECK(std::abs(b.U - U) <= worked_U * U);
    }
}

TEST_CASE("a meter that showed both steps has its counts in every reading once, and its part of reading in proportion") {
    // both steps carry the same error of 2 counts, as an offset: (1 - r) + r = 1
    const calibrated c(read_on("first", 5.0), 5.0, quiet(), read_on("first", 0.0));
    for (const double v : {-8.0, 0.0, 2.5, 5.0, 8.0}) {
        CAPTURE(v);
        const un::budget b = c.at(v);
        CHECK(std::abs(sensitivity_of(b, "reference/first/error of counts") - 0.020) <= 1e-12);
        CHECK(std::abs(sensitivity_of(b, "reference/first/error of reading") - 0.005 * v) <= 1e-12);
        // the last digit is new each time
        CHECK(std::abs(sensitivity_of(b, "A/8 V/zero/resolution of reference/first") - (1.0 - v / 5.0)) <= 1e-12);
        CHECK(std::abs(sensitivity_of(b, "A/8 V/reference/resolution of reference/first") - v / 5.0) <= 1e-12);
    }
}

TEST_CASE(
    "outside its temperature band a meter's limits grow by a tenth for each kelvin that may be outside, its last digit does "
    "not") {
    struct row {
        double ambient, half_width, kelvins_outside;
    };
    for (const row& r :
         {row{23.0, 2.0, 0.0}, row{28.0, 0.0, 0.0}, row{27.5, 1.0, 0.5}, row{31.0, 1.0, 4.0}, row{12.0, 2.0, 8.0}}) {
        CAPTURE(r.ambient);
        range_setup setup = quiet();
        setup.ambient = {r.ambient};
        setup.temperature_half_width = r.half_width * kelvin;
        const double wider = 1.0 + 0.1 * r.kelvins_outside;
        const double u = std::sqrt((sq(wider * 0.005 * 5.0) + sq(wider * 0.020) + sq(0.005)) / 3.0);
        CHECK(std::abs(alone(read_on("first", 5.0), 5.0, setup).u - u) <= 1e-12);
    }
}

TEST_CASE("one meter at two temperatures outside its band keeps one error, larger where it is further outside") {
    range_setup warm = quiet();
    warm.ambient = {29.0};  // 1 K above the band
    range_setup warmer = quiet();
    warmer.channel = "B";
    warmer.ambient = {29.0};
    warmer.temperature_half_width = 2.0 * kelvin;  // up to 3 K above it
    const std::vector<reference> references = all_references();
    un::input_set inputs;
    const auto solved = [&](const range_setup& setup) {
        return solve(setup, {by(own("short"), 0.0), by(read_on("first", 5.0), 5.0), {}}, references, inputs);
    };
    const range_calibration a = solved(warm);
    const range_calibration b = solved(warmer);
    const auto at_five = [&](const range_calibration& of) {
        return reading(inputs, references, of, code_at(of, 5.0 * volt), {1e4, 0.0 * kelvin, 0.0 * kelvin});
    };
    const auto of_a = at_five(a);
    const auto of_b = at_five(b);
    CHECK(std::abs(sensitivity_of(make_convolved_budget(of_a), "reference/first/error of counts") - 1.1 * 0.020) <= 1e-12);
    CHECK(std::abs(sensitivity_of(make_convolved_budget(of_b), "reference/first/error of counts") - 1.3 * 0.020) <= 1e-12);
    // 1.1 and 1.3 times the limits of one and the same two errors
    const double shared = 1.1 * 1.3 * (sq(0.025) + sq(0.020)) / 3.0;
    CHECK(std::abs(un::covariance(of_a.dependences, of_b.dependences) - shared) <= 1e-9 * shared);
}

TEST_CASE("a reading beyond the meter's range is refused") {
    CHECK(
        refusal(read_on("first", 20.01), 5.0) ==
        "reference step, channel A, range 8 V: a reading of 20.01 V on a range of 20 V, expected a reading within the range that "
        "the specification holds for; correct the reading, or give the specification of the range that was used");
    CHECK(refusal(read_on("first", -25.0), 5.0) ==
          "reference step, channel A, range 8 V: a reading of -25 V on a range of 20 V, expected a reading within the range that "
          "the specification holds for; correct the reading, or give the specification of the range that was used");
    CHECK(refusal(read_on("first", std::nan("")), 5.0) ==
          "reference step, channel A, range 8 V: a reading of nan V on a range of 20 V, expected a reading within the range that "
          "the specification holds for; correct the reading, or give the specification of the range that was used");
    CHECK(refusal(read_on("first", 5.0), 5.0) == "no exception");
}

TEST_CASE("a meter without a reading is refused") {
    CHECK(refusal(own("first"), 5.0) ==
          "applied voltage, A/8 V: reference \"first\" without a voltage, expected a value with U and k or limits, a part, a "
          "divider, or a meter with its reading; state the voltage at the step or with the reference");
}

TEST_CASE("a reference part in the cold has the budget of its data sheet worked by hand") {
    // 5 degrees are 20 K from where the initial tolerance holds: 20 ppm/K make 400 ppm. All limits rectangular, the noise normal.
    range_setup cold = quiet();
    cold.ambient = {5.0};
    const double u = std::sqrt(sq(4.096) * (sq(1000e-6) + sq(400e-6) + sq(60e-6) + sq(100e-6)) / 3.0 + sq(50e-6));
    const double U = bench::covering({4.096 * 1000e-6, 4.096 * 400e-6, 4.096 * 60e-6, 4.096 * 100e-6}, 50e-6, p_two_sigma);
    const worked found = alone(own("part"), 4.096, cold);
    CHECK(found.value == 4.096);
    CHECK(std::abs(found.u - u) <= 1e-12);
    CHECK(std::abs(found.U - U) <= worked_U * U);

    const calibrated c(own("part"), 4.096, cold);
    const double g = 4.096 / (bench::code_of(4.096) - bench::code_of(0.0));
    for (const double v : {-8.0, 0.0, 2.0, 4.096, 8.0}) {
        CAPTURE(v);
        const double r = v / 4.096;
        const un::budget b = c.at(v);
        CHECK(std::abs(b.value - v) <= 1e-12);
        CHECK(std::abs(b.u - u_by_hand(r, g, u)) <= worked_u * b.u);
        std::vector<double> rectangles{std::abs(1.0 - r) * 20e-6};
        for (const double a : {1000e-6, 400e-6, 60e-6, 100e-6}) rectangles.push_back(std::abs(r) * 4.096 * a);
        std::erase(rectangles, 0.0);
        const double U_there = bench::covering(rectangles, std::hypot(normal_part(r, g), r * 50e-6), p_two_sigma);
        CHECK(std::abs(b.U - U_there) <= worked_U * U_there);
    }
}

TEST_CASE("at its nominal temperature, known within 3 K, a part's coefficient still counts") {
    // u = 20 ppm/K / sqrt(3) * sqrt(0^2 + (3 K)^2 / 3), the product of two quantities estimated as zero (JCGM 100:2008, note to 5.1.2)
    range_setup swinging = quiet();
    swinging.ambient = {25.0};
    swinging.temperature_half_width = 3.0 * kelvin;
    const double by_temperature = 20e-6 / std::sqrt(3.0) * std::sqrt(sq(3.0) / 3.0);
    const double u = std::sqrt(sq(4.096) * ((sq(1000e-6) + sq(60e-6) + sq(100e-6)) / 3.0 + sq(by_temperature)) + sq(50e-6));
    CHECK(std::abs(alone(own("part"), 4.096, swinging).u - u) <= 1e-12);
    // and 8 K away within 3 K
    swinging.ambient = {33.0};
    const double away = 20e-6 / std::sqrt(3.0) * std::sqrt(sq(8.0) + sq(3.0) / 3.0);
    const double u_away = std::sqrt(sq(4.096) * ((sq(1000e-6) + sq(60e-6) + sq(100e-6)) / 3.0 + sq(away)) + sq(50e-6));
    CHECK(std::abs(alone(own("part"), 4.096, swinging).u - u_away) <= 1e-12);
}

namespace {

// The bench's input as a source sees it: 1 Mohm, then 150 kohm to ground and 200 kohm to 3.3 V in parallel.
constexpr double shunt = 150e3 * 200e3 / (150e3 + 200e3);
constexpr double r_in = 1e6 + shunt;
constexpr double v_open = 3.3 * 150e3 / (150e3 + 200e3);  // 1.414 V, not 0

/// What the input's own tolerances do to a voltage that it loads, squared (V^2). A share q = Rs / (Rs + Rin) of V_open - V_source is lost:
///
///     V = V_source + (V_open - V_source) q        dV = -(V_open - V_source) q (1 - q) dRin/Rin + q dV_open
///
/// Source: superposition; each resistor 0.5 %, the converter's reference that feeds the bias 1 %, all rectangular.
double squared_u_of_input(double v_source, double q) {
    const double by_r_in = -(v_open - v_source) * q * (1.0 - q);
    const double by_v_open = q * v_open;
    const double top = by_r_in * 1e6 / r_in;
    const double bottom = by_r_in * shunt / r_in * 200.0 / 350.0 + by_v_open * 200.0 / 350.0;
    const double bias = by_r_in * shunt / r_in * 150.0 / 350.0 - by_v_open * 200.0 / 350.0;
    return (sq(0.005 * top) + sq(0.005 * bottom) + sq(0.005 * bias) + sq(0.01 * by_v_open)) / 3.0;
}

}  // namespace

TEST_CASE("a divider behind a reference part, loaded by the input, has the budget worked by hand") {
    // 4.096 V through 10 kohm and 30 kohm: a source of 3.072 V and 7.5 kohm, which the biased input moves 0.7 % of the way to 1.414 V
    const double k = 30e3 / (10e3 + 30e3);
    const double v_source = 4.096 * k;
    const double r_source = 10e3 * 30e3 / (10e3 + 30e3);
    const double q = r_source / (r_source + r_in);
    const double value = v_source + (v_open - v_source) * q;
    CHECK(std::abs(v_source - 3.072) <= 1e-12);
    CHECK(v_source - value > 11e-3);
    // relative errors of the part at 23 degrees, 2 K from nominal; of the arms: dln k = (1-k)(db - dt), dln Rs = k dt + (1-k) db
    const double of_part =
        sq(v_source * (1.0 - q)) * (sq(1000e-6) + sq(40e-6) + sq(60e-6) + sq(100e-6)) / 3.0 + sq(k * (1.0 - q) * 50e-6);
    const double by_source = v_source * (1.0 - q) * (1.0 - k);
    const double by_load = (v_open - v_source) * q * (1.0 - q);
    const double top = -by_source + by_load * k;
    const double bottom = by_source + by_load * (1.0 - k);
    const double of_arms = (sq(0.001 * top) + sq(0.001 * bottom)) / 3.0;
    const double u = std::sqrt(of_part + of_arms + squared_u_of_input(v_source, q));

    const worked found = alone(own("divided part"), 3.06);
    CHECK(std::abs(found.value - value) <= 1e-12);
    CHECK(std::abs(found.u - u) <= 1e-9 * u);
    // the input's tolerances are some 10 ppm: their rectangles count as normal here
    const double part_scale = v_source * (1.0 - q);
    const double U = bench::covering({part_scale * 1000e-6, part_scale * 40e-6, part_scale * 60e-6, part_scale * 100e-6,
                                      0.001 * std::abs(top), 0.001 * bottom},
                                     std::sqrt(sq(k * (1.0 - q) * 50e-6) + squared_u_of_input(v_source, q)), p_two_sigma);
    CHECK(std::abs(found.U - U) <= worked_U * U);

    // as the reference step of a range
    const calibrated c(own("divided part"), 3.06);
    const double g = value / (bench::code_of(3.06) - bench::code_of(0.0));
    for (const double v : {-8.0, 0.5, value, 8.0}) {
        CAPTURE(v);
        const un::budget b = c.at(v);
        CHECK(std::abs(b.value - v) <= 1e-12);
        CHECK(std::abs(b.u - u_by_hand(v / value, g, u)) <= worked_u * b.u);
    }
}

TEST_CASE("a source that was not measured while connected is loaded by the input, towards its open voltage") {
    // 5 V +- 2.5 mV behind 10 kohm +- 1 %, stated without this input
    applied a = own("five");
    a.source = front_end::resistor{10e3 * ohm, 1.0 * percent, {}};
    const double q = 10e3 / (10e3 + r_in);
    const double value = 5.0 + (v_open - 5.0) * q;
    const double by_source = (v_open - 5.0) * q * (1.0 - q);
    const double u = std::sqrt(sq((1.0 - q) * 2.5e-3) / 3.0 + sq(0.01 * by_source) / 3.0 + squared_u_of_input(5.0, q));
    const worked found = alone(a, 5.0);
    CHECK(std::abs(found.value - value) <= 1e-12);
    CHECK(std::abs(found.value - 4.9673) <= 5e-5);
    CHECK(std::abs(found.u - u) <= 1e-9 * u);
    // a source at the open voltage is not loaded at all
    a.stated = stated_voltage{v_open * volt, limits{2.5e-3 * volt}};
    CHECK(std::abs(alone(a, v_open).value - v_open) <= 1e-12);
    // and without the source resistance it is as stated
    CHECK(alone(own("five"), 5.0).value == 5.0);

    a.stated.reset();
    const calibrated c(a, value);
    const double g = value / (bench::code_of(value) - bench::code_of(0.0));
    for (const double v : {-8.0, 2.5, value, 8.0}) {
        CAPTURE(v);
        const un::budget b = c.at(v);
        CHECK(std::abs(b.value - v) <= 1e-12);
        CHECK(std::abs(b.u - u_by_hand(v / value, g, u)) <= worked_u * b.u);
    }
}

TEST_CASE("a source resistor with a name is one and the same at all steps, and its deviation one row") {
    applied low = own("short");
    low.source = front_end::resistor{10e3 * ohm, 1.0 * percent, {}};
    applied high = own("five");
    high.source = low.source;
    const double q = 10e3 / (10e3 + r_in);
    const auto at_connector = [&](double v) { return v + (v_open - v) * q; };
    const auto of_resistor = [&](double v) { return (v_open - v) * q * (1.0 - q); };  // per unit of its relative deviation
    const double r = 0.4;
    const double reading = (1.0 - r) * at_connector(0.0) + r * at_connector(5.0);
    const auto by_sources = [&] {
        const calibrated c(high, at_connector(5.0), quiet(), low);
        double squares = 0.0;
        int rows = 0;
        for (const un::budget_row& row : c.at(reading).rows) {
            if (row.in->id.find("source/") == std::string::npos) continue;
            squares += sq(row.sensitivity * 0.01) / 3.0;
            ++rows;
        }
        CHECK(rows == (low.source_id.empty() ? 2 : 1));
        return squares;
    };
    const double apart = sq(0.01) / 3.0 * (sq((1.0 - r) * of_resistor(0.0)) + sq(r * of_resistor(5.0)));
    CHECK(std::abs(by_sources() - apart) <= 1e-6 * apart);
    low.source_id = "R1";
    high.source_id = "R1";
    const double together = sq(0.01) / 3.0 * sq((1.0 - r) * of_resistor(0.0) + r * of_resistor(5.0));
    CHECK(std::abs(by_sources() - together) <= 1e-6 * together);
    CHECK(together < 0.7 * apart);  // one lies above the open voltage, the other below
    high.source->nominal = 11e3 * ohm;
    CHECK(refused::message([&] { (void)by_sources(); }) ==
          "input source/R1/deviation: two inputs of this id that differ, expected one input for each id; give each source of "
          "error its "
          "own identity, and one source the same figures everywhere");
}

TEST_CASE("resistors of a divider that are known at another temperature have moved by their coefficients since") {
    const double v_source = 4.096 * 0.75;
    const double before = alone(own("divided part"), 3.06).u;
    std::vector<reference> warm = all_references();
    warm.back().divider->nominal_temperature = celsius{3.0};
    un::input_set inputs;
    const range_calibration of = solve(quiet(), {by(own("short"), 0.0), by(own("five"), 5.0), {}}, warm, inputs);
    const check_point c = check(of, "alone", true, by(own("divided part"), 3.06), warm, inputs);
    // 20 K of 10 ppm/K in each arm, a quarter of which comes through; loading changes both by a per cent or two
    const double more = 2.0 * sq(0.25 * v_source * 20.0 * 10e-6) / 3.0;
    CHECK(std::abs(sq(c.U.value() / c.k) - sq(before) - more) <= 0.03 * more);
}

TEST_CASE("a source measured by a meter of 10 Mohm was higher without it, by its resistance over that of the meter") {
    // 5.00 V shown across 100 kohm +- 5 %: 5.05 V without the meter, then loaded by the input instead
    applied a = read_on("first", 5.0);
    a.source = front_end::resistor{100e3 * ohm, 5.0 * percent, {}};
    const double loss = 100e3 / 10e6;
    const double v_source = 5.0 * (1.0 + loss);
    const double q = 100e3 / (100e3 + r_in);
    const double value = v_source + (v_open - v_source) * q;
    const double raised = (1.0 + loss) * (1.0 - q);
    const double of_meter = sq(raised) * (sq(0.025) + sq(0.020) + sq(0.005)) / 3.0;
    const double by_source = 5.0 * loss * (1.0 - q) + (v_open - v_source) * q * (1.0 - q);
    const double u = std::sqrt(of_meter + sq(0.05 * by_source) / 3.0 + squared_u_of_input(v_source, q));
    const worked found = alone(a, 4.7);
    CHECK(std::abs(v_source - 5.05) <= 1e-12);
    CHECK(std::abs(found.value - value) <= 1e-12);
    CHECK(std::abs(found.u - u) <= 1e-9 * u);

    // shown while connected: as shown, whatever the source
    CHECK(alone(read_on("first", 5.0), 5.0).value == 5.0);
}

TEST_CASE("a source resistance beside a divider, which is its own source, is refused") {
    applied a = own("divided part");
    a.source = front_end::resistor{10e3 * ohm, 1.0 * percent, {}};
    CHECK(refusal(a, 3.06) ==
          "reference step, channel A, range 8 V: a source resistance beside the divider \"divided part\", expected the divider "
          "alone, "
          "whose resistors are its source; leave the source resistance out, or make it part of the divider");
}

TEST_CASE("a source resistance behind a meter whose own is not known is refused") {
    std::vector<reference> references = all_references();
    references[4].meter->input_resistance = 0.0 * ohm;
    applied a = read_on("first", 5.0);
    a.source = front_end::resistor{10e3 * ohm, 1.0 * percent, {}};
    CHECK(refusal(a, 5.0, quiet(), references) ==
          "reference step, channel A, range 8 V: a source measured by \"first\" with an input resistance of 0 ohm, expected more "
          "than "
          "0 ohm, since the meter loads the source; give the meter's input resistance");
}

TEST_CASE("the error of a meter at step and check point cancels, that of two meters adds up") {
    const calibrated c(read_on("first", 5.0), 5.0);
    const double g = 5.0 / (bench::code_of(5.0) - bench::code_of(0.0));
    const auto u_of_check = [&](const std::string& meter, double v) {
        un::input_set inputs = c.inputs;
        const check_point p = check(c.of, "again", false, by(read_on(meter, v), v), c.references, inputs);
        CHECK(std::abs(p.error.value()) <= 1e-12);
        CHECK(p.tests_reference == (meter != "first"));
        return p.U.value() / p.k;
    };
    // codes: of the check 1, of the reference step r, of the zero step 1 - r
    const auto of_codes = [&](double r) { return sq(g * 0.8) * (1.0 + sq(r) + sq(1.0 - r)) / 100000.0; };
    const double of_zero = sq(20e-6) / 3.0;

    // at 5 V again: two last digits are left
    const double same = std::sqrt(2.0 * sq(0.005) / 3.0 + of_codes(1.0));
    CHECK(std::abs(u_of_check("first", 5.0) - same) <= worked_u * same);
    // at half of it: 0.5 % of reading cancels whole, of the counts the half that the line does not carry is left
    const double half = std::sqrt((sq(0.5 * 0.020) + sq(0.005) + sq(0.5 * 0.005)) / 3.0 + of_codes(0.5) + 0.25 * of_zero);
    CHECK(std::abs(u_of_check("first", 2.5) - half) <= worked_u * half);
    // at -2.5 V: 3/2 of the counts
    const double below = std::sqrt((sq(1.5 * 0.020) + sq(0.005) + sq(0.5 * 0.005)) / 3.0 + of_codes(-0.5) + 2.25 * of_zero);
    CHECK(std::abs(u_of_check("first", -2.5) - below) <= worked_u * below);
    // another meter of the same specification: everything twice
    const double two = std::sqrt(2.0 * (sq(0.025) + sq(0.020) + sq(0.005)) / 3.0 + of_codes(1.0));
    CHECK(std::abs(u_of_check("second", 5.0) - two) <= worked_u * two);
    CHECK(two > 3.0 * same);
}

TEST_CASE("a reference part that calibrated cancels from a check through its divider, except for the divider") {
    range_setup cold = quiet();
    cold.ambient = {5.0};
    calibrated c(own("part"), 4.096, cold);
    const check_point p = check(c.of, "three quarters", false, by(own("divided part"), 3.06), c.references, c.inputs);
    CHECK_FALSE(p.tests_reference);
    // relative errors of the part reach the reading with r V1 = V and the applied voltage with its share of the source
    const double q = 7.5e3 / (7.5e3 + r_in);
    const double g = 4.096 / (bench::code_of(4.096) - bench::code_of(0.0));
    const double V = g * (bench::code_of(3.06) - bench::code_of(0.0));
    const double r = V / 4.096;
    const double left_of_part = V - 3.072 * (1.0 - q);
    const double by_source = 3.072 * (1.0 - q) * 0.25;
    const double by_load = (v_open - 3.072) * q * (1.0 - q);
    const double arms = (sq(0.001 * (-by_source + by_load * 0.75)) + sq(0.001 * (by_source + by_load * 0.25))) / 3.0;
    // the temperature of the part is the same 20 K below its nominal one at both: 400 ppm of one coefficient
    const double u = std::sqrt(sq(left_of_part) * (sq(1000e-6) + sq(400e-6) + sq(60e-6) + sq(100e-6)) / 3.0 + sq(r * 50e-6) +
                               sq(0.75 * (1.0 - q) * 50e-6) + arms + squared_u_of_input(3.072, q) + sq((1.0 - r) * 20e-6) / 3.0 +
                               sq(g * 0.8) * (1.0 + sq(r) + sq(1.0 - r)) / 100000.0);
    CHECK(std::abs(p.U.value() / p.k - u) <= worked_u * u);
    CHECK(std::abs(left_of_part) < 0.02);  // of 3.072 V
}

}  // namespace applied_test
