#include <plumbline/uncertainty/line.hpp>

#include "line_checks.hpp"
#include "monte_carlo/instruction_set.hpp"
#include "quantiles.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

using line_checks::list;
using line_checks::refuse;

/// Looks through points without a sound fit for the reason.
[[noreturn]] void refuse_points(const weighted_points<>& p, std::size_t points) {
    const list x = p.x.first(points);
    const list u_y = p.u_y.first(p.u_y.empty() ? 0 : points);
    line_checks::expect_finite(x, "x");
    line_checks::expect_finite(p.y.first(points), "y");
    line_checks::expect_finite(u_y, "u(y)");
    line_checks::expect_positive(u_y, "u(y)");
    line_checks::expect_span(x);
    refuse("sums of squares beyond what a double holds", "finite ones", "state the points in units that suit their size");
}

/// Two numbers side by side, as every processor of today works on them.
using two = double __attribute__((vector_size(2 * sizeof(double))));
using two_words = std::int64_t __attribute__((vector_size(2 * sizeof(std::int64_t))));

/// The 26 highest bits: a product with as many bits of another number, or with the 27 that are left, is exact. As a vector: a way through the
/// integer registers takes longer than all the rest.
inline double high_bits(double x) {
    constexpr std::int64_t mask = -(std::int64_t{1} << 27);
    return std::bit_cast<two>(std::bit_cast<two_words>(two{x, x}) & two_words{mask, mask})[0];
}

/// A line to start from, y = height + slope (x - x0) through (x0, y0). The slope has few bits, for the sake of the intercept.
struct line_guess {
    double x, y, slope;
    [[nodiscard]] double intercept(double plus) const {
        const double high = high_bits(x);
        return ((y - slope * high) - slope * (x - high)) + plus;
    }
};

constexpr std::size_t some = 24;  ///< points that a guess is taken from where there are as many
constexpr std::size_t few = 128;

/// For few points what the environment says counts when the first line is fitted: to ask takes as long as to fit. The bits are the same.
[[gnu::always_inline]] inline const monte_carlo_detail::kernels& kernels_for(std::size_t n) {
    static const monte_carlo_detail::kernels& first_choice = monte_carlo_detail::chosen_kernels();
    return n < few ? first_choice : monte_carlo_detail::chosen_kernels();
}

/// Sums about a guess, and what the least sum of squares makes of them.
struct pass {
    line_guess about;
    monte_carlo_detail::line_sums sum;
    double one_over_w, one_over_determinant;
    double mean_dx, mean_r;
    double determinant;  ///< w times the sum of squares of x about its mean
    double lacking;      ///< what the guessed slope lacks
    double off;          ///< part of r_r that comes from the guess

    pass(const monte_carlo_detail::kernels& k, const weighted_points<>& p, const line_guess& from)
        : about(from), sum(k.line(p.x.data(), p.y.data(), p.u_y.data(), p.x.size(), from.x, from.y, from.slope)) {
        // Few points are fitted faster if divisions wait for as little as possible, and both are one.
        determinant = sum.w * sum.dx_dx - sum.dx * sum.dx;
        const two inverse = 1.0 / two{sum.w, determinant};
        one_over_w = inverse[0];
        one_over_determinant = inverse[1];
        lacking = (sum.w * sum.dx_r - sum.dx * sum.r) * one_over_determinant;
        mean_dx = sum.dx * one_over_w;
        mean_r = sum.r * one_over_w;
        off = mean_r * sum.r + lacking * lacking * (determinant * one_over_w);
    }
    /// Whether x0 lies among the points, and the guess costs chi-squared about one bit, or little beside what it lacks anyway. A sum r_r is good
    /// to about half an epsilon of itself. Residuals are good to half an epsilon of slope dx each, with both signs: chi-squared then to half an
    /// epsilon of sqrt(chi^2 slope^2 dx_dx / n), and where that is 2.5 times as much the two together are 8 % more.
    [[nodiscard]] bool good(std::size_t n) const {
        const double rise = about.slope * about.slope * sum.dx_dx;
        return determinant >= 0.25 * sum.w * sum.dx_dx &&
               (off <= 0.4 * sum.r_r || sum.r_r * sum.r_r * static_cast<double>(n) <= 0.16 * rise * (sum.r_r - off));
    }
    /// The line found, as the next guess, or the same centre with another slope.
    [[nodiscard]] line_guess better() const { return {about.x + mean_dx, height(), high_bits(about.slope + lacking)}; }
    [[nodiscard]] line_guess level() const { return {about.x + mean_dx, height(), 0.0}; }
    [[nodiscard]] double height() const { return about.y + (mean_r + about.slope * mean_dx); }
};

inline two load_two(const double* at) {
    two v;
    __builtin_memcpy(&v, at, sizeof v);
    return v;
}

