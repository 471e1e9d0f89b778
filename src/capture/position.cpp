#include <plumbline/capture/position.hpp>

#include <plumbline/error.hpp>

#include "../uncertainty/quantiles.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace plumbline::inline v0::capture {

namespace {

constexpr double beyond_an_end = 0.0455 / 2.0;  // beyond each end of an interval
constexpr double many_codes = 1.0;              // of scatter
constexpr double no_noise = 1e-5;               // codes: below, only edges matter
constexpr double most_noise = 8.0;              // of what scatters by less than many_codes

struct cell {
    double code;
    double count;
};

/// log of Phi(b) - Phi(a), a < b.
double log_between(double a, double b) {
    if (a < 0.0 && b <= 0.0) return log_between(-b, -a);  // both tails lose their digits on the side of 1
    const double p = a > 0.0 ? 0.5 * (std::erfc(a / std::numbers::sqrt2) - std::erfc(b / std::numbers::sqrt2))
                             : 0.5 * (std::erf(b / std::numbers::sqrt2) - std::erf(a / std::numbers::sqrt2));
    return std::log(std::max(p, 1e-300));
}

class likelihood {
public:
    explicit likelihood(std::vector<cell> cells) : cells_(std::move(cells)) {}

    [[nodiscard]] double at(double mu, double sigma) const {
        double sum = 0.0;
        for (const cell& c : cells_) {
            sum += c.count * log_between((c.code - 0.5 - mu) / sigma, (c.code + 0.5 - mu) / sigma);
        }
        return sum;
    }
    /// The greatest over sigma.
    [[nodiscard]] double profile_of_mu(double mu) const {
        return greatest(std::log(no_noise), std::log(most_noise), 28, [&](double s) { return at(mu, std::exp(s)); }).value;
    }
    struct top {
        double where;
        double value;
    };
    [[nodiscard]] top profile_of_sigma(double sigma) const {
        // Between the outer codes; a little beyond, where one code has all samples.
        return greatest(cells_.front().code - 1.0, cells_.back().code + 1.0, 24, [&](double mu) { return at(mu, sigma); });
    }

    /// Greatest value of f between low and high: the best of a grid, then golden section about it.
    template <class F>
    static top greatest(double low, double high, int steps, F f) {
        const double step = (high - low) / steps;
        top best{low, f(low)};
        for (int i = 1; i <= steps; ++i) {
            const double x = low + step * i;
            const double value = f(x);
            if (value > best.value) best = {x, value};
        }
        constexpr double golden = 0.6180339887498949;
        double a = std::max(low, best.where - step);
        double b = std::min(high, best.where + step);
        double x1 = b - golden * (b - a);
        double x2 = a + golden * (b - a);
        double f1 = f(x1);
        double f2 = f(x2);
        for (int i = 0; i < 24; ++i) {
            if (f1 > f2) {
                b = x2;
                x2 = x1;
                f2 = f1;
                x1 = b - golden * (b - a);
                f1 = f(x1);
            } else {
                a = x1;
                x1 = x2;
                f1 = f2;
                x2 = a + golden * (b - a);
                f2 = f(x2);
            }
        }
        if (std::max(f1, f2) > best.value) best = f1 > f2 ? top{x1, f1} : top{x2, f2};
        return best;
    }

private:
    std::vector<cell> cells_;
};

/// Where f falls below `least` between a point inside and a point outside.
template <class F>
double crossing(double inside, double beyond, double least, F f) {
    for (int i = 0; i < 40 && std::abs(beyond - inside) > 1e-9; ++i) {
        const double middle = 0.5 * (inside + beyond);
        (f(middle) >= least ? inside : beyond) = middle;
    }
    return beyond;
}

/// An end of the interval of mu: the farthest mu that is likely enough.
template <class F>
double end_of_mu(double from, double direction, double least, F f) {
    double step = 0.25;
    double inside = from;
    while (f(inside + direction * step) >= least && step < 1e6) {
        inside += direction * step;
        step *= 2.0;
    }
    return crossing(inside, inside + direction * step, least, f);
}

}  // namespace

