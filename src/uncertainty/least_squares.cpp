#include <plumbline/uncertainty/least_squares.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <plumbline/error.hpp>
#include <string>
#include <utility>

namespace plumbline::inline v0::uncertainty {

namespace least_squares_detail {
namespace {

constexpr double rounding = std::numeric_limits<double>::epsilon();

/// A number as the unevaluated sum of two doubles, the lower below half a unit in the last place of the higher.
/// Source: T. J. Dekker, Numer. Math. 18 (1971) 224, from memory.
struct twofold {
    double high = 0.0;
    double low = 0.0;

    [[nodiscard]] double rounded() const { return high + low; }
};

twofold exact_sum(double a, double b) {
    const double sum = a + b;
    const double of_b = sum - a;
    return {sum, (a - (sum - of_b)) + (b - of_b)};
}

twofold exact_product(double a, double b) {
    const double product = a * b;
    return {product, std::fma(a, b, -product)};
}

twofold operator+(const twofold& a, const twofold& b) {
    const twofold sum = exact_sum(a.high, b.high);
    return exact_sum(sum.high, sum.low + (a.low + b.low));
}

twofold operator-(const twofold& a) { return {-a.high, -a.low}; }

twofold operator*(const twofold& a, const twofold& b) {
    const twofold product = exact_product(a.high, b.high);
    return exact_sum(product.high, product.low + (a.high * b.low + a.low * b.high));
}

using numbers = std::vector<double>;
using twofolds = std::vector<twofold>;

[[noreturn]] void refuse_fit(const std::string& found, const std::string& expected, const std::string& remedy) {
    throw bad_input("least squares", found, expected, remedy);
}

[[noreturn]] void refuse_observation(std::size_t i, const std::string& found, const std::string& expected,
                                     const std::string& remedy) {
    throw bad_input(fmt::format("least squares, observation {}", i + 1), found, expected, remedy);
}

/// The exponent that brings the largest of these to between 1/2 and 1; 0 where all are 0.
template <class At>
int exponent_of(std::size_t n, At at) {
    double largest = 0.0;
    for (std::size_t i = 0; i < n; ++i) largest = std::max(largest, std::abs(at(i)));
    int exponent = 0;
    std::frexp(largest, &exponent);
    return exponent;
}

/// The equations D s + X b = f, X^T s = g, with D the variances: where g = 0, b is the least-squares solution of X b = f and D s are its
/// residuals; where f = 0, -b is the inverse of X^T D^-1 X times g.
class normal_system {
public:
    /// @param x  columns one after the other
    /// @param u  of each row
    normal_system(twofolds x, numbers u) : n_(u.size()), p_(x.size() / u.size()), x_(std::move(x)), u_(std::move(u)) {
        factorise();
    }

    struct solution {
        twofolds s;
        twofolds b;
    };

    /// From a first solution by the factors on, each gives what is missing to the one before.
    [[nodiscard]] solution solve(const numbers& f, const numbers& g) const {
        constexpr int most = 20;
        solution all{twofolds(n_), twofolds(p_)};
        numbers f_left = f;
        numbers g_left = g;
        double before = std::numeric_limits<double>::infinity();
        for (int pass = 0; pass < most; ++pass) {
            const auto [ds, db] = by_factors(f_left, g_left);
            double size = 0.0;
            double change = 0.0;
            for (std::size_t j = 0; j < p_; ++j) {
                change = std::max(change, std::abs(db[j]));
                all.b[j] = all.b[j] + twofold{db[j]};
                size = std::max(size, std::abs(all.b[j].high));
            }
            for (std::size_t i = 0; i < n_; ++i) all.s[i] = all.s[i] + twofold{ds[i]};
            if (!(change > rounding * rounding * size) || !(change < 0.5 * before)) break;
            before = change;
            for (std::size_t i = 0; i < n_; ++i) {
                twofold left = twofold{f[i]} + -(exact_product(u_[i], u_[i]) * all.s[i]);
                for (std::size_t j = 0; j < p_; ++j) left = left + -(x_[j * n_ + i] * all.b[j]);
                f_left[i] = left.rounded();
            }
            for (std::size_t j = 0; j < p_; ++j) {
                twofold left{g[j]};
                for (std::size_t i = 0; i < n_; ++i) left = left + -(x_[j * n_ + i] * all.s[i]);
                g_left[j] = left.rounded();
            }
        }
        return all;
    }

