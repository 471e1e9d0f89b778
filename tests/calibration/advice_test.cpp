#include <plumbline/calibration/advice.hpp>
#include <plumbline/calibration/solve.hpp>

#include <doctest/doctest.h>

#include "bench.hpp"
#include "message.hpp"

#include <cmath>
#include <plumbline/uncertainty/budget.hpp>

namespace advice_test {

using namespace plumbline;
using namespace plumbline::calibration;
using plumbline::uncertainty::input_set;
using refused::message;
namespace un = plumbline::uncertainty;

namespace {

struct solved {
    std::vector<reference> all = bench::references();
    input_set inputs;
    range_calibration of;
    explicit solved(double volts = 5.0, double within = 2.5e-3, bool negative = false) {
        all[1].output = stated_voltage{volts * volt, limits{within * volt}};
        std::optional<step> below;
        if (negative) {
            below = bench::stepped("five", bench::seen(bench::code_of(-volts)));
            below->source.reversed = true;
        }
        of = solve(bench::ten_volts(),
                   {bench::stepped("short", bench::seen(bench::code_of(0.0))),
                    bench::stepped("five", bench::seen(bench::code_of(volts))), below},
                   all, inputs);
    }
};

voltage largest_U(const solved& s) {
    voltage most;
    for (double v = -8.0; v <= 8.0; v += 2.0) {
        const auto r = reading(s.inputs, s.all, s.of, code_at(s.of, v * volt), at_calibration(s.of));
        most = std::max(most, make_convolved_budget(r).U * volt);
    }
    return most;
}

un::uncertain<voltage> made_of(const std::vector<un::input>& inputs) {
    un::uncertain<voltage> y{2.0 * volt, {}};
    for (const un::input& in : inputs) y.dependences.push_back({un::shared_input(in), 1.0});
    return y;
}

}  // namespace

TEST_CASE(
    "the best of equally accurate references is the one at the end of the range, and U there is that of calibrating with it") {
    const solved s;
    const advice_on_reference a = best_reference(s.of, s.all, s.inputs, candidates_within(s.of, 0.0005));
    CHECK(a.all.front().by.name == "8 V");
    CHECK(a.all.back().largest > a.all.front().largest);
    const solved again(8.0, 8.0 * 0.0005);
    CHECK(a.all.front().largest.value() == doctest::Approx(largest_U(again).value()).epsilon(1e-2).scale(0));
    CHECK(a.largest_now.value() == doctest::Approx(largest_U(s).value()).epsilon(1e-6).scale(0));
    CHECK(a.text.starts_with(
        "Channel A, range 8 V: with a reference of 8 V in place of 5 V the largest U over the range falls from "));
}

TEST_CASE("a nearer reference that is known better may be the best, and one no better than now is said to be") {
    const solved s;
    const std::vector<candidate> two{{{8.0 * volt, limits{0.08 * volt}}, "coarse"}, {{4.0 * volt, limits{1e-4 * volt}}, "fine"}};
    const advice_on_reference a = best_reference(s.of, s.all, s.inputs, two);
    REQUIRE(a.all.size() == 2);
    CHECK(a.all.front().by.name == "fine");
    const advice_on_reference far = best_reference(s.of, s.all, s.inputs, {{{8.0 * volt, limits{1e-3 * volt}}, "bench supply"}});
    CHECK(far.text.starts_with("Channel A, range 8 V: with a reference of 8 V (bench supply) in place of 5 V the largest U"));
    const advice_on_reference none = best_reference(s.of, s.all, s.inputs, {{{5.0 * volt, limits{2.5e-3 * volt}}, "same"}});
    CHECK(none.all.front().largest.value() == doctest::Approx(none.largest_now.value()).epsilon(1e-6).scale(0));
    CHECK(none.text.starts_with("Channel A, range 8 V: the reference of 5 V is good for it: the best of 1 others would bring"));
}

TEST_CASE("candidates that a range cannot take are left out, and with a negative step the candidate is used on both sides") {
    const solved s(5.0, 2.5e-3, true);
    const std::vector<candidate> some{{{0.1 * volt, limits{1e-5 * volt}}, "near"}, {{8.0 * volt, limits{4e-3 * volt}}, "far"}};
    const advice_on_reference a = best_reference(s.of, s.all, s.inputs, some);
    REQUIRE(a.all.size() == 1);
    CHECK(a.all.front().by.name == "far");
    CHECK(a.all.front().largest < a.largest_now);
    CHECK(message([&] { (void)best_reference(s.of, s.all, s.inputs, {some[0]}); }) ==
          "best reference, A/8 V: none of 1 candidates within the range, expected one that the range can be calibrated by; give "
          "voltages inside the range, far from the zero step");
}

TEST_CASE("what to improve is ordered by what its removal takes off U, with the figures of a budget by hand") {
    const auto y = made_of({{"a", "small", "", "V", 0.0, un::normal{3e-3}},
                            {"b", "large", "", "V", 0.0, un::normal{4e-3}},
                            {"c", "nothing", "", "V", 0.0, un::normal{1e-5}}});
    const auto all = what_to_improve(y);
    REQUIRE(all.size() == 2);
    CHECK(all[0].label == "large");
    CHECK(all[0].now.value() == doctest::Approx(10e-3).epsilon(1e-4).scale(0));
    CHECK(all[0].removed.value() == doctest::Approx(6e-3).epsilon(1e-4).scale(0));
    CHECK(all[0].halved.value() == doctest::Approx(2.0 * std::hypot(3e-3, 2e-3)).epsilon(1e-4).scale(0));
    CHECK(all[1].text ==
          "Half of \"small\" would bring U at 2 V from 10 mV to 8.54 mV (15 % less), none of it to 8 mV (20 % less).");
}

TEST_CASE("the advice for a range says whether it is straight, what to improve where U is largest, and which reference is best") {
    solved s;
    s.of.checks.push_back(check(s.of, "3 V", false, bench::metered(3.0, bench::seen(bench::code_of(3.0))), s.all, s.inputs));
    s.of.checks.push_back(check(s.of, "-6 V", false, bench::metered(-6.0, bench::seen(bench::code_of(-6.0))), s.all, s.inputs));
    const auto all = advice(s.of, s.all, s.inputs);
    REQUIRE(all.size() == 5);
    CHECK(all[0].starts_with("4 points lie on a straight line within noise and applied voltages: "));
    const auto there = reading(s.inputs, s.all, s.of, code_at(s.of, -8.0 * volt), at_calibration(s.of));
    CHECK(all[1] == what_to_improve(there).front().text);
    CHECK(all[4].starts_with(
        "Channel A, range 8 V: with a reference of 8 V in place of 5 V the largest U over the range falls from "));
    CHECK(s.inputs.find("A/8 V/step/3 V/mean") == nullptr);  // nothing is added

    s.of.checks[0].observed.seen.mean += 8.0 * code;
    s.of.checks.pop_back();
    CHECK(advice(s.of, s.all, s.inputs).front().starts_with("3 points are further from a straight line than the data sheet's"));
    s.of.checks.clear();
    CHECK(advice(s.of, s.all, s.inputs).size() == 4);
}

}  // namespace advice_test
