#include <plumbline/capture/quantisation.hpp>

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace quantisation_test {

using namespace plumbline;
using capture::of_mean;
using capture::quantisation;
using capture::statistics;

namespace {

constexpr double pi = 3.14159265358979323846;

/// Statistics as of_mean reads them: n_eff and s, the rest plausible.
statistics with(double s, double n_eff) {
    return {.n = static_cast<std::size_t>(n_eff),
            .mean = 2048.3 * code,
            .s = s * code,
            .n_eff = n_eff,
            .min = 2040,
            .max = 2056,
            .at_bottom = 0,
            .at_top = 0,
            .drift = 0.0 * code};
}

struct moments {
    double mean;
    double variance;
};

/// Mean and variance of a rounded normal quantity, by adding up the probability of each code: no Fourier series here.
moments rounded_normal(double mu, double sigma) {
    const auto below = [&](double edge) { return 0.5 * std::erfc((mu - edge) / (sigma * std::sqrt(2.0))); };
    double mean = 0.0;
    double square = 0.0;
    for (int c = -15; c <= 15; ++c) {
        const double p = below(c + 0.5) - below(c - 0.5);
        mean += c * p;
        square += c * (c * p);
    }
    return {mean, square - mean * mean};
}

double largest_bias(double sigma) {
    double largest = 0.0;
    for (int i = 0; i <= 1000; ++i) {
        const double mu = i / 1000.0;
        largest = std::max(largest, std::abs(rounded_normal(mu, sigma).mean - mu));
    }
    return largest;
}

}  // namespace

TEST_CASE("the bias of the mean is at most 0.0023 code at 0.5 code of noise") {  // design value, four decimals
    CHECK(std::abs(largest_bias(0.5) - 0.0023) <= 0.00005);

    const double s = std::sqrt(rounded_normal(0.5, 0.5).variance);
    const quantisation q = of_mean(with(s, 1e10));  // so many samples that the confidence bound is the value
    CHECK(q.kind == quantisation::regime::dithered);
    CHECK(std::abs(q.sigma_lower.value() - 0.5) <= 1e-4);
    CHECK(std::abs(q.half_width.value() - 0.0023) <= 0.00005);
}

TEST_CASE("the half width is the largest bias found by adding up the codes") {
    for (const double s : {0.53, 0.58, 0.65, 0.8}) {
        const quantisation q = of_mean(with(s, 1e6));
        CAPTURE(s);
        REQUIRE(q.kind == quantisation::regime::dithered);
        const double largest = largest_bias(q.sigma_lower.value());
        CHECK(largest <= q.half_width.value() + 1e-12);
        // At mu = 1/4 the first harmonic is whole and the second is 0: the bound is too large by the second at most, which at 0.4
        // code is exp(-6 pi^2 0.16) / 2 of the first.
        CHECK(largest >= q.half_width.value() * (1.0 - 4e-5) - 1e-12);
    }
}

TEST_CASE("the confidence bound of the variance follows chi-squared") {
    // 95 % quantiles of chi-squared as in common tables (from memory): 3.841 with 1, 18.307 with 10, 124.342 with 100 degrees of
    // freedom.
    struct row {
        double freedom, quantile;
    };
    for (const row& r : {row{1, 3.841}, row{10, 18.307}, row{100, 124.342}}) {
        CAPTURE(r.freedom);
        constexpr double s = 20.0;  // far above a code: sigma is sqrt(s^2 bound - 1/12)
        const double expected = std::sqrt(s * s * r.freedom / r.quantile - 1.0 / 12.0);
        CHECK(std::abs(of_mean(with(s, r.freedom + 1.0)).sigma_lower.value() - expected) <= expected * 0.0005 / r.quantile);
    }
}

TEST_CASE("a noiseless capture keeps half a code however long it is") {
    for (const double n : {1.0, 2.0, 16.0, 1e6, 1e9}) {
        CAPTURE(n);
        const quantisation q = of_mean(with(0.0, n));
        CHECK(q.kind == quantisation::regime::hidden);
        CHECK(q.half_width == 0.5 * code);
        CHECK(q.sigma_lower == 0.0 * code);
    }
}

TEST_CASE("nothing is proved by fewer than two independent samples") {
    CHECK(of_mean(with(100.0, 1.0)).kind == quantisation::regime::hidden);
    CHECK(of_mean(with(100.0, 1.99)).kind == quantisation::regime::hidden);
    CHECK(of_mean(with(100.0, 2.0)).kind == quantisation::regime::dithered);
}

TEST_CASE("two codes alone never count as dithered") {
    for (const double n : {2.0, 16.0, 1000.0, 1e6, 1e9}) {
        CAPTURE(n);
        CHECK(of_mean(with(0.5 * std::sqrt(n / (n - 1.0)), n)).kind == quantisation::regime::hidden);  // half of them on each
    }
}

TEST_CASE("the claimed half width covers the bias at every position and noise of a long capture") {
    int dithered = 0;
    for (int i = 1; i <= 100; ++i) {
        for (int j = 0; j <= 50; ++j) {
            const double sigma = 0.01 * i;
            const double mu = 0.01 * j;
            const moments m = rounded_normal(mu, sigma);
            const quantisation q = of_mean(with(std::sqrt(m.variance), 1e7));
            CAPTURE(sigma);
            CAPTURE(mu);
            CHECK(std::abs(m.mean - mu) <= q.half_width.value() + 1e-12);
            CHECK(q.sigma_lower.value() <= sigma);
            dithered += q.kind == quantisation::regime::dithered ? 1 : 0;
        }
    }
    CHECK(dithered > 2500);  // most of 0.5 code and above: the rule is not safe by always saying hidden
}

TEST_CASE("the regime changes once, where the lower bound passes 0.4 code") {
    constexpr double n_eff = 1e10;
    const double at_limit = std::sqrt(rounded_normal(0.5, 0.4).variance);
    CHECK(of_mean(with(at_limit * 0.999, n_eff)).kind == quantisation::regime::hidden);
    CHECK(of_mean(with(at_limit * 1.001, n_eff)).kind == quantisation::regime::dithered);

    double before = 0.5;
    for (double s = 0.0; s < 2.0; s += 0.01) {
        const double half_width = of_mean(with(s, 1000.0)).half_width.value();
        CHECK(half_width <= before);
        before = half_width;
    }
    CHECK(before < 1e-20);
}

TEST_CASE("in few samples noise of 0.35 code is taken for dithered in fewer than 5 of 100 captures") {
    std::mt19937_64 bits(20240607);
    for (const std::size_t n : {4U, 16U, 64U, 1000U}) {
        int wrong = 0;
        for (int i = 0; i < 1000; ++i) {
            std::normal_distribution<double> noise(i / 1000.0, 0.35);
            capture::run r;
            for (std::size_t k = 0; k < n; ++k) {
                r.codes.push_back(static_cast<std::int32_t>(std::lround(noise(bits))));
            }
            wrong += of_mean(summarise(r, -2048, 2047)).kind == quantisation::regime::dithered ? 1 : 0;
        }
        CAPTURE(n);
        CHECK(wrong < 50);
    }
}

TEST_CASE("mean, scatter and half width together cover the true position of noise that is hidden or not") {
    std::mt19937_64 bits(41);
    for (const double sigma : {0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 1.0}) {
        int covered = 0;
        constexpr int captures = 1000;
        for (int i = 0; i < captures; ++i) {
            const double mu = (i + 0.5) / captures;
            std::normal_distribution<double> noise(0.0, 1.0);
            capture::run r;
            for (int k = 0; k < 100; ++k) {
                r.codes.push_back(static_cast<std::int32_t>(std::lround(mu + sigma * noise(bits))));
            }
            const statistics st = summarise(r, -2048, 2047);
            const double reach = of_mean(st).half_width.value() + 2.0 * st.s.value() / std::sqrt(st.n_eff);
            covered += std::abs(st.mean.value() - mu) <= reach ? 1 : 0;
        }
        CAPTURE(sigma);
        CHECK(covered >= 932);  // 95.45 % less 3.29 standard deviations of 1000 captures
    }
}

TEST_CASE("the series of the header gives bias and variance of a rounded normal quantity") {
    for (const double sigma : {0.2, 0.4, 0.7}) {
        for (const double mu : {0.0, 0.1, 0.37, 0.5, 0.9}) {
            double bias = 0.0;
            double variance = sigma * sigma + 1.0 / 12.0;
            double sign = -1.0;
            for (int k = 1; k <= 40; ++k, sign = -sign) {
                const double left = std::exp(-2.0 * pi * pi * k * k * sigma * sigma);
                bias += sign / (pi * k) * left * std::sin(2.0 * pi * k * mu);
                variance += sign * (4.0 * sigma * sigma + 1.0 / (pi * pi * k * k)) * left * std::cos(2.0 * pi * k * mu);
            }
            CAPTURE(sigma);
            CAPTURE(mu);
            const moments m = rounded_normal(mu, sigma);
            CHECK(std::abs(m.mean - mu - bias) <= 1e-12);
            CHECK(std::abs(m.variance - (variance - bias * bias)) <= 1e-12);
        }
    }
}

}  // namespace quantisation_test