    /// Whether a constant is a combination of the columns.
    [[nodiscard]] bool has_constant() const {
        numbers ones(n_);
        for (std::size_t i = 0; i < n_; ++i) ones[i] = 1.0 / u_[i];
        reflect(ones);
        const auto square = [](double sum, double v) { return sum + v * v; };
        const double inside = std::accumulate(ones.begin(), ones.begin() + static_cast<std::ptrdiff_t>(p_), 0.0, square);
        const double outside = std::accumulate(ones.begin() + static_cast<std::ptrdiff_t>(p_), ones.end(), 0.0, square);
        return std::sqrt(outside) <= tolerance() * std::sqrt(inside);
    }

private:
    /// How far a column of rounded figures may be off what it stands for, as a fraction of it, after the reflections.
    [[nodiscard]] double tolerance() const {
        return 10.0 * rounding * std::sqrt(static_cast<double>(n_)) * static_cast<double>(p_);
    }

    /// X / u = Q R with columns exchanged: that which the ones before explain least comes next.
    void factorise() {
        q_.resize(n_ * p_);
        r_.assign(p_ * p_, 0.0);
        numbers own(p_);
        for (std::size_t j = 0; j < p_; ++j) {
            order_.push_back(j);
            for (std::size_t i = 0; i < n_; ++i) q_[j * n_ + i] = x_[j * n_ + i].high / u_[i];
            own[j] = length(j, 0);
        }
        for (std::size_t k = 0; k < p_; ++k) {
            std::size_t next = k;
            double most = -1.0;
            for (std::size_t j = k; j < p_; ++j) {
                const double left = own[j] > 0.0 ? length(j, k) / own[j] : 0.0;
                if (left > most) {
                    most = left;
                    next = j;
                }
            }
            if (!(most > tolerance())) {
                refuse_fit(fmt::format("column {} of {} is a combination of the others but for rounding", order_[next] + 1, p_),
                           "columns that are independent", "leave one of them out, or observe where they differ");
            }
            if (next != k) {
                std::swap_ranges(&q_[k * n_], &q_[k * n_] + n_, &q_[next * n_]);
                std::swap_ranges(&r_[k * p_], &r_[k * p_] + k, &r_[next * p_]);
                std::swap(own[k], own[next]);
                std::swap(order_[k], order_[next]);
            }
            // the reflection that leaves one figure of the column: v = column - (its length, turned from it), scaled to v^T v = 2
            double* const v = &q_[k * n_];
            const double turned = v[k] > 0.0 ? -length(k, k) : length(k, k);
            const double scale = 1.0 / std::sqrt(turned * (turned - v[k]));
            v[k] -= turned;
            for (std::size_t i = k; i < n_; ++i) v[i] *= scale;
            r_[k * p_ + k] = turned;
            for (std::size_t j = k + 1; j < p_; ++j) {
                reflect(k, &q_[j * n_]);
                r_[j * p_ + k] = q_[j * n_ + k];
            }
        }
    }

    [[nodiscard]] double length(std::size_t column, std::size_t from) const {
        double sum = 0.0;
        for (std::size_t i = from; i < n_; ++i) sum += q_[column * n_ + i] * q_[column * n_ + i];
        return std::sqrt(sum);
    }

    void reflect(std::size_t k, double* column) const {
        const double* const v = &q_[k * n_];
        double along = 0.0;
        for (std::size_t i = k; i < n_; ++i) along += v[i] * column[i];
        for (std::size_t i = k; i < n_; ++i) column[i] -= along * v[i];
    }
    void reflect(numbers& column) const {
        for (std::size_t k = 0; k < p_; ++k) reflect(k, column.data());
    }

