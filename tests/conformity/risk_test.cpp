#include "../slow_build.hpp"

#include <plumbline/conformity/risk.hpp>

#include <doctest/doctest.h>
#include <rapidcheck.h>
#include <array>
#include <cmath>
#include <plumbline/conformity/acceptance.hpp>
#include <plumbline/error.hpp>
#include <random>
#include <string>

namespace risk_test {

using namespace plumbline;
using namespace plumbline::conformity;

namespace {

std::string message(const interval<double>& accepted, const knowledge<double>& prior, double u_m) {
    try {
        (void)risks_of_rule(tolerance<double>::within(1.0), accepted, prior, u_m, "V");
    } catch (const bad_input& e) {
        return e.what();
    }
    return "no exception";
}

double apart(double found, double expected) { return std::abs(found - expected) / expected; }

}  // namespace

TEST_CASE("specific risks are the two sides of the conformance probability") {
    const auto limits = tolerance<voltage>::between(14.3 * volt, 14.5 * volt);
    const auto on_limit = risks_of_result(limits, 14.5 * volt, 0.01 * volt);
    CHECK(std::abs(on_limit.consumers - 0.5) <= 1e-12);
    CHECK(std::abs(on_limit.producers - 0.5) <= 1e-12);
    const auto inside = risks_of_result(limits, 14.4 * volt, 0.01 * volt);
    CHECK(std::abs(inside.consumers / std::erfc(10.0 / std::sqrt(2.0)) - 1.0) <= 1e-12);
    CHECK(inside.producers == 1.0);
}

TEST_CASE("no accepted result has a larger specific risk than the acceptance limits have") {
    const auto limits = tolerance<double>::within(1.0);
    for (const double r : {0.0, 0.5, 0.83, 1.0, 1.5}) {
        const double U = 0.25;
        const auto accepted = acceptance_limits(decision_rule<double>::guarded(r), limits, U);
        const double at_limit = risks_of_result(limits, accepted.upper, U / 2.0).consumers;
        CHECK(apart(at_limit, largest_risks(r).consumers) <= 1e-6);  // the other limit is far away
        for (int i = 0; i <= 100; ++i) {
            const double y = accepted.lower + 0.01 * i * (accepted.upper - accepted.lower);
            CHECK(risks_of_result(limits, y, U / 2.0).consumers <= at_limit * (1.0 + 1e-12));
        }
        const double just_rejected = risks_of_result(limits, std::nextafter(accepted.upper, 2.0), U / 2.0).producers;
        CHECK(apart(just_rejected, largest_risks(r).producers) <= 1e-6);
    }
}

TEST_CASE("global risks agree with quadrature in 40 digits, however small and on whatever scales") {
    struct row {
        double TL, TU, AL, AU, y0, u0, u_m, R_C, R_P;
    };
    // Gauss-Legendre quadrature by mpmath in pieces, each doubled until 40 digits stood; inputs are exact in binary
    for (const row& r : {row{-1, 1, -0.75, 0.75, 0, 0.0625, 0.125, 2.7055892710294617e-59, 8.0251112669275817e-8},
                         row{-1, 1, -0.75, 0.75, 0.25, 0.25, 0.125, 1.2193692000105834e-5, 0.035654453744516792},
                         row{-1, 2, -0.75, 1.5, 0.5, 0.25, 0.0625, 8.1623717561849174e-15, 5.2719093183644765e-5},
                         row{-no_limit, 1, -no_limit, 0.75, 0, 0.5, 0.125, 9.7307387349374198e-5, 0.050152223137603669},
                         row{-1, 1, -0.5, 0.5, 0.25, 1024, 0.125, 6.9593363610586045e-10, 0.00038959264956313931},
                         row{-1, 1, -0.5, 0.5, 0, 0.25, 4, 6.0857186393120944e-6, 0.90065901221210486}}) {
        CAPTURE(r.R_C);
        const auto found = risks_of_rule(tolerance<double>({r.TL, r.TU}), {r.AL, r.AU}, {r.y0, r.u0}, r.u_m);
        CHECK(apart(found.consumers, r.R_C) <= 1e-13);
        CHECK(apart(found.producers, r.R_P) <= 1e-13);
    }
    // 1e-73344: not a double
    const auto tiny = risks_of_rule(tolerance<double>::within(1.0), {-0.9375, 0.9375}, {0.25, 0.5}, 0x1p-13);
    CHECK(tiny.consumers == 0.0);
    CHECK(apart(tiny.producers, 0.020323338887149816) <= 1e-13);
}

TEST_CASE("a perfect measurement decides rightly, a useless one by chance") {
    const auto limits = tolerance<voltage>::within(0.1 * volt);
    const interval<voltage> accepted{-0.1 * volt, 0.1 * volt};
    const knowledge<voltage> prior{0.02 * volt, 0.05 * volt};
    const auto perfect = risks_of_rule(limits, accepted, prior, 1e-9 * volt);
    // both errors happen within about u_m of a limit: density there times u_m / sqrt(2 pi), summed over the limits
    const double density = (std::exp(-0.5 * 1.6 * 1.6) + std::exp(-0.5 * 2.4 * 2.4)) / 0.05 / std::sqrt(2.0 * std::acos(-1.0));
    CHECK(apart(perfect.consumers, density * 1e-9 / std::sqrt(2.0 * std::acos(-1.0))) <= 1e-6);
    CHECK(apart(perfect.producers, density * 1e-9 / std::sqrt(2.0 * std::acos(-1.0))) <= 1e-6);
    CHECK(std::abs(perfect.accepted - perfect.conforming) <= 1e-12);

    const auto useless = risks_of_rule(limits, accepted, prior, 1e6 * volt);
    CHECK(useless.accepted < 1e-7);
    CHECK(std::abs(useless.producers - useless.conforming) <= 1e-7);
    CHECK(apart(useless.false_part_of_accepted(), 1.0 - useless.conforming) <= 1e-6);
}

TEST_CASE("global risks are symmetric, free of unit and origin, add up, and trade places as the guard band grows") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("properties", [] {
        const double lower = *rc::gen::inRange(-100, 0);
        const double upper = *rc::gen::inRange(50, 100);
        const knowledge<double> prior{1.0 * *rc::gen::inRange(-50, 100), 1.0 * *rc::gen::inRange(1, 100)};
        const double u_m = *rc::gen::inRange(1, 100);
        const double w = *rc::gen::inRange(-20, 20);
        const double scale = *rc::gen::element(0x1p-40, 0x1p-10, 0x1p30);  // powers of two: exact
        const double shift = *rc::gen::inRange(-100, 100);
        const auto limits = tolerance<double>::between(lower, upper);
        const auto risks = risks_of_rule(limits, {lower + w, upper - w}, prior, u_m);
        const auto same = [&](const global_risks& other) {
            return std::abs(other.consumers - risks.consumers) <= 1e-12 * risks.consumers &&
                   std::abs(other.producers - risks.producers) <= 1e-12 * risks.producers &&
                   std::abs(other.conforming - risks.conforming) <= 1e-13 && std::abs(other.accepted - risks.accepted) <= 1e-13;
        };
        RC_ASSERT(same(
            risks_of_rule(tolerance<double>::between(-upper, -lower), {w - upper, -lower - w}, {-prior.estimate, prior.u}, u_m)));
        RC_ASSERT(same(risks_of_rule(tolerance<double>::between(lower * scale, upper * scale),
                                     {(lower + w) * scale, (upper - w) * scale}, {prior.estimate * scale, prior.u * scale},
                                     u_m * scale)));
        RC_ASSERT(same(risks_of_rule(tolerance<double>::between(lower + shift, upper + shift),
                                     {lower + w + shift, upper - w + shift}, {prior.estimate + shift, prior.u}, u_m)));
        RC_ASSERT(std::abs(risks.conforming + risks.consumers - risks.producers - risks.accepted) <= 1e-14);
        const auto wider = risks_of_rule(limits, {lower + w + 1.0, upper - w - 1.0}, prior, u_m);
        // far out in a tail the two differ by less than the quadrature is good for
        RC_ASSERT(wider.consumers <= risks.consumers * (1.0 + 1e-12));
        RC_ASSERT(wider.producers >= risks.producers * (1.0 - 1e-12));
    }));
}

