#pragma once
// The distribution of a sum of independent terms, each symmetric about zero, by its characteristic function.

#include <cstddef>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// Coefficients that are rectangular about zero times differences that are rectangular about a centre. A coefficient may multiply several
/// differences and a difference several coefficients; what is shared is one and the same in all products.
struct product_sum {
    struct difference {
        double centre = 0.0;
        double half_width = 0.0;
    };
    struct product {
        std::size_t coefficient = 0;
        std::size_t difference = 0;
        double scale = 0.0;  ///< of the result, per unit of the difference, with the coefficient at its limit
    };
    std::size_t coefficients = 0;
    std::vector<difference> differences;
    std::vector<product> products;
};

/// What is added up, all in one unit.
struct symmetric_sum {
    double u_rest = 0.0;              ///< everything that counts as normal or t
    double degrees_of_freedom = 0.0;  ///< of the rest; infinite for a normal
    std::vector<double> rectangles;   ///< half-widths; a triangular term is two of them
    std::vector<double> amplitudes;   ///< of sines of unknown phase
    std::vector<double> pairs;        ///< half the distances of two-point terms
    product_sum products;
};

/// Second and fourth moment of the products' sum about zero.
struct moments {
    double second = 0.0;
    double fourth = 0.0;
};
[[nodiscard]] moments moments_of(const product_sum& sum);

/// x with P(|sum| <= x) = probability.
/// @pre at least one term with u > 0; 0 < probability < 1
[[nodiscard]] double symmetric_quantile(const symmetric_sum& sum, double probability);

}  // namespace plumbline::inline v0::uncertainty
