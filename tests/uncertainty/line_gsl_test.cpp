// Straight lines against the GNU Scientific Library, which sums in another way; both axes uncertain against its general least squares over
// the slope, the intercept and every adjusted point.

#include <plumbline/uncertainty/line_use.hpp>

#include <doctest/doctest.h>
#include <gsl/gsl_blas.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <cmath>
#include <memory>
#include <random>
#include <vector>

namespace line_gsl_test {

using namespace plumbline;
using namespace plumbline::uncertainty;

namespace {

using numbers = std::vector<double>;

/// Not further apart than so much of the scale.
bool near(double a, double b, double allowed) { return std::abs(a - b) <= allowed; }

/// n points near a line, invented, x from `from` on.
struct made_up {
    numbers x, y, u_x, u_y, weight;
    made_up(std::size_t n, unsigned seed, double from) {
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(0.0, 1.0);
        std::normal_distribution<double> error;
        for (std::size_t i = 0; i < n; ++i) {
            u_x.push_back(0.01 + 0.05 * even(bits));
            u_y.push_back(0.1 + even(bits));
            weight.push_back(1.0 / (u_y.back() * u_y.back()));
            const double true_x = from + 10.0 * even(bits);
            x.push_back(true_x + u_x.back() * error(bits));
            y.push_back(-3.0 + 0.7 * true_x + u_y.back() * error(bits));
        }
    }
};

/// Deleters of GSL's own.
struct free_gsl {
    void operator()(gsl_matrix* m) const { gsl_matrix_free(m); }
    void operator()(gsl_vector* v) const { gsl_vector_free(v); }
    void operator()(gsl_multifit_linear_workspace* w) const { gsl_multifit_linear_free(w); }
    void operator()(gsl_multifit_nlinear_workspace* w) const { gsl_multifit_nlinear_free(w); }
};
template <class T>
using owned = std::unique_ptr<T, free_gsl>;

owned<gsl_matrix> matrix(std::size_t rows, std::size_t columns) { return owned<gsl_matrix>(gsl_matrix_calloc(rows, columns)); }
owned<gsl_vector> vector(std::size_t n) { return owned<gsl_vector>(gsl_vector_calloc(n)); }

/// A covariance matrix with something in every place, for errors as large as u.
numbers mixed_covariance(const numbers& u, unsigned seed) {
    std::mt19937_64 bits(seed);
    std::uniform_real_distribution<double> even(-1.0, 1.0);
    const std::size_t n = u.size();
    numbers mix;
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) mix.push_back(u[i] * (i == j ? 1.0 : 0.3 * even(bits)));
    }
    numbers covariance(n * n, 0.0);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            for (std::size_t k = 0; k < n; ++k) covariance[i * n + j] += mix[i * n + k] * mix[j * n + k];
        }
    }
    return covariance;
}

owned<gsl_matrix> cholesky(const numbers& covariance, std::size_t n) {
    auto factor = matrix(n, n);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) gsl_matrix_set(factor.get(), i, j, covariance[i * n + j]);
    }
    gsl_linalg_cholesky_decomp1(factor.get());
    return factor;
}

/// Generalised distance as ISO/TS 28037:2010, clause 10 states it: parameters a, b and the n adjusted x; 2 n whitened residuals.
struct adjusted_points {
    numbers x;
    numbers y;
    const gsl_matrix* factor;

    static int residuals(const gsl_vector* at, void* self, gsl_vector* out) {
        const auto& p = *static_cast<const adjusted_points*>(self);
        const std::size_t n = p.x.size();
        const double a = gsl_vector_get(at, 0);
        const double b = gsl_vector_get(at, 1);
        for (std::size_t i = 0; i < n; ++i) {
            const double t = gsl_vector_get(at, 2 + i);
            gsl_vector_set(out, i, t - p.x[i]);
            gsl_vector_set(out, n + i, a + b * t - p.y[i]);
        }
        return gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, p.factor, out);
    }
    static int derivatives(const gsl_vector* at, void* self, gsl_matrix* out) {
        const auto& p = *static_cast<const adjusted_points*>(self);
        const std::size_t n = p.x.size();
        gsl_matrix_set_zero(out);
        for (std::size_t i = 0; i < n; ++i) {
            gsl_matrix_set(out, i, 2 + i, 1.0);
            gsl_matrix_set(out, n + i, 0, 1.0);
            gsl_matrix_set(out, n + i, 1, gsl_vector_get(at, 2 + i));
            gsl_matrix_set(out, n + i, 2 + i, gsl_vector_get(at, 1));
        }
        return gsl_blas_dtrsm(CblasLeft, CblasLower, CblasNoTrans, CblasNonUnit, 1.0, p.factor, out);
    }
};

}  // namespace

