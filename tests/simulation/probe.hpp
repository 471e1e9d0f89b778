#pragma once
// A simulated probe before an instrument, fed by a square wave. Written apart from the library, like instrument.hpp.

#include <cstddef>
#include <cstdint>
#include <simulation/random.hpp>
#include <vector>

namespace plumbline::simulation {

/// Tip - R parallel C - connector - R_in parallel C_in - ground.
struct probe_circuit {
    double r = 9e6;         ///< ohm
    double c = 12e-12;      ///< F
    double r_in = 1e6;      ///< ohm
    double c_in = 108e-12;  ///< F
};

/// Straight edges, flat parts that fall towards the middle by `droop` of the amplitude over half a period.
struct fed_wave {
    double frequency = 100.0;  ///< Hz
    double amplitude = 5.0;    ///< V at the tip, either side of 0 V
    double rise_time = 0.0;    ///< s, 10 % to 90 %
    double droop = 0.0;
};

/// Stepped non-linearity: for each group of 8 of 4096 codes its own, anywhere within the limits (codes).
[[nodiscard]] std::vector<double> draw_inl(double limits, generator& random);

/// Codes of a 12-bit converter with 2048 codes for +-full_scale volts at the connector. The circuit's node equation is integrated in small
/// steps from rest; the first three periods are not captured.
/// @param inl  as draw_inl makes it, or none
[[nodiscard]] std::vector<std::int32_t> capture_probe(const probe_circuit& circuit, const fed_wave& wave, double sample_rate,
                                                      std::size_t samples, double full_scale, double noise_codes,
                                                      generator& random, const std::vector<double>& inl = {});

}  // namespace plumbline::simulation
