#pragma once
// Straight lines through measured points: ordinary, weighted, with uncertainty in both axes, with covariance.

#include <cmath>
#include <cstddef>
#include <limits>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/line_points.hpp>
#include <span>
#include <type_traits>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// A line y = height + slope (x - centre). The centre is chosen so that height and slope are uncorrelated: nothing cancels in u(y).
template <class X = double, class Y = X>
struct straight_line {
    using slope_type = quotient_of<Y, X>;

    X centre{};  ///< a choice, without uncertainty
    Y height{};  ///< of the line at the centre
    slope_type slope{};
    Y intercept{};  ///< of the line at x = 0, to more digits than height - slope * centre
    Y u_height{};
    slope_type u_slope{};
    std::size_t degrees_of_freedom = 0;  ///< points less parameters
    double chi_squared = 0.0;            ///< sum of squared weighted residuals at the minimum; 0 where no u was stated
    Y residual_deviation{};              ///< standard deviation of y about the line; 0 where u was stated
    /// Of u_height and u_slope, jointly: infinite where they come from stated u, degrees_of_freedom where from the residuals.
    double degrees_of_freedom_of_u = std::numeric_limits<double>::infinity();
    std::size_t iterations = 0;  ///< directions of a line that were tried; 1 where the solution is in closed form

    [[nodiscard]] Y u_intercept() const;
    /// Of intercept and slope. A line through the origin has none.
    [[nodiscard]] product_of<Y, slope_type> covariance() const { return -1.0 * centre * u_slope * u_slope; }
};

// The fits. All sums are of deviations from the centre. y may be any; x must not be the same everywhere.
//
// The line through points with both axes uncertain minimises
//
//     chi^2(a, b) = r^T V(b)^-1 r,   r = y - a - b x,   V(b) = U_y - b (U_xy + U_xy^T) + b^2 U_x
//
// which is the generalised distance of clauses 7, 8 and 10 with the adjusted points eliminated (its minimum over them, in closed form). It
// is a function of the direction of the line alone, periodic, and is searched as a whole: the result is the lowest minimum, not the one next
// to a start. u is that of the same clauses, at the adjusted points. With correlated_points and all_correlated_points the cost grows
// with n^3: 200 points take about 0.1 s where x is uncertain.
//
// Weighted and unweighted sums use the best instruction set that the machine runs, or the one that PLUMBLINE_INSTRUCTION_SET names (for fewer
// than 128 points: named when the first line was fitted). The results are the same, to the last bit.
//
// @throws bad_input  too few points (2; 3 where u is not known; one less through the origin), lists of unlike length, all x the same, a figure
//                    not finite, u not above 0, a covariance that is not positive definite; both axes: an upright line, points that
//                    prefer no direction, or a minimum hidden by rounding
// Source: ISO/TS 28037:2010, clauses 6 to 10; elimination of the adjusted points derived here.