    [[nodiscard]] std::pair<numbers, numbers> by_factors(const numbers& f, const numbers& g) const {
        numbers d(n_);
        for (std::size_t i = 0; i < n_; ++i) d[i] = f[i] / u_[i];
        reflect(d);
        numbers b(p_);
        for (std::size_t k = 0; k < p_; ++k) {  // R^T h = g, and h takes the place of what R b is equal to
            double h = g[order_[k]];
            for (std::size_t j = 0; j < k; ++j) h -= r_[k * p_ + j] * d[j];
            h /= r_[k * p_ + k];
            b[k] = d[k] - h;
            d[k] = h;
        }
        for (std::size_t k = p_; k-- > 0;) {
            for (std::size_t j = k + 1; j < p_; ++j) b[k] -= r_[j * p_ + k] * b[j];
            b[k] /= r_[k * p_ + k];
        }
        for (std::size_t k = p_; k-- > 0;) reflect(k, d.data());
        for (std::size_t i = 0; i < n_; ++i) d[i] /= u_[i];
        numbers in_order(p_);
        for (std::size_t k = 0; k < p_; ++k) in_order[order_[k]] = b[k];
        return {std::move(d), std::move(in_order)};
    }

    std::size_t n_;
    std::size_t p_;
    twofolds x_;
    numbers u_;
    numbers q_;                       ///< the reflections, a column each
    numbers r_;                       ///< columns of the upper triangle
    std::vector<std::size_t> order_;  ///< which column stands where
};

/// Squares of y over u, about the weighted mean or about 0.
double sum_of_squares_of(const numbers& y, const numbers& u, bool about_mean) {
    twofold mean{};
    if (about_mean) {
        twofold weights{};
        for (std::size_t i = 0; i < y.size(); ++i) {
            const twofold w{1.0 / (u[i] * u[i])};
            weights = weights + w;
            mean = mean + w * twofold{y[i]};
        }
        mean = twofold{mean.rounded() / weights.rounded()};
    }
    double sum = 0.0;
    for (std::size_t i = 0; i < y.size(); ++i) {
        const double off = (y[i] - mean.high) / u[i];
        sum += off * off;
    }
    return sum;
}

void expect_figures(std::span<const double> design, std::span<const double> y, std::span<const double> u, std::size_t p) {
    const std::size_t n = y.size();
    constexpr const char* look = "look at the data before it is fitted";
    if (p == 0) refuse_fit("no parameter", "at least one column", "say what y depends on; a column of ones is a constant");
    if (design.size() != n * p) {
        refuse_fit(fmt::format("{} figures in the design", design.size()),
                   fmt::format("{} x {}: a row for each y, a column for each parameter", n, p), "leave out no figure");
    }
    if (!u.empty() && u.size() != n) {
        refuse_fit(fmt::format("{} u_y for {} observations", u.size(), n), "one for each, or none at all", "leave out no figure");
    }
    if (n < p + (u.empty() ? 1 : 0)) {
        refuse_fit(fmt::format("{} observations for {} parameters", n, p),
                   u.empty() ? fmt::format("at least {} where u is not stated", p + 1) : "at least as many", "observe more");
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < p; ++j) {
            if (std::isfinite(design[i * p + j])) continue;
            refuse_observation(i, fmt::format("column {} is {}", j + 1, design[i * p + j]), "a finite figure", look);
        }
        if (!std::isfinite(y[i])) refuse_observation(i, fmt::format("y is {}", y[i]), "a finite figure", look);
        if (!u.empty() && !(u[i] > 0.0 && std::isfinite(u[i]))) {
            refuse_observation(i, fmt::format("u_y is {}", u[i]), "more than 0, and finite",
                               "state what is known of this observation; nothing is known exactly");
        }
    }
}

/// @param low  what the figures of the design leave over; empty: nothing
linear_fit fit(std::span<const double> design, std::span<const double> low, std::size_t p, std::span<const double> all_y,
               std::span<const double> all_u) {
    expect_figures(design, all_y, all_u, p);
    const std::size_t n = all_y.size();

    // Powers of two bring each column, and y with u, near 1: nothing is rounded, and squares stay within what doubles hold.
    const bool known = !all_u.empty();
    const std::span<const double> scaled_by = known ? all_u : all_y;
    const int of_y = exponent_of(n, [&](std::size_t i) { return scaled_by[i]; });
    numbers y(n);
    numbers u(n, 1.0);
    for (std::size_t i = 0; i < n; ++i) {
        y[i] = std::ldexp(all_y[i], -of_y);
        if (known) u[i] = std::ldexp(all_u[i], -of_y);
    }
    twofolds x(n * p);
    std::vector<int> of_column(p);
    for (std::size_t j = 0; j < p; ++j) {
        of_column[j] = exponent_of(n, [&](std::size_t i) { return design[i * p + j]; });
        for (std::size_t i = 0; i < n; ++i) {
            x[j * n + i] = {std::ldexp(design[i * p + j], -of_column[j]),
                            low.empty() ? 0.0 : std::ldexp(low[i * p + j], -of_column[j])};
        }
    }
    const normal_system system(std::move(x), u);
    const normal_system::solution best = system.solve(y, numbers(p, 0.0));

    double left = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        const double residual = best.s[i].rounded() * u[i];
        left += residual * residual;
    }
    linear_fit result;
    result.degrees_of_freedom = n - p;
    const double total = sum_of_squares_of(y, u, system.has_constant());
    result.r_squared = total > 0.0 ? std::max(1.0 - left / total, 0.0) : 1.0;
    double variance = 1.0;
    if (known) {
        result.chi_squared = left;
    } else {
        const auto nu = static_cast<double>(n - p);
        variance = left / nu;
        result.residual_deviation = std::ldexp(std::sqrt(variance), of_y);
        result.degrees_of_freedom_of_u = nu;
    }
    result.covariance.resize(p * p);
    for (std::size_t j = 0; j < p; ++j) {
        result.b.push_back(std::ldexp(best.b[j].rounded(), of_y - of_column[j]));
        numbers g(p, 0.0);
        g[j] = -1.0;
        const normal_system::solution column = system.solve(numbers(n, 0.0), g);
        for (std::size_t i = 0; i <= j; ++i) {
            const double covariance = std::ldexp(column.b[i].rounded() * variance, 2 * of_y - of_column[i] - of_column[j]);
            result.covariance[i * p + j] = result.covariance[j * p + i] = covariance;
        }
    }
    const auto sound = [](double v) { return std::isfinite(v); };
    if (!std::all_of(result.b.begin(), result.b.end(), sound) ||
        !std::all_of(result.covariance.begin(), result.covariance.end(), sound) || !sound(result.chi_squared)) {
        refuse_fit("a result beyond what a double holds", "figures of moderate size", "take other units");
    }
    return result;
}

linear_fit fit_powers(std::span<const double> x, std::span<const double> y, std::span<const double> u, std::size_t degree) {
    if (x.size() != y.size()) {
        refuse_fit(fmt::format("{} x and {} y", x.size(), y.size()), "as many of one as of the other", "leave out no figure");
    }
    numbers powers;
    numbers low;
    for (const double v : x) {
        twofold power{1.0};
        for (std::size_t k = 0; k <= degree; ++k) {
            powers.push_back(power.high);
            low.push_back(power.low);
            power = power * twofold{v};
        }
    }
    return fit(powers, low, degree + 1, y, u);
}

}  // namespace
}  // namespace least_squares_detail

linear_fit fit_linear(const linear_observations& o) { return least_squares_detail::fit(o.design, {}, o.parameters, o.y, o.u_y); }

linear_fit fit_polynomial(const unweighted_points<>& points, std::size_t degree) {
    return least_squares_detail::fit_powers(points.x, points.y, {}, degree);
}

linear_fit fit_polynomial(const weighted_points<>& points, std::size_t degree) {
    if (points.u_y.empty())
        least_squares_detail::refuse_fit("no u_y", "one for each point", "state them, or give unweighted points");
    return least_squares_detail::fit_powers(points.x, points.y, points.u_y, degree);
}

}  // namespace plumbline::inline v0::uncertainty
