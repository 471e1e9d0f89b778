#include <plumbline/capture/position.hpp>

#include <plumbline/error.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>

namespace plumbline::inline v0::capture {

namespace {

/// log L over mu for one sigma: its integral, and mean and variance of mu.
struct over_mu {
    double log_integral = 0.0;
    double mean = 0.0;
    double variance = 0.0;
};

double standard_density(double z) { return std::exp(-0.5 * z * z) / std::sqrt(2.0 * std::numbers::pi); }

/// Phi(b) - Phi(a), a < b, with the digits of the smaller tail.
double share_between(double a, double b) {
    if (a < 0.0 && b <= 0.0) return share_between(-b, -a);
    if (a > 0.0) return 0.5 * (std::erfc(a / std::numbers::sqrt2) - std::erfc(b / std::numbers::sqrt2));
    return 0.5 * (std::erf(b / std::numbers::sqrt2) - std::erf(a / std::numbers::sqrt2));
}

class code_histogram {
public:
    explicit code_histogram(const seen_codes& seen) : origin_(seen.codes.front().code) {
        double n = 0.0;
        for (const code_count& c : seen.codes) n += static_cast<double>(c.samples);
        for (const code_count& c : seen.codes) {
            const double x = static_cast<double>(c.code - origin_);
            const double weight = static_cast<double>(c.samples) * seen.n_eff / n;
            cells_.push_back({x, weight});
            mean_ += x * static_cast<double>(c.samples) / n;
        }
        for (const counted& c : cells_) variance_ += c.weight / seen.n_eff * (c.x - mean_) * (c.x - mean_);
    }
    [[nodiscard]] bool one_code() const { return cells_.size() == 1; }
    [[nodiscard]] double origin() const { return origin_; }
    [[nodiscard]] double s() const { return std::sqrt(variance_); }

    [[nodiscard]] over_mu at(double sigma) const {
        // One code: flat in the middle and symmetric. More: one peak, found by Newton's method (log L is concave in mu).
        constexpr double reach = 7.0;  // standard deviations
        double centre = mean_;
        double half = 0.5 + 3.0 * sigma;
        if (!one_code()) {
            double curvature = 1.0;
            for (int i = 0; i < 40; ++i) {
                const auto [slope, second] = derivatives(centre, sigma);
                curvature = std::max(-second, 1e-12);
                const double step = std::clamp(slope / curvature, -2.0 * sigma - 0.1, 2.0 * sigma + 0.1);
                centre += step;
                if (std::abs(step) < 1e-4 / std::sqrt(curvature)) break;
            }
            half = reach / std::sqrt(curvature);
        }
        std::array<double, points + 1> logs{};
        for (int i = 0; i <= points; ++i) logs[static_cast<std::size_t>(i)] = log_likelihood(place(centre, half, i), sigma);
        const double top = *std::max_element(logs.begin(), logs.end());
        double sum = 0.0;
        over_mu r;
        for (int i = 0; i <= points; ++i) {
            const double p = std::exp(logs[static_cast<std::size_t>(i)] - top);
            const double d = place(centre, half, i) - centre;
            sum += p;
            r.mean += p * d;
            r.variance += p * d * d;
        }
        r.mean /= sum;
        r.variance = r.variance / sum - r.mean * r.mean;
        r.mean += centre;
        r.log_integral = top + std::log(sum * 2.0 * half / points);
        return r;
    }

private:
    struct counted {
        double x;
        double weight;
    };
    static constexpr int points = 32;
    static double place(double centre, double half, int i) { return centre + half * (2.0 * i / points - 1.0); }

    [[nodiscard]] double log_likelihood(double mu, double sigma) const {
        double sum = 0.0;
        for (const counted& c : cells_) {
            sum += c.weight * std::log(std::max(share_between((c.x - 0.5 - mu) / sigma, (c.x + 0.5 - mu) / sigma), 1e-300));
        }
        return sum;
    }
    struct two_derivatives {
        double first;
        double second;
    };
    [[nodiscard]] two_derivatives derivatives(double mu, double sigma) const {
        two_derivatives d{0.0, 0.0};
        for (const counted& c : cells_) {
            const double a = (c.x - 0.5 - mu) / sigma;
            const double b = (c.x + 0.5 - mu) / sigma;
            const double p = share_between(a, b);
            if (p < 1e-250) {  // far out: as a normal tail
                const double z = a > 0.0 ? a : b;
                d.first += c.weight * z / sigma;
                d.second -= c.weight / (sigma * sigma);
                continue;
            }
            const double fa = standard_density(a);
            const double fb = standard_density(b);
            const double slope = (fa - fb) / (p * sigma);
            d.first += c.weight * slope;
            d.second += c.weight * ((a * fa - b * fb) / (p * sigma * sigma) - slope * slope);
        }
        return d;
    }

