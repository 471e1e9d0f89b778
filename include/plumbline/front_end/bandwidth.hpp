#pragma once
// What limited bandwidth and sampling do to a signal. One pole each, unless it says otherwise.

#include <cmath>
#include <numbers>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::front_end {

/// Amplitude of a sine after one pole, over that before: 1/sqrt(1 + (f / f3dB)^2). Poles in a row multiply.
[[nodiscard]] inline ratio one_pole_amplitude(frequency f, frequency f_3dB) {
    const double x = (f / f_3dB).value();
    return ratio(1.0 / std::sqrt(1.0 + x * x));
}

/// Rise time, 10 % to 90 %, of one pole: ln 9 / (2 pi f3dB), commonly 0.35 / f3dB.
[[nodiscard]] inline duration rise_time(frequency f_3dB) { return std::log(9.0) / (2.0 * std::numbers::pi) / f_3dB; }

/// Pole of a source resistance with the capacitance that it feeds: 1 / (2 pi R C).
[[nodiscard]] inline frequency pole(resistance r, capacitance c) { return 1.0 / (2.0 * std::numbers::pi * (r * c)); }

/// What one pole of this rise time has not reached a time after a step, as a fraction of it: exp(-t / tau), tau = t_rise / ln 9.
[[nodiscard]] inline ratio not_reached(duration t, duration rise_time) {
    return ratio(std::exp(-std::log(9.0) * (t / rise_time).value()));
}

/// Rise times in a row, by root-sum-square: exact for Gaussian responses, some per cent off for single poles.
[[nodiscard]] inline duration in_a_row(duration a, duration b) { return duration::from_value(std::hypot(a.value(), b.value())); }

/// The rise time before, from that seen after: the inverse of in_a_row. 0 where nothing but the instrument is seen.
/// Source: EURAMET cg-7, version 1.0 (2011-06), from memory.
[[nodiscard]] inline duration before(duration seen, duration of_instrument) {
    const double square = (seen.value() - of_instrument.value()) * (seen.value() + of_instrument.value());
    return duration::from_value(square > 0.0 ? std::sqrt(square) : 0.0);
}

/// Highest sample of a sine over its amplitude, at worst: cos(pi f / fs), and 0 for fewer than two samples a period.
/// Source: the peak lies half an interval from the nearest sample.
[[nodiscard]] inline ratio sampled_peak(frequency f, frequency sample_rate) {
    const double x = (f / sample_rate).value();
    return ratio(x < 0.5 ? std::cos(std::numbers::pi * x) : 0.0);
}

/// Frequency at which f shows when it is sampled: |f - fs round(f / fs)|, f itself up to fs / 2.
[[nodiscard]] inline frequency alias(frequency f, frequency sample_rate) {
    const double x = (f / sample_rate).value();
    return std::abs(x - std::round(x)) * sample_rate;
}

/// What is left of a sine's amplitude in the mean of n samples: |sin(pi n f/fs) / (n sin(pi f/fs))|, 1 at multiples of fs.
/// Source: sum of a geometric series.
[[nodiscard]] inline ratio left_in_a_mean(frequency f, frequency sample_rate, double n) {
    const double x = std::numbers::pi * (alias(f, sample_rate) / sample_rate).value();
    return ratio(x < 1e-9 ? 1.0 : std::abs(std::sin(n * x) / (n * std::sin(x))));
}

}  // namespace plumbline::inline v0::front_end
