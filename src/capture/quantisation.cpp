#include <plumbline/capture/quantisation.hpp>

#include "../uncertainty/quantiles.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace plumbline::inline v0::capture {

namespace {

constexpr double enough_noise = 0.4;  // codes
constexpr int harmonics = 3;          // at 0.4 code and above the fourth is below 1e-20

/// How much of the k-th harmonic of the quantiser's error is left by Gaussian noise of sigma codes.
double harmonic_left(int k, double sigma) { return std::exp(-2.0 * std::numbers::pi * std::numbers::pi * k * k * sigma * sigma); }

double bias_bound(double sigma) {
    double sum = 0.0;
    for (int k = 1; k <= harmonics; ++k) {
        sum += harmonic_left(k, sigma) / (std::numbers::pi * k);
    }
    return sum;
}

/// Variance of a sample, in codes squared, at the position where it is largest: midway between two codes.
/// @pre sigma >= enough_noise / 2, where three harmonics are right to 1e-6; it rises with sigma
double largest_variance(double sigma) {
    double sum = sigma * sigma + 1.0 / 12.0;
    for (int k = 1; k <= harmonics; ++k) {
        sum += (4.0 * sigma * sigma + 1.0 / (std::numbers::pi * std::numbers::pi * k * k)) * harmonic_left(k, sigma);
    }
    return sum;
}

double variance_lower_bound(const statistics& of_samples) {
    const double freedom = of_samples.n_eff - 1.0;
    if (freedom < 1.0) {
        return 0.0;
    }
    const double s = of_samples.s.value();
    return s * s * freedom / uncertainty::chi_squared_quantile(0.95, freedom);
}

/// The smallest sigma that can show this variance; 0 below 0.2 code, where it decides nothing.
double smallest_sigma(double variance) {
    double low = enough_noise / 2.0;
    if (variance <= largest_variance(low)) {
        return 0.0;
    }
    double high = std::max(1.0, std::sqrt(variance));  // largest_variance(x) > x^2
    while (high - low > 1e-14 * high) {
        const double middle = 0.5 * (low + high);
        if (middle <= low || middle >= high) {
            break;
        }
        (largest_variance(middle) < variance ? low : high) = middle;
    }
    return low;
}

}  // namespace

quantisation of_mean(const statistics& of_samples) {
    const double sigma = smallest_sigma(variance_lower_bound(of_samples));
    const bool dithered = sigma > enough_noise;
    return {.kind = dithered ? quantisation::regime::dithered : quantisation::regime::hidden,
            .half_width = (dithered ? bias_bound(sigma) : 0.5) * code,
            .sigma_lower = sigma * code};
}

}  // namespace plumbline::inline v0::capture
