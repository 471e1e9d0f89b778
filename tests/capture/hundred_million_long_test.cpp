// 10^8 samples, made and added in pieces: what one_pass says of them against what was put in.

#include "signals.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <slow_build.hpp>
#include <vector>

namespace hundred_million_long_test {

using namespace plumbline;
using capture::longer_capture;
using capture::one_pass_statistics;
using signals::pi;
using signals::u_of_mean;

namespace {

constexpr std::size_t samples = 100'000'000;
constexpr std::size_t block = 2048;  // samples of one value of what is slow; the parts that one_pass keeps of 10^8 samples
constexpr double f = 0.0123456;      // periods per sample of the line: 1.2 kHz at 100 kHz
constexpr double position = 2000.37;

struct put_in {
    double noise = 2.0;
    double line = 0.0;   ///< amplitude
    double slow = 0.0;   ///< rms of each of eight processes whose memories are four times as long as one another's: near 1/f
    double drift = 0.0;  ///< from first to last
};

struct made {
    one_pass_statistics seen;
    double mean = 0.0;           ///< of what was sampled, before it was rounded
    std::vector<double> blocks;  ///< what was slow: noise and drift
    std::vector<double> means;   ///< of what was sampled in each whole block
};

made sampled(const put_in& in, std::uint64_t seed) {
    simulation::generator random(seed);
    std::vector<double> slow(8);
    for (double& x : slow) x = random.normal();
    capture::one_pass all(0, 4095, 100e3 * hertz);
    made r;
    std::vector<std::int32_t> piece;
    double sum = 0.0;
    double cosine = 1.0;
    double sine = 0.0;
    const double turn_c = std::cos(2.0 * pi * f);
    const double turn_s = std::sin(2.0 * pi * f);
    for (std::size_t done = 0; done < samples; done += piece.size()) {
        double still = in.drift * (static_cast<double>(done) + 0.5 * static_cast<double>(block)) / static_cast<double>(samples);
        for (std::size_t k = 0; k < slow.size(); ++k) {
            const double kept = std::exp(-std::ldexp(0.5, -2 * static_cast<int>(k)));
            slow[k] = kept * slow[k] + std::sqrt(1.0 - kept * kept) * random.normal();
            still += in.slow * slow[k];
        }
        r.blocks.push_back(still);
        double moved = 0.0;
        piece.clear();
        for (std::size_t i = 0; i < std::min(block, samples - done); ++i) {
            const double x = still + in.line * cosine + in.noise * random.normal();
            moved += x;
            piece.push_back(static_cast<std::int32_t>(std::lround(position + x)));
            const double next = cosine * turn_c - sine * turn_s;
            sine = sine * turn_c + cosine * turn_s;
            cosine = next;
        }
        sum += moved;
        if (piece.size() == block) r.means.push_back(moved / static_cast<double>(block));
        all.add(piece);
    }
    r.mean = position + sum / static_cast<double>(samples);
    r.seen = all.statistics();
    return r;
}

double variance_of(const std::vector<double>& x) {
    double mean = 0.0;
    for (const double v : x) mean += v / static_cast<double>(x.size());
    double squares = 0.0;
    for (const double v : x) squares += (v - mean) * (v - mean);
    return squares / static_cast<double>(x.size());
}

/// The least Allan deviation of blocks and of independent noise beside them, over averages of which 16 or more fit.
double least_deviation(std::vector<double> x, double noise) {
    double least = 1e300;
    for (double m = static_cast<double>(block); x.size() >= 16; m *= 2.0) {
        double squares = 0.0;
        for (std::size_t i = 1; i < x.size(); ++i) squares += (x[i] - x[i - 1]) * (x[i] - x[i - 1]);
        least = std::min(least, squares / (2.0 * static_cast<double>(x.size() - 1)) + noise * noise / m);
        for (std::size_t i = 0; i < x.size() / 2; ++i) x[i] = 0.5 * (x[2 * i] + x[2 * i + 1]);
        x.resize(x.size() / 2);
    }
    return std::sqrt(least);
}

double change_of(const std::vector<double>& x) {
    const double k = static_cast<double>(x.size());
    double xt = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) xt += x[i] * (static_cast<double>(i) - 0.5 * (k - 1.0));
    return xt / (k * (k * k - 1.0) / 12.0) * k;
}

/// Mean, scatter and trend are known to what independent noise and quantisation leave: five standard uncertainties are allowed. 2 % of the
/// line's amplitude are some three of what noise leaves of the weaker one in its five bins.
void check_what_is_sharp(const made& of, const put_in& in) {
    const one_pass_statistics& st = of.seen;
    const double n = static_cast<double>(samples);
    CHECK(st.n == samples);
    CHECK(std::abs(st.mean.value() - of.mean) <= 5.0 * std::sqrt(1.0 / 12.0 / n));
    const double variance = in.noise * in.noise + 1.0 / 12.0 + 0.5 * in.line * in.line + variance_of(of.blocks);
    CHECK(std::abs(st.s.value() * st.s.value() / variance - 1.0) <= 5.0 * std::sqrt(2.0 / n));
    REQUIRE(st.slope);
    CHECK(std::abs(st.slope->change.value() - change_of(of.blocks)) <= 5.0 * std::sqrt(12.0 / n) * in.noise);
    CHECK(st.spectrum_judged);
    REQUIRE(st.line);
    CHECK(std::abs(st.line->periods_per_sample - f) <= 3.0 * st.line->u_periods_per_sample);
    CHECK(st.line->u_periods_per_sample <= 2e-5);
    CHECK(std::abs(st.line->amplitude.value() / in.line - 1.0) <= 0.02);
    CHECK(std::abs(st.line->at->value() - 100e3 * f) <= 3.0 * 100e3 * st.line->u_periods_per_sample);
    CHECK_FALSE(may_be_mains(*st.line));
    REQUIRE(st.far_out);
    CHECK(st.far_out->count == 0);
}

}  // namespace