    std::vector<counted> cells_;
    std::int32_t origin_;
    double mean_ = 0.0;
    double variance_ = 0.0;
};

void expect_counted(const seen_codes& seen) {
    std::size_t n = 0;
    for (const code_count& c : seen.codes) n += c.samples;
    if (n > 0 && seen.n_eff >= fewest_for_position && seen.n_eff <= static_cast<double>(n)) return;
    throw bad_input("position by codes", fmt::format("{} samples of which {} are independent", n, seen.n_eff),
                    fmt::format("at least {} independent ones and not more than there are", fewest_for_position),
                    "give the few codes of a capture and its n_eff");
}

/// Calls use(sigma, exp of log_weight less its greatest) at the middles of equal steps over the sigmas that matter. log_weight has one peak.
void over_sigma(double most, const std::function<double(double)>& log_weight, const std::function<void(double, double)>& use) {
    constexpr std::size_t steps = 16;
    constexpr double negligible = 12.0;  // of a logarithm
    double low = 0.0;
    double high = most;
    std::array<double, steps> logs{};
    for (int round = 0; round < 8; ++round) {
        const double step = (high - low) / steps;
        for (std::size_t i = 0; i < steps; ++i) logs[i] = log_weight(low + (static_cast<double>(i) + 0.5) * step);
        const double top = *std::max_element(logs.begin(), logs.end());
        const auto matters = [&](double l) { return l > top - negligible; };
        const auto first = std::find_if(logs.begin(), logs.end(), matters) - logs.begin();
        const auto last = std::find_if(logs.rbegin(), logs.rend(), matters).base() - logs.begin();
        if (last - first >= 6) {
            for (std::size_t i = 0; i < steps; ++i) use(low + (static_cast<double>(i) + 0.5) * step, std::exp(logs[i] - top));
            return;
        }
        high = std::min(high, low + static_cast<double>(last + 1) * step);
        low = std::max(low, low + static_cast<double>(first - 1) * step);
    }
    use(0.5 * (low + high), 1.0);
}

double noise_at_most(double s) { return 3.0 * std::max(s, 0.3); }  // with 8 independent samples or more

}  // namespace

expected_position position_by_codes(const seen_codes& seen) {
    expect_counted(seen);
    const code_histogram h(seen);
    if (h.one_code()) return {h.origin() * code, 0.5 / std::sqrt(3.0) * code};
    double sum = 0.0;
    double mean = 0.0;
    double squares = 0.0;
    const auto weight = [&](double sigma) { return h.at(sigma).log_integral; };
    over_sigma(noise_at_most(h.s()), weight, [&](double sigma, double w) {
        const over_mu of = h.at(sigma);
        sum += w;
        mean += w * of.mean;
        squares += w * (of.variance + of.mean * of.mean);
    });
    mean /= sum;
    return {(h.origin() + mean) * code, std::sqrt(std::max(0.0, squares / sum - mean * mean)) * code};
}

common_noise noise_by_codes(std::span<const seen_codes> captures) {
    if (captures.empty()) throw bad_input("noise by codes", "no capture", "one at least", "give the captures");
    std::vector<code_histogram> all;
    double s = 0.0;
    for (const seen_codes& seen : captures) {
        expect_counted(seen);
        all.emplace_back(seen);
        s = std::max(s, all.back().s());
    }
    const auto weight = [&](double sigma) {
        double log_weight = 0.0;
        for (const code_histogram& h : all) log_weight += h.at(sigma).log_integral;
        return log_weight;
    };
    double sum = 0.0;
    double second = 0.0;
    double fourth = 0.0;
    over_sigma(noise_at_most(s), weight, [&](double sigma, double w) {
        sum += w;
        second += w * sigma * sigma;
        fourth += w * sigma * sigma * sigma * sigma;
    });
    second /= sum;
    const double spread = std::max(fourth / sum - second * second, 1e-12 * second * second);
    return {std::sqrt(second) * code, 4.0 + 2.0 * second * second / spread};
}

}  // namespace plumbline::inline v0::capture
