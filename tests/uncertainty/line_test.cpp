#include "../message.hpp"
#include "../slow_build.hpp"

#include <plumbline/uncertainty/line_use.hpp>

#include <doctest/doctest.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <random>
#include <string>
#include <vector>

namespace line_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using refused::message;

namespace {

using numbers = std::vector<double>;

bool near(double a, double b, double relative, double absolute = 0.0) {
    return std::abs(a - b) <= relative * std::max(std::abs(a), std::abs(b)) + absolute;
}

/// Points near a line, invented: 6 to 12 of them, u of each and a covariance in each pair.
struct made_up {
    numbers x, y, u_x, u_y, covariance;

    explicit made_up(unsigned seed, double a = 0.3, double b = 1.7) {
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(0.0, 1.0);
        std::normal_distribution<double> normal_error;
        const std::size_t n = 6 + bits() % 7;
        for (std::size_t i = 0; i < n; ++i) {
            u_x.push_back(0.02 + 0.1 * even(bits));
            u_y.push_back(0.02 + 0.2 * even(bits));
            const double r = 1.8 * even(bits) - 0.9;
            covariance.push_back(r * u_x.back() * u_y.back());
            const double true_x = -2.0 + 6.0 * even(bits);
            const double e = normal_error(bits);
            x.push_back(true_x + u_x.back() * e);
            y.push_back(a + b * true_x + u_y.back() * (r * e + std::sqrt(1.0 - r * r) * normal_error(bits)));
        }
    }
    [[nodiscard]] std::size_t size() const { return x.size(); }
    [[nodiscard]] weighted_points<> weighted() const { return {x, y, u_y}; }
    [[nodiscard]] both_uncertain_points<> both() const { return {x, y, u_x, u_y, covariance}; }
};

/// Covariance matrices with something in every place: each error is its own part and parts of common ones.
struct matrices {
    numbers U_x, U_y, U_xy;

    explicit matrices(const made_up& p, unsigned seed) {
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(-1.0, 1.0);
        const std::size_t n = p.size();
        const std::size_t m = 2 * n;
        numbers mix(m * m);
        for (std::size_t i = 0; i < m; ++i) {
            for (std::size_t j = 0; j < m; ++j) {
                mix[i * m + j] = (i == j ? 1.0 : 0.3 * even(bits)) * (i < n ? p.u_x[i] : p.u_y[i - n]);
            }
        }
        const auto at = [&](std::size_t i, std::size_t j) {
            double sum = 0.0;
            for (std::size_t k = 0; k < m; ++k) sum += mix[i * m + k] * mix[j * m + k];
            return sum;
        };
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j) {
                U_x.push_back(at(i, j));
                U_y.push_back(at(n + i, n + j));
                U_xy.push_back(at(i, n + j));
            }
        }
    }
};

numbers times(numbers values, double by) {
    for (double& v : values) v *= by;
    return values;
}

numbers plus(numbers values, double by) {
    for (double& v : values) v += by;
    return values;
}

double sum_of_squares(const numbers& values) { return std::inner_product(values.begin(), values.end(), values.begin(), 0.0); }

/// The same points in another order.
numbers in_order(const numbers& values, const std::vector<std::size_t>& order) {
    numbers result;
    for (const std::size_t i : order) result.push_back(values[i]);
    return result;
}

std::vector<std::size_t> shuffled(std::size_t n, unsigned seed) {
    std::vector<std::size_t> order(n);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::mt19937_64 bits(seed);
    std::shuffle(order.begin(), order.end(), bits);
    return order;
}

/// A line through a, b and the like at x = 0 with its slope and their u, all to the given digits of each line's own u.
bool same_line(const straight_line<>& p, const straight_line<>& q, double digits = 1e-9) {
    return near(p.intercept, q.intercept, 0.0, digits * q.u_intercept()) && near(p.slope, q.slope, 0.0, digits * q.u_slope) &&
           near(p.u_intercept(), q.u_intercept(), digits) && near(p.u_slope, q.u_slope, digits) &&
           near(p.covariance(), q.covariance(), 0.0, digits * q.u_intercept() * q.u_slope) &&
           near(p.chi_squared, q.chi_squared, digits, digits);
}

}  // namespace

TEST_CASE("any other line has a larger chi-squared, for each kind of points") {
    for (unsigned seed = 1; seed <= slow::repetitions(100U); ++seed) {
        const made_up p(seed);
        const matrices m(p, seed);
        const correlated_points<> correlated{p.x, p.y, m.U_y};
        const all_correlated_points<> all{p.x, p.y, m.U_x, m.U_y, m.U_xy};
        CAPTURE(seed);
        const auto least = [](const auto& points) {
            const straight_line<> best = fit_line(points);
            CHECK(near(sum_of_squares(weighted_residuals(best, points)), best.chi_squared, 1e-10));
            std::array<double, 2> curvature{};
            for (const double step : {1e-3, -1e-3}) {
                straight_line<> other = best;
                other.height += step * best.u_height;
                const double higher = sum_of_squares(weighted_residuals(other, points));
                CHECK(higher > best.chi_squared);
                curvature[0] += (higher - best.chi_squared) / (2.0 * step * step);
                other = best;
                other.slope += step * best.u_slope;
                const double steeper = sum_of_squares(weighted_residuals(other, points));
                CHECK(steeper > best.chi_squared);
                curvature[1] += (steeper - best.chi_squared) / (2.0 * step * step);
            }
            return curvature;
        };
        // where x is exact chi-squared is a parabola: one u higher or steeper is one more
        for (const std::array<double, 2>& curvature : {least(p.weighted()), least(correlated)}) {
            CHECK(near(curvature[0], 1.0, 1e-5));
            CHECK(near(curvature[1], 1.0, 1e-5));
        }
        // with both axes uncertain u is that of the adjusted points, which differs from the curvature by what the residuals add
        for (const std::array<double, 2>& curvature : {least(p.both()), least(all)}) {
            CHECK(near(curvature[0], 1.0, 1e-5));
            CHECK(near(curvature[1], 1.0, 0.3));
        }
    }
}

