#include "slow_noise.hpp"

#include <algorithm>
#include <cmath>

namespace plumbline::inline v0::capture {

namespace {

constexpr std::size_t fewest_for_slow = 256;
constexpr std::size_t longest_parts = 8;        // of the longest averaging time in a capture
constexpr std::size_t shortest_parts = 4096;    // short times tell 1/f noise from noise with a memory
constexpr std::size_t parts_for_floor = 1024;   // noise seldom goes as 1/f up to all frequencies
constexpr double longest_memory = 1.0 / 128.0;  // of the capture: beyond, noise that averages out looks the same
constexpr double than_white = 16.0;             // twice the logarithm of the likelihoods' ratio, against white noise
constexpr double than_with_memory = 2.0;        // the same against noise with a memory

struct allan_level {
    double m = 0.0;  ///< samples averaged
    double variance = 0.0;
    double of_white = 0.0;    ///< degrees of freedom under white noise
    double of_flicker = 0.0;  ///< and under flicker noise
};
using allan_levels = std::vector<allan_level>;

/// Overlapping Allan variance. Degrees of freedom: D. A. Howe, D. W. Allan, J. A. Barnes, Proc. 35th Ann. Symp. Freq. Control (1981),
/// table of empirical equations, from memory; seen in simulation.
allan_level overlapping(const std::vector<double>& sums, std::size_t m) {
    const std::size_t n = sums.size() - 1;
    const std::size_t pairs = n + 1 - 2 * m;
    double squares = 0.0;
    for (std::size_t i = 0; i < pairs; ++i) {
        const double d = sums[i + 2 * m] - 2.0 * sums[i + m] + sums[i];
        squares += d * d;
    }
    const auto length = static_cast<double>(m);
    const auto all = static_cast<double>(n);
    const double white =
        (3.0 * (all - 1.0) / (2.0 * length) - 2.0 * (all - 2.0) / all) * 4.0 * length * length / (4.0 * length * length + 5.0);
    return {length, squares / (2.0 * length * length * static_cast<double>(pairs)), white,
            5.0 * all * all / (4.0 * length * (all + 3.0 * length))};
}

/// a / m + b shape(m).
struct floor_fit_result {
    double a = 0.0;
    double b = 0.0;
    double variance_of_b = 0.0;
    double log_likelihood = 0.0;
};

/// Weighted least squares with weights from the fit before: the scoring method for chi-squared. a and b are not negative.
floor_fit_result floor_fit(const allan_levels& seen, const std::vector<double>& shape, bool shape_alone_counts) {
    constexpr int rounds = 12;
    floor_fit_result by{seen.back().variance * seen.back().m,
                        shape_alone_counts ? 0.5 * seen.front().variance / shape.front() : 0.0, 0.0, 0.0};
    for (int round = 0; round < rounds; ++round) {
        double w = 0.0;
        double wx = 0.0;
        double wxx = 0.0;
        double wy = 0.0;
        double wxy = 0.0;
        for (std::size_t i = 0; i < seen.size(); ++i) {
            const double x = 1.0 / seen[i].m;
            const double expected = by.a * x + by.b * shape[i];
            const bool flat = by.b * shape[i] > by.a * x;
            const double weight = 0.5 * (flat ? seen[i].of_flicker : seen[i].of_white) / (expected * expected);
            w += weight * shape[i] * shape[i];
            wx += weight * x * shape[i];
            wxx += weight * x * x;
            wy += weight * seen[i].variance * shape[i];
            wxy += weight * seen[i].variance * x;
        }
        const double determinant = w * wxx - wx * wx;
        by = {(w * wxy - wx * wy) / determinant, (wxx * wy - wx * wxy) / determinant, wxx / determinant, 0.0};
        if (by.a <= 0.0) by = {0.0, wy / w, 1.0 / w, 0.0};
        if (by.b <= 0.0 || !shape_alone_counts) by = {wxy / wxx, 0.0, 0.0, 0.0};
    }
    for (std::size_t i = 0; i < seen.size(); ++i) {
        const double expected = by.a / seen[i].m + by.b * shape[i];
        by.log_likelihood -= 0.5 * seen[i].of_white * (std::log(expected) + seen[i].variance / expected);
    }
    return by;
}

/// A(m) of first-order noise with this memory. Integral of its autocovariance exp(-|t| / memory).
double of_first_order(double m, double memory) {
    const double x = m / memory;
    const double e = std::exp(-x);
    return (1.0 - (3.0 - 4.0 * e + e * e) / (2.0 * x)) / x;
}

}  // namespace

std::optional<slow_noise> slow_noise_of(const std::vector<double>& deviations) {
    const std::size_t n = deviations.size();
    if (n < fewest_for_slow) return {};
    std::vector<double> sums(n + 1, 0.0);
    double steps = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        sums[i + 1] = sums[i] + deviations[i];
        if (i > 0) steps += (deviations[i] - deviations[i - 1]) * (deviations[i] - deviations[i - 1]);
    }
    allan_levels seen;
    for (std::size_t parts = longest_parts; parts <= std::min(n, shortest_parts); parts *= 2) {
        seen.push_back(overlapping(sums, n / parts));
        if (!(seen.back().variance > 0.0)) return {};
    }
    const std::vector<double> flat(seen.size(), 1.0);
    const floor_fit_result slow = floor_fit(seen, flat, true);
    const auto better_than = [&](const floor_fit_result& other, double by) {
        return 2.0 * (slow.log_likelihood - other.log_likelihood) > by;
    };
    if (!(slow.b > 0.0) || !better_than(floor_fit(seen, flat, false), than_white)) return {};
    std::vector<double> shape(seen.size());
    double memory = longest_memory * static_cast<double>(n);
    while (memory > 0.5) {
        std::transform(seen.begin(), seen.end(), shape.begin(),
                       [&](const allan_level& l) { return of_first_order(l.m, memory); });
        if (!better_than(floor_fit(seen, shape, true), than_with_memory)) return {};
        memory /= 1.5;
    }
    const double least = std::floor(static_cast<double>(n) / static_cast<double>(parts_for_floor));
    const auto long_ones = std::count_if(seen.begin(), seen.end(), [&](const allan_level& l) { return l.m >= least; });
    seen.resize(static_cast<std::size_t>(long_ones));
    const floor_fit_result floor = floor_fit(seen, {flat.begin(), flat.begin() + long_ones}, true);
    const floor_fit_result& by = floor.b > 0.0 ? floor : slow;
    const double of_samples = steps / (2.0 * static_cast<double>(n - 1));  // the noise of neighbours, at least
    return slow_noise{std::sqrt(by.b) * code, 2.0 * by.b * by.b / by.variance_of_b, std::sqrt(std::max(by.a, of_samples)) * code};
}

}  // namespace plumbline::inline v0::capture
