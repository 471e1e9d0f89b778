#include "convolution.hpp"

#include <boost/math/special_functions/bessel.hpp>
#include <boost/math/tools/toms748_solve.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <plumbline/uncertainty/coverage.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

// A distribution that is symmetric about zero and lies within +-E has the Fourier series
//
//     P(|X| <= x) = x / E + sum_k 2 / (pi k) phi(pi k / E) sin(pi k x / E)
//
// with phi its characteristic function, and phi of a sum of independent terms is the product of theirs. The factors below give
// phi(k delta) for k = 1, 2, 3 ... in turn, by recurrences instead of a sine or an exponential for each.

/// Some values at a time, so that a compiler computes them side by side.
using lanes = std::array<double, 4>;

/// Those from `first` on, 0 beyond the end.
lanes lanes_from(const std::vector<double>& all, std::size_t first, double scale) {
    lanes some{};
    for (std::size_t i = 0; i < some.size() && first + i < all.size(); ++i) some[i] = scale * all[first + i];
    return some;
}

/// sin(k theta) / theta, k times the factor of a rectangular term of half-width theta / delta.
class rectangular_factors {
public:
    explicit rectangular_factors(const lanes& theta) {
        for (std::size_t i = 0; i < theta.size(); ++i) {
            const double t = std::max(theta[i], 1e-150);  // as good as none: k t / t
            cos_step_[i] = std::cos(t);
            sin_step_[i] = std::sin(t);
            inverse_[i] = 1.0 / t;
        }
    }

    void multiply_by_next(lanes& product) {
        for (std::size_t i = 0; i < product.size(); ++i) {
            const double s = sin_[i] * cos_step_[i] + cos_[i] * sin_step_[i];
            cos_[i] = cos_[i] * cos_step_[i] - sin_[i] * sin_step_[i];
            sin_[i] = s;
            product[i] *= s * inverse_[i];
        }
    }

private:
    lanes cos_step_{};
    lanes sin_step_{};
    lanes inverse_{};
    lanes cos_{1.0, 1.0, 1.0, 1.0};
    lanes sin_{};
};

/// Characteristic function of a sine of unknown phase and amplitude 1 (JCGM 101:2008, 6.4.6 has its density).
double bessel_j0(double x) {
    using policy = boost::math::policies::policy<boost::math::policies::promote_double<false>>;
    return boost::math::cyl_bessel_j(0, x, policy());
}

/// A t distribution as a mixture of normals: variance u^2 nu / chi^2_nu. The mixture is summed over y = ln(chi^2_nu / nu), whose density
/// exp(nu/2 (y - e^y)) is analytic, so that equal steps converge exponentially.
class t_factor {
public:
    t_factor(double theta, double nu) {
        if (!std::isfinite(nu)) {
            add(0.5 * theta * theta, 1.0);
            return;
        }
        const auto log_density = [nu](double y) { return 0.5 * nu * (y - std::exp(y) + 1.0); };
        constexpr double lightest = -30.0;  // e^-30 of the largest weight
        const double step = 0.5 * std::min(1.0, std::sqrt(2.0 / nu));
        double total = 0.0;
        for (const double direction : {1.0, -1.0}) {
            for (double y = direction < 0.0 ? -step : 0.0; log_density(y) > lightest; y += direction * step) {
                const double weight = std::exp(log_density(y));
                add(0.5 * theta * theta * std::exp(-y), weight);
                total += weight;
            }
        }
        for (part& p : parts_) p.value /= total;
    }

    double next() {
        double sum = 0.0;
        for (part& p : parts_) {  // exp(-a k^2) from exp(-a (k-1)^2): times exp(-a (2k - 1))
            p.value *= p.ratio;
            p.ratio *= p.ratio_step;
            sum += p.value;
        }
        return sum;
    }

private:
    struct part {
        double value;
        double ratio;
        double ratio_step;
    };
    void add(double a, double weight) { parts_.push_back({weight, std::exp(-a), std::exp(-2.0 * a)}); }
    std::vector<part> parts_;
};

// 16-point Gauss-Legendre rule on [-1, 1] (Abramowitz and Stegun, table 25.4), positive half
constexpr std::array<std::array<double, 2>, 8> gauss{{{0.0950125098376374, 0.1894506104550685},
                                                      {0.2816035507792589, 0.1826034150449236},
                                                      {0.4580167776572274, 0.1691565193950025},
                                                      {0.6178762444026438, 0.1495959888165767},
                                                      {0.7554044083550030, 0.1246289712555339},
                                                      {0.8656312023878318, 0.0951585116824928},
                                                      {0.9445750230732326, 0.0622535239386479},
                                                      {0.9894009349916499, 0.0271524594117541}}};

