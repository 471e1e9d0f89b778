#include "bench.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <cmath>
#include <plumbline/calibration/comparison.hpp>
#include <plumbline/calibration/transfer.hpp>
#include <plumbline/error.hpp>
#include <string>

namespace transfer_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

constexpr capture_evidence nowhere() { return {}; }

double sensitivity_of(const un::budget& b, const std::string& id) {
    for (const un::budget_row& row : b.rows) {
        if (row.in->id == id) return row.sensitivity;
    }
    return 0.0;
}

range_setup of_channel(const char* channel) {
    range_setup setup = bench::ten_volts();
    setup.channel = channel;
    return setup;
}

/// Channel A by the 5 V part, channel B by what A read of some supply near 6 V.
struct two_channels {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    range_calibration a;
    range_calibration b;

    two_channels() {
        reference by_a;
        by_a.id = "channel A";
        by_a.description = "channel A of this instrument";
        references.push_back(by_a);
        const step zero = bench::stepped("short", bench::seen(bench::code_of(0.0)));
        a = solve(of_channel("A"), {zero, bench::stepped("five", bench::seen(bench::code_of(5.0))), {}}, references, inputs);
        step second = bench::stepped("channel A", bench::seen(bench::code_of(6.01)));
        second.source =
            transferred(a, "channel A", "B 8 V reference", nowhere(), bench::seen(bench::code_of(6.0)), references, inputs);
        b = solve(of_channel("B"), {zero, second, {}}, references, inputs);
    }

    [[nodiscard]] un::uncertain<voltage> read(const range_calibration& by, double volts) const {
        return reading(inputs, references, by, code_at(by, volts * volt), at_calibration(by));
    }
};

std::string refusal(const std::vector<reference>& references, const applied& first, const applied& second) {
    un::input_set inputs;
    try {
        (void)compare("5 V", first, second, references, {23.0}, 1.0 * kelvin, inputs);
    } catch (const bad_input& e) {
        CHECK(inputs.all().empty());
        return e.what();
    }
    return "no exception";
}

}  // namespace

TEST_CASE("a transferred voltage is what the first range read, and its reference's error comes back in proportion") {
    const two_channels c;
    const carried_voltage& carried = *c.b.reference.source.carried;
    CHECK(std::abs(carried.value.value() - 6.0) <= 1e-12);
    CHECK(std::is_sorted(carried.by.begin(), carried.by.end(), [](const auto& x, const auto& y) { return x.id < y.id; }));
    CHECK(std::abs(c.read(c.b, 6.0).value.value() - 6.0) <= 1e-9);
    // 2.5 mV at 5 V: 3 mV at 6 V in A, and so in B; half of that at 3 V
    for (const auto& [volts, expected] : {std::pair{6.0, 3e-3}, std::pair{3.0, 1.5e-3}}) {
        CHECK(std::abs(sensitivity_of(make_budget(c.read(c.a, volts)), "reference/five/error") - expected) <= 1e-9);
        CHECK(std::abs(sensitivity_of(make_budget(c.read(c.b, volts)), "reference/five/error") - expected) <= 1e-9);
    }
}

TEST_CASE("the second range is less certain than the first, and what both share cancels between them") {
    const two_channels c;
    const auto in_a = c.read(c.a, 6.0);
    const auto in_b = c.read(c.b, 6.0);
    const double u_a = make_budget(in_a).u;
    const double u_b = make_budget(in_b).u;
    CHECK(u_b > u_a);
    const auto apart = un::first_order([](const auto& x, const auto& y) { return x - y; }, in_b, in_a);
    CHECK(std::abs(sensitivity_of(make_budget(apart), "reference/five/error")) <= 1e-9);
    CHECK(make_budget(apart).u < std::hypot(u_a, u_b) - 1e-3);
}

TEST_CASE("a check of the second range by the part that calibrated the first does not test that part") {
    two_channels c;
    CHECK_FALSE(check(c.b, "5 V", false, bench::stepped("five", bench::seen(bench::code_of(5.0))), c.references, c.inputs)
                    .tests_reference);
    CHECK(check(c.b, "5 V metered", false, bench::metered(5.0, bench::seen(bench::code_of(5.0))), c.references, c.inputs)
              .tests_reference);
}

TEST_CASE("two meters are compared by the uncertainty of their difference, and an error they share is not in it") {
    std::vector<reference> references = bench::references();
    reference other;
    other.id = "other";
    other.description = "pocket meter";
    other.meter = meter{0.5 * percent, 2.0, 0.01 * volt, 20.0 * volt, {}, 0.1, 1e7 * ohm};
    references.push_back(other);
    un::input_set inputs;
    applied bench_meter{"meter", stated_voltage{5.0 * volt, expanded{1e-3 * volt, 2.0}}};
    applied pocket_meter;
    pocket_meter.reference = "other";
    pocket_meter.indicated = 5.04 * volt;
    const comparison c = compare("5 V", bench_meter, pocket_meter, references, {23.0}, 1.0 * kelvin, inputs);
    CHECK(std::abs(c.difference.value() - 0.04) <= 1e-12);
    // limits 25.2 mV of reading, 20 mV of counts, 5 mV of the last digit, all rectangular; u of the bench meter 0.5 mV
    const double u = std::sqrt((0.0252 * 0.0252 + 0.02 * 0.02 + 0.005 * 0.005) / 3.0 + 0.5e-3 * 0.5e-3);
    CHECK(std::abs(c.U.value() / c.k - u) <= 1e-9);
    CHECK(std::abs(c.e_n - 0.04 / c.U.value()) <= 1e-12);
    CHECK(c.k < 2.0);  // bounded errors rule

    un::input_set again;
    applied second_use = bench_meter;
    second_use.stated->value = 5.001 * volt;
    second_use.stated->spread = expanded{2e-3 * volt, 2.0};
    // one meter twice: its error is one, and what is left is the difference of its scales, 0.5 mV
    const comparison same = compare("5 V", bench_meter, second_use, references, {23.0}, 1.0 * kelvin, again);
    CHECK(std::abs(same.U.value() / same.k - 0.5e-3) <= 1e-12);
}

TEST_CASE("what cannot be compared is refused with what to do") {
    const std::vector<reference> references = bench::references();
    const applied one{"five", {}};
    CHECK(
        refusal(references, one, {"one", {}}) ==
        "comparison 5 V: a divider or a source resistance in the second, expected voltages that do not depend on what they feed; "
        "measure at the terminals, and state the reading or the value");
    CHECK(refusal(references, one, one) ==
          "comparison 5 V: two voltages with one and the same error, expected two references that can disagree; compare it with "
          "another reference");
}

}  // namespace transfer_test
