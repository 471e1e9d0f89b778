#include "spectrum.hpp"

#include <boost/math/distributions/gamma.hpp>
#include <boost/math/special_functions/digamma.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace plumbline::inline v0::capture::spectra {

namespace {

using policy = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

constexpr double false_alarm = 1e-4;  // of one spectrum
constexpr double doubt = 2.0;         // standard errors of the level, which is found from noise itself; seen in simulation

/// Radix 2, in place, N complex values as pairs.
void transform(std::vector<double>& v, const std::vector<double>& turn) {
    const std::size_t n = v.size() / 2;
    for (std::size_t i = 1, j = 0; i < n; ++i) {
        std::size_t bit = n >> 1U;
        for (; (j & bit) != 0; bit >>= 1U) j ^= bit;
        j ^= bit;
        if (i < j) {
            std::swap(v[2 * i], v[2 * j]);
            std::swap(v[2 * i + 1], v[2 * j + 1]);
        }
    }
    for (std::size_t half = 1; half < n; half *= 2) {
        const std::size_t stride = n / (2 * half);
        for (std::size_t from = 0; from < n; from += 2 * half) {
            for (std::size_t k = 0; k < half; ++k) {
                const double c = turn[2 * k * stride];
                const double s = turn[2 * k * stride + 1];
                double* a = &v[2 * (from + k)];
                double* b = &v[2 * (from + k + half)];
                const double re = b[0] * c - b[1] * s;
                const double im = b[0] * s + b[1] * c;
                b[0] = a[0] - re;
                b[1] = a[1] - im;
                a[0] += re;
                a[1] += im;
            }
        }
    }
}

/// Sums for a straight line through log p over log k, from bins of which one in `apart` is independent.
class log_log {
public:
    explicit log_log(const std::vector<double>& p) {
        sums_.resize(p.size() + 1);
        for (std::size_t k = 1; k < p.size(); ++k) {
            const double x = std::log(static_cast<double>(k));
            const double y = std::log(std::max(p[k], 1e-300));
            const line& before = sums_[k];
            sums_[k + 1] = {before.n + 1.0, before.x + x, before.y + y, before.xx + x * x, before.xy + x * y};
        }
    }
    struct height {
        double value;
        double leverage;  ///< its variance over that of one bin
    };
    /// Height at bin `at` from bins [low, high) without [skip_low, skip_high).
    [[nodiscard]] height at(std::size_t bin, std::size_t low, std::size_t high, std::size_t skip_low,
                            std::size_t skip_high) const {
        const line s = minus(minus(sums_[high], sums_[low]), minus(sums_[skip_high], sums_[skip_low]));
        const double x = s.x / s.n;
        const double xx = s.xx / s.n - x * x;
        const double off = std::log(static_cast<double>(bin)) - x;
        const double slope = xx > 1e-9 ? std::clamp((s.xy / s.n - x * s.y / s.n) / xx, -3.0, 1.0) : 0.0;
        return {s.y / s.n + slope * off, (1.0 + (xx > 1e-9 ? off * off / xx : 0.0)) / s.n};
    }

private:
    struct line {
        double n = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
    };
    static line minus(const line& a, const line& b) { return {a.n - b.n, a.x - b.x, a.y - b.y, a.xx - b.xx, a.xy - b.xy}; }
    std::vector<line> sums_;
};

}  // namespace

std::vector<double> turns(std::size_t half) {
    std::vector<double> turn(half);
    for (std::size_t k = 0; k < half / 2; ++k) {
        const double angle = -2.0 * std::numbers::pi * static_cast<double>(k) / static_cast<double>(half);
        turn[2 * k] = std::cos(angle);
        turn[2 * k + 1] = std::sin(angle);
    }
    return turn;
}

std::vector<double> power(const std::vector<double>& x, std::size_t N) { return power(x, N, turns(N / 2)); }