TEST_CASE("the minimum found is the lowest of a scan over 2000 directions") {
    // no signal at all, so that there are several minima often
    int several = 0;
    for (unsigned seed = 1; seed <= slow::repetitions(60U); ++seed) {
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(0.0, 1.0);
        numbers x, y, u_x, u_y;
        for (int i = 0; i < 5; ++i) {
            x.push_back(even(bits));
            y.push_back(even(bits));
            u_x.push_back(std::pow(10.0, -3.0 * even(bits)));
            u_y.push_back(std::pow(10.0, -3.0 * even(bits)));
        }
        const both_uncertain_points<> points{x, y, u_x, u_y};
        const straight_line<> best = fit_line(points);
        CAPTURE(seed);
        CHECK(near(sum_of_squares(weighted_residuals(best, points)), best.chi_squared, 1e-9));
        // chi-squared of a direction with the best offset, written out
        const auto at = [&](double angle) {
            const double c = std::cos(angle);
            const double s = std::sin(angle);
            double w = 0.0;
            double w_r = 0.0;
            double w_r_r = 0.0;
            for (std::size_t i = 0; i < x.size(); ++i) {
                const double r = c * (y[i] - y[0]) - s * (x[i] - x[0]);
                const double weight = 1.0 / (c * c * u_y[i] * u_y[i] + s * s * u_x[i] * u_x[i]);
                w += weight;
                w_r += weight * r;
                w_r_r += weight * r * r;
            }
            return w_r_r - w_r * w_r / w;
        };
        constexpr int directions = 2000;
        constexpr double pi = 3.14159265358979323846;
        int minima = 0;
        for (int i = 0; i < directions; ++i) {
            const double here = at(pi * i / directions);
            CHECK(best.chi_squared <= here * (1.0 + 1e-9) + 1e-9);
            if (here < at(pi * (i - 1) / directions) && here < at(pi * (i + 1) / directions)) ++minima;
        }
        if (minima > 1) ++several;
    }
    CHECK((slow::build || several >= 10));  // else this test shows nothing
}

namespace {

/// Points whose errors lie along their line but for a part of `width`, so that chi-squared has a valley of that width in the slope.
struct along_the_line {
    numbers x, y, u_x, u_y, covariance;
    along_the_line(unsigned seed, double size, double width) {
        std::mt19937_64 bits(seed);
        std::normal_distribution<double> error;
        for (int i = 0; i < 8; ++i) {
            const double along = size * error(bits);
            x.push_back(i + along);
            y.push_back(2.0 * (i + along) + size * width * error(bits));
            u_x.push_back(size);
            u_y.push_back(2.0 * size);
            covariance.push_back(2.0 * size * size * (1.0 - width * width / 8.0));
        }
    }
    [[nodiscard]] both_uncertain_points<> both() const { return {x, y, u_x, u_y, covariance}; }
};

numbers diagonal(const numbers& values) {
    numbers m(values.size() * values.size(), 0.0);
    for (std::size_t i = 0; i < values.size(); ++i) m[i * values.size() + i] = values[i];
    return m;
}

numbers squares(numbers values) {
    for (double& v : values) v *= v;
    return values;
}

}  // namespace

TEST_CASE("errors along the line leave a valley down to a millionth wide, and it is found") {
    for (unsigned seed = 1; seed <= slow::repetitions(200U); ++seed) {
        const double width = std::pow(10.0, -2.0 - seed % 5);
        const along_the_line p(seed, std::pow(10.0, 0.1 * (seed % 40) - 1.5), width);
        const straight_line<> line = fit_line(p.both());
        CAPTURE(seed);
        CHECK(std::abs(line.slope - 2.0) <= 5.0 * line.u_slope);
        CHECK(line.chi_squared <= 30.0);  // 6 degrees of freedom: exceeded once in 25 000
        if (width < 1e-4) continue;       // as matrices only to there
        CHECK(same_line(fit_line(all_correlated_points<>{p.x, p.y, diagonal(squares(p.u_x)), diagonal(squares(p.u_y)),
                                                         diagonal(p.covariance)}),
                        line, 1e-5));
    }
}

TEST_CASE("a minimum that rounding hides is refused") {
    // in a matrix of variances, u of the residuals is the difference of figures that are the same to 14 digits
    const along_the_line p(179, std::pow(10.0, 0.1 * (179 % 40) - 1.5), 2e-7);
    CHECK(message([&] {
              static_cast<void>(fit_line(
                  all_correlated_points<>{p.x, p.y, diagonal(squares(p.u_x)), diagonal(squares(p.u_y)), diagonal(p.covariance)}));
          }) ==
          "straight line: a minimum of chi-squared that rounding hides, expected one known to 1e-4 of u(slope); look at the "
          "covariances: errors nearly cancel along the line");
}

TEST_CASE("a line moves and stretches with its points") {
    std::mt19937_64 bits(8);
    const auto one_of = [&](const numbers& choices) { return choices[bits() % choices.size()]; };
    for (unsigned seed = 1; seed <= slow::repetitions(100U); ++seed) {
        const made_up p(seed);
        const matrices m(p, seed);
        const double shift_x = std::uniform_real_distribution<double>(-100.0, 100.0)(bits);
        const double shift_y = std::uniform_real_distribution<double>(-100.0, 100.0)(bits);
        const double by_x = one_of({-3.0, 1e-6, 0.1, 7.0, 1e9});
        const double by_y = one_of({-0.3, 1e-9, 10.0, 1e6});
        CAPTURE(seed);
        const numbers x = times(plus(p.x, shift_x), by_x);
        const numbers y = times(plus(p.y, shift_y), by_y);
        const numbers u_x = times(p.u_x, std::abs(by_x));
        const numbers u_y = times(p.u_y, std::abs(by_y));
        const numbers covariance = times(p.covariance, by_x * by_y);
        const auto moved = [&](const straight_line<>& line) {
            straight_line<> result = line;
            result.centre = by_x * (line.centre + shift_x);
            result.slope *= by_y / by_x;
            result.intercept = by_y * (line.intercept + shift_y - line.slope * shift_x);
            result.u_height *= std::abs(by_y);
            result.u_slope *= std::abs(by_y / by_x);
            return result;
        };
        CHECK(same_line(fit_line(weighted_points<>{x, y, u_y}), moved(fit_line(p.weighted()))));
        CHECK(same_line(fit_line(both_uncertain_points<>{x, y, u_x, u_y, covariance}), moved(fit_line(p.both()))));
        CHECK(same_line(fit_line(unweighted_points<>{x, y}), moved(fit_line(unweighted_points<>{p.x, p.y}))));
        const numbers U_x = times(m.U_x, by_x * by_x);
        const numbers U_y = times(m.U_y, by_y * by_y);
        const numbers U_xy = times(m.U_xy, by_x * by_y);
        CHECK(same_line(fit_line(correlated_points<>{x, y, U_y}), moved(fit_line(correlated_points<>{p.x, p.y, m.U_y}))));
        CHECK(same_line(fit_line(all_correlated_points<>{x, y, U_x, U_y, U_xy}),
                        moved(fit_line(all_correlated_points<>{p.x, p.y, m.U_x, m.U_y, m.U_xy}))));
    }
}

