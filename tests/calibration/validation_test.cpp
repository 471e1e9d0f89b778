#include <plumbline/calibration/validation.hpp>

#include "../slow_build.hpp"
#include "bench.hpp"

#include <doctest/doctest.h>
#include <cmath>
#include <message.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <utility>
#include <vector>

namespace validation_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

struct calibrated {
    range_calibration range;
    std::vector<reference> references;
    un::input_set inputs;

    calibrated(const range_setup& setup, step zero, step second, std::vector<reference> by = bench::references())
        : references(std::move(by)) {
        range = solve(setup, {std::move(zero), std::move(second), {}}, references, inputs);
    }
    void check(double volts, double off_by) {
        range.checks.push_back(calibration::check(range, std::to_string(volts), false,
                                                  bench::metered(volts, bench::seen(bench::code_of(volts) + off_by)), references,
                                                  inputs));
    }
    void validate(const validation_settings& settings = {}) { calibration::validate(range, references, inputs, settings); }
    [[nodiscard]] un::budget at(voltage v) const {
        return un::make_convolved_budget(reading(inputs, references, range, code_at(range, v), at_calibration(range)));
    }
};

/// Four samples say nothing of hum, and what is kept for it would be more than what they lack.
range_setup without_hum() {
    range_setup all = bench::ten_volts();
    all.largest_hum = 0.0 * volt;
    return all;
}

calibrated usual() {
    return {bench::ten_volts(), bench::stepped("short", bench::seen(bench::code_of(0.0))),
            bench::stepped("five", bench::seen(bench::code_of(5.0)))};
}

}  // namespace

TEST_CASE("the voltages at which U is stated go from end to end, with zero in a bipolar range") {
    front_end::chain chain = bench::ten_volts().chain;
    CHECK(stated_voltages(chain) ==
          std::vector<voltage>{-8.0 * volt, -4.0 * volt, -0.8 * volt, 0.0 * volt, 0.8 * volt, 4.0 * volt, 8.0 * volt});
    chain.low = 2.0 * volt;
    chain.high = 12.0 * volt;
    const auto all = stated_voltages(chain);
    REQUIRE(all.size() == 7);
    CHECK(all.front() == 2.0 * volt);
    CHECK(all[3] == 7.0 * volt);
    CHECK(all.back() == 12.0 * volt);
}

