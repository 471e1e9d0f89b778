#include <plumbline/uncertainty/coverage.hpp>

#include "convolution.hpp"

#include <fmt/format.h>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>
#include <plumbline/error.hpp>
#include <string>

namespace plumbline::uncertainty {

namespace {

// Without promotion to long double: ten times faster, and the digits a coverage factor needs are there.
using no_promotion = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

constexpr double lightest_tails = -0.35;
constexpr double heaviest_tails = 0.1;
constexpr double negligible_share = 1e-3;  // of the variance: such a term moves k by less than 1e-6, whatever its shape

struct product_terms {
    scaled_rectangles rectangles;
    double variance = 0.0;        // at a factor of 1
    double sum_of_squares = 0.0;  // of the variances at a factor of 1
};

/// The terms sorted by what they are to a convolution.
struct sorted_terms {
    symmetric_sum sum;
    double fourth_cumulant = 0.0;

    sorted_terms(std::span<const term> terms, double u) {
        double rest_variance = 0.0;
        double rest_satterthwaite = 0.0;
        std::map<std::string, product_terms> products;
        const auto to_rest = [&](double variance, double nu) {
            rest_variance += variance;
            if (std::isfinite(nu)) rest_satterthwaite += variance * variance / nu;
        };
        for (const term& t : terms) {
            const double contribution = std::abs(t.sensitivity) * standard_uncertainty(*t.spread);
            const double variance = contribution * contribution;
            if (variance <= negligible_share * u * u) {
                to_rest(variance, degrees_of_freedom(*t.spread));
            } else if (const auto* r = std::get_if<rectangular>(t.spread)) {
                sum.rectangles.push_back(std::abs(t.sensitivity) * r->half_width);
                fourth_cumulant += -1.2 * variance * variance;
            } else if (const auto* tri = std::get_if<triangular>(t.spread)) {
                sum.rectangles.insert(sum.rectangles.end(), 2, 0.5 * std::abs(t.sensitivity) * tri->half_width);
                fourth_cumulant += -0.6 * variance * variance;
            } else if (const auto* p = std::get_if<coefficient_times_difference>(t.spread)) {
                product_terms& group = products[p->factor];
                const double at_one = std::abs(t.sensitivity) * p->coefficient;
                group.rectangles.half_widths.push_back(at_one);
                group.rectangles.difference = p->difference;
                group.rectangles.half_width = p->half_width;
                group.variance += at_one * at_one / 3.0;
                group.sum_of_squares += at_one * at_one * at_one * at_one / 9.0;
            } else {
                to_rest(variance, degrees_of_freedom(*t.spread));
            }
        }
        sum.u_rest = std::sqrt(rest_variance);
        sum.degrees_of_freedom = rest_satterthwaite > 0.0 ? rest_variance * rest_variance / rest_satterthwaite : infinite;
        for (auto& [factor, group] : products) {
            double second = 0.0;
            double fourth = 0.0;
            for (const weighted_factor& f : magnitudes(group.rectangles.difference, group.rectangles.half_width)) {
                const double square = f.magnitude * f.magnitude;
                second += f.weight * square;
                fourth += f.weight * square * square;
            }
            fourth_cumulant += fourth * (3.0 * group.variance * group.variance - 1.2 * group.sum_of_squares) -
                               3.0 * second * second * group.variance * group.variance;
            sum.groups.push_back(std::move(group.rectangles));
        }
    }
};

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
    if (!std::isfinite(degrees_of_freedom)) {
        return boost::math::quantile(boost::math::complement(boost::math::normal_distribution<double, no_promotion>(), tail));
    }
    return boost::math::quantile(
        boost::math::complement(boost::math::students_t_distribution<double, no_promotion>(degrees_of_freedom), tail));
}

coverage coverage_of_sum(std::span<const term> terms, double u, double nu, double probability) {
    if (!(u > 0.0)) return {probability, coverage_factor(probability, nu)};
    const sorted_terms sorted(terms, u);
    const double kurtosis = sorted.fourth_cumulant / (u * u * u * u);
    if (kurtosis >= lightest_tails && kurtosis <= heaviest_tails) return {probability, coverage_factor(probability, nu)};
    const double t_rest = coverage_factor(probability, sorted.sum.degrees_of_freedom);
    return {probability, symmetric_quantile(sorted.sum, probability, t_rest) / u, coverage::method::convolution};
}

}  // namespace plumbline::uncertainty
