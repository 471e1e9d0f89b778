#include <plumbline/calibration/repetitions.hpp>

#include <doctest/doctest.h>

#include "bench.hpp"
#include "message.hpp"

#include <cmath>
#include <plumbline/calibration/two_temperatures.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <random>

namespace repetitions_test {

using namespace plumbline;
using namespace plumbline::calibration;
using plumbline::uncertainty::input_set;
using refused::message;

namespace {

/// 0-R-0-R-0 ... at equal intervals of a minute, with a drift per turn.
std::vector<turn> series(std::size_t turns, double drift, double scatter, unsigned seed) {
    std::mt19937_64 bits(seed);
    std::normal_distribution<double> normal(0.0, scatter);
    std::vector<turn> all;
    for (std::size_t i = 0; i < turns; ++i) {
        const bool reference = i % 2 == 1;
        const double middle = static_cast<double>(i) - 0.5 * static_cast<double>(turns - 1);
        const double noise = scatter > 0.0 ? normal(bits) : 0.0;
        all.push_back(
            {reference, ((reference ? 2000.0 : 1000.0) + drift * middle + noise) * code, 60.0 * static_cast<double>(i) * second});
    }
    return all;
}

range_setup still() {
    range_setup setup = bench::ten_volts();
    setup.temperature_half_width = 0.0 * kelvin;
    return setup;
}

/// The bench at a temperature, with a gain coefficient and an offset drift that it has.
struct at_temperature {
    std::vector<reference> all = bench::references();
    input_set inputs;
    range_calibration of;
    at_temperature(double celsius_now, double gain_ppm, double offset_codes, double half_width = 0.1)
        : of(solve(setup(celsius_now, half_width),
                   {bench::stepped("short", bench::seen(code_at(0.0, celsius_now, gain_ppm, offset_codes))),
                    bench::stepped("five", bench::seen(code_at(5.0, celsius_now, gain_ppm, offset_codes))),
                    {}},
                   all, inputs)) {}
    static range_setup setup(double celsius_now, double half_width) {
        range_setup s = bench::ten_volts();
        s.ambient = {celsius_now};
        s.temperature_half_width = half_width * kelvin;
        return s;
    }
    /// The gain in V/code rises by gain_ppm, so the codes fall.
    static double code_at(double volts, double celsius_now, double gain_ppm, double offset_codes) {
        const double dt = celsius_now - 20.0;
        const double zero = bench::code_of(0.0);
        return zero + (bench::code_of(volts) - zero) / (1.0 + gain_ppm * 1e-6 * dt) + offset_codes * dt;
    }
    [[nodiscard]] calibrated both() const { return {of, inputs, all}; }
};

}  // namespace

TEST_CASE("a drift that is a straight line in time drops out whole") {
    for (const std::size_t n : {5U, 6U, 7U, 9U}) {
        const drift_free f = without_drift(series(n, 3.0, 0.0, 1));
        CHECK(f.zero.value() == doctest::Approx(1000.0).epsilon(1e-12).scale(0));
        CHECK(f.reference.value() == doctest::Approx(2000.0).epsilon(1e-12).scale(0));
        CHECK(f.drift.value() == doctest::Approx(3.0 / 60.0).epsilon(1e-9).scale(0));
        CHECK(f.scatter.value() < 1e-9);
        CHECK(f.degrees_of_freedom == static_cast<double>(n) - 3.0);
    }
    CHECK(without_drift(series(5, 1.0, 0.3, 3)).correlation == 0.0);
    CHECK(without_drift(series(6, 1.0, 0.3, 3)).correlation < 0.0);  // 0-R-0-R-0-R: zero is earlier
}

TEST_CASE("the scatter of reconnecting covers zero, reference and drift as often as its t says") {
    int zero = 0, reference = 0, drift = 0;
    constexpr int repetitions = 2000;
    const double k = uncertainty::coverage_factor(0.95, 2.0);
    for (unsigned i = 0; i < repetitions; ++i) {
        const drift_free f = without_drift(series(5, 0.7, 0.4, i));
        zero += std::abs(f.zero.value() - 1000.0) <= k * f.u_zero.value() ? 1 : 0;
        reference += std::abs(f.reference.value() - 2000.0) <= k * f.u_reference.value() ? 1 : 0;
        drift += std::abs(f.drift.value() - 0.7 / 60.0) <= k * f.u_drift.value() ? 1 : 0;
    }
    for (const int held : {zero, reference, drift}) {  // 3.3 binomial standard deviations
        CHECK(std::abs(held - 0.95 * repetitions) <= 3.3 * std::sqrt(0.95 * 0.05 * repetitions));
    }
}

TEST_CASE("a series says what it took off and what it saw") {
    std::vector<turn> all = series(5, 2.0, 0.0, 1);
    all[1].mean += 0.5 * code;
    CHECK(
        without_drift(all).text ==
        "Over 240 s the codes drifted by 7.8 +- 1.3, which is taken off. Connecting anew scatters by 0.22 codes, with 2 degrees "
        "of freedom: few; more turns narrow U.");
}

TEST_CASE("the mean codes of repeated steps are those of the series, and scatter as it does") {
    std::vector<repeated_capture> turns;
    for (const turn& t : series(6, 0.5, 0.2, 5)) {
        const double mean = t.mean.value() - (t.is_reference ? 2000.0 : 1000.0) + bench::code_of(t.is_reference ? 5.0 : 0.0);
        turns.push_back({t.at, {"turn.csv", "", std::string(64, '1'), 10e3 * hertz}, bench::seen(mean)});
    }
    const drift_free f = without_drift(turns);
    const auto references = bench::references();
    input_set inputs, plain;
    steps seen{bench::stepped("short", bench::seen(0.0)), bench::stepped("five", bench::seen(0.0)), {}};
    seen.turns = turns;
    const range_calibration of = solve(still(), seen, references, inputs);
    CHECK(of.turns == turns);
    CHECK(of.zero.seen.mean == f.zero);
    CHECK(of.reference.seen.mean == f.reference);
    CHECK(of.zero.seen.n == 3000);
    CHECK(of.zero.evidence.file == "turn.csv");
    const auto& zero = std::get<uncertainty::repeated>(inputs.at("A/8 V/zero/mean")->spread);
    const auto& reference = std::get<uncertainty::repeated>(inputs.at("A/8 V/reference/mean")->spread);
    CHECK(zero.u == f.u_zero.value());
    CHECK(reference.u == f.u_reference.value());
    CHECK(reference.degrees_of_freedom == 3.0);
    // 0-R-0-R-0-R: the zero steps are earlier, so a drift found too large moves both means apart
    const auto correlations = correlations_of(of);
    REQUIRE(correlations.size() == 1);
    CHECK(correlations[0] == uncertainty::correlation{"A/8 V/zero/mean", "A/8 V/reference/mean", f.correlation});
    const double g = of.result.gain.value() / (f.reference - f.zero).value();
    const double means = f.u_zero.value() * f.u_zero.value() + f.u_reference.value() * f.u_reference.value() -
                         2.0 * f.correlation * f.u_zero.value() * f.u_reference.value();
    const range_calibration once = solve(
        still(),
        {bench::stepped("short", bench::seen(f.zero.value())), bench::stepped("five", bench::seen(f.reference.value())), {}},
        references, plain);
    const double noise = 0.8 / std::sqrt(1000.0);
    const double expected = once.result.u_gain.value() * once.result.u_gain.value() + g * g * (means - 2.0 * noise * noise);
    CHECK(of.result.u_gain.value() == doctest::Approx(std::sqrt(expected)).epsilon(1e-9).scale(0));
    CHECK(correlations_of(once).empty());
}

TEST_CASE("repetitions in turn are refused beside a negative step, and where one of them is clipped") {
    std::vector<repeated_capture> turns;
    for (const turn& t : series(5, 0.0, 0.1, 5)) turns.push_back({t.at, {}, bench::seen(t.mean.value())});
    const auto references = bench::references();
    steps seen{bench::stepped("short", bench::seen(1000.0)), bench::stepped("five", bench::seen(2000.0)), {}, turns};
    input_set inputs;
    seen.turns[3].seen.at_top = 20;
    const auto refusal = [&] {
        try {
            (void)solve(still(), seen, references, inputs);
        } catch (const bad_step& e) {
            return std::string(e.what());
        }
        return std::string("no exception");
    };
    CHECK(refusal() ==
          "capture 4 in turn, channel A, range 8 V: 20 of 1000 samples on code 4095, expected at most 1 in 1000 on an end code; "
          "look at this capture, and leave it out with its neighbour");
    seen.turns = turns;
    seen.negative = seen.zero;
    CHECK(message([&] { (void)solve(still(), seen, references, inputs); }) ==
          "zero and reference in turn, channel A, range 8 V: a negative step beside them, expected zero and reference alone; "
          "leave the negative step out, or the repetitions: it would stand at one moment of a drift");
    CHECK(inputs.all().empty());
}

TEST_CASE("a series that is none is refused") {
    CHECK(message([] { (void)without_drift(series(4, 0.0, 0.1, 1)); }) ==
          "zero and reference in turn: 4 captures, expected 5 or more: 0-R-0-R-0; repeat the zero and the reference step, each "
          "connected anew");
    std::vector<turn> all = series(5, 0.0, 0.1, 1);
    all[2].is_reference = true;
    CHECK(message([&] { (void)without_drift(all); }) ==
          "zero and reference in turn: captures 2 and 3 of one kind, expected zero and reference in turn; take one out, or put "
          "them in their order");
    all = series(5, 0.0, 0.1, 1);
    all[3].at = all[2].at;
    CHECK(message([&] { (void)without_drift(all); }) ==
          "zero and reference in turn: capture 4 not later than the one before, expected times that rise; put the captures in "
          "their order");
}

TEST_CASE("two calibrations at two temperatures find the coefficients that the instrument has") {
    const at_temperature cool(20.0, 80.0, 0.02), warm(35.0, 80.0, 0.02);
    const temperature_coefficients t = coefficients_by(cool.both(), warm.both());
    CHECK(t.gain.value.value() == doctest::Approx(80e-6).epsilon(1e-6).scale(0));
    const auto gain = make_budget(t.gain);
    CHECK(gain.U > 0.0);
    // the reference's error is the same at both and drops out
    for (const auto& row : gain.rows) {
        if (row.in->id == "reference/five/error") CHECK(row.contribution < 1e-3 * gain.u);
    }
    // by hand: noise and quantisation of four mean codes over the span, and the temperatures' limits
    double squares = 0.0;
    for (const char* at : {"zero", "reference"}) {
        const double noise = std::get<uncertainty::repeated>(cool.inputs.at(std::string("A/8 V/") + at + "/mean")->spread).u;
        const auto& q = std::get<uncertainty::rectangular>(cool.inputs.at(std::string("A/8 V/") + at + "/quantisation")->spread);
        squares += 2.0 * (noise * noise + q.half_width * q.half_width / 3.0);
    }
    const double by_codes = std::sqrt(squares) / (bench::code_of(5.0) - bench::code_of(0.0)) / 15.0;
    const double by_temperature = 80e-6 * 0.1 * std::sqrt(2.0 / 3.0) / 15.0;
    CHECK(gain.u > std::hypot(by_codes, by_temperature) * 0.999);  // the short, and parts warm within 0.1 K, come besides
    CHECK(gain.u < std::hypot(by_codes, by_temperature) * 1.3);
    // a step on another code has another non-linearity
    const at_temperature shifted(35.0, 80.0, 0.2);
    CHECK(make_budget(coefficients_by(cool.both(), shifted.both()).gain).u > 3.0 * gain.u);
}

TEST_CASE("a reading between two temperatures is right where the instrument drifts, and knows less beyond them") {
    const at_temperature cool(20.0, 80.0, 0.02), warm(35.0, 80.0, 0.02);
    const auto at = [&](double volts, double celsius_now) {
        return make_budget(reading_between(cool.both(), warm.both(),
                                           at_temperature::code_at(volts, celsius_now, 80.0, 0.02) * code, {celsius_now},
                                           0.1 * kelvin));
    };
    for (const double t : {20.0, 27.0, 35.0, 45.0}) {
        const auto b = at(4.0, t);
        CAPTURE(t);
        CHECK(std::abs(b.value - 4.0) < 2e-4);  // 1 / (1 + x) is no straight line
    }
    CHECK(at(4.0, 80.0).u > at(4.0, 27.0).u);
    // at the first temperature it is the first calibration
    const auto first = make_budget(reading_between(cool.both(), warm.both(), 1900.0 * code, {20.0}, 0.0 * kelvin));
    const auto plain = make_budget(reading(cool.inputs, cool.all, cool.of, 1900.0 * code, {1.0, 0.0 * kelvin, 0.0 * kelvin}));
    CHECK(first.value == doctest::Approx(plain.value).epsilon(1e-12).scale(0));
    CHECK(first.u == doctest::Approx(plain.u).epsilon(2e-3).scale(0));
}

TEST_CASE("temperatures that are one, or ranges that are two, are refused") {
    const at_temperature cool(20.0, 80.0, 0.0), same(20.1, 80.0, 0.0);
    CHECK(
        message([&] { (void)coefficients_by(cool.both(), same.both()); }) ==
        "two temperatures, A/8 V: 20 and 20.1 degrees Celsius, known within 0.2 K together, expected temperatures that differ by "
        "more; calibrate once more, warmer or colder");
    at_temperature other(35.0, 80.0, 0.0);
    other.of.range = "4 V";
    CHECK(message([&] { (void)coefficients_by(cool.both(), other.both()); }) ==
          "two temperatures, A/8 V: calibrations of two ranges, in two modes or with two front ends, expected one range twice; "
          "compare like with like");
}

}  // namespace repetitions_test
