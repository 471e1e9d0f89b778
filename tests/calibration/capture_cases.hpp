#pragma once
// Captures with one fault each, its size in codes (LSB) fixed before any threshold was tuned, and clean ones.

#include "../../src/calibration/findings.hpp"

#include <capture/signals.hpp>

#include <algorithm>
#include <string>
#include <vector>

namespace capture_cases {

using namespace plumbline;
using calibration::notice;
using signals::generator;

inline constexpr volts_per_code gain = volts_per_code::from_value(5e-3);
inline const std::string at = "zero step, channel A, range 8 V";

inline front_end::converter twelve_bits(double noise) {
    front_end::converter adc;
    adc.bits = 12;
    adc.noise = noise * code;
    return adc;
}

inline calibration::step step_of(const capture::run& run) {
    calibration::step s;
    s.evidence.sample_rate = *run.sample_rate;
    s.seen = capture::summarise(run, 0, 4095);
    return s;
}

/// Findings of a capture that is not one of solve()'s.
inline std::vector<calibration::finding> further_findings(const capture::run& run, double data_sheet_noise,
                                                          double chance = calibration::alarm_of_a_test) {
    return calibration::findings_of_capture(run, step_of(run), twelve_bits(data_sheet_noise), gain, at, {},
                                            calibration::applied_during::held, chance);
}

/// All findings of one step: those that solve() has by its statistics, and those of its capture.
inline std::vector<calibration::finding> findings(const capture::run& run, double data_sheet_noise) {
    auto all = calibration::findings_of_step(step_of(run), twelve_bits(data_sheet_noise), gain, at);
    for (const auto& f : further_findings(run, data_sheet_noise)) {
        if (std::none_of(all.begin(), all.end(), [&](const auto& other) { return other.number == f.number; })) all.push_back(f);
    }
    return all;
}

inline bool has(const std::vector<calibration::finding>& all, notice what) {
    return std::any_of(all.begin(), all.end(), [&](const auto& f) { return f.number == static_cast<int>(what); });
}

/// 1/f noise: 1 LSB in each two octaves of time, 0.5 LSB of white noise.
inline capture::run slow_noise(std::uint64_t seed) {
    return signals::sampled({.n = 20000, .noise = 0.5, .flicker = 1.0}, seed).run;
}

/// Three samples of 1000 off by 12 LSB, in 1 LSB of noise.
inline capture::run glitches(std::uint64_t seed) {
    capture::run run = signals::sampled({.n = 1000, .noise = 1.0}, seed).run;
    generator random(seed + 1);
    for (int i = 0; i < 3; ++i) run.codes[static_cast<std::size_t>(1000.0 * random.uniform())] += 12;
    return run;
}

/// A sine of 0.7 LSB anywhere from 5 periods in the capture to half the sample rate, in 0.7 LSB of noise.
inline capture::run line(std::uint64_t seed) {
    generator random(seed);
    const double f = 5.0 / 2000.0 + (0.49 - 5.0 / 2000.0) * random.uniform();
    return signals::sampled({.n = 2000, .noise = 0.7, .sine = 0.7, .periods_per_sample = f}, seed).run;
}

/// The lowest or the second bit stuck, in 3 LSB of noise.
inline capture::run stuck(std::uint64_t seed) {
    capture::run run = signals::sampled({.n = 1000, .noise = 3.0}, seed).run;
    const auto bit = static_cast<std::int32_t>(1U << (seed % 2));
    for (std::int32_t& c : run.codes) c = seed % 3 == 0 ? c | bit : c & ~bit;
    return run;
}

/// 1 LSB of noise of which 0.6 stays from sample to sample: 1000 samples count as 250.
inline capture::run with_memory(std::uint64_t seed) { return signals::sampled({.n = 1000, .noise = 1.0, .phi = 0.6}, seed).run; }

/// A line of 2 LSB, 1 to 4 Hz above or below 50 Hz, some ten periods of it in 0.8 LSB of noise.
inline capture::run beside_mains(std::uint64_t seed) {
    generator random(seed);
    const double off = 1.0 + 3.0 * random.uniform();
    const double at_hertz = random.uniform() < 0.5 ? 50.0 - off : 50.0 + off;
    return signals::sampled({.n = 2000, .noise = 0.8, .sine = 2.0, .periods_per_sample = at_hertz / 10e3}, seed).run;
}

/// How many of so many captures have the finding, judged among 120 of one calibration. A line at 50 or 60 Hz is told of as hum.
template <class Make>
int found(int captures, notice what, double data_sheet_noise, Make make) {
    const double chance = calibration::alarm_of_one({120, 0});
    int count = 0;
    for (int i = 0; i < captures; ++i) {
        const auto all = further_findings(make(5000 + static_cast<std::uint64_t>(i)), data_sheet_noise, chance);
        count += has(all, what) || (what == notice::spectral_line && has(all, notice::hum)) ? 1 : 0;
    }
    return count;
}

}  // namespace capture_cases
