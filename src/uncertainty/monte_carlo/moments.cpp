#include "moments.hpp"

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

void moments::add(const moments& other) {
    const double all = count + other.count;
    if (all == 0.0) return;
    const std::size_t n = mean.size();
    const double share = other.count / all;
    for (std::size_t i = 0; i < n; ++i) {
        const double step = other.mean[i] - mean[i];
        for (std::size_t j = 0; j <= i; ++j) {
            products[i * n + j] += other.products[i * n + j] + step * (other.mean[j] - mean[j]) * count * share;
        }
    }
    for (std::size_t i = 0; i < n; ++i) mean[i] += (other.mean[i] - mean[i]) * share;
    count = all;
}

void moments::of_column(const kernels& k, std::span<const double* const> y, std::size_t trials) {
    const std::size_t n = y.size();
    count = static_cast<double>(trials);
    const bool whole = trials == kernel_column;
    for (std::size_t i = 0; i < n; ++i) {
        double sum = 0.0;
        if (whole) {
            sum = k.sum(y[i]);
        } else {
            for (std::size_t t = 0; t < trials; ++t) sum += y[i][t];
        }
        mean[i] = sum / count;
        for (std::size_t j = 0; j <= i; ++j) {
            double& p = products[i * n + j];
            if (whole) {
                p = k.sum_of_products(y[i], mean[i], y[j], mean[j]);
                continue;
            }
            p = 0.0;
            for (std::size_t t = 0; t < trials; ++t) p += (y[i][t] - mean[i]) * (y[j][t] - mean[j]);
        }
    }
}

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
