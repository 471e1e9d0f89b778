#include <plumbline/uncertainty/coverage.hpp>

#include <doctest/doctest.h>
#include <array>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>
#include <vector>

using namespace plumbline::uncertainty;

namespace {

// k of terms with sensitivity 1
coverage k_of(const std::vector<distribution>& spreads, double probability = default_coverage_probability, double nu = infinite) {
    std::vector<term> terms;
    double variance = 0.0;
    for (const distribution& d : spreads) {
        terms.push_back({&d, 1.0});
        variance += standard_uncertainty(d) * standard_uncertainty(d);
    }
    return coverage_of_sum(terms, std::sqrt(variance), nu, probability);
}

double k_apart(double found, double expected) { return std::abs(found - expected) / expected; }

// P(|R + N| <= x) for a rectangular half-width a and a normal sigma: the closed form by the integral of the normal distribution
double rectangular_and_normal(double x, double a, double sigma) {
    const auto integral = [](double z) {  // of Phi - 1/2 from 0 to z
        return 0.5 * z * std::erf(z / std::sqrt(2.0)) + std::exp(-0.5 * z * z) / std::sqrt(2.0 * std::acos(-1.0));
    };
    return sigma / a * (integral((x + a) / sigma) - integral((x - a) / sigma));
}

}  // namespace

TEST_CASE("one rectangular term has k = p sqrt(3), two equal ones the triangular k") {
    for (const double p : {0.5, 0.9, 0.95, default_coverage_probability, 0.99, 0.999}) {
        CAPTURE(p);
        CHECK(k_apart(k_of({rectangular{0.02}}, p).k, p * std::sqrt(3.0)) <= 1e-4);
        CHECK(k_apart(k_of({rectangular{3.0}, rectangular{3.0}}, p).k, (1.0 - std::sqrt(1.0 - p)) * std::sqrt(6.0)) <= 1e-4);
        CHECK(k_apart(k_of({triangular{1e-6}}, p).k, (1.0 - std::sqrt(1.0 - p)) * std::sqrt(6.0)) <= 1e-4);
    }
}

TEST_CASE("a rectangular and a normal term follow the closed form wherever they are convolved") {
    for (const double sigma : {1e-4, 1e-3, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5}) {
        for (const double p : {0.9, default_coverage_probability, 0.99}) {
            CAPTURE(sigma);
            CAPTURE(p);
            const coverage found = k_of({rectangular{1.0}, normal{sigma}}, p);
            CHECK(found.how == coverage::method::convolution);
            const double U = found.k * std::sqrt(1.0 / 3.0 + sigma * sigma);
            // 1e-4 of U, turned into probability by the density at U, which is at most 1/2 for a half-width of 1 on each side
            CHECK(std::abs(rectangular_and_normal(U, 1.0, sigma) - p) <= 1e-4 * U);
        }
    }
}

TEST_CASE("normal and t terms are not convolved: their k is t") {
    CHECK(k_of({normal{1.0}}).how == coverage::method::student_t);
    CHECK(std::abs(k_of({normal{1.0}}).k - 2.0) <= 1e-12);
    CHECK(k_of({repeated{1.0, 3.0}}, default_coverage_probability, 3.0).k == coverage_factor(default_coverage_probability, 3.0));
    CHECK(k_of({rectangular{1.0}, rectangular{1.0}, rectangular{1.0}, rectangular{1.0}}).how == coverage::method::student_t);
}

TEST_CASE("where t gives way to the convolution k moves by less than three per cent") {
    double largest = 0.0;
    double before = 0.0;
    for (double sigma = 1.5; sigma > 0.05; sigma *= 0.999) {
        const double k = k_of({rectangular{1.0}, normal{sigma}}).k;
        if (before > 0.0) largest = std::max(largest, std::abs(k / before - 1.0));
        before = k;
    }
    CHECK(largest > 0.001);  // the switch was passed
    CHECK(largest < 0.03);
}

