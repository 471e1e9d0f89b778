// Lines through points whose errors hang together or lie in both axes: the general form of chi-squared, as a function of direction.

#include <plumbline/uncertainty/line.hpp>

#include "line_checks.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <boost/math/constants/constants.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>

namespace plumbline::inline v0::uncertainty {

namespace {

using line_checks::list;
using line_checks::refuse;

using numbers = std::vector<double>;

constexpr double no_value = std::numeric_limits<double>::infinity();

double dot(const numbers& a, const numbers& b) { return std::inner_product(a.begin(), a.end(), b.begin(), 0.0); }

// What is known of the points, as two operators that chi-squared needs. Of a residual r = c y - s x:
//   set(c, s)         takes up V = covariance of r, false if it is not positive definite
//   whiten, unwhiten  L^-1 v and L^-T v, with V = L L^T
//   carry(a, b, q)    covariance of t and r times q, with t = a x + b y

/// Each point by itself.
struct independent {
    list u_x;
    list u_y;
    list covariance;
    double scale_x;
    double scale_y;
    double c = 1.0;
    double s = 0.0;
    numbers deviation{};

    [[nodiscard]] std::size_t size() const { return u_x.size(); }
    [[nodiscard]] double x(std::size_t i) const { return u_x[i] * scale_x; }
    [[nodiscard]] double y(std::size_t i) const { return u_y[i] * scale_y; }
    [[nodiscard]] double xy(std::size_t i) const { return covariance.empty() ? 0.0 : covariance[i] * scale_x * scale_y; }
    [[nodiscard]] double correlation(std::size_t i) const {
        return covariance.empty() || covariance[i] == 0.0 ? 0.0 : covariance[i] / (u_x[i] * u_y[i]);
    }

    bool set(double cosine, double sine) {
        c = cosine;
        s = sine;
        deviation.resize(size());
        for (std::size_t i = 0; i < size(); ++i) {
            // what x and y share and what is left of x: errors along the line would cancel in c^2 u_y^2 + s^2 u_x^2 - 2 c s u_xy
            const double r = correlation(i);
            const double shared = c * y(i) - r * s * x(i);
            const double rest = s * x(i) * std::sqrt((1.0 - r) * (1.0 + r));
            deviation[i] = std::sqrt(shared * shared + rest * rest);
        }
        return std::all_of(deviation.begin(), deviation.end(), [](double d) { return d > 0.0; });
    }
    void whiten(numbers& v) const {
        for (std::size_t i = 0; i < v.size(); ++i) v[i] /= deviation[i];
    }
    void unwhiten(numbers& v) const { whiten(v); }
    [[nodiscard]] numbers carry(double a, double b, const numbers& q) const {
        numbers result(q.size());
        for (std::size_t i = 0; i < q.size(); ++i) {
            result[i] = (b * c * y(i) * y(i) - a * s * x(i) * x(i) + (a * c - b * s) * xy(i)) * q[i];
        }
        return result;
    }
};

/// Everything with everything. Empty matrices are 0.
struct dependent {
    std::size_t n;
    numbers U_x;
    numbers U_y;
    numbers U_xy;
    double c = 1.0;
    double s = 0.0;
    numbers factor{};

    [[nodiscard]] std::size_t size() const { return n; }
    bool set(double cosine, double sine) {
        c = cosine;
        s = sine;
        numbers V(n * n, 0.0);
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j) {
                double& v = V[i * n + j];
                v = c * c * U_y[i * n + j];
                if (!U_x.empty()) v += s * s * U_x[i * n + j];
                if (!U_xy.empty()) v -= c * s * (U_xy[i * n + j] + U_xy[j * n + i]);
            }
        }
        factor = line_checks::cholesky(V, n);
        return !factor.empty();
    }
    void whiten(numbers& v) const {
        for (std::size_t i = 0; i < n; ++i) {
            double rest = v[i];
            for (std::size_t j = 0; j < i; ++j) rest -= factor[i * n + j] * v[j];
            v[i] = rest / factor[i * n + i];
        }
    }
    void unwhiten(numbers& v) const {
        for (std::size_t i = n; i-- > 0;) {
            v[i] /= factor[i * n + i];
            for (std::size_t j = 0; j < i; ++j) v[j] -= factor[i * n + j] * v[i];
        }
    }
    [[nodiscard]] numbers carry(double a, double b, const numbers& q) const {
        numbers result(n, 0.0);
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j) {
                double covariance = b * c * U_y[i * n + j];
                if (!U_x.empty()) covariance -= a * s * U_x[i * n + j];
                if (!U_xy.empty()) covariance += a * c * U_xy[i * n + j] - b * s * U_xy[j * n + i];
                result[i] += covariance * q[j];
            }
        }
        return result;
    }
};

