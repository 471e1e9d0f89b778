#include <plumbline/uncertainty/line.hpp>

#include "line_checks.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <bit>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <plumbline/error.hpp>
#include <type_traits>

namespace plumbline::inline v0::uncertainty {

namespace {

using line_checks::list;
using line_checks::refuse;

/// Two numbers side by side, as every processor of today can add them.
using two = double __attribute__((vector_size(2 * sizeof(double))));
using two_words = std::int64_t __attribute__((vector_size(2 * sizeof(std::int64_t))));

/// Weighted sums over the points of dx = x - x0 and of the residual r = y - y0 - b dx. Weights are 1/u^2, all 1 where no u is given; they are
/// computed in each pass anew, which is faster than to keep them.
struct sums {
    double x0;
    double y0;
    double b;
    double w = 0.0;
    double dx = 0.0;
    double r = 0.0;
    double dx_dx = 0.0;
    double dx_r = 0.0;
    double r_r = 0.0;
    bool sound = true;  ///< no u is negative or infinite; one of 0, or NaN, shows in w

    sums(list x, list y, list u, double from_x, double from_y, double slope) : x0(from_x), y0(from_y), b(slope) {
        if (u.empty()) {
            add_up<false>(x, y, x);
        } else {
            add_up<true>(x, y, u);
        }
    }
    [[nodiscard]] double mean_dx() const { return dx / w; }
    [[nodiscard]] double mean_r() const { return r / w; }
    /// w times the sum of squares of x about its mean. Divisions wait for nothing but this: few points are fitted faster.
    [[nodiscard]] double determinant() const { return w * dx_dx - dx * dx; }
    /// What the slope b lacks.
    [[nodiscard]] double lacking() const { return (w * dx_r - dx * r) / determinant(); }

private:
    template <bool weighted>
    struct partial {
        two w{}, dx{}, r{}, dx_dx{}, dx_r{}, r_r{}, u{};
        two_words signs{};
        void add(two v_x, two v_y, two v_u, const sums& about) {
            v_x -= about.x0;
            v_y = (v_y - about.y0) - about.b * v_x;
            two w_dx = v_x;
            two w_r = v_y;
            if constexpr (weighted) {
                const two v_w = 1.0 / (v_u * v_u);
                w += v_w;
                w_dx *= v_w;
                w_r *= v_w;
                u += v_u;
                signs |= std::bit_cast<two_words>(v_u);
            }
            dx += w_dx;
            r += w_r;
            dx_dx += w_dx * v_x;
            dx_r += w_dx * v_y;
            r_r += w_r * v_y;
        }
    };