TEST_CASE("the order of the points does not matter") {
    for (unsigned seed = 1; seed <= slow::repetitions(50U); ++seed) {
        const made_up p(seed);
        const matrices m(p, seed);
        const auto order = shuffled(p.size(), seed);
        const numbers x = in_order(p.x, order);
        const numbers y = in_order(p.y, order);
        const numbers u_x = in_order(p.u_x, order);
        const numbers u_y = in_order(p.u_y, order);
        const numbers covariance = in_order(p.covariance, order);
        const auto reordered = [&](const numbers& matrix) {
            numbers result;
            for (const std::size_t i : order) {
                for (const std::size_t j : order) result.push_back(matrix[i * p.size() + j]);
            }
            return result;
        };
        const numbers U_x = reordered(m.U_x);
        const numbers U_y = reordered(m.U_y);
        const numbers U_xy = reordered(m.U_xy);
        CAPTURE(seed);
        CHECK(same_line(fit_line(unweighted_points<>{x, y}), fit_line(unweighted_points<>{p.x, p.y})));
        CHECK(same_line(fit_line(weighted_points<>{x, y, u_y}), fit_line(p.weighted())));
        CHECK(same_line(fit_line(both_uncertain_points<>{x, y, u_x, u_y, covariance}), fit_line(p.both())));
        CHECK(same_line(fit_line(correlated_points<>{x, y, U_y}), fit_line(correlated_points<>{p.x, p.y, m.U_y})));
        CHECK(same_line(fit_line(all_correlated_points<>{x, y, U_x, U_y, U_xy}),
                        fit_line(all_correlated_points<>{p.x, p.y, m.U_x, m.U_y, m.U_xy})));
    }
}

TEST_CASE("with both axes uncertain, x and y exchanged give the same line") {
    for (unsigned seed = 1; seed <= slow::repetitions(100U); ++seed) {
        const made_up p(seed);
        const matrices m(p, seed);
        numbers transposed;
        for (std::size_t i = 0; i < p.size(); ++i) {
            for (std::size_t j = 0; j < p.size(); ++j) transposed.push_back(m.U_xy[j * p.size() + i]);
        }
        const auto exchanged = [&](const straight_line<>& there, const straight_line<>& back) {
            CHECK(near(back.slope, 1.0 / there.slope, 1e-12));
            CHECK(near(back.intercept, -there.intercept / there.slope, 1e-10, 1e-12));
            CHECK(near(back.u_slope, there.u_slope / (there.slope * there.slope), 1e-10));
            CHECK(near(back.chi_squared, there.chi_squared, 1e-10));
            // and what is read on it
            const auto x = x_at(there, 2.5, 0.1);
            const auto again = y_at(back, 2.5, 0.1);
            CHECK(near(x.value, again.value, 1e-10));
            CHECK(near(x.u, again.u, 1e-10));
        };
        CAPTURE(seed);
        exchanged(fit_line(p.both()), fit_line(both_uncertain_points<>{p.y, p.x, p.u_y, p.u_x, p.covariance}));
        exchanged(fit_line(all_correlated_points<>{p.x, p.y, m.U_x, m.U_y, m.U_xy}),
                  fit_line(all_correlated_points<>{p.y, p.x, m.U_y, m.U_x, transposed}));
    }
}

TEST_CASE("with u(x) of nothing, or next to nothing, the line is the weighted one, and chi-squared tends to its") {
    for (unsigned seed = 1; seed <= slow::repetitions(30U); ++seed) {
        const made_up p(seed);
        const straight_line<> weighted = fit_line(p.weighted());
        const numbers exact(p.size(), 0.0);
        CAPTURE(seed);
        CHECK(same_line(fit_line(both_uncertain_points<>{p.x, p.y, exact, p.u_y}), weighted, 1e-9));
        double before = std::numeric_limits<double>::infinity();
        for (const double part : {1e-1, 1e-2, 1e-3, 1e-4}) {
            const numbers u_x = times(p.u_x, part);
            const straight_line<> line = fit_line(both_uncertain_points<>{p.x, p.y, u_x, p.u_y});
            const double off = std::abs(line.chi_squared - weighted.chi_squared);
            CHECK(off < before);
            CHECK(off <= 100.0 * part * part * weighted.chi_squared);
            before = off;
        }
        // the same with matrices: x exact in all rows
        const numbers none(p.size() * p.size(), 0.0);
        const matrices m(p, seed);
        CHECK(same_line(fit_line(all_correlated_points<>{p.x, p.y, none, m.U_y, none}),
                        fit_line(correlated_points<>{p.x, p.y, m.U_y})));
    }
}

TEST_CASE("an error that all y share moves the height alone") {
    const made_up p(3);
    const std::size_t n = p.size();
    constexpr double common = 0.5;
    numbers U_y(n * n, common * common);
    for (std::size_t i = 0; i < n; ++i) U_y[i * n + i] += p.u_y[i] * p.u_y[i];
    const straight_line<> apart = fit_line(p.weighted());
    const straight_line<> together = fit_line(correlated_points<>{p.x, p.y, U_y});
    CHECK(near(together.slope, apart.slope, 1e-12));
    CHECK(near(together.u_slope, apart.u_slope, 1e-12));
    CHECK(near(together.chi_squared, apart.chi_squared, 1e-11));
    CHECK(near(together.u_height, std::hypot(apart.u_height, common), 1e-12));
}

TEST_CASE("two points with stated u give the line through them, and nothing to judge") {
    const numbers x{1.0, 3.0};
    const numbers y{2.0, 8.0};
    const numbers u_y{0.3, 0.4};
    const numbers u_x{0.1, 0.1};
    for (const straight_line<>& line :
         {fit_line(weighted_points<>{x, y, u_y}), fit_line(both_uncertain_points<>{x, y, u_x, u_y})}) {
        CHECK(near(line.slope, 3.0, 1e-14));
        CHECK(near(line.intercept, -1.0, 1e-13));
        CHECK(line.degrees_of_freedom == 0);
        CHECK(line.chi_squared <= 1e-25);
        CHECK(message([&] { static_cast<void>(verdict(line)); }) ==
              "chi-squared of a line: no degrees of freedom, expected at least 1; measure at more points: so few always fit");
        CHECK(message([&] { static_cast<void>(scaled_to_residuals(line)); }) ==
              "straight line: no degrees of freedom, expected at least 1; measure at more points: so few leave no residuals");
    }
    // u(slope) by hand: (y2 - y1) / (x2 - x1)
    CHECK(near(fit_line(weighted_points<>{x, y, u_y}).u_slope, 0.25, 1e-14));
}