/// Values of the differences with their weights, which add up to 1.
struct nodes {
    std::vector<double> weight;
    std::vector<std::vector<double>> difference;  ///< of each, its value at each node

    explicit nodes(const std::vector<product_sum::difference>& all) : difference(all.size()) {
        const auto free = static_cast<std::size_t>(
            std::count_if(all.begin(), all.end(), [](const product_sum::difference& d) { return d.half_width > 0.0; }));
        if (free <= 1) {
            single(all, free);
        } else {
            lattice(all, free);
        }
    }

private:
    void single(const std::vector<product_sum::difference>& all, std::size_t free) {
        const auto add = [&](double at, double w) {
            weight.push_back(w);
            for (std::size_t m = 0; m < all.size(); ++m) difference[m].push_back(all[m].centre + all[m].half_width * at);
        };
        if (free == 0) return add(0.0, 1.0);
        for (const double start : {-0.5, 0.5}) {  // in halves: what is averaged may have a peak where the difference is zero
            for (const auto& [node, w] : gauss) {
                add(start + 0.5 * node, 0.25 * w);
                add(start - 0.5 * node, 0.25 * w);
            }
        }
    }

    // Points of a Kronecker sequence by the root of x^(d+1) = x + 1, folded so that the integrand is periodic: error of order 1/n^2.
    void lattice(const std::vector<product_sum::difference>& all, std::size_t free) {
        constexpr std::size_t n = 512;
        double root = 1.5;
        for (int i = 0; i < 60; ++i) root = std::pow(1.0 + root, 1.0 / static_cast<double>(free + 1));
        weight.assign(n, 1.0 / static_cast<double>(n));
        double power = 1.0;
        for (std::size_t m = 0; m < all.size(); ++m) {
            difference[m].assign(n, all[m].centre);
            if (all[m].half_width == 0.0) continue;
            power /= root;
            for (std::size_t i = 0; i < n; ++i) {
                const double along = (static_cast<double>(i) + 0.5) * power;
                const double folded = std::abs(2.0 * (along - std::floor(along)) - 1.0);  // 0 to 1
                difference[m][i] += all[m].half_width * (2.0 * folded - 1.0);
            }
        }
    }
};

/// Half-widths of the coefficients' rectangular terms at each node: [coefficient][node].
std::vector<std::vector<double>> reaches(const product_sum& sum, const nodes& at) {
    std::vector<std::vector<double>> reach(sum.coefficients, std::vector<double>(at.weight.size(), 0.0));
    for (const product_sum::product& p : sum.products) {
        for (std::size_t i = 0; i < at.weight.size(); ++i) reach[p.coefficient][i] += p.scale * at.difference[p.difference][i];
    }
    for (std::vector<double>& of_coefficient : reach) {
        for (double& r : of_coefficient) r = std::abs(r);
    }
    return reach;
}

class product_factor {
public:
    product_factor(const product_sum& sum, double delta) : coefficients_(sum.coefficients) {
        const nodes at(sum.differences);
        const std::vector<std::vector<double>> reach = reaches(sum, at);
        for (std::size_t first = 0; first < at.weight.size(); first += lanes().size()) {
            weights_.push_back(lanes_from(at.weight, first, 1.0));
            for (const std::vector<double>& of_coefficient : reach)
                factors_.emplace_back(lanes_from(of_coefficient, first, delta));
        }
    }

    double next(double k) {
        lanes sums{};
        auto factor = factors_.begin();
        for (lanes product : weights_) {
            for (std::size_t c = 0; c < coefficients_; ++c) (factor++)->multiply_by_next(product);
            for (std::size_t i = 0; i < sums.size(); ++i) sums[i] += product[i];
        }
        double mean = (sums[0] + sums[1]) + (sums[2] + sums[3]);
        for (std::size_t c = 0; c < coefficients_; ++c) mean /= k;
        return mean;
    }

private:
    std::size_t coefficients_;
    std::vector<lanes> weights_;
    std::vector<rectangular_factors> factors_;
};

