#include "bench.hpp"

#include "../../src/calibration/models.hpp"

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/calibration/transfer.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <plumbline/uncertainty/second_order.hpp>

namespace calibration_monte_carlo_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

// The models of a calibration are written once: the same templates give value, first order and trials.
TEST_CASE(
    "a corrected reading by Monte Carlo agrees with its first order and its convolved interval, and so does its second order") {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    const step zero = bench::stepped("short", bench::seen(bench::code_of(0.0)));
    const range_calibration a =
        solve(bench::ten_volts(), {zero, bench::stepped("five", bench::seen(bench::code_of(5.0))), {}}, references, inputs);
    // and a second channel, calibrated by what the first one read
    reference by_a;
    by_a.id = "channel A";
    by_a.description = "channel A";
    references.push_back(by_a);
    step carried = bench::stepped("channel A", bench::seen(bench::code_of(6.0)));
    carried.source = transferred(a, "channel A", "B", {}, bench::seen(bench::code_of(6.0)), references, inputs);
    range_setup of_b = bench::ten_volts();
    of_b.channel = "B";
    const range_calibration b = solve(of_b, {zero, carried, {}}, references, inputs);

    for (const range_calibration* range : {&a, &b}) {
        CAPTURE(range->channel);
        const codes at = code_at(*range, 7.0 * volt);
        const un::budget budget = un::make_convolved_budget(reading(inputs, references, *range, at, at_calibration(*range)));
        un::monte_carlo_settings settings;
        settings.trials = 400'000;
        settings.probability = budget.covered.probability;
        const auto composition = [&](const auto& e) {
            using evaluation = std::remove_cvref_t<decltype(e)>;
            return models::reading(e, *range, models::line<evaluation>(e, *range, references), at, at_calibration(*range));
        };
        const auto run = un::monte_carlo(settings, inputs, composition);
        const un::sampled_output& y = run.outputs.at(0);
        CHECK(std::abs(y.mean - budget.value) <= 5.0 * budget.u / std::sqrt(4e5));
        CHECK(std::abs(y.standard_deviation / budget.u - 1.0) <= 0.01);
        const double half_width = 0.5 * (y.symmetric.high - y.symmetric.low);
        CHECK(std::abs(half_width / budget.U - 1.0) <= 0.01);

        // and by second order: there are curved terms, none of which anybody would miss
        const un::budget curved = make_budget(un::second_order(inputs, composition));
        CHECK(curved.second_order.size() > 10);
        CHECK(std::abs(curved.u / budget.u - 1.0) <= 1e-4);
        CHECK(un::unseen_by_first_order(curved).empty());
    }
}

}  // namespace calibration_monte_carlo_test