/// The best line of one direction.
struct trial_line {
    double chi_squared = no_value;  ///< infinite where the covariance of the residuals is not positive definite
    double offset = 0.0;            ///< c y - s x on the line
    double middle = 0.0;            ///< weighted mean of t over the adjusted points
    double weight = 0.0;            ///< 1 / variance of the offset
    double stretch = 0.0;           ///< weighted sum of squares of t about its middle
    double downhill = 0.0;          ///< - 1/2 d chi-squared / d direction
};

/// Points in coordinates centred and scaled by powers of two, so that neither axis is much longer than the other.
template <class Known>
struct profile {
    numbers x;
    numbers y;
    Known known;
    std::size_t evaluations = 0;

    /// The best line c y - s x = offset with this c and s. Positions along it are t = a x + b y.
    trial_line at(double c, double s, double a, double b) {
        ++evaluations;
        if (!known.set(c, s)) return {};
        const std::size_t n = x.size();
        trial_line line;
        numbers ones(n, 1.0);
        known.whiten(ones);
        numbers r(n);
        for (std::size_t i = 0; i < n; ++i) r[i] = c * y[i] - s * x[i];
        known.whiten(r);
        line.weight = dot(ones, ones);
        line.offset = dot(ones, r) / line.weight;
        for (std::size_t i = 0; i < n; ++i) r[i] -= line.offset * ones[i];
        line.chi_squared = dot(r, r);

        numbers q = r;
        known.unwhiten(q);
        numbers t = known.carry(a, b, q);  // adjusted points: t less what the residual says of its error
        for (std::size_t i = 0; i < n; ++i) t[i] = a * x[i] + b * y[i] - t[i];
        known.whiten(t);
        line.middle = dot(ones, t) / line.weight;
        for (std::size_t i = 0; i < n; ++i) t[i] -= line.middle * ones[i];
        line.stretch = dot(t, t);
        line.downhill = dot(r, t);
        return line;
    }
    trial_line in_direction(double angle) {
        const double c = std::cos(angle);
        const double s = std::sin(angle);
        return at(c, s, c, s);
    }
    trial_line with_slope(double slope) { return at(1.0, slope, 1.0, 0.0); }
};

struct direction {
    double angle = 0.0;
    trial_line line;
};

/// Narrows low < best < high, best the lowest of the three, until the slope of chi-squared changes its sign between its ends; false if best is
/// the minimum as far as rounding lets see.
template <class Known>
bool bracket(profile<Known>& p, direction& low, direction& best, direction& high) {
    for (;;) {
        if (best.line.downhill == 0.0) return false;
        const bool falling = best.line.downhill > 0.0;
        direction& wall = falling ? high : low;
        (falling ? low : high) = best;
        const bool turns = falling ? wall.line.downhill < 0.0 : wall.line.downhill > 0.0;
        if (turns && std::isfinite(wall.line.chi_squared)) return true;
        const double between = 0.5 * (low.angle + high.angle);
        if (!(between > low.angle && between < high.angle)) return false;
        const direction middle{between, p.in_direction(between)};
        (middle.line.chi_squared < best.line.chi_squared ? best : wall) = middle;
    }
}

/// Slope of the line with the lowest chi-squared of all directions.
template <class Known>
double best_slope(profile<Known>& p) {
    constexpr double pi = boost::math::constants::pi<double>();
    constexpr int directions = 32;
    std::vector<direction> tried;
    for (int i = 0; i < directions; ++i) {
        const double angle = pi * (i + 0.5) / directions;
        tried.push_back({angle, p.in_direction(angle)});
    }
    const auto lower = [](const direction& a, const direction& b) { return a.line.chi_squared < b.line.chi_squared; };
    const auto lowest = std::min_element(tried.begin(), tried.end(), lower);
    const auto highest = std::max_element(tried.begin(), tried.end(), lower);
    constexpr double rounding = 1e-9;
    if (!(highest->line.chi_squared - lowest->line.chi_squared > rounding * highest->line.chi_squared)) {
        refuse("points that fit a line in every direction alike", "points that lie along a line",
               "measure at points further apart");
    }

    direction low = lowest == tried.begin() ? tried.back() : *(lowest - 1);
    direction best = *lowest;
    direction high = lowest + 1 == tried.end() ? tried.front() : *(lowest + 1);
    if (low.angle > best.angle) low.angle -= pi;
    if (high.angle < best.angle) high.angle += pi;
    double angle = 0.0;
    if (bracket(p, low, best, high)) {
        std::uintmax_t most = 200;
        const auto found = boost::math::tools::toms748_solve([&](double a) { return p.in_direction(a).downhill; }, low.angle,
                                                             high.angle, low.line.downhill, high.line.downhill,
                                                             boost::math::tools::eps_tolerance<double>(), most);
        angle = 0.5 * (found.first + found.second);
    } else {
        angle = best.angle;
    }
    constexpr double upright = 1e-8;
    if (!(std::abs(std::cos(angle)) > upright)) {
        refuse("a line that stands upright", "one with a slope", "exchange x and y");
    }
    return std::tan(angle);
}