TEST_CASE("figures far from zero lose no digits") {
    // the points of a line with small residuals, moved: exact in binary
    const numbers x{0.0, 1.0, 2.0, 3.0, 4.0};
    const numbers y{0.25, 2.0, 4.5, 6.0, 8.25};
    const numbers u_y{0.5, 0.25, 0.5, 1.0, 0.5};
    const straight_line<> here = fit_line(weighted_points<>{x, y, u_y});
    constexpr double far = 0x1p40;
    const numbers far_x = plus(x, far);
    const numbers far_y = plus(y, far);
    const straight_line<> there = fit_line(weighted_points<>{far_x, far_y, u_y});
    CHECK(near(there.slope, here.slope, 1e-14));
    CHECK(near(there.u_slope, here.u_slope, 1e-14));
    CHECK(near(there.chi_squared, here.chi_squared, 1e-13));
    CHECK(near(there.intercept, here.intercept + far - here.slope * far, 1e-14));
    const auto at = y_at(there, far + 2.5, 0.125);
    CHECK(std::abs(at.value - far - y_at(here, 2.5, 0.125).value) <= 0x1p-12);  // half of a double's last digit there
    CHECK(near(at.u, y_at(here, 2.5, 0.125).u, 1e-4));                          // the centre, too, is rounded to 2^-12
    // a point far out first, among the others and last
    for (const std::size_t place : {std::size_t{0}, std::size_t{2}, std::size_t{4}}) {
        numbers outlying = far_x;
        numbers u = u_y;
        outlying[place] = 0.0;
        u[place] = 1e30;
        numbers x_less = x;
        numbers y_less = y;
        numbers u_less = u_y;
        const auto at_place = static_cast<std::ptrdiff_t>(place);
        x_less.erase(x_less.begin() + at_place);
        y_less.erase(y_less.begin() + at_place);
        u_less.erase(u_less.begin() + at_place);
        const straight_line<> without = fit_line(weighted_points<>{x_less, y_less, u_less});
        const straight_line<> with = fit_line(weighted_points<>{outlying, far_y, u});
        CAPTURE(place);
        CHECK(near(with.slope, without.slope, 1e-9));
        CHECK(near(with.u_slope, without.u_slope, 1e-9));
        CHECK(near(with.chi_squared, without.chi_squared, 1e-9));
    }
}

TEST_CASE("slope, intercept and chi-squared are as good as two centred passes in long double, wherever the first pass starts") {
    double worst_slope = 0.0;
    double worst_intercept = 0.0;
    double worst_chi_squared = 0.0;
    for (unsigned seed = 1; seed <= slow::repetitions(300U); ++seed) {
        std::mt19937_64 bits(seed);
        std::normal_distribution<double> error;
        const std::size_t n = 5 + bits() % 40;
        numbers x, y, u_y;
        for (std::size_t i = 0; i < n; ++i) {
            x.push_back(error(bits));
            y.push_back(1.0 / 3.0 + 0.7 * x.back() + 0.1 * error(bits));
            u_y.push_back(0.1);
        }
        x[n / 2] = 25.0;  // the first pass starts at this point, which weighs nothing
        y[n / 2] = 18.0;
        u_y[n / 2] = 1e4;
        using wide = long double;
        wide w = 0.0L, w_x = 0.0L, w_y = 0.0L, w_xx = 0.0L, w_xy = 0.0L, w_rr = 0.0L;
        const auto weight = [&](std::size_t i) { return 1.0L / (static_cast<wide>(u_y[i]) * static_cast<wide>(u_y[i])); };
        for (std::size_t i = 0; i < n; ++i) {
            w += weight(i);
            w_x += weight(i) * static_cast<wide>(x[i]);
            w_y += weight(i) * static_cast<wide>(y[i]);
        }
        const auto dx = [&](std::size_t i) { return static_cast<wide>(x[i]) - w_x / w; };
        const auto dy = [&](std::size_t i) { return static_cast<wide>(y[i]) - w_y / w; };
        for (std::size_t i = 0; i < n; ++i) {
            w_xx += weight(i) * dx(i) * dx(i);
            w_xy += weight(i) * dx(i) * dy(i);
        }
        const wide slope = w_xy / w_xx;
        for (std::size_t i = 0; i < n; ++i) w_rr += weight(i) * (dy(i) - slope * dx(i)) * (dy(i) - slope * dx(i));
        const straight_line<> line = fit_line(weighted_points<>{x, y, u_y});
        const auto off = [](double found, wide exact) { return static_cast<double>(std::abs(found - exact) / std::abs(exact)); };
        worst_slope = std::max(worst_slope, off(line.slope, slope));
        worst_intercept = std::max(worst_intercept, off(line.intercept, w_y / w - slope * (w_x / w)));
        worst_chi_squared = std::max(worst_chi_squared, off(line.chi_squared, w_rr));
    }
    CAPTURE(worst_slope);
    CAPTURE(worst_intercept);
    CAPTURE(worst_chi_squared);
    CHECK(worst_slope <= 6e-16);
    CHECK(worst_intercept <= 1e-15);
    CHECK(worst_chi_squared <= 4e-15);
}

TEST_CASE("readings on a line have the u of finite differences, of slope and intercept with their covariance") {
    for (unsigned seed = 1; seed <= slow::repetitions(30U); ++seed) {
        const straight_line<> line = fit_line(made_up(seed).both());
        // the other way to write it: a + b x with the covariance of a and b
        const auto plain_u = [&](auto&& f, double argument, double u_argument) {
            const std::array<double, 3> at{argument, line.intercept, line.slope};
            std::array<double, 3> d{};
            for (std::size_t i = 0; i < 3; ++i) {
                constexpr double h = 1e-5;
                auto up = at;
                auto down = at;
                up[i] += h;
                down[i] -= h;
                d[i] = (f(up[0], up[1], up[2]) - f(down[0], down[1], down[2])) / (2.0 * h);
            }
            return std::sqrt(d[0] * d[0] * u_argument * u_argument + d[1] * d[1] * line.u_intercept() * line.u_intercept() +
                             d[2] * d[2] * line.u_slope * line.u_slope + 2.0 * d[1] * d[2] * line.covariance());
        };
        for (const double at : {-20.0, 0.0, 1.3, 40.0}) {
            CAPTURE(seed);
            CAPTURE(at);
            const auto y = y_at(line, at, 0.02);
            CHECK(near(y.value, line.intercept + line.slope * at, 1e-12, 1e-12));
            CHECK(near(y.u, plain_u([](double x, double a, double b) { return a + b * x; }, at, 0.02), 1e-7));
            const auto x = x_at(line, at, 0.02);
            CHECK(near(x.value, (at - line.intercept) / line.slope, 1e-12, 1e-12));
            CHECK(near(x.u, plain_u([](double v, double a, double b) { return (v - a) / b; }, at, 0.02), 1e-7));
            CHECK(near(x_at(line, y.value, 0.0).value, at, 1e-12, 1e-12));
        }
    }
}

