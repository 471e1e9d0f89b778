#include "convolution.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace plumbline::uncertainty {

namespace {

// A distribution symmetric about zero on a grid of x >= 0: its distribution function less a half, that function's integral from zero, and
// its density. A rectangular term of half-width b turns them into differences over 2 b:
//     half'(x) = (integral(x + b) - integral(x - b)) / (2 b)        density'(x) = (half(x + b) - half(x - b)) / (2 b)
class on_grid {
public:
    /// All at zero: the neutral element.
    on_grid(double extent, std::size_t cells)
        : h_(extent / static_cast<double>(cells)), half_(cells + 1, 0.5), density_(cells + 1, 0.0), integral_(cells + 1) {
        half_[0] = 0.0;
        for (std::size_t i = 0; i <= cells; ++i) integral_[i] = 0.5 * x(i);
    }

    /// Student's t scaled by u, or the normal distribution at infinite degrees of freedom.
    void start_with_t(double u, double nu) {
        const bool is_normal = !std::isfinite(nu);
        const double at_zero =
            is_normal ? 1.0 / std::sqrt(2.0 * std::numbers::pi)
                      : std::exp(std::lgamma(0.5 * (nu + 1.0)) - std::lgamma(0.5 * nu)) / std::sqrt(nu * std::numbers::pi);
        double slope_before = 0.0;
        half_[0] = 0.0;
        for (std::size_t i = 0; i < half_.size(); ++i) {
            const double z = x(i) / u;
            const double f = at_zero * (is_normal ? std::exp(-0.5 * z * z) : std::pow(1.0 + z * z / nu, -0.5 * (nu + 1.0))) / u;
            const double slope = -f * (is_normal ? z : z * (nu + 1.0) / (nu + z * z)) / u;
            density_[i] = f;
            if (i > 0) half_[i] = half_[i - 1] + trapezium(density_[i - 1], f, slope_before, slope);
            slope_before = slope;
        }
        integrate();
    }

    void add_rectangle(double b) {
        if (b < 1e-3 * h_) return;
        // x(i) + b lies the same fraction into its cell for every i, so the cubic's weights are the same for all points
        const auto whole = static_cast<std::size_t>(b / h_);
        const double t = b / h_ - static_cast<double>(whole);
        const double s = 1.0 - t;
        const std::array<double, 4> w{s * s * (1.0 + 2.0 * t), s * s * t * h_, t * t * (1.0 + 2.0 * s), -t * t * s * h_};
        const std::size_t reach = whole + 1;
        const std::vector<double> integral = continued(integral_, reach, 1.0, 0.5 * h_);
        const std::vector<double> half = continued(half_, reach, -1.0, 0.0);
        const std::vector<double> density = continued(density_, reach, 1.0, 0.0);
        const double scale = 0.5 / b;
        for (std::size_t i = 0; i < half_.size(); ++i) {
            const std::size_t up = reach + i + whole;        // the cell of x(i) + b starts here
            const std::size_t down = reach + i - whole - 1;  // the cell of x(i) - b starts here, and is entered from its far end
            half_[i] = scale * (w[0] * (integral[up] - integral[down + 1]) + w[1] * (half[up] + half[down + 1]) +
                                w[2] * (integral[up + 1] - integral[down]) + w[3] * (half[up + 1] + half[down]));
            density_[i] = scale * (w[0] * (half[up] - half[down + 1]) + w[1] * (density[up] + density[down + 1]) +
                                   w[2] * (half[up + 1] - half[down]) + w[3] * (density[up + 1] + density[down]));
        }
        integrate();
    }

    void add_group(const scaled_rectangles& group) {
        std::vector<double> half(half_.size(), 0.0);
        std::vector<double> density(half_.size(), 0.0);
        for (const weighted_factor& factor : magnitudes(group.difference, group.half_width)) {
            on_grid given = *this;
            for (double b : group.half_widths) given.add_rectangle(b * factor.magnitude);
            for (std::size_t i = 0; i < half.size(); ++i) {
                half[i] += factor.weight * given.half_[i];
                density[i] += factor.weight * given.density_[i];
            }
        }
        half_ = std::move(half);
        density_ = std::move(density);
        integrate();
    }

    [[nodiscard]] double quantile(double probability) const {
        double low = 0.0;
        double high = x(half_.size() - 1);
        for (int i = 0; i < 60; ++i) {
            const double middle = 0.5 * (low + high);
            (2.0 * half_at(middle) < probability ? low : high) = middle;
        }
        return 0.5 * (low + high);
    }

private:
    [[nodiscard]] double x(std::size_t i) const { return h_ * static_cast<double>(i); }

