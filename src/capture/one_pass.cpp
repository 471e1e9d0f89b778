#include <plumbline/capture/one_pass.hpp>

#include <plumbline/capture/quantisation.hpp>
#include <plumbline/error.hpp>

#include "../uncertainty/quantiles.hpp"
#include "effective_number.hpp"
#include "kernels/kernels.hpp"
#include "sine.hpp"
#include "spectrum.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <numbers>
#include <string>
#include <utility>

namespace plumbline::inline v0::capture {

namespace {

constexpr std::size_t parts_for_spectrum = 65536;  // up to so many samples a line is fitted to all of them
constexpr std::size_t parts_without = 8192;
constexpr std::size_t segment_length = 16384;
constexpr std::size_t chunk_length = 4096;  // stays in the first cache while it is gone through more than once
constexpr std::int64_t most_codes = std::int64_t{1} << 20U;
constexpr std::uint64_t tables_full = std::uint64_t{1} << 31U;
constexpr std::size_t fewest_blocks = 16;
constexpr std::size_t octaves_of_slow = 4;
constexpr std::uint64_t blocks_believed = 32;
constexpr std::uint64_t samples_of_a_trend = 16;
constexpr std::uint64_t samples_of_a_width = 64;
constexpr std::uint64_t samples_of_a_spectrum = 64;
constexpr std::size_t trend_batches = 16;
constexpr double outliers_by_chance = 1e-4;  // of captures

/// A capture as means of equal parts, less its mean.
struct part_means {
    std::vector<double> x;
    double length = 1.0;  ///< samples in a part
};

struct allan_result {
    double of_one = 0.0;  ///< L: n times the variance of the mean, where it falls as 1/n
    double floor = 0.0;   ///< variance
    double chance = 1.0;  ///< that independent samples have such a last level
    bool slow = false;
    std::uint64_t correlated_over = 1;  ///< samples
};

/// @param variance  of one sample
allan_result allan(part_means of, double variance) {
    struct level {
        double a, l;
        bool seen;  ///< more than independent samples have
        double freedom;
        std::uint64_t m;
    };
    std::vector<level> levels;
    std::size_t count = 0;
    for (std::size_t k = of.x.size(); k >= fewest_blocks; k /= 2) ++count;
    // Lags see weak correlation in fewer samples than Allan variances do.
    double of_parts = 0.0;
    for (const double x : of.x) of_parts += x * x;
    const double parts = static_cast<double>(of.x.size());
    const double by_lags = of.x.empty() ? 0.0 : of.length * of_parts / effective_number(of.x, of_parts);
    allan_result r{.of_one = by_lags > variance * (1.0 + 3.0 / std::sqrt(std::max(parts, 1.0))) ? by_lags : variance};
    while (of.x.size() >= fewest_blocks) {
        const std::size_t blocks = of.x.size();
        double squares = 0.0;
        for (std::size_t i = 1; i < blocks; ++i) {
            const double step = of.x[i] - of.x[i - 1];
            squares += step * step;
        }
        const double k = static_cast<double>(blocks);
        const double a = squares / (2.0 * (k - 1.0));
        const double freedom =
            2.0 * (k - 1.0) * (k - 1.0) / (3.0 * k - 4.0);  // of differences of neighbours, independent samples
        const double limit = uncertainty::chi_squared_exceeded_by(1e-3 / static_cast<double>(count), freedom) / freedom;
        const double l = of.length * a;
        levels.push_back({a, l, l > limit * variance, freedom, static_cast<std::uint64_t>(of.length)});
        if (l > limit * r.of_one) r.of_one = l;
        for (std::size_t i = 0; i < blocks / 2; ++i) of.x[i] = 0.5 * (of.x[2 * i] + of.x[2 * i + 1]);
        of.x.resize(blocks / 2);
        of.length *= 2.0;
    }
    if (r.of_one > variance) {
        const auto reached = [&](const level& each) { return each.l >= 0.7 * r.of_one; };
        const auto first = std::find_if(levels.begin(), levels.end(), reached);
        r.correlated_over = first != levels.end() ? first->m : levels.empty() ? 1 : levels.back().m;
    }
    if (levels.size() > octaves_of_slow) {
        const level& last = levels.back();
        r.slow = last.seen && last.a > 0.35 * levels[levels.size() - 1 - octaves_of_slow].a;
        const auto lower = [](const level& p, const level& q) { return p.a < q.a; };
        if (r.slow) {
            r.floor = std::min_element(levels.begin(), levels.end(), lower)->a;
            r.chance = uncertainty::chance_of_chi_squared_above(last.freedom * last.l / variance, last.freedom);
        }
    }
    return r;
}

/// Least squares from part means; u by the noise of samples or of 16 batches, the larger.
/// @param of_one  n times the variance of the mean
trend trend_of(const part_means& of, double n, double of_one) {
    const double parts = static_cast<double>(of.x.size());
    const double middle = 0.5 * (parts - 1.0);
    double xt = 0.0;
    double sum = 0.0;
    for (std::size_t i = 0; i < of.x.size(); ++i) {
        xt += of.x[i] * (static_cast<double>(i) - middle);
        sum += of.x[i];
    }
    const double tt = parts * (parts * parts - 1.0) / 12.0;
    const double slope = xt / tt;  // for a part
    double between = 0.0;
    for (std::size_t b = 0; b < trend_batches; ++b) {
        const std::size_t begin = b * of.x.size() / trend_batches;
        const std::size_t end = (b + 1) * of.x.size() / trend_batches;
        double left = 0.0;
        for (std::size_t i = begin; i < end; ++i) {
            left += of.x[i] - sum / parts - slope * (static_cast<double>(i) - middle);
        }
        const double length = static_cast<double>(end - begin);
        between += left * left / length / trend_degrees_of_freedom;
    }
    double squares = 0.0;
    for (std::size_t i = 0; i < of.x.size(); ++i) {
        const double left = of.x[i] - sum / parts - slope * (static_cast<double>(i) - middle);
        squares += left * left;
    }
    const double of_parts = squares / (parts - 2.0);
    const double level = std::max({of_parts, between, std::min(of_one / of.length, between)});
    const double whole = (n - 1.0) / of.length;
    return {slope * whole * code, std::sqrt(level / tt) * whole * code};
}

/// Quantile of samples spread evenly over the width of their codes, in codes above the bottom code.
double quantile_of(const std::vector<std::uint64_t>& counts, double n, double p) {
    double below = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double here = static_cast<double>(counts[i]);
        if (here > 0.0 && below + here >= p * n) return static_cast<double>(i) - 0.5 + (p * n - below) / here;
        below += here;
    }
    return static_cast<double>(counts.size()) - 0.5;
}

outliers outliers_of(const std::vector<std::uint64_t>& counts, double bottom, double n, double chance) {
    constexpr double one_sigma = 0.15865525393145707;
    const double middle = quantile_of(counts, n, 0.5);
    const double width = 0.5 * (quantile_of(counts, n, 1.0 - one_sigma) - quantile_of(counts, n, one_sigma));
    const double z = uncertainty::normal_exceeded_by(0.5 * chance / n);
    const double reach = z * width * (1.0 + 5.0 / std::sqrt(n)) + 1.0;
    outliers r{.low = bottom + middle - reach, .high = bottom + middle + reach};
    double with = 0.0;
    double without = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double off = static_cast<double>(i) - middle;
        const double sum = static_cast<double>(counts[i]) * off;
        with += sum;
        if (std::abs(off) > reach) {
            r.count += counts[i];
        } else {
            without += sum;
        }
    }
    if (r.count > 0) r.shift_of_mean = (with / n - without / (n - static_cast<double>(r.count))) * code;
    return r;
}

