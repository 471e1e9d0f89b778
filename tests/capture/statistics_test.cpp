#include <plumbline/capture/statistics.hpp>

#include <doctest/doctest.h>

#include "reference.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>

using namespace plumbline;
using capture::statistics;
using capture::summarise;

namespace {

constexpr std::int32_t lowest = std::numeric_limits<std::int32_t>::min();
constexpr std::int32_t highest = std::numeric_limits<std::int32_t>::max();

capture::run of(std::vector<std::int32_t> samples) { return {.codes = std::move(samples), .sample_rate = {}}; }

/// Autoregressive noise x_i = phi x_(i-1) + e_i in codes, about sigma wide; phi = 0 is white.
capture::run noise(std::mt19937_64& bits, std::size_t n, double sigma, double phi = 0.0) {
    std::normal_distribution<double> innovation(0.0, 1.0);
    double x = innovation(bits);
    std::vector<std::int32_t> samples;
    for (std::size_t i = 0; i < n; ++i) {
        samples.push_back(static_cast<std::int32_t>(std::lround(2048.3 + sigma * x)));
        x = phi * x + std::sqrt(1.0 - phi * phi) * innovation(bits);
    }
    return of(std::move(samples));
}

}  // namespace

TEST_CASE("mean and scatter of the twenty temperatures agree with JCGM 100:2008, 4.4.3") {
    const nlohmann::json entry = capture_reference("gum-4.4.3-twenty-temperatures");
    std::vector<std::int32_t> hundredths;
    for (const double t : entry.at("inputs").at("t_C").get<std::vector<double>>()) {
        hundredths.push_back(static_cast<std::int32_t>(std::lround(100.0 * t)));
    }
    const statistics st = summarise(of(hundredths), 0, 20000);
    const nlohmann::json& published = entry.at("expected");
    const nlohmann::json& half_last_digit = entry.at("tolerance").at("absolute");
    CHECK(st.n == published.at("n").get<std::size_t>());
    const double mean = st.mean.value() / 100.0;
    const double s = st.s.value() / 100.0;
    CHECK(std::abs(mean - published.at("mean").get<double>()) <= half_last_digit.at("mean").get<double>());
    CHECK(std::abs(s - published.at("s").get<double>()) <= half_last_digit.at("s").get<double>());
    CHECK(std::abs(mean - entry.at("recomputed").at("mean").get<double>()) <= 1e-12);
    CHECK(std::abs(s - entry.at("recomputed").at("s").get<double>()) <= 1e-13);  // 15 digits are given

    // The document lists them in rising order. Order is what a capture is about: read as one, they drift and are not independent.
    CHECK(st.n_eff < 10.0);
    std::mt19937_64 bits(443);
    std::shuffle(hundredths.begin(), hundredths.end(), bits);
    const statistics shuffled = summarise(of(hundredths), 0, 20000);
    CHECK(shuffled.n_eff == 20.0);
    CHECK(std::abs(shuffled.s.value() / 100.0 / std::sqrt(shuffled.n_eff) - published.at("u_mean").get<double>()) <=
          half_last_digit.at("u_mean").get<double>());
}

TEST_CASE("variance does not cancel where the codes are large: JCGM GUM-6:2020, 8.6.5") {
    // The masses of the document in steps of 1e-7 g, less 1 000 000 000 steps more than fit into a code; then the same at both
    // ends.
    const nlohmann::json entry = capture_reference("gum6-8.6.5-subtractive-cancellation-1");
    for (const std::int64_t offset :
         {std::int64_t{0}, std::int64_t{1000000000}, std::int64_t{2147480000}, std::int64_t{-2147490000}}) {
        std::vector<std::int32_t> steps;
        for (const double x : entry.at("inputs").at("x").get<std::vector<double>>()) {
            steps.push_back(static_cast<std::int32_t>(std::llround((x - 1000.0) * 1e7) + offset));
        }
        CAPTURE(offset);
        const statistics st = summarise(of(steps), lowest, highest);
        const double s2 = st.s.value() * st.s.value() * 1e-14;
        CHECK(std::abs(s2 - entry.at("expected").at("s2_stable").get<double>()) <=
              entry.at("tolerance").at("absolute").at("s2_stable").get<double>());
        CHECK(std::abs(s2 / entry.at("recomputed").at("s2").get<double>() - 1.0) <= 1e-14);
    }
}

