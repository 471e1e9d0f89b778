#include <plumbline/calibration/advice.hpp>
#include <plumbline/calibration/solve.hpp>

#include <doctest/doctest.h>

#include "bench.hpp"
#include "message.hpp"

#include <algorithm>
#include <cmath>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/calibration/surroundings.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/uncertainty/budget.hpp>

namespace advice_test {

using namespace plumbline;
using namespace plumbline::calibration;
using plumbline::uncertainty::input_set;
using refused::message;
namespace un = plumbline::uncertainty;

namespace {

constexpr const char* kinds[] = {"plain", "negative", "hum", "turns", "crosstalk", "temperatures", "points"};

/// A range calibrated by a part of some volts, with what goes beyond one capture per step.
struct solved {
    std::vector<reference> all = bench::references();
    input_set inputs;
    range_calibration of;
    explicit solved(double volts = 5.0, double within = 2.5e-3, const std::string& kind = "plain") {
        all[1].output = stated_voltage{volts * volt, limits{within * volt}};
        range_setup setup = bench::ten_volts();
        steps seen{bench::stepped("short", bench::seen(bench::code_of(0.0))),
                   bench::stepped("five", bench::seen(bench::code_of(volts))),
                   {}};
        if (kind == "negative") {
            seen.negative = bench::stepped("five", bench::seen(bench::code_of(-volts)));
            seen.negative->source.reversed = true;
        }
        if (kind == "hum") {
            setup.largest_hum = 20.0 * 1e-3 * volt;
            seen.zero.seen.slope = seen.reference.seen.slope = capture::trend{};  // looked for and too short to be seen
            seen.zero.evidence.sample_rate = seen.reference.evidence.sample_rate = 1e6 * hertz;
        }
        if (kind == "turns") {
            const double connected_anew[] = {0.3, -0.5, -0.2, 0.6, 0.1, 0.2};
            for (int i = 0; i < 6; ++i) {
                const double mean = bench::code_of(i % 2 == 0 ? 0.0 : volts) + connected_anew[i];
                seen.turns.push_back({60.0 * i * second, seen.zero.evidence, bench::seen(mean)});
            }
        }
        of = solve(setup, seen, all, inputs);
        if (kind == "crosstalk") {
            const capture::statistics moved = bench::seen(bench::code_of(0.0) + 2.0);
            add_crosstalk(of, {"B", "8 V", -8.0 * volt, 8.0 * volt, {}, of.zero.seen, {}, moved, {}, {}, {}}, of.chain, inputs);
        }
        if (kind == "temperatures") {
            seen_at_two_temperatures t{};
            t.gain = t.U_gain = 2000.0 * bench::ppm_per_kelvin;
            t.middle = seen_at_two_temperatures::at_centre{2.5 * volt, 1e-3 * volts_per_kelvin::from_value(1.0),
                                                           1e-3 * volts_per_kelvin::from_value(1.0)};
            of.temperatures = t;
        }
        if (kind == "points") {
            std::vector<named_step> more;
            for (const double v : {-7.0, -3.0, 2.0, 7.0}) {
                const double off = v < 0.0 ? 0.4 : -0.3;
                more.push_back({std::to_string(v), bench::metered(v, bench::seen(bench::code_of(v) + off))});
            }
            solve_points(of, more, all, inputs);
        }
    }
    [[nodiscard]] std::vector<voltage> U() const {
        std::vector<voltage> each;
        for (const voltage& v : stated_voltages(of.chain)) {
            const auto r = reading(inputs, all, of, code_at(of, v), at_calibration(of));
            each.push_back(make_convolved_budget(r, un::default_coverage_probability, correlations_of(of)).U * volt);
        }
        return each;
    }
};

voltage largest_U(const solved& s) {
    const std::vector<voltage> each = s.U();
    return *std::max_element(each.begin(), each.end());
}

void same(const std::vector<voltage>& found, const std::vector<voltage>& expected, double within) {
    REQUIRE(found.size() == expected.size());
    for (std::size_t i = 0; i < found.size(); ++i) {
        CHECK(found[i].value() == doctest::Approx(expected[i].value()).epsilon(within).scale(0));
    }
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
    CHECK(a.now.largest.value() == doctest::Approx(largest_U(s).value()).epsilon(1e-6).scale(0));
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
    CHECK(none.all.front().largest.value() == doctest::Approx(none.now.largest.value()).epsilon(1e-6).scale(0));
    CHECK(none.text.starts_with("Channel A, range 8 V: the reference of 5 V is good for it: the best of 1 others would bring"));
}

TEST_CASE("candidates that a range cannot take are left out, and with a negative step the candidate is used on both sides") {
    const solved s(5.0, 2.5e-3, "negative");
    const std::vector<candidate> some{{{0.1 * volt, limits{1e-5 * volt}}, "near"},
                                      {{8.0 * volt, limits{4e-3 * volt}}, "far"},
                                      {{20.0 * volt, limits{4e-3 * volt}}, "beyond on the other side"}};
    const advice_on_reference a = best_reference(s.of, s.all, s.inputs, some);
    REQUIRE(a.all.size() == 1);
    CHECK(a.all.front().by.name == "far");
    CHECK(a.all.front().largest < a.now.largest);
    CHECK(message([&] { (void)best_reference(s.of, s.all, s.inputs, {some[0]}); }) ==
          "best reference, A/8 V: none of 1 candidates within the range, expected one that the range can be calibrated by; give "
          "voltages inside the range, far from the zero step");
}

TEST_CASE("a candidate that is what stands there now gives U as it is, whatever the range has beyond one capture per step") {
    for (const char* kind : kinds) {
        CAPTURE(kind);
        const solved s(5.0, 2.5e-3, kind);
        const std::vector<voltage> U = s.U();
        const advice_on_reference same_part =
            best_reference(s.of, s.all, s.inputs, {{{5.0 * volt, limits{2.5e-3 * volt}}, "same"}});
        same(same_part.now.U, U, 1e-12);
        same(same_part.all.front().U, U, 1e-9);
        same(best_voltage(s.of, s.all, s.inputs, {5.0 * volt}).all.front().U, U, 1e-9);
    }
}

TEST_CASE("U with a candidate is that of calibrating with it, whatever the range has beyond one capture per step") {
    for (const char* kind : kinds) {
        if (std::string(kind) == "points") continue;  // their distances from the line would be others
        CAPTURE(kind);
        const solved s(5.0, 2.5e-3, kind);
        const std::vector<voltage> U = solved(8.0, 4e-3, kind).U();
        CHECK(U.front() < 0.95 * s.U().front());
        same(best_reference(s.of, s.all, s.inputs, {{{8.0 * volt, limits{4e-3 * volt}}, "new"}}).all.front().U, U, 1e-4);
        same(best_voltage(s.of, s.all, s.inputs, {8.0 * volt}).all.front().U, U, 1e-4);
    }
}

TEST_CASE(
    "with further points a reference step nearer to zero makes U no smaller, whatever that point's distance from the line") {
    solved s(5.0, 2.5e-3, "points");
    for (const double off : {-2.0, 2.0}) {
        CAPTURE(off);
        solved other = s;
        other.of.reference.seen.mean += off * code;
        input_set inputs;
        other.of = solve(bench::ten_volts(), {other.of.zero, other.of.reference, {}}, s.all, inputs);
        solve_points(other.of, s.of.points->more, s.all, inputs);
        const advice_on_reference a = best_voltage(other.of, s.all, inputs, {2.5 * volt});
        CHECK(a.all.front().largest >= a.now.largest);
        CHECK(a.text.ends_with(" The range's further steps count as they are."));
    }
}

TEST_CASE("each kind of range has a U of its own, so that one left out would be seen") {
    const voltage plain = largest_U(solved());
    for (const char* kind : kinds) {
        CAPTURE(kind);
        const double apart = std::abs((largest_U(solved(5.0, 2.5e-3, kind)) / plain).value() - 1.0);
        CHECK((apart > 0.02) == (std::string(kind) != "plain"));
    }
}

TEST_CASE("a reference step at 0 V has no other voltages in proportion, and advice says that they are not judged") {
    solved s;
    s.of.zero = bench::metered(-5.0, bench::seen(bench::code_of(-5.0)));
    s.of.reference = bench::stepped("short", bench::seen(bench::code_of(0.0)));
    input_set inputs;
    s.of = solve(bench::ten_volts(), {s.of.zero, s.of.reference, {}}, s.all, inputs);
    const std::string reason =
        "best reference, A/8 V: a reference step at 0 V, expected another voltage; state the candidates' uncertainties: what is "
        "known of 0 V is known to no part of itself";
    CHECK(message([&] { (void)best_voltage(s.of, s.all, inputs, {5.0 * volt}); }) == reason);
    CHECK(advice(s.of, s.all, inputs).back() == "Channel A, range 8 V: other reference voltages are not judged: " + reason);
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

TEST_CASE("what to improve counts stated correlations") {
    const auto y = made_of({{"a", "small", "", "V", 0.0, un::normal{3e-3}}, {"b", "large", "", "V", 0.0, un::normal{4e-3}}});
    const std::vector<un::correlation> opposed{{"a", "b", -0.5}};
    const auto all = what_to_improve(y, un::default_coverage_probability, opposed);
    REQUIRE(all.size() == 1);  // without the small one U would be larger
    // u^2 = 9 + 16 - 12, with half of the large one 9 + 4 - 6
    CHECK(all[0].now.value() == doctest::Approx(2e-3 * std::sqrt(13.0)).epsilon(1e-4).scale(0));
    CHECK(all[0].label == "large");
    CHECK(all[0].halved.value() == doctest::Approx(2e-3 * std::sqrt(7.0)).epsilon(1e-4).scale(0));
    CHECK(all[0].removed.value() == doctest::Approx(6e-3).epsilon(1e-4).scale(0));
}

TEST_CASE("the advice for a range with turns goes by their correlation, stated or not") {
    const solved s(5.0, 2.5e-3, "turns");
    const auto correlations = correlations_of(s.of);
    REQUIRE(correlations.size() == 1);
    const auto there = reading(s.inputs, s.all, s.of, code_at(s.of, -8.0 * volt), at_calibration(s.of));
    const auto by_rows = what_to_improve(there, un::default_coverage_probability, correlations);
    CHECK(by_rows.front().text != what_to_improve(there).front().text);
    const auto all = advice(s.of, s.all, s.inputs);
    CHECK(all.front() == by_rows.front().text);
    CHECK(advice(s.of, s.all, s.inputs, un::default_coverage_probability, correlations) == all);
}

TEST_CASE("the advice for a range with conditions of use says what to improve in use too, where U in use is largest") {
    solved s;
    const std::size_t without = advice(s.of, s.all, s.inputs).size();
    s.of.in_use = use_conditions{1.0, 10.0 * kelvin, 0.1 * percent, 1e-3 * volt, ratio(0.0), voltage()};
    const auto all = advice(s.of, s.all, s.inputs);
    CHECK(all.size() == without + 3);
    const auto later = reading_in_use(s.inputs, s.all, s.of, code_at(s.of, -8.0 * volt), 1.0, *s.of.in_use);
    const auto rows = what_to_improve(later);
    for (std::size_t i = 0; i < 3; ++i) CHECK(all[3 + i] == "In use: " + rows[i].text);
}

TEST_CASE("the advice for a range says whether it is straight, what to improve where U is largest, and which reference is best") {
    solved s;
    s.of.checks.push_back(check(s.of, "3 V", false, bench::metered(3.0, bench::seen(bench::code_of(3.0))), s.all, s.inputs));
    s.of.checks.push_back(check(s.of, "-6 V", false, bench::metered(-6.0, bench::seen(bench::code_of(-6.0))), s.all, s.inputs));
    const auto all = advice(s.of, s.all, s.inputs);
    REQUIRE(all.size() == 16);
    CHECK(all[0].starts_with("4 points lie on a straight line within noise and applied voltages: "));
    const auto there = reading(s.inputs, s.all, s.of, code_at(s.of, -8.0 * volt), at_calibration(s.of));
    CHECK(all[1] == what_to_improve(there).front().text);
    CHECK(all[4].starts_with(
        "Channel A, range 8 V: with a reference of 8 V in place of 5 V the largest U over the range falls from "));
    CHECK(all[5] == "By reference voltage, known to the same part of itself as now, U of one sample at calibration:");
    CHECK(all[6] == "reference             U at -8 V      U at 0 V      U at 8 V     largest U");
    const auto row = [&](const std::string& text, const std::string& reference, const std::vector<voltage>& U) {
        CHECK(text.substr(0, 17) == reference + std::string(17 - reference.size(), ' '));
        const voltage most = *std::max_element(U.begin(), U.end());
        std::size_t at = 17;
        for (const voltage& expected : {U.front(), U[3], U.back(), most}) {
            const std::string cell = text.substr(at, 14);
            at += 14;
            CHECK(cell.ends_with(" mV"));
            CHECK(1e-3 * std::stod(cell) == doctest::Approx(expected.value()).epsilon(5.1e-3).scale(0));  // three digits
        }
        CHECK(text.size() == at);
    };
    row(all[11], "5 V, as now", s.U());
    row(all[15], "8 V", solved(8.0, 4e-3).U());
    CHECK(s.inputs.find("A/8 V/step/3 V/mean") == nullptr);  // nothing is added

    s.of.checks[0].observed.seen.mean += 8.0 * code;
    s.of.checks.pop_back();
    CHECK(advice(s.of, s.all, s.inputs).front().starts_with("3 points are further from a straight line than the data sheet's"));
    s.of.checks.clear();
    CHECK(advice(s.of, s.all, s.inputs).size() == 15);
}

}  // namespace advice_test