/// Samples that hold whole periods: the fewest whose rest is below 1/500 of what was averaged, else the best of 50 periods.
std::uint64_t whole_periods(double period) {
    double best = 1.0;
    double least = 1.0;
    for (int whole = 1; whole <= 50; ++whole) {
        const double periods = whole;
        const double samples = std::round(periods * period);
        const double rest = std::abs(samples / period - periods) / periods;
        if (rest < least) {
            least = rest;
            best = samples;
        }
        if (rest <= 0.002) break;
    }
    return static_cast<std::uint64_t>(std::max(best, 1.0));
}

struct candidate {
    double f = 0.0;    ///< periods per sample
    double u_f = 0.0;  ///< its standard uncertainty
    double amplitude = 0.0;
    bool exact = false;  ///< f is known to a small part of 1/n
    double chance = 1.0;
};

std::optional<candidate> in_parts(const part_means& of) {
    const std::size_t n = of.x.size();
    if (n < samples_of_a_spectrum) return {};
    std::vector<double> x = of.x;
    double xt = 0.0;
    const double middle = 0.5 * static_cast<double>(n - 1);
    for (std::size_t i = 0; i < n; ++i) xt += x[i] * (static_cast<double>(i) - middle);
    const double slope = 12.0 * xt / (static_cast<double>(n) * (static_cast<double>(n) * static_cast<double>(n) - 1.0));
    for (std::size_t i = 0; i < n; ++i) x[i] -= slope * (static_cast<double>(i) - middle);
    const std::size_t padded = std::bit_ceil(2 * n);
    const double per_bin = 1.0 / static_cast<double>(padded);
    const auto one_period = static_cast<std::size_t>(std::ceil(static_cast<double>(padded) / static_cast<double>(n)));
    const std::vector<double> power = spectra::power(x, padded);
    const spectra::peak found = spectra::highest(power, 1.0, padded / n, one_period);
    std::size_t bin = found.bin;
    double chance = found.chance;
    if (!(found.excess > 1.0)) {
        // A line may be hidden by what it leaks into its neighbours: is there one when it is taken off?
        bin = static_cast<std::size_t>(std::max_element(power.begin() + static_cast<std::ptrdiff_t>(one_period), power.end()) -
                                       power.begin());
    }
    const double f = refine_frequency(of.x, static_cast<double>(bin) * per_bin, per_bin, true);
    if (f * static_cast<double>(n) < 1.0) return {};
    if (!(found.excess > 1.0)) {
        const sine_at line = fit_sine_at(of.x, f, true);
        turning now(f, -middle);
        for (std::size_t i = 0; i < n; ++i) {
            x[i] = of.x[i] - line.m - line.g * (static_cast<double>(i) - middle) - line.a * now.cosine() - line.b * now.sine();
            now.step();
        }
        const double level = spectra::noise_at(spectra::power(x, padded), 1.0, padded / n, bin);
        constexpr double enough = 3.0;  // what is taken off slow noise looks like a line too; seen in simulation
        if (!(spectra::excess_of(power[bin] / level, power.size(), 1.0, padded / n) > enough)) return {};
        chance = spectra::chance_of(power[bin] / level / enough, power.size(), 1.0, padded / n);
    }
    const double averaged_away =
        of.length > 1.0 ? std::sin(std::numbers::pi * f) / (of.length * std::sin(std::numbers::pi * f / of.length)) : 1.0;
    const sine_at line = fit_sine_at(of.x, f, true);
    const double amplitude = std::sqrt(line.amplitude_squared());
    // of least squares over many periods: sqrt 6 noise / (pi amplitude n^(3/2)), with what 5 parameters leave
    const double k = static_cast<double>(n);
    const double u = std::sqrt(6.0 * line.residual / (k - 5.0)) / (std::numbers::pi * amplitude * k * std::sqrt(k));
    return candidate{f / of.length, u / of.length, amplitude / averaged_away, true, chance};
}

