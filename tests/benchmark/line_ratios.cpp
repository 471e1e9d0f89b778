// Weighted straight lines beside the GNU Scientific Library's, which has one build: that of its package.

#include "ratios.hpp"

#include <fmt/format.h>
#include <gsl/gsl_fit.h>
#include <cmath>
#include <memory>
#include <plumbline/uncertainty/line.hpp>
#include <random>
#include <vector>

namespace plumbline::benchmarks {

namespace {

using namespace plumbline::uncertainty;

/// A calibration curve, invented: readings in order at known settings. GSL is given the weights that it wants; we compute them from u.
struct curve {
    std::vector<double> x, y, u, weight;
    curve(std::size_t n, double intercept, double slope, unsigned seed) {
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(0.0, 1.0);
        std::normal_distribution<double> error;
        for (std::size_t i = 0; i < n; ++i) {
            x.push_back(10.0 * static_cast<double>(i) / static_cast<double>(n - 1));
            u.push_back(0.1 + 0.05 * even(bits));
            weight.push_back(1.0 / (u.back() * u.back()));
            y.push_back(intercept + slope * x.back() + u.back() * error(bits));
        }
    }
};

struct by_gsl {
    double a, b, var_a, covariance, var_b, chi_squared;
    explicit by_gsl(const curve& c) {
        gsl_fit_wlinear(c.x.data(), 1, c.weight.data(), 1, c.y.data(), 1, c.x.size(), &a, &b, &var_a, &covariance, &var_b,
                        &chi_squared);
    }
};

bool same(const curve& c) {
    const by_gsl theirs(c);
    const straight_line<> ours = fit_line(weighted_points<>{c.x, c.y, c.u});
    const bool all = std::abs(ours.slope - theirs.b) <= 1e-9 * ours.u_slope &&
                     std::abs(ours.intercept - theirs.a) <= 1e-9 * ours.u_intercept() &&
                     std::abs(ours.chi_squared - theirs.chi_squared) <= 1e-9 * theirs.chi_squared;
    if (!all) fmt::print(stderr, "our line and GSL's differ\n");
    return all;
}

}  // namespace

void add_lines(suite& all) {
    struct numbered {
        const char* name;
        double intercept, slope;
        unsigned seed;
    };
    for (const numbered& each : {numbered{"first numbers", 1.0, 0.7, 5}, numbered{"other numbers", -12.5, 3.1, 17}}) {
        struct size {
            std::size_t points;
            double at_most;
        };
        for (const size& s : {size{11, 0.5}, size{10000, 0.15}}) {
            const std::string title = fmt::format("lines, {}, {} points: ", each.name, s.points);
            const auto points = std::make_shared<const curve>(s.points, each.intercept, each.slope, each.seed);
            all.add(title + "plumbline", [points] {
                benchmark::ClobberMemory();
                const straight_line<> line = fit_line(weighted_points<>{points->x, points->y, points->u});
                benchmark::DoNotOptimize(&line);
                benchmark::ClobberMemory();
            });
            all.add(title + "gsl_fit_wlinear", [points] {
                benchmark::ClobberMemory();
                const by_gsl line(*points);
                benchmark::DoNotOptimize(&line);
                benchmark::ClobberMemory();
            });
            all.compare({title + "weighted fit against gsl_fit_wlinear",
                         title + "plumbline",
                         {title + "gsl_fit_wlinear"},
                         aim::at_most(s.at_most)});
            all.check([points] { return same(*points); });
        }
    }
}

}  // namespace plumbline::benchmarks