/// The line of this slope, bettered by steps of Gauss and Newton until only rounding is left; where x is exact one step is all it takes.
template <class Known>
trial_line polish(profile<Known>& p, double& slope) {
    trial_line line = p.with_slope(slope);
    for (int steps = 0; steps < 20; ++steps) {
        const double better = slope + line.downhill / line.stretch;
        const trial_line next = p.with_slope(better);
        if (!(std::abs(next.downhill) < std::abs(line.downhill))) break;
        slope = better;
        line = next;
    }
    constexpr double enough = 1e-4;  // of u(slope): what the next step would still change
    if (!(std::abs(line.downhill) <= enough * std::sqrt(line.stretch))) {
        refuse("a minimum of chi-squared that rounding hides", "one known to 1e-4 of u(slope)",
               "look at the covariances: errors nearly cancel along the line");
    }
    return line;
}

struct centred {
    numbers values;
    double centre = 0.0;
    double scale = 1.0;  // values = (as measured - centre) * scale
};

centred centre(list values) {
    centred c;
    const double n = static_cast<double>(values.size());
    for (const double v : values) c.centre += v / n;
    double largest = 0.0;
    for (const double v : values) {
        c.values.push_back(v - c.centre);
        largest = std::max(largest, std::abs(c.values.back()));
    }
    if (largest > 0.0) c.scale = std::ldexp(1.0, -std::ilogb(largest));
    for (double& v : c.values) v *= c.scale;
    return c;
}

/// In the units of the points again.
straight_line<> as_measured(const trial_line& found, double slope, const centred& x, const centred& y, std::size_t evaluations) {
    straight_line<> line;
    line.centre = x.centre + found.middle / x.scale;
    line.slope = slope * (x.scale / y.scale);
    line.height = y.centre + (found.offset + slope * found.middle) / y.scale;
    line.intercept = (y.centre - line.slope * x.centre) + found.offset / y.scale;
    line.u_height = 1.0 / (std::sqrt(found.weight) * y.scale);
    line.u_slope = x.scale / (std::sqrt(found.stretch) * y.scale);
    line.chi_squared = found.chi_squared;
    line.degrees_of_freedom = x.values.size() - 2;
    line.iterations = evaluations;
    const double all = line.slope + line.intercept + line.height + line.u_height + line.u_slope + line.chi_squared;
    if (!std::isfinite(all)) {
        refuse("sums of squares beyond what a double holds", "finite ones", "state the points in units that suit their size");
    }
    return line;
}

template <class Known>
straight_line<> fit_both(profile<Known> p, const centred& x, const centred& y) {
    double slope = best_slope(p);
    const trial_line found = polish(p, slope);
    return as_measured(found, slope, x, y, p.evaluations);
}

numbers scaled(list values, double by) {
    numbers result(values.begin(), values.end());
    for (double& v : result) v *= by;
    return result;
}

void expect(list x, list y) {
    line_checks::expect_lengths(x, y, 2);
    line_checks::expect_finite(x, "x");
    line_checks::expect_finite(y, "y");
    line_checks::expect_span(x);
}

void expect(const both_uncertain_points<>& p) {
    expect(p.x, p.y);
    const std::size_t n = p.x.size();
    line_checks::expect_count(p.u_x, "u(x)", n);
    line_checks::expect_count(p.u_y, "u(y)", n);
    line_checks::expect_finite(p.u_x, "u(x)");
    line_checks::expect_finite(p.u_y, "u(y)");
    if (!p.covariance.empty()) {
        line_checks::expect_count(p.covariance, "covariances", n);
        line_checks::expect_finite(p.covariance, "covariance");
    }
    for (std::size_t i = 0; i < n; ++i) {
        const double u_x = p.u_x[i];
        const double u_y = p.u_y[i];
        if (u_x < 0.0 || u_y < 0.0 || !(u_x + u_y > 0.0)) {
            line_checks::refuse_point(i, fmt::format("u(x) is {} and u(y) is {}", u_x, u_y), "0 or more, and one of them above",
                                      "state what is known of this point; nothing is known exactly");
        }
        const double covariance = p.covariance.empty() ? 0.0 : p.covariance[i];
        if (covariance == 0.0 || std::abs(covariance) < u_x * u_y) continue;
        line_checks::refuse_point(i, fmt::format("a covariance of {} with u(x) = {} and u(y) = {}", covariance, u_x, u_y),
                                  fmt::format("less than u(x) u(y) = {}", u_x * u_y),
                                  "state a covariance, not a correlation coefficient");
    }
}

