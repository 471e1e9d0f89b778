#include "../message.hpp"

#include <plumbline/conformity/acceptance.hpp>

#include <doctest/doctest.h>
#include <rapidcheck.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>

namespace acceptance_test {

using namespace plumbline;
using namespace plumbline::conformity;
using refused::message;

namespace {

using rule = decision_rule<voltage>;

bool passes(const decision_rule<double>& how, const tolerance<double>& limits, double y, double U) {
    return judge(how, limits, y, U) == verdict::pass;
}

}  // namespace

TEST_CASE("a job of 1.05 V within 0.05 V is told what to accept") {
    const auto limits = tolerance<voltage>::between(1.0 * volt, 1.1 * volt);
    const auto accepted = acceptance_limits(rule::guarded(), limits, 0.004 * volt);
    CHECK(acceptance_sentence(accepted, 3) == "accept between 1.004 V and 1.096 V");
    CHECK(acceptance_sentence(acceptance_limits(rule::guarded(0.5), limits, 0.004 * volt), 3) ==
          "accept between 1.002 V and 1.098 V");
    CHECK(acceptance_sentence(acceptance_limits(rule::simple(), limits, 0.004 * volt), 2) == "accept between 1.00 V and 1.10 V");
    CHECK(acceptance_sentence(acceptance_limits(rule::guarded(-1.0), limits, 0.004 * volt), 3) ==
          "accept between 0.996 V and 1.104 V");
}

TEST_CASE("with one limit there is one acceptance limit") {
    const auto least = acceptance_limits(rule::guarded(), tolerance<voltage>::at_least(3.5 * volt), 0.1 * volt);
    CHECK(least.upper.value() == no_limit);
    CHECK(acceptance_sentence(least, 1) == "accept 3.6 V or more");
    const auto most = acceptance_limits(rule::four_words(), tolerance<voltage>::at_most(3.5 * volt), 0.1 * volt);
    CHECK(most.lower.value() == -no_limit);
    CHECK(acceptance_sentence(most, 1) == "accept 3.4 V or less");
}

TEST_CASE("printed limits are rounded inwards and never show a negative zero") {
    const auto printed = [](double lower, double upper, int decimals) {
        return acceptance_sentence(interval<voltage>{lower * volt, upper * volt}, decimals);
    };
    CHECK(printed(1.0041, 1.0959, 3) == "accept between 1.005 V and 1.095 V");
    CHECK(printed(-1.0959, -1.0041, 3) == "accept between -1.095 V and -1.005 V");
    CHECK(printed(-0.0004, 0.0004, 3) == "accept between 0.000 V and 0.000 V");
    CHECK(printed(0.3, 0.1 * 3.0, 1) == "accept between 0.3 V and 0.3 V");
    CHECK(printed(0.7 + 0.1, 0.9, 1) == "accept between 0.8 V and 0.9 V");  // 0.7 + 0.1 is less than 0.8 in binary
    CHECK(printed(13.7, 14.4, 0) == "accept between 14 V and 14 V");
    CHECK(acceptance_sentence(interval<ratio>{0.99 * one, 1.01 * one}, 2) == "accept between 0.99 and 1.01");
    CHECK(
        message([&] { (void)printed(1.0041, 1.0049, 3); }) ==
        "acceptance sentence: nothing between 1.0041 V and 1.0049 V at 3 decimals, expected a printed figure within the limits; "
        "print more decimals");
    CHECK(message([&] { (void)printed(1.0, 2.0, 16); }) ==
          "acceptance sentence: 16 decimals, expected 0 to 15; choose as many as the display shows");
    CHECK(message([&] { (void)printed(1.0, 2.0, -1); }) ==
          "acceptance sentence: -1 decimals, expected 0 to 15; choose as many as the display shows");
    const std::string rest =
        ", expected a lower limit not above the upper one, at least one of them finite; take them from acceptance_limits";
    CHECK(message([&] { (void)printed(2.0, 1.0, 1); }) == "acceptance sentence: from 2 V to 1 V" + rest);
    CHECK(message([&] { (void)printed(-no_limit, no_limit, 1); }) == "acceptance sentence: from -inf V to inf V" + rest);
    CHECK(message([&] { (void)printed(std::nan(""), 1.0, 1); }) == "acceptance sentence: from nan V to 1 V" + rest);
}

TEST_CASE("an uncertainty that grows with the reading gives the limits of the closed form") {
    // U = a + b |y|: AL = (TL + a)/(1 - b) and AU = (TU - a)/(1 + b) for positive limits
    const double a = 0.002;
    const double b = 0.005;
    const auto U = [&](const voltage& y) { return a * volt + b * (y < 0.0 * volt ? -y : y); };
    const auto limits = tolerance<voltage>::between(14.0 * volt, 14.8 * volt);
    const auto found = acceptance_limits(rule::guarded(), limits, U);
    CHECK(std::abs(found.lower.value() - (14.0 + a) / (1.0 - b)) <= 1e-14 * 14.0);
    CHECK(std::abs(found.upper.value() - (14.8 - a) / (1.0 + b)) <= 1e-14 * 14.0);
    // and of negative ones, for either sign of the guard band, and for one limit alone
    const auto negative = tolerance<voltage>::between(-14.8 * volt, -14.0 * volt);
    const auto mirrored = acceptance_limits(rule::guarded(), negative, U);
    CHECK(mirrored.lower.value() == -found.upper.value());
    CHECK(mirrored.upper.value() == -found.lower.value());
    const auto wide = acceptance_limits(rule::guarded(-1.0), limits, U);
    CHECK(std::abs(wide.lower.value() - (14.0 - a) / (1.0 + b)) <= 1e-14 * 14.0);
    CHECK(std::abs(wide.upper.value() - (14.8 + a) / (1.0 - b)) <= 1e-14 * 15.0);
    CHECK(acceptance_limits(rule::guarded(), tolerance<voltage>::at_least(14.0 * volt), U).lower.value() == found.lower.value());
    CHECK(acceptance_limits(rule::guarded(), tolerance<voltage>::at_most(14.8 * volt), U).upper.value() == found.upper.value());
    CHECK(std::abs(acceptance_limits(rule::guarded(), tolerance<voltage>::at_least(0.0 * volt), U).lower.value() -
                   a / (1.0 - b)) <= 1e-16);
}

TEST_CASE("each limit takes the uncertainty on its own side") {
    // U = 0.01 V + 0.02 (y - 14 V): AL = TL + 0.01/0.98 at TL = 14 V, AU = 14 V + (TU - 14 V - 0.01 V)/1.02
    const auto U = [](const voltage& y) { return 0.01 * volt + 0.02 * (y - 14.0 * volt); };
    const auto found = acceptance_limits(rule::guarded(), tolerance<voltage>::between(14.0 * volt, 14.8 * volt), U);
    CHECK(std::abs(found.lower.value() - (14.0 + 0.01 / 0.98)) <= 1e-13);
    CHECK(std::abs(found.upper.value() - (14.0 + 0.79 / 1.02)) <= 1e-13);
}

TEST_CASE("a guard band that grows too fast or leaves nothing is refused") {
    const auto steep = [](const voltage& y) { return 0.1 * volt + 1.5 * y; };
    CHECK(message([&] { (void)acceptance_limits(rule::guarded(), tolerance<voltage>::at_least(1.0 * volt), steep); }) ==
          "acceptance limits: no acceptance limit beside the tolerance limit 1 V, expected a guard band that grows by less than "
          "the "
          "reading does; look at the uncertainty over the readings");
    const auto large = [](const voltage& y) { return 0.25 * volt + 0.25 * y; };
    const std::string rest =
        " at each limit of a tolerance 0.5 V wide, expected at most half of that width; no result could pass: measure with less "
        "uncertainty, widen the tolerance or choose a smaller guard band";
    CHECK(message([&] {
              (void)acceptance_limits(rule::guarded(), tolerance<voltage>::between(1.0 * volt, 1.5 * volt), large);
          }) == "acceptance limits: a guard band of 0.625 V" + rest);
    const auto middling = [](const voltage&) { return 0.375 * volt; };
    CHECK(message([&] {
              (void)acceptance_limits(rule::guarded(), tolerance<voltage>::between(1.0 * volt, 1.5 * volt), middling);
          }) == "acceptance limits: guard bands that end at 1.375 V and 1.125 V" + rest);
    const auto unknown = [](const voltage& y) { return std::nan("") * y; };
    CHECK(message([&] { (void)acceptance_limits(rule::guarded(), tolerance<voltage>::at_least(1.0 * volt), unknown); }) ==
          "decision rule: the expanded uncertainty U is nan V, expected a finite figure; look at where it was computed from");
}

TEST_CASE("readings on the acceptance limits pass, the next doubles outside do not") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("limits are sharp", [] {
        const double lower = 0.001 * *rc::gen::inRange(-20000, 20000);
        const double width = 0.001 * *rc::gen::inRange(100, 5000);
        const auto limits = tolerance<double>::between(lower, lower + width);
        const double a = 1e-4 * width * *rc::gen::inRange(1, 3000);
        const double b = 1e-6 * *rc::gen::inRange(0, 1000);
        const auto how = decision_rule<double>::guarded(*rc::gen::element(-1.0, 0.5, 1.0));
        const auto U = [&](double y) { return a + b * std::abs(y); };
        const auto constant = acceptance_limits(how, limits, a);
        RC_ASSERT(passes(how, limits, constant.lower, a));
        RC_ASSERT(passes(how, limits, constant.upper, a));
        RC_ASSERT(!passes(how, limits, std::nextafter(constant.lower, -no_limit), a));
        RC_ASSERT(!passes(how, limits, std::nextafter(constant.upper, no_limit), a));
        const auto found = acceptance_limits(how, limits, U);
        RC_ASSERT(passes(how, limits, found.lower, U(found.lower)));
        RC_ASSERT(passes(how, limits, found.upper, U(found.upper)));
        // with rounding in U the boundary is a few doubles wide
        const double outside = 1e-14 * (std::abs(lower) + width);
        RC_ASSERT(!passes(how, limits, found.lower - outside, U(found.lower - outside)));
        RC_ASSERT(!passes(how, limits, found.upper + outside, U(found.upper + outside)));
    }));
}

}  // namespace acceptance_test
