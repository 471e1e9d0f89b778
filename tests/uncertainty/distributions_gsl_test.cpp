// Every distribution that is drawn, against the GNU Scientific Library: its distribution function by Kolmogorov's distance, mean and standard
// deviation, the quantiles behind k. What GSL has no function for it integrates: a trapezoid is a rectangle spread over another, a curvilinear
// trapezoid is a rectangle with an uncertain limit (JCGM 101:2008, 6.4.3 to 6.4.6).

#include <doctest/doctest.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_statistics.h>
#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <string>
#include <vector>

namespace distributions_gsl_test {

using namespace plumbline;
using namespace plumbline::uncertainty;

namespace {

constexpr std::size_t count = 200'000;

/// What trials see of an input that is estimated as 0.
std::vector<double> drawn(const sampled_distribution& spread) {
    std::vector<double> seen;
    monte_carlo_settings s;
    s.trials = count;
    s.seed = 20;
    const auto result = monte_carlo(
        s,
        [into = &seen](const ratio& x) {
            into->push_back(x.value());
            return x;
        },
        sampled<ratio>{sampled_input("x", "1", 0.0, spread)});
    CHECK(result.trials == count);
    REQUIRE(seen.size() >= count);
    seen.resize(count);
    return seen;
}

using distribution_function = std::function<double(double)>;

/// Integral of f from low to high, divided by the length.
double mean_over(double low, double high, const std::function<double(double)>& f) {
    const std::unique_ptr<gsl_integration_workspace, void (*)(gsl_integration_workspace*)> work(
        gsl_integration_workspace_alloc(200), gsl_integration_workspace_free);
    gsl_function integrand{[](double x, void* self) { return (*static_cast<const std::function<double(double)>*>(self))(x); },
                           const_cast<std::function<double(double)>*>(&f)};
    double integral = 0.0;
    double error = 0.0;
    REQUIRE(gsl_integration_qag(&integrand, low, high, 1e-9, 1e-9, 200, GSL_INTEG_GAUSS21, work.get(), &integral, &error) == 0);
    return integral / (high - low);
}

double two_rectangles(double y, double a, double b) {
    return mean_over(-a, a, [=](double s) { return gsl_cdf_flat_P(y - s, -b, b); });
}

/// Largest distance between the empirical and GSL's distribution function, times sqrt(n), over every hundredth of the drawn in order: above 2.2
/// once in ten thousand (Kolmogorov).
double kolmogorov(std::vector<double> y, const distribution_function& expected) {
    std::sort(y.begin(), y.end());
    const double n = static_cast<double>(y.size());
    double distance = 0.0;
    for (std::size_t i = 0; i < y.size(); i += 100) {
        const double p = expected(y[i]);
        distance = std::max({distance, std::abs(p - static_cast<double>(i) / n), std::abs(p - static_cast<double>(i + 1) / n)});
    }
    return distance * std::sqrt(n);
}

struct drawn_for {
    std::string name;
    sampled_distribution spread;
    double u;
    distribution_function expected;
};

std::vector<drawn_for> all() {
    const auto plain = [](const std::string& name, const distribution& d, distribution_function f) {
        return drawn_for{name, d, standard_uncertainty(d), std::move(f)};
    };
    // u of the curvilinear trapezoid: JCGM 101:2008, 6.4.3.3
    const double u_curvilinear = std::sqrt(2.5 * 2.5 / 3.0 + 0.5 * 0.5 / 9.0);
    return {
        plain("normal", normal{2.5}, [](double y) { return gsl_cdf_gaussian_P(y, 2.5); }),
        plain("rectangular", rectangular{2.5}, [](double y) { return gsl_cdf_flat_P(y, -2.5, 2.5); }),
        plain("triangular", triangular{2.5}, [](double y) { return two_rectangles(y, 1.25, 1.25); }),
        plain("trapezoidal", trapezoidal{3.0, 2.0}, [](double y) { return two_rectangles(y, 2.5, 0.5); }),
        plain("arcsine", arcsine{2.5}, [](double y) { return gsl_cdf_beta_P(std::clamp(0.5 + y / 5.0, 0.0, 1.0), 0.5, 0.5); }),
        // a scaled and shifted t, whose standard deviation is sqrt(nu / (nu - 2)) of the u stated (JCGM 101:2008, 6.4.9)
        {"t", distribution{repeated{2.5, 7.0}}, 2.5 * std::sqrt(7.0 / 5.0),
         [](double y) { return gsl_cdf_tdist_P(y / 2.5, 7.0); }},
        {"curvilinear trapezoid", curvilinear_trapezoid{2.5, 0.5}, u_curvilinear,
         [](double y) { return mean_over(2.0, 3.0, [=](double limit) { return gsl_cdf_flat_P(y, -limit, limit); }); }}};
}

}  // namespace

TEST_CASE("what is drawn has GSL's distribution function, mean 0 and the standard deviation of its formula") {
    for (const drawn_for& each : all()) {
        CAPTURE(each.name);
        const std::vector<double> y = drawn(each.spread);
        CHECK(kolmogorov(y, each.expected) < 2.2);
        const double n = static_cast<double>(count);
        CHECK(std::abs(gsl_stats_mean(y.data(), 1, count)) < 4.0 * each.u / std::sqrt(n));
        // relative scatter of a standard deviation: sqrt((kurtosis - 1) / (4 n)), kurtosis at most 5 here (t with 7 degrees of freedom)
        CHECK(std::abs(gsl_stats_sd(y.data(), 1, count) / each.u - 1.0) < 4.0 / std::sqrt(n));
    }
}

TEST_CASE("Kolmogorov's distance tells a distribution from its neighbours") {
    CHECK(kolmogorov(drawn(distribution{normal{2.5}}), [](double y) { return gsl_cdf_tdist_P(y / 2.5, 25.0); }) > 2.2);
    CHECK(kolmogorov(drawn(distribution{trapezoidal{3.0, 2.0}}), [](double y) { return two_rectangles(y, 2.6, 0.4); }) > 2.2);
    CHECK(kolmogorov(drawn(curvilinear_trapezoid{2.5, 0.5}), [](double y) { return two_rectangles(y, 2.5, 0.5); }) > 2.2);
}

TEST_CASE("k is GSL's quantile of normal and t") {
    for (const double p : {0.5, 0.9, 0.95, 0.99}) {
        CAPTURE(p);
        const double upper = 0.5 * (1.0 + p);
        CHECK(std::abs(coverage_factor(p, infinite) / gsl_cdf_ugaussian_Pinv(upper) - 1.0) <= 1e-12);
        for (const double nu : {1.5, 4.0, 10.3, 63.0, 105.4, 820.4}) {
            CAPTURE(nu);
            CHECK(std::abs(coverage_factor(p, nu) / gsl_cdf_tdist_Pinv(upper, nu) - 1.0) <= 1e-9);
        }
    }
}

}  // namespace distributions_gsl_test