TEST_CASE("noise, slow noise, drift and a line are found in 10^8 samples as they were put in") {
    const put_in in{.line = 0.2, .slow = 0.05, .drift = 0.5};
    const made all = sampled(in, 1);
    check_what_is_sharp(all, in);
    const one_pass_statistics& st = all.seen;
    CHECK(st.longer == longer_capture::does_not_help);
    // Of what was sampled it is told but for quantisation; of what was slow, but for what the noise adds by chance.
    CHECK(std::abs(st.floor.value() / least_deviation(all.means, 0.0) - 1.0) <= 0.005);
    CHECK(std::abs(st.floor.value() / least_deviation(all.blocks, in.noise) - 1.0) <= 0.03);
    CHECK(u_of_mean(st) >= st.floor.value() * (1.0 - 1e-12));
    CHECK(std::abs(st.mean.value() - position - 0.5 * in.drift) <= 4.0 * u_of_mean(st));
    // What slow noise adds to the drift is in the trend, and its u does not know of it: it is of what hangs together for less than a sixteenth.
    CHECK(st.slope->change > 0.3 * code);
}

TEST_CASE("10^8 independent samples with a line count in full, without floor or trend") {
    const put_in in{.line = 0.05};
    const made all = sampled(in, 2);
    check_what_is_sharp(all, in);
    const one_pass_statistics& st = all.seen;
    CHECK(st.longer == longer_capture::helps);
    CHECK(st.told_from == 32);
    CHECK(st.floor == codes());
    CHECK(st.n_eff == static_cast<double>(samples));
    CHECK(std::abs(st.mean.value() - position) <= 4.0 * u_of_mean(st));
    CHECK(std::abs(st.slope->change.value()) <= 4.0 * st.slope->u.value());
    CHECK(st.slope->u.value() <= 1.5 * std::sqrt(12.0) * st.s.value() / 1e4);
}

}  // namespace hundred_million_long_test