TEST_CASE("ordinary and weighted lines are those of GSL, with covariance and chi-squared") {
    for (const std::size_t n : {std::size_t{3}, std::size_t{4}, std::size_t{5}, std::size_t{6}, std::size_t{11}, std::size_t{32},
                                std::size_t{33}, std::size_t{10000}}) {
        for (const double from : {0.0, -5.0, 1e4}) {
            const made_up p(n, static_cast<unsigned>(n), from);
            CAPTURE(n);
            CAPTURE(from);
            double a, b, var_a, cov, var_b, chi_squared;
            const auto same = [&](const straight_line<>& line, double observed) {
                const double u_a = std::sqrt(var_a);
                const double u_b = std::sqrt(var_b);
                CHECK(near(line.intercept, a, 1e-8 * u_a));
                CHECK(near(line.slope, b, 1e-8 * u_b));
                CHECK(near(line.u_intercept(), u_a, 1e-9 * u_a));
                CHECK(near(line.u_slope, u_b, 1e-9 * u_b));
                CHECK(near(line.covariance(), cov, 1e-9 * u_a * u_b));
                CHECK(near(observed, chi_squared, 1e-9 * chi_squared));
                // GSL takes the covariance of a and b here, which cancels where x is far from 0
                double y, u_y;
                gsl_fit_linear_est(from + 3.0, a, b, var_a, cov, var_b, &y, &u_y);
                const auto read = y_at(line, from + 3.0, 0.0);
                CHECK(near(read.value, y, 1e-8 * read.u));
                CHECK(near(read.u, u_y, (from > 100.0 ? 1e-6 : 1e-9) * read.u));
            };
            REQUIRE(gsl_fit_wlinear(p.x.data(), 1, p.weight.data(), 1, p.y.data(), 1, n, &a, &b, &var_a, &cov, &var_b,
                                    &chi_squared) == GSL_SUCCESS);
            const straight_line<> weighted = fit_line(weighted_points<>{p.x, p.y, p.u_y});
            same(weighted, weighted.chi_squared);
            REQUIRE(gsl_fit_linear(p.x.data(), 1, p.y.data(), 1, n, &a, &b, &var_a, &cov, &var_b, &chi_squared) == GSL_SUCCESS);
            const straight_line<> ordinary = fit_line(unweighted_points<>{p.x, p.y});
            same(ordinary, ordinary.residual_deviation * ordinary.residual_deviation * static_cast<double>(n - 2));
        }
    }
}

TEST_CASE("points in any order have GSL's line, also where the first ones lie at the same x as the last ones") {
    for (const numbers& x : {numbers{1, 2, 5, 6, 1, 2}, numbers{1, 2, 1, 2}, numbers{1, 2, 2, 1}, numbers{3, 1, 3, 1, 3, 1, 3, 1},
                             numbers{9, 2, 8, 3, 7, 1, 6, 4, 0, 5, 10}, numbers{1e8 + 1, 1e8 + 2, 1e8 + 5, 1e8 + 1, 1e8 + 2}}) {
        numbers y, u, weight;
        for (std::size_t i = 0; i < x.size(); ++i) {
            y.push_back(2.0 + 0.5 * x[i] + 0.1 * static_cast<double>(i * 7 % 5));
            u.push_back(0.1 + 0.01 * static_cast<double>(i));
            weight.push_back(1.0 / (u[i] * u[i]));
        }
        double a, b, var_a, cov, var_b, chi_squared;
        REQUIRE(gsl_fit_wlinear(x.data(), 1, weight.data(), 1, y.data(), 1, x.size(), &a, &b, &var_a, &cov, &var_b,
                                &chi_squared) == GSL_SUCCESS);
        const straight_line<> line = fit_line(weighted_points<>{x, y, u});
        CAPTURE(x.size());
        CAPTURE(x[0]);
        CHECK(near(line.slope, b, 1e-8 * std::sqrt(var_b)));
        CHECK(near(line.intercept, a, 1e-8 * std::sqrt(var_a)));
        // GSL's residuals at x of 10^8 keep six digits
        CHECK(near(line.chi_squared, chi_squared, (x[0] > 1e6 ? 1e-6 : 1e-12) * chi_squared));
    }
}