/// Allan variances of what is left when a line is taken off.
allan_result without(const candidate& line, part_means of, double variance) {
    const double f = line.f * of.length;
    const sine_at fit = fit_sine_at(of.x, f, true);
    turning now(f, -0.5 * static_cast<double>(of.x.size() - 1));
    for (double& x : of.x) {
        x -= fit.a * now.cosine() + fit.b * now.sine();
        now.step();
    }
    const double rest = variance - 0.5 * line.amplitude * line.amplitude;
    return allan(std::move(of), rest > 0.0 ? rest : variance);
}

std::optional<candidate> in_segments(std::vector<double> power, double segments) {
    for (double& p : power) p /= segments;
    const spectra::peak found = spectra::highest(power, segments, 1, 4);
    if (!(found.excess > 1.0) || found.bin + 2 >= power.size()) return {};
    double sum = 0.0;
    double moment = 0.0;
    for (std::size_t k = found.bin - 2; k <= found.bin + 2; ++k) {
        const double p = std::max(0.0, power[k] - found.level);
        sum += p;
        moment += p * static_cast<double>(k);
    }
    const double length = segment_length;
    return candidate{moment / sum / length, 0.5 / std::sqrt(3.0) / length, std::sqrt(4.0 * sum / (1.5 * length * length)), false,
                     found.chance};
}

}  // namespace