TEST_CASE("first order of a usual calibration is validated at every reading and check point, near the ends that are stated") {
    calibrated c = usual();
    c.check(3.0, 0.4);
    c.check(-6.0, -0.2);
    c.validate();
    REQUIRE(c.range.by_trials.has_value());
    CHECK(c.range.by_trials->trials == 100'000);
    CHECK(c.range.by_trials->seed == 1);
    CHECK(c.range.by_trials->significant_digits == 1);
    REQUIRE(c.range.by_trials->readings.size() == 7);
    const auto near = [](const interval_by_trials& found, double value, double U) {
        CHECK(found.first_order == first_order_is::validated);
        CHECK(std::abs(found.low.value() - (value - U)) <= 0.02 * U);
        CHECK(std::abs(found.high.value() - (value + U)) <= 0.02 * U);
    };
    for (const reading_by_trials& r : c.range.by_trials->readings) {
        CAPTURE(r.at.value());
        const un::budget b = c.at(r.at);
        near(r.interval, b.value, b.U);
    }
    for (const check_point& p : c.range.checks) {
        REQUIRE(p.by_trials.has_value());
        near(*p.by_trials, p.error.value(), p.U.value());
    }
}

TEST_CASE("the same seed gives the same intervals, another one others, and nothing else of the range changes" *
          doctest::skip(slow::build)) {
    calibrated c = usual();
    c.check(3.0, 0.4);
    const range_calibration before = c.range;
    c.validate();
    calibrated again = usual();
    again.check(3.0, 0.4);
    again.validate();
    CHECK(again.range == c.range);
    again.validate({100'000, 2, 1});
    CHECK(again.range != c.range);
    c.range.by_trials.reset();
    c.range.checks[0].by_trials.reset();
    CHECK(c.range == before);
}

TEST_CASE("with four samples a step, trials scatter by t and first order is not validated for want of readings") {
    calibrated c(without_hum(), bench::stepped("short", bench::seen(bench::code_of(0.0), 30.0, 4)),
                 bench::stepped("five", bench::seen(bench::code_of(5.0), 30.0, 4)));
    c.validate();
    for (const reading_by_trials& r : c.range.by_trials->readings) {
        CHECK(r.interval.first_order == first_order_is::short_of_readings);
    }
}

TEST_CASE("a source whose resistance is all but unknown bends the model, and first order is short of an order") {
    std::vector<reference> by = bench::references();
    step second = bench::stepped("five", bench::seen(bench::code_of(3.28)));
    second.source.source = front_end::resistor{1e6 * ohm, 90.0 * percent, {}};
    range_setup loose = bench::ten_volts();
    loose.chain.adc.reference_tolerance = 50.0 * percent;  // so that the gain may be far from nominal
    calibrated c(loose, bench::stepped("short", bench::seen(bench::code_of(0.0))), second, by);
    c.validate();
    CHECK(c.range.by_trials->readings.back().interval.first_order == first_order_is::short_of_order);
    const un::budget b = c.at(8.0 * volt);
    CHECK(c.range.by_trials->readings.back().interval.high.value() > b.value + 1.05 * b.U);
}

TEST_CASE("where a stated correlation leaves k to t although a bounded term rules, the shape is another" *
          doctest::skip(slow::build)) {
    std::vector<reference> by = bench::references();
    by[1].output = stated_voltage{5.0 * volt, limits{0.5 * volt}};
    calibrated c(bench::ten_volts(), bench::stepped("short", bench::seen(bench::code_of(0.0))),
                 bench::stepped("five", bench::seen(bench::code_of(5.0))), by);
    validation_settings settings;
    settings.correlations = {{"A/8 V/zero/mean", "A/8 V/reference/mean", 0.5}};
    c.validate(settings);
    CHECK(c.range.by_trials->readings.back().interval.first_order == first_order_is::of_another_shape);
    // 2 u stated, but the rectangular term ends at 1.73 u
    const un::budget b = c.at(8.0 * volt);
    CHECK(c.range.by_trials->readings.back().interval.high.value() < b.value + 1.75 * b.u);
    // convolved it is validated
    c.validate();
    CHECK(c.range.by_trials->readings.back().interval.first_order == first_order_is::validated);
}

TEST_CASE(
    "means of different degrees of freedom have no joint distribution: their correlation is refused by name, and nothing "
    "changes") {
    calibrated c(bench::ten_volts(), bench::stepped("short", bench::seen(bench::code_of(0.0), 0.6, 64)),
                 bench::stepped("five", bench::seen(bench::code_of(5.0), 0.6, 1000)));
    const range_calibration before = c.range;
    validation_settings settings;
    settings.correlations = {{"A/8 V/zero/mean", "A/8 V/reference/mean", 0.5}};
    const std::string refusal =
        "correlation of A/8 V/zero/mean and A/8 V/reference/mean: 63 and 999 degrees of freedom, expected the same for both: a "
        "joint "
        "normal or a joint t distribution; state both alike, or let both depend on one shared input instead";
    CHECK(refused::message([&] { c.validate(settings); }) == refusal);
    CHECK(c.range == before);
    const std::vector<kind_of_reading> one{read_mean{code_at(c.range, 3.0 * volt)}};
    CHECK(refused::message([&] {
              (void)validate_readings(c.range, c.references, c.inputs, one, read_at_calibration{at_calibration(c.range)},
                                      settings);
          }) == refusal);
}

TEST_CASE("a run that cannot be leaves the range as it was") {
    calibrated c = usual();
    c.check(3.0, 0.4);
    const range_calibration before = c.range;
    CHECK_THROWS_AS(c.validate({1, 1, 1}), plumbline::bad_input);
    CHECK(c.range == before);
}

namespace {

/// Conditions of a warm shed, invented.
use_conditions warm_shed() {
    use_conditions use;
    use.years = 1.0;
    use.temperature_half_width = 10.0 * kelvin;
    use.gain_per_year = 200.0 * ppm;
    use.offset_per_year = 1e-3 * volt;
    use.gain_by_supply = 100.0 * ppm;
    use.offset_by_supply = 0.5e-3 * volt;
    return use;
}

}  // namespace

TEST_CASE("readings of every kind are validated in every budget that they have, as their own functions state them") {
    calibrated c = usual();
    const range_calibration& of = c.range;
    const codes low = code_at(of, -2.0 * volt);
    const codes high = code_at(of, 6.0 * volt);
    const reading_conditions then{16.0, 2.0 * kelvin, 1.0 * kelvin};
    const use_conditions use = warm_shed();
    const kelvins warmer = 3.0 * kelvin;
    const std::vector<kind_of_reading> kinds{read_mean{high}, read_difference{low, high}, read_peak_to_peak{low, high, 1000.0}};
    const std::vector<kind_of_reading> single{read_mean{high}, read_mean{low}};

    const auto expect = [](const std::vector<validated_reading>& found, const std::vector<un::uncertain<voltage>>& stated) {
        REQUIRE(found.size() == stated.size());
        for (std::size_t i = 0; i < found.size(); ++i) {
            CAPTURE(i);
            const un::budget b = un::make_convolved_budget(stated[i]);
            CHECK(found[i].first_order.value == b.value);
            CHECK(found[i].first_order.U == b.U);
            CHECK(found[i].by_trials.first_order == first_order_is::validated);
            CHECK(std::abs(found[i].by_trials.low.value() - (b.value - b.U)) <= 0.03 * b.U);
            CHECK(std::abs(found[i].by_trials.high.value() - (b.value + b.U)) <= 0.03 * b.U);
        }
    };
    expect(validate_readings(of, c.references, c.inputs, single, read_uncalibrated{then}),
           {uncalibrated_reading(c.inputs, of, high, then), uncalibrated_reading(c.inputs, of, low, then)});
    expect(validate_readings(of, c.references, c.inputs, kinds, read_at_calibration{then}),
           {reading(c.inputs, c.references, of, high, then), difference(c.inputs, c.references, of, low, high, then),
            peak_to_peak(c.inputs, c.references, of, low, high, 1000.0, then)});
    expect(validate_readings(of, c.references, c.inputs, kinds, read_in_use{use, 16.0, warmer}),
           {reading_in_use(c.inputs, c.references, of, high, 16.0, use, warmer),
            difference_in_use(c.inputs, c.references, of, low, high, 16.0, use, warmer),
            peak_to_peak_in_use(c.inputs, c.references, of, low, high, 1000.0, use, warmer)});
}

TEST_CASE("a range keeps what trials make of its readings in use, uncalibrated and of other kinds, as first order states them") {
    calibrated c = usual();
    c.validate();
    const std::vector<reading_by_trials> without_use = c.range.by_trials->readings;
    CHECK(c.range.by_trials->in_use.empty());  // no conditions of use were stated
    c.range.in_use = warm_shed();
    c.validate();
    const validation& all = *c.range.by_trials;
    CHECK(all.readings == without_use);
    const reading_conditions then = at_calibration(c.range);
    const auto near = [](const interval_by_trials& found, const un::uncertain<voltage>& stated) {
        const un::budget b = un::make_convolved_budget(stated);
        CHECK(found.first_order == first_order_is::validated);
        CHECK(std::abs(found.low.value() - (b.value - b.U)) <= 0.02 * b.U);
        CHECK(std::abs(found.high.value() - (b.value + b.U)) <= 0.02 * b.U);
    };
    const std::vector<voltage> at = stated_voltages(c.range.chain);
    REQUIRE(all.in_use.size() == at.size());
    REQUIRE(all.uncalibrated.size() == at.size());
    for (std::size_t i = 0; i < at.size(); ++i) {
        CAPTURE(at[i].value());
        CHECK(all.in_use[i].at == at[i]);
        CHECK(all.uncalibrated[i].at == at[i]);
        const codes there = code_at(c.range, at[i]);
        near(all.in_use[i].interval, reading_in_use(c.inputs, c.references, c.range, there, 1.0, warm_shed()));
        near(all.uncalibrated[i].interval, uncalibrated_reading(c.inputs, c.range, there, then));
    }
    const std::vector<stated_kind> kinds = stated_kinds(c.range.chain);
    REQUIRE(kinds ==
            std::vector<stated_kind>{{100.0, 0.0 * volt, {}}, {1.0, 0.0 * volt, 1.6 * volt}, {100.0, 0.0 * volt, 1.6 * volt}});
    REQUIRE(all.kinds.size() == kinds.size());
    for (std::size_t i = 0; i < kinds.size(); ++i) {
        CAPTURE(i);
        CHECK(all.kinds[i].what == kinds[i]);
        const reading_conditions when{kinds[i].samples, then.temperature_difference, then.temperature_half_width};
        const codes first = code_at(c.range, kinds[i].at);
        near(all.kinds[i].interval, kinds[i].to
                                        ? difference(c.inputs, c.references, c.range, first, code_at(c.range, *kinds[i].to), when)
                                        : reading(c.inputs, c.references, c.range, first, when));
    }
}

TEST_CASE("a range of few samples keeps for each result that first order falls short, and why" * doctest::skip(slow::build)) {
    calibrated c(without_hum(), bench::stepped("short", bench::seen(bench::code_of(0.0), 30.0, 4)),
                 bench::stepped("five", bench::seen(bench::code_of(5.0), 30.0, 4)));
    c.range.in_use = warm_shed();
    c.validate();
    for (const reading_by_trials& r : c.range.by_trials->in_use) {
        CHECK(r.interval.first_order == first_order_is::short_of_readings);
    }
    for (const kind_by_trials& k : c.range.by_trials->kinds) CHECK(k.interval.first_order == first_order_is::short_of_readings);
    // by data sheets no step is used, nor what it lacked
    for (const reading_by_trials& r : c.range.by_trials->uncalibrated) {
        CHECK(r.interval.first_order == first_order_is::validated);
    }
}

TEST_CASE("a reading in use whose first order falls short is told so, with the interval of its trials") {
    calibrated c(without_hum(), bench::stepped("short", bench::seen(bench::code_of(0.0), 30.0, 4)),
                 bench::stepped("five", bench::seen(bench::code_of(5.0), 30.0, 4)));
    const std::vector<kind_of_reading> kinds{read_mean{code_at(c.range, 8.0 * volt)},
                                             read_difference{code_at(c.range, 0.0 * volt), code_at(c.range, 8.0 * volt)}};
    const auto found = validate_readings(c.range, c.references, c.inputs, kinds, read_in_use{warm_shed(), 100.0, kelvins()});
    REQUIRE(found.size() == 2);
    for (const validated_reading& r : found) CHECK(r.by_trials.first_order == first_order_is::short_of_readings);
}

TEST_CASE("what has no budget, and what its own function refuses, is not validated") {
    const calibrated c = usual();
    const codes low = code_at(c.range, -2.0 * volt);
    const codes high = code_at(c.range, 6.0 * volt);
    const auto refusal = [&](const kind_of_reading& what, const budget_of_reading& budget) {
        return refused::message([&] {
            (void)validate_readings(c.range, c.references, c.inputs, std::vector{what}, budget, {1000, 1, 1});
        });
    };
    CHECK(
        refusal(read_difference{low, high}, read_uncalibrated{}) ==
        "validation, channel A, range 8 V: a difference, uncalibrated, expected a single reading: no other has a budget by data "
        "sheets; validate it at calibration or in use");
    CHECK(
        refusal(read_peak_to_peak{low, high, 100.0}, read_uncalibrated{}) ==
        "validation, channel A, range 8 V: peak to peak, uncalibrated, expected a single reading: no other has a budget by data "
        "sheets; validate it at calibration or in use");
    CHECK(refusal(read_peak_to_peak{high, low, 100.0}, read_at_calibration{})
              .starts_with("peak to peak, channel A, range 8 V: lowest"));
    use_conditions use;
    use.years = -1.0;
    CHECK(
        refusal(read_mean{low}, read_in_use{use, 1.0, kelvins()}).starts_with("reading in use, channel A, range 8 V: -1 years"));
}

}  // namespace validation_test
