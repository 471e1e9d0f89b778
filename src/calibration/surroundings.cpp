#include <plumbline/calibration/surroundings.hpp>

#include "../uncertainty/quantiles.hpp"
#include "../units/figures.hpp"
#include "captured_mean.hpp"
#include "findings.hpp"
#include "identity.hpp"
#include "step_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::calibration {

namespace {

constexpr double k_two = 2.0;
constexpr codes smallest_move = 0.1 * code;  // of a finding, as of drift and hum (common practice, no source)

/// What |t| exceeds with this chance.
double far_t(double chance, double degrees_of_freedom) {
    return uncertainty::student_t_exceeded_by(0.5 * chance, degrees_of_freedom);
}

/// From one capture's level to another's.
struct move {
    double codes_moved;
    double expected;  ///< of the same level, at most
    [[nodiscard]] bool seen() const { return std::abs(codes_moved) > expected; }
};

move from_to(const captured_level& from, const captured_level& to, double chance) {
    const double freedom = std::min(from.degrees_of_freedom, to.degrees_of_freedom);
    const double u = std::hypot(from.u.value(), to.u.value());
    return {(to.mean - from.mean).value(), std::max(smallest_move.value(), far_t(chance, freedom) * u)};
}

/// Of a capture in the mode of the range.
captured_level level_in(const range_calibration& of, const capture::statistics& seen, duration longest_time,
                        bool in_turn = false) {
    const step one{{}, {{}, {}, {}, of.mode.sample_rate}, seen};
    return level_of(one, longest_time, in_turn ? lines_of_turns(lines_of(of), of.turns) : lines_of(of), in_turn);
}

uncertainty::input row(const range_calibration& of, const std::string& name, std::string label, std::string source,
                       voltage half_width) {
    return {identity::reading(identity::range(of.channel, of.range)) + "/" + name,
            std::move(label),
            std::move(source),
            unit_symbol<voltage>,
            0.0,
            uncertainty::rectangular{half_width.value()}};
}

struct slope_of_window {
    double slope = 0.0;  ///< codes per second
    double U = 0.0;
};

slope_of_window slope_within(std::span<const warm_up_point> points) {
    double time = 0.0;
    double level = 0.0;
    double u = 0.0;
    for (const warm_up_point& p : points) {
        time += p.since_on.value() / static_cast<double>(points.size());
        level += p.mean.value() / static_cast<double>(points.size());
        u = std::max(u, p.u.value());
    }
    double s_tt = 0.0;
    double s_tm = 0.0;
    for (const warm_up_point& p : points) {
        const double t = p.since_on.value() - time;
        s_tt += t * t;
        s_tm += t * (p.mean.value() - level);
    }
    return {s_tm / s_tt, k_two * u / std::sqrt(s_tt)};
}

void expect_curve(std::span<const warm_up_point> curve, volts_per_second limit, duration window, const std::string& where) {
    if (!(limit.value() > 0.0) || !(window.value() > 0.0)) {
        throw bad_input(where, fmt::format("a limit of {} V/s over {} s", limit.value(), window.value()), "both above 0",
                        "state what slope is warm enough, and over what time");
    }
    for (std::size_t i = 0; i < curve.size(); ++i) {
        const warm_up_point& p = curve[i];
        if (!std::isfinite(p.mean.value()) || !(p.u.value() > 0.0) || !std::isfinite(p.since_on.value()) ||
            (i > 0 && !(p.since_on > curve[i - 1].since_on))) {
            throw bad_input(
                where, fmt::format("point {} with code {} +- {} at {} s", i + 1, p.mean.value(), p.u.value(), p.since_on.value()),
                "times that rise, finite codes, u above 0", "correct the curve");
        }
    }
    constexpr std::size_t fewest = 3;
    const auto in_window = [&](std::size_t i) {
        std::size_t j = i;
        while (j < curve.size() && curve[j].since_on - curve[i].since_on <= window) ++j;
        return j - i;
    };
    const bool long_enough = !curve.empty() && curve.back().since_on - curve.front().since_on >= window;
    for (std::size_t i = 0; long_enough && curve.back().since_on - curve[i].since_on >= window; ++i) {
        if (in_window(i) >= fewest) continue;
        throw bad_input(
            where, fmt::format("{} points within {} s from {} s on", in_window(i), window.value(), curve[i].since_on.value()),
            "3 or more", "capture more often, or widen the window");
    }
    if (!long_enough) {
        throw bad_input(where, fmt::format("{} points that do not fill a window of {} s", curve.size(), window.value()),
                        "a curve as long as one window or longer", "capture for longer");
    }
}

std::string minutes(duration t) {
    constexpr double minute = 60.0;  // seconds
    return t == duration() ? "0 min" : shown(t.value() / minute, "1") + " min";
}

void expect_seen(const range_calibration& of, const capture::statistics& seen, const std::string& what) {
    const step one{{}, {}, seen};
    const std::string where = place(what, of.channel, of.range);
    const std::string remedy = "hold the input at a voltage inside the range";  // a clipped mean hides what moves it
    expect_samples(one, where);
    expect_unclipped(one, of.chain.adc, where, remedy, remedy);
}

std::string sentence_of(const range_calibration& of, ratio value, ratio U, voltage most, bool seen) {
    return fmt::format(
        "Of what the other channel holds {} +- {} ppm comes into channel {}, range {}: {}. Up to {} are kept in the budget.",
        shown(1e6 * value.value(), "1", 2), shown(1e6 * U.value(), "1", 2), of.channel, of.range,
        seen ? "it is seen; a longer sampling time, a lower source resistance or a capture of its own between the channels "
               "would lower it"
             : "none is seen",
        shown(most, "V", 2));
}

std::string place_of(const range_calibration& of, const seen_crosstalk& by) {
    return place("crosstalk from channel " + by.channel, of.channel, of.range);
}

}  // namespace