TEST_CASE("lines through the origin are those of GSL") {
    for (const std::size_t n : {std::size_t{2}, std::size_t{11}, std::size_t{1000}}) {
        const made_up p(n, 5, 2.0);
        double b, var_b, chi_squared;
        CAPTURE(n);
        REQUIRE(gsl_fit_wmul(p.x.data(), 1, p.weight.data(), 1, p.y.data(), 1, n, &b, &var_b, &chi_squared) == GSL_SUCCESS);
        const straight_line<> weighted = fit_line_through_origin(weighted_points<>{p.x, p.y, p.u_y});
        CHECK(near(weighted.slope, b, 1e-12 * b));
        CHECK(near(weighted.u_slope, std::sqrt(var_b), 1e-12 * weighted.u_slope));
        CHECK(near(weighted.chi_squared, chi_squared, 1e-10 * chi_squared));
        REQUIRE(gsl_fit_mul(p.x.data(), 1, p.y.data(), 1, n, &b, &var_b, &chi_squared) == GSL_SUCCESS);
        const straight_line<> ordinary = fit_line_through_origin(unweighted_points<>{p.x, p.y});
        CHECK(near(ordinary.slope, b, 1e-12 * b));
        CHECK(near(ordinary.u_slope, std::sqrt(var_b), 1e-10 * ordinary.u_slope));
    }
}

TEST_CASE("lines with correlated y are those of GSL's multiple regression after its Cholesky factor") {
    for (unsigned seed = 1; seed <= 10; ++seed) {
        constexpr std::size_t n = 12;
        const made_up p(n, seed, 1.0);
        const numbers U_y = mixed_covariance(p.u_y, seed);
        const auto factor = cholesky(U_y, n);
        auto X = matrix(n, 2);
        auto y = vector(n);
        for (std::size_t i = 0; i < n; ++i) {
            gsl_matrix_set(X.get(), i, 0, 1.0);
            gsl_matrix_set(X.get(), i, 1, p.x[i]);
            gsl_vector_set(y.get(), i, p.y[i]);
        }
        gsl_blas_dtrsm(CblasLeft, CblasLower, CblasNoTrans, CblasNonUnit, 1.0, factor.get(), X.get());
        gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, factor.get(), y.get());
        auto c = vector(2);
        auto covariance = matrix(2, 2);
        double chi_squared = 0.0;
        const owned<gsl_multifit_linear_workspace> work(gsl_multifit_linear_alloc(n, 2));
        REQUIRE(gsl_multifit_linear(X.get(), y.get(), c.get(), covariance.get(), &chi_squared, work.get()) == GSL_SUCCESS);
        const straight_line<> line = fit_line(correlated_points<>{p.x, p.y, U_y});
        CAPTURE(seed);
        CHECK(near(line.intercept, gsl_vector_get(c.get(), 0), 1e-10 * line.u_intercept()));
        CHECK(near(line.slope, gsl_vector_get(c.get(), 1), 1e-10 * line.u_slope));
        CHECK(near(line.chi_squared, chi_squared, 1e-10 * chi_squared));
        // GSL scales its covariance by the residuals
        const double scale = chi_squared / static_cast<double>(n - 2);
        CHECK(near(line.u_intercept(), std::sqrt(gsl_matrix_get(covariance.get(), 0, 0) / scale), 1e-10 * line.u_intercept()));
        CHECK(near(line.u_slope, std::sqrt(gsl_matrix_get(covariance.get(), 1, 1) / scale), 1e-10 * line.u_slope));
        CHECK(near(line.covariance(), gsl_matrix_get(covariance.get(), 0, 1) / scale, 1e-10 * line.u_intercept() * line.u_slope));
    }
}