one_pass::one_pass(std::int32_t bottom_code, std::int32_t top_code, std::optional<frequency> sample_rate, bool spectrum)
    : bottom_(bottom_code), top_(top_code), spectrum_(spectrum), most_parts_(spectrum ? parts_for_spectrum : parts_without) {
    const std::int64_t codes = std::int64_t{top_code} - bottom_code + 1;
    if (codes < 2 || codes > most_codes) {
        throw bad_input("converter of a capture", "codes from " + std::to_string(bottom_code) + " to " + std::to_string(top_code),
                        "2 to 1048576 codes", "state the converter's bottom and top code");
    }
    if (sample_rate) sampled_at(*sample_rate);
    tables_.resize(4 * static_cast<std::size_t>(codes));
    counts_.resize(static_cast<std::size_t>(codes));
}

void one_pass::sampled_at(frequency rate) {
    if (!(rate.value() > 0.0 && std::isfinite(rate.value()))) {
        throw bad_input("sample rate of a capture", std::to_string(rate.value()) + " Hz", "above 0 Hz and finite",
                        "state the sample rate, or none");
    }
    sample_rate_ = rate;
}

void one_pass::count(const std::int32_t* samples, std::size_t n) {
    const std::size_t codes = counts_.size();
    // Indices from the bottom code, as unsigned differences: add() has seen that they are codes of the converter.
    std::uint32_t* a = tables_.data();
    std::uint32_t* b = a + codes;
    std::uint32_t* c = b + codes;
    std::uint32_t* d = c + codes;
    const auto at = [&](std::int32_t sample) { return static_cast<std::uint32_t>(sample) - static_cast<std::uint32_t>(bottom_); };
    std::size_t i = 0;
    for (; i + 4 <= n; i += 4) {
        ++a[at(samples[i])];
        ++b[at(samples[i + 1])];
        ++c[at(samples[i + 2])];
        ++d[at(samples[i + 3])];
    }
    for (; i < n; ++i) ++a[at(samples[i])];
    in_tables_ += n;
    if (in_tables_ >= tables_full) {
        counts_ = counts();
        std::fill(tables_.begin(), tables_.end(), 0);
        in_tables_ = 0;
    }
}

std::vector<std::uint64_t> one_pass::counts() const {
    std::vector<std::uint64_t> all = counts_;
    const std::size_t codes = all.size();
    for (std::size_t i = 0; i < codes; ++i) {
        all[i] += std::uint64_t{tables_[i]} + tables_[codes + i] + tables_[2 * codes + i] + tables_[3 * codes + i];
    }
    return all;
}

void one_pass::halve() {
    for (std::size_t i = 0; i < most_parts_ / 2; ++i) parts_[i] = parts_[2 * i] + parts_[2 * i + 1];
    parts_.resize(most_parts_ / 2);
    part_length_ *= 2;
}