    template <bool weighted>
    void add_up(list x, list y, list u) {
        // In four lanes: one sum alone would wait for every addition to finish, and round more.
        partial<weighted> even;
        partial<weighted> odd;
        const auto at = [](const double* from) {
            two v;
            std::memcpy(&v, from, sizeof v);
            return v;
        };
        const std::size_t n = x.size();
        std::size_t i = 0;
        for (; i + 4 <= n; i += 4) {
            even.add(at(&x[i]), at(&y[i]), at(&u[i]), *this);
            odd.add(at(&x[i + 2]), at(&y[i + 2]), at(&u[i + 2]), *this);
        }
        if (i + 2 <= n) {
            even.add(at(&x[i]), at(&y[i]), at(&u[i]), *this);
            i += 2;
        }
        const auto total = [](const two& p, const two& q) { return (p[0] + p[1]) + (q[0] + q[1]); };
        w = weighted ? total(even.w, odd.w) : static_cast<double>(n);
        dx = total(even.dx, odd.dx);
        r = total(even.r, odd.r);
        dx_dx = total(even.dx_dx, odd.dx_dx);
        dx_r = total(even.dx_r, odd.dx_r);
        r_r = total(even.r_r, odd.r_r);
        double sum_u = total(even.u, odd.u);
        const two_words signs = even.signs | odd.signs;
        sound = (signs[0] | signs[1]) >= 0;
        if (i < n) {
            const double one_dx = x[i] - x0;
            const double one_r = (y[i] - y0) - b * one_dx;
            const double one_w = weighted ? 1.0 / (u[i] * u[i]) : 1.0;
            if (weighted) {
                w += one_w;
                sum_u += u[i];
                sound = sound && !std::signbit(u[i]);
            }
            dx += one_w * one_dx;
            r += one_w * one_r;
            dx_dx += one_w * one_dx * one_dx;
            dx_r += one_w * one_dx * one_r;
            r_r += one_w * one_r * one_r;
        }
        sound = sound && std::isfinite(sum_u);
    }
};

/// The line through weighted points, or through unweighted ones with u of 1. One without u where a u cannot be.
straight_line<> fit(list x, list y, list u) {
    const std::size_t n = x.size();
    // A first pass about a point among the others finds centre and slope; the second one, about that centre, forms the residuals, and finds
    // in them what was lost to rounding.
    sums first(x, y, u, x[n / 2], y[n / 2], 0.0);
    constexpr double far = 1e-3;  // a point so far out costs digits: begin again from the mean
    if (first.determinant() < far * first.w * first.dx_dx) {
        first = sums(x, y, u, first.x0 + first.mean_dx(), first.y0 + first.mean_r(), 0.0);
    }
    const sums second(x, y, u, first.x0 + first.mean_dx(), first.y0 + first.mean_r(), first.lacking());
    if (!second.sound) return {};
    const double residual = second.mean_r();
    const double lacking = second.lacking();
    const double determinant = second.determinant();
    straight_line<> line;
    line.slope = second.b + lacking;
    line.centre = second.x0 + second.mean_dx();
    line.height = second.y0 + (residual + second.b * (line.centre - second.x0));
    line.intercept = (second.y0 - second.b * second.x0) + (residual - lacking * line.centre);
    line.u_height = std::sqrt(1.0 / second.w);
    line.u_slope = std::sqrt(second.w / determinant);
    line.chi_squared = std::max(0.0, second.r_r - residual * second.r - lacking * lacking * (determinant / second.w));
    line.degrees_of_freedom = n - 2;
    line.iterations = 1;
    return line;
}

straight_line<> fit_through_origin(list x, list y, list u) {
    const sums first(x, y, u, 0.0, 0.0, 0.0);
    const sums second(x, y, u, 0.0, 0.0, first.dx_r / first.dx_dx);
    if (!second.sound) return {};
    const double lacking = second.dx_r / second.dx_dx;
    straight_line<> line;
    line.slope = second.b + lacking;
    line.u_slope = std::sqrt(1.0 / second.dx_dx);
    line.chi_squared = std::max(0.0, second.r_r - lacking * lacking * second.dx_dx);
    line.degrees_of_freedom = x.size() - 1;
    line.iterations = 1;
    return line;
}

/// u and s from the residuals of a fit with u(y) = 1.
straight_line<> with_unknown_u(straight_line<> line) {
    const double nu = static_cast<double>(line.degrees_of_freedom);
    line.residual_deviation = std::sqrt(line.chi_squared / nu);
    line.u_height *= line.residual_deviation;
    line.u_slope *= line.residual_deviation;
    line.chi_squared = 0.0;
    line.degrees_of_freedom_of_u = nu;
    return line;
}

/// Looks through points without a sound fit for the reason.
[[noreturn]] void refuse_points(list x, list y, list u_y) {
    line_checks::expect_finite(x, "x");
    line_checks::expect_finite(y, "y");
    line_checks::expect_finite(u_y, "u(y)");
    line_checks::expect_positive(u_y, "u(y)");
    line_checks::expect_span(x);
    refuse("sums of squares beyond what a double holds", "finite ones", "state the points in units that suit their size");
}

/// Looks at the fit first and at the points only if something is wrong with it: looking takes as long as fitting.
straight_line<> checked(const straight_line<>& line, list x, list y, list u_y) {
    const double all = line.slope + line.intercept + line.height + line.u_height + line.u_slope + line.chi_squared;
    if (!std::isfinite(all) || !(line.u_slope > 0.0)) refuse_points(x, y, u_y);
    // Of points that all lie at one x rounding can make a small spread.
    constexpr double rounding = 1e-14;
    if (line.u_height > 0.0 && line.u_height < rounding * std::abs(line.centre) * line.u_slope) line_checks::expect_span(x);
    return line;
}

}  // namespace

straight_line<> fit_line(const unweighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 3);
    return with_unknown_u(checked(fit(p.x, p.y, {}), p.x, p.y, {}));
}