namespace {

constexpr int trials = 1'000'000;

/// Four standard deviations of a count: exceeded by chance once in 16 000.
void check_count(int found, double probability) {
    const double expected = trials * probability;
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(std::abs(found - expected) <= 4.0 * std::sqrt(expected * (1.0 - probability)));
}

struct job {
    tolerance<voltage> limits;
    decision_rule<voltage> rule;
    knowledge<voltage> prior;
    voltage u_m;
    unsigned seed;
};

// Invented: charge thresholds of a 12 V battery, the trim of a 1 V/octave control voltage, gate levels.
const std::array<job, 4> jobs{job{tolerance<voltage>::between(14.3 * volt, 14.5 * volt),
                                  decision_rule<voltage>::guarded(),
                                  {14.42 * volt, 0.06 * volt},
                                  0.02 * volt,
                                  1},
                              job{tolerance<voltage>::within(5.0 / 1200.0 * volt),
                                  decision_rule<voltage>::simple(),
                                  {0.0 * volt, 0.003 * volt},
                                  0.001 * volt,
                                  2},
                              job{tolerance<voltage>::at_least(3.5 * volt),
                                  decision_rule<voltage>::four_words(0.5),
                                  {3.8 * volt, 0.3 * volt},
                                  0.1 * volt,
                                  3},
                              job{tolerance<voltage>::within(5.0 / 1200.0 * volt),
                                  decision_rule<voltage>::guarded(-1.0),
                                  {0.001 * volt, 0.005 * volt},
                                  0.0005 * volt,
                                  4}};

}  // namespace

