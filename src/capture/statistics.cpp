#include <plumbline/capture/statistics.hpp>

#include "../uncertainty/quantiles.hpp"
#include "effective_number.hpp"
#include "sine.hpp"
#include "slow_noise.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace plumbline::inline v0::capture {

namespace {

/// Sum of x_i x_(i+lag). Four sums run side by side: one alone waits for each addition to finish.
double lagged_sum(const std::vector<double>& x, std::size_t lag) {
    double a = 0.0;
    double b = 0.0;
    double c = 0.0;
    double d = 0.0;
    const std::size_t pairs = x.size() - lag;
    std::size_t i = 0;
    for (; i + 4 <= pairs; i += 4) {
        a += x[i] * x[i + lag];
        b += x[i + 1] * x[i + 1 + lag];
        c += x[i + 2] * x[i + 2 + lag];
        d += x[i + 3] * x[i + 3 + lag];
    }
    for (; i < pairs; ++i) {
        a += x[i] * x[i + lag];
    }
    return (a + b) + (c + d);
}

void average_neighbours(std::vector<double>& x) {
    for (std::size_t i = 0; i < x.size() / 2; ++i) {
        x[i] = 0.5 * (x[2 * i] + x[2 * i + 1]);
    }
    x.resize(x.size() / 2);
}

/// Variance of the mean of x, from its autocovariance by Geyer's initial positive sequence.
double variance_of_mean(std::vector<double> x) {
    constexpr std::size_t most_lags = 256;
    for (;;) {
        const double n = static_cast<double>(x.size());
        const std::size_t lags = std::min(most_lags, x.size() / 4);
        const double zero_lag = lagged_sum(x, 0);
        double sum = -zero_lag;
        bool ended = false;
        for (std::size_t k = 0; k + 1 <= lags && !ended; k += 2) {
            const double pair = (k == 0 ? zero_lag : lagged_sum(x, k)) + lagged_sum(x, k + 1);
            ended = pair <= 0.0;
            sum += ended ? 0.0 : 2.0 * pair;
        }
        if (ended || lags < most_lags) {
            return sum / (n * n);
        }
        average_neighbours(x);
    }
}

}  // namespace

bool correlated(const std::vector<double>& deviations, double sum_of_squares, double chance) {
    const std::size_t lags = std::min<std::size_t>(10, deviations.size() / 5);
    if (lags == 0) {
        return false;
    }
    const double n = static_cast<double>(deviations.size());
    double q = 0.0;
    for (std::size_t k = 1; k <= lags; ++k) {
        const double rho = lagged_sum(deviations, k) / sum_of_squares;
        q += rho * rho / (n - static_cast<double>(k));
    }
    q *= n * (n + 2.0);
    return q > uncertainty::chi_squared_exceeded_by(chance, static_cast<double>(lags));
}

double effective_number(const std::vector<double>& deviations, double sum_of_squares) {
    const double n = static_cast<double>(deviations.size());
    const double variance_of_one = sum_of_squares / n;
    if (!(variance_of_one > 0.0) || !correlated(deviations, sum_of_squares, 0.001)) {
        return n;
    }
    const double of_mean = variance_of_mean(deviations);
    return of_mean > 0.0 ? std::clamp(variance_of_one / of_mean, 1.0, n) : n;  // not above 0: the samples alternate
}

