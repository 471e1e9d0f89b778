#include "findings.hpp"

#include "../capture/effective_number.hpp"
#include "../uncertainty/quantiles.hpp"
#include "step_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/capture/code_density.hpp>
#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/quantisation.hpp>
#include <plumbline/front_end/node.hpp>

namespace plumbline::inline v0::calibration {

namespace {

using capture::statistics;
constexpr codes smallest_size = 0.1 * code;  // of drift and hum; below, budgets do not feel them
constexpr double far_above = 2.0;            // times the data sheet's noise
constexpr double quantised_variance = 0.25;  // code^2, at most: little noise midway between two codes
constexpr double slowest_mains = capture::mains_frequencies.front();
constexpr double fastest_mains = capture::mains_frequencies.back();
constexpr double telling_apart = 0.1;  // s, whole periods of both
constexpr resistance of_x10_probe = 9e6 * ohm;

finding noted(notice what, const std::string& where, std::string text) {
    return {static_cast<int>(what), where, std::move(text)};
}

/// A voltage in three digits, with a prefix.
std::string volts_shown(voltage v) {
    const double volts = std::abs(v.value());
    if (volts >= 1.0) return fmt::format("{:.3g} V", volts);
    if (volts >= 1e-3) return fmt::format("{:.3g} mV", 1e3 * volts);
    return fmt::format("{:.3g} uV", 1e6 * volts);
}

double significant_t(double chance) {
    return uncertainty::student_t_exceeded_by(0.5 * chance, capture::trend_degrees_of_freedom);
}

/// Quantile of F with 2 and nu degrees of freedom: P(F > f) = (1 + 2 f / nu)^(-nu/2).
double significant_f(double chance) {
    constexpr double nu = capture::trend_degrees_of_freedom;
    return 0.5 * nu * (std::pow(chance, -2.0 / nu) - 1.0);
}

const capture::spectral_line* strongest(const statistics& seen) {
    const auto weaker = [](const capture::spectral_line& x, const capture::spectral_line& y) {
        return x.amplitude < y.amplitude;
    };
    const auto most = std::max_element(seen.hum.begin(), seen.hum.end(), weaker);
    return most == seen.hum.end() ? nullptr : &*most;
}

bool judged_at(const statistics& seen, double hertz_of_mains) {
    return std::any_of(seen.hum.begin(), seen.hum.end(), [&](const auto& line) { return line.at.value() == hertz_of_mains; });
}

double lasting(const step& s) { return static_cast<double>(s.seen.n) / s.evidence.sample_rate.value(); }

}  // namespace

std::optional<finding> on_one_code(const step& s, const std::string& where) {
    if (s.seen.min != s.seen.max) return {};
    return noted(notice::on_one_code, where,
                 fmt::format("all {} samples on code {}: quantisation hides the noise and half a code either way is kept as "
                             "uncertainty; a little noise and averaging would lower it",
                             s.seen.n, s.seen.min));
}

std::optional<finding> few_samples(const step& s, const std::string& where) {
    constexpr std::size_t enough = 10;
    if (s.seen.n >= enough) return {};
    return noted(notice::few_samples, where,
                 fmt::format("{} samples, expected {} or more for a standard uncertainty to rely on; k is from Student's t for "
                             "them: capture more, which lowers both",
                             s.seen.n, enough));
}

std::optional<finding> hangs_together(const step& s, const std::string& where) {
    if (!(s.seen.n_eff < 0.5 * static_cast<double>(s.seen.n))) return {};
    return noted(
        notice::hangs_together, where,
        fmt::format("the {} samples hang together and count as {:.0f} independent ones; look for hum or drift, or sample "
                    "more slowly",
                    s.seen.n, s.seen.n_eff));
}

std::optional<finding> drift_within(const step& s, volts_per_code gain, const std::string& where, double chance) {
    if (!s.seen.slope) return {};
    const auto [change, u] = *s.seen.slope;
    const codes quantisation = capture::of_mean(s.seen).half_width;
    const double u_mean = std::hypot(s.seen.s.value() / std::sqrt(s.seen.n_eff), quantisation.value() / std::sqrt(3.0));
    const double size = std::abs(change.value());
    const codes least = std::max({smallest_size, capture::largest_false_trend(quantisation), u_mean * code});
    if (!(size > least.value() && size > significant_t(chance) * u.value())) return {};
    return noted(notice::drift, where,
                 fmt::format("the code moved by {:+.2f} ({}) from the first sample to the last, standard uncertainty {:.2f}; let "
                             "instrument and reference warm up and settle, then capture again",
                             change.value(), volts_shown(change * gain), u.value()));
}

std::optional<finding> noise_above(const front_end::converter& data_sheet, const step& s, const std::string& where,
                                   double chance) {
    const double stated = data_sheet.noise.value();
    const double noise = s.seen.noise.value();
    const double freedom = s.seen.n_eff - 1.0;
    if (!(stated > 0.0) || !(freedom >= 1.0)) return {};
    const double likely = uncertainty::chi_squared_exceeded_by(chance, freedom) / freedom;
    const double expected = stated * stated + quantised_variance;
    const double far = far_above * far_above * stated * stated + quantised_variance;
    if (!(noise * noise > std::max(far, likely * expected))) return {};
    return noted(
        notice::noisy, where,
        fmt::format("noise of {:.2f} codes rms, {:.1f} times the data sheet's {:.2f}; look for a loose or unshielded lead, "
                    "a charger or a switching supply nearby, or a noisy source",
                    noise, noise / stated, stated));
}

std::optional<finding> hum_in(const step& s, volts_per_code gain, const std::string& where, double chance) {
    const capture::spectral_line* line = strongest(s.seen);
    if (line == nullptr) return {};
    const double amplitude = line->amplitude.value();
    const codes least = std::max(smallest_size, capture::largest_false_amplitude(capture::of_mean(s.seen).half_width));
    if (!(amplitude > least.value() && amplitude > std::sqrt(2.0 * significant_f(chance)) * line->u.value())) return {};

    const double rate = static_cast<double>(s.seen.n) * line->at.value() / line->periods;
    const bool told_apart = static_cast<double>(s.seen.n) >= telling_apart * rate;
    const std::string at = told_apart ? fmt::format("{:.0f} Hz", line->at.value()) : "50 or 60 Hz";
    const codes shift = capture::largest_shift_of_mean(*line, s.seen.n);
    const std::string effect = shift < 1e-3 * line->amplitude
                                   ? fmt::format("which its {:.0f} whole periods average out", line->periods)
                                   : "which moves the mean by up to " + volts_shown(shift * gain);
    return noted(notice::hum, where,
                 fmt::format("hum at {} with an amplitude of {} ({:.2f} codes), {}; shorten or shield the leads, keep mains and "
                             "chargers away, and average whole periods: {:.0f} samples (100 ms) or a multiple",
                             at, volts_shown(line->amplitude * gain), amplitude, effect, telling_apart * rate));
}

std::optional<finding> hum_not_judged(const step& s, const std::optional<unseen_hum>& kept, volts_per_code gain,
                                      const std::string& where) {
    const bool at_slowest = judged_at(s.seen, slowest_mains);
    const bool at_fastest = judged_at(s.seen, fastest_mains);
    const bool fitted = s.seen.n < capture::fewest_for_hum || s.seen.slope;
    if ((at_slowest && at_fastest) || !fitted) return {};
    const double rate = s.evidence.sample_rate.value();
    const std::string in_budget = kept ? fmt::format("; a sine of up to {} ({:.2f} codes) is kept in the budget for it",
                                                     volts_shown(kept->amplitude * gain), kept->amplitude.value())
                                       : "";
    const auto say = [&](const std::string& text) {
        return noted(notice::hum_not_judged, where, "hum cannot be judged: " + text + in_budget);
    };
    if (rate < capture::fewest_samples_in_a_period * fastest_mains) {
        return say(
            fmt::format("sampled at {:.4g} Hz, too slowly to see it at {}, which may pass for drift or offset; sample at "
                        "{:.0f} Hz or faster",
                        rate, at_slowest ? "60 Hz" : "50 and 60 Hz", capture::fewest_samples_in_a_period * fastest_mains));
    }
    const double needed = std::max(static_cast<double>(capture::fewest_for_hum), std::ceil(rate / slowest_mains * (1.0 - 1e-12)));
    if (static_cast<double>(s.seen.n) < needed) {
        return say(
            fmt::format("the {} samples last {:.3g} ms, too short to tell it from drift: a period of 50 Hz lasts 20 ms; capture "
                        "at least {:.0f} samples, better {:.0f} (100 ms) or a multiple",
                        s.seen.n, 1e3 * lasting(s), needed, telling_apart * rate));
    }
    return say("the capture was summed up without its sample rate; state the sample rate");
}

std::vector<finding> findings_of_step(const step& s, const front_end::converter& adc, volts_per_code gain,
                                      const std::string& where, const std::optional<unseen_hum>& kept, double chance) {
    std::vector<finding> all;
    for (std::optional<finding>& one :
         std::array{on_one_code(s, where), few_samples(s, where), hangs_together(s, where), drift_within(s, gain, where, chance),
                    noise_above(adc, s, where, chance), hum_in(s, gain, where, chance), hum_not_judged(s, kept, gain, where)}) {
        if (one) all.push_back(std::move(*one));
    }
    return all;
}

namespace {

std::optional<finding> slow_noise_in(const capture::one_pass_statistics& seen, codes half_width, volts_per_code gain,
                                     const std::string& where, double chance) {
    const codes least = std::max(smallest_size, half_width / std::sqrt(3.0));
    if (seen.longer != capture::longer_capture::does_not_help || !(seen.floor > least)) return {};
    if (!(seen.chance_of_floor < chance)) return {};
    return noted(
        notice::slow_noise, where,
        fmt::format(
            "slow noise: the mean is known to {:.2f} codes ({}) and no longer capture would lower that, expected noise that "
            "averages out; take short captures by turns, zero and reference and zero again, and keep draughts, a "
            "warming supply and chargers away",
            seen.floor.value(), volts_shown(seen.floor * gain)));
}

std::optional<finding> far_out_in(const capture::one_pass_statistics& seen, volts_per_code gain, const std::string& where,
                                  double chance) {
    const std::optional<capture::outliers> found = capture::outliers_in(seen, chance);
    if (!found || found->count == 0) return {};
    const capture::outliers& o = *found;
    return noted(
        notice::far_out, where,
        fmt::format(
            "{} of {} samples outside {:.1f} to {:.1f} codes, where this noise has none; they are kept and move the mean by "
            "{:+.3f} codes ({}); look for glitches: a charger, a relay, the display's or the radio's bursts, bytes lost in "
            "the transfer",
            o.count, seen.n, o.low, o.high, o.shift_of_mean.value(), volts_shown(o.shift_of_mean * gain)));
}

std::optional<finding> line_in(const capture::one_pass_statistics& seen, codes half_width, volts_per_code gain,
                               const std::string& where, double chance) {
    if (!seen.line || !(seen.line->chance < chance) ||
        !(seen.line->amplitude > std::max(smallest_size, capture::largest_false_amplitude(half_width))))
        return {};
    const capture::strongest_line& line = *seen.line;
    const std::string frequency =
        line.at ? fmt::format("{:.4g} Hz", line.at->value()) : fmt::format("{:.4g} periods a sample", line.periods_per_sample);
    const char* cause = !line.at             ? "look for what runs at that frequency"
                        : may_be_mains(line) ? "it may be of mains, at 50 or 60 Hz or a multiple: shorten or shield the leads, "
                                               "keep mains and chargers away"
                                             : "look for what runs at that frequency: an inverter, a charge controller or a "
                                               "switching supply";
    return noted(
        notice::spectral_line, where,
        fmt::format(
            "a sine at {} with an amplitude of {} ({:.2f} codes), which moves the mean by up to {}; {}, and average whole "
            "periods: {} samples or a multiple",
            frequency, volts_shown(line.amplitude * gain), line.amplitude.value(), volts_shown(line.largest_shift * gain), cause,
            line.average_samples));
}

std::optional<finding> stuck_in(const capture::one_pass_statistics& seen, const std::string& where) {
    const std::vector<capture::stuck_bit> stuck = capture::stuck_bits(seen.counts, seen.bottom_code);
    if (stuck.empty()) return {};
    std::string bits;
    for (const capture::stuck_bit& b : stuck) bits += fmt::format("{}bit {} always {}", bits.empty() ? "" : ", ", b.bit, b.value);
    return noted(
        notice::stuck_bits, where,
        fmt::format(
            "codes from {} to {} with {}, expected bits that change; look for a bridged or broken data line, and for a capture "
            "that was shifted or scaled on its way",
            seen.min, seen.max, bits));
}

}  // namespace

namespace {

/// Neighbours correlated beyond doubt. capture::summarise asks at 1 in 1000 whether n_eff is n; and of few samples the statistic exceeds its
/// distribution's far quantiles too often (seen in simulation).
bool surely_correlated(const std::vector<std::int32_t>& samples, double chance) {
    constexpr double doubt = 0.1;
    const double n = static_cast<double>(samples.size());
    double sum = 0.0;
    for (const std::int32_t x : samples) sum += x - samples.front();
    const double mean = samples.front() + sum / n;
    std::vector<double> deviations;
    deviations.reserve(samples.size());
    double squares = 0.0;
    for (const std::int32_t x : samples) {
        deviations.push_back(x - mean);
        squares += deviations.back() * deviations.back();
    }
    return capture::correlated(deviations, squares, doubt * chance);
}

}  // namespace

std::vector<finding> findings_of_capture(const capture::run& run, const step& s, const front_end::converter& adc,
                                         volts_per_code gain, const std::string& where, const std::optional<unseen_hum>& kept,
                                         applied_during during, double chance) {
    std::vector<finding> all;
    if (during != applied_during::known_sine) all = findings_of_step(s, adc, gain, where, kept, chance);
    const auto remove = [&](notice what) {
        std::erase_if(all, [&](const finding& f) { return f.number == static_cast<int>(what); });
    };
    const auto has = [&](notice what) {
        return std::any_of(all.begin(), all.end(), [&](const finding& f) { return f.number == static_cast<int>(what); });
    };
    const auto add = [&](std::optional<finding> one) {
        if (one) all.push_back(std::move(*one));
    };
    const bool drift = has(notice::drift);
    if (drift && during == applied_during::warming_up) {  // what the curve is captured for
        remove(notice::drift);
        if (!has(notice::hum)) remove(notice::hangs_together);
    }

    constexpr std::int64_t most_codes = std::int64_t{1} << 20U;
    if (std::int64_t{adc.top_code()} - adc.bottom_code() >= most_codes) return all;
    capture::run within = run;  // what lies beyond an end code is on it
    for (std::int32_t& c : within.codes) c = std::clamp(c, adc.bottom_code(), adc.top_code());
    const capture::one_pass_statistics seen = capture::in_one_pass(within, adc.bottom_code(), adc.top_code());
    const codes half_width = capture::of_mean(s.seen).half_width;

    if (during != applied_during::known_sine) {
        // Some eight clean captures in 10 000 pass for slow noise in s.seen; one that the second look agrees with is rarer by far.
        const bool seen_twice = seen.n_eff < 0.5 * static_cast<double>(seen.n);
        if (!seen_twice || !(s.seen.slow || surely_correlated(within.codes, chance))) remove(notice::hangs_together);
        if (!has(notice::hum)) add(line_in(seen, half_width, gain, where, chance));
        if (!has(notice::hum) && !has(notice::spectral_line) && !drift) add(slow_noise_in(seen, half_width, gain, where, chance));
    }
    add(far_out_in(seen, gain, where, chance));
    add(stuck_in(seen, where));
    return all;
}

namespace {

bool raised_by_chance(int number) {
    constexpr std::array those{notice::hangs_together, notice::drift, notice::noisy, notice::hum};
    return std::any_of(those.begin(), those.end(), [&](notice one) { return static_cast<int>(one) == number; });
}

}  // namespace

void add_findings(range_calibration& of, std::span<const seen_capture> captures, double chance) {
    const std::optional<codes> largest_hum = lines_of(of).hum;
    const bool negative_is_below = of.reference.seen.mean > of.zero.seen.mean;
    const auto same_samples = [](const seen_capture& x, const seen_capture& y) {
        return !x.seen.evidence.file.empty() && x.seen.evidence.file == y.seen.evidence.file &&
               x.seen.evidence.column == y.seen.evidence.column;
    };
    for (auto at = captures.begin(); at != captures.end(); ++at) {
        const seen_capture& c = *at;
        if (std::any_of(captures.begin(), at, [&](const seen_capture& before) { return same_samples(before, c); })) continue;
        const bool on_negative_side = (c.seen.seen.mean < of.zero.seen.mean) == negative_is_below;
        const correction& line = on_negative_side && of.negative_result ? *of.negative_result : of.result;
        std::optional<unseen_hum> kept;
        if (c.hum_has_a_row) kept = unseen_hum_of(c.seen, largest_hum);
        const std::string where = place(c.what, of.channel, of.range);
        std::vector<finding> now = findings_of_capture(c.run, c.seen, of.chain.adc, line.gain, where, kept, c.during, chance);
        const auto in = [](const std::vector<finding>& list, const finding& f) {
            return std::any_of(list.begin(), list.end(),
                               [&](const finding& other) { return other.number == f.number && other.where == f.where; });
        };
        std::erase_if(of.findings,
                      [&](const finding& f) { return f.where == where && raised_by_chance(f.number) && !in(now, f); });
        for (finding& f : now) {
            if (!in(of.findings, f)) of.findings.push_back(std::move(f));
        }
    }
}

void judge_together(range_calibration& of, const std::vector<reference>& references, const uncertainty::input_set& inputs,
                    double chance, double of_slopes) {
    std::vector<finding> now;
    const auto judged = [&](std::optional<finding> one) {
        if (one) now.push_back(std::move(*one));
    };
    judged(slopes_differ(of, references, inputs, of_slopes));
    judged(not_straight(of, chance));
    for (const seen_crosstalk& c : of.crosstalk) judged(crosstalk_in(of, c, chance));
    if (of.warm_up) judged(not_warm(of, *of.warm_up, chance));
    for (const seen_at_supply& s : of.supplies) judged(moved_by_supply(of, s, chance));
    judged(end_unseen(of));
    constexpr std::array together{notice::slopes_differ, notice::not_straight, notice::crosstalk,
                                  notice::not_warm,      notice::supply,       notice::end_unseen};
    std::erase_if(of.findings, [&](const finding& f) {
        return std::any_of(together.begin(), together.end(), [&](notice one) { return static_cast<int>(one) == f.number; });
    });
    of.findings.insert(of.findings.begin(), now.begin(), now.end());
}

std::optional<finding> reference_out_of_date(const reference& r, const working_days& days, const std::string& where) {
    const auto say = [&](const std::string& statement, const std::string& used) {
        return noted(
            notice::reference_date, where,
            fmt::format("{} is valid {}, and was used on {}; have it calibrated again, or state an uncertainty that covers its "
                        "age",
                        r.description, statement, used));
    };
    // dates written as YYYY-MM-DD come in the order of their texts
    if (!r.valid_from.empty() && !days.begun.empty() && days.begun < r.valid_from) return say("from " + r.valid_from, days.begun);
    if (!r.valid_until.empty() && !days.ended.empty() && days.ended > r.valid_until) {
        return say("until " + r.valid_until, days.ended);
    }
    return {};
}

std::optional<finding> reference_too_warm_or_cold(const reference& r, celsius ambient, kelvins half_width,
                                                  const std::string& where) {
    if (!r.valid) return {};
    const double low = ambient.degrees - half_width.value();
    const double high = ambient.degrees + half_width.value();
    if (low >= r.valid->low.degrees && high <= r.valid->high.degrees) return {};
    return noted(
        notice::reference_temperature, where,
        fmt::format("{} is valid from {:g} degC to {:g} degC, and was used between {:g} degC and {:g} degC; calibrate within "
                    "its temperatures, or state an uncertainty that holds here",
                    r.description, r.valid->low.degrees, r.valid->high.degrees, low, high));
}

std::optional<finding> one_sided(const range_calibration& of, const std::string& where) {
    if (of.negative || of.chain.low >= voltage() || of.chain.high <= voltage()) return std::nullopt;
    const bool above = of.reference.seen.mean > of.zero.seen.mean;
    const voltage far_end = above ? of.chain.low : of.chain.high;
    return finding{static_cast<int>(notice::one_sided), where,
                   fmt::format("the range reaches {:g} V and no step lies on that side of the zero step: readings there are "
                               "extrapolated, and a different slope would not show; apply the reference with its leads reversed "
                               "as a negative step",
                               far_end.value())};
}

std::vector<finding> findings_of(const range_calibration& of, const std::vector<reference>& references,
                                 const working_days& days) {
    const std::string place = ", channel " + of.channel + ", range " + of.range;
    std::vector<finding> all;
    std::vector<const reference*> used;
    const auto use = [&](const std::string& id) -> const reference* {
        const auto found = std::find_if(references.begin(), references.end(), [&](const reference& r) { return r.id == id; });
        if (found == references.end()) return nullptr;
        if (std::find(used.begin(), used.end(), &*found) == used.end()) used.push_back(&*found);
        return &*found;
    };
    const auto look_at = [&](const step& s, const char* name, const correction& line) {
        std::optional<unseen_hum> kept;  // in turn, what hum does is part of the scatter
        if (of.turns.empty()) kept = unseen_hum_of(s, lines_of(of).hum);
        step one = s;
        if (!of.turns.empty()) one.seen = of.turns[&s == &of.reference ? 1 : 0].seen;  // all of them together are no capture
        const std::vector<finding> more = findings_of_step(one, of.chain.adc, line.gain, name + place, kept);
        all.insert(all.end(), more.begin(), more.end());
        const reference* r = use(s.source.reference);
        if (r != nullptr && r->divider) use(r->divider->from);
    };
    look_at(of.zero, "zero step", of.result);
    look_at(of.reference, "reference step", of.result);
    if (of.negative) look_at(*of.negative, "negative step", of.negative_result.value_or(of.result));

    if (const auto half = one_sided(of, "steps" + place)) all.push_back(*half);
    for (const reference* r : used) {
        const std::string where = "reference " + r->id + place;
        if (const auto old = reference_out_of_date(*r, days, where)) all.push_back(*old);
        if (const auto off = reference_too_warm_or_cold(*r, of.ambient, of.temperature_half_width, where)) all.push_back(*off);
    }
    return all;
}

std::optional<finding> end_unseen(const range_calibration& of) {
    std::vector<voltage> seen;
    const auto add = [&](const step& s) { seen.push_back(of.result.offset + of.result.gain * s.seen.mean); };
    add(of.zero);
    add(of.reference);
    if (of.negative) add(*of.negative);
    if (of.points) {
        for (const weighted_point& p : of.points->points) seen.push_back(p.applied);
    }
    for (const check_point& c : of.checks) {
        if (!c.as_found) seen.push_back(c.applied_value);
    }
    const voltage low = of.chain.low;
    const voltage high = of.chain.high;
    const bool bipolar = low < voltage() && high > voltage();
    const auto reached = [&](voltage end, voltage other) {
        const voltage from = bipolar ? end * 2.0 / 3.0 : end + (other - end) / 3.0;
        return std::any_of(seen.begin(), seen.end(), [&](voltage v) { return (v - from) / (end - from) >= 0.0; });
    };
    const std::string where = place("steps and check points", of.channel, of.range);
    const bool upwards = of.reference.seen.mean > of.zero.seen.mean;
    const bool told_of_far_side = one_sided(of, where).has_value();
    const bool high_unseen = !reached(high, low) && !(told_of_far_side && !upwards);
    const bool low_unseen = !reached(low, high) && !(told_of_far_side && upwards);
    if (!high_unseen && !low_unseen) return {};
    const std::string ends = high_unseen && low_unseen ? fmt::format("{:g} V and {:g} V", low.value(), high.value())
                                                       : fmt::format("{:g} V", (high_unseen ? high : low).value());
    return noted(notice::end_unseen, where,
                 fmt::format("none in the outer third of the range towards {}, where the line is extrapolated and nothing shows "
                             "whether it holds; add a check point near that end",
                             ends));
}

std::optional<std::string> likely_cause(const front_end::chain& chain, codes m0, codes m1, voltage v0, voltage v1,
                                        double tolerance) {
    const volts_per_code nominal = front_end::nominal_gain(chain);
    const double factor = ((v1 - v0) / (m1 - m0) / nominal).value();
    const auto near = [&](double cause) { return std::abs(factor / cause - 1.0) <= tolerance; };
    const resistance input = front_end::nominal_input_resistance(chain);
    const double of_probe = ((input + of_x10_probe) / input).value();
    if (near(of_probe)) {
        return fmt::format(
            "a x10 probe (9 Mohm) gives {:.3g} times nominal into this input of {:.3g} Mohm: connect the reference to "
            "the input itself, without the probe",
            of_probe, 1e-6 * input.value());
    }
    if (near(1e3)) return "millivolts entered as volts give 1000 times nominal: state the applied voltage in volts";
    if (near(1e-3)) return "volts entered as millivolts give a thousandth of nominal: state the applied voltage in volts";
    if (near(-1.0)) {
        const auto expected = [&](voltage v) { return (v - front_end::nominal_offset(chain)) / nominal; };
        const auto distance = [&](voltage v) { return std::abs((m0 - expected(v)).value()); };
        if (distance(v1) < distance(v0)) return "the captures are swapped: each has the code of the other's voltage";
        return "the leads are reversed: connect the reference the right way round, or state its voltage with the other sign";
    }
    return {};
}

}  // namespace plumbline::inline v0::calibration