void one_pass::sum_up(const kernel_detail::kernels& kernels, const std::int32_t* samples, std::size_t n) {
    constexpr std::size_t worth_a_call = 32;
    const std::uint32_t last = static_cast<std::uint32_t>(top_) - static_cast<std::uint32_t>(bottom_);
    const auto distances = [&](const std::int32_t* x, std::size_t count) {
        if (count >= worth_a_call) return kernels.look(x, count, bottom_, last).sum;
        std::uint64_t sum = 0;
        for (std::size_t i = 0; i < count; ++i) sum += static_cast<std::uint32_t>(x[i]) - static_cast<std::uint32_t>(bottom_);
        return sum;
    };
    while (n > 0) {
        if (parts_.size() == most_parts_) {
            if (part_length_ == 1 && spectrum_) {  // from here on spectra are taken as the samples come
                std::vector<double> first(parts_.begin(), parts_.end());
                for (std::size_t from = 0; from < most_parts_; from += segment_length) add_segment(&first[from]);
            }
            halve();
        }
        const auto take = static_cast<std::size_t>(std::min<std::uint64_t>(part_length_ - in_part_, n));
        part_ += distances(samples, take);
        in_part_ += take;
        samples += take;
        n -= take;
        if (in_part_ == part_length_) {
            parts_.push_back(part_);
            part_ = 0;
            in_part_ = 0;
        }
    }
}

void one_pass::add_segment(const double* samples) {
    static const std::vector<double> weights = spectra::hann(segment_length);
    double mean = 0.0;
    for (std::size_t i = 0; i < segment_length; ++i) mean += samples[i] / static_cast<double>(segment_length);
    std::vector<double> x(segment_length);
    for (std::size_t i = 0; i < segment_length; ++i) x[i] = (samples[i] - mean) * weights[i];
    if (turns_.empty()) turns_ = spectra::turns(segment_length / 2);
    const std::vector<double> p = spectra::power(x, segment_length, turns_);
    if (spectrum_sum_.empty()) spectrum_sum_.resize(p.size());
    for (std::size_t k = 0; k < p.size(); ++k) spectrum_sum_[k] += p[k];
    ++segments_;
}

void one_pass::to_segments(const std::int32_t* samples, std::size_t n) {
    while (n > 0) {
        const std::size_t take = std::min(segment_length - segment_.size(), n);
        segment_.insert(segment_.end(), samples, samples + take);
        samples += take;
        n -= take;
        if (segment_.size() == segment_length) {
            add_segment(segment_.data());
            segment_.clear();
        }
    }
}

void one_pass::add(std::span<const std::int32_t> samples) {
    const std::uint32_t last = static_cast<std::uint32_t>(top_) - static_cast<std::uint32_t>(bottom_);
    const kernel_detail::kernels& kernels = kernel_detail::chosen_kernels();
    while (!samples.empty()) {
        std::size_t take = std::min(chunk_length, samples.size());
        // A chunk ends where the first 65 536 samples do: spectra take them from the parts, and later ones from here.
        if (n_ < most_parts_) take = static_cast<std::size_t>(std::min<std::uint64_t>(take, most_parts_ - n_));
        const bool bad = !kernels.look(samples.data(), take, bottom_, last).within;
        if (bad) {
            for (take = 0; samples[take] >= bottom_ && samples[take] <= top_;) ++take;
        }
        count(samples.data(), take);
        sum_up(kernels, samples.data(), take);
        if (spectrum_ && n_ >= most_parts_) to_segments(samples.data(), take);
        n_ += take;
        if (bad) {
            throw bad_input("sample " + std::to_string(n_ + 1) + " of the capture", "code " + std::to_string(samples[take]),
                            "a code from " + std::to_string(bottom_) + " to " + std::to_string(top_),
                            "state the converter's codes as they are, or look for damage in the transfer");
        }
        samples = samples.subspan(take);
    }
}

