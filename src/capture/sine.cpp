#include "sine.hpp"

#include <cmath>
#include <numbers>

namespace plumbline::inline v0::capture {

turning::turning(double f, double t) : f_(f), t_(t) {
    dc_ = std::cos(2.0 * std::numbers::pi * f);
    ds_ = std::sin(2.0 * std::numbers::pi * f);
    set();
}

void turning::set() {
    const double turns = f_ * t_;
    const double phase = 2.0 * std::numbers::pi * (turns - std::floor(turns));
    c_ = std::cos(phase);
    s_ = std::sin(phase);
    steps_ = 0;
}

void turning::step() {
    t_ += 1.0;
    if (++steps_ == 64) return set();
    const double c = c_ * dc_ - s_ * ds_;
    s_ = s_ * dc_ + c_ * ds_;
    c_ = c;
}

sine_at solve(const sums_with_sine& by, bool with_trend) {
    sine_at r;
    r.variance_of_a = 1.0 / (by.cc - by.c * by.c / by.n);
    r.a = (by.xc - by.c / by.n * by.x1) * r.variance_of_a;
    r.m = by.x1 / by.n - by.c / by.n * r.a;
    if (!with_trend) {
        r.variance_of_b = 1.0 / by.ss;
        r.b = by.xs * r.variance_of_b;
        return r;
    }
    r.variance_of_b = 1.0 / (by.ss - by.ts * by.ts / by.tt);
    r.variance_of_g = 1.0 / (by.tt - by.ts * by.ts / by.ss);
    r.b = (by.xs - by.ts / by.tt * by.xt) * r.variance_of_b;
    r.g = (by.xt - by.ts * r.b) / by.tt;
    return r;
}

sine_at fit_sine_at(const std::vector<double>& x, double f, bool with_trend) {
    sums_with_sine by{.n = static_cast<double>(x.size())};
    const double start = -0.5 * (by.n - 1.0);
    turning now(f, start);
    double t = start;
    for (const double v : x) {
        by.c += now.cosine();
        by.cc += now.cosine() * now.cosine();
        by.ss += now.sine() * now.sine();
        by.ts += t * now.sine();
        by.tt += t * t;
        by.x1 += v;
        by.xc += v * now.cosine();
        by.xs += v * now.sine();
        by.xt += v * t;
        t += 1.0;
        now.step();
    }
    sine_at r = solve(by, with_trend);
    // Of the residuals themselves: the difference of sums of squares would lose its digits where little is left.
    turning again(f, start);
    t = start;
    for (const double v : x) {
        const double left = v - r.m - r.g * t - r.a * again.cosine() - r.b * again.sine();
        r.residual += left * left;
        t += 1.0;
        again.step();
    }
    return r;
}

double refine_frequency(const std::vector<double>& x, double start, double reach, bool with_trend) {
    // Golden section: the sum of squares has one minimum within a main lobe.
    constexpr double golden = 0.6180339887498949;
    double low = std::max(start - reach, 1e-12);
    double high = std::min(start + reach, 0.5 - 1e-12);
    double f1 = high - golden * (high - low);
    double f2 = low + golden * (high - low);
    double r1 = fit_sine_at(x, f1, with_trend).residual;
    double r2 = fit_sine_at(x, f2, with_trend).residual;
    const double enough = 1e-4 / static_cast<double>(x.size());
    while (high - low > enough) {
        if (r1 < r2) {
            high = f2;
            f2 = f1;
            r2 = r1;
            f1 = high - golden * (high - low);
            r1 = fit_sine_at(x, f1, with_trend).residual;
        } else {
            low = f1;
            f1 = f2;
            r1 = r2;
            f2 = low + golden * (high - low);
            r2 = fit_sine_at(x, f2, with_trend).residual;
        }
    }
    return 0.5 * (low + high);
}

}  // namespace plumbline::inline v0::capture