uncertainty::uncertain<voltage> with_row(const uncertainty::uncertain<voltage>& result, const uncertainty::input& added) {
    uncertainty::expect_unit(added, unit_symbol<voltage>);
    const std::vector<uncertainty::dependence> own{{uncertainty::shared_input(added), 1.0}};
    const std::array<double, 2> outer{1.0, 1.0};
    const std::array<const std::vector<uncertainty::dependence>*, 2> inner{&result.dependences, &own};
    return {result.value + added.estimate * volt, uncertainty::chain(outer, inner)};
}

coupling between_channels(const range_calibration& of, const capture::statistics& other_low,
                          const capture::statistics& other_high, voltage low, voltage high, const front_end::chain& other) {
    const std::string where = "crosstalk into channel " + of.channel + ", range " + of.range;
    if (!(low < high) || !std::isfinite(low.value()) || !std::isfinite(high.value()) || !std::isfinite(other_low.mean.value()) ||
        !std::isfinite(other_high.mean.value())) {
        throw bad_input(where,
                        fmt::format("mean codes {} and {} with {} V and {} V at the other channel", other_low.mean.value(),
                                    other_high.mean.value(), low.value(), high.value()),
                        "finite codes, the low voltage below the high one", "put the captures in their order");
    }
    coupling c;
    const captured_level at_low = level_in(of, other_low, longest_time_of(of));
    const captured_level at_high = level_in(of, other_high, longest_time_of(of));
    const voltage moved = of.result.gain * (at_high.mean - at_low.mean);
    c.value = moved / (high - low);
    const double u = std::abs(of.result.gain.value()) * std::hypot(at_low.u.value(), at_high.u.value());
    c.U = ratio(k_two * u / (high - low).value());
    const voltage away = std::max(std::abs(other.low.value()), std::abs(other.high.value())) * volt;
    c.most = (std::abs(c.value.value()) + c.U.value()) * away;
    c.text = sentence_of(of, c.value, c.U, c.most, from_to(at_low, at_high, alarm_of_a_test).seen());
    return c;
}

