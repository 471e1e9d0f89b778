#pragma once
// Sums of independent symmetric terms, convolved on a grid.

#include <span>
#include <vector>

namespace plumbline::uncertainty {

/// Rectangular terms with half-widths that share a random factor: given the factor's magnitude they are independent.
struct scaled_rectangles {
    std::vector<double> half_widths;  ///< at a factor of 1
    double difference = 0.0;          ///< the factor is rectangular within difference +- half_width
    double half_width = 0.0;
};

/// A magnitude of the factor with its probability.
struct weighted_factor {
    double magnitude;
    double weight;
};

/// Gauss-Legendre nodes for |difference + half_width * x|, x rectangular in [-1, 1]; the weights add up to 1.
[[nodiscard]] std::vector<weighted_factor> magnitudes(double difference, double half_width);

/// What is convolved, all centred on zero, in one unit.
struct symmetric_sum {
    double u_rest = 0.0;              ///< everything that counts as normal or t
    double degrees_of_freedom = 0.0;  ///< of the rest; infinite for a normal
    std::vector<double> rectangles;   ///< half-widths; a triangular term is two of them
    std::vector<scaled_rectangles> groups;
};

/// x with P(|sum| <= x) = probability.
/// @param t_factor  coverage factor of the rest alone at this probability
/// @pre at least one term with u > 0
[[nodiscard]] double symmetric_quantile(const symmetric_sum& sum, double probability, double t_factor);

}  // namespace plumbline::uncertainty