straight_line<> fit_line(const weighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 2);
    line_checks::expect_count(p.u_y, "u(y)", p.x.size());
    return checked(fit(p.x, p.y, p.u_y), p.x, p.y, p.u_y);
}

straight_line<> fit_line_through_origin(const unweighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 2);
    return with_unknown_u(checked(fit_through_origin(p.x, p.y, {}), p.x, p.y, {}));
}

straight_line<> fit_line_through_origin(const weighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 1);
    line_checks::expect_count(p.u_y, "u(y)", p.x.size());
    return checked(fit_through_origin(p.x, p.y, p.u_y), p.x, p.y, p.u_y);
}

std::vector<double> weighted_residuals(const straight_line<>& line, const weighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 1);
    line_checks::expect_count(p.u_y, "u(y)", p.x.size());
    line_checks::expect_finite(p.x, "x");
    line_checks::expect_finite(p.y, "y");
    line_checks::expect_finite(p.u_y, "u(y)");
    line_checks::expect_positive(p.u_y, "u(y)");
    std::vector<double> r(p.x.size());
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = ((p.y[i] - line.height) - line.slope * (p.x[i] - line.centre)) / p.u_y[i];
    return r;
}

chi_squared_verdict judge_chi_squared(double observed, std::size_t degrees_of_freedom, double probability) {
    constexpr const char* where = "chi-squared of a line";
    if (degrees_of_freedom == 0) {
        throw bad_input(where, "no degrees of freedom", "at least 1", "measure at more points: so few always fit");
    }
    if (!(observed >= 0.0) || !std::isfinite(observed)) {
        throw bad_input(where, fmt::format("{}", observed), "0 or more", "look at where it was computed from");
    }
    if (!(probability > 0.0 && probability < 1.0)) {
        throw bad_input(where, fmt::format("probability {}", probability), "more than 0 and less than 1",
                        "state it as a fraction, 0.95 for instance");
    }
    using boost::math::policies::policy;
    using in_double = policy<boost::math::policies::promote_double<false>>;
    const boost::math::chi_squared_distribution<double, in_double> expected(static_cast<double>(degrees_of_freedom));
    const double limit = boost::math::quantile(expected, probability);
    return {observed, limit, observed <= limit};
}

chi_squared_verdict verdict(const straight_line<>& line, double probability) {
    if (std::isfinite(line.degrees_of_freedom_of_u)) {
        refuse("uncertainties that come from the residuals", "stated ones",
               "judge a line fitted with the uncertainties of its points");
    }
    return judge_chi_squared(line.chi_squared, line.degrees_of_freedom, probability);
}

straight_line<> scaled_to_residuals(const straight_line<>& line) {
    if (std::isfinite(line.degrees_of_freedom_of_u)) {
        refuse("uncertainties that come from the residuals", "stated ones", "scale them once");
    }
    if (line.degrees_of_freedom == 0) {
        refuse("no degrees of freedom", "at least 1", "measure at more points: so few leave no residuals");
    }
    straight_line<> scaled = line;
    scaled.degrees_of_freedom_of_u = static_cast<double>(line.degrees_of_freedom);
    const double factor = std::sqrt(line.chi_squared / scaled.degrees_of_freedom_of_u);
    scaled.u_height *= factor;
    scaled.u_slope *= factor;
    return scaled;
}

}  // namespace plumbline::inline v0::uncertainty