uncertainty::input row_of(const range_calibration& of, const std::string& other_channel, const coupling& by) {
    return row(of, "crosstalk from " + other_channel, "crosstalk and memory of the multiplexer, channel " + other_channel,
               "two captures, the input held", by.most);
}

void add_crosstalk(range_calibration& of, seen_crosstalk seen, const front_end::chain& other, uncertainty::input_set& inputs) {
    expect_seen(of, seen.low_seen, "crosstalk from channel " + seen.channel + ", low");
    expect_seen(of, seen.high_seen, "crosstalk from channel " + seen.channel + ", high");
    const coupling c = between_channels(of, seen.low_seen, seen.high_seen, seen.low, seen.high, other);
    seen.value = c.value;
    seen.U = c.U;
    seen.most = c.most;
    inputs.add(row_of(of, seen.channel, c));
    if (auto found = crosstalk_in(of, seen, alarm_of_a_test)) of.findings.push_back(std::move(*found));
    of.crosstalk.push_back(std::move(seen));
}

std::string sentence_of(const range_calibration& of, const seen_crosstalk& by) {
    const std::string where = place_of(of, by);
    const bool seen = std::any_of(of.findings.begin(), of.findings.end(), [&](const finding& f) {
        return f.number == static_cast<int>(notice::crosstalk) && f.where == where;
    });
    return sentence_of(of, by.value, by.U, by.most, seen);
}

std::optional<finding> crosstalk_in(const range_calibration& of, const seen_crosstalk& by, double chance) {
    const move m =
        from_to(level_in(of, by.low_seen, longest_time_of(of)), level_in(of, by.high_seen, longest_time_of(of)), chance);
    if (!m.seen()) return {};
    return finding{static_cast<int>(notice::crosstalk), place_of(of, by),
                   fmt::format("from {:g} V to {:g} V on channel {} the held input moves by {:+.2f} codes ({}), expected at "
                               "most {:.2f} by noise and quantisation; lengthen the sampling time, lower the source resistance, "
                               "or convert ground between the channels",
                               by.low.value(), by.high.value(), by.channel, m.codes_moved,
                               shown(m.codes_moved * of.result.gain.value(), "V", 2), m.expected)};
}

warm_up warming_up(const range_calibration& of, std::span<const warm_up_point> curve, volts_per_second limit, duration window,
                   duration used_from) {
    const std::string where = "warm-up of channel " + of.channel + ", range " + of.range;
    expect_curve(curve, limit, window, where);
    const double gain = std::abs(of.result.gain.value());
    warm_up w;
    std::size_t first_warm = curve.size();  // none
    bool hidden = false;
    for (std::size_t i = 0; curve.back().since_on - curve[i].since_on >= window; ++i) {
        std::size_t j = i;
        while (j < curve.size() && curve[j].since_on - curve[i].since_on <= window) ++j;
        const slope_of_window s = slope_within(curve.subspan(i, j - i));
        const bool warm = gain * (std::abs(s.slope) + s.U) <= limit.value();
        if (!warm) {
            first_warm = curve.size();
            hidden = gain * std::abs(s.slope) <= limit.value();
        } else if (first_warm == curve.size()) {
            first_warm = i;
        }
        w.last_slope = volts_per_second::from_value(gain * s.slope);
    }
    const std::span<const warm_up_point> when_warm = curve.subspan(first_warm);
    if (!when_warm.empty()) w.warm_after = when_warm.front().since_on;
    // The level when warm: the mean of all that is; without it, the last point stands for it and the span is what was seen.
    double level = curve.back().mean.value();
    if (!when_warm.empty()) {
        level = 0.0;
        for (const warm_up_point& p : when_warm) level += p.mean.value() / static_cast<double>(when_warm.size());
    }
    double span = 0.0;
    for (const warm_up_point& p : curve) {
        if (p.since_on < used_from) continue;
        span = std::max(span, std::abs(p.mean.value() - level) + k_two * p.u.value());
    }
    w.span = span * gain * volt;
    if (w.warm_after) {
        w.text = fmt::format(
            "Channel {}, range {} is warm after {}: from then on no slope exceeds {}/h. Used from {} on it is up to {} off.",
            of.channel, of.range, minutes(*w.warm_after), shown(3600.0 * limit.value(), "V", 2), minutes(used_from),
            shown(w.span, "V", 2));
    } else {
        w.text = fmt::format(
            "Channel {}, range {} is not shown to be warm within {}: the last slope is {}/h{}. It moved by {} until then.",
            of.channel, of.range, minutes(curve.back().since_on), shown(3600.0 * w.last_slope.value(), "V", 2),
            hidden ? ", and noise hides whether it is below the limit" : "", shown(w.span, "V", 2));
    }
    return w;
}