[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line(const unweighted_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line(const weighted_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line(const both_uncertain_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line(const correlated_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line(const all_correlated_points<>& points);

/// y = slope x: height, intercept and their u are 0.
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line_through_origin(const unweighted_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> fit_line_through_origin(const weighted_points<>& points);

/// Distances of the points from a line in units of their u, with the sign of y - line; their squares add up to chi-squared. Where points are
/// correlated: L^-1 r with V = L L^T, which are the distances of combinations, not of single points.
/// @throws bad_input  as fit_line
[[nodiscard]] PLUMBLINE_EXPORT std::vector<double> weighted_residuals(const straight_line<>& line,
                                                                      const weighted_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT std::vector<double> weighted_residuals(const straight_line<>& line,
                                                                      const both_uncertain_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT std::vector<double> weighted_residuals(const straight_line<>& line,
                                                                      const correlated_points<>& points);
[[nodiscard]] PLUMBLINE_EXPORT std::vector<double> weighted_residuals(const straight_line<>& line,
                                                                      const all_correlated_points<>& points);

/// Whether points and line agree within the stated u.
struct chi_squared_verdict {
    double observed = 0.0;
    double limit = 0.0;  ///< quantile of chi-squared at the probability
    bool consistent = false;
};

/// @param observed, degrees_of_freedom  of a line fitted with stated u
/// @throws bad_input  no degrees of freedom; observed not 0 or more; probability not between 0 and 1
/// Source: ISO/TS 28037:2010, clauses 6 to 10, where the model is validated at 95 %.
[[nodiscard]] PLUMBLINE_EXPORT chi_squared_verdict judge_chi_squared(double observed, std::size_t degrees_of_freedom,
                                                                     double probability = 0.95);

/// @throws bad_input  the line's u come from the residuals: there is nothing to compare them with
[[nodiscard]] PLUMBLINE_EXPORT chi_squared_verdict verdict(const straight_line<>& line, double probability = 0.95);

/// The line with u multiplied by sqrt(chi^2 / degrees of freedom): for u that were stated up to a common factor. u then has the degrees of
/// freedom of the line, and a t of them goes with it, whose standard deviation is sqrt(nu / (nu - 2)) times u (the annex's alternative).
/// @throws bad_input  no degrees of freedom, or u already comes from the residuals
/// Source: ISO/TS 28037:2010, annex E.
[[nodiscard]] PLUMBLINE_EXPORT straight_line<> scaled_to_residuals(const straight_line<>& line);

// The same over quantities: only the units are added here.

namespace line_detail {

template <class X, class Y>
concept quantities = !(std::is_same_v<X, double> && std::is_same_v<Y, double>);

inline double number(double x) { return x; }
template <class Quantity>
double number(const Quantity& q) {
    return q.value();
}
template <class Quantity>
Quantity from_number(double x) {
    if constexpr (std::is_same_v<Quantity, double>) {
        return x;
    } else {
        return Quantity::from_value(x);
    }
}
template <class Quantity>
std::vector<double> numbers(std::span<const Quantity> list) {
    std::vector<double> plain;
    plain.reserve(list.size());
    for (const Quantity& q : list) plain.push_back(number(q));
    return plain;
}

/// Calls f with the points as plain numbers.
template <class F, class X, class Y>
auto with_numbers(F&& f, const unweighted_points<X, Y>& p) {
    return f(unweighted_points<>{numbers(p.x), numbers(p.y)});
}
template <class F, class X, class Y>
auto with_numbers(F&& f, const weighted_points<X, Y>& p) {
    return f(weighted_points<>{numbers(p.x), numbers(p.y), numbers(p.u_y)});
}
template <class F, class X, class Y>
auto with_numbers(F&& f, const both_uncertain_points<X, Y>& p) {
    return f(both_uncertain_points<>{numbers(p.x), numbers(p.y), numbers(p.u_x), numbers(p.u_y), numbers(p.covariance)});
}
template <class F, class X, class Y>
auto with_numbers(F&& f, const correlated_points<X, Y>& p) {
    return f(correlated_points<>{numbers(p.x), numbers(p.y), numbers(p.U_y)});
}
template <class F, class X, class Y>
auto with_numbers(F&& f, const all_correlated_points<X, Y>& p) {
    return f(all_correlated_points<>{numbers(p.x), numbers(p.y), numbers(p.U_x), numbers(p.U_y), numbers(p.U_xy)});
}

/// The same line, its figures in other types of the same coherent units.
template <class X, class Y, class X0, class Y0>
straight_line<X, Y> converted(const straight_line<X0, Y0>& l) {
    using slope = quotient_of<Y, X>;
    return {from_number<X>(number(l.centre)),
            from_number<Y>(number(l.height)),
            from_number<slope>(number(l.slope)),
            from_number<Y>(number(l.intercept)),
            from_number<Y>(number(l.u_height)),
            from_number<slope>(number(l.u_slope)),
            l.degrees_of_freedom,
            l.chi_squared,
            from_number<Y>(number(l.residual_deviation)),
            l.degrees_of_freedom_of_u,
            l.iterations};
}

}  // namespace line_detail

template <class X, class Y>
Y straight_line<X, Y>::u_intercept() const {
    using line_detail::number;
    return line_detail::from_number<Y>(std::hypot(number(u_height), number(centre) * number(u_slope)));
}

template <template <class, class> class Points, class X, class Y>
    requires line_detail::quantities<X, Y>
[[nodiscard]] straight_line<X, Y> fit_line(const Points<X, Y>& points) {
    return line_detail::converted<X, Y>(line_detail::with_numbers([](const auto& p) { return fit_line(p); }, points));
}
template <template <class, class> class Points, class X, class Y>
    requires line_detail::quantities<X, Y>
[[nodiscard]] straight_line<X, Y> fit_line_through_origin(const Points<X, Y>& points) {
    return line_detail::converted<X, Y>(
        line_detail::with_numbers([](const auto& p) { return fit_line_through_origin(p); }, points));
}
template <template <class, class> class Points, class X, class Y>
    requires line_detail::quantities<X, Y>
[[nodiscard]] std::vector<double> weighted_residuals(const straight_line<X, Y>& line, const Points<X, Y>& points) {
    const straight_line<> plain = line_detail::converted<double, double>(line);
    return line_detail::with_numbers([&](const auto& p) { return weighted_residuals(plain, p); }, points);
}
template <class X, class Y>
    requires line_detail::quantities<X, Y>
[[nodiscard]] chi_squared_verdict verdict(const straight_line<X, Y>& line, double probability = 0.95) {
    return verdict(line_detail::converted<double, double>(line), probability);
}
template <class X, class Y>
    requires line_detail::quantities<X, Y>
[[nodiscard]] straight_line<X, Y> scaled_to_residuals(const straight_line<X, Y>& line) {
    return line_detail::converted<X, Y>(scaled_to_residuals(line_detail::converted<double, double>(line)));
}

}  // namespace plumbline::inline v0::uncertainty