[[noreturn]] void refuse_covariance(const char* symbol) {
    refuse(fmt::format("{} that is not positive definite", symbol), "a covariance matrix",
           "give each figure an error of its own besides what it shares, and look at where the matrix was computed from");
}

void expect(const correlated_points<>& p) {
    expect(p.x, p.y);
    line_checks::expect_matrix(p.U_y, "U(y)", p.x.size());
    line_checks::expect_symmetric(p.U_y, "U(y)", p.x.size());
    if (line_checks::cholesky(p.U_y, p.x.size()).empty()) refuse_covariance("U(y)");
}

void expect(const all_correlated_points<>& p) {
    expect(p.x, p.y);
    const std::size_t n = p.x.size();
    line_checks::expect_matrix(p.U_x, "U(x)", n);
    line_checks::expect_matrix(p.U_y, "U(y)", n);
    line_checks::expect_matrix(p.U_xy, "U(x, y)", n);
    line_checks::expect_symmetric(p.U_x, "U(x)", n);
    line_checks::expect_symmetric(p.U_y, "U(y)", n);
    // One matrix of all x and y, each in units of its own u; what is exact (a row of zeros) is left out.
    const auto at = [&](std::size_t i, std::size_t j) {
        if (i < n && j < n) return p.U_x[i * n + j];
        if (i >= n && j >= n) return p.U_y[(i - n) * n + (j - n)];
        return i < n ? p.U_xy[i * n + (j - n)] : p.U_xy[j * n + (i - n)];
    };
    std::vector<std::size_t> uncertain;
    for (std::size_t i = 0; i < 2 * n; ++i) {
        bool exact = true;
        for (std::size_t j = 0; j < 2 * n; ++j) exact = exact && at(i, j) == 0.0;
        if (!exact) uncertain.push_back(i);
    }
    const std::size_t m = uncertain.size();
    numbers joint(m * m);
    for (std::size_t i = 0; i < m; ++i) {
        for (std::size_t j = 0; j < m; ++j) {
            const double u_u = std::sqrt(at(uncertain[i], uncertain[i])) * std::sqrt(at(uncertain[j], uncertain[j]));
            joint[i * m + j] = at(uncertain[i], uncertain[j]) / u_u;  // NaN for a variance below 0: not positive definite
        }
    }
    if (m == 0 || line_checks::cholesky(joint, m).empty()) refuse_covariance("the covariance of all x and y");
}

independent known_of(const both_uncertain_points<>& p, double scale_x, double scale_y) {
    return {p.u_x, p.u_y, p.covariance, scale_x, scale_y};
}
dependent known_of(const correlated_points<>& p, double, double scale_y) {
    return {p.x.size(), {}, scaled(p.U_y, scale_y * scale_y), {}};
}
dependent known_of(const all_correlated_points<>& p, double scale_x, double scale_y) {
    return {p.x.size(), scaled(p.U_x, scale_x * scale_x), scaled(p.U_y, scale_y * scale_y), scaled(p.U_xy, scale_x * scale_y)};
}

template <class Points>
numbers residuals(const straight_line<>& line, const Points& p) {
    expect(p);
    auto known = known_of(p, 1.0, 1.0);
    if (!known.set(1.0, line.slope)) refuse_covariance("the covariance of the residuals");
    numbers r(p.x.size());
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = (p.y[i] - line.height) - line.slope * (p.x[i] - line.centre);
    known.whiten(r);
    return r;
}

}  // namespace

straight_line<> fit_line(const both_uncertain_points<>& p) {
    expect(p);
    const centred x = centre(p.x);
    const centred y = centre(p.y);
    return fit_both(profile<independent>{x.values, y.values, known_of(p, x.scale, y.scale)}, x, y);
}

straight_line<> fit_line(const all_correlated_points<>& p) {
    expect(p);
    const centred x = centre(p.x);
    const centred y = centre(p.y);
    return fit_both(profile<dependent>{x.values, y.values, known_of(p, x.scale, y.scale)}, x, y);
}

straight_line<> fit_line(const correlated_points<>& p) {
    expect(p);
    const centred x = centre(p.x);
    const centred y = centre(p.y);
    profile<dependent> of{x.values, y.values, known_of(p, x.scale, y.scale)};
    double slope = 0.0;
    const trial_line found =
        polish(of, slope);  // chi-squared is a parabola: the first step is exact, the second takes up rounding
    return as_measured(found, slope, x, y, 1);
}

std::vector<double> weighted_residuals(const straight_line<>& line, const both_uncertain_points<>& p) {
    return residuals(line, p);
}
std::vector<double> weighted_residuals(const straight_line<>& line, const correlated_points<>& p) { return residuals(line, p); }
std::vector<double> weighted_residuals(const straight_line<>& line, const all_correlated_points<>& p) {
    return residuals(line, p);
}

}  // namespace plumbline::inline v0::uncertainty
