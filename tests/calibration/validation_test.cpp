#include <plumbline/calibration/validation.hpp>

#include "bench.hpp"

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <utility>

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

TEST_CASE("the same seed gives the same intervals, another one others, and nothing else of the range changes") {
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
    calibrated c(bench::ten_volts(), bench::stepped("short", bench::seen(bench::code_of(0.0), 30.0, 4)),
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

TEST_CASE("where a stated correlation leaves k to t although a bounded term rules, the shape is another") {
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

TEST_CASE("a run that cannot be leaves the range as it was") {
    calibrated c = usual();
    c.check(3.0, 0.4);
    const range_calibration before = c.range;
    CHECK_THROWS_AS(c.validate({1, 1, 1}), plumbline::bad_input);
    CHECK(c.range == before);
}

}  // namespace validation_test
