#include <plumbline/uncertainty/coverage.hpp>

#include <doctest/doctest.h>
#include <array>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <plumbline/error.hpp>
#include <simulation/random.hpp>
#include <string>
#include <vector>

namespace uncertainty_coverage_test {

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
    return usual_coverage(terms, std::sqrt(variance), nu, probability);
}

struct term_of {
    distribution spread;
    double sensitivity;
};

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

TEST_CASE("at a probability that leaves next to nothing out, U ends where the bounded terms do") {
    for (const double sigma : {1e-9, 1e-6, 1e-4, 1e-3}) {
        for (const double p : {0.99999, 1.0 - 1e-7, 1.0 - 1e-9}) {
            CAPTURE(sigma);
            CAPTURE(p);
            const double U = k_of({rectangular{1.0}, normal{sigma}}, p).k * std::sqrt(1.0 / 3.0 + sigma * sigma);
            CHECK(U >= p * (1.0 - 1e-4));
            const double reach = std::max(6.0, 1.5 * coverage_factor(p, infinite)) * sigma;  // where the series is taken to end
            CHECK(U <= (1.0 + reach) * (1.0 + 1e-12));
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
    const coverage found = k_of({coefficient_times_difference{1.0, 0.0, 1.0, "", "temperature"}});
    CHECK(found.how == coverage::method::convolution);
    const double t = found.k * standard_uncertainty(coefficient_times_difference{1.0, 0.0, 1.0, "", "temperature"});
    CHECK(std::abs(t * (1.0 - std::log(t)) - default_coverage_probability) <=
          3e-3 * t * -std::log(t));  // 3e-3 of U by the density there
}

TEST_CASE("coefficients that share a difference have heavier tails than the same with differences of their own") {
    const auto shared =
        k_of({coefficient_times_difference{1.0, 0.0, 1.0, "", "t"}, coefficient_times_difference{1.0, 0.0, 1.0, "", "t"},
              coefficient_times_difference{1.0, 0.0, 1.0, "", "t"}});
    const auto apart =
        k_of({coefficient_times_difference{1.0, 0.0, 1.0, "", "a"}, coefficient_times_difference{1.0, 0.0, 1.0, "", "b"},
              coefficient_times_difference{1.0, 0.0, 1.0, "", "c"}});
    CHECK(shared.how == coverage::method::convolution);
    CHECK(shared.k > apart.k + 0.05);
    // a known difference leaves plain rectangular terms
    CHECK(k_apart(k_of({coefficient_times_difference{2e-5, 15.0, 0.0, "", "t"}}).k,
                  default_coverage_probability * std::sqrt(3.0)) <= 1e-4);
}

TEST_CASE("convolved, k of several bounded terms is sharper than t, and without bounded terms it is t") {
    const auto convolved = [](const std::vector<distribution>& spreads, double nu) {
        std::vector<term> terms;
        double variance = 0.0;
        for (const distribution& d : spreads) {
            terms.push_back({&d, 1.0});
            variance += standard_uncertainty(d) * standard_uncertainty(d);
        }
        return convolved_coverage(terms, std::sqrt(variance), nu);
    };
    CHECK(convolved({normal{1.0}, normal{2.0}}, infinite).how == coverage::method::student_t);
    CHECK(convolved({repeated{1.0, 7.0}}, 7.0).k == coverage_factor(default_coverage_probability, 7.0));
    // four equal rectangles: distribution function of their sum by Irwin and Hall, P(sum of 4 in [0, 1] <= s) = s^4 / 24 for s <= 1
    const coverage four = convolved({rectangular{1.0}, rectangular{1.0}, rectangular{1.0}, rectangular{1.0}}, infinite);
    CHECK(four.how == coverage::method::convolution);
    const double from_end = 0.5 * (4.0 - four.k * std::sqrt(4.0 / 3.0));  // of [-4, 4], in units of a rectangle's width
    CHECK(from_end < 1.0);
    CHECK(std::abs(std::pow(from_end, 4.0) / 24.0 - 0.5 * (1.0 - default_coverage_probability)) <= 1e-6);
    // t and normal alone through the series: a negligible rectangle counts as normal, one of 2 parts in 1000 of the variance does not
    for (const double nu : {1.0, 2.0, 3.5, 10.0, 100.0, 1e5}) {
        CAPTURE(nu);
        const double small = std::sqrt(3.0 * 0.002);
        const coverage nearly_t = convolved({repeated{1.0, nu}, rectangular{small}}, nu);
        CHECK(nearly_t.how == coverage::method::convolution);
        CHECK(k_apart(nearly_t.k, coverage_factor(default_coverage_probability, nu)) <= 2e-3);
    }
}

TEST_CASE("a trapezoid is the sum of its two rectangles, and an arcsine has the quantile of its sine") {
    for (const double top : {0.0, 0.3, 1.0}) {
        CAPTURE(top);
        const std::vector<distribution> rectangles{rectangular{0.5 * (1.0 + top)}, rectangular{0.5 * (1.0 - top)}};
        CHECK(std::abs(standard_uncertainty(trapezoidal{1.0, top}) -
                       std::hypot(standard_uncertainty(rectangles[0]), standard_uncertainty(rectangles[1]))) <= 1e-15);
        CHECK(k_apart(k_of({trapezoidal{1.0, top}}).k, k_of(rectangles).k) <= 1e-9);
    }
    // P(|a sin phase| <= x) = 2/pi asin(x / a)
    for (const double p : {0.5, 0.9, default_coverage_probability}) {
        const coverage found = k_of({arcsine{3.0}}, p);
        CHECK(found.how == coverage::method::convolution);
        CHECK(std::abs(found.k * 3.0 / std::sqrt(2.0) - 3.0 * std::sin(0.5 * std::acos(-1.0) * p)) <= 1e-3);
    }
    // with a normal term, by adding up the phases: P(|a sin + n| <= U)
    const double u = std::sqrt(0.5 + 0.04);
    const double U = k_of({arcsine{1.0}, normal{0.2}}).k * u;
    double covered = 0.0;
    constexpr int phases = 20000;
    for (int i = 0; i < phases; ++i) {
        const double at = std::sin((i + 0.5) / phases * 2.0 * std::acos(-1.0));
        covered += 0.5 * (std::erf((U - at) / 0.2 / std::sqrt(2.0)) + std::erf((U + at) / 0.2 / std::sqrt(2.0))) / phases;
    }
    CHECK(std::abs(covered - default_coverage_probability) <= 1e-4);
}

TEST_CASE("an error at one of two points has the quantile of the points, smeared by the rest") {
    // P(|+-1 + n| <= U) = Phi((U - 1) / s) - Phi((-U - 1) / s)
    for (const double s : {0.05, 0.4, 1.0}) {
        CAPTURE(s);
        const coverage found = k_of({two_point{1.0}, normal{s}});
        CHECK(found.how == coverage::method::convolution);
        const double U = found.k * std::hypot(1.0, s);
        const auto below = [&](double x) { return 0.5 * std::erfc(-x / s / std::sqrt(2.0)); };
        CHECK(std::abs(below(U - 1.0) - below(-U - 1.0) - default_coverage_probability) <= 1e-4);
    }
    CHECK(standard_uncertainty(two_point{0.3}) == 0.3);
    // taken as rectangular it would be held too seldom: with the rest at a tenth, U of 1.00 where 1.17 is needed
    CHECK(k_of({rectangular{1.0}, normal{0.1}}).k * std::hypot(1.0 / std::sqrt(3.0), 0.1) < 1.02);
    CHECK(k_of({two_point{1.0}, normal{0.1}}).k * std::hypot(1.0, 0.1) > 1.16);
}

TEST_CASE("one coefficient at three differences, and two of them, follow a simulation of the products") {
    // X = a (2 p + q - r) + b (p - 3 q) + n, a and b within +-1, p, q within +-1, r within 2 +- 1, n normal
    const std::vector<term_of> all{{coefficient_times_difference{1.0, 0.0, 1.0, "a", "p"}, 2.0},
                                   {coefficient_times_difference{1.0, 0.0, 1.0, "a", "q"}, 1.0},
                                   {coefficient_times_difference{1.0, 2.0, 1.0, "a", "r"}, -1.0},
                                   {coefficient_times_difference{1.0, 0.0, 1.0, "b", "p"}, 1.0},
                                   {coefficient_times_difference{1.0, 0.0, 1.0, "b", "q"}, -3.0},
                                   {normal{0.4}, 1.0}};
    std::vector<term> terms;
    double variance = 0.0;
    for (const term_of& t : all) {
        terms.push_back({&t.spread, t.sensitivity});
        variance += std::pow(t.sensitivity * standard_uncertainty(t.spread), 2.0);
    }
    const double U = convolved_coverage(terms, std::sqrt(variance), infinite).k * std::sqrt(variance);

    plumbline::simulation::generator random(2026);
    constexpr int trials = 400'000;
    int covered = 0;
    double squares = 0.0;
    for (int i = 0; i < trials; ++i) {
        const double a = random.within(1.0);
        const double b = random.within(1.0);
        const double p = random.within(1.0);
        const double q = random.within(1.0);
        const double r = 2.0 + random.within(1.0);
        const double x = a * (2.0 * p + q - r) + b * (p - 3.0 * q) + 0.4 * random.normal();
        squares += x * x;
        if (std::abs(x) <= U) ++covered;
    }
    CHECK(std::abs(squares / trials / variance - 1.0) <= 0.02);
    const double share = static_cast<double>(covered) / trials;
    const double p = default_coverage_probability;
    CHECK(std::abs(share - p) <= 3.3 * std::sqrt(p * (1.0 - p) / trials));
}

TEST_CASE("a difference that two inputs name but state unlike is refused") {
    const coefficient_times_difference one{1.0, 0.0, 1.0, "", "t"};
    const coefficient_times_difference other{1.0, 0.0, 2.0, "", "t"};
    std::string message = "no exception";
    try {
        (void)k_of({one, other});
    } catch (const plumbline::bad_input& e) {
        message = e.what();
    }
    CHECK(message ==
          "difference \"t\": 0 +- 1 in one input and 0 +- 2 in another, expected one and the same difference in all inputs that "
          "name it; "
          "name them apart, or state them alike");
}

TEST_CASE("k does not depend on the unit of the result") {
    const double k = k_of({rectangular{1.0}, normal{0.2}, triangular{0.3}}).k;
    for (const double scale : {1e-9, 1e-3, 1e6}) {
        CHECK(k_apart(k_of({rectangular{scale}, normal{0.2 * scale}, triangular{0.3 * scale}}).k, k) <= 1e-9);
    }
}

// At 4 degrees of freedom Boost's closed form in double loses digits where p is small: 7e-13 at 0.01, 1e-4 at 1e-6.
TEST_CASE("k is Boost.Math's quantile of t in long double to 2e-14, for many degrees of freedom and few") {
    double worst = 0.0;
    for (const double p : {0.2, 0.5, 0.6827, 0.9, 0.95, default_coverage_probability, 0.99, 0.9973, 0.99999, 1.0 - 1e-9}) {
        for (double nu = 1.5; nu < 1e9; nu *= 1.17) {
            for (const double exactly : {nu, std::ceil(nu)}) {
                const boost::math::students_t_distribution<long double> t(exactly);
                const auto expected =
                    boost::math::quantile(boost::math::complement(t, 0.5L * (1.0L - static_cast<long double>(p))));
                const double off = std::abs(static_cast<double>((coverage_factor(p, exactly) - expected) / expected));
                CAPTURE(p);
                CAPTURE(exactly);
                CAPTURE(off);
                CHECK(off <= 2e-14);
                worst = std::max(worst, off);
            }
        }
    }
    MESSAGE("largest relative difference: " << worst);
}

TEST_CASE(
    "k of whole degrees of freedom holds the closed form of the distribution of t to 1e-13, where its tail is a polynomial") {
    // P(|T| <= t) is a finite sum of cosines of theta = atan(t / sqrt(nu)): Abramowitz and Stegun, 26.7.3 and 26.7.4
    const auto within = [](long double t, int nu) {
        const long double theta = std::atan(t / std::sqrt(static_cast<long double>(nu)));
        const long double square = std::cos(theta) * std::cos(theta);
        const bool odd = nu % 2 == 1;
        long double power = odd ? std::cos(theta) : 1.0L;
        long double sum = 0.0L;
        for (int i = odd ? 1 : 0; i <= nu - 2; i += 2) {
            sum += power;
            power *= square * static_cast<long double>(i + 1) / static_cast<long double>(i + 2);
        }
        return odd ? 2.0L / std::acos(-1.0L) * (theta + std::sin(theta) * sum) : std::sin(theta) * sum;
    };
    for (const double p : {0.5, 0.9, default_coverage_probability, 0.99, 0.9999}) {
        for (const int nu : {20, 21, 22, 25, 50, 51, 105, 1000, 100001}) {
            CAPTURE(p);
            CAPTURE(nu);
            const long double k = static_cast<long double>(coverage_factor(p, nu));
            const long double step = 1e-6L * k;
            const long double density = (within(k + step, nu) - within(k - step, nu)) / (2.0L * step);
            CHECK(std::abs(within(k, nu) - static_cast<long double>(p)) <= 1e-13L * k * density);
        }
    }
}

TEST_CASE("k keeps its digits where it is found in another way on the other side") {
    // a difference of 1e-9 in the degrees of freedom moves k by less than 1e-11 of it: a seam would show
    for (const double p : {0.5, 0.9, default_coverage_probability, 0.99, 0.9999}) {
        CAPTURE(p);
        CHECK(k_apart(coverage_factor(p, 20.0 - 1e-9), coverage_factor(p, 20.0)) <= 3e-11);
    }
    CHECK(coverage_factor(0.95, 1e308) == coverage_factor(0.95, infinite));
    CHECK(coverage_factor(1e-17, 1e308) == 0.0);
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

}  // namespace uncertainty_coverage_test