/// Through the first and the last point, which lie far apart where points are in order, or through the middle one if that lies further away.
/// Without a slope where all three lie at one x.
[[gnu::always_inline]] inline line_guess through_two_points(list x, list y) {
    std::size_t j = x.size() - 1;
    if (std::abs(x[x.size() / 2] - x[0]) > std::abs(x[j] - x[0])) j = x.size() / 2;
    const double dx = x[j] - x[0];
    const double dy = y[j] - y[0];
    return {x[0] + 0.5 * dx, y[0] + 0.5 * dy, high_bits(dy / dx)};
}

/// From two pairs of points, the first two with the last two: through the mean of the four, with the slope of the pairs' differences, each
/// taken towards larger x. In order the pairs lie far apart, and of invented data nine in ten and more need no second pass; out of order one
/// in two and more. Through two points that would be one in ten less. Four pairs cost more than the passes that they spare. Without a slope
/// where all lie at one x.
[[gnu::always_inline]] inline line_guess through_pairs(list x, list y) {
    constexpr std::int64_t sign = std::numeric_limits<std::int64_t>::min();
    const two x_1 = load_two(x.data());
    const two x_2 = load_two(x.data() + x.size() - 2);
    const two y_1 = load_two(y.data());
    const two y_2 = load_two(y.data() + y.size() - 2);
    const two_words turned = std::bit_cast<two_words>(x_2 - x_1) & two_words{sign, sign};
    const two rise_x = std::bit_cast<two>(std::bit_cast<two_words>(x_2 - x_1) ^ turned);
    const two rise_y = std::bit_cast<two>(std::bit_cast<two_words>(y_2 - y_1) ^ turned);
    const two sum_x = x_1 + x_2;
    const two sum_y = y_1 + y_2;
    return {0.25 * (sum_x[0] + sum_x[1]), 0.25 * (sum_y[0] + sum_y[1]),
            high_bits((rise_y[0] + rise_y[1]) / (rise_x[0] + rise_x[1]))};
}

/// The line through some of the points, spread evenly.
[[gnu::noinline]] line_guess through_some(const monte_carlo_detail::kernels& k, const weighted_points<>& p) {
    double chosen[3][some];
    const std::size_t step = (p.x.size() - 1) / (some - 1);
    for (std::size_t i = 0; i < some; ++i) {
        chosen[0][i] = p.x[i * step];
        chosen[1][i] = p.y[i * step];
        chosen[2][i] = p.u_y.empty() ? 1.0 : p.u_y[i * step];
    }
    const pass first(k, {chosen[0], chosen[1], chosen[2]}, through_two_points(chosen[0], chosen[1]));
    return std::isfinite(first.off) ? first.better() : through_two_points(p.x, p.y);
}

/// The kernels want four points: what is missing is made up with points that weigh nothing.
struct four_points {
    std::array<double, 4> x, y, u;
    explicit four_points(const weighted_points<>& p) {
        constexpr double weightless = 1e300;
        for (std::size_t i = 0; i < x.size(); ++i) {
            const bool given = i < p.x.size();
            x[i] = p.x[given ? i : 0];
            y[i] = p.y[given ? i : 0];
            u[i] = !given ? weightless : p.u_y.empty() ? 1.0 : p.u_y[i];
        }
    }
};

/// What a pass found. Looks at the fit first and at the points only if something is wrong with it: looking takes as long as fitting.
[[gnu::always_inline]] inline straight_line<> line_of(const pass& s, const weighted_points<>& p, std::size_t points) {
    const double centre = s.about.x + s.mean_dx;
    const double height = s.about.y + (s.mean_r + s.about.slope * (centre - s.about.x));
    const double slope = s.about.slope + s.lacking;
    const double intercept = s.about.intercept(s.mean_r - s.lacking * centre);
    const double u_height = std::sqrt(s.one_over_w);
    const double u_slope = std::sqrt(s.sum.w * s.one_over_determinant);
    const double chi_squared = std::max(0.0, s.sum.r_r - s.off);
    const bool finite =
        std::isfinite((intercept + u_height) + (u_slope + chi_squared));  // slope and height are part of the intercept
    if (!s.sum.sound || !finite || !(u_slope > 0.0)) refuse_points(p, points);
    // Of points that all lie at one x rounding can make a small spread.
    constexpr double rounding = 1e-14;
    if (u_height < rounding * std::abs(centre) * u_slope) line_checks::expect_span(p.x.first(points));
    return {.centre = centre,
            .height = height,
            .slope = slope,
            .intercept = intercept,
            .u_height = u_height,
            .u_slope = u_slope,
            .degrees_of_freedom = points - 2,
            .chi_squared = chi_squared,
            .iterations = 1};
}

