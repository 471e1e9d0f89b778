#include <doctest/doctest.h>

#include <cmath>
#include <message.hpp>
#include <plumbline/capture/position.hpp>
#include <simulation/random.hpp>
#include <slow_build.hpp>
#include <vector>

namespace position_test {

using namespace plumbline;
using capture::position;
using capture::position_of;
using refused::message;
using simulation::generator;

namespace {

std::vector<std::uint64_t> sampled(double mu, double sigma, int n, std::uint64_t seed) {
    generator random(seed);
    std::vector<std::uint64_t> counts(64);
    for (int k = 0; k < n; ++k) ++counts[static_cast<std::size_t>(std::lround(mu + sigma * random.normal()))];
    return counts;
}

struct held {
    int mu = 0;
    int sigma = 0;
    double half_width = 0.0;  ///< mean
};

/// Positions spread evenly over a code.
held held_of(int captures, double sigma, int n) {
    held h;
    for (int i = 0; i < captures; ++i) {
        const double mu = 30.0 + (i + 0.5) / captures;
        const position p = position_of(sampled(mu, sigma, n, 7000 + static_cast<std::uint64_t>(i)), 0, n);
        h.mu += p.low.value() <= mu && mu <= p.high.value() ? 1 : 0;
        h.sigma += p.sigma_low.value() <= sigma && sigma <= p.sigma_high.value() ? 1 : 0;
        h.half_width += 0.5 * (p.high - p.low).value() / captures;
    }
    return h;
}

}  // namespace

TEST_CASE("samples on one code leave all of it, and noise known from above alone") {
    std::vector<std::uint64_t> counts(8);
    counts[5] = 1'000'000;
    const position p = position_of(counts, 100, 1e6);
    CHECK(std::abs(p.low.value() - 104.5) <= 1e-3);
    CHECK(std::abs(p.high.value() - 105.5) <= 1e-3);
    CHECK(std::abs(p.estimate.value() - 105.0) <= 1e-3);
    CHECK(std::abs(p.u.value() - 1.0 / std::sqrt(12.0)) <= 1e-3);
    CHECK_FALSE(p.sigma_known);
    CHECK(p.sigma_low == 0.0 * code);
    CHECK(p.sigma_high.value() > 0.05);
    CHECK(p.sigma_high.value() < 0.12);  // 5 sigma on either side fit into the code
    CHECK(statement(p).starts_with("the signal stands at code 105.000, between 104.50"));
    CHECK(statement(p).find("; noise before the quantiser cannot be known from these codes, only that it is below 0.") !=
          std::string::npos);
}

TEST_CASE("two codes narrow the position to the side of the edge that has more samples") {
    std::vector<std::uint64_t> counts(8);
    counts[3] = 700;
    counts[4] = 300;
    const position p = position_of(counts, 0, 1000.0);
    CHECK(p.high.value() <= 3.5);
    CHECK(p.high.value() >= 3.49);
    CHECK(p.low.value() >= 3.3);
    CHECK_FALSE(p.sigma_known);
    // no sample on code 2: at the largest sigma some 2 of 1000 are expected there, z = 2.88 below mu = 3.5 - 0.524 sigma
    CHECK(std::abs(p.sigma_high.value() - 1.0 / (2.88 + 0.524)) <= 0.01);
    CHECK(std::abs(p.u.value() - 0.5 * (p.high - p.low).value() / std::sqrt(3.0)) <= 1e-12);
}

TEST_CASE("three codes or more give position and noise, many codes Student's interval") {
    const position some = position_of(sampled(30.3, 0.6, 2000, 5), 0, 2000.0);
    CHECK(some.sigma_known);
    CHECK(std::abs(some.sigma.value() - 0.6) <= 0.04);
    CHECK(std::abs(some.estimate.value() - 30.3) <= 0.05);
    CHECK(statement(some).find("; noise before the quantiser is 0.") != std::string::npos);

    // 10 samples, mean 30, s^2 = 100 / 9; t(0.97725, 9) = 2.320 (common tables' 2.32, from memory)
    std::vector<std::uint64_t> counts(64);
    counts[25] = 2;
    counts[35] = 2;
    counts[30] = 6;
    const position many = position_of(counts, 0, 10.0);
    CHECK(std::abs(many.estimate.value() - 30.0) <= 1e-12);
    CHECK(std::abs((many.high - many.low).value() / 2.0 - 2.320 * std::sqrt(100.0 / 90.0)) <= 0.001);
    CHECK(std::abs(many.sigma.value() - std::sqrt(100.0 / 9.0 - 1.0 / 12.0)) <= 1e-12);
}

TEST_CASE("likelihood and Student's interval meet where the one gives way to the other") {
    for (const double sigma : {0.80, 0.88}) {
        const auto counts = sampled(30.4, sigma, 400, 77);
        double mean = 0.0;
        double squares = 0.0;
        for (int c = 20; c < 45; ++c) mean += c * static_cast<double>(counts[static_cast<std::size_t>(c)]) / 400.0;
        for (int c = 20; c < 45; ++c)
            squares += (c - mean) * (c - mean) * static_cast<double>(counts[static_cast<std::size_t>(c)]);
        REQUIRE(squares / 399.0 < 1.0);
        const position p = position_of(counts, 0, 400.0);
        CHECK(std::abs(p.estimate.value() - mean) <= 1e-3);
        CHECK(std::abs((p.high - p.low).value() / 2.0 / (2.006 * std::sqrt(squares / 399.0 / 400.0)) - 1.0) <= 0.01);
        CHECK(std::abs(p.sigma.value() - std::sqrt(squares / 399.0 - 1.0 / 12.0)) <= 0.005);
    }
}

TEST_CASE("fewer independent samples widen the intervals") {
    const auto counts = sampled(30.3, 0.4, 1000, 9);
    const position all = position_of(counts, 0, 1000.0);
    const position few = position_of(counts, 0, 50.0);
    CHECK((few.high - few.low).value() > 2.5 * (all.high - all.low).value());
    CHECK(few.sigma_high > all.sigma_high);
}

TEST_CASE("the intervals hold position and noise, and are narrower than half a code wherever two codes come up" *
          doctest::skip(slow::build)) {
    constexpr int captures = 60;
    for (const double sigma : {0.0, 0.2, 0.5, 1.5}) {
        CAPTURE(sigma);
        const held h = held_of(captures, sigma, 100);
        CHECK(h.mu >= 53);  // 95.45 % less 2.6 standard deviations
        CHECK(h.sigma >= 53);
        if (sigma == 0.2) CHECK(h.half_width < 0.22);
    }
}

TEST_CASE("a calibration's position is all of the only code, the edge between two codes alike, and the mean of many") {
    using capture::seen_codes;
    const auto one = capture::position_by_codes({{{105, 4000}}, 4000.0});
    CHECK(one.estimate == 105.0 * code);
    CHECK(std::abs(one.u.value() - 1.0 / std::sqrt(12.0)) <= 1e-12);
    const auto alike = capture::position_by_codes({{{7, 500}, {8, 500}}, 1000.0});
    CHECK(std::abs(alike.estimate.value() - 7.5) <= 1e-6);
    CHECK(alike.u.value() < 0.02);
    // More on 8, and the farther beyond the edge the larger sigma is: between the edge and the middle of the code.
    const auto more = capture::position_by_codes({{{7, 100}, {8, 900}}, 1000.0});
    CHECK(more.estimate.value() > 7.6);
    CHECK(more.estimate.value() < 7.95);
    CHECK(more.u.value() > 0.05);
    CHECK(more.u.value() < 0.15);
    // One code of noise, seen on many codes: mean and s / sqrt n as for numbers that are not rounded.
    const auto many = capture::position_by_codes({{{1, 62}, {2, 242}, {3, 383}, {4, 242}, {5, 61}, {6, 10}}, 1000.0});
    CHECK(std::abs(many.estimate.value() - 3.028) <= 0.01);
    CHECK(std::abs(many.u.value() - 1.02 / std::sqrt(1000.0)) <= 0.003);
    CHECK(message([] {
              (void)capture::position_by_codes({{{7, 5}}, 5.0});
          }) ==
          "position by codes: 5 samples of which 5 are independent, expected at least 8 independent ones and not more than there "
          "are; give the few codes of a capture and its n_eff");
}

namespace {

capture::seen_codes seen_at(double mu, double sigma, int n, std::uint64_t seed) {
    capture::seen_codes seen{{}, static_cast<double>(n)};
    const std::vector<std::uint64_t> counts = sampled(mu, sigma, n, seed);
    for (std::size_t i = 0; i < counts.size(); ++i) {
        if (counts[i] > 0) seen.codes.push_back({static_cast<std::int32_t>(i), static_cast<std::size_t>(counts[i])});
    }
    return seen;
}

}  // namespace

TEST_CASE("u of a calibration's position is the rms of its error where noise is seen, and at most half a code's where it is not" *
          doctest::skip(slow::build)) {
    struct figures {
        double sigma, least, most;  ///< of u over the rms of the error
    };
    constexpr int captures = 160;
    for (const figures& f : {figures{0.0, 0.99, 1.01}, {0.1, 1.5, 2.5}, {0.25, 0.8, 1.2}, {0.5, 0.8, 1.2}}) {
        CAPTURE(f.sigma);
        double errors = 0.0;
        double squares = 0.0;
        for (int i = 0; i < captures; ++i) {
            const double mu = 30.0 + (i + 0.5) / captures;
            const auto p = capture::position_by_codes(seen_at(mu, f.sigma, 256, 9000 + static_cast<std::uint64_t>(i)));
            errors += std::pow(p.estimate.value() - mu, 2.0);
            squares += p.u.value() * p.u.value();
        }
        CHECK(std::sqrt(squares / errors) >= f.least);
        CHECK(std::sqrt(squares / errors) <= f.most);
    }
}

TEST_CASE("noise that captures have in common is found, and bounded where none of them shows it") {
    const auto quiet = capture::noise_by_codes(std::vector{seen_at(30.1, 0.0, 256, 1), seen_at(31.7, 0.0, 256, 2)});
    CHECK(quiet.sigma.value() > 0.02);
    CHECK(quiet.sigma.value() < 0.15);
    CHECK(quiet.degrees_of_freedom >= 4.0);
    const auto seen = capture::noise_by_codes(std::vector{seen_at(30.3, 0.4, 1000, 3), seen_at(31.7, 0.4, 1000, 4)});
    CHECK(std::abs(seen.sigma.value() - 0.4) <= 0.04);
    CHECK(seen.degrees_of_freedom > 200.0);
    CHECK(message([] { (void)capture::noise_by_codes({}); }) ==
          "noise by codes: no capture, expected one at least; give the captures");
}

TEST_CASE("a histogram without samples and an impossible n_eff are refused") {
    CHECK(
        message([] {
            (void)position_of({0, 0}, 0, 1.0);
        }) ==
        "position between codes: 0 samples of which 1 are independent, expected at least one sample, and from one to all of them "
        "independent; give the histogram of a capture and its n_eff");
    CHECK(message([] {
              (void)position_of({5}, 0, 6.0);
          }).starts_with("position between codes: 5 samples of which 6 are independent"));
    CHECK(message([] { (void)position_of({5}, 0, std::nan("")); }) != "no exception");
}

}  // namespace position_test