namespace {

double mean_from(const std::int32_t* first, std::size_t count, std::int64_t origin) {
    std::int64_t sum = 0;
    for (std::size_t i = 0; i < count; ++i) {
        sum += first[i] - origin;
    }
    return static_cast<double>(sum) / static_cast<double>(count);
}

// Trend and hum. Time t counts samples from the middle of the capture.

constexpr std::size_t batches = fewest_for_hum;
constexpr std::size_t longest_block = 256;
constexpr double clearly = 8.0;         // u of a sine that is taken off
constexpr double passes_for_hum = 5.0;  // u of a sine whose frequency is looked at

struct two {
    double first = 0.0;
    double second = 0.0;
};
using block_weights = std::array<two, longest_block>;

/// Sums of x_i w_i for both weights.
two weighted_sums(const double* x, std::size_t count, const block_weights& w) {
    std::array<two, 4> sums{};
    const auto add = [&](two& to, std::size_t i) {
        to.first += x[i] * w[i].first;
        to.second += x[i] * w[i].second;
    };
    std::size_t i = 0;
    for (; i + 4 <= count; i += 4) {
        add(sums[0], i);
        add(sums[1], i + 1);
        add(sums[2], i + 2);
        add(sums[3], i + 3);
    }
    for (; i < count; ++i) {
        add(sums[0], i);
    }
    return {(sums[0].first + sums[1].first) + (sums[2].first + sums[3].first),
            (sums[0].second + sums[1].second) + (sums[2].second + sums[3].second)};
}

/// A phase given in turns, in radians; whole turns are taken off before they cost digits.
double phase_of(double turns) { return 2.0 * std::numbers::pi * (turns - static_cast<double>(static_cast<std::int64_t>(turns))); }

/// Cosine and sine of a phase given in turns.
two on_circle(double turns) {
    const double phase = phase_of(turns);
    return {std::cos(phase), std::sin(phase)};
}

/// Sum of cos(2 pi f t) over count samples about t = 0: sin(count pi f) / sin(pi f), a geometric series.
double sum_of_cosines(double count, double f) { return std::sin(phase_of(0.5 * count * f)) / std::sin(phase_of(0.5 * f)); }

/// Sum of t sin(2 pi f t): the derivative of the above.
double sum_of_t_sines(double count, double f) {
    const two outer = on_circle(0.5 * count * f);
    const two inner = on_circle(0.5 * f);
    return 0.5 * (outer.second * inner.first - count * outer.first * inner.second) / (inner.second * inner.second);
}

/// One frequency's share of the sums over the capture.
struct oscillation {
    double f;  ///< periods per sample
    block_weights weights{};
    double cosines = 0.0;  ///< sum of x cos(2 pi f t)
    double sines = 0.0;

    /// @param longest  of the blocks that will be added
    oscillation(double periods_per_sample, std::size_t longest) : f(periods_per_sample) {
        constexpr std::size_t stride = 16;  // the angles of a sum multiply: far fewer cosines to compute
        std::array<two, stride> near{};
        for (std::size_t i = 0; i < stride; ++i) {
            near[i] = on_circle(f * static_cast<double>(i));
        }
        for (std::size_t from = 0; from < longest; from += stride) {
            const two far = on_circle(f * static_cast<double>(from));
            for (std::size_t i = 0; i < stride; ++i) {
                weights[from + i] = {far.first * near[i].first - far.second * near[i].second,
                                     far.second * near[i].first + far.first * near[i].second};
            }
        }
    }
    void add(const double* x, std::size_t count, double t_of_first) {
        const two block = weighted_sums(x, count, weights);
        const two turn = on_circle(f * t_of_first);
        cosines += turn.first * block.first - turn.second * block.second;
        sines += turn.second * block.first + turn.first * block.second;
    }
};

struct batch {
    double t = 0.0;  ///< its middle
    double count = 0.0;
    double sum = 0.0;
};

struct sums_over_time {
    double times = 0.0;  ///< sum of x t
    std::array<batch, batches> parts{};
    std::vector<oscillation> oscillations;
};

constexpr block_weights one_and_index = [] {
    block_weights w{};
    for (std::size_t i = 0; i < longest_block; ++i) {
        w[i] = {1.0, static_cast<double>(i)};
    }
    return w;
}();

sums_over_time add_up(const std::vector<double>& x, std::vector<oscillation> oscillations) {
    const std::size_t n = x.size();
    const double middle = 0.5 * static_cast<double>(n - 1);
    sums_over_time all{0.0, {}, std::move(oscillations)};
    for (std::size_t k = 0; k < batches; ++k) {
        const std::size_t begin = k * n / batches;
        const std::size_t end = (k + 1) * n / batches;
        batch& part = all.parts[k];
        part.t = 0.5 * static_cast<double>(begin + end - 1) - middle;
        part.count = static_cast<double>(end - begin);
        for (std::size_t from = begin; from < end; from += longest_block) {
            const std::size_t count = std::min(longest_block, end - from);
            const double t = static_cast<double>(from) - middle;
            const two block = weighted_sums(&x[from], count, one_and_index);
            part.sum += block.first;
            all.times += t * block.first + block.second;
            for (oscillation& o : all.oscillations) {
                o.add(&x[from], count, t);
            }
        }
    }
    return all;
}

/// a and b are 0 without an oscillation.
struct fit : sine_at {
    double f = 0.0;
    double explained = 0.0;  ///< sum of squares
    double parameters = 2.0;

