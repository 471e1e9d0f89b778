#pragma once
// A sine fitted to a capture: amplitude, offset and frequency with their uncertainties, and what is left: noise, SINAD, effective bits.

#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>

#include <cstdint>
#include <optional>
#include <string>

namespace plumbline::inline v0::capture {

struct sine_fit {
    std::string not_testable;  ///< empty: fitted. Else what was found, what is expected and what to do
    codes amplitude{};         ///< half of peak to peak
    codes u_amplitude{};
    codes offset{};  ///< of its middle line, from code 0
    codes u_offset{};
    double periods_per_sample = 0.0;
    double u_periods_per_sample = 0.0;  ///< 0 where the frequency was given
    std::optional<frequency> at{};      ///< where the sample rate is known, whose own uncertainty is not counted
    std::optional<frequency> u_at{};
    codes noise{};  ///< rms of what is left, distortion and quantisation included; divisor n - 4, or n - 3
    codes u_noise{};
    double sinad = 0.0;    ///< dB: rms of the sine over noise
    double u_sinad = 0.0;  ///< dB
    double enob = 0.0;     ///< bits: log2(full scale / (noise sqrt 12))
    double u_enob = 0.0;
    friend bool operator==(const sine_fit&, const sine_fit&) = default;
};

/// Least squares of C + A cos(2 pi f t) + B sin(2 pi f t) through the samples.
///
/// Three parameters where f is given; four where it is not: then it is sought in the spectrum and fitted by Gauss and Newton.
/// Uncertainties are those of linear least squares at the solution, with noise that is independent from sample to sample: 1.4 noise /
/// sqrt n of the amplitude. Effective bits refer to the full scale, whatever the amplitude.
///
/// Not testable: fewer than 16 samples or than one period; samples on an end code, where the sine may be cut off; no sine that stands
/// out of the noise, as with a steady voltage (amplitude below five times its uncertainty; frequency not given: none in the spectrum);
/// less than 0.05 code left, where quantisation hides.
///
/// @param bottom_code, top_code  of the converter
/// @param periods_per_sample     where known: above 0 and below 1/2
/// @throws bad_input  it lies outside
/// Source: IEEE Std 1057, sine-wave fitting with three and with four parameters, and IEEE Std 1241, SINAD and ENOB, by their terms in
/// tests/reference/converters.json; covariance of least squares, derived here.
[[nodiscard]] PLUMBLINE_EXPORT sine_fit fit_sine(const run& r, std::int32_t bottom_code, std::int32_t top_code,
                                                 std::optional<double> periods_per_sample = {});

/// Signal to noise of an ideal converter with a full-scale sine: 20 log10(2^bits sqrt(3/2)), in dB.
[[nodiscard]] PLUMBLINE_EXPORT double ideal_snr(double bits);

/// Effective bits from SINAD of a full-scale sine, in dB: the inverse of ideal_snr.
[[nodiscard]] PLUMBLINE_EXPORT double effective_bits(double sinad);

}  // namespace plumbline::inline v0::capture
