#pragma once
// What a run of codes says as a whole: mean, scatter, how many of its samples are independent, end codes, drift, hum.

#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace plumbline::inline v0::capture {

/// The straight line through a capture, by least squares.
struct trend {
    codes change;  ///< from the first sample to the last
    codes u;       ///< its standard uncertainty, with trend_degrees_of_freedom
    friend bool operator==(const trend&, const trend&) = default;
};
/// Of trend::u and spectral_line::u at least: 16 batches less 4 parameters.
inline constexpr double trend_degrees_of_freedom = 12.0;

/// A sine of known frequency in a capture, fitted by least squares together with mean and trend.
struct spectral_line {
    frequency at;
    double periods = 0.0;  ///< of it in the capture, at least 1
    codes amplitude;       ///< half of peak to peak
    codes u;               ///< standard uncertainty of its cosine and of its sine part, the larger of the two
    friend bool operator==(const spectral_line&, const spectral_line&) = default;
};

/// Hum, or a line close to its frequency, that stands out clearly, with what it does to the mean: a fraction of a period does not average out,
/// but amplitude and phase are known.
struct removed_hum {
    frequency at;
    codes amplitude;  ///< half of peak to peak
    codes shift;      ///< of the arithmetic mean by it; mean less shift is the better estimate
    codes u;  ///< standard uncertainty of shift, from the fit and from a frequency known to 1 % or, off 50 and 60 Hz, as fitted
    codes noise;         ///< s of one sample without it
    double n_eff = 1.0;  ///< of the samples without it
    friend bool operator==(const removed_hum&, const removed_hum&) = default;
};

/// Noise that hangs together for longer than a capture lasts: the Allan deviation has stopped falling.
struct slow_noise {
    codes floor;                      ///< of the Allan deviation; under 1/f noise the same for any averaging time
    double degrees_of_freedom = 1.0;  ///< of floor
    codes white;                      ///< of one sample, what averages out: white / sqrt(n) is left of it in the mean
    friend bool operator==(const slow_noise&, const slow_noise&) = default;
};

/// Samples on one code.
struct code_count {
    std::int32_t code = 0;
    std::size_t samples = 0;
    friend bool operator==(const code_count&, const code_count&) = default;
};

inline constexpr std::int32_t most_few_codes = 7;

/// Where hum is looked for: Hz.
inline constexpr std::array<double, 2> mains_frequencies{50.0, 60.0};
/// Of their frequency: grid, inverter and the converter's clock together (common practice, no source).
inline constexpr double mains_tolerance = 0.01;
inline constexpr double fewest_samples_in_a_period = 2.5;
inline constexpr std::size_t fewest_for_hum = 16;  ///< samples, and a period at least

struct statistics {
    std::size_t n;     ///< samples
    codes mean;        ///< arithmetic mean (JCGM 100:2008, 4.2.1)
    codes s;           ///< experimental standard deviation of one sample, divisor n - 1 (JCGM 100:2008, 4.2.2); 0 when n is 1
    double n_eff;      ///< the mean scatters as s / sqrt(n_eff); 1 <= n_eff <= n. See summarise
    std::int32_t min;  ///< lowest code
    std::int32_t max;  ///< highest code
    std::size_t at_bottom;  ///< samples on the bottom code of the converter or below
    std::size_t at_top;     ///< samples on the top code of the converter or above
    codes drift;            ///< mean of the last quarter (n / 4 rounded down, at least 1 sample) minus mean of the first
    codes noise{};          ///< s of what trend and hum leave; s itself below 16 samples
    std::optional<capture::trend> slope{};  ///< absent below 16 samples
    std::vector<spectral_line> hum{};       ///< at 50 and 60 Hz, each where it can be judged: see summarise
    std::optional<removed_hum> removed{};   ///< where hum stands out: see summarise
    std::optional<slow_noise> slow{};       ///< where noise does not average out: see summarise
    std::vector<code_count> few_codes{};    ///< the histogram where lowest and highest code are at most most_few_codes apart

    friend bool operator==(const statistics&, const statistics&) = default;
};