TEST_CASE("a single sample has no scatter and no drift") {
    const statistics st = summarise(of({-7}), -10, 10);
    CHECK(st.n == 1);
    CHECK(st.mean == -7.0 * code);
    CHECK(st.s == 0.0 * code);
    CHECK(st.n_eff == 1.0);
    CHECK(st.min == -7);
    CHECK(st.max == -7);
    CHECK(st.drift == 0.0 * code);
}

TEST_CASE("a constant capture has no scatter, whatever its code, and as many samples as it has") {
    for (const std::int32_t c : {lowest, -1, 0, 4095, highest}) {
        CAPTURE(c);
        const statistics st = summarise(of(std::vector<std::int32_t>(1000, c)), lowest, highest);
        CHECK(st.mean == static_cast<double>(c) * code);
        CHECK(st.s == 0.0 * code);
        CHECK(st.n_eff == 1000.0);
    }
}

TEST_CASE("the widest capture does not overflow") {
    std::vector<std::int32_t> samples;
    for (int i = 0; i < 500; ++i) {
        samples.push_back(lowest);
        samples.push_back(highest);
    }
    const statistics st = summarise(of(samples), lowest, highest);
    CHECK(st.mean == -0.5 * code);
    CHECK(std::abs(st.s.value() / (2147483647.5 * std::sqrt(1000.0 / 999.0)) - 1.0) <= 1e-14);
    CHECK(st.n_eff == 1000.0);  // alternating samples: the mean is better than that, which is not claimed
    CHECK(st.at_bottom == 500);
    CHECK(st.at_top == 500);
}

TEST_CASE("samples on the end codes or beyond are counted") {
    const statistics st = summarise(of({0, 0, 1, 2047, 4094, 4095, 4095, 4095, 4096, -1}), 0, 4095);
    CHECK(st.at_bottom == 3);
    CHECK(st.at_top == 4);
    CHECK(st.min == -1);
    CHECK(st.max == 4096);
}

TEST_CASE("drift is the mean of the last quarter minus the mean of the first") {
    CHECK(summarise(of({10, 20, 99, 99, 99, 99, 31, 40}), 0, 4095).drift == 20.5 * code);
    CHECK(summarise(of({10, 20, 99, 99, 99, 99, 99, 31, 40}), 0, 4095).drift == 20.5 * code);  // 9 / 4 is 2
    CHECK(summarise(of({5, 2}), 0, 4095).drift == -3.0 * code);
}

TEST_CASE("shifting a capture moves its mean and changes nothing else") {
    std::mt19937_64 bits(1);
    for (const double phi : {0.0, 0.9}) {
        capture::run r = noise(bits, 1000, 3.0, phi);
        const statistics before = summarise(r, 0, 4095);
        for (std::int32_t& c : r.codes) {
            c += 2000000000;
        }
        const statistics after = summarise(r, 2000000000, 2000004095);
        CHECK(std::abs(after.mean.value() - 2e9 - before.mean.value()) <= 2.4e-7);  // half a bit of 2e9
        CHECK(after.s == before.s);
        CHECK(after.n_eff == before.n_eff);
        CHECK(after.drift == before.drift);
    }
}

TEST_CASE("mean and scatter do not depend on the order of the samples") {
    std::mt19937_64 bits(2);
    capture::run r = noise(bits, 1000, 3.0, 0.95);
    const statistics before = summarise(r, 0, 4095);
    std::shuffle(r.codes.begin(), r.codes.end(), bits);
    const statistics after = summarise(r, 0, 4095);
    CHECK(std::abs(after.mean.value() - before.mean.value()) <= 1e-12);
    CHECK(std::abs(after.s.value() / before.s.value() - 1.0) <= 1e-13);
    CHECK(before.n_eff < 100.0);
    CHECK(after.n_eff == 1000.0);
}

TEST_CASE("mirroring a capture or reading it backwards keeps n_eff and turns the drift round") {
    std::mt19937_64 bits(3);
    capture::run r = noise(bits, 1000, 3.0, 0.8);
    const statistics before = summarise(r, 0, 4095);
    std::reverse(r.codes.begin(), r.codes.end());
    const statistics backwards = summarise(r, 0, 4095);
    CHECK(std::abs(backwards.n_eff / before.n_eff - 1.0) <= 1e-9);
    CHECK(std::abs((backwards.drift + before.drift).value()) <= 1e-12);
    for (std::int32_t& c : r.codes) {
        c = 4095 - c;
    }
    CHECK(std::abs(summarise(r, 0, 4095).n_eff / before.n_eff - 1.0) <= 1e-9);
}