TEST_CASE("a rectangular term with a t of few degrees of freedom lies between the two alone") {
    // against a convolution by brute force on a fine grid of the rectangular term
    const double nu = 5.0;
    const double u_t = 0.2;
    const coverage found = k_of({rectangular{1.0}, repeated{u_t, nu}}, 0.95);
    CHECK(found.how == coverage::method::convolution);
    const double U = found.k * std::sqrt(1.0 / 3.0 + u_t * u_t);
    const auto t_distribution = [&](double z) {  // 5 degrees of freedom: closed form (Abramowitz and Stegun 26.7.3)
        const double theta = std::atan(z / std::sqrt(nu));
        const double s = std::sin(theta);
        const double c = std::cos(theta);
        return 0.5 + (theta + s * c * (1.0 + 2.0 / 3.0 * c * c)) / std::acos(-1.0);
    };
    const int cells = 20000;
    double covered = 0.0;
    for (int i = 0; i < cells; ++i) {
        const double r = -1.0 + (i + 0.5) * 2.0 / cells;
        covered += (t_distribution((U - r) / u_t) - t_distribution((-U - r) / u_t)) / cells;
    }
    CHECK(std::abs(covered - 0.95) <= 1e-4);
}

TEST_CASE("a product of two centred limits has the quantile of its logarithmic density") {
    // P(|X Y| <= t) = t (1 - ln t) for X, Y rectangular in [-1, 1]
    const coverage found = k_of({coefficient_times_difference{1.0, 0.0, 1.0, "temperature"}});
    CHECK(found.how == coverage::method::convolution);
    const double t = found.k * standard_uncertainty(coefficient_times_difference{1.0, 0.0, 1.0, "temperature"});
    CHECK(std::abs(t * (1.0 - std::log(t)) - default_coverage_probability) <=
          3e-3 * t * -std::log(t));  // 3e-3 of U by the density there
}

TEST_CASE("coefficients that share a difference have heavier tails than the same with differences of their own") {
    const auto shared = k_of({coefficient_times_difference{1.0, 0.0, 1.0, "t"}, coefficient_times_difference{1.0, 0.0, 1.0, "t"},
                              coefficient_times_difference{1.0, 0.0, 1.0, "t"}});
    const auto apart = k_of({coefficient_times_difference{1.0, 0.0, 1.0, "a"}, coefficient_times_difference{1.0, 0.0, 1.0, "b"},
                             coefficient_times_difference{1.0, 0.0, 1.0, "c"}});
    CHECK(shared.how == coverage::method::convolution);
    CHECK(shared.k > apart.k + 0.05);
    // a known difference leaves plain rectangular terms
    CHECK(k_apart(k_of({coefficient_times_difference{2e-5, 15.0, 0.0, "t"}}).k, default_coverage_probability * std::sqrt(3.0)) <=
          1e-4);
}

TEST_CASE("k does not depend on the unit of the result") {
    const double k = k_of({rectangular{1.0}, normal{0.2}, triangular{0.3}}).k;
    for (const double scale : {1e-9, 1e-3, 1e6}) {
        CHECK(k_apart(k_of({rectangular{scale}, normal{0.2 * scale}, triangular{0.3 * scale}}).k, k) <= 1e-9);
    }
}

TEST_CASE("impossible probabilities and degrees of freedom are refused with what to do") {
    const auto message = [](double p, double nu) -> std::string {
        try {
            (void)coverage_factor(p, nu);
        } catch (const plumbline::bad_input& e) {
            return e.what();
        }
        return "no exception";
    };
    CHECK(message(1.0, 5.0) ==
          "coverage factor: coverage probability 1, expected more than 0 and less than 1; state it as a fraction, 0.9545 for "
          "instance");
    CHECK(message(std::nan(""), 5.0) ==
          "coverage factor: coverage probability nan, expected more than 0 and less than 1; state it as a fraction, 0.9545 for "
          "instance");
    CHECK(message(0.95, 0.0) == "coverage factor: 0 degrees of freedom, expected more than 0; take at least two readings");
    CHECK(message(0.95, std::nan("")) ==
          "coverage factor: nan degrees of freedom, expected more than 0; take at least two readings");
}