position position_of(const std::vector<std::uint64_t>& counts, std::int32_t bottom_code, double n_eff) {
    std::vector<cell> cells;
    double n = 0.0;
    double sum = 0.0;
    const auto first = std::find_if(counts.begin(), counts.end(), [](std::uint64_t c) { return c != 0; }) - counts.begin();
    for (std::size_t i = 0; i < counts.size(); ++i) {
        if (counts[i] == 0) continue;
        cells.push_back({static_cast<double>(i) - static_cast<double>(first), static_cast<double>(counts[i])});
        n += cells.back().count;
        sum += cells.back().count * cells.back().code;
    }
    if (cells.empty() || !(n_eff >= 1.0 && n_eff <= n)) {
        throw bad_input("position between codes", fmt::format("{:.0f} samples of which {} are independent", n, n_eff),
                        "at least one sample, and from one to all of them independent",
                        "give the histogram of a capture and its n_eff");
    }
    const double origin = static_cast<double>(bottom_code) + static_cast<double>(first);
    const double mean = sum / n;
    double squares = 0.0;
    for (const cell& c : cells) squares += c.count * (c.code - mean) * (c.code - mean);
    const double variance = n > 1.0 ? squares / (n - 1.0) : 0.0;
    const double freedom = std::max(n_eff - 1.0, 0.05);  // one sample alone says little, not nothing
    const double t = uncertainty::student_t_exceeded_by(beyond_an_end, std::max(freedom, 1.0));

    position r;
    if (variance > many_codes * many_codes && n_eff >= 2.0) {
        const double half = t * std::sqrt(variance / n_eff);
        const auto before = [](double v) { return std::sqrt(std::max(v - 1.0 / 12.0, 0.0)) * code; };
        r.low = (origin + mean - half) * code;
        r.high = (origin + mean + half) * code;
        r.sigma = before(variance);
        r.sigma_low = before(variance * freedom / uncertainty::chi_squared_exceeded_by(beyond_an_end, freedom));
        r.sigma_high = before(variance * freedom / uncertainty::chi_squared_quantile(beyond_an_end, freedom));
    } else {
        const likelihood all(cells);
        const double most_likely_log_sigma = likelihood::greatest(std::log(no_noise), std::log(most_noise), 40, [&](double s) {
                                                 return all.profile_of_sigma(std::exp(s)).value;
                                             }).where;
        const likelihood::top top = all.profile_of_sigma(std::exp(most_likely_log_sigma));
        const double whole = n / n_eff;  // log likelihoods of all samples for one of the independent ones
        const double effective = freedom + 1.0;
        const double below = 0.5 * whole * effective * std::log1p(t * t / std::max(freedom, 1.0));
        const auto of_mu = [&](double mu) { return all.profile_of_mu(mu); };
        r.low = (origin + end_of_mu(top.where, -1.0, top.value - below, of_mu)) * code;
        r.high = (origin + end_of_mu(top.where, 1.0, top.value - below, of_mu)) * code;

        const auto of_sigma = [&](double s) { return all.profile_of_sigma(std::exp(s)).value; };
        const double least = top.value - below;
        const double lowest = std::log(no_noise);
        const bool known = of_sigma(lowest) < least;
        r.sigma_low = (known ? std::exp(crossing(most_likely_log_sigma, lowest, least, of_sigma)) : 0.0) * code;
        r.sigma_high = std::exp(crossing(most_likely_log_sigma, std::log(64.0), least, of_sigma)) * code;
        r.sigma = (known ? std::exp(most_likely_log_sigma) : 0.0) * code;
    }
    r.sigma_known = r.sigma_low > 0.0 * code;
    r.estimate = 0.5 * (r.low + r.high);
    r.u = 0.5 * (r.high - r.low) / (r.sigma_known ? 2.0 : std::numbers::sqrt3);
    return r;
}

std::string statement(const position& p) {
    const std::string where = fmt::format("the signal stands at code {:.3f}, between {:.3f} and {:.3f} (95 % sure); ",
                                          p.estimate.value(), p.low.value(), p.high.value());
    if (p.sigma_known) {
        return where + fmt::format("noise before the quantiser is {:.3f} codes rms, between {:.3f} and {:.3f}", p.sigma.value(),
                                   p.sigma_low.value(), p.sigma_high.value());
    }
    return where +
           fmt::format("noise before the quantiser cannot be known from these codes, only that it is below {:.3f} codes rms",
                       p.sigma_high.value());
}

}  // namespace plumbline::inline v0::capture