TEST_CASE("a line of a home-built scope reads codes in volts: units, shared inputs, and degrees of freedom") {
    // invented: mean codes of one channel against a meter, 12-bit converter, range of 10 V
    const std::vector<codes> x{102.3 * code, 1020.1 * code, 2047.9 * code, 3068.2 * code, 3990.4 * code};
    const std::vector<voltage> y{0.249 * volt, 2.501 * volt, 5.003 * volt, 7.498 * volt, 9.752 * volt};
    const straight_line<codes, voltage> line = fit_line(unweighted_points<codes, voltage>{x, y});
    static_assert(std::is_same_v<decltype(line.slope), volts_per_code>);
    CHECK(std::abs(line.slope.value() - 2.444e-3) <= 2e-6);
    CHECK(line.residual_deviation.value() > 0.0);

    const auto once = y_at(line, 1500.0 * code, 0.5 * code);
    const auto back = x_at(line, once.value, 0.0 * volt);
    static_assert(std::is_same_v<decltype(once.u), voltage> && std::is_same_v<decltype(back.u), codes>);
    CHECK(std::abs(back.value.value() - 1500.0) <= 1e-9);

    input_set set;
    const line_of_inputs<codes, voltage> shared = as_inputs(line, "line", "five readings of a meter", set);
    CHECK(set.at("line slope")->unit == "V/code");
    const auto at = [&](const char* id, double value) {
        return shared.y_at(from_input<codes>(set.add({id, id, "capture", "code", value, normal{0.5}})));
    };
    const auto low = at("low", 1500.0);
    const auto high = at("high", 1501.0);
    const budget of_low = make_budget(low, default_coverage_probability, shared.observed_together());
    CHECK(near(of_low.value, once.value.value(), 1e-15));
    CHECK(near(of_low.u, once.u.value(), 1e-13));
    // the line's error cancels in a difference of neighbours; what is left is that of the codes
    const auto difference = first_order([](const auto& a, const auto& b) { return a - b; }, high, low);
    CHECK(near(make_budget(difference).u, std::sqrt(0.5) * line.slope.value(), 1e-6));
    // far out the line is all there is: its 3 degrees of freedom, not more for having two inputs
    const budget far = make_budget(at("far", 40000.0), default_coverage_probability, shared.observed_together());
    CHECK(far.degrees_of_freedom >= 3.0);
    CHECK(far.degrees_of_freedom <= 3.1);
    const auto code_at = shared.x_at(low);
    CHECK(std::abs(code_at.value.value() - 1500.0) <= 1e-9);
    const budget round_trip = make_budget(code_at, default_coverage_probability, shared.observed_together());
    CHECK(near(round_trip.u, 0.5, 1e-9));  // forward and inverse by the same line: only the code's own u is left

    // Monte Carlo runs the same callable
    monte_carlo_settings settings;
    settings.trials = 100000;
    const auto runs =
        monte_carlo(settings, line_reading<codes>{shared.centre}, sampled<codes>{sampled_input("x", "code", 1500.0, normal{0.5})},
                    sampled<voltage>{*set.at("line height")}, sampled<volts_per_code>{*set.at("line slope")});
    CHECK(near(runs.outputs[0].mean, once.value.value(), 1e-4));
}

TEST_CASE("every kind of points carries its units") {
    const made_up p(4);
    const matrices m(p, 4);
    const auto in = [](const numbers& values, auto unit) {
        std::vector<decltype(1.0 * unit)> result;
        for (const double v : values) result.push_back(v * unit);
        return result;
    };
    const auto x = in(p.x, kelvin);
    const auto y = in(p.y, volt);
    const auto u_x = in(p.u_x, kelvin);
    const auto u_y = in(p.u_y, volt);
    const auto covariance = in(p.covariance, kelvin * volt);
    const auto U_x = in(m.U_x, kelvin * kelvin);
    const auto U_y = in(m.U_y, volt * volt);
    const auto U_xy = in(m.U_xy, kelvin * volt);
    const auto same = [](const straight_line<kelvins, voltage>& line, const straight_line<>& plain) {
        CHECK(line.slope.value() == plain.slope);
        CHECK(line.intercept.value() == plain.intercept);
        CHECK(line.u_intercept().value() == plain.u_intercept());
        CHECK(line.covariance().value() == plain.covariance());
        CHECK(line.chi_squared == plain.chi_squared);
        CHECK(line.residual_deviation.value() == plain.residual_deviation);
        CHECK(line.degrees_of_freedom_of_u == plain.degrees_of_freedom_of_u);
        CHECK(line.degrees_of_freedom == plain.degrees_of_freedom);
        CHECK(line.iterations == plain.iterations);
    };
    same(fit_line(unweighted_points<kelvins, voltage>{x, y}), fit_line(unweighted_points<>{p.x, p.y}));
    same(fit_line(weighted_points<kelvins, voltage>{x, y, u_y}), fit_line(p.weighted()));
    same(fit_line(both_uncertain_points<kelvins, voltage>{x, y, u_x, u_y, covariance}), fit_line(p.both()));
    same(fit_line(correlated_points<kelvins, voltage>{x, y, U_y}), fit_line(correlated_points<>{p.x, p.y, m.U_y}));
    const all_correlated_points<kelvins, voltage> all{x, y, U_x, U_y, U_xy};
    const all_correlated_points<> plain_all{p.x, p.y, m.U_x, m.U_y, m.U_xy};
    same(fit_line(all), fit_line(plain_all));
    same(fit_line_through_origin(unweighted_points<kelvins, voltage>{x, y}),
         fit_line_through_origin(unweighted_points<>{p.x, p.y}));
    same(fit_line_through_origin(weighted_points<kelvins, voltage>{x, y, u_y}), fit_line_through_origin(p.weighted()));
    CHECK(weighted_residuals(fit_line(all), all) == weighted_residuals(fit_line(plain_all), plain_all));
    CHECK(verdict(fit_line(all)).limit == verdict(fit_line(plain_all)).limit);
    same(scaled_to_residuals(fit_line(all)), scaled_to_residuals(fit_line(plain_all)));
}

TEST_CASE("a line through the origin by weights: slope and u by hand") {
    const numbers x{1.0, 2.0, 4.0};
    const numbers y{2.5, 3.5, 8.5};
    const numbers u_y{0.5, 0.5, 1.0};
    const straight_line<> line = fit_line_through_origin(weighted_points<>{x, y, u_y});
    // sums: w x^2 = 4 + 16 + 16, w x y = 10 + 28 + 34
    CHECK(near(line.slope, 2.0, 1e-15));
    CHECK(near(line.u_slope, 1.0 / 6.0, 1e-15));
    CHECK(near(line.chi_squared, 1.0 + 1.0 + 0.25, 1e-14));
    CHECK(line.degrees_of_freedom == 2);
    CHECK(line.covariance() == 0.0);
    CHECK(y_at(line, 0.0, 0.0).u == 0.0);
}

