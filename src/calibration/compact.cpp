#include <plumbline/calibration/solve.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <plumbline/calibration/reading.hpp>
#include <vector>

namespace plumbline::inline v0::calibration {

namespace {

struct point {
    double v;
    double square;  // of U
};

point at(codes c, const range_calibration& of, const std::vector<reference>& references, const uncertainty::input_set& inputs,
         double probability, std::span<const uncertainty::correlation> correlations) {
    const auto y = reading(inputs, references, of, c, at_calibration(of));
    const double U = make_convolved_budget(y, probability, correlations).U;
    return {y.value.value(), U * U};
}

std::vector<point> sampled(const range_calibration& of, const std::vector<reference>& references,
                           const uncertainty::input_set& inputs, double probability,
                           std::span<const uncertainty::correlation> correlations) {
    constexpr int cells = 200;
    std::vector<point> points;
    for (int i = 0; i <= cells; ++i) {
        const voltage v = of.chain.low + (of.chain.high - of.chain.low) * (static_cast<double>(i) / cells);
        points.push_back(at(code_at(of, v), of, references, inputs, probability, correlations));
        points.back().v = v.value();
    }
    return points;
}

/// Least squares of square = p0 + p1 x + p2 x^2 on x in [-1, 1], by the normal equations.
std::array<double, 3> parabola(const std::vector<point>& points, double middle, double reach) {
    std::array<double, 5> s{};
    std::array<double, 3> t{};
    for (const point& p : points) {
        double power = 1.0;
        const double x = (p.v - middle) / reach;
        for (std::size_t k = 0; k < s.size(); ++k, power *= x) {
            s[k] += power;
            if (k < t.size()) t[k] += power * p.square;
        }
    }
    // the odd sums vanish on points symmetric about the middle
    const double determinant = s[0] * s[4] - s[2] * s[2];
    return {(t[0] * s[4] - t[2] * s[2]) / determinant, t[1] / s[2], (s[0] * t[2] - s[2] * t[0]) / determinant};
}

}  // namespace

compact_uncertainty compact_form(const range_calibration& of, const std::vector<reference>& references,
                                 const uncertainty::input_set& inputs, double probability,
                                 std::span<const uncertainty::correlation> correlations) {
    std::vector<point> points = sampled(of, references, inputs, probability, correlations);
    const double middle = 0.5 * (of.chain.low + of.chain.high).value();
    const double reach = 0.5 * (of.chain.high - of.chain.low).value();
    const std::array<double, 3> p = parabola(points, middle, reach);
    compact_uncertainty form;
    if (p[2] > 0.0) {
        form.c = p[2] / (reach * reach);
        // outside the range a centre would only be an artefact of a nearly straight piece
        form.centre = voltage::from_value(middle + reach * std::clamp(-p[1] / (2.0 * p[2]), -1.0, 1.0));
    } else {
        form.centre = voltage::from_value(middle);
    }
    // At the zero step the line may bend, and U has a peak between two of the points.
    for (const double side : {-1e-6, 1e-6}) {
        const point bend = at(of.zero.seen.mean + side * code, of, references, inputs, probability, correlations);
        if (bend.v > points.front().v && bend.v < points.back().v)
            points.insert(std::ranges::upper_bound(points, bend.v, {}, &point::v), bend);
    }
    const double centre = form.centre.value();
    const auto quadratic = [&](double v) { return form.c * (v - centre) * (v - centre); };
    // between two points U^2 is taken as no larger than at the larger end, the form as at its lowest
    for (std::size_t i = 1; i < points.size(); ++i) {
        const point& l = points[i - 1];
        const point& r = points[i];
        const double lowest = l.v <= centre && centre <= r.v ? 0.0 : std::min(quadratic(l.v), quadratic(r.v));
        form.a = std::max(form.a, std::max(l.square, r.square) - lowest);
    }
    for (const point& q : points)
        form.largest_excess = std::max(form.largest_excess, std::sqrt((form.a + quadratic(q.v)) / q.square) - 1.0);
    return form;
}

}  // namespace plumbline::inline v0::calibration
