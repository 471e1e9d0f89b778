#include <plumbline/capture/sine_fit.hpp>

#include <plumbline/error.hpp>

#include "sine.hpp"
#include "spectrum.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <numbers>
#include <vector>

namespace plumbline::inline v0::capture {

namespace {

constexpr std::size_t fewest_samples = 16;
constexpr std::size_t searched = 65536;  // samples that the first guess of a frequency comes from
constexpr double least_left = 0.05;      // codes
constexpr double stands_out = 5.0;       // standard uncertainties

using matrix = std::array<std::array<double, 4>, 4>;

/// Normal equations of (C, A, B, f), and the right side for the residuals. The columns are 1, cos, sin and the derivative by f over n.
struct equations {
    matrix N{};
    std::array<double, 4> right{};
    double residual = 0.0;

    equations(const std::vector<double>& x, const sine_at& s, double f) {
        const double n = static_cast<double>(x.size());
        double t = -0.5 * (n - 1.0);
        turning now(f, t);
        for (const double v : x) {
            const double by_f = 2.0 * std::numbers::pi * t / n * (s.b * now.cosine() - s.a * now.sine());
            const std::array<double, 4> column{1.0, now.cosine(), now.sine(), by_f};
            const double left = v - s.m - s.a * now.cosine() - s.b * now.sine();
            residual += left * left;
            for (std::size_t i = 0; i < 4; ++i) {
                right[i] += column[i] * left;
                for (std::size_t k = 0; k < 4; ++k) N[i][k] += column[i] * column[k];
            }
            t += 1.0;
            now.step();
        }
    }
};

/// Variance of each parameter for samples of variance 1, and the covariance of A and B.
struct spread {
    std::array<double, 4> variance{};
    double of_a_and_b = 0.0;
    bool sound = true;
};

template <std::size_t count>
spread spread_of(const matrix& N) {
    std::array<std::array<double, count>, count> part{};
    for (std::size_t i = 0; i < count; ++i) std::copy_n(N[i].begin(), count, part[i].begin());
    spread r;
    for (std::size_t i = 0; i < count; ++i) {
        std::array<double, count> unit{};
        unit[i] = 1.0;
        r.sound = r.sound && solve_symmetric(part, unit);
        r.variance[i] = unit[i];
        if (i == 1) r.of_a_and_b = unit[2];
    }
    return r;
}

sine_fit refused(std::string why) {
    sine_fit r;
    r.not_testable = "not testable: " + std::move(why);
    return r;
}

/// @return nothing where no line stands out
std::optional<double> frequency_in(const std::vector<double>& x) {
    const std::vector<double> first(x.begin(), x.begin() + static_cast<std::ptrdiff_t>(std::min(x.size(), searched)));
    const std::size_t padded = std::bit_ceil(4 * first.size());
    const std::vector<double> power = spectra::power(first, padded);
    const std::size_t one_period = (padded + first.size() - 1) / first.size();
    const auto top = std::max_element(power.begin() + static_cast<std::ptrdiff_t>(one_period / 2), power.end() - 1);
    const double mean_power = [&] {
        double sum = 0.0;
        for (const double p : power) sum += p;
        return sum / static_cast<double>(power.size());
    }();
    // The highest of n exponentials is about ln n times their mean; a sine worth testing holds most of the power.
    if (!(*top > 2.0 * std::log(static_cast<double>(padded)) * mean_power)) return {};
    const double per_bin = 1.0 / static_cast<double>(padded);
    double f = refine_frequency(first, static_cast<double>(top - power.begin()) * per_bin, 2.0 * per_bin, false);
    return f;
}

}  // namespace

double ideal_snr(double bits) { return 20.0 * std::log10(std::exp2(bits) * std::sqrt(1.5)); }

double effective_bits(double sinad) { return std::log2(std::pow(10.0, sinad / 20.0) / std::sqrt(1.5)); }

sine_fit fit_sine(const run& r, std::int32_t bottom_code, std::int32_t top_code, std::optional<double> periods_per_sample) {
    if (periods_per_sample && !(*periods_per_sample > 0.0 && *periods_per_sample < 0.5)) {
        throw bad_input("frequency of a sine", fmt::format("{} periods per sample", *periods_per_sample), "above 0 and below 0.5",
                        "state frequency over sample rate, or leave it out");
    }
    if (r.codes.size() < fewest_samples) {
        return refused(fmt::format("{} samples, expected {} or more; capture more", r.codes.size(), fewest_samples));
    }
    const auto on_end = [&](std::int32_t c) { return c <= bottom_code || c >= top_code; };
    if (const auto clipped = std::count_if(r.codes.begin(), r.codes.end(), on_end); clipped > 0) {
        return refused(fmt::format(
            "{} samples on an end code, expected none; a sine that is cut off is no sine: lower its amplitude", clipped));
    }
    const double n = static_cast<double>(r.codes.size());
    double mean = 0.0;
    for (const std::int32_t c : r.codes) mean += static_cast<double>(c) - r.codes.front();
    mean = mean / n + r.codes.front();
    std::vector<double> x(r.codes.size());
    std::transform(r.codes.begin(), r.codes.end(), x.begin(), [&](std::int32_t c) { return static_cast<double>(c) - mean; });

    const std::optional<double> start = periods_per_sample ? periods_per_sample : frequency_in(x);
    const char* const none =
        "no sine stands out of the noise, expected one; a steady voltage tests neither noise against signal nor effective "
        "bits: apply a sine of nearly full scale";
    if (!start) return refused(none);
    double f = *start;
    if (f * n < 1.0)
        return refused(fmt::format("{:.2f} periods, expected 1 or more; capture longer, or apply a faster sine", f * n));
    sine_at s = fit_sine_at(x, f, false);
    if (!periods_per_sample) {
        for (int i = 0; i < 8; ++i) {
            const equations e(x, s, f);
            std::array<double, 4> step = e.right;
            if (!solve_symmetric(e.N, step)) return refused(none);
            const double next = f + step[3] / n;
            if (!(next > 0.0 && next < 0.5) || std::abs(step[3]) > 1.0) break;
            f = next;
            s = fit_sine_at(x, f, false);
            if (std::abs(step[3]) < 1e-12) break;
        }
    }
    const equations e(x, s, f);
    const spread of = periods_per_sample ? spread_of<3>(e.N) : spread_of<4>(e.N);
    if (!of.sound) return refused(none);
    const double freedom = n - (periods_per_sample ? 3.0 : 4.0);
    const double noise = std::sqrt(e.residual / freedom);
    if (!(noise > least_left)) {
        return refused(fmt::format(
            "only {:.3f} codes rms are left beside the sine, expected the 0.29 of quantisation or more; its frequency is a "
            "simple fraction of the sample rate, which hides quantisation: change it a little",
            noise));
    }
    const double amplitude = std::sqrt(s.amplitude_squared());
    // of A and B along the direction of the amplitude
    const double c = s.a / amplitude;
    const double d = s.b / amplitude;
    const double u_amplitude =
        noise * std::sqrt(std::max(0.0, c * c * of.variance[1] + d * d * of.variance[2] + 2.0 * c * d * of.of_a_and_b));
    if (!(amplitude > stands_out * u_amplitude)) return refused(none);

    sine_fit fit;
    fit.amplitude = amplitude * code;
    fit.u_amplitude = u_amplitude * code;
    fit.offset = (s.m + mean) * code;
    fit.u_offset = noise * std::sqrt(of.variance[0]) * code;
    fit.periods_per_sample = f;
    fit.u_periods_per_sample = periods_per_sample ? 0.0 : noise * std::sqrt(of.variance[3]) / n;
    if (r.sample_rate) {
        fit.at = f * *r.sample_rate;
        fit.u_at = fit.u_periods_per_sample * *r.sample_rate;
    }
    const double relative = 1.0 / std::sqrt(2.0 * freedom);
    fit.noise = noise * code;
    fit.u_noise = noise * relative * code;
    const double full_scale = static_cast<double>(top_code) - bottom_code + 1.0;
    fit.sinad = 20.0 * std::log10(amplitude / (std::numbers::sqrt2 * noise));
    fit.u_sinad = 20.0 / std::numbers::ln10 * std::hypot(u_amplitude / amplitude, relative);
    fit.enob = std::log2(full_scale / (noise * std::sqrt(12.0)));
    fit.u_enob = relative / std::numbers::ln2;
    return fit;
}

}  // namespace plumbline::inline v0::capture
