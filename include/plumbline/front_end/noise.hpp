#pragma once
// Noise that resistors make, and what it leaves of a converter's bits.

#include <algorithm>
#include <cmath>
#include <numbers>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::front_end {

/// rms voltage of a resistance's thermal noise in a bandwidth: sqrt(4 k T R B). At a node without sources of their own that is the noise of
/// all resistors together, R being what the node shows (Nyquist). k = 1.380649e-23 J/K, exact.
[[nodiscard]] inline voltage thermal_noise(resistance r, celsius at, frequency bandwidth) {
    constexpr double k = 1.380649e-23;
    return std::sqrt(4.0 * k * (at.degrees + 273.15) * r.value() * bandwidth.value()) * volt;
}

/// Bandwidth of a rectangle that lets through as much white noise as one pole: pi/2 f3dB.
[[nodiscard]] inline frequency noise_bandwidth(frequency f_3dB) { return 0.5 * std::numbers::pi * f_3dB; }

/// Bits that stand still in single samples: log2(2^N / (6.6 sigma)), N at most. 6.6 sigma hold all but one sample in a thousand: common
/// practice, no source.
/// @param sigma  rms noise besides quantisation, >= 0
[[nodiscard]] inline double noise_free_bits(int bits, codes sigma) {
    const double free = bits - std::log2(6.6 * sigma.value());
    return std::clamp(free, 0.0, static_cast<double>(bits));
}

/// Effective bits by noise and quantisation alone: log2(2^N / sqrt(12 (sigma^2 + 1/12))); N for sigma = 0. Non-linearity takes more.
/// Source: IEEE Std 1241, effective number of bits (an ideal converter's noise is q/sqrt(12)).
[[nodiscard]] inline double effective_bits(int bits, codes sigma) {
    return bits - 0.5 * std::log2(12.0 * sigma.value() * sigma.value() + 1.0);
}

}  // namespace plumbline::inline v0::front_end
