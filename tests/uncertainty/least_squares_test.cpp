// Least squares with several parameters: NIST StRD, exact arithmetic, the GNU Scientific Library, and what must hold of any fit.

#include <plumbline/uncertainty/least_squares.hpp>

#include <gsl/gsl_multifit.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/uncertainty/line_use.hpp>
#include <random>
#include <string>
#include <vector>

#include "../message.hpp"
#include "../reference/correct_digits.hpp"
#include "../reference/published.hpp"

namespace least_squares {

using namespace plumbline;
using namespace plumbline::uncertainty;
using published::check_digits;
using published::check_printed;
using published::correct_digits;
using published::entry;
using refused::message;

namespace {

using list = std::vector<double>;

double sum_of_squares(const linear_fit& f) {
    return f.residual_deviation * f.residual_deviation * static_cast<double>(f.degrees_of_freedom);
}

/// Fewest correct digits of estimates and their standard uncertainties by GSL's fit, which scales columns and takes singular values.
struct by_gsl {
    double of_b = 15.0;
    double of_u = 15.0;
    by_gsl(const list& design, const list& y, const list& b, const list& u) {
        const std::size_t n = y.size();
        const std::size_t p = b.size();
        const auto x = gsl_matrix_const_view_array(design.data(), n, p);
        const auto values = gsl_vector_const_view_array(y.data(), n);
        gsl_vector* found = gsl_vector_alloc(p);
        gsl_matrix* covariance = gsl_matrix_alloc(p, p);
        gsl_multifit_linear_workspace* work = gsl_multifit_linear_alloc(n, p);
        double chi_squared = 0.0;
        gsl_multifit_linear(&x.matrix, &values.vector, found, covariance, &chi_squared, work);
        for (std::size_t j = 0; j < p; ++j) {
            of_b = std::min(of_b, correct_digits(gsl_vector_get(found, j), b[j]));
            of_u = std::min(of_u, correct_digits(std::sqrt(gsl_matrix_get(covariance, j, j)), u[j]));
        }
        gsl_multifit_linear_free(work);
        gsl_matrix_free(covariance);
        gsl_vector_free(found);
    }
};

/// Checks a fit against certified or exact figures, and that GSL has no more correct digits.
void check_fit(const std::string& name, const linear_fit& f, const list& b, const list& u, double at_least, const by_gsl& other) {
    REQUIRE(f.b.size() == b.size());
    double of_b = 15.0;
    double of_u = 15.0;
    for (std::size_t j = 0; j < b.size(); ++j) {
        of_b = std::min(of_b, correct_digits(f.b[j], b[j]));
        of_u = std::min(of_u, correct_digits(f.u(j), u[j]));
    }
    MESSAGE(name, ": correct digits of estimates ", of_b, " and of their u ", of_u, "; GSL ", other.of_b, " and ", other.of_u);
    CAPTURE(name);
    CHECK(of_b >= at_least);
    CHECK(of_u >= at_least);
    CHECK(of_b >= other.of_b);
    CHECK(of_u >= other.of_u);
}

list powers_of(const list& x, std::size_t degree) {
    list design;
    for (const double v : x) {
        double power = 1.0;
        for (std::size_t k = 0; k <= degree; ++k) {
            design.push_back(power);
            power *= v;
        }
    }
    return design;
}

/// Invented observations of so many parameters, in columns that differ in size and hang together.
struct made_up {
    std::size_t n;
    std::size_t p;
    list design, y, u;
    made_up(std::size_t observations, std::size_t parameters, unsigned seed) : n(observations), p(parameters) {
        std::mt19937_64 bits(seed);
        const auto even = [&] { return static_cast<double>(bits() >> 11) * 0x1p-53; };
        for (std::size_t i = 0; i < n; ++i) {
            const double common = even();
            for (std::size_t j = 0; j < p; ++j)
                design.push_back(j == 0 ? 1.0 : std::pow(10.0, static_cast<double>(j)) * (common + 0.1 * even()));
            y.push_back(3.0 - 7.0 * common + 0.01 * even());
            u.push_back(0.01 + 0.1 * even());
        }
    }
    [[nodiscard]] linear_fit fitted(bool weighted) const {
        return fit_linear({design, p, y, weighted ? std::span<const double>(u) : std::span<const double>()});
    }
};

bool close(double a, double b, double relative) { return std::abs(a - b) <= relative * std::max(std::abs(a), std::abs(b)); }

}  // namespace

TEST_CASE("Longley of NIST StRD, nearly collinear, has 14 correct digits everywhere") {
    // Rational arithmetic on the data rounded to doubles leaves 14.6 digits of the estimates and 14.9 of their standard deviations.
    const auto e = entry("nist-strd", "strd-longley");
    const auto rows = e["inputs"]["x"].get<std::vector<list>>();
    const auto y = e["inputs"]["y"].get<list>();
    list design;
    for (const list& row : rows) {
        design.push_back(1.0);
        design.insert(design.end(), row.begin(), row.end());
    }
    const linear_fit f = fit_linear({design, 7, y});
    const auto& certified = e["expected"];
    const auto b = certified["b"].get<list>();
    const auto sd = certified["sd_b"].get<list>();
    check_fit("Longley", f, b, sd, 14.0, by_gsl(design, y, b, sd));
    CHECK(f.degrees_of_freedom == 9);
    CHECK(f.degrees_of_freedom_of_u == 9.0);
    CHECK(f.chi_squared == 0.0);
    check_digits("Longley residual sd", f.residual_deviation, certified["residual_sd"], 14.5);
    check_digits("Longley residual ss", sum_of_squares(f), certified["residual_ss"], 14.5);
    check_digits("Longley R squared", f.r_squared, certified["r_squared"], 14.5);
}

TEST_CASE(
    "Norris and NoInt1 of NIST StRD come out of the general fit as of the straight line, R squared about 0 where there is no "
    "constant") {
    for (const bool through_origin : {false, true}) {
        const auto e = entry("nist-strd", through_origin ? "strd-noint1" : "strd-norris");
        const auto x = e["inputs"]["x"].get<list>();
        const auto y = e["inputs"]["y"].get<list>();
        const linear_fit f = through_origin ? fit_linear({x, 1, y}) : fit_polynomial(unweighted_points<>{x, y}, 1);
        const auto& certified = e["expected"];
        for (std::size_t j = 0; j < f.b.size(); ++j) {
            // Norris in doubles has 13.99 digits of the intercept and 14.00 of the standard deviations: line_published_test
            check_digits("b", f.b[j], certified["b"][j], 13.9);
            check_digits("sd", f.u(j), certified["sd_b"][j], 13.9);
        }
        check_digits("R squared", f.r_squared, certified["r_squared"], 14.4);
        check_digits("residual sd", f.residual_deviation, certified["residual_sd"], 13.9);
    }
}

TEST_CASE("Filip, Pontius and NoInt2 of NIST StRD have the digits that their data in doubles hold") {
    // Rational arithmetic on the data rounded to doubles leaves 14.0 digits of Filip's estimates, 13.5 of Pontius's and 13.8 of their standard
    // deviations. Filip's powers, of degree 10, are refused as dependent by many programs.
    struct row {
        const char* id;
        double digits;
    };
    for (const row& r : {row{"strd-filip", 14.0}, row{"strd-pontius", 13.5}, row{"strd-noint2", 14.5}}) {
        CAPTURE(r.id);
        const auto e = entry("nist-strd-more", r.id);
        const auto x = e["inputs"]["x"].get<list>();
        const auto y = e["inputs"]["y"].get<list>();
        const auto& certified = e["expected"];
        const auto b = certified["b"].get<list>();
        const auto sd = certified["sd_b"].get<list>();
        const auto degree = e["inputs"]["degree"].get<std::size_t>();
        const bool has_constant = b.size() == degree + 1;
        const linear_fit f = has_constant ? fit_polynomial(unweighted_points<>{x, y}, degree) : fit_linear({x, degree, y});
        const list design = has_constant ? powers_of(x, degree) : x;
        check_fit(r.id, f, b, sd, r.digits, by_gsl(design, y, b, sd));
        check_digits("residual sd", f.residual_deviation, certified["residual_sd"], 13.7);
        check_digits("R squared", f.r_squared, certified["r_squared"], 14.5);
    }
}

TEST_CASE("a polynomial of degree 5 through 21 points has 14 correct digits, without residuals and with huge ones") {
    // The design of Wampler1 and of Wampler3 to 5 of NIST StRD, their deviations from memory; but nothing hangs on that: the deviations are
    // orthogonal to the powers, in whole numbers, so that all estimates are 1 exactly. The standard deviations are from rational arithmetic.
    constexpr std::array<int, 21> deviations = {759,   -2048, 2048,  -2048, 2523,  -2048, 2048,  -2048, 1838,  -2048, 2048,
                                                -2048, 1838,  -2048, 2048,  -2048, 2523,  -2048, 2048,  -2048, 759};
    const list of_one = {2.1523262467816968079e+3, 2.3635517346968052086e+3, 7.7934352433158309081e+2,
                         1.0147550755034964796e+2, 5.6456651217075156774e+0, 1.1232485467931193702e-1};
    for (const double times : {0.0, 1.0, 100.0, 10000.0}) {
        CAPTURE(times);
        list x;
        list y;
        std::array<long long, 6> along{};
        for (int i = 0; i < 21; ++i) {
            long long power = 1;
            long long sum = 0;
            for (std::size_t k = 0; k < 6; ++k, power *= i) {
                sum += power;
                along[k] += power * deviations[static_cast<std::size_t>(i)];
            }
            x.push_back(i);
            y.push_back(static_cast<double>(sum) + times * deviations[static_cast<std::size_t>(i)]);
        }
        REQUIRE(along == std::array<long long, 6>{});
        const linear_fit f = fit_polynomial(unweighted_points<>{x, y}, 5);
        list u;
        for (const double one : of_one) u.push_back(times * one);
        const list ones(6, 1.0);
        if (times > 0.0) {
            check_fit("degree 5, deviations times " + std::to_string(times), f, ones, u, 14.0,
                      by_gsl(powers_of(x, 5), y, ones, u));
            check_digits("residual sd", f.residual_deviation, times * 2360.14502379267645997, 14.5);
            // R squared that Wampler3 certifies, 0.999995559025820, from rational arithmetic
            if (times == 1.0) check_digits("R squared", f.r_squared, 0.99999555902581988959, 14.5);
        } else {
            for (const double b : f.b) CHECK(b == 1.0);
            CHECK(f.residual_deviation <= 1e-30);
            CHECK(f.r_squared == 1.0);
        }
    }
}

TEST_CASE("a polynomial with decimal coefficients is found again to the digits that its rounded y hold") {
    // Wampler2 of NIST StRD, y = 1 + 0.1 x + ... + 0.00001 x^5. Rational arithmetic on y rounded to doubles leaves these digits.
    const list digits = {14.9, 14.0, 13.4, 13.1, 13.3, 14.0};
    list x;
    list y;
    for (int i = 0; i < 21; ++i) {
        int sum = 0;
        for (int k = 0; k <= 5; ++k) sum += static_cast<int>(std::lround(std::pow(10.0, 5 - k) * std::pow(i, k)));
        x.push_back(i);
        y.push_back(sum / 1e5);
    }
    const linear_fit f = fit_polynomial(unweighted_points<>{x, y}, 5);
    for (std::size_t k = 0; k < 6; ++k) {
        check_digits("Wampler2 b" + std::to_string(k), f.b[k], std::pow(10.0, -static_cast<double>(k)), digits[k]);
    }
    CHECK(close(f.residual_deviation, 7.0016086273318e-16, 1e-12));
}

TEST_CASE("a polynomial of degree 10 far from 0, whose powers all but coincide, has 14 correct digits") {
    // invented; the figures from rational arithmetic on these doubles. The columns' condition is some 10^10 once they are scaled, where
    // reflections alone leave 6 digits.
    list x;
    list y;
    for (int i = 0; i <= 40; ++i) {
        const double v = -9.0 + 0.15 * i;
        x.push_back(v);
        y.push_back((v * v - 20.0) / (v - 1.0) + (i % 3 == 0 ? 0.01 : -0.005));
    }
    const list b = {-1.6400618251100678329e+1, -3.4063910959367662871e+1, -1.7593203963864993166e+1, -1.4909029245123573235e+0,
                    1.9358367942224970092e+0,  9.4369297093445214858e-1,  2.1662755113846192754e-1,  2.9231842075015678239e-2,
                    2.3705361572286711272e-3,  1.0732830723336035260e-4,  2.0915043640122629280e-6};
    const list u = {4.9625017088386264720e+2, 9.4507583812307201114e+2, 7.9685895172059353975e+2, 3.9181169975988084759e+2,
                    1.2444912493173292711e+2, 2.6690311274903414962e+1, 3.9159506411165697031e+0, 3.8828253091575335469e-1,
                    2.4912960150290218429e-2, 9.3450001420462763200e-4, 1.5570181031069940247e-5};
    const linear_fit f = fit_polynomial(unweighted_points<>{x, y}, 10);
    check_fit("degree 10", f, b, u, 14.0, by_gsl(powers_of(x, 10), y, b, u));
    check_digits("residual sd", f.residual_deviation, 0.0081094339506329905577, 14.0);
}

TEST_CASE("two parameters have the estimates and the covariance of the straight line, weighted or not") {
    for (const unsigned seed : {1u, 2u, 3u}) {
        CAPTURE(seed);
        const made_up m(12, 2, seed);
        list x;
        for (std::size_t i = 0; i < m.n; ++i) x.push_back(m.design[2 * i + 1]);
        for (const bool weighted : {false, true}) {
            CAPTURE(weighted);
            const linear_fit f = m.fitted(weighted);
            const straight_line<> line =
                weighted ? fit_line(weighted_points<>{x, m.y, m.u}) : fit_line(unweighted_points<>{x, m.y});
            CHECK(close(f.b[0], line.intercept, 1e-13));
            CHECK(close(f.b[1], line.slope, 1e-13));
            CHECK(close(f.u(0), line.u_intercept(), 1e-13));
            CHECK(close(f.u(1), line.u_slope, 1e-13));
            CHECK(close(f.covariance[1], line.covariance(), 1e-12));
            CHECK(close(f.chi_squared, line.chi_squared, 1e-12));
            CHECK(close(f.residual_deviation, line.residual_deviation, 1e-12));
            CHECK(f.degrees_of_freedom == line.degrees_of_freedom);
            CHECK(f.degrees_of_freedom_of_u == line.degrees_of_freedom_of_u);
        }
    }
}

TEST_CASE("a fit with stated u agrees with GSL's weighted fit") {
    const made_up m(30, 4, 7);
    const linear_fit f = m.fitted(true);
    list weights;
    for (const double u : m.u) weights.push_back(1.0 / (u * u));
    const auto x = gsl_matrix_const_view_array(m.design.data(), m.n, m.p);
    const auto y = gsl_vector_const_view_array(m.y.data(), m.n);
    const auto w = gsl_vector_const_view_array(weights.data(), m.n);
    gsl_vector* b = gsl_vector_alloc(m.p);
    gsl_matrix* covariance = gsl_matrix_alloc(m.p, m.p);
    gsl_multifit_linear_workspace* work = gsl_multifit_linear_alloc(m.n, m.p);
    double chi_squared = 0.0;
    gsl_multifit_wlinear(&x.matrix, &w.vector, &y.vector, b, covariance, &chi_squared, work);
    CHECK(close(f.chi_squared, chi_squared, 1e-10));
    for (std::size_t i = 0; i < m.p; ++i) {
        CHECK(close(f.b[i], gsl_vector_get(b, i), 1e-10));
        for (std::size_t j = 0; j < m.p; ++j) CHECK(close(f.covariance[i * m.p + j], gsl_matrix_get(covariance, i, j), 1e-10));
    }
    CHECK(f.residual_deviation == 0.0);
    CHECK(std::isinf(f.degrees_of_freedom_of_u));
    gsl_multifit_linear_free(work);
    gsl_matrix_free(covariance);
    gsl_vector_free(b);
}

TEST_CASE("neither the order of columns nor their size changes a fit") {
    for (const bool weighted : {false, true}) {
        for (unsigned seed = 1; seed <= 10; ++seed) {
            CAPTURE(weighted);
            CAPTURE(seed);
            const made_up m(9 + seed, 2 + seed % 5, seed);
            const linear_fit f = m.fitted(weighted);

            made_up turned = m;
            for (std::size_t i = 0; i < m.n; ++i) {
                for (std::size_t j = 0; j < m.p; ++j) turned.design[i * m.p + j] = m.design[i * m.p + m.p - 1 - j];
            }
            const linear_fit t = turned.fitted(weighted);

            // by powers of two: exactly the same figures, scaled
            made_up scaled = m;
            const auto column = [](std::size_t j) { return static_cast<int>(60 * j) - 150; };
            const int of_y = seed % 2 == 0 ? 200 : -200;
            for (std::size_t i = 0; i < m.n; ++i) {
                for (std::size_t j = 0; j < m.p; ++j) scaled.design[i * m.p + j] = std::ldexp(m.design[i * m.p + j], column(j));
                scaled.y[i] = std::ldexp(m.y[i], of_y);
                scaled.u[i] = std::ldexp(m.u[i], of_y);
            }
            const linear_fit s = scaled.fitted(weighted);
            for (std::size_t i = 0; i < m.p; ++i) {
                CHECK(close(t.b[m.p - 1 - i], f.b[i], 1e-13));
                CHECK(s.b[i] == std::ldexp(f.b[i], of_y - column(i)));
                for (std::size_t j = 0; j < m.p; ++j) {
                    CHECK(close(t.covariance[(m.p - 1 - i) * m.p + m.p - 1 - j], f.covariance[i * m.p + j], 1e-12));
                    CHECK(s.correlation(i, j) == doctest::Approx(f.correlation(i, j)).epsilon(1e-14).scale(0));
                }
            }
            CHECK(s.chi_squared == f.chi_squared);
            CHECK(s.r_squared == f.r_squared);
            CHECK(s.residual_deviation == std::ldexp(f.residual_deviation, of_y));
        }
    }
}

TEST_CASE("a parameter more explains as much or more, and u of all alike only scale the covariance") {
    const made_up m(20, 4, 11);
    list fewer;
    for (std::size_t i = 0; i < m.n; ++i) fewer.insert(fewer.end(), &m.design[i * 4], &m.design[i * 4] + 3);
    const linear_fit all = m.fitted(false);
    CHECK(fit_linear({fewer, 3, m.y}).r_squared <= all.r_squared);

    const list alike(m.n, 0.25);
    const linear_fit known = fit_linear({m.design, m.p, m.y, alike});
    CHECK(close(known.chi_squared * 0.0625, sum_of_squares(all), 1e-13));
    for (std::size_t i = 0; i < m.p; ++i) {
        CHECK(close(known.b[i], all.b[i], 1e-14));
        CHECK(close(known.u(i) * all.residual_deviation / 0.25, all.u(i), 1e-13));
    }
    // y that does not vary is explained by the constant, without residuals
    const list constant(m.n, 2.5);
    const linear_fit flat = fit_linear({m.design, m.p, constant});
    CHECK(flat.r_squared == 1.0);
    CHECK(flat.b[0] == 2.5);
}

TEST_CASE("estimates enter a budget with their correlations: the correction at 30 degrees of GUM H.3") {
    const auto e = entry("gum", "gum-h3-thermometer-line");
    const auto t = e["inputs"]["t_C"].get<list>();
    const auto correction = e["inputs"]["correction_C"].get<list>();
    list design;
    for (const double v : t) design.insert(design.end(), {1.0, v - e["inputs"]["t0_C"].get<double>()});
    const linear_fit f = fit_linear({design, 2, correction});
    check_printed(e, "y1", f.b[0]);
    check_printed(e, "s_y2", f.u(1));
    check_printed(e, "r", f.correlation(0, 1));
    check_printed(e, "s", f.residual_deviation);
    input_set set;
    const auto estimate = [&](const char* id, std::size_t j) {
        return from_input<ratio>(set.add({id, id, "H.3", "1", f.b[j], repeated{f.u(j), f.degrees_of_freedom_of_u}}));
    };
    const double away = e["inputs"]["predict_at_C"].get<double>() - e["inputs"]["t0_C"].get<double>();
    const auto at_30 =
        first_order([&](const auto& y1, const auto& y2) { return y1 + away * y2; }, estimate("y1", 0), estimate("y2", 1));
    const std::vector<correlation> together = {{"y1", "y2", f.correlation(0, 1)}};
    const budget b = make_budget(at_30, 0.95, together);
    check_printed(e, "b_30", b.value);
    check_printed(e, "u_b_30", b.u);
    CHECK(std::abs(b.degrees_of_freedom - 9.0) <= 1e-9);
}

TEST_CASE("a design that cannot be solved is refused, and figures that are none") {
    const made_up m(6, 3, 5);
    const auto refusal = [](const linear_observations& o) { return message([&] { static_cast<void>(fit_linear(o)); }); };
    const std::string look = "expected a finite figure; look at the data before it is fitted";

    // the third column twice the second less the first
    list dependent = m.design;
    for (std::size_t i = 0; i < m.n; ++i) dependent[3 * i + 2] = 2.0 * dependent[3 * i + 1] - dependent[3 * i];
    for (const list& u : {list{}, m.u}) {
        CHECK(refusal({dependent, 3, m.y, u})
                  .find("of 3 is a combination of the others but for rounding, expected columns that are "
                        "independent; leave one of them out, or observe where they differ") != std::string::npos);
    }
    list empty_column = m.design;
    for (std::size_t i = 0; i < m.n; ++i) empty_column[3 * i + 1] = 0.0;
    CHECK(refusal({empty_column, 3, m.y}) ==
          "least squares: column 2 of 3 is a combination of the others but for rounding, expected columns that are independent; "
          "leave "
          "one of them out, or observe where they differ");
    // three places do not make a parabola and a half
    const list x = {1.0, 2.0, 3.0, 1.0, 2.0, 3.0};
    CHECK(message([&] { static_cast<void>(fit_polynomial(unweighted_points<>{x, m.y}, 3)); }).find("column ") == 15);

    CHECK(refusal({m.design, 0, m.y}) ==
          "least squares: no parameter, expected at least one column; say what y depends on; a column of ones is a constant");
    CHECK(refusal({std::span(m.design).first(17), 3, m.y}) ==
          "least squares: 17 figures in the design, expected 6 x 3: a row for each y, a column for each parameter; leave out no "
          "figure");
    CHECK(refusal({m.design, 3, m.y, std::span(m.u).first(5)}) ==
          "least squares: 5 u_y for 6 observations, expected one for each, or none at all; leave out no figure");
    CHECK(refusal({std::span(m.design).first(9), 3, std::span(m.y).first(3)}) ==
          "least squares: 3 observations for 3 parameters, expected at least 4 where u is not stated; observe more");
    CHECK(refusal({std::span(m.design).first(6), 3, std::span(m.y).first(2), std::span(m.u).first(2)}) ==
          "least squares: 2 observations for 3 parameters, expected at least as many; observe more");
    CHECK(fit_linear({std::span(m.design).first(9), 3, std::span(m.y).first(3), std::span(m.u).first(3)}).degrees_of_freedom ==
          0);

    list spoilt = m.design;
    spoilt[7] = std::nan("");
    CHECK(refusal({spoilt, 3, m.y}) == "least squares, observation 3: column 2 is nan, " + look);
    list y = m.y;
    y[1] = HUGE_VAL;
    CHECK(refusal({m.design, 3, y}) == "least squares, observation 2: y is inf, " + look);
    list u = m.u;
    u[5] = 0.0;
    CHECK(refusal({m.design, 3, m.y, u}) ==
          "least squares, observation 6: u_y is 0, expected more than 0, and finite; state what is known of this observation; "
          "nothing is "
          "known exactly");
    list tiny = m.design;
    for (double& v : tiny) v *= 1e-200;
    CHECK(refusal({tiny, 3, m.y}) ==
          "least squares: a result beyond what a double holds, expected figures of moderate size; take other units");
    CHECK(message([&] {
              static_cast<void>(fit_polynomial(unweighted_points<>{x, std::span(m.y).first(5)}, 1));
          }) == "least squares: 6 x and 5 y, expected as many of one as of the other; leave out no figure");
    CHECK(message([&] {
              static_cast<void>(fit_polynomial(weighted_points<>{x, m.y, {}}, 1));
          }) == "least squares: no u_y, expected one for each point; state them, or give unweighted points");
}

}  // namespace least_squares