    /// Its mean over a batch. @param cosines  sum_of_cosines(part.count, f), the same for batches of one length
    [[nodiscard]] double mean_over(const batch& part, double cosines) const {
        const two there = on_circle(f * part.t);
        return m + g * part.t + (a * there.first + b * there.second) * cosines / part.count;
    }
};

double sum_of_squared_times(double n) { return n * (n * n - 1.0) / 12.0; }

fit line_alone(double n, double times) {
    const double tt = sum_of_squared_times(n);
    fit r;
    r.g = times / tt;
    r.variance_of_g = 1.0 / tt;
    r.explained = times * times / tt;
    return r;
}

/// By closed sums, which cost nothing per sample. The sum of x is 0.
fit line_and_sine(double n, double times, const oscillation& o) {
    const double c2 = sum_of_cosines(n, 2.0 * o.f);
    fit r{solve({.n = n,
                 .c = sum_of_cosines(n, o.f),
                 .cc = 0.5 * (n + c2),
                 .ss = 0.5 * (n - c2),
                 .ts = sum_of_t_sines(n, o.f),
                 .tt = sum_of_squared_times(n),
                 .xc = o.cosines,
                 .xs = o.sines,
                 .xt = times},
                true)};
    r.f = o.f;
    r.parameters = 4.0;
    r.explained = r.a * o.cosines + r.b * o.sines + r.g * times;
    return r;
}

double amplitude_of(const fit& by) { return std::hypot(by.a, by.b); }

/// What the fit leaves: per sample, and the larger of that and of what is between batches.
struct left_by_fit {
    double of_samples;
    double level;