/// By one pass more, about the line that a poor guess led to; or two, if it led to a centre at best.
[[gnu::noinline]] straight_line<> improved(const monte_carlo_detail::kernels& k, const weighted_points<>& p, std::size_t points,
                                           const pass& poor) {
    constexpr double far = 1e-3;
    if (std::isfinite(poor.off) && poor.determinant >= far * poor.sum.w * poor.sum.dx_dx) {
        return line_of(pass(k, p, poor.better()), p, points);
    }
    pass s = std::isfinite(poor.off) ? poor : pass(k, p, {poor.about.x, poor.about.y, 0.0});
    if (s.determinant < far * s.sum.w * s.sum.dx_dx) s = pass(k, p, s.level());
    return line_of(pass(k, p, s.better()), p, points);
}

/// The line through weighted points, or through unweighted ones with u of 1.
/// @param points  how many of them were not made up
straight_line<> fit(const weighted_points<>& p, std::size_t points) {
    // The sums are exact about any guess; about a poor one they lose digits when what it is off is taken from them. One pass is enough if
    // that is about one bit, and for a guess as good as the points it is. Otherwise another about the line found returns what was lost.
    const monte_carlo_detail::kernels& k = kernels_for(p.x.size());
    const line_guess guess = p.x.size() >= some ? through_some(k, p)
                             : points >= 4      ? through_pairs(p.x, p.y)
                                                : through_two_points(p.x, p.y);
    const pass s(k, p, guess);
    return s.good(points) ? line_of(s, p, points) : improved(k, p, points, s);
}

straight_line<> fit_through_origin(const weighted_points<>& p, std::size_t points) {
    const monte_carlo_detail::kernels& k = kernels_for(p.x.size());
    const auto about = [&](double slope) { return k.line(p.x.data(), p.y.data(), p.u_y.data(), p.x.size(), 0.0, 0.0, slope); };
    const monte_carlo_detail::line_sums first = about(0.0);
    const double guessed = first.dx_r / first.dx_dx;
    const monte_carlo_detail::line_sums second = about(guessed);
    const double lacking = second.dx_r / second.dx_dx;
    straight_line<> line;
    line.slope = guessed + lacking;
    line.u_slope = std::sqrt(1.0 / second.dx_dx);
    line.chi_squared = std::max(0.0, second.r_r - lacking * lacking * second.dx_dx);
    line.degrees_of_freedom = points - 1;
    line.iterations = 1;
    const bool finite = std::isfinite(line.slope + line.u_slope + line.chi_squared);
    if (!second.sound || !finite || !(line.u_slope > 0.0)) refuse_points(p, points);
    return line;
}

/// Calls one of the two with four points at least.
template <class Fit>
[[gnu::noinline]] straight_line<> with_made_up_points(Fit fitted, const weighted_points<>& p) {
    const four_points four(p);
    return fitted({four.x, four.y, four.u}, p.x.size());
}
template <class Fit>
[[gnu::always_inline]] inline straight_line<> with_four(Fit fitted, const weighted_points<>& p) {
    return p.x.size() >= 4 ? fitted(p, p.x.size()) : with_made_up_points(fitted, p);
}

void expect_weighted(const weighted_points<>& p, std::size_t at_least) {
    if (p.x.size() == p.y.size() && p.x.size() == p.u_y.size() && p.x.size() >= at_least) return;
    line_checks::expect_lengths(p.x, p.y, at_least);
    line_checks::expect_count(p.u_y, "u(y)", p.x.size());
}

/// u and s from the residuals of a fit with u(y) = 1.
void state_unknown_u(straight_line<>& line) {
    const double nu = static_cast<double>(line.degrees_of_freedom);
    line.residual_deviation = std::sqrt(line.chi_squared / nu);
    line.u_height *= line.residual_deviation;
    line.u_slope *= line.residual_deviation;
    line.chi_squared = 0.0;
    line.degrees_of_freedom_of_u = nu;
}

}  // namespace

straight_line<> fit_line(const unweighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 3);
    straight_line<> line = with_four(fit, {p.x, p.y, {}});
    state_unknown_u(line);
    return line;
}

straight_line<> fit_line(const weighted_points<>& p) {
    expect_weighted(p, 2);
    return with_four(fit, p);
}

straight_line<> fit_line_through_origin(const unweighted_points<>& p) {
    line_checks::expect_lengths(p.x, p.y, 2);
    straight_line<> line = with_four(fit_through_origin, {p.x, p.y, {}});
    state_unknown_u(line);
    return line;
}

straight_line<> fit_line_through_origin(const weighted_points<>& p) {
    expect_weighted(p, 1);
    return with_four(fit_through_origin, p);
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
    const double limit = chi_squared_quantile(probability, static_cast<double>(degrees_of_freedom));
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
