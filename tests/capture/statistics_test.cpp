#include <plumbline/capture/statistics.hpp>

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "reference.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <numeric>
#include <random>

namespace statistics_test {

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
         {std::int64_t{0}, std::int64_t{1000000000}, std::int64_t{2147476000}, std::int64_t{-2147490000}}) {
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
        const double mean = 1000.0 + (st.mean.value() - static_cast<double>(offset)) * 1e-7;
        CHECK(std::abs(mean - entry.at("recomputed").at("mean").get<double>()) <= 1e-12);
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

TEST_CASE("white noise is taken for correlated in no more than 3 of 1000 captures" * doctest::skip(slow::build)) {
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

TEST_CASE("n_eff of autoregressive noise is n (1 - phi) / (1 + phi)" * doctest::skip(slow::build)) {  // sum of phi^k, closed form
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

TEST_CASE("the mean of correlated captures scatters as s / sqrt(n_eff) says" * doctest::skip(slow::build)) {
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

// Trend and hum.

namespace {

constexpr double pi = 3.14159265358979323846;

/// round(ramp * i + amplitude cos(2 pi (f i / rate + turns))), i from 0 to n - 1.
capture::run sine(std::size_t n, double rate, double f, double amplitude, double turns, double ramp = 0.0) {
    capture::run r{.codes = {}, .sample_rate = rate * hertz};
    for (std::size_t i = 0; i < n; ++i) {
        const auto x = static_cast<double>(i);
        r.codes.push_back(
            static_cast<std::int32_t>(std::lround(ramp * x + amplitude * std::cos(2.0 * pi * (f * x / rate + turns)))));
    }
    return r;
}

struct plain_fit {
    std::array<double, 4> at{};        ///< of 1, t, cos, sin
    std::array<double, 4> variance{};  ///< of each, for samples of variance 1
    double squares_left = 0.0;
    double batch_level = 0.0;
};

/// The same fit the long way: t from the first sample, normal equations inverted by elimination, residuals formed one by one.
plain_fit fit_plainly(const capture::run& r, double f) {
    const std::size_t n = r.codes.size();
    const auto base = [&](std::size_t i) {
        const double angle = 2.0 * pi * f / r.sample_rate->value() * static_cast<double>(i);
        return std::array<double, 4>{1.0, static_cast<double>(i) / static_cast<double>(n - 1), std::cos(angle), std::sin(angle)};
    };
    std::array<std::array<long double, 9>, 4> m{};  // normal matrix, right side, unit matrix
    for (std::size_t i = 0; i < n; ++i) {
        const auto x = base(i);
        for (std::size_t j = 0; j < 4; ++j) {
            for (std::size_t k = 0; k < 4; ++k) m[j][k] += static_cast<long double>(x[j] * x[k]);
            m[j][4] += static_cast<long double>(x[j] * r.codes[i]);
        }
    }
    for (std::size_t j = 0; j < 4; ++j) m[j][5 + j] = 1.0L;
    for (std::size_t j = 0; j < 4; ++j) {
        const long double pivot = m[j][j];
        for (long double& one : m[j]) one /= pivot;
        for (std::size_t k = 0; k < 4; ++k) {
            const long double factor = k == j ? 0.0L : m[k][j];
            for (std::size_t l = 0; l < 9; ++l) m[k][l] -= factor * m[j][l];
        }
    }
    plain_fit out;
    for (std::size_t j = 0; j < 4; ++j) {
        out.at[j] = static_cast<double>(m[j][4]);
        out.variance[j] = static_cast<double>(m[j][5 + j]);
    }
    for (std::size_t b = 0; b < 16; ++b) {
        double sum = 0.0;
        double count = 0.0;
        for (std::size_t i = b * n / 16; i < (b + 1) * n / 16; ++i, ++count) {
            const auto x = base(i);
            const double left = r.codes[i] - std::inner_product(x.begin(), x.end(), out.at.begin(), 0.0);
            sum += left;
            out.squares_left += left * left;
        }
        out.batch_level += sum * sum / count / 12.0;
    }
    return out;
}

}  // namespace

TEST_CASE("a ramp is a trend from its first to its last sample and leaves no noise") {
    for (const std::size_t n : {16U, 17U, 10000U}) {
        CAPTURE(n);
        std::vector<std::int32_t> samples(n);
        std::iota(samples.begin(), samples.end(), -5);
        const statistics st = summarise(of(samples), -5, 20000);
        REQUIRE(st.slope.has_value());
        CHECK(std::abs(st.slope->change.value() - static_cast<double>(n - 1)) <= 1e-9);
        CHECK(st.slope->u.value() <= 1e-4);  // root of what cancels in the sum of squares
        CHECK(st.noise.value() <= 1e-4);
    }
}

TEST_CASE("fewer than 16 samples have no trend, and their noise is s") {
    capture::run r = sine(15, 200.0, 50.0, 100.0, 0.1);
    const statistics st = summarise(r, -4096, 4095);
    CHECK_FALSE(st.slope.has_value());
    CHECK(st.hum.empty());
    CHECK(st.noise == st.s);
}

TEST_CASE("a sine is found with its amplitude over whole and broken periods, on a trend" * doctest::skip(slow::build)) {
    // codes are rounded: half a code of 1e6, in at most a twentieth of all samples at once
    struct row {
        std::size_t n;
        double rate;
        double f;
    };
    for (const row& r : {row{2000, 10e3, 50.0}, row{2050, 10e3, 50.0}, row{201, 10e3, 50.0}, row{274, 10e3, 50.0},
                         row{777, 1e3, 60.0}, row{64, 150.0, 60.0}, row{600001, 250e3, 50.0}}) {
        for (const double turns : {0.0, 0.2, 0.6}) {
            const double change = 5e5;
            CAPTURE(r.n);
            CAPTURE(turns);
            const statistics st =
                summarise(sine(r.n, r.rate, r.f, 1e6, turns, change / static_cast<double>(r.n - 1)), -2000000, 2000000);
            const auto line = std::find_if(st.hum.begin(), st.hum.end(), [&](const auto& l) { return l.at.value() == r.f; });
            REQUIRE(line != st.hum.end());
            CHECK(std::abs(line->periods - static_cast<double>(r.n) * r.f / r.rate) <= 1e-9 * line->periods);
            CHECK(std::abs(line->amplitude.value() - 1e6) <= 1.0);
            CHECK(std::abs(st.slope->change.value() - change) <= 2.0);
            CHECK(st.noise.value() <= 1.0);  // 0.29 of rounding, and what cancels in sums of squares of 1e6
        }
    }
}

TEST_CASE("the fit agrees with normal equations solved by elimination, residuals formed one by one") {
    std::mt19937_64 bits(9);
    for (const double phi : {0.0, 0.95}) {
        for (const std::size_t n : {250U, 1003U, 5000U}) {
            capture::run r = noise(bits, n, 3.0, phi);
            r.sample_rate = 10e3 * hertz;
            const std::vector<std::int32_t> hum = sine(n, 10e3, 50.0, 4.0, 0.3).codes;
            std::transform(r.codes.begin(), r.codes.end(), hum.begin(), r.codes.begin(), std::plus<>{});
            const plain_fit at_50 = fit_plainly(r, 50.0);
            const plain_fit at_60 = fit_plainly(r, 60.0);
            const plain_fit& best = at_50.squares_left <= at_60.squares_left ? at_50 : at_60;
            const double level = std::max(best.squares_left / static_cast<double>(n - 4), best.batch_level);
            CAPTURE(phi);
            CAPTURE(n);
            const statistics st = summarise(r, 0, 4095);
            REQUIRE(st.hum.size() == 2);
            CHECK(std::abs(st.hum[0].amplitude.value() - std::hypot(at_50.at[2], at_50.at[3])) <= 1e-8);
            CHECK(std::abs(st.hum[1].amplitude.value() - std::hypot(at_60.at[2], at_60.at[3])) <= 1e-8);
            CHECK(std::abs(st.slope->change.value() - best.at[1]) <= 1e-8);
            CHECK(std::abs(st.noise.value() - std::sqrt(best.squares_left / static_cast<double>(n - 4))) <= 1e-8);
            CHECK(std::abs(st.slope->u.value() - std::sqrt(level * best.variance[1])) <= 1e-8);
            // cosine and sine part of t from the middle and from the first sample are turned against each other: the sum is the same
            const double both = st.hum[0].u.value() * st.hum[0].u.value() / level;
            CHECK(both <= at_50.variance[2] + at_50.variance[3]);
            CHECK(both >= 0.5 * (at_50.variance[2] + at_50.variance[3]) - 1e-12);
        }
    }
}

TEST_CASE("hum is judged from one period and from 2.5 samples a period, and only with a sample rate") {
    const auto judged = [](std::size_t n, double rate) {
        std::vector<double> at;
        for (const auto& line : summarise(sine(n, rate, 50.0, 100.0, 0.1), -200, 200).hum) at.push_back(line.at.value());
        return at;
    };
    using frequencies = std::vector<double>;
    CHECK(judged(200, 10e3) == frequencies{50.0, 60.0});
    CHECK(judged(199, 10e3) == frequencies{60.0});
    CHECK(judged(167, 10e3) == frequencies{60.0});
    CHECK(judged(166, 10e3) == frequencies{});
    CHECK(judged(1000, 150.0) == frequencies{50.0, 60.0});
    CHECK(judged(1000, 149.9) == frequencies{50.0});
    CHECK(judged(1000, 125.0) == frequencies{50.0});
    CHECK(judged(1000, 124.9) == frequencies{});
    capture::run without_rate = sine(1000, 10e3, 50.0, 100.0, 0.1);
    without_rate.sample_rate.reset();
    const statistics st = summarise(without_rate, -200, 200);
    CHECK(st.hum.empty());
    CHECK(st.slope.has_value());
}

TEST_CASE("a strong line close to mains is no hum: it is taken off at its own frequency") {
    std::mt19937_64 bits(12);
    const auto with_line = [&](double hertz_of_line, double phase) {
        capture::run r = noise(bits, 1050, 0.7);
        r.sample_rate = 10e3 * hertz;
        for (std::size_t i = 0; i < r.codes.size(); ++i) {
            const double x = 5.0 * std::cos(2.0 * pi * (hertz_of_line * static_cast<double>(i) / 10e3 + phase));
            r.codes[i] += static_cast<std::int32_t>(std::lround(x));
        }
        return summarise(r, 0, 4095);
    };
    for (const double off : {47.6, 48.5, 52.5, 57.5, 62.0}) {
        for (const double phase : {0.0, 0.2, 0.4, 0.6}) {
            CAPTURE(off);
            CAPTURE(phase);
            const statistics st = with_line(off, phase);
            for (const capture::spectral_line& hum : st.hum) CHECK(hum.amplitude < 5.0 * hum.u);
            REQUIRE(st.removed.has_value());
            CHECK(std::abs(st.removed->at.value() - off) < 0.2);
            CHECK(std::abs(st.removed->amplitude.value() - 5.0) < 0.2);
            double shift = 0.0;
            for (int i = 0; i < 1050; ++i) shift += 5.0 * std::cos(2.0 * pi * (off * i / 10e3 + phase)) / 1050.0;
            CHECK(std::abs((st.removed->shift.value() - shift)) < 4.0 * st.removed->u.value());
            CHECK(st.removed->u.value() < 0.02);
        }
    }
    const statistics grid = with_line(50.2, 0.2);
    REQUIRE(grid.removed.has_value());
    CHECK(grid.removed->at == 50.0 * hertz);
    CHECK(std::abs(grid.hum[0].amplitude.value() - 5.0) < 0.2);
}

TEST_CASE("the largest shift of the mean by a sine is reached at one phase and exceeded at none") {
    for (const std::size_t n : {200U, 250U, 286U, 1000U, 1010U}) {
        const capture::spectral_line line{50.0 * hertz, static_cast<double>(n) / 200.0, 2.0 * code, {}};
        double largest = 0.0;
        constexpr int phases = 2000;
        for (int p = 0; p < phases; ++p) {
            double sum = 0.0;
            for (std::size_t i = 0; i < n; ++i) sum += 2.0 * std::cos(2.0 * pi * (static_cast<double>(i) / 200.0 + p / 2000.0));
            largest = std::max(largest, std::abs(sum) / static_cast<double>(n));
        }
        CAPTURE(n);
        const double claimed = capture::largest_shift_of_mean(line, n).value();
        CHECK(largest <= claimed + 1e-12);
        CHECK(largest >= claimed * std::cos(pi / phases) - 1e-12);
        CHECK(claimed <= 1.001 * 2.0 / (pi * line.periods));
        if (n % 200 == 0) CHECK(claimed <= 1e-12);
    }
}

TEST_CASE("half a code up in the second half of a capture, and down in the first, is the largest trend that half a code makes") {
    std::vector<std::int32_t> step(20000, 0);
    std::fill(step.begin() + 10000, step.end(), 1);
    const double change = summarise(of(step), -5, 5).slope->change.value();
    CHECK(change <= capture::largest_false_trend(0.5 * code).value());
    CHECK(change >= 0.999 * capture::largest_false_trend(0.5 * code).value());
}

TEST_CASE("the pattern that follows the weights of the fit makes the largest sine that half a code makes") {
    double largest = 0.0;
    for (const std::size_t n : {2000U, 2200U, 3000U, 20000U}) {
        const double periods = static_cast<double>(n) / 2000.0;
        // the parts of cosine and sine that mean and trend take, in closed form for many samples
        const double mean_of_cosine = std::sin(pi * periods) / (pi * periods);
        const double trend_of_sine = 6.0 / (pi * periods) * (mean_of_cosine - std::cos(pi * periods));
        for (int direction = 0; direction < 8; ++direction) {
            const double angle = pi * direction / 8.0;
            capture::run pattern{.codes = {}, .sample_rate = 100e3 * hertz};
            for (std::size_t i = 0; i < n; ++i) {
                const double t = (static_cast<double>(i) - 0.5 * static_cast<double>(n - 1)) / static_cast<double>(n);
                const double weight = std::cos(angle) * (std::cos(2.0 * pi * periods * t) - mean_of_cosine) +
                                      std::sin(angle) * (std::sin(2.0 * pi * periods * t) - trend_of_sine * t);
                pattern.codes.push_back(weight > 0.0 ? 1 : 0);
            }
            largest = std::max(largest, summarise(pattern, -5, 5).hum[0].amplitude.value());
        }
    }
    CHECK(largest <= capture::largest_false_amplitude(0.5 * code).value());
    CHECK(largest >= 0.99 * capture::largest_false_amplitude(0.5 * code).value());
}

TEST_CASE("the trend of white noise scatters as its u says, or up to a fifth less, and so it does where noise hangs together" *
          doctest::skip(slow::build)) {
    std::mt19937_64 bits(10);
    for (const double phi : {0.0, 0.9}) {
        constexpr int captures = 1000;
        double scatter = 0.0;
        double claimed = 0.0;
        for (int i = 0; i < captures; ++i) {
            const statistics st = summarise(noise(bits, 2000, 3.0, phi), 0, 4095);
            scatter += st.slope->change.value() * st.slope->change.value() / captures;
            claimed += st.slope->u.value() * st.slope->u.value() / captures;
        }
        CAPTURE(phi);
        const double ratio = std::sqrt(claimed / scatter);
        const double by_chance = 3.29 * std::sqrt(0.5 / captures);
        CHECK(ratio >= 1.0 - by_chance);
        CHECK(ratio <= 1.2 + by_chance);
    }
}

TEST_CASE("trend and hum do not depend on where the codes lie") {
    std::mt19937_64 bits(11);
    capture::run r = noise(bits, 1000, 3.0, 0.5);
    r.sample_rate = 10e3 * hertz;
    const statistics before = summarise(r, 0, 4095);
    for (std::int32_t& c : r.codes) c += 2000000000;
    const statistics after = summarise(r, 2000000000, 2000004095);
    CHECK(after.slope == before.slope);
    CHECK(after.hum == before.hum);
    CHECK(after.noise == before.noise);
}

}  // namespace statistics_test
