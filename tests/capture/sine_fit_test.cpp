#include <doctest/doctest.h>

#include <cmath>
#include <message.hpp>
#include <plumbline/capture/sine_fit.hpp>
#include <plumbline/uncertainty/distribution.hpp>
#include <reference/published.hpp>
#include <simulation/random.hpp>
#include <slow_build.hpp>
#include <vector>

namespace sine_fit_test {

using namespace plumbline;
using capture::fit_sine;
using capture::sine_fit;
using refused::message;
using simulation::generator;

namespace {

constexpr double pi = 3.14159265358979323846;

struct truth {
    std::size_t n = 1000;
    double amplitude = 1800.0;
    double offset = 2047.3;
    double f = 0.0123456;  ///< periods per sample
    double noise = 1.0;
};

capture::run sampled(const truth& t, std::uint64_t seed) {
    generator random(seed);
    const double phase = random.uniform();
    capture::run r{{}, 1000.0 * hertz};
    for (std::size_t i = 0; i < t.n; ++i) {
        const double x = t.offset + t.amplitude * std::cos(2.0 * pi * (t.f * static_cast<double>(i) + phase));
        r.codes.push_back(static_cast<std::int32_t>(std::lround(x + t.noise * random.normal())));
    }
    return r;
}

/// Values and the uncertainties stated with them.
class scatter {
public:
    void add(double value, double u) {
        values_.push_back(value);
        u_squared_ += u * u;
    }
    [[nodiscard]] double mean() const {
        double sum = 0.0;
        for (const double v : values_) sum += v;
        return sum / static_cast<double>(values_.size());
    }
    /// rms of the uncertainties.
    [[nodiscard]] double stated() const { return std::sqrt(u_squared_ / static_cast<double>(values_.size())); }
    /// Standard deviation of the values over that.
    [[nodiscard]] double over_stated() const {
        const double middle = mean();
        double squares = 0.0;
        for (const double v : values_) squares += (v - middle) * (v - middle);
        return std::sqrt(squares / (static_cast<double>(values_.size()) - 1.0)) / stated();
    }

private:
    std::vector<double> values_;
    double u_squared_ = 0.0;
};

}  // namespace

TEST_CASE("ideal signal to noise and effective bits are the published ones") {
    const auto snr = published::entry("converters", "adc-ideal-snr");
    const auto enob = published::entry("converters", "adc-enob");
    for (std::size_t i = 0; i < 5; ++i) {
        const double bits = snr.at("inputs").at("bits")[i];
        CHECK(std::abs(capture::ideal_snr(bits) - static_cast<double>(snr.at("recomputed").at("snr_dB")[i])) <= 1e-9);
        CHECK(std::abs(capture::ideal_snr(bits) - static_cast<double>(snr.at("expected").at("snr_dB")[i])) <= 0.02);
        CHECK(std::abs(capture::effective_bits(capture::ideal_snr(bits)) - bits) <= 1e-12);
    }
    for (std::size_t i = 0; i < 3; ++i) {
        const double sinad = enob.at("inputs").at("sinad_dB")[i];
        const double bits = capture::effective_bits(sinad);
        CHECK(std::abs(bits - static_cast<double>(enob.at("expected").at("enob")[i])) <= 0.05);
        // What was recomputed is by the printed formula, (SINAD - 1.76) / 6.02; unrounded, its two figures are those of the entry ahead.
        const double rounded = enob.at("recomputed").at("enob")[i];
        const double slope = snr.at("recomputed").at("slope_dB_per_bit");
        const double offset = snr.at("recomputed").at("offset_dB");
        CHECK(std::abs((bits * slope + offset) - (rounded * 6.02 + 1.76)) <= 1e-9);
    }
}

TEST_CASE(
    "an ideal 12-bit converter with a full-scale sine has 12 effective bits, the quantisation noise and SINAD of the books") {
    // amplitude just inside the end codes
    const sine_fit fit = fit_sine(sampled({.n = 20000, .amplitude = 2046.0, .offset = 2047.5, .noise = 0.0}, 1), 0, 4095);
    REQUIRE(fit.not_testable == "");
    const auto quantisation = published::entry("converters", "adc-quantization-noise");
    published::check_printed(quantisation, "rms", fit.noise.value());
    CHECK(std::abs(fit.noise.value() - static_cast<double>(quantisation.at("recomputed").at("rms"))) <=
          3.0 * fit.u_noise.value());
    CHECK(fit.u_noise.value() <= 0.002);
    published::check_recomputed(quantisation, "rms", uncertainty::standard_uncertainty(uncertainty::rectangular{0.5}));
    CHECK(std::abs(fit.enob - 12.0) <= 3.0 * fit.u_enob);
    CHECK(fit.u_enob <= 0.01);
    CHECK(std::abs(fit.sinad - capture::ideal_snr(12.0) - 20.0 * std::log10(2046.0 / 2048.0)) <= 3.0 * fit.u_sinad);
}

TEST_CASE("amplitude, offset, frequency, noise, SINAD and ENOB come out within uncertainties that are as large as the errors") {
    const truth t;
    const int captures = slow::repetitions(250);
    for (const bool given : {false, true}) {
        double a = 0.0;
        double c = 0.0;
        double f = 0.0;
        double noise = 0.0;
        scatter sinad;
        scatter enob;
        for (int i = 0; i < captures; ++i) {
            const sine_fit fit =
                fit_sine(sampled(t, 10 + static_cast<std::uint64_t>(i)), 0, 4095, given ? std::optional(t.f) : std::nullopt);
            REQUIRE(fit.not_testable == "");
            a += std::pow((fit.amplitude.value() - t.amplitude) / fit.u_amplitude.value(), 2) / captures;
            c += std::pow((fit.offset.value() - t.offset) / fit.u_offset.value(), 2) / captures;
            if (!given) f += std::pow((fit.periods_per_sample - t.f) / fit.u_periods_per_sample, 2) / captures;
            noise += std::pow((fit.noise.value() - std::sqrt(1.0 + 1.0 / 12.0)) / fit.u_noise.value(), 2) / captures;
            CHECK(std::abs(fit.at->value() - 1000.0 * fit.periods_per_sample) <= 1e-9);
            CHECK(std::abs(fit.u_at->value() - 1000.0 * fit.u_periods_per_sample) <= 1e-9);
            if (given) CHECK(fit.u_periods_per_sample == 0.0);
            sinad.add(fit.sinad, fit.u_sinad);
            enob.add(fit.enob, fit.u_enob);
        }
        const double apart = 4.0 * std::sqrt(2.0 / captures);  // of a mean of squares of standard normal quantities
        for (const double mean_square : {a, c, noise}) {
            CHECK(std::abs(mean_square - 1.0) <= apart);
        }
        if (!given) CHECK(std::abs(f - 1.0) <= apart);
        if (captures < 3) continue;  // what two scatter by tells nothing
        for (const scatter& of : {sinad, enob}) {
            CHECK(std::abs(of.over_stated() - 1.0) <= 4.0 / std::sqrt(2.0 * (captures - 1)));
        }
        const double all_noise = std::sqrt(t.noise * t.noise + 1.0 / 12.0);
        const double of_mean = 4.0 / std::sqrt(captures);
        CHECK(std::abs(sinad.mean() - 20.0 * std::log10(t.amplitude / std::sqrt(2.0) / all_noise)) <= of_mean * sinad.stated());
        CHECK(std::abs(enob.mean() - std::log2(4096.0 / std::sqrt(12.0) / all_noise)) <= of_mean * enob.stated());
    }
}

TEST_CASE("fast, slow and long sines are fitted") {
    for (const truth& t :
         {truth{.n = 64, .f = 0.037}, truth{.f = 0.0016}, truth{.f = 0.4871}, truth{.n = 200'000, .f = 0.0771234}}) {
        if (slow::build && t.n > 10'000) continue;
        CAPTURE(t.f);
        const sine_fit fit = fit_sine(sampled(t, 3), 0, 4095);
        REQUIRE(fit.not_testable == "");
        CHECK(std::abs(fit.periods_per_sample - t.f) <= 4.0 * fit.u_periods_per_sample);
        CHECK(std::abs(fit.amplitude.value() - t.amplitude) <= 4.0 * fit.u_amplitude.value());
        CHECK(std::abs(fit.noise.value() - std::sqrt(1.0 + 1.0 / 12.0)) <= 4.0 * fit.u_noise.value());
    }
}

TEST_CASE("what cannot be tested says so") {
    const char* const none =
        "not testable: no sine stands out of the noise, expected one; a steady voltage tests neither noise against signal "
        "nor effective bits: apply a sine of nearly full scale";
    CHECK(fit_sine(sampled({.amplitude = 0.0, .noise = 3.0}, 1), 0, 4095).not_testable == none);
    CHECK(fit_sine(sampled({.amplitude = 0.0, .noise = 0.0}, 1), 0, 4095).not_testable == none);
    CHECK(fit_sine(sampled({.amplitude = 0.0, .noise = 3.0}, 1), 0, 4095, 0.1).not_testable == none);
    CHECK(fit_sine(sampled({.n = 15}, 1), 0, 4095).not_testable == "not testable: 15 samples, expected 16 or more; capture more");
    CHECK(fit_sine(sampled({.n = 100, .f = 0.004}, 1), 0, 4095, 0.004).not_testable ==
          "not testable: 0.40 periods, expected 1 or more; capture longer, or apply a faster sine");
    capture::run cut = sampled({}, 1);
    cut.codes[17] = 4095;
    CHECK(fit_sine(cut, 0, 4095).not_testable ==
          "not testable: 1 samples on an end code, expected none; a sine that is cut off is no sine: lower its amplitude");
    capture::run simple;
    for (int i = 0; i < 100; ++i) simple.codes.push_back(2000 + (i % 4 == 0 ? 100 : i % 4 == 2 ? -100 : 0));
    CHECK(fit_sine(simple, 0, 4095).not_testable ==
          "not testable: only 0.000 codes rms are left beside the sine, expected the 0.29 of quantisation or more; its frequency "
          "is a simple "
          "fraction of the sample rate, which hides quantisation: change it a little");
    CHECK(message([] { (void)fit_sine({}, 0, 4095, 0.5); }) ==
          "frequency of a sine: 0.5 periods per sample, expected above 0 and below 0.5; state frequency over sample rate, or "
          "leave it out");
}

}  // namespace sine_fit_test