one_pass_statistics one_pass::statistics() const {
    if (n_ == 0) {
        throw bad_input("capture", "no samples", "at least one", "add samples before asking for statistics");
    }
    one_pass_statistics st;
    st.n = n_;
    st.counts = counts();
    st.bottom_code = bottom_;
    const auto n = static_cast<double>(n_);

    std::uint64_t sum = 0;  // exact to 2^44 samples of 2^20 codes
    for (std::size_t i = 0; i < st.counts.size(); ++i) sum += st.counts[i] * i;
    const std::uint64_t whole = sum / n_;
    const double mean = static_cast<double>(whole) + static_cast<double>(sum % n_) / n;
    double squares = 0.0;
    for (std::size_t i = 0; i < st.counts.size(); ++i) {
        const double off = static_cast<double>(i) - mean;
        squares += static_cast<double>(st.counts[i]) * (off * off);
    }
    const auto occupied = [](std::uint64_t c) { return c != 0; };
    const auto lowest = std::find_if(st.counts.begin(), st.counts.end(), occupied) - st.counts.begin();
    const auto highest = st.counts.rend() - std::find_if(st.counts.rbegin(), st.counts.rend(), occupied) - 1;
    st.mean = (static_cast<double>(bottom_) + mean) * code;
    const double variance = n_ > 1 ? squares / (n - 1.0) : 0.0;
    st.s = std::sqrt(variance) * code;
    st.min = static_cast<std::int32_t>(bottom_ + lowest);
    st.max = static_cast<std::int32_t>(bottom_ + highest);
    st.at_bottom = st.counts.front();
    st.at_top = st.counts.back();
    if (n_ >= samples_of_a_width) st.far_out = outliers_of(st.counts, static_cast<double>(bottom_), n, outliers_by_chance);

    part_means means{std::vector<double>(parts_.size()), static_cast<double>(part_length_)};
    for (std::size_t i = 0; i < parts_.size(); ++i) {
        means.x[i] = static_cast<double>(parts_[i]) / means.length - mean;
    }
    std::optional<candidate> best;
    st.spectrum_judged = spectrum_ && n_ >= samples_of_a_spectrum;
    if (st.spectrum_judged) {
        best = in_parts(means);
        if (segments_ >= 4) {
            const std::optional<candidate> fast = in_segments(spectrum_sum_, static_cast<double>(segments_));
            if (fast && (!best || fast->amplitude > best->amplitude)) best = fast;
        }
    }
    // Of noise, the line counts in n_eff; whether the rest has a floor is seen without it.
    const allan_result all = allan(means, variance);
    const allan_result slow = best && best->exact ? without(*best, means, variance) : all;
    st.floor = std::sqrt(slow.floor) * code;
    st.chance_of_floor = slow.chance;
    const double of_mean = std::max(all.of_one / n, slow.floor);
    st.n_eff = of_mean > variance / n ? std::clamp(variance / of_mean, 1.0, n) : n;
    st.told_from = blocks_believed * slow.correlated_over;
    st.longer = slow.slow || !(variance > 0.0) ? longer_capture::does_not_help
                : n_ < st.told_from            ? longer_capture::cannot_be_told
                                               : longer_capture::helps;
    if (n_ >= samples_of_a_trend) st.slope = trend_of(means, n, all.of_one);
    if (sample_rate_) st.slowest_judged = *sample_rate_ / n;
    if (!best) return st;
    strongest_line line;
    line.periods_per_sample = best->f;
    line.u_periods_per_sample = best->u_f;
    if (sample_rate_) line.at = best->f * *sample_rate_;
    line.periods = best->f * n;
    line.amplitude = best->amplitude * code;
    const double over_all = 1.0 / (n * std::sin(std::numbers::pi * best->f));  // sum of a geometric series
    const double rest = std::abs(std::sin(std::numbers::pi * (line.periods - std::floor(line.periods))));
    line.largest_shift = best->amplitude * over_all * (best->exact ? rest : 1.0) * code;
    line.average_samples = whole_periods(1.0 / best->f);
    line.chance = best->chance;
    st.line = line;
    return st;
}

