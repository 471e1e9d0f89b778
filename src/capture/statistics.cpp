#include <plumbline/capture/statistics.hpp>

#include <boost/math/distributions/chi_squared.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

namespace plumbline::capture {

namespace {

using policy = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

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

/// Ljung and Box: Q = n (n + 2) sum rho_k^2 / (n - k) is about chi-squared with as many degrees of freedom as lags, for white
/// noise.
bool visibly_correlated(const std::vector<double>& deviations) {
    const std::size_t lags = std::min<std::size_t>(10, deviations.size() / 5);
    if (lags == 0) {
        return false;
    }
    const double n = static_cast<double>(deviations.size());
    const double zero_lag = lagged_sum(deviations, 0);
    double q = 0.0;
    for (std::size_t k = 1; k <= lags; ++k) {
        const double rho = lagged_sum(deviations, k) / zero_lag;
        q += rho * rho / (n - static_cast<double>(k));
    }
    q *= n * (n + 2.0);
    return q > boost::math::quantile(boost::math::chi_squared_distribution<double, policy>(static_cast<double>(lags)), 0.999);
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

double effective_number(const std::vector<double>& deviations) {
    const double n = static_cast<double>(deviations.size());
    const double variance_of_one = lagged_sum(deviations, 0) / n;
    if (!(variance_of_one > 0.0) || !visibly_correlated(deviations)) {
        return n;
    }
    const double of_mean = variance_of_mean(deviations);
    return of_mean > 0.0 ? std::clamp(variance_of_one / of_mean, 1.0, n) : n;  // not above 0: the samples alternate
}

double mean_from(const std::int32_t* first, std::size_t count, std::int64_t origin) {
    std::int64_t sum = 0;
    for (std::size_t i = 0; i < count; ++i) {
        sum += first[i] - origin;
    }
    return static_cast<double>(sum) / static_cast<double>(count);
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

    return {.n = n,
            .mean = (static_cast<double>(origin) + mean) * code,
            .s = (n > 1 ? std::sqrt(sum_of_squares / static_cast<double>(n - 1)) : 0.0) * code,
            .n_eff = effective_number(deviations),
            .min = *lowest,
            .max = *highest,
            .at_bottom = on_end([&](std::int32_t c) { return c <= bottom_code; }),
            .at_top = on_end([&](std::int32_t c) { return c >= top_code; }),
            .drift = drift * code};
}

}  // namespace plumbline::capture