TEST_CASE("chi-squared judges: within the 95 % quantile or not") {
    CHECK(judge_chi_squared(9.48, 4).consistent);
    CHECK_FALSE(judge_chi_squared(9.49, 4).consistent);
    CHECK(std::abs(judge_chi_squared(0.0, 2).limit + 2.0 * std::log(0.05)) <= 1e-13);  // in closed form for 2
    CHECK(std::abs(judge_chi_squared(0.0, 2, 0.99).limit + 2.0 * std::log(0.01)) <= 1e-13);
    const auto judged = [](double observed, double probability) {
        return message([=] { static_cast<void>(judge_chi_squared(observed, 3, probability)); });
    };
    CHECK(judged(-1.0, 0.95) == "chi-squared of a line: -1, expected 0 or more; look at where it was computed from");
    CHECK(judged(std::nan(""), 0.95) == "chi-squared of a line: nan, expected 0 or more; look at where it was computed from");
    CHECK(
        judged(1.0, 1.0) ==
        "chi-squared of a line: probability 1, expected more than 0 and less than 1; state it as a fraction, 0.95 for instance");
    CHECK(judged(1.0, std::nan("")) ==
          "chi-squared of a line: probability nan, expected more than 0 and less than 1; state it as a fraction, 0.95 for "
          "instance");
    const numbers x{1.0, 2.0, 3.0};
    const numbers y{1.0, 2.5, 3.0};
    const straight_line<> line = fit_line(unweighted_points<>{x, y});
    CHECK(message([&] { static_cast<void>(verdict(line)); }) ==
          "straight line: uncertainties that come from the residuals, expected stated ones; judge a line fitted with the "
          "uncertainties of its points");
    CHECK(message([&] { static_cast<void>(scaled_to_residuals(line)); }) ==
          "straight line: uncertainties that come from the residuals, expected stated ones; scale them once");
}

TEST_CASE("intercept and slope are covered as often as stated, by every kind of fit" * doctest::skip(slow::build)) {
    // Invented truth. 4000 sets of 8 points each; a normal interval of two u is held in 95.45 %, with t in the unweighted fit.
    constexpr int sets = 4000;
    constexpr std::size_t n = 8;
    constexpr double a = 0.5;
    constexpr double b = 2.0;
    std::mt19937_64 bits(20);
    std::normal_distribution<double> error;
    numbers true_x, u_x, u_y;
    for (std::size_t i = 0; i < n; ++i) {
        true_x.push_back(1.0 + static_cast<double>(i));
        u_x.push_back(i % 2 == 0 ? 0.02 : 0.05);
        u_y.push_back(i % 3 == 0 ? 0.05 : 0.15);
    }
    constexpr double r = 0.6;       // of x and y of a point
    constexpr double common = 0.1;  // an error that all y share
    numbers covariance, U_x(n * n, 0.0), U_y(n * n, common * common), U_xy(n * n, 0.0), U_y_alone;
    for (std::size_t i = 0; i < n; ++i) {
        covariance.push_back(r * u_x[i] * u_y[i]);
        U_x[i * n + i] = u_x[i] * u_x[i];
        U_y[i * n + i] += u_y[i] * u_y[i];
        U_xy[i * n + i] = covariance[i];
    }
    struct counted {
        const char* kind;
        double k;
        int intercept = 0;
        int slope = 0;
        int consistent = 0;
        void add(const straight_line<>& line) {
            if (std::abs(line.intercept - a) <= k * line.u_intercept()) ++intercept;
            if (std::abs(line.slope - b) <= k * line.u_slope) ++slope;
            if (std::isinf(line.degrees_of_freedom_of_u) && verdict(line).consistent) ++consistent;
        }
    };
    const double by_t = coverage_factor(default_coverage_probability, n - 2);
    std::array<counted, 5> kinds{{{"unweighted", by_t}, {"weighted", 2.0}, {"both", 2.0}, {"correlated", 2.0}, {"all", 2.0}}};
    for (int set = 0; set < sets; ++set) {
        numbers x, same_u, weighted_y, both_y, correlated_y, all_y;
        const double shared = common * error(bits);
        for (std::size_t i = 0; i < n; ++i) {
            const double e = error(bits);
            const double f = error(bits);
            const double true_y = a + b * true_x[i];
            x.push_back(true_x[i] + u_x[i] * e);
            same_u.push_back(true_y + 0.1 * f);
            weighted_y.push_back(true_y + u_y[i] * f);
            both_y.push_back(true_y + u_y[i] * (r * e + std::sqrt(1.0 - r * r) * f));
            correlated_y.push_back(weighted_y.back() + shared);
            all_y.push_back(both_y.back() + shared);
        }
        kinds[0].add(fit_line(unweighted_points<>{true_x, same_u}));
        kinds[1].add(fit_line(weighted_points<>{true_x, weighted_y, u_y}));
        kinds[2].add(fit_line(both_uncertain_points<>{x, both_y, u_x, u_y, covariance}));
        kinds[3].add(fit_line(correlated_points<>{true_x, correlated_y, U_y}));
        kinds[4].add(fit_line(all_correlated_points<>{x, all_y, U_x, U_y, U_xy}));
    }
    const auto within = [](int held, double p) {
        const double bound = 3.29 * std::sqrt(sets * p * (1.0 - p));  // of the binomial: once in a thousand
        return std::abs(held - sets * p) <= bound;
    };
    for (const counted& c : kinds) {
        CAPTURE(c.kind);
        CAPTURE(c.intercept);
        CAPTURE(c.slope);
        CAPTURE(c.consistent);
        CHECK(within(c.intercept, default_coverage_probability));
        CHECK(within(c.slope, default_coverage_probability));
        if (c.k == 2.0) CHECK(within(c.consistent, 0.95));
    }
}

namespace {

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

template <class Points>
std::string refusal(const Points& points) {
    return message([&] { static_cast<void>(fit_line(points)); });
}
template <class Points>
std::string refusal_at_origin(const Points& points) {
    return message([&] { static_cast<void>(fit_line_through_origin(points)); });
}

}  // namespace

TEST_CASE("too few points are refused") {
    const numbers single{1.0};
    const numbers pair{1.0, 2.0};
    const numbers none;
    CHECK(refusal(unweighted_points<>{pair, pair}) == "straight line: 2 points, expected at least 3; measure at more points");
    CHECK(refusal(unweighted_points<>{none, none}) == "straight line: 0 points, expected at least 3; measure at more points");
    const std::string fewer_than_two = "straight line: 1 point, expected at least 2; measure at more points";
    CHECK(refusal(weighted_points<>{single, single, single}) == fewer_than_two);
    CHECK(refusal(both_uncertain_points<>{single, single, single, single}) == fewer_than_two);
    CHECK(refusal(correlated_points<>{single, single, single}) == fewer_than_two);
    CHECK(refusal(all_correlated_points<>{single, single, single, single, single}) == fewer_than_two);
    CHECK(refusal_at_origin(unweighted_points<>{single, single}) == fewer_than_two);
    CHECK(refusal_at_origin(weighted_points<>{none, none, none}) ==
          "straight line: 0 points, expected at least 1; measure at more points");
}