uncertainty::input row_of(const range_calibration& of, const warm_up& by) {
    return row(of, "warm-up", "read before it is warm", "warm-up curve", by.span);
}

std::string warm_up_of(const range_calibration& of, seen_warm_up& by) {
    std::vector<warm_up_point> curve;
    for (std::size_t i = 0; i < by.curve.size(); ++i)
        expect_seen(of, by.curve[i].seen, fmt::format("warm-up, capture {}", i + 1));
    for (const repeated_capture& c : by.curve) {
        const captured_level level = level_in(of, c.seen, by.curve.back().at - by.curve.front().at);
        curve.push_back({c.at, level.mean, level.u});
    }
    constexpr double hour = 3600.0;  // seconds
    const warm_up w = warming_up(of, curve, volts_per_second::from_value(by.slope_limit.value() / hour), by.window,
                                 by.used_from.value_or(duration()));
    by.warm_after = w.warm_after;
    by.span = w.span;
    return w.text;
}

std::optional<finding> not_warm(const range_calibration& of, const seen_warm_up& by, double chance) {
    std::vector<warm_up_point> window;
    double freedom = std::numeric_limits<double>::infinity();
    for (const repeated_capture& c : by.curve) {
        if (by.curve.back().at - c.at > by.window) continue;
        const captured_level level = level_in(of, c.seen, by.curve.back().at - by.curve.front().at);
        window.push_back({c.at, level.mean, level.u});
        freedom = std::min(freedom, level.degrees_of_freedom);
    }
    if (window.size() < 2) return {};
    constexpr double hour = 3600.0;  // seconds
    const double per_hour = std::abs(of.result.gain.value()) * hour;
    const slope_of_window s = slope_within(window);
    const double most = by.slope_limit.value() + far_t(chance, freedom) * per_hour * s.U / k_two;
    if (!(per_hour * std::abs(s.slope) > most)) return {};
    return finding{static_cast<int>(notice::not_warm), place("warm-up", of.channel, of.range),
                   fmt::format("in the last {} of the curve readings still move by {}/h, more than the limit of {}/h; leave the "
                               "instrument on for longer before it is calibrated and used",
                               minutes(by.window), shown(hour * s.slope * of.result.gain.value(), "V", 2),
                               shown(by.slope_limit.value(), "V", 2))};
}

uncertainty::input row_of(const range_calibration& of, const seen_warm_up& by) {
    return row(of, "warm-up", "read before it is warm", "warm-up curve", by.span);
}