    // trapezoidal rule with its end correction: fourth order
    [[nodiscard]] double trapezium(double a, double b, double slope_a, double slope_b) const {
        return 0.5 * h_ * (a + b) - h_ * h_ / 12.0 * (slope_b - slope_a);
    }

    void integrate() {
        integral_[0] = 0.0;
        for (std::size_t i = 1; i < half_.size(); ++i) {
            integral_[i] = integral_[i - 1] + trapezium(half_[i - 1], half_[i], density_[i - 1], density_[i]);
        }
    }

    // cubic through the values and slopes at both ends of a cell
    [[nodiscard]] double between(const std::vector<double>& y, const std::vector<double>& slope, double at) const {
        const auto i = static_cast<std::size_t>(at / h_);
        const double t = at / h_ - static_cast<double>(i);
        const double s = 1.0 - t;
        return s * s * ((1.0 + 2.0 * t) * y[i] + t * h_ * slope[i]) +
               t * t * ((1.0 + 2.0 * s) * y[i + 1] - s * h_ * slope[i + 1]);
    }

    [[nodiscard]] double half_at(double at) const {
        if (at < 0.0) return -half_at(-at);
        return at >= x(half_.size() - 1) ? 0.5 : between(half_, density_, at);
    }

    // The values with `reach` more on either side: mirrored (or mirrored with the sign turned) below zero, on a straight line beyond the end.
    [[nodiscard]] static std::vector<double> continued(const std::vector<double>& y, std::size_t reach, double mirror,
                                                       double step) {
        std::vector<double> all(y.size() + 2 * reach);
        for (std::size_t i = 1; i <= reach; ++i) {
            const bool inside = i < y.size();
            all[reach - i] = mirror * (inside ? y[i] : y.back() + step * static_cast<double>(i - y.size() + 1));
            all[reach + y.size() - 1 + i] = y.back() + step * static_cast<double>(i);
        }
        std::copy(y.begin(), y.end(), all.begin() + static_cast<std::ptrdiff_t>(reach));
        return all;
    }

    double h_;
    std::vector<double> half_;
    std::vector<double> density_;
    std::vector<double> integral_;
};

// 8-point Gauss-Legendre rule on [-1, 1] (Abramowitz and Stegun, table 25.4), positive half
constexpr std::array<std::array<double, 2>, 4> gauss{{{0.1834346424956498, 0.3626837833783620},
                                                      {0.5255324099163290, 0.3137066458778873},
                                                      {0.7966664774136267, 0.2223810344533745},
                                                      {0.9602898564975363, 0.1012285362903763}}};

void add_segment(std::vector<weighted_factor>& to, double low, double high, double probability) {
    for (const double start : {low, 0.5 * (low + high)}) {  // in halves: what is averaged has kinks
        const double reach = 0.25 * (high - low);
        for (const auto& [node, weight] : gauss) {
            to.push_back({start + reach * (1.0 - node), 0.25 * weight * probability});
            to.push_back({start + reach * (1.0 + node), 0.25 * weight * probability});
        }
    }
}

double sum_of(std::span<const double> values) {
    double sum = 0.0;
    for (double v : values) sum += v;
    return sum;
}

}  // namespace

std::vector<weighted_factor> magnitudes(double difference, double half_width) {
    const double d = std::abs(difference);
    if (half_width == 0.0) return {{d, 1.0}};
    std::vector<weighted_factor> all;
    if (d >= half_width) {
        add_segment(all, d - half_width, d + half_width, 1.0);
    } else {
        // the part of the interval beyond zero folds back onto the magnitudes below half_width - d
        add_segment(all, 0.0, half_width - d, (half_width - d) / half_width);
        if (d > 0.0) add_segment(all, half_width - d, half_width + d, d / half_width);
    }
    return all;
}

double symmetric_quantile(const symmetric_sum& sum, double probability, double t_factor) {
    constexpr std::size_t cells = 2048;
    double bounded = sum_of(sum.rectangles);
    for (const scaled_rectangles& g : sum.groups) bounded += sum_of(g.half_widths) * (std::abs(g.difference) + g.half_width);
    const double extent = 1.01 * bounded + std::max(6.0, 1.5 * t_factor) * sum.u_rest;

    on_grid grid(extent, cells);
    const double h = extent / static_cast<double>(cells);
    if (sum.u_rest >= 4.0 * h) {
        grid.start_with_t(sum.u_rest, sum.degrees_of_freedom);
    } else {
        grid.add_rectangle(std::sqrt(3.0) * sum.u_rest);  // below the grid only its variance counts
    }
    for (double b : sum.rectangles) grid.add_rectangle(b);
    for (const scaled_rectangles& g : sum.groups) grid.add_group(g);
    return grid.quantile(probability);
}

}  // namespace plumbline::uncertainty
