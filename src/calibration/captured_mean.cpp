#include "captured_mean.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <limits>
#include <numbers>
#include <plumbline/capture/position.hpp>
#include <plumbline/front_end/node.hpp>

namespace plumbline::inline v0::calibration {

namespace {

constexpr double seconds_of_a_day = 86400.0;

/// The codes that came up, where likelihood can be asked.
std::optional<capture::seen_codes> codes_by_likelihood(const capture::statistics& seen) {
    if (seen.few_codes.empty() || seen.slow || !(seen.n_eff >= capture::fewest_for_position)) return {};
    return capture::seen_codes{seen.few_codes, seen.n_eff};
}

codes mean_of_counts(const std::vector<capture::code_count>& counts) {
    double n = 0.0;
    double sum = 0.0;
    const std::int32_t origin = counts.front().code;
    for (const capture::code_count& c : counts) {
        n += static_cast<double>(c.samples);
        sum += static_cast<double>(c.samples) * (c.code - origin);
    }
    return (origin + sum / n) * code;
}

std::chrono::sys_days calendar_day(const std::string& text) {
    const auto number = [&](std::size_t from, std::size_t digits) {
        int value = 0;
        std::from_chars(text.data() + from, text.data() + from + digits, value);
        return value;
    };
    return std::chrono::year(number(0, 4)) / number(5, 2) / number(8, 2);
}

}  // namespace

captured_mean mean_of(const capture::statistics& seen) {
    const capture::quantisation q = capture::of_mean(seen);
    captured_mean m{seen.s / std::sqrt(seen.n_eff), std::max(1.0, seen.n_eff - 1.0), codes(), q.half_width};
    if (seen.removed) {
        m.u = seen.removed->noise / std::sqrt(seen.removed->n_eff);
        m.degrees_of_freedom = std::max(1.0, seen.removed->n_eff - 1.0);
    } else if (seen.slow) {
        m.u = seen.slow->white / std::sqrt(static_cast<double>(seen.n));
        m.degrees_of_freedom = static_cast<double>(seen.n - 1);
    }
    const auto codes_seen = codes_by_likelihood(seen);
    if (q.kind == capture::quantisation::regime::dithered || !codes_seen) return m;
    const capture::expected_position p = capture::position_by_codes(*codes_seen);
    m.u = std::min(m.u, p.u);
    m.to_position = p.estimate - mean_of_counts(codes_seen->codes);
    m.half_width = std::sqrt(3.0 * std::max(0.0, p.u.value() * p.u.value() - m.u.value() * m.u.value())) * code;
    return m;
}

codes wandered(const capture::slow_noise& slow, const step& s, duration longest_time) {
    constexpr double sine_squared = 1.5 - std::numbers::egamma - std::numbers::ln2;  // less ln(pi): ln(E / T) - 0.915
    const double lengths = (longest_time * s.evidence.sample_rate).value() / static_cast<double>(s.seen.n);
    const double growth = std::log(lengths / std::numbers::pi) + sine_squared;
    return slow.floor * std::sqrt(std::max(1.0, growth / (2.0 * std::numbers::ln2)));
}

std::optional<capture::slow_noise> slow_noise_beside(const step& s, const std::vector<step>& of_input) {
    if (s.seen.slow) return {};
    double squares = 0.0;
    double freedom = 0.0;
    for (const step& other : of_input) {
        if (!other.seen.slow) continue;
        const double nu = other.seen.slow->degrees_of_freedom;
        squares += nu * other.seen.slow->floor.value() * other.seen.slow->floor.value();
        freedom += nu;
    }
    if (!(freedom > 0.0)) return {};
    const double room = s.seen.s.value() * std::sqrt(2.0 / std::log2(std::max(2.0, static_cast<double>(s.seen.n))));
    return capture::slow_noise{std::min(std::sqrt(squares / freedom), room) * code, freedom, s.seen.noise};
}

std::optional<unseen_hum> unseen_hum_of(const step& s, const std::optional<codes>& largest) {
    const bool looked_at = s.seen.n < capture::fewest_for_hum || s.seen.slope;  // else figures without a capture
    if (!looked_at) return {};
    unseen_hum unseen{largest.value_or(std::max(std::numbers::sqrt2 * s.seen.s, 0.5 * code)), codes()};
    for (const double mains : capture::mains_frequencies) {
        if (std::any_of(s.seen.hum.begin(), s.seen.hum.end(), [&](const auto& line) { return line.at.value() == mains; }))
            continue;
        const double periods_per_sample = mains / s.evidence.sample_rate.value();
        const double periods = periods_per_sample * static_cast<double>(s.seen.n);
        const codes shift = periods_per_sample * capture::fewest_samples_in_a_period > 1.0
                                ? unseen.amplitude  // it may look like any frequency, 0 among them
                                : capture::largest_shift_of_mean({mains * hertz, periods, unseen.amplitude, codes()}, s.seen.n);
        unseen.largest_shift = std::max(unseen.largest_shift, shift);
    }
    if (!(unseen.largest_shift > codes())) return {};
    return unseen;
}

namespace {

stated_lines lines_by(const std::optional<voltage>& largest_hum, const std::optional<slow_disturbance>& slow,
                      const front_end::chain& chain) {
    const auto in_codes = [&](voltage amplitude) {
        return std::abs((amplitude / front_end::nominal_gain(chain)).value()) * code;
    };
    stated_lines lines;
    if (largest_hum) lines.hum = in_codes(*largest_hum);
    if (slow) {
        lines.slow = in_codes(slow->amplitude);
        lines.slow_at = slow->at.value_or(frequency());
    }
    return lines;
}

}  // namespace

stated_lines lines_of(const range_setup& of) { return lines_by(of.largest_hum, of.slow, of.chain); }

stated_lines lines_of(const range_calibration& of) { return lines_by(of.largest_hum, of.slow, of.chain); }

stated_lines lines_of_turns(const stated_lines& of, const std::vector<repeated_capture>& turns) {
    duration least = std::numeric_limits<double>::infinity() * second;
    for (std::size_t i = 1; i < turns.size(); ++i) least = std::min(least, turns[i].at - turns[i - 1].at);
    const bool apart = least * of.slow_at >= 1.0;
    return {0.0 * code, apart ? codes() : of.slow, frequency()};
}

codes shift_by_slow(const stated_lines& of, std::size_t n, frequency sample_rate) {
    if (!(of.slow_at > frequency()) || !(sample_rate > frequency())) return of.slow;
    const double periods_per_sample = (of.slow_at / sample_rate).value();
    if (periods_per_sample * capture::fewest_samples_in_a_period > 1.0) return of.slow;
    const double periods = periods_per_sample * static_cast<double>(n);
    if (periods >= 1.0) return {};
    return capture::largest_shift_of_mean({of.slow_at, periods, of.slow, codes()}, n);
}

captured_level level_of(const step& s, duration longest_time, const stated_lines& lines, bool in_turn) {
    const captured_mean m = mean_of(s.seen);
    captured_level level{s.seen.mean + m.to_position, codes()};
    double variance = m.half_width.value() * m.half_width.value() / 3.0;
    double doubt = 0.0;
    const auto add = [&](codes u, double degrees_of_freedom) {
        const double squared = u.value() * u.value();
        variance += squared;
        doubt += squared * squared / degrees_of_freedom;
    };
    add(m.u, m.degrees_of_freedom);
    if (s.seen.removed && !in_turn) {
        level.mean -= s.seen.removed->shift;
        add(s.seen.removed->u, capture::trend_degrees_of_freedom);
    }
    const auto add_arcsine = [&](codes amplitude) { variance += 0.5 * amplitude.value() * amplitude.value(); };
    if (const auto unseen = unseen_hum_of(s, lines.hum)) add_arcsine(unseen->largest_shift);
    add_arcsine(shift_by_slow(lines, s.seen.n, s.evidence.sample_rate));
    if (s.seen.slow) add(wandered(*s.seen.slow, s, longest_time), s.seen.slow->degrees_of_freedom);
    level.u = std::sqrt(variance) * code;
    level.degrees_of_freedom = doubt > 0.0 ? std::max(1.0, variance * variance / doubt) : std::numeric_limits<double>::infinity();
    return level;
}

sampled_noise noise_of(const std::vector<step>& seen, duration longest_time, const stated_lines& lines,
                       const std::vector<repeated_capture>& turns) {
    sampled_noise all;
    const auto hides_slow = [&](std::size_t n, frequency rate) {
        if (shift_by_slow(lines, n, rate) > codes()) all.slow = lines.slow;
    };
    for (const repeated_capture& t : turns) hides_slow(t.seen.n, t.evidence.sample_rate);
    double squares = 0.0;
    double freedom = 0.0;
    double hum_squared = 0.0;
    double wander_squared = 0.0;
    double wanderers = 0.0;
    bool hidden = false;
    std::vector<capture::seen_codes> by_codes;
    for (const step& s : seen) {
        double own = s.seen.s.value();
        double nu = std::max(1.0, s.seen.n_eff - 1.0);
        if (s.seen.removed) {
            own = s.seen.removed->noise.value();
            nu = std::max(1.0, s.seen.removed->n_eff - 1.0);
            hum_squared += s.seen.removed->amplitude.value() * s.seen.removed->amplitude.value();
        }
        if (turns.empty()) hides_slow(s.seen.n, s.evidence.sample_rate);
        if (const auto unseen = unseen_hum_of(s, lines.hum); unseen && !s.seen.removed) {
            hum_squared += unseen->amplitude.value() * unseen->amplitude.value();
        }
        if (s.seen.slow) {
            const double w = wandered(*s.seen.slow, s, longest_time).value();
            const double floor = s.seen.slow->floor.value();
            wander_squared += w * w;
            all.degrees_of_wandering = (wanderers == 0.0 ? 0.0 : all.degrees_of_wandering) + s.seen.slow->degrees_of_freedom;
            wanderers += 1.0;
            // Each octave above 1/T has h ln 2 = floor^2 / 2, and the k-th 2^k frequencies: s^2 has 2 s^4 over the sum of 2 (h ln 2)^2 / 2^k.
            nu = std::clamp(std::pow(2.0 * own * own / (floor * floor), 2.0), nu, static_cast<double>(s.seen.n - 1));
        }
        squares += nu * own * own;
        freedom += nu;
        const capture::quantisation q = capture::of_mean(s.seen);
        all.half_width = std::max(all.half_width, q.half_width);
        hidden = hidden || q.kind == capture::quantisation::regime::hidden;
        if (const auto few = codes_by_likelihood(s.seen)) by_codes.push_back(*few);
    }
    all.u = std::sqrt(squares / freedom) * code;
    all.degrees_of_freedom = freedom;
    all.hum = std::sqrt(hum_squared / static_cast<double>(seen.size())) * code;
    if (wanderers > 0.0) all.wandered = std::sqrt(wander_squared / wanderers) * code;
    if (hidden && by_codes.size() == seen.size()) {
        const capture::common_noise noise = capture::noise_by_codes(by_codes);
        all.u = noise.sigma;
        all.degrees_of_freedom = noise.degrees_of_freedom;
        all.half_width = 0.5 * code;
    }
    return all;
}

std::string time_text(duration t) {
    const double days = t.value() / seconds_of_a_day;
    if (days == 1.0) return "1 day";
    return days > 1.0 ? fmt::format("{:.4g} days", days) : fmt::format("{:.4g} s", t.value());
}

duration longest_time_of(const std::optional<duration>& stated, const std::string& begun, const std::string& ended) {
    if (stated) return *stated;
    if (begun.empty() || ended.empty()) return seconds_of_a_day * second;
    return seconds_of_a_day * static_cast<double>((calendar_day(ended) - calendar_day(begun)).count() + 1) * second;
}

duration longest_time_of(const range_calibration& of) { return of.longest_time.value_or(seconds_of_a_day * second); }

}  // namespace plumbline::inline v0::calibration