TEST_CASE("lines with everything correlated are those of GSL's least squares over all adjusted points, with their covariance") {
    for (unsigned seed = 1; seed <= 10; ++seed) {
        constexpr std::size_t n = 9;
        const made_up p(n, seed, 1.0);
        numbers u = p.u_x;
        for (double& v : u) v *= 8.0;  // enough to matter beside u(y)
        u.insert(u.end(), p.u_y.begin(), p.u_y.end());
        const numbers joint = mixed_covariance(u, seed);
        numbers U_x, U_y, U_xy;
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j) {
                U_x.push_back(joint[i * 2 * n + j]);
                U_y.push_back(joint[(n + i) * 2 * n + n + j]);
                U_xy.push_back(joint[i * 2 * n + n + j]);
            }
        }
        const straight_line<> line = fit_line(all_correlated_points<>{p.x, p.y, U_x, U_y, U_xy});

        const auto factor = cholesky(joint, 2 * n);
        adjusted_points problem{p.x, p.y, factor.get()};
        gsl_multifit_nlinear_fdf fdf{};
        fdf.f = adjusted_points::residuals;
        fdf.df = adjusted_points::derivatives;
        fdf.n = 2 * n;
        fdf.p = n + 2;
        fdf.params = &problem;
        gsl_multifit_nlinear_parameters settings = gsl_multifit_nlinear_default_parameters();
        settings.solver = gsl_multifit_nlinear_solver_qr;
        const owned<gsl_multifit_nlinear_workspace> work(
            gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &settings, 2 * n, n + 2));
        auto start = vector(n + 2);
        gsl_vector_set(start.get(), 1, 1.0);
        for (std::size_t i = 0; i < n; ++i) gsl_vector_set(start.get(), 2 + i, p.x[i]);
        REQUIRE(gsl_multifit_nlinear_init(start.get(), &fdf, work.get()) == GSL_SUCCESS);
        int why = 0;
        REQUIRE(gsl_multifit_nlinear_driver(500, 1e-14, 1e-14, 0.0, nullptr, nullptr, &why, work.get()) == GSL_SUCCESS);
        auto covariance = matrix(n + 2, n + 2);
        gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(work.get()), 0.0, covariance.get());
        const gsl_vector* found = gsl_multifit_nlinear_position(work.get());
        double chi_squared = 0.0;
        gsl_blas_ddot(gsl_multifit_nlinear_residual(work.get()), gsl_multifit_nlinear_residual(work.get()), &chi_squared);
        CAPTURE(seed);
        CHECK(near(line.intercept, gsl_vector_get(found, 0), 1e-6 * line.u_intercept()));
        CHECK(near(line.slope, gsl_vector_get(found, 1), 1e-6 * line.u_slope));
        CHECK(near(line.chi_squared, chi_squared, 1e-9 * chi_squared));
        CHECK(near(line.u_intercept(), std::sqrt(gsl_matrix_get(covariance.get(), 0, 0)), 1e-6 * line.u_intercept()));
        CHECK(near(line.u_slope, std::sqrt(gsl_matrix_get(covariance.get(), 1, 1)), 1e-6 * line.u_slope));
        CHECK(near(line.covariance(), gsl_matrix_get(covariance.get(), 0, 1), 1e-6 * line.u_intercept() * line.u_slope));
    }
}

TEST_CASE("the limits of chi-squared are GSL's quantiles") {
    for (const std::size_t nu : {1U, 2U, 3U, 4U, 9U, 25U, 100U, 9998U}) {
        for (const double probability : {0.05, 0.5, 0.95, 0.99, 0.999}) {
            CAPTURE(nu);
            CAPTURE(probability);
            const double expected = gsl_cdf_chisq_Pinv(probability, static_cast<double>(nu));
            CHECK(near(judge_chi_squared(0.0, nu, probability).limit, expected, 1e-10 * expected));
        }
    }
}

}  // namespace line_gsl_test