    left_by_fit(const fit& by, const sums_over_time& sums, double n, double sum_of_squares) {
        double between_batches = 0.0;
        double count = 0.0;
        double cosines = 0.0;
        for (const batch& part : sums.parts) {
            if (part.count != count && by.f > 0.0) {
                count = part.count;
                cosines = sum_of_cosines(count, by.f);
            }
            const double left = part.sum / part.count - by.mean_over(part, cosines);
            between_batches += part.count * left * left / trend_degrees_of_freedom;
        }
        of_samples = std::max(0.0, sum_of_squares - by.explained) / (n - by.parameters);
        level = std::max(of_samples, between_batches);
    }
    [[nodiscard]] double u_of_sine(const fit& by) const {
        return std::sqrt(level * std::max(by.variance_of_a, by.variance_of_b));
    }
};

/// A strong line close to 50 or 60 Hz passes for hum there. Nothing where the line is hum, known to 1 %; else its own frequency with
/// its standard uncertainty, from the curvature of the sum of squares.
struct other_line {
    double f;
    double u;
};
std::optional<other_line> beside_mains(const std::vector<double>& deviations, double mains) {
    const double bin = 1.0 / static_cast<double>(deviations.size());
    const double f = refine_frequency(deviations, mains, bin, true);
    const double step = 0.05 * bin;
    if (!(f > 2.0 * step && f + step < 0.5)) return {};
    const auto squares_at = [&](double at) { return fit_sine_at(deviations, at, true).residual; };
    const double least = squares_at(f);
    const double curvature = (squares_at(f - step) - 2.0 * least + squares_at(f + step)) / (step * step);
    if (!(curvature > 0.0)) return {};
    const double u = std::sqrt(2.0 * least / (static_cast<double>(deviations.size()) - 5.0) / curvature);
    constexpr double doubt = 6.0;  // standard uncertainties: noise may hang together
    if (!(std::abs(f - mains) > mains_tolerance * mains + doubt * u)) return {};
    return other_line{f, u};
}

/// Takes the sine of the fit off the deviations, where it stands out.
/// @param u_frequency  half-width of f, as a fraction
void remove_sine(statistics& st, std::vector<double>& deviations, double sum_of_squares, const fit& by,
                 const left_by_fit& left_over, double u_frequency, frequency sample_rate) {
    constexpr double mostly = 0.5;  // of the sum of squares
    const double amplitude = amplitude_of(by);
    const auto n = static_cast<double>(deviations.size());
    if (!(amplitude > clearly * left_over.u_of_sine(by))) return;
    if (!(0.5 * n * amplitude * amplitude > mostly * sum_of_squares)) return;
    const two step = on_circle(by.f);
    const double middle = 0.5 * (n - 1.0);
    double left = 0.0;
    two at{};
    for (std::size_t i = 0; i < deviations.size(); ++i) {
        constexpr std::size_t renewed = 64;  // a rotation costs less than a sine, and loses a bit now and then
        if (i % renewed == 0) at = on_circle(by.f * (static_cast<double>(i) - middle));
        deviations[i] -= by.m + by.a * at.first + by.b * at.second;
        left += deviations[i] * deviations[i];
        at = {at.first * step.first - at.second * step.second, at.second * step.first + at.first * step.second};
    }
    const double part = sum_of_cosines(n, by.f) / n;
    const double other = std::max(std::abs(sum_of_cosines(n, by.f * (1.0 + u_frequency)) / n - part),
                                  std::abs(sum_of_cosines(n, by.f * (1.0 - u_frequency)) / n - part));
    st.removed =
        removed_hum{.at = by.f * sample_rate,
                    .amplitude = amplitude * code,
                    .shift = -by.m * code,
                    .u = std::hypot(part * std::sqrt(left_over.level * by.variance_of_a), by.a * other / std::sqrt(3.0)) * code,
                    .noise = std::sqrt(left / (n - by.parameters)) * code,
                    .n_eff = effective_number(deviations, left)};
}

/// Fills in noise, slope and hum, and leaves deviations without a sine that stands out.
void fit_line_and_hum(statistics& st, std::vector<double>& deviations, double sum_of_squares,
                      const std::optional<frequency>& sample_rate) {
    const auto n = static_cast<double>(deviations.size());
    const std::size_t longest = std::min(longest_block, (deviations.size() + batches - 1) / batches);
    std::vector<oscillation> judged;
    judged.reserve(mains_frequencies.size());
    for (const double mains : mains_frequencies) {
        if (!sample_rate) {
            continue;
        }
        const double f = mains / sample_rate->value();
        if (n * f >= 1.0 && fewest_samples_in_a_period * f <= 1.0) {
            st.hum.push_back({mains * hertz, n * f, {}, {}});
            judged.emplace_back(f, longest);
        }
    }
    const auto fits_at = [&](const sums_over_time& sums) {
        std::vector<fit> fits;
        for (const oscillation& o : sums.oscillations) fits.push_back(line_and_sine(n, sums.times, o));
        return fits;
    };
    sums_over_time sums = add_up(deviations, judged);
    std::vector<fit> fits = fits_at(sums);
    const auto explains_less = [](const fit& x, const fit& y) { return x.explained < y.explained; };
    fit best = fits.empty() ? line_alone(n, sums.times) : *std::max_element(fits.begin(), fits.end(), explains_less);
    left_by_fit left(best, sums, n, sum_of_squares);
    double u_frequency = mains_tolerance;
    if (best.f > 0.0 && amplitude_of(best) > passes_for_hum * left.u_of_sine(best)) {
        if (const std::optional<other_line> line = beside_mains(deviations, best.f)) {
            u_frequency = std::sqrt(3.0) * line->u / line->f;
            const sums_over_time at_line = add_up(deviations, {oscillation(line->f, longest)});
            best = fits_at(at_line).front();
            left = left_by_fit(best, at_line, n, sum_of_squares);
            // Hum is what is left at its frequencies without that line.
            std::vector<double> without = deviations;
            for (std::size_t i = 0; i < without.size(); ++i) {
                const two at = on_circle(best.f * (static_cast<double>(i) - 0.5 * (n - 1.0)));
                without[i] -= best.m + best.a * at.first + best.b * at.second;
            }
            fits = fits_at(add_up(without, judged));
        }
    }
    st.noise = std::sqrt(left.of_samples) * code;
    st.slope = trend{best.g * (n - 1.0) * code, std::sqrt(left.level * best.variance_of_g) * (n - 1.0) * code};
    if (sample_rate) remove_sine(st, deviations, sum_of_squares, best, left, u_frequency, *sample_rate);
    for (std::size_t i = 0; i < fits.size(); ++i) {
        st.hum[i].amplitude = amplitude_of(fits[i]) * code;
        st.hum[i].u = left.u_of_sine(fits[i]) * code;
    }
}

}  // namespace