supply_effect by_supply(const range_calibration& of, std::span<const at_supply> supplies) {
    const std::string where = "supplies, channel " + of.channel + ", range " + of.range;
    if (supplies.size() < 2) {
        throw bad_input(where, fmt::format("{} supplies", supplies.size()), "2 or more, that of the calibration first",
                        "repeat zero and reference with the charger attached, and with the battery low");
    }
    const auto span = [](const at_supply& s) { return (s.reference - s.zero).value(); };
    for (const at_supply& s : supplies) {
        if (std::abs(span(s)) > 1.0 && s.u.value() >= 0.0 && std::isfinite(span(s) + s.u.value())) continue;
        throw bad_input(where + ", " + s.name,
                        fmt::format("mean codes {} and {} +- {}", s.zero.value(), s.reference.value(), s.u.value()),
                        "finite ones, more than a code apart", "look at the captures");
    }
    const at_supply& first = supplies.front();
    supply_effect e;
    const at_supply* by_gain = &supplies[1];
    const at_supply* by_offset = &supplies[1];
    for (const at_supply& s : supplies.subspan(1)) {
        const double change = span(s) / span(first) - 1.0;
        const double U =
            k_two * std::sqrt(2.0 * (s.u.value() * s.u.value() + first.u.value() * first.u.value())) / std::abs(span(first));
        const double shift = std::abs((s.zero - first.zero).value()) + k_two * std::hypot(s.u.value(), first.u.value());
        if (std::abs(change) + U > e.gain.value()) {
            e.gain = ratio(std::abs(change) + U);
            by_gain = &s;
        }
        const voltage offset = std::abs(of.result.gain.value()) * shift * volt;
        if (offset > e.offset) {
            e.offset = offset;
            by_offset = &s;
        }
    }
    e.text = fmt::format(
        "Against \"{}\" readings of channel {}, range {} change by up to {} % with \"{}\" and shift by up to {} with \"{}\".",
        first.name, of.channel, of.range, shown(100.0 * e.gain.value(), "1", 2), by_gain->name, shown(e.offset, "V", 2),
        by_offset->name);
    return e;
}

std::optional<finding> moved_by_supply(const range_calibration& of, const seen_at_supply& by, double chance) {
    const auto moved = [&](const capture::statistics& before, const capture::statistics& now) {
        return from_to(level_in(of, before, longest_time_of(of), !of.turns.empty()), level_in(of, now, longest_time_of(of)),
                       chance);
    };
    const move zero = moved(of.zero.seen, by.zero_seen);
    const move reference = moved(of.reference.seen, by.reference_seen);
    if (!zero.seen() && !reference.seen()) return {};
    return finding{
        static_cast<int>(notice::supply), place("supply " + by.name, of.channel, of.range),
        fmt::format("against the supply of the calibration the zero step moves by {:+.2f} codes and the reference step by "
                    "{:+.2f}, expected at most {:.2f} and {:.2f} by noise and quantisation; feed the front end and "
                    "the converter's reference from a regulator, or calibrate at the supply of use",
                    zero.codes_moved, reference.codes_moved, zero.expected, reference.expected)};
}

supply_effect by_supply(const range_calibration& of) {
    for (const seen_at_supply& s : of.supplies) {
        expect_seen(of, s.zero_seen, "supply " + s.name + ", zero step");
        expect_seen(of, s.reference_seen, "supply " + s.name + ", reference step");
    }
    const auto seen = [&](const std::string& name, const capture::statistics& zero, const capture::statistics& reference,
                          bool in_turn) {
        const captured_level at_zero = level_in(of, zero, longest_time_of(of), in_turn);
        const captured_level at_reference = level_in(of, reference, longest_time_of(of), in_turn);
        return at_supply{name, at_zero.mean, at_reference.mean, std::max(at_zero.u, at_reference.u)};
    };
    std::vector<at_supply> all{seen(of.mode.supply.empty() ? "supply of the calibration" : of.mode.supply, of.zero.seen,
                                    of.reference.seen, !of.turns.empty())};
    for (const seen_at_supply& s : of.supplies) all.push_back(seen(s.name, s.zero_seen, s.reference_seen, false));
    return by_supply(of, all);
}

}  // namespace plumbline::inline v0::calibration
