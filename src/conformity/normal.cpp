#include "normal.hpp"

#include "../uncertainty/quantiles.hpp"

#include <cmath>
#include <numbers>

namespace plumbline::inline v0::conformity {

double normal_density(double z) { return std::exp(-0.5 * z * z) * std::numbers::inv_sqrtpi / std::numbers::sqrt2; }

double upper_tail(double z) { return 0.5 * std::erfc(z / std::numbers::sqrt2); }

double normal_between(double a, double b) {
    if (a > 0.0) return upper_tail(a) - upper_tail(b);
    if (b < 0.0) return upper_tail(-b) - upper_tail(-a);
    return 0.5 * (std::erf(b / std::numbers::sqrt2) - std::erf(a / std::numbers::sqrt2));
}

double upper_quantile(double p) { return uncertainty::normal_exceeded_by(p); }

}  // namespace plumbline::inline v0::conformity