TEST_CASE("white noise is taken for correlated in no more than 3 of 1000 captures") {
    std::mt19937_64 bits(20240611);
    for (const double sigma : {0.3, 2.0}) {
        for (const std::size_t n : {16U, 64U, 1000U}) {
            int reduced = 0;
            for (int i = 0; i < 2000; ++i) {
                const double n_eff = summarise(noise(bits, n, sigma), 0, 4095).n_eff;
                reduced += n_eff < static_cast<double>(n) ? 1 : 0;
            }
            CAPTURE(sigma);
            CAPTURE(n);
            CHECK(reduced <= 14);  // 6 and 3.29 times its root: a rate above 0.3 % would show at 99.9 %
        }
    }
}

TEST_CASE("n_eff of autoregressive noise is n (1 - phi) / (1 + phi)") {  // sum of phi^k, closed form
    std::mt19937_64 bits(5);
    for (const double phi : {0.3, 0.5, 0.8, 0.95, 0.995}) {
        constexpr double n = 1e6;
        // Relative variance of such an estimate from lags up to M: 2 (2 M + 1) / n (N. Madras, A. D. Sokal, J. Stat. Phys. 50
        // (1988), from memory). M is where the correlation sinks into its own scatter, phi^M = 1 / sqrt(n).
        const double lags = -0.5 * std::log(n) / std::log(phi);
        const double tolerance = 3.29 * std::sqrt(2.0 * (2.0 * lags + 1.0) / n);  // 1.8 % for phi = 0.3, 24 % for 0.995
        const double n_eff = summarise(noise(bits, 1000000, 20.0, phi), -4096, 4095).n_eff;
        CAPTURE(phi);
        CHECK(std::abs(n_eff / n * (1.0 + phi) / (1.0 - phi) - 1.0) <= tolerance);
    }
}

TEST_CASE("the mean of correlated captures scatters as s / sqrt(n_eff) says") {
    std::mt19937_64 bits(6);
    constexpr int captures = 400;
    double scatter = 0.0;
    double claimed = 0.0;
    for (int i = 0; i < captures; ++i) {
        const statistics st = summarise(noise(bits, 2000, 5.0, 0.9), 0, 4095);
        scatter += (st.mean.value() - 2048.3) * (st.mean.value() - 2048.3) / captures;
        claimed += st.s.value() * st.s.value() / st.n_eff / captures;
    }
    CHECK(std::abs(claimed / scatter - 1.0) <= 0.23);  // 3.29 standard deviations sqrt(2 / 400) of the scatter
}

TEST_CASE("samples that alternate are not counted for more than they are") {
    std::mt19937_64 bits(7);
    CHECK(summarise(noise(bits, 10000, 5.0, -0.7), 0, 4095).n_eff == 10000.0);
}

TEST_CASE("more samples of slow noise stop helping, also beyond the longest lag") {
    std::mt19937_64 bits(8);
    std::normal_distribution<double> step(0.0, 0.05);
    double wander = 0.0;
    std::vector<std::int32_t> samples;
    for (int i = 0; i < 200000; ++i) {
        wander += step(bits);
        samples.push_back(static_cast<std::int32_t>(std::lround(2048.0 + wander)));
    }
    const statistics st = summarise(of(samples), 0, 4095);
    CHECK(st.n_eff >= 1.0);
    CHECK(st.n_eff <= 20.0);  // a random walk has no mean at all; 256 lags alone would have claimed 390 samples
}

TEST_CASE("a steady drift leaves a handful of independent samples") {
    std::vector<std::int32_t> samples(10000);
    std::iota(samples.begin(), samples.end(), 0);
    const statistics st = summarise(of(samples), 0, 10000);
    CHECK(st.n_eff >= 1.0);
    CHECK(st.n_eff <= 10.0);
    CHECK(st.drift == 7500.0 * code);
}

TEST_CASE("n_eff lies between 1 and n for every short capture of three codes") {
    for (const std::size_t n : {1U, 2U, 5U, 9U}) {
        std::vector<std::int32_t> samples(n, 0);
        bool more = true;
        while (more) {
            const double n_eff = summarise(of(samples), -5, 5).n_eff;
            REQUIRE(n_eff >= 1.0);
            REQUIRE(n_eff <= static_cast<double>(n));
            more = false;
            for (std::int32_t& c : samples) {
                c = (c + 1) % 3;
                if (c != 0) {
                    more = true;
                    break;
                }
            }
        }
    }
}
