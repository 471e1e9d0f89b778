#include <plumbline/uncertainty/coverage.hpp>

#include "convolution.hpp"

#include <fmt/format.h>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>
#include <plumbline/error.hpp>
#include <string>

namespace plumbline::inline v0::uncertainty {

namespace {

// Without promotion to long double: ten times faster, and the digits a coverage factor needs are there.
// And without throwing from within: what is no number is refused here.
using quiet_policy = boost::math::policies::policy<boost::math::policies::promote_double<false>,
                                                   boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
                                                   boost::math::policies::domain_error<boost::math::policies::ignore_error>>;

using normal_of_one = boost::math::normal_distribution<double, quiet_policy>;
using student_t = boost::math::students_t_distribution<double, quiet_policy>;

/// t with the tail beyond it, for degrees of freedom that are many beside the square of the normal quantile x. Fisher's expansion comes within
/// 1e-6; one step of third order in the distribution function, whose density is that of x over dt/dx, leaves nothing of that. A general
/// solver takes three steps.
/// Source: R. A. Fisher, E. A. Cornish, Technometrics 2 (1960) 209 (Abramowitz and Stegun, 26.7.5).
double quantile_of_many(double nu, double x, double tail) {
    const double s = x * x;
    const double h = 1.0 / nu;
    const double g[] = {x * (s + 1.0) / 4.0, x * ((5.0 * s + 16.0) * s + 3.0) / 96.0,
                        x * (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0,
                        x * ((((79.0 * s + 776.0) * s + 1482.0) * s - 1920.0) * s - 945.0) / 92160.0};
    const double slope[] = {(3.0 * s + 1.0) / 4.0, ((25.0 * s + 48.0) * s + 3.0) / 96.0,
                            (((21.0 * s + 95.0) * s + 51.0) * s - 15.0) / 384.0,
                            ((((711.0 * s + 5432.0) * s + 7410.0) * s - 5760.0) * s - 945.0) / 92160.0};
    const double t = x + h * (g[0] + h * (g[1] + h * (g[2] + h * g[3])));
    const double dt_dx = 1.0 + h * (slope[0] + h * (slope[1] + h * (slope[2] + h * slope[3])));
    const double density = std::exp(-0.5 * s) * 0.39894228040143267794 / dt_dx;  // 1 / sqrt(2 pi)
    const double step = (boost::math::cdf(boost::math::complement(student_t(nu), t)) - tail) / density;
    return t + step * (1.0 + 0.5 * step * (nu + 1.0) * t / (nu + t * t));
}

constexpr double lightest_tails = -0.35;
constexpr double heaviest_tails = 0.1;
constexpr double negligible_share = 1e-3;  // of the variance: such a term moves k by less than 1e-6, whatever its shape

/// The terms sorted by what they are to a convolution.
struct sorted_terms {
    symmetric_sum sum;
    double fourth_cumulant = 0.0;
    bool bounded = false;  // at least one term has a shape of its own

    sorted_terms(std::span<const term> terms, double u) {
        double rest_variance = 0.0;
        double rest_satterthwaite = 0.0;
        const auto to_rest = [&](double variance, double nu) {
            rest_variance += variance;
            if (std::isfinite(nu)) rest_satterthwaite += variance * variance / nu;
        };
        for (const term& t : terms) {
            const double contribution = std::abs(t.sensitivity) * standard_uncertainty(*t.spread);
            const double variance = contribution * contribution;
            // Where a term is too small to matter, its shape is too.
            const distribution* shape = variance <= negligible_share * u * u ? nullptr : t.spread;
            if (const auto* r = std::get_if<rectangular>(shape)) {
                sum.rectangles.push_back(std::abs(t.sensitivity) * r->half_width);
                fourth_cumulant += -1.2 * variance * variance;
            } else if (const auto* tri = std::get_if<triangular>(shape)) {
                sum.rectangles.insert(sum.rectangles.end(), 2, 0.5 * std::abs(t.sensitivity) * tri->half_width);
                fourth_cumulant += -0.6 * variance * variance;
            } else if (const auto* trapezoid = std::get_if<trapezoidal>(shape)) {
                for (const double side : {1.0, -1.0}) {
                    const double half_width =
                        0.5 * std::abs(t.sensitivity) * (trapezoid->half_width + side * trapezoid->top_half_width);
                    sum.rectangles.push_back(half_width);
                    fourth_cumulant += -1.2 * std::pow(half_width, 4.0) / 9.0;
                }
            } else if (const auto* sine = std::get_if<arcsine>(shape)) {
                sum.amplitudes.push_back(std::abs(t.sensitivity) * sine->half_width);
                fourth_cumulant += -1.5 * variance * variance;
            } else if (const auto* p = std::get_if<coefficient_times_difference>(shape)) {
                add_product(*p, t.sensitivity);
            } else {
                to_rest(variance, degrees_of_freedom(*t.spread));
            }
        }
        sum.u_rest = std::sqrt(rest_variance);
        sum.degrees_of_freedom = rest_satterthwaite > 0.0 ? rest_variance * rest_variance / rest_satterthwaite : infinite;
        if (!sum.products.products.empty()) {
            const moments m = moments_of(sum.products);
            fourth_cumulant += m.fourth - 3.0 * m.second * m.second;
        }
        bounded = !sum.rectangles.empty() || !sum.amplitudes.empty() || !sum.products.products.empty();
    }

private:
    void add_product(const coefficient_times_difference& p, double sensitivity) {
        const auto coefficient = coefficients_.try_emplace(p.coefficient_of, sum.products.coefficients);
        if (coefficient.second || p.coefficient_of.empty()) {
            coefficient.first->second = sum.products.coefficients++;
        }
        const auto difference = differences_.try_emplace(p.factor, sum.products.differences.size());
        if (difference.second || p.factor.empty()) {
            difference.first->second = sum.products.differences.size();
            sum.products.differences.push_back({p.difference, p.half_width});
        }
        const product_sum::difference& shared = sum.products.differences[difference.first->second];
        if (shared.centre != p.difference || shared.half_width != p.half_width) {
            throw bad_input("difference \"" + p.factor + '"',
                            fmt::format("{} +- {} in one input and {} +- {} in another", shared.centre, shared.half_width,
                                        p.difference, p.half_width),
                            "one and the same difference in all inputs that name it", "name them apart, or state them alike");
        }
        sum.products.products.push_back({coefficient.first->second, difference.first->second, sensitivity * p.coefficient});
    }

    std::map<std::string, std::size_t> coefficients_;
    std::map<std::string, std::size_t> differences_;
};

coverage by_t(double nu, double probability) { return {probability, coverage_factor(probability, nu)}; }

coverage by_convolution(const sorted_terms& sorted, double u, double nu, double probability) {
    if (!sorted.bounded) return by_t(nu, probability);
    return {probability, symmetric_quantile(sorted.sum, probability) / u, coverage::method::convolution};
}

}  // namespace

double coverage_factor(double probability, double degrees_of_freedom) {
    if (!(probability > 0.0 && probability < 1.0)) {
        throw bad_input("coverage factor", fmt::format("coverage probability {}", probability), "more than 0 and less than 1",
                        "state it as a fraction, 0.9545 for instance");
    }
    if (!(degrees_of_freedom > 0.0)) {
        throw bad_input("coverage factor", fmt::format("{} degrees of freedom", degrees_of_freedom), "more than 0",
                        "take at least two readings");
    }
    const double tail = 0.5 * (1.0 - probability);
    const double normal_k = boost::math::quantile(boost::math::complement(normal_of_one(), tail));
    if (!std::isfinite(degrees_of_freedom)) return normal_k;
    constexpr double many = 5.0;
    if (degrees_of_freedom > 50.0 && degrees_of_freedom > many * normal_k * normal_k) {
        return quantile_of_many(degrees_of_freedom, normal_k, tail);
    }
    const double k = boost::math::quantile(boost::math::complement(student_t(degrees_of_freedom), tail));
    if (!std::isfinite(k)) {
        throw bad_input("coverage factor", fmt::format("{} degrees of freedom", degrees_of_freedom),
                        "so many that k is a finite number", "take more readings");
    }
    return k;
}

coverage convolved_coverage(std::span<const term> terms, double u, double nu, double probability) {
    if (!(u > 0.0)) return by_t(nu, probability);
    return by_convolution(sorted_terms(terms, u), u, nu, probability);
}

coverage usual_coverage(std::span<const term> terms, double u, double nu, double probability) {
    if (!(u > 0.0)) return by_t(nu, probability);
    const sorted_terms sorted(terms, u);
    const double kurtosis = sorted.fourth_cumulant / (u * u * u * u);
    if (kurtosis >= lightest_tails && kurtosis <= heaviest_tails) return by_t(nu, probability);
    return by_convolution(sorted, u, nu, probability);
}

}  // namespace plumbline::inline v0::uncertainty