std::vector<double> power(const std::vector<double>& x, std::size_t N, const std::vector<double>& turns_of_half) {
    // Even samples as real, odd ones as imaginary parts: half the work, parted afterwards.
    std::vector<double> v(N, 0.0);
    std::copy(x.begin(), x.end(), v.begin());
    transform(v, turns_of_half);
    const std::size_t half = N / 2;
    std::vector<double> p(half + 1);
    for (std::size_t k = 0; k <= half; ++k) {
        const std::size_t a = k % half;
        const std::size_t b = (half - k) % half;
        const double even_re = 0.5 * (v[2 * a] + v[2 * b]);
        const double even_im = 0.5 * (v[2 * a + 1] - v[2 * b + 1]);
        const double odd_re = 0.5 * (v[2 * a + 1] + v[2 * b + 1]);
        const double odd_im = 0.5 * (v[2 * b] - v[2 * a]);
        const double angle = -2.0 * std::numbers::pi * static_cast<double>(k) / static_cast<double>(N);
        const double c = std::cos(angle);
        const double s = std::sin(angle);
        const double re = even_re + c * odd_re - s * odd_im;
        const double im = even_im + c * odd_im + s * odd_re;
        p[k] = re * re + im * im;
    }
    return p;
}

std::vector<double> hann(std::size_t count) {
    std::vector<double> w(count);
    for (std::size_t i = 0; i < count; ++i) {
        w[i] = 1.0 - std::cos(2.0 * std::numbers::pi * (static_cast<double>(i) + 0.5) / static_cast<double>(count));
    }
    return w;
}

namespace {

/// Where noise is looked for around a bin, and how it scatters.
class surroundings {
public:
    surroundings(const std::vector<double>& p, double averaged, std::size_t apart)
        : neighbours_(p),
          bins_(p.size()),
          apart_(apart),
          scatter_(std::sqrt((1.0 + 0.5 / averaged) / averaged)),
          of_log_(boost::math::digamma(averaged) - std::log(averaged)) {}  // mean of the log of an average of exponentials

    [[nodiscard]] double level(std::size_t k, std::size_t skip) const {
        const std::size_t widest = 64 * apart_;
        const std::size_t narrowest = 12 * apart_;
        const std::size_t reach = std::clamp(k / 2, narrowest / 2, widest);
        std::size_t low = k > reach + apart_ ? k - reach : apart_;
        const std::size_t high = std::min(bins_, std::max(k + reach, low + narrowest));
        if (high == bins_) low = std::min(low, bins_ - narrowest);
        const std::size_t skip_low = std::clamp(k > skip ? k - skip : 0, low, high);
        const std::size_t skip_high = std::clamp(k + skip + 1, low, high);
        const log_log::height h = neighbours_.at(k, low, high, skip_low, skip_high);
        const double error = scatter_ * std::sqrt(h.leverage * static_cast<double>(apart_));
        return std::exp(h.value - of_log_ + doubt * error);
    }

private:
    log_log neighbours_;
    std::size_t bins_;
    std::size_t apart_;
    double scatter_;  ///< about that of the log
    double of_log_;
};

}  // namespace

double noise_at(const std::vector<double>& p, double averaged, std::size_t apart, std::size_t bin) {
    return surroundings(p, averaged, apart).level(bin, 0);
}

namespace {

/// Independent bins, and what bins between them add.
double tries(std::size_t bins, std::size_t apart) {
    return static_cast<double>(bins) / static_cast<double>(apart) * (apart > 1 ? 3.0 : 1.0);
}

}  // namespace

double excess_of(double factor, std::size_t bins, double averaged, std::size_t apart) {
    const boost::math::gamma_distribution<double, policy> of_noise(averaged, 1.0 / averaged);
    return factor / boost::math::quantile(boost::math::complement(of_noise, false_alarm / tries(bins, apart)));
}

double chance_of(double factor, std::size_t bins, double averaged, std::size_t apart) {
    const boost::math::gamma_distribution<double, policy> of_noise(averaged, 1.0 / averaged);
    return tries(bins, apart) * boost::math::cdf(boost::math::complement(of_noise, factor));
}

peak highest(const std::vector<double>& p, double averaged, std::size_t apart, std::size_t first) {
    peak best;
    if (p.size() < 16 * apart) return best;
    const surroundings around(p, averaged, apart);
    double most = 0.0;
    for (std::size_t k = std::max<std::size_t>(first, 1); k + 1 < p.size(); ++k) {
        if (p[k] < p[k - 1] || p[k] < p[k + 1]) continue;
        const double level = around.level(k, 2 * apart);
        if (level > 0.0 && p[k] > most * level) {
            most = p[k] / level;
            best = {k, level, 0.0, 1.0};
        }
    }
    best.excess = excess_of(most, p.size(), averaged, apart);
    best.chance = chance_of(most, p.size(), averaged, apart);
    return best;
}

}  // namespace plumbline::inline v0::capture::spectra