/// Beyond this many u a t distribution has less than 1e-7, or as little as it takes for the wrapped tail not to matter.
double reach_of_t(double nu, double probability) {
    constexpr double tail = 1e-7;
    constexpr double farthest = 400.0;  // at 1 degree of freedom 0.0016 lies beyond, spread evenly
    if (!std::isfinite(nu)) return std::max(6.0, 1.5 * coverage_factor(probability, nu));
    return std::clamp(coverage_factor(1.0 - tail, nu), 2.0 * coverage_factor(probability, nu), farthest);
}

/// How far from zero all of the sum may lie but u_rest.
double bound_of(const symmetric_sum& sum) {
    double bounded = 0.0;
    for (const double b : sum.rectangles) bounded += b;
    for (const double a : sum.amplitudes) bounded += a;
    for (const double a : sum.pairs) bounded += a;
    for (const product_sum::product& p : sum.products.products) {
        const product_sum::difference& d = sum.products.differences[p.difference];
        bounded += std::abs(p.scale) * (std::abs(d.centre) + d.half_width);
    }
    return bounded;
}

}  // namespace

moments moments_of(const product_sum& sum) {
    const nodes at(sum.differences);
    moments m;
    std::vector<double> variance(at.weight.size(), 0.0);
    std::vector<double> squares(at.weight.size(), 0.0);
    for (const std::vector<double>& of_coefficient : reaches(sum, at)) {
        for (std::size_t i = 0; i < variance.size(); ++i) {
            const double v = of_coefficient[i] * of_coefficient[i] / 3.0;
            variance[i] += v;
            squares[i] += v * v;
        }
    }
    for (std::size_t i = 0; i < variance.size(); ++i) {
        m.second += at.weight[i] * variance[i];
        m.fourth += at.weight[i] * (3.0 * variance[i] * variance[i] - 1.2 * squares[i]);
    }
    return m;
}

double symmetric_quantile(const symmetric_sum& sum, double probability) {
    constexpr std::size_t most_terms = 8192;
    constexpr double negligible = 1e-9;
    constexpr int in_a_row = 16;  // so many, since phi has zeros

    const double bound = bound_of(sum);
    const double farthest = bound + (sum.u_rest > 0.0 ? reach_of_t(sum.degrees_of_freedom, probability) * sum.u_rest : 0.0);
    const double extent = farthest + 0.02 * bound;  // at E itself the series stands still
    const double delta = std::numbers::pi / extent;
    std::vector<rectangular_factors> rectangles;
    for (std::size_t first = 0; first < sum.rectangles.size(); first += lanes().size())
        rectangles.emplace_back(lanes_from(sum.rectangles, first, delta));
    t_factor rest(sum.u_rest * delta, sum.degrees_of_freedom);
    product_factor products(sum.products, delta);

    std::vector<double> series;  // 2 / (pi k) phi_k
    for (int quiet = 0; quiet < in_a_row && series.size() < most_terms;) {
        const auto k = static_cast<double>(series.size() + 1);
        double phi = sum.u_rest > 0.0 ? rest.next() : 1.0;
        for (rectangular_factors& some : rectangles) {
            lanes product{phi, 1.0, 1.0, 1.0};
            some.multiply_by_next(product);
            phi = 1.0;
            for (const double p : product) phi *= p / k;
        }
        for (const double a : sum.amplitudes) phi *= bessel_j0(a * delta * k);
        for (const double a : sum.pairs) phi *= std::cos(a * delta * k);
        if (sum.products.coefficients > 0) phi *= products.next(k);
        series.push_back(2.0 / (std::numbers::pi * k) * phi);
        quiet = std::abs(phi) < negligible ? quiet + 1 : 0;
    }

    const auto covered = [&](double x) {
        const double c = std::cos(delta * x);
        const double s = std::sin(delta * x);
        double cos_k = 1.0;
        double sin_k = 0.0;
        double p = x / extent;
        for (const double term : series) {
            const double next = sin_k * c + cos_k * s;
            cos_k = cos_k * c - sin_k * s;
            sin_k = next;
            p += term * sin_k;
        }
        return p;
    };
    const auto excess = [&](double x) { return covered(x) - probability; };
    // Farther out all is covered, and what the series' end leaves out would cross the probability again.
    const double most_excess = excess(farthest);
    if (most_excess <= 0.0) return farthest;
    constexpr int bits = 40;
    std::uintmax_t most = 200;
    const auto found = boost::math::tools::toms748_solve(excess, 0.0, farthest, -probability, most_excess,
                                                         boost::math::tools::eps_tolerance<double>(bits), most);
    return 0.5 * (found.first + found.second);
}

}  // namespace plumbline::inline v0::uncertainty
