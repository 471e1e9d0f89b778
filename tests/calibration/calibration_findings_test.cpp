#include "calibration_cases.hpp"

#include <doctest/doctest.h>

#include <slow_build.hpp>

namespace calibration_findings_test {

using namespace calibration_cases;

TEST_CASE("each test has its share of 1 %, 1 in 10 000 at most, and slopes together 3 in 1000") {
    CHECK(alarm_of_one({2, 0}) == 1e-4);
    CHECK(alarm_of_one({14, 2}) == 1e-4);
    CHECK(alarm_of_one({9, 7, 1}) == 1e-4);
    CHECK(alarm_of_slopes_in_one({3, 0, 1}) == 0.003);
    for (const looks& all : {looks{20, 6}, looks{60, 9}, looks{120, 17}, looks{1000, 100}, looks{20, 0, 1}, looks{60, 9, 4}}) {
        CAPTURE(all.captures);
        CAPTURE(all.two_slopes);
        const double tests = static_cast<double>(tests_of_a_capture * all.captures + all.others);
        const double of_slopes = static_cast<double>(all.two_slopes) * alarm_of_slopes_in_one(all);
        CHECK(std::abs(alarm_of_one(all) * tests + of_slopes - 0.01) <= 1e-15);
    }
}

TEST_CASE("the calibrations have as many captures as they are called by") {
    CHECK(extent{}.captures() == 2);
    CHECK(of_20.captures() == 20);
    CHECK(of_60.captures() == 60);
    CHECK(of_120.captures() == 120);
}

// More of each in the long test.
TEST_CASE("faults of the stated sizes are found, and clean calibrations are not blamed" * doctest::skip(slow::build)) {
    CHECK(found(10, notice::slopes_differ, three_steps, {.slope = other_slope}) >= 9);
    CHECK(found(10, notice::not_straight, seven_points, {.point = off_the_line}) >= 9);
    CHECK(found(10, notice::crosstalk, with_crosstalk, {.crosstalk = from_channel}) >= 9);
    CHECK(found(10, notice::supply, with_supply, {.supply_zero = by_other_supply}) >= 9);
    CHECK(found(5, notice::not_warm, with_warm_up, {.warming = still_warming}, briefly) >= 4);
    CHECK(clean(20, {}).by_session <= 1);
    CHECK(clean(2, of_20).by_session <= 1);
    CHECK(clean(1, of_120).by_session == 0);
}

TEST_CASE("a session's own look takes the place of what a step's statistics said") {
    range_calibration of;
    of.channel = "A";
    of.range = "8 V";
    of.chain = bench::ten_volts().chain;
    of.result.gain = volts_per_code::from_value(5e-3);
    capture::run clean = signals::sampled({.n = 1000, .noise = 0.8}, 3).run;
    step s;
    s.evidence = {"zero.csv", "", std::string(64, '0'), 10e3 * hertz};
    s.seen = capture::summarise(clean, 0, 4095);
    of.zero = s;
    const std::string zero = "zero step, channel A, range 8 V";
    of.findings = {
        {202, zero, "by chance"}, {208, zero, "not of the samples"}, {202, "reference step, channel A, range 8 V", "of another"}};
    const std::vector<seen_capture> captures{{"zero step", s, clean}};
    add_findings(of, captures, alarm_of_a_test);
    REQUIRE(of.findings.size() == 2);
    CHECK(of.findings[0].text == "not of the samples");
    CHECK(of.findings[1].text == "of another");
}

TEST_CASE("what is judged together is judged anew: slopes by a smaller share need a larger difference") {
    const std::vector<reference> references = bench::references();
    uncertainty::input_set inputs;
    steps seen{bench::stepped("short", bench::seen(bench::code_of(0.0))),
               bench::stepped("five", bench::seen(bench::code_of(5.0))),
               bench::stepped("five", bench::seen(bench::code_of(-5.0) - 3.6))};
    seen.negative->source.reversed = true;
    range_calibration of = solve(bench::ten_volts(), seen, references, inputs);
    const auto told = [&] {
        return std::count_if(of.findings.begin(), of.findings.end(), [](const finding& f) { return f.number == 203; });
    };
    CHECK(slopes_differ(of, references, inputs, 0.01).has_value());
    CHECK_FALSE(slopes_differ(of, references, inputs, 1e-7).has_value());
    judge_together(of, references, inputs, 1e-4, 0.01);
    CHECK(told() == 1);
    judge_together(of, references, inputs, 1e-4, 0.01);
    CHECK(told() == 1);
    judge_together(of, references, inputs, 1e-4, 1e-7);
    CHECK(told() == 0);
}

TEST_CASE("a range with nothing in the outer third at an end is told so, the side without a step once") {
    const auto found = [](double reference, std::initializer_list<double> checked, bool as_found = false) {
        uncertainty::input_set inputs;
        range_calibration of = solve(bench::ten_volts(),
                                     {bench::stepped("short", bench::seen(bench::code_of(0.0))),
                                      bench::metered(reference, bench::seen(bench::code_of(reference))),
                                      {}},
                                     bench::references(), inputs);
        for (const double v : checked) {
            check_point c;
            c.applied_value = v * volt;
            c.as_found = as_found;
            of.checks.push_back(c);
        }
        const auto f = end_unseen(of);
        return f ? f->where + ": " + f->text : std::string("none");
    };
    CHECK(found(5.0, {}) ==
          "steps and check points, channel A, range 8 V: none in the outer third of the range towards 8 V, where the line is "
          "extrapolated and nothing shows whether it holds; add a check point near that end");
    CHECK(found(5.4, {}) == "none");  // the other side has no step: 210 tells of it
    CHECK(found(5.0, {5.4}) == "none");
    CHECK(found(5.0, {5.4}, true) != "none");
}

}  // namespace calibration_findings_test