TEST_CASE("lists of unlike length are refused") {
    const numbers two{1.0, 2.0};
    const numbers three{1.0, 2.0, 4.0};
    const numbers nine{1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0};
    const std::string x_and_y = "straight line: 3 x and 2 y, expected as many of one as of the other; leave out no figure";
    CHECK(refusal(unweighted_points<>{three, two}) == x_and_y);
    CHECK(refusal(weighted_points<>{three, two, two}) == x_and_y);
    CHECK(refusal(both_uncertain_points<>{three, two, two, two}) == x_and_y);
    CHECK(refusal(correlated_points<>{three, two, nine}) == x_and_y);
    CHECK(refusal(all_correlated_points<>{three, two, nine, nine, nine}) == x_and_y);
    const auto for_three = [](const char* what) {
        return "straight line: 2 " + std::string(what) +
               " for 3 points, expected one for each point; leave out no figure and no point";
    };
    CHECK(refusal(weighted_points<>{three, three, two}) == for_three("u(y)"));
    CHECK(refusal_at_origin(weighted_points<>{three, three, two}) == for_three("u(y)"));
    CHECK(refusal(both_uncertain_points<>{three, three, two, three}) == for_three("u(x)"));
    CHECK(refusal(both_uncertain_points<>{three, three, three, two}) == for_three("u(y)"));
    CHECK(refusal(both_uncertain_points<>{three, three, three, three, two}) == for_three("covariances"));
    const auto matrix = [](const char* what) {
        return "straight line: 3 figures in " + std::string(what) +
               ", expected 3 x 3 for 3 points; give the whole matrix, row by row";
    };
    CHECK(refusal(correlated_points<>{three, three, three}) == matrix("U(y)"));
    CHECK(refusal(all_correlated_points<>{three, three, three, nine, nine}) == matrix("U(x)"));
    CHECK(refusal(all_correlated_points<>{three, three, nine, three, nine}) == matrix("U(y)"));
    CHECK(refusal(all_correlated_points<>{three, three, nine, nine, three}) == matrix("U(x, y)"));
}

TEST_CASE("a figure that is not finite is refused by its point") {
    const numbers x{1.0, 2.0, 4.0, 5.0, 7.0};
    const numbers unit{1.0, 1.0, 1.0, 1.0, 1.0};
    numbers square(25, 0.0);
    for (std::size_t i = 0; i < 5; ++i) square[6 * i] = 1.0;
    const auto spoilt = [](numbers values, std::size_t at, double by) {
        values[at] = by;
        return values;
    };
    const auto text = [](int point, const char* what) {
        return "straight line, point " + std::to_string(point) + ": " + what +
               ", expected a finite figure; look at the data before a line is fitted";
    };
    for (std::size_t i = 0; i < 5; ++i) {
        const int point = static_cast<int>(i) + 1;
        const numbers bad = spoilt(x, i, not_a_number);
        CHECK(refusal(unweighted_points<>{bad, x}) == text(point, "x is nan"));
        CHECK(refusal(unweighted_points<>{x, bad}) == text(point, "y is nan"));
        CHECK(refusal(weighted_points<>{x, bad, unit}) == text(point, "y is nan"));
        CHECK(refusal(weighted_points<>{x, x, spoilt(unit, i, not_a_number)}) == text(point, "u(y) is nan"));
        CHECK(refusal(weighted_points<>{x, x, spoilt(unit, i, infinity)}) == text(point, "u(y) is inf"));
        CHECK(refusal_at_origin(unweighted_points<>{bad, x}) == text(point, "x is nan"));
        CHECK(refusal_at_origin(weighted_points<>{x, x, spoilt(unit, i, infinity)}) == text(point, "u(y) is inf"));
        CHECK(refusal(both_uncertain_points<>{bad, x, unit, unit}) == text(point, "x is nan"));
        CHECK(refusal(both_uncertain_points<>{x, spoilt(x, i, -infinity), unit, unit}) == text(point, "y is -inf"));
        CHECK(refusal(both_uncertain_points<>{x, x, bad, unit}) == text(point, "u(x) is nan"));
        CHECK(refusal(both_uncertain_points<>{x, x, unit, bad}) == text(point, "u(y) is nan"));
        CHECK(refusal(both_uncertain_points<>{x, x, unit, unit, bad}) == text(point, "covariance is nan"));
        CHECK(refusal(correlated_points<>{x, bad, square}) == text(point, "y is nan"));
        CHECK(refusal(all_correlated_points<>{bad, x, square, square, square}) == text(point, "x is nan"));
    }
    const numbers hole = spoilt(square, 7, not_a_number);
    const auto in_matrix = [](const char* what) {
        return "straight line: " + std::string(what) +
               "(2, 3) is nan, expected a finite figure; look at the data before a line is fitted";
    };
    CHECK(refusal(correlated_points<>{x, x, hole}) == in_matrix("U(y)"));
    CHECK(refusal(all_correlated_points<>{x, x, hole, square, square}) == in_matrix("U(x)"));
    CHECK(refusal(all_correlated_points<>{x, x, square, hole, square}) == in_matrix("U(y)"));
    CHECK(refusal(all_correlated_points<>{x, x, square, square, hole}) == in_matrix("U(x, y)"));
    const std::string beyond =
        "straight line: sums of squares beyond what a double holds, expected finite ones; state the points in units that suit "
        "their size";
    const numbers huge = times(x, 1e200);
    CHECK(refusal(unweighted_points<>{huge, x}) == beyond);
    CHECK(refusal(weighted_points<>{x, x, times(unit, 1e-200)}) == beyond);
}

TEST_CASE("u not above 0 is refused by its point") {
    const numbers x{1.0, 2.0, 4.0, 5.0, 7.0};
    const auto with = [](std::size_t at, double by) {
        numbers u(5, 1.0);
        u[at] = by;
        return u;
    };
    for (std::size_t i = 0; i < 5; ++i) {
        for (const double bad : {0.0, -0.5}) {
            const std::string figure = bad == 0.0 ? "0" : "-0.5";
            const std::string text = "straight line, point " + std::to_string(i + 1) + ": u(y) is " + figure +
                                     ", expected more than 0; state what is known of this point; nothing is known exactly";
            CHECK(refusal(weighted_points<>{x, x, with(i, bad)}) == text);
            CHECK(refusal_at_origin(weighted_points<>{x, x, with(i, bad)}) == text);
            CHECK(message([&] {
                      static_cast<void>(weighted_residuals(straight_line<>{}, weighted_points<>{x, x, with(i, bad)}));
                  }) == text);
        }
    }
    const auto both = [](const char* figures) {
        return "straight line, point 3: " + std::string(figures) +
               ", expected 0 or more, and one of them above; state what is known of this point; nothing is known exactly";
    };
    const numbers unit(5, 1.0);
    CHECK(refusal(both_uncertain_points<>{x, x, with(2, -0.5), unit}) == both("u(x) is -0.5 and u(y) is 1"));
    CHECK(refusal(both_uncertain_points<>{x, x, unit, with(2, -0.5)}) == both("u(x) is 1 and u(y) is -0.5"));
    CHECK(refusal(both_uncertain_points<>{x, x, with(2, 0.0), with(2, 0.0)}) == both("u(x) is 0 and u(y) is 0"));
}

