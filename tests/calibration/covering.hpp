#pragma once
// The interval of a sum of errors by a way of its own, to hold the library's against.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <numbers>
#include <vector>

namespace plumbline::inline v0::calibration::bench {

/// Half-width that holds the share p of a sum of independent rectangular errors (half-widths) and one normal error (u): the density on a
/// grid, smeared over one rectangle after the other (JCGM 101:2008, 5.2). Good to 1e-4 of the result.
inline double covering(std::vector<double> rectangles, double u_normal, double p) {
    constexpr std::size_t points = 20001;
    std::sort(rectangles.begin(), rectangles.end(), std::greater<>());
    double extent = 8.0 * u_normal;
    for (const double a : rectangles) extent += a;
    const double h = 2.0 * extent / (points - 1);
    const auto x = [&](std::size_t i) { return -extent + h * static_cast<double>(i); };
    // grows by trapezoids; beyond the ends nothing is added
    const auto summed = [&](const std::vector<double>& density) {
        std::vector<double> below(points, 0.0);
        for (std::size_t i = 1; i < points; ++i) below[i] = below[i - 1] + 0.5 * h * (density[i - 1] + density[i]);
        return below;
    };
    const auto interpolated = [&](const std::vector<double>& values, double at) {
        const double place = std::clamp((at + extent) / h, 0.0, static_cast<double>(points - 1));
        const auto left = std::min(static_cast<std::size_t>(place), points - 2);
        const double share = place - static_cast<double>(left);
        return (1.0 - share) * values[left] + share * values[left + 1];
    };
    std::vector<double> below(points);
    for (std::size_t i = 0; i < points; ++i) {
        below[i] = u_normal > 0.0 ? 0.5 * std::erfc(-x(i) / (u_normal * std::numbers::sqrt2)) : (x(i) < 0.0 ? 0.0 : 1.0);
    }
    for (const double a : rectangles) {
        std::vector<double> density(points);
        for (std::size_t i = 0; i < points; ++i) {
            density[i] = (interpolated(below, x(i) + a) - interpolated(below, x(i) - a)) / (2.0 * a);
        }
        below = summed(density);
    }
    double low = 0.0;
    double high = extent;
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        (interpolated(below, middle) - interpolated(below, -middle) < p ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

}  // namespace plumbline::inline v0::calibration::bench