/// Statistics of a run.
///
/// Sums are of whole numbers or of deviations from the mean: an offset of the codes costs no digits (JCGM GUM-6:2020, 8.6.5).
///
/// n_eff is n unless the samples are visibly correlated. Seen are lags 1 to min(10, n/5), by the statistic of Ljung and Box
/// against the 99.9 % quantile of chi-squared: of captures of white noise 1 to 3 in 1000 are taken for correlated (measured; up
/// to 8 where nearly all samples lie on one code, none below 12 samples). Then
///
///     n_eff = n / (1 + 2 sum rho_k),  within [1, n]
///
/// with the sum ended by Geyer's initial positive sequence: before the first pair rho_2j + rho_2j+1 that is not above 0. Lags go
/// to n/4 and at most 256; where the sequence has not ended there, neighbours are averaged two by two and it is tried again, so
/// slow noise is seen to a quarter of the capture however long it is. Cost: at most 512 n multiplications.
///
/// Limits: correlation is not seen in fewer than 9 samples, and weak correlation not in few (phi = 0.3 in 200 samples: every
/// other time); noise slower than the capture is not seen at all; hum counts as noise although it averages out over whole periods
/// (n_eff is then too small, the safe side); samples that alternate have n_eff = n, never more.
///
/// Trend and hum, with t the time from the middle of the capture, are the least-squares fit of
///
///     m + g t + a cos(2 pi f t) + b sin(2 pi f t)
///
/// once with 50 and once with 60 Hz, each where the sample rate is known, at least one period lies within the capture and at least 2.5
/// samples lie in a period. Below one period a sine is not told from a trend. slope and noise are of the fit that explains more, or of
/// m + g t alone where no hum can be judged. Whole periods need not be captured: the fit accounts for the rest.
///
/// u is robust to autocorrelation: its noise level is the larger of two, that of the single samples and that of the means of 16 batches
/// (times the root of their length), both of what the fit leaves. White noise is overstated by 6 to 15 % (measured); noise that hangs
/// together for more than a sixteenth of the capture is understated, and may pass for trend or hum. Quantisation comes beside u, as it does
/// beside s: see largest_false_trend.
///
/// A line close by, within one period in the capture, leaks into 50 and 60 Hz. Where a sine exceeds 5 u its frequency is fitted too; if
/// that is off 50 or 60 Hz by more than 1 % and 6 standard uncertainties, hum is what is left without this line. Lines farther away are not
/// looked for: see one_pass.hpp.
///
/// Hum is removed - counted as a shift of the mean that is known, not as noise - where its amplitude exceeds 8 u and it explains half of the
/// sum of squares or more. n_eff, s and drift stay those of the samples as they are.
///
/// slow noise is looked for in 256 samples or more, without hum that is removed: A(m) = mean of (next mean of m samples - this one)^2 / 2
/// at m = n/8, n/16 ... n/4096 or one sample, overlapping, is fitted by a / m + b, b >= 0, with the likelihood of chi-squared (degrees of freedom of
/// overlapping Allan variances of white and of flicker noise). Where b raises twice the logarithm of the likelihood by more than 16, floor
/// is sqrt(b), fitted again without m below n/1024, and n_eff at most s^2 / b: no longer capture raises it. Of 10 000 captures of white noise
/// some eight are taken for slow (seen in simulation). Noise that hangs together for some 1/200 of a capture looks the same, and so does
/// drift; what is slower than a capture and weaker than its white noise cannot be seen.
///
/// @param r            the run; hum needs its sample rate
/// @param bottom_code  lowest code of the converter, below top_code
/// @param top_code     highest code of the converter
/// @pre   1 <= number of samples < 2^31
/// Sources (from memory): G. M. Ljung, G. E. P. Box, Biometrika 65 (1978) 297-303; C. J. Geyer, Practical Markov chain Monte
/// Carlo, Statistical Science 7 (1992) 473-483, section 3.3. Least squares with time from the middle: even and odd terms part, so
/// that two pairs of normal equations are left; derived here.
[[nodiscard]] PLUMBLINE_EXPORT statistics summarise(const run& r, std::int32_t bottom_code, std::int32_t top_code);

/// The most that a sine moves the mean of the n samples that it was seen in, whatever its phase (codes): nothing over whole periods P, else
///
///     amplitude |sin(pi P)| / (n sin(pi P / n)),   about amplitude / (pi P) at most
///
/// Source: sum of a geometric series.
[[nodiscard]] PLUMBLINE_EXPORT codes largest_shift_of_mean(const spectral_line& of, std::size_t n);

/// What an error that stays within +- half_width codes, quantisation for one, can add to a trend at most: 3 half_width, when it steps from
/// one limit to the other in the middle. Derived here from the least-squares slope.
[[nodiscard]] constexpr codes largest_false_trend(codes half_width) { return 3.0 * half_width; }

/// And to the amplitude of a sine: 2 half_width at most, at one period; over many 4 / pi half_width, when it is a square wave (first term of
/// its Fourier series). Computed from the weights of the fit.
[[nodiscard]] constexpr codes largest_false_amplitude(codes half_width) { return 2.0 * half_width; }

}  // namespace plumbline::inline v0::capture