one_pass_statistics in_one_pass(const run& r, std::int32_t bottom_code, std::int32_t top_code, bool spectrum) {
    one_pass seen(bottom_code, top_code, r.sample_rate, spectrum);
    seen.add(r.codes);
    return seen.statistics();
}

std::optional<outliers> outliers_in(const one_pass_statistics& seen, double chance) {
    if (seen.n < samples_of_a_width) return {};
    return outliers_of(seen.counts, static_cast<double>(seen.bottom_code), static_cast<double>(seen.n), chance);
}

bool may_be_mains(const strongest_line& line) {
    if (!line.at) return false;
    constexpr int harmonics = 10;
    constexpr double doubt = 6.0;  // standard uncertainties: noise may hang together
    const double at = line.at->value();
    const double reach = doubt * line.u_periods_per_sample / line.periods_per_sample * at;
    return std::any_of(std::begin(mains_frequencies), std::end(mains_frequencies), [&](double mains) {
        const double harmonic = std::clamp(std::round(at / mains), 1.0, static_cast<double>(harmonics)) * mains;
        return std::abs(at - harmonic) <= mains_tolerance * harmonic + reach;
    });
}

quantisation quantisation_in(const one_pass_statistics& seen, double n_eff) {
    constexpr double enough = 1e8;  // know the scatter to 7e-5 of it; quantiles of chi-squared get slow above
    return of_mean({.n = static_cast<std::size_t>(seen.n),
                    .mean = seen.mean,
                    .s = seen.s,
                    .n_eff = std::min(n_eff, enough),
                    .min = seen.min,
                    .max = seen.max,
                    .at_bottom = static_cast<std::size_t>(seen.at_bottom),
                    .at_top = static_cast<std::size_t>(seen.at_top),
                    .drift = codes()});
}

std::optional<std::uint64_t> samples_for(const one_pass_statistics& seen, codes U, codes half_width) {
    if (!(U.value() > 0.0 && std::isfinite(U.value()))) {
        throw bad_input("wanted uncertainty of a mean", std::to_string(U.value()) + " codes", "above 0 codes and finite",
                        "state the expanded uncertainty (k = 2) that is wanted");
    }
    const double u = 0.5 * U.value();
    const double left = u * u - half_width.value() * half_width.value() / 3.0;
    const double floor = seen.floor.value();
    if (!(left > 0.0) || (seen.longer == longer_capture::does_not_help && floor * floor > left)) return {};
    const double s = seen.s.value();
    // n u^2 of the mean: of the samples as they hang together, without the floor
    const double of_one = s * s * static_cast<double>(seen.n) / seen.n_eff;
    constexpr double to_a_millionth = 1.0 - 1e-6;  // what quantisation leaves of a millionth asks for no sample more
    const double needed = std::ceil(of_one / left * to_a_millionth);
    constexpr double most = 1e18;
    if (!(needed < most)) return {};
    return static_cast<std::uint64_t>(std::max(needed, 1.0));
}

std::optional<std::uint64_t> samples_for(const one_pass_statistics& seen, codes U) {
    const auto enough = [&](std::uint64_t n) {
        double n_eff = seen.n_eff / static_cast<double>(seen.n) * static_cast<double>(n);
        if (seen.longer == longer_capture::does_not_help) n_eff = std::min(n_eff, seen.n_eff);
        const auto needed = samples_for(seen, U, quantisation_in(seen, std::max(n_eff, 1.0)).half_width);
        return needed && *needed <= n;
    };
    constexpr std::uint64_t most = 1'000'000'000'000'000;
    std::uint64_t high = 1;
    for (; !enough(high); high *= 2) {
        if (high > most / 2) return {};
    }
    std::uint64_t low = high / 2;  // not enough
    while (high - low > 1) {
        const std::uint64_t middle = low + (high - low) / 2;
        (enough(middle) ? high : low) = middle;
    }
    return high;
}

}  // namespace plumbline::inline v0::capture