TEST_CASE("points all at one x are refused, however the mean is rounded") {
    for (const double at : {0.0, 0.1, 4.7, 1e15 / 3.0}) {
        const numbers x(7, at);
        const numbers y{1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.5};
        const numbers unit(7, 1.0);
        numbers square(49, 0.0);
        for (std::size_t i = 0; i < 7; ++i) square[8 * i] = 1.0;
        const std::string where = at == 0.0 ? "0" : at == 0.1 ? "0.1" : at == 4.7 ? "4.7" : "333333333333333.3";
        const std::string text = "straight line: all 7 points at x = " + where +
                                 ", expected at least two different x; measure at points that lie apart";
        CHECK(refusal(unweighted_points<>{x, y}) == text);
        CHECK(refusal(weighted_points<>{x, y, y}) == text);
        CHECK(refusal(both_uncertain_points<>{x, y, unit, unit}) == text);
        CHECK(refusal(correlated_points<>{x, y, square}) == text);
        CHECK(refusal(all_correlated_points<>{x, y, square, square, square}) == text);
    }
    const numbers zero(3, 0.0);
    const numbers y{1.0, 2.0, 3.0};
    CHECK(refusal_at_origin(unweighted_points<>{zero, y}) ==
          "straight line: all 3 points at x = 0, expected at least two different x; measure at points that lie apart");
}

TEST_CASE("a covariance that cannot be is refused") {
    const numbers x{1.0, 2.0, 4.0};
    const numbers u(3, 0.5);
    const numbers none(9, 0.0);
    const numbers unit{1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0};
    CHECK(refusal(both_uncertain_points<>{x, x, u, u, numbers{0.0, 0.25, 0.0}}) ==
          "straight line, point 2: a covariance of 0.25 with u(x) = 0.5 and u(y) = 0.5, expected less than u(x) u(y) = 0.25; "
          "state a "
          "covariance, not a correlation coefficient");
    CHECK(refusal(both_uncertain_points<>{x, x, u, u, numbers{0.0, 0.0, -0.9}}) ==
          "straight line, point 3: a covariance of -0.9 with u(x) = 0.5 and u(y) = 0.5, expected less than u(x) u(y) = 0.25; "
          "state a "
          "covariance, not a correlation coefficient");
    const auto asymmetric = [](const char* symbol) {
        return "straight line: " + std::string(symbol) + "(3, 1) is 0.2 and " + symbol +
               "(1, 3) is 0, expected one figure for both; a covariance matrix is symmetric: look at where it was computed from";
    };
    numbers skew = unit;
    skew[6] = 0.2;
    CHECK(refusal(correlated_points<>{x, x, skew}) == asymmetric("U(y)"));
    CHECK(refusal(all_correlated_points<>{x, x, skew, unit, none}) == asymmetric("U(x)"));
    CHECK(refusal(all_correlated_points<>{x, x, unit, skew, none}) == asymmetric("U(y)"));
    const auto indefinite = [](const char* what) {
        return "straight line: " + std::string(what) +
               " that is not positive definite, expected a covariance matrix; give each figure an error of its own besides what "
               "it "
               "shares, and look at where the matrix was computed from";
    };
    const numbers all_one(9, 1.0);  // one error, shared by all: nothing of their own
    numbers negative = unit;
    negative[4] = -1.0;
    for (const numbers& bad : {all_one, negative, none}) CHECK(refusal(correlated_points<>{x, x, bad}) == indefinite("U(y)"));
    for (unsigned seed = 1; seed <= slow::repetitions(200U);
         ++seed) {  // the same with other figures, which rounding may leave a little above 0
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(0.1, 1.0);
        const numbers part{even(bits), even(bits)};
        numbers shared;
        for (const double a : part) {
            for (const double b : part) shared.push_back(a * b);
        }
        CHECK(refusal(correlated_points<>{part, part, shared}) == indefinite("U(y)"));
    }
    const std::string of_all = indefinite("the covariance of all x and y");
    for (const numbers& bad : {all_one, negative}) {
        CHECK(refusal(all_correlated_points<>{x, x, bad, unit, none}) == of_all);
        CHECK(refusal(all_correlated_points<>{x, x, unit, bad, none}) == of_all);
    }
    CHECK(refusal(all_correlated_points<>{x, x, none, none, none}) == of_all);
    CHECK(refusal(all_correlated_points<>{x, x, unit, unit, unit}) == of_all);  // x and y of a point one and the same error
    CHECK(refusal(all_correlated_points<>{x, x, none, unit, times(unit, 0.1)}) == of_all);  // a covariance with what is exact
}

TEST_CASE("points that show no slope are refused where both axes are uncertain") {
    const numbers square_x{-1.0, 1.0, 1.0, -1.0};
    const numbers square_y{-1.0, -1.0, 1.0, 1.0};
    const numbers u(4, 0.1);
    CHECK(refusal(both_uncertain_points<>{square_x, square_y, u, u}) ==
          "straight line: points that fit a line in every direction alike, expected points that lie along a line; measure at "
          "points "
          "further apart");
    const numbers y{0.0, 1.0, 2.0, 3.0};
    const numbers small(4, 0.001);
    const numbers unit(4, 1.0);
    const numbers x{-1.0, 1.0, 1.0, -1.0};
    CHECK(refusal(both_uncertain_points<>{x, y, unit, small}) ==
          "straight line: a line that stands upright, expected one with a slope; exchange x and y");
    // exchanged, it lies flat
    const straight_line<> flat = fit_line(both_uncertain_points<>{y, x, small, unit});
    CHECK(std::abs(flat.slope) <= 1e-12);
    CHECK(message([&] { static_cast<void>(x_at(straight_line<>{}, 1.0, 0.1)); }) ==
          "x on a line: a slope of 0, expected one that rises or falls; there is no x to this y: exchange x and y");
}

TEST_CASE("what is read on a line is looked at") {
    const numbers x{1.0, 2.0, 4.0};
    const straight_line<> line = fit_line(unweighted_points<>{x, numbers{1.0, 2.5, 4.0}});
    const auto forward = [&](double at, double u) { return message([&] { static_cast<void>(y_at(line, at, u)); }); };
    const auto inverse = [&](double at, double u) { return message([&] { static_cast<void>(x_at(line, at, u)); }); };
    CHECK(forward(not_a_number, 0.1) == "y on a line: at nan, expected a finite figure; look at where it was computed from");
    CHECK(inverse(infinity, 0.1) == "x on a line: at inf, expected a finite figure; look at where it was computed from");
    CHECK(forward(1.0, -0.1) ==
          "y on a line: a standard uncertainty of -0.1, expected 0 or more; look at where it was computed from");
    CHECK(inverse(1.0, not_a_number) ==
          "x on a line: a standard uncertainty of nan, expected 0 or more; look at where it was computed from");
    CHECK(inverse(1.0, infinity) ==
          "x on a line: a standard uncertainty of inf, expected 0 or more; look at where it was computed from");
}

}  // namespace line_test
