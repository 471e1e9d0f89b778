#include <plumbline/uncertainty/reliability.hpp>

#include <fmt/format.h>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

double relative_uncertainty_of_s(std::size_t observations) {
    if (observations < 2) {
        throw bad_input("uncertainty of a standard deviation", fmt::format("{} observations", observations), "at least 2",
                        "take more: one shows no scatter");
    }
    // -ln c4^2. Gamma(x + 1) = x Gamma(x) leads from n to n + 2 by one factor; from m = 64 on what is left is a series in 1/(m - 1),
    // each term of it from the factor's own series in 1/m^2.
    std::size_t m = observations;
    double log_ratio = 0.0;
    for (; m < 64; m += 2) log_ratio -= std::log1p(-1.0 / static_cast<double>(m * m));
    const double x = 1.0 / (static_cast<double>(m) - 1.0);
    const double z = x * x;
    log_ratio += x * (1.0 / 2.0 + z * (-1.0 / 12.0 + z * (1.0 / 10.0 - z * 17.0 / 56.0)));
    return std::sqrt(std::expm1(log_ratio));
}

double degrees_of_freedom_of_judged_u(double relative_uncertainty_of_u) {
    if (!(relative_uncertainty_of_u >= 0.0) || !std::isfinite(relative_uncertainty_of_u)) {
        throw bad_input("degrees of freedom of a judged u",
                        fmt::format("a relative uncertainty of {}", relative_uncertainty_of_u), "0 or more, and finite",
                        "say how far u may be off: 0.25 for a quarter of it");
    }
    return 0.5 / (relative_uncertainty_of_u * relative_uncertainty_of_u);
}

}  // namespace plumbline::inline v0::uncertainty
