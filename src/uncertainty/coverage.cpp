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

/// t of nu degrees of freedom, 20 at least, with the same tail beyond it as the normal quantile x >= 0, x^2 <= 0.8 nu.
///
/// With N = nu - 1/2 and z^2 = N ln(1 + t^2 / nu) the density of z is, up to a factor, exp(-z^2 / 2) g(z^2 / N), where
/// g(w) = (sinh(w/2) / (w/2))^(-1/2) is a series in w^2. Term by term the tail is a sum of incomplete gamma functions of half-integer
/// order, and these are the normal tail Q(z) and a polynomial times its density:
///
///     Q_t = Q(z) + phi(z) S(z),  S(z) = sum over j of R_j z^(2j-1) / (2j-1)!!
///
/// R_j is what the normalised series keeps from its term (j + 1) / 2 on. No special function is left: Q(x) = Q_t becomes an equation
/// between polynomials for d = z - x, which two steps of third order solve, from a d that is right to a few per cent. Left out
/// is 2e-15 of the quantile where both limits meet, and nothing elsewhere.
/// Source: the incomplete beta function for one large parameter, A. R. DiDonato, A. H. Morris, ACM Trans. Math. Softw. 18 (1992) 360,
/// section 9; z is D. L. Wallace's, Ann. Math. Stat. 30 (1959) 1121 (both from memory). Coefficients of g by computer algebra.
double quantile_of_many(double nu, double x) {
    constexpr double g[] = {1.0,
                            -1.0 / 48.0,
                            1.0 / 2560.0,
                            -7.879670965608465608e-6,
                            1.6967665791721781305e-7,
                            -3.8050641917219065657e-9,
                            8.7483775963154073041e-11,
                            -2.0445233594119738176e-12,
                            4.8333517979677044083e-14};
    constexpr int terms = 8;
    const double N = nu - 0.5;
    const double one_over_N2 = 1.0 / N / N;
    double rest[terms + 1];  // the k-th term of g takes (4k - 1)!! / N^(2k) to its integral
    double power = 1.0;
    for (int k = 0; k <= terms; ++k) {
        if (k > 0) power *= (4.0 * k - 1.0) * (4.0 * k - 3.0) * one_over_N2;
        rest[k] = g[k] * power;
    }
    for (int k = terms; k > 0; --k) rest[k - 1] += rest[k];
    const double one_over_total = 1.0 / rest[0];
    double d = one_over_total * rest[1] * x * (1.0 + x * x / 3.0);
    for (int step = 0; step < 2; ++step) {
        const double z = x + d;
        const double s = z * z;
        double polynomial = 0.0;
        for (int k = terms; k > 0; --k) {
            polynomial = rest[k] + s / (4.0 * k + 1.0) * polynomial;
            polynomial = rest[k] + s / (4.0 * k - 1.0) * polynomial;
        }
        const double w2 = s * s * one_over_N2;
        double density = g[terms];
        for (int k = terms; k > 0; --k) density = g[k - 1] + w2 * density;
        // (Q(x) - Q(z)) / phi(z), by Taylor about z
        const double between =
            d * (1.0 + d * (z / 2.0 + d * ((s - 1.0) / 6.0 + d * (z * (s - 3.0) / 24.0 + d * ((s - 6.0) * s + 3.0) / 120.0))));
        const double newton = (between - one_over_total * z * polynomial) / (one_over_total * density);
        d -= newton * (1.0 - 0.5 * z * newton);
    }
    const double z = x + d;
    const double w = z * z / N;
    return z * std::sqrt(nu / N * (w > 0.0 ? std::expm1(w) / w : 1.0));
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
            } else if (const auto* points = std::get_if<two_point>(shape)) {
                sum.pairs.push_back(std::abs(t.sensitivity) * points->half_width);
                fourth_cumulant += -2.0 * variance * variance;
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
        bounded = !sum.rectangles.empty() || !sum.amplitudes.empty() || !sum.pairs.empty() || !sum.products.products.empty();
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
    if (degrees_of_freedom >= 20.0 && normal_k * normal_k <= 0.8 * degrees_of_freedom) {
        return quantile_of_many(degrees_of_freedom, normal_k);
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
