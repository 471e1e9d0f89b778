#include "../message.hpp"

#include <plumbline/conformity/decision.hpp>

#include <doctest/doctest.h>
#include <rapidcheck.h>
#include <array>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>

namespace conformity_decision_test {

using namespace plumbline;
using namespace plumbline::conformity;
using refused::message;

namespace {

using rule = decision_rule<voltage>;

std::string judged(const rule& how, const tolerance<voltage>& limits, double y, double U) {
    return std::string(word(judge(how, limits, y * volt, U * volt)));
}

const auto one_volt = tolerance<voltage>::between(1.0 * volt, 2.0 * volt);

template <class Rule, class Limits, class Y, class U>
constexpr bool can_judge = requires(Rule r, Limits l, Y y, U u) {
    judge(r, l, y, u);
};

}  // namespace

TEST_CASE("only like units can be judged by each other") {
    static_assert(can_judge<rule, tolerance<voltage>, voltage, voltage>);
    static_assert(!can_judge<rule, tolerance<voltage>, codes, voltage>);
    static_assert(!can_judge<rule, tolerance<voltage>, double, voltage>);
    static_assert(!can_judge<rule, tolerance<voltage>, voltage, double>);
    static_assert(!can_judge<rule, tolerance<codes>, voltage, voltage>);
    static_assert(!can_judge<decision_rule<codes>, tolerance<voltage>, voltage, voltage>);
    CHECK(judged(rule::simple(), one_volt, 1.5, 0.1) == "pass");
}

TEST_CASE("simple acceptance passes up to the limit itself, whatever U is") {
    for (const double U : {0.0, 0.1, 100.0, std::nan("")}) {
        CAPTURE(U);
        CHECK(judged(rule::simple(), one_volt, 1.0, U) == "pass");
        CHECK(judged(rule::simple(), one_volt, 2.0, U) == "pass");
        CHECK(judged(rule::simple(), one_volt, std::nextafter(2.0, 3.0), U) == "fail");
        CHECK(judged(rule::simple(), one_volt, std::nextafter(1.0, 0.0), U) == "fail");
    }
}

TEST_CASE("a guarded rule with two words passes inside by the guard band and fails everything else") {
    for (const rule& how : {rule::guarded(), rule::guarded(0.5), rule::guarded_by(0.125 * volt)}) {
        const double U = how.times_U == 1.0 ? 0.125 : 0.25;  // w = 0.125 V in each
        CHECK(guard_band(how, U * volt).value() == 0.125);
        CHECK(judged(how, one_volt, 1.125, U) == "pass");
        CHECK(judged(how, one_volt, 1.875, U) == "pass");
        CHECK(judged(how, one_volt, std::nextafter(1.125, 1.0), U) == "fail");
        CHECK(judged(how, one_volt, std::nextafter(1.875, 2.0), U) == "fail");
        CHECK(judged(how, one_volt, 1.9, U) == "fail");
        CHECK(judged(how, one_volt, 5.0, U) == "fail");
    }
}

TEST_CASE("four words follow ILAC-G8:09/2019, 4.2 at each of two unequal limits") {
    const auto limits = tolerance<voltage>::between(-0.5 * volt, 2.0 * volt);
    struct row {
        double y;
        const char* expected;
    };
    constexpr double step = 1e-9;
    for (const row& r : {row{-0.625 - step, "fail"}, row{-0.625, "conditional fail"}, row{-0.5 - step, "conditional fail"},
                         row{-0.5, "conditional pass"}, row{-0.375 - step, "conditional pass"}, row{-0.375, "pass"},
                         row{1.875, "pass"}, row{1.875 + step, "conditional pass"}, row{2.0, "conditional pass"},
                         row{2.0 + step, "conditional fail"}, row{2.125, "conditional fail"}, row{2.125 + step, "fail"}}) {
        CAPTURE(r.y);
        CHECK(judged(rule::four_words(), limits, r.y, 0.125) == r.expected);
        CHECK(judged(rule::four_words(0.5), limits, r.y, 0.25) == r.expected);
        CHECK(judged(rule::four_words_by(0.125 * volt), limits, r.y, 7.0) == r.expected);
    }
}

TEST_CASE("four words work with one limit") {
    const auto least = tolerance<voltage>::at_least(1.0 * volt);
    CHECK(judged(rule::four_words(), least, 1e6, 0.125) == "pass");
    CHECK(judged(rule::four_words(), least, 1.0625, 0.125) == "conditional pass");
    CHECK(judged(rule::four_words(), least, 0.9375, 0.125) == "conditional fail");
    CHECK(judged(rule::four_words(), least, -1e6, 0.125) == "fail");
}

TEST_CASE("guarded rejection fails only what is outside by more than the guard band") {
    CHECK(judged(rule::guarded(-1.0), one_volt, 2.125, 0.125) == "pass");
    CHECK(judged(rule::guarded(-1.0), one_volt, 2.126, 0.125) == "fail");
    CHECK(judged(rule::guarded(-1.0), one_volt, 0.875, 0.125) == "pass");
}

TEST_CASE("unrounded figures are judged: a result that prints as the limit may fail") {
    const auto limits = tolerance<voltage>::within(0.01 * volt);
    CHECK(judged(rule::simple(), limits, 0.0100004, 0.001) == "fail");    // prints as 0.010 V
    CHECK(judged(rule::guarded(), limits, 0.0090004, 0.001) == "fail");   // prints as 0.009 V
    CHECK(judged(rule::guarded(), limits, 0.0089996, 0.001) == "pass");   // prints as 0.009 V too
    CHECK(judged(rule::guarded(), limits, 0.0089, 0.0010996) == "pass");  // U prints as 0.0011 V
    CHECK(judged(rule::guarded(), limits, 0.0089005, 0.0011) == "fail");
}

TEST_CASE("a guard band that leaves no acceptance interval is refused, one that leaves a point is not") {
    const auto limits = tolerance<voltage>::within(0.05 * volt);
    const std::string rest =
        " at each limit of a tolerance 0.1 V wide, expected at most half of that width; no result could pass: measure with less "
        "uncertainty, widen the tolerance or choose a smaller guard band";
    CHECK(message([&] { (void)judge(rule::guarded(), limits, 0.0 * volt, 0.0625 * volt); }) ==
          "acceptance limits: a guard band of 0.0625 V" + rest);
    CHECK(message([&] { (void)judge(rule::four_words_by(0.051 * volt), limits, 9.0 * volt, 1.0 * volt); }) ==
          "acceptance limits: a guard band of 0.051 V" + rest);
    CHECK(judged(rule::guarded(), limits, 0.0, 0.05) == "pass");
    CHECK(judged(rule::guarded(), tolerance<voltage>::at_most(0.05 * volt), -99.0, 9.0) ==
          "pass");  // one limit always leaves some
}

TEST_CASE("results, uncertainties and rules that are no figures are refused with what to do") {
    const auto of = [](const rule& how, double y, double U) {
        return message([&] { (void)judge(how, one_volt, y * volt, U * volt); });
    };
    const double nan = std::nan("");
    const std::string finite = ", expected a finite figure; look at where it was computed from";
    const std::string positive = ", expected more than 0; look at where it was computed from";
    CHECK(of(rule::simple(), nan, 0.1) == "decision rule: the result is nan V" + finite);
    CHECK(of(rule::simple(), -no_limit, 0.1) == "decision rule: the result is -inf V" + finite);
    CHECK(of(rule::guarded(), 1.5, nan) == "decision rule: the expanded uncertainty U is nan V" + finite);
    CHECK(of(rule::guarded(), 1.5, no_limit) == "decision rule: the expanded uncertainty U is inf V" + finite);
    CHECK(of(rule::guarded(), 1.5, 0.0) == "decision rule: the expanded uncertainty U is 0 V" + positive);
    CHECK(of(rule::guarded(), 1.5, -0.1) == "decision rule: the expanded uncertainty U is -0.1 V" + positive);
    CHECK(of(rule::guarded(nan), 1.5, 0.1) == "decision rule: the multiple of U is nan" + finite);
    CHECK(of(rule::guarded_by(no_limit * volt), 1.5, 0.1) == "decision rule: the absolute guard band is inf V" + finite);
    const std::string room =
        ", expected a guard band above 0; take two words, or a guard band that leaves room for the conditional ones";
    CHECK(of(rule::four_words(0.0), 1.5, 0.1) == "decision rule: four words with the guard band 0 V" + room);
    CHECK(of(rule::four_words(-1.0), 1.5, 0.1) == "decision rule: four words with the guard band -0.1 V" + room);
    CHECK(message([] { (void)statement(rule::four_words(-1.0)); }) ==
          "decision rule: four words with the guard band -1 U" + room);
    CHECK(message([] { (void)statement(rule::guarded(std::nan(""))); }) == "decision rule: the multiple of U is nan" + finite);
}

TEST_CASE("a rule states itself with its guard band, document and clause") {
    CHECK(
        statement(rule::simple()) ==
        "simple acceptance: pass on or inside the limits, else fail; right at a limit the risk of a wrong verdict is up to 50 % "
        "(JCGM 106:2012, 8.2)");
    CHECK(statement(rule::guarded()) ==
          "guarded acceptance, guard band w = U: pass inside the limits by w or more, else fail (JCGM 106:2012, 8.3.2)");
    CHECK(statement(rule::guarded(0.83)) ==
          "guarded acceptance, guard band w = 0.83 U: pass inside the limits by w or more, else fail (JCGM 106:2012, 8.3.2)");
    CHECK(statement(rule{0.5, 0.01 * volt, wording::two}) ==
          "guarded acceptance, guard band w = 0.5 U + 0.01 V: pass inside the limits by w or more, else fail (JCGM 106:2012, "
          "8.3.2)");
    CHECK(statement(rule::guarded(-1.0)) ==
          "guarded rejection, w = U: pass unless outside the limits by more than w, else fail (JCGM 106:2012, 8.3.3)");
    CHECK(statement(rule::four_words_by(0.004 * volt)) ==
          "guarded, four words, guard band w = 0.004 V: pass inside the limits by w or more, conditional pass inside by less, "
          "conditional "
          "fail outside by w or less, fail outside by more (ILAC-G8:09/2019, 4.2)");
    CHECK(statement(decision_rule<ratio>::guarded_by(0.01 * one)) ==
          "guarded acceptance, guard band w = 0.01: pass inside the limits by w or more, else fail (JCGM 106:2012, 8.3.2)");
}

TEST_CASE("a verdict does not depend on the sign or the unit, and a wider guard band never makes it better") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("mirror, scale, order", [] {
        const double lower = *rc::gen::inRange(-1000, 0);
        const double upper = *rc::gen::inRange(200, 1000);
        const double y = *rc::gen::inRange(-1300, 1300);
        const double U = *rc::gen::inRange(1, 50);
        const double r = *rc::gen::element(0.25, 0.5, 1.0, 2.0);
        const auto limits = tolerance<double>::between(lower, upper);
        const auto how = *rc::gen::element(decision_rule<double>::guarded(r), decision_rule<double>::four_words(r));
        const verdict v = judge(how, limits, y, U);
        RC_ASSERT(judge(how, tolerance<double>::between(-upper, -lower), -y, U) == v);
        const double scale = *rc::gen::element(0x1p-30, 0x1p-3, 0x1p20);  // powers of two: exact
        RC_ASSERT(judge(how, tolerance<double>::between(lower * scale, upper * scale), y * scale, U * scale) == v);
        decision_rule<double> wider = how;
        wider.times_U *= 2.0;
        const bool passes = judge(wider, limits, y, U) == verdict::pass;
        RC_ASSERT(!passes || v == verdict::pass);
        // four words: the conditional ones split what two words say at w = 0
        if (how.words == wording::four) {
            const bool inside = judge(decision_rule<double>::simple(), limits, y, U) == verdict::pass;
            RC_ASSERT(inside == (v == verdict::pass || v == verdict::conditional_pass));
        }
    }));
}

}  // namespace conformity_decision_test
