#include "../calibration/identity.hpp"
#include "../units/figures.hpp"
#include "lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/pin.hpp>
#include <plumbline/uncertainty/budget.hpp>

namespace plumbline::inline v0::audit {

namespace {

// Common practice, no source: fewest samples with which something is worth looking at.
constexpr double samples_per_period = 2.5;
constexpr double samples_per_edge = 3.0;
constexpr double samples_per_pulse = 2.0;

bool has_time(const job& j) { return j.fastest.what != event_kind::dc && j.fastest.what != event_kind::sine; }

/// What of bandwidth is not known.
std::string missing_bandwidth(const job& j) {
    std::string missing;
    if (!j.instrument.bandwidth) missing = "\"instrument/bandwidth\"";
    if (j.probe && !j.probe->bandwidth) missing += std::string(missing.empty() ? "" : " and ") + "\"probe/bandwidth\"";
    return missing;
}

double deviation_of(const calibration::clock_calibration& c) { return (c.rate / c.nominal).value() - 1.0; }

/// The clock's tolerance, by the job or else by the record.
std::optional<ratio> tolerance_of(const subject& s) {
    return s.job.instrument.clock_tolerance ? s.job.instrument.clock_tolerance : s.record.clock_tolerance;
}

/// How well the sample rate is known: by the record's clock about its deviation, else within a tolerance.
uncertainty::input clock_of(const subject& s) {
    if (s.record.clock) {
        uncertainty::input in = calibration::deviation_input(*s.record.clock);
        in.estimate = 0.0;  // uncorrected: its size is added
        return in;
    }
    return {"job/clock", "sample rate", s.job.instrument.clock_tolerance ? "job" : "record",
            "1",         0.0,           uncertainty::rectangular{tolerance_of(s).value_or(ratio(0.0)).value()}};
}

}  // namespace

void bandwidth(const subject& s, lines& to) {
    const event& e = s.job.fastest;
    if (e.what == event_kind::dc) return;
    const std::string missing = missing_bandwidth(s.job);
    if (!missing.empty()) {
        to.push_back({"bandwidth", line_is::unknown, std::nullopt, std::nullopt, false, "Hz",
                      "not known, so what it takes off the signal is missing below: enter " + missing});
    }
    if (s.on.poles().empty()) return;
    if (e.what == event_kind::sine) {
        const double lost = 1.0 - s.on.amplitude(e.at);
        to.push_back({"amplitude", line_is::good, std::nullopt, std::nullopt, false, "1",
                      fmt::format("at {} the reading is {} too low for bandwidth; counted as uncorrected", shown(e.at, "Hz"),
                                  per_cent(lost))});
        return;
    }
    const duration own = s.on.rise_time();
    if (e.what != event_kind::rise_time) {
        to.push_back({"own rise time", line_is::good, std::nullopt, std::nullopt, false, "s",
                      fmt::format("edges show with {} at least", shown(own, "s", 2))});
        return;
    }
    const duration seen = front_end::in_a_row(e.time, own);
    line l{"rise time",
           line_is::good,
           (seen - e.time).value(),
           e.within.value(),
           false,
           "s",
           fmt::format("{} shows as {}", shown(e.time, "s"), shown(seen, "s"))};
    if (*l.figure > *l.limit) {
        l.verdict = line_is::condition;
        l.text += fmt::format(": correct it, sqrt(t² - ({})²)", shown(own, "s"));
    }
    to.push_back(std::move(l));
}

void samples(const subject& s, lines& to) {
    const event& e = s.job.fastest;
    const auto enough = [&](double found, double limit, const char* per) {
        to.push_back({"samples", found >= limit ? line_is::good : line_is::bad, found, limit, true, "1",
                      fmt::format("{} samples a {}; {} are needed to see it", shown(found, "1"), per, shown(limit, "1"))});
    };
    const frequency rate = s.on.sample_rate();
    if (e.what == event_kind::sine) enough((rate / e.at).value(), samples_per_period, "period");
    if (e.what == event_kind::rise_time) enough((rate * e.time).value(), samples_per_edge, "edge");
    if (e.what == event_kind::pulse_width) enough((rate * e.time).value(), samples_per_pulse, "pulse");
    if (e.what == event_kind::edge_timing) enough((rate * e.time).value(), samples_per_pulse, "interval");
}

void timing(const subject& s, lines& to) {
    if (!has_time(s.job)) return;
    const event& e = s.job.fastest;
    const std::optional<calibration::clock_calibration>& measured_clock = s.record.clock;
    if (!measured_clock && !tolerance_of(s)) {
        to.push_back(
            {"clock", line_is::unknown, std::nullopt, std::nullopt, false, "1",
             "tolerance of the sample rate is not known (an RC clock has 1 to 2 %): enter \"instrument/clock_tolerance\""});
    }
    if (!measured_clock && !s.job.instrument.clock_tolerance && s.record.clock_tolerance) {
        to.push_back({"clock", line_is::good, std::nullopt, std::nullopt, false, "1",
                      fmt::format("within ± {} of its nominal rate by its data sheet, as the record states it; not calibrated",
                                  per_cent(s.record.clock_tolerance->value()))});
    }
    if (measured_clock) {
        to.push_back(
            {"clock", line_is::good, std::nullopt, std::nullopt, false, "1",
             fmt::format("measured to be {} off its nominal rate, ± {}, at {} degC on {}: counted as uncorrected, in place "
                         "of a tolerance; another temperature moves it",
                         per_cent(deviation_of(*measured_clock)), per_cent((measured_clock->U / measured_clock->nominal).value()),
                         shown(measured_clock->ambient.degrees, "1"), s.record.dates.ended)});
    }
    // Two edges, each anywhere within one interval; and the clock, in proportion.
    const double interval = 1.0 / s.on.sample_rate().value();
    const uncertainty::uncertain<duration> edges = uncertainty::from_input<duration>(uncertainty::shared_input(
        {"job/edges", "where in its interval an edge lies", "sample rate", "s", 0.0, uncertainty::triangular{interval}}));
    const uncertainty::uncertain<ratio> clock = uncertainty::from_input<ratio>(uncertainty::shared_input(clock_of(s)));
    const auto measured = uncertainty::first_order(
        [&](const auto& by_edges, const auto& by_clock) { return e.time * (1.0 + by_clock) + by_edges; }, edges, clock);
    double U = uncertainty::make_convolved_budget(measured, s.job.need.confidence).U;
    if (measured_clock) U += std::abs(deviation_of(*measured_clock)) * e.time.value();
    to.push_back({"timing", U <= e.within.value() ? line_is::good : line_is::bad, U, e.within.value(), false, "s",
                  fmt::format("a time of {} is known to ± {} ({} sure), one sample being {}; ± {} is allowed", shown(e.time, "s"),
                              shown(U, "s", 2), per_cent(s.job.need.confidence), shown(interval, "s"), shown(e.within, "s"))});
}

void aliasing(const subject& s, lines& to) {
    const frequency half = 0.5 * s.on.sample_rate();
    if (!s.job.also_present) {
        if (!s.job.continuous) return;
        to.push_back(
            {"aliasing", line_is::unknown, std::nullopt, std::nullopt, false, "Hz",
             fmt::format("not known what else is on the wire; above {} it shows as something slow. Look once at a higher "
                         "rate, and enter \"signal/also_present\"",
                         shown(half, "Hz"))});
        return;
    }
    for (const disturbance& d : *s.job.also_present) {
        const double left = (d.amplitude * s.on.amplitude(d.at)).value();
        if (d.at <= half) {
            to.push_back({"on the wire", line_is::good, std::nullopt, std::nullopt, false, "V",
                          fmt::format("{}, {} at {}: in the plus or minus", d.name, shown(left, "V"), shown(d.at, "Hz"))});
            continue;
        }
        to.push_back({"aliasing", s.job.continuous ? line_is::condition : line_is::good, std::nullopt, std::nullopt, false, "Hz",
                      fmt::format("{}, {} at {}, shows as {}: in the plus or minus; do not take it for a signal", d.name,
                                  shown(left, "V"), shown(d.at, "Hz"), shown(front_end::alias(d.at, s.on.sample_rate()), "Hz"))});
    }
}

void compensation(const subject& s, lines& to) {
    if (!s.job.probe || s.job.fastest.what == event_kind::dc) return;
    if (!s.job.probe->mismatch && s.job.probe_record) {
        const calibration::probed_input& on = s.job.probe_record->found.on;
        to.push_back(
            {"compensation", line_is::unknown, std::nullopt, std::nullopt, false, "1",
             fmt::format("of the probe was adjusted on {} {}, channel {}, range {}: adjust it here on a square wave, and "
                         "calibrate it on this input",
                         on.model, on.serial, on.channel, on.range)});
        return;
    }
    if (!s.job.probe->mismatch) {
        to.push_back({"compensation", line_is::unknown, std::nullopt, std::nullopt, false, "1",
                      "of the probe is not known: adjust it on a square wave, and enter \"probe/mismatch\""});
        return;
    }
    to.push_back({"compensation", line_is::good, std::nullopt, std::nullopt, false, "1",
                  fmt::format("of the probe within {}; counted as uncorrected", per_cent(s.job.probe->mismatch->value()))});
}

/// By the pin that the record describes, through what is in front of the connector on this job.
void converters_pin(const subject& s, lines& to) {
    const front_end::chain& chain = s.on.range().chain;
    if (!chain.pin) return;
    front_end::mode m = s.on.range().mode;
    m.sample_rate = s.on.sample_rate();
    const front_end::pin_figures f = front_end::figures_of_pin(chain, m, *chain.pin, s.on.in_series(), s.job.ambient);
    const double missing = std::ldexp(f.missing.value(), chain.adc.bits);
    const bool settles = missing <= 0.5;
    to.push_back({"sampling capacitor", settles ? line_is::good : line_is::condition, missing, 0.5, false, "code",
                  settles ? fmt::format("a step over the full range is read to {:.2g} codes by the next sample", missing)
                          : f.text.front()});
    if (chain.pin->leakage > current()) {
        const double shift = (f.offset_by_leakage / front_end::nominal_gain(chain)).value();
        const bool small = shift <= 0.5;
        // Records made before leakage was an input do not count it.
        const bool counted = s.record.inputs.find(calibration::identity::leakage(
                                 calibration::identity::range(s.on.range().channel, s.on.range().range))) != nullptr;
        to.push_back(
            {"leakage", small || counted ? line_is::good : line_is::condition, shift, 0.5, false, "code",
             fmt::format("of the pin shifts a reading by up to {}, {:.2g} codes{}", shown(f.offset_by_leakage, "V", 2), shift,
                         small     ? ""
                         : counted ? "; it doubles with every ten kelvin or so (common practice, no source), and what it has "
                                     "grown by since the calibration is in the plus or minus"
                                   : "; it doubles with every ten kelvin or so (common practice, no source), and a zero step "
                                     "takes it off at its temperature alone")});
    }
    if (f.bandwidth > frequency()) {
        to.push_back({"bandwidth of the pin", line_is::good, f.bandwidth.value(), std::nullopt, false, "Hz",
                      fmt::format("{} 3 dB off at {}; an edge takes {}",
                                  chain.amplifier ? "the amplifier takes" : "network and capacitor at the pin take",
                                  shown(f.bandwidth, "Hz"), shown(f.rise_time, "s"))});
    }
    to.push_back(
        {"noise of the pin", line_is::good, f.noise.value(), std::nullopt, false, "code",
         fmt::format("thermal noise of the resistors, {} rms at the source, and the converter's own make {:.2g} codes rms: "
                     "of {} bits {:.1f} are effective and {:.1f} stand still in single samples",
                     shown(f.thermal_noise, "V", 2), f.noise.value(), chain.adc.bits, f.effective_bits, f.noise_free_bits)});
}

}  // namespace plumbline::inline v0::audit
