#pragma once
// Means and sums of products of several results, put together from parts.

#include "kernels.hpp"

#include <span>
#include <vector>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

/// Of some trials: how many, the means, and the sums of products about the means.
struct moments {
    double count = 0.0;
    std::vector<double> mean;
    std::vector<double> products;  ///< of results i and j at [i * results + j], i >= j

    explicit moments(std::size_t results = 0) : mean(results, 0.0), products(results * results, 0.0) {}

    /// Adds other trials. The order counts, to the last bit: always by rising trials.
    /// Source: T. F. Chan, G. H. Golub, R. J. LeVeque, Updating formulae and a pairwise algorithm (1979), eq. (2.1).
    void add(const moments& other);
    /// Replaces all by those of a column's first `trials` trials.
    void of_column(const kernels& k, std::span<const double* const> y, std::size_t trials);

    [[nodiscard]] double covariance(std::size_t i, std::size_t j) const {
        return (i >= j ? products[i * mean.size() + j] : products[j * mean.size() + i]) / (count - 1.0);
    }
};

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