statistics summarise(const run& r, std::int32_t bottom_code, std::int32_t top_code) {
    const std::vector<std::int32_t>& samples = r.codes;
    const std::size_t n = samples.size();
    const std::int64_t origin =
        samples.front();  // all sums are of whole distances from here: exact, the same wherever the codes lie
    const double mean = mean_from(samples.data(), n, origin);

    std::vector<double> deviations(n);
    std::transform(samples.begin(), samples.end(), deviations.begin(),
                   [&](std::int32_t c) { return static_cast<double>(c - origin) - mean; });
    const double sum_of_squares = lagged_sum(deviations, 0);

    const std::size_t quarter = std::max<std::size_t>(1, n / 4);
    const double drift = mean_from(samples.data() + (n - quarter), quarter, origin) - mean_from(samples.data(), quarter, origin);
    const auto [lowest, highest] = std::minmax_element(samples.begin(), samples.end());
    const auto on_end = [&](auto is_there) {
        return static_cast<std::size_t>(std::count_if(samples.begin(), samples.end(), is_there));
    };

    const codes s = (n > 1 ? std::sqrt(sum_of_squares / static_cast<double>(n - 1)) : 0.0) * code;
    statistics st{.n = n,
                  .mean = (static_cast<double>(origin) + mean) * code,
                  .s = s,
                  .n_eff = effective_number(deviations, sum_of_squares),
                  .min = *lowest,
                  .max = *highest,
                  .at_bottom = on_end([&](std::int32_t c) { return c <= bottom_code; }),
                  .at_top = on_end([&](std::int32_t c) { return c >= top_code; }),
                  .drift = drift * code,
                  .noise = s};
    if (n >= batches) {
        fit_line_and_hum(st, deviations, sum_of_squares, r.sample_rate);
    }
    st.slow = slow_noise_of(deviations);
    if (st.slow) {
        const double variance_of_one = sum_of_squares / static_cast<double>(n - 1);
        const double floor = st.slow->floor.value();
        st.n_eff = std::clamp(variance_of_one / (floor * floor), 1.0, st.n_eff);
    }
    if (*highest - std::int64_t{*lowest} <= most_few_codes) {
        std::array<std::size_t, most_few_codes + 1> on{};
        for (const std::int32_t c : samples) ++on[static_cast<std::size_t>(c - *lowest)];
        for (std::int32_t c = 0; c <= most_few_codes; ++c) {
            if (on[static_cast<std::size_t>(c)] > 0) st.few_codes.push_back({*lowest + c, on[static_cast<std::size_t>(c)]});
        }
    }
    return st;
}

codes largest_shift_of_mean(const spectral_line& of, std::size_t n) {
    const auto count = static_cast<double>(n);
    return std::abs(sum_of_cosines(count, of.periods / count)) / count * of.amplitude;
}

}  // namespace plumbline::inline v0::capture