TEST_CASE("global and specific risks are those of a million simulated decisions" * doctest::skip(slow::build)) {
    for (const job& j : jobs) {
        CAPTURE(j.seed);
        const voltage U = 2.0 * j.u_m;
        std::mt19937_64 generator(j.seed);
        std::normal_distribution<double> standard;
        int conforming = 0;
        int accepted = 0;
        int false_accepts = 0;
        int false_rejects = 0;
        double specific = 0.0;  // sums over the accepted of the risk, and of its variance
        double specific_variance = 0.0;
        for (int i = 0; i < trials; ++i) {
            const voltage truth = j.prior.estimate + standard(generator) * j.prior.u;
            const voltage reading = truth + standard(generator) * j.u_m;
            const bool conforms = j.limits.contains(truth);
            const bool passes = judge(j.rule, j.limits, reading, U) == verdict::pass;
            conforming += conforms;
            accepted += passes;
            false_accepts += passes && !conforms;
            false_rejects += !passes && conforms;
            if (passes) {
                const auto known = posterior(j.prior, reading, j.u_m);
                const double risk = risks_of_result(j.limits, known.estimate, known.u).consumers;
                specific += risk;
                specific_variance += risk * (1.0 - risk);
            }
        }
        const auto found = risks_of_rule(j.limits, acceptance_limits(j.rule, j.limits, U), j.prior, j.u_m);
        check_count(conforming, found.conforming);
        check_count(accepted, found.accepted);
        check_count(false_accepts, found.consumers);
        check_count(false_rejects, found.producers);
        CHECK(false_accepts > 100);  // enough to tell
        // given the readings, each accepted one is false with its own specific risk
        CAPTURE(specific);
        CAPTURE(false_accepts);
        CHECK(std::abs(false_accepts - specific) <= 4.0 * std::sqrt(specific_variance));
    }
}

TEST_CASE("the specific risk of one reading is that of a million true values it may stand for" * doctest::skip(slow::build)) {
    const auto limits = tolerance<voltage>::between(14.3 * volt, 14.5 * volt);
    for (const double y : {14.31, 14.4, 14.46, 14.52}) {
        CAPTURE(y);
        std::mt19937_64 generator(5);
        std::normal_distribution<double> standard(y, 0.05);
        int outside = 0;
        for (int i = 0; i < trials; ++i) outside += !limits.contains(standard(generator) * volt);
        const auto found = risks_of_result(limits, y * volt, 0.05 * volt);
        check_count(outside, found.consumers);
        check_count(trials - outside, found.producers);
    }
}

TEST_CASE("priors, limits and uncertainties that are no figures are refused with what to do") {
    const double nan = std::nan("");
    const std::string finite = ", expected a finite figure; look at where it was computed from";
    const std::string positive = ", expected more than 0; look at where it was computed from";
    CHECK(message({-1.0, 1.0}, {nan, 1.0}, 1.0) == "global risks: the prior estimate is nan V" + finite);
    CHECK(message({-1.0, 1.0}, {0.0, 0.0}, 1.0) == "global risks: the prior standard uncertainty is 0 V" + positive);
    CHECK(message({-1.0, 1.0}, {0.0, 1.0}, no_limit) == "global risks: the standard uncertainty of a reading is inf V" + finite);
    const std::string order = ", expected a lower limit not above the upper one; take them from acceptance_limits";
    CHECK(message({1.0, -1.0}, {0.0, 1.0}, 1.0) == "global risks: acceptance limits from 1 V to -1 V" + order);
    CHECK(message({nan, 1.0}, {0.0, 1.0}, 1.0) == "global risks: acceptance limits from nan V to 1 V" + order);
    CHECK_THROWS_AS((void)largest_risks(nan, 2.0), bad_input);
    CHECK_THROWS_AS((void)largest_risks(1.0, 0.0), bad_input);
}

}  // namespace risk_test
