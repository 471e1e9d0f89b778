#include <plumbline/calibration/sample_rate.hpp>

#include "../units/figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <span>
#include <variant>
#include <vector>

namespace plumbline::inline v0::calibration {

namespace {

constexpr std::size_t phase_pieces = 16;
constexpr double periods_of_piece = 3.0;  // in a piece

/// Phase of the cosine of so many periods per sample in one piece, at the sample `from`; least squares with a mean.
double phase_of(std::span<const std::int32_t> codes_seen, double periods_per_sample, std::size_t from) {
    // Normal equations of 1, cos, sin; the codes from their first one, so that nothing cancels.
    std::array<std::array<double, 4>, 3> e{};
    for (std::size_t i = 0; i < codes_seen.size(); ++i) {
        // whole periods are taken off first: a large angle has lost its digits
        const double turns = periods_per_sample * static_cast<double>(from + i);
        const double angle = 2.0 * std::numbers::pi * (turns - std::floor(turns));
        const std::array<double, 3> f{1.0, std::cos(angle), std::sin(angle)};
        const double y = static_cast<double>(codes_seen[i]) - static_cast<double>(codes_seen[0]);
        for (std::size_t r = 0; r < 3; ++r) {
            for (std::size_t c = 0; c < 3; ++c) e[r][c] += f[r] * f[c];
            e[r][3] += f[r] * y;
        }
    }
    for (std::size_t c = 0; c < 3; ++c) {
        for (std::size_t r = c + 1; r < 3; ++r) {
            const double by = e[r][c] / e[c][c];
            for (std::size_t j = c; j < 4; ++j) e[r][j] -= by * e[c][j];
        }
    }
    const double b = e[2][3] / e[2][2];
    const double a = (e[1][3] - e[1][2] * b) / e[1][1];
    return std::atan2(-b, a);  // a cos + b sin = A cos(angle + phase)
}

struct phase_line {
    double per_sample = 0.0;  ///< periods
    double u = 0.0;
    double scatter = 0.0;  ///< radians
};

/// How the phase runs away from that of the frequency assumed, over pieces of so many samples.
phase_line line_of_phases(std::span<const std::int32_t> codes_seen, double periods_per_sample, std::size_t length) {
    std::array<double, phase_pieces> phase{};
    for (std::size_t p = 0; p < phase_pieces; ++p) {
        phase[p] = phase_of(codes_seen.subspan(p * length, length), periods_per_sample, p * length);
        if (p == 0) continue;
        const double turns = (phase[p] - phase[p - 1]) / (2.0 * std::numbers::pi);
        phase[p] -= 2.0 * std::numbers::pi * std::round(turns);
    }
    const double middle = 0.5 * (static_cast<double>(phase_pieces) - 1.0);
    double mean = 0.0;
    for (const double x : phase) mean += x / static_cast<double>(phase_pieces);
    double s_tt = 0.0;
    double s_tp = 0.0;
    for (std::size_t p = 0; p < phase_pieces; ++p) {
        const double t = static_cast<double>(p) - middle;
        s_tt += t * t;
        s_tp += t * (phase[p] - mean);
    }
    const double slope = s_tp / s_tt;
    double squares = 0.0;
    for (std::size_t p = 0; p < phase_pieces; ++p) {
        const double r = phase[p] - mean - slope * (static_cast<double>(p) - middle);
        squares += r * r;
    }
    phase_line l;
    l.scatter = std::sqrt(squares / (static_cast<double>(phase_pieces) - 2.0));
    const double to_periods = 1.0 / (2.0 * std::numbers::pi * static_cast<double>(length));
    l.per_sample = slope * to_periods;
    l.u = l.scatter / std::sqrt(s_tt) * to_periods;
    return l;
}

}  // namespace

measured_rate sample_rate_by(const capture::run& run, frequency nominal, frequency known, frequency u_known,
                             const std::string& where) {
    if (!(nominal.value() > 0.0) || !(known.value() > 0.0) || !(u_known.value() >= 0.0) || !std::isfinite(nominal.value()) ||
        !std::isfinite(u_known.value()) || !(known < 0.4 * nominal)) {
        throw bad_input(where,
                        fmt::format("a signal of {} +- {} Hz sampled at {} Hz", known.value(), u_known.value(), nominal.value()),
                        "a frequency above 0 and below 0.4 of the sample rate", "use a lower frequency");
    }
    const std::span<const std::int32_t> codes_seen(run.codes);
    double periods_per_sample = (known / nominal).value();
    const std::size_t longest = codes_seen.size() / phase_pieces;
    constexpr std::size_t fewest_samples = 16;
    auto length = std::max(fewest_samples, static_cast<std::size_t>(std::ceil(periods_of_piece / periods_per_sample)));
    if (length > longest) {
        throw bad_input(where,
                        fmt::format("{} samples with {:.3g} periods", codes_seen.size(),
                                    periods_per_sample * static_cast<double>(codes_seen.size())),
                        "48 periods and 256 samples or more", "capture for longer, or use a higher frequency");
    }
    phase_line l;
    for (;;) {
        l = line_of_phases(codes_seen, periods_per_sample, length);
        constexpr double lost = 0.5;  // radians: a phase without a signal scatters by 1.8
        if (!(l.scatter < lost)) {
            throw bad_input(where,
                            fmt::format("no sine of {} Hz: its phase scatters by {:.2g} radians from piece to piece",
                                        known.value(), l.scatter),
                            "a steady sine",
                            "feed it at more than the noise, and see that the sample rate is within 10 % of what is stated");
        }
        periods_per_sample += l.per_sample;
        if (length == longest) break;
        length = std::min(longest, 2 * length);
    }
    measured_rate m;
    m.rate = known / periods_per_sample;
    m.degrees_of_freedom = static_cast<double>(phase_pieces) - 2.0;
    m.u_by_phase = m.rate * (l.u / periods_per_sample);
    m.u_by_reference = m.rate * (u_known / known);
    const double u = std::hypot(m.u_by_phase.value(), m.u_by_reference.value());
    m.text = fmt::format("The sample rate is {:.6f} of the {} stated, +- {} ppm (k = 2), by a signal of {}.",
                         (m.rate / nominal).value(), shown(nominal, "Hz"), shown(2e6 * u / m.rate.value(), "1", 2),
                         shown(known, "Hz", 6));
    return m;
}

uncertainty::input rate_input(const measured_rate& by) {
    const double u = std::hypot(by.u_by_phase.value(), by.u_by_reference.value());
    const double of_phase = u > 0.0 ? by.u_by_phase.value() / u : 0.0;
    const double nu = of_phase > 0.0 ? by.degrees_of_freedom / std::pow(of_phase, 4) : uncertainty::infinite;
    return {"sample rate",          "sample rate",   "measured by a known frequency",
            unit_symbol<frequency>, by.rate.value(), uncertainty::normal{u, nu}};
}

uncertainty::input rate_input(frequency nominal, ratio clock_tolerance) {
    return {"sample rate",          "sample rate",   "tolerance of the clock",
            unit_symbol<frequency>, nominal.value(), uncertainty::rectangular{nominal.value() * clock_tolerance.value()}};
}

void calibrate_clock(clock_calibration& c, const capture::run& run, const std::string& where, double probability) {
    const double u_known = c.known.limits ? c.known.limits->value() / std::numbers::sqrt3 : c.known.U.value() / c.known.k;
    const measured_rate m = sample_rate_by(run, c.nominal, c.known.value, u_known * hertz, where);
    const auto spread = std::get<uncertainty::normal>(rate_input(m).spread);
    c.rate = m.rate;
    c.u_by_phase = m.u_by_phase;
    c.degrees_of_freedom = m.degrees_of_freedom;
    c.u_by_reference = m.u_by_reference;
    c.k = uncertainty::coverage_factor(probability, spread.degrees_of_freedom);
    c.U = c.k * spread.u * hertz;
}

uncertainty::input deviation_input(const clock_calibration& by) {
    const measured_rate m{by.rate, by.degrees_of_freedom, by.u_by_phase, by.u_by_reference, {}};
    uncertainty::input in = rate_input(m);
    auto& spread = std::get<uncertainty::normal>(in.spread);
    spread.u /= by.nominal.value();
    in.estimate = (by.rate / by.nominal).value() - 1.0;
    in.unit = unit_symbol<ratio>;
    in.id = "clock";
    in.label = "sample rate over its nominal one, less 1";
    return in;
}

}  // namespace plumbline::inline v0::calibration
