#pragma once
// What a capture says of the signal's level, and several captures of the noise of one sample.

#include <plumbline/calibration/solve.hpp>

#include <optional>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// The mean of a capture as a calibration takes it. Hum and slow noise come beside it.
struct captured_mean {
    codes u;  ///< type A
    double degrees_of_freedom = 1.0;
    codes to_position;  ///< from the arithmetic mean to the expected position before the quantiser
    codes half_width;   ///< that position lies within +- this of it, rectangular, beside u
};

/// Where the noise is proved to dither, mean and s as they are, and the quantiser's bias at most (capture::of_mean). Else position and u by
/// the likelihood of the codes that came up, or where these are not kept, half a code about the mean.
[[nodiscard]] captured_mean mean_of(const capture::statistics& seen);

/// How far a capture's mean wanders by slow noise from one capture to the next, standard uncertainty.
///
/// Flicker noise of density h / f, seen from its Allan deviation s: s^2 = 2 ln 2 h (D. W. Allan 1966, IEEE Std 1139, from memory). The mean
/// of a capture of length T scatters about what it is on average over a time E by the density times (sin(pi f T) / (pi f T))^2 from 1/E on:
///
///     w^2 = h (3/2 - Euler's constant - ln(2 pi T / E)) = h (ln(E / T) - 0.915),   E well above T
///
/// and by s^2 at least. Each capture and each reading is given a w of its own: what they have in common would cancel, so that is the safe
/// side. Noise that wanders faster than flicker noise is understated. The integral is derived here.
/// @param slow  of the step: its own, or slow_noise_beside
/// @pre longest_time > 0
[[nodiscard]] codes wandered(const capture::slow_noise& slow, const step& s, duration longest_time);

/// Slow noise of a step whose capture shows none although others of the same input do: theirs, pooled, as far as its own scatter leaves room
/// for it. Of n samples 1/f noise scatters by floor^2 / 2 for each of log2(n) octaves, so that the floor is s sqrt(2 / log2(n)) at most.
/// Nothing where the step shows its own, and where no other does.
[[nodiscard]] std::optional<capture::slow_noise> slow_noise_beside(const step& s, const std::vector<step>& of_input);

/// Hum that a capture says nothing of: shorter than a period of 50 or 60 Hz, or sampled too slowly.
struct unseen_hum {
    codes amplitude;
    codes largest_shift;  ///< of the capture's mean: the frequency is known, what of a period the capture has too
};

/// Nothing where hum was looked for at both frequencies, and where it is stated that there is none.
///
/// Where nothing is stated, hum counts as a sine that has all of the scatter that the capture shows, amplitude sqrt(2) s, or half a code where
/// that is more: of a capture of nearly one period there cannot be more. In a shorter one there can, and a figure for it has no source.
/// @param largest  amplitude, stated
[[nodiscard]] std::optional<unseen_hum> unseen_hum_of(const step& s, const std::optional<codes>& largest);

/// Sines that are stated for the place, amplitudes in codes.
struct stated_lines {
    std::optional<codes> hum{};  ///< of mains; none: by the scatter of captures that cannot show it
    codes slow{};                ///< 0: none is known
    frequency slow_at{};         ///< 0: slower than every capture
};

/// What is stated at the connector, by the nominal gain.
[[nodiscard]] stated_lines lines_of(const range_setup& of);
[[nodiscard]] stated_lines lines_of(const range_calibration& of);

/// The same for the means of captures in turn: what a sine does to each is part of their scatter, where they are at least a period apart. Of a
/// slower one the whole amplitude counts.
[[nodiscard]] stated_lines lines_of_turns(const stated_lines& of, const std::vector<repeated_capture>& turns);

/// What the slow disturbance moves the mean of n samples by, at any phase: nothing where they last for one of its periods or more, since
/// their scatter has it then; all of it where its frequency, or theirs, is not known, or where fewer than fewest_samples_in_a_period fall
/// into its period, so that it may stand still.
[[nodiscard]] codes shift_by_slow(const stated_lines& of, std::size_t n, frequency sample_rate);

/// Where a capture says that the signal stands, and how well: the estimates and variances of a step's rows (add_captured_code) in one, for
/// figures that have no rows of their own.
struct captured_level {
    codes mean;  ///< less hum's shift, at the position before the quantiser
    codes u;
    double degrees_of_freedom = 1.0;  ///< effective ones (Welch-Satterthwaite, JCGM 100:2008, G.4)
};

/// @param in_turn  a step whose captures stand together: what hum does to each is part of their scatter; lines by lines_of_turns
[[nodiscard]] captured_level level_of(const step& s, duration longest_time, const stated_lines& lines, bool in_turn = false);

/// One sample of a reading, by all captures together.
struct sampled_noise {
    codes u;
    double degrees_of_freedom = 1.0;
    codes half_width;  ///< of quantisation, rectangular, beside u
    codes hum;         ///< amplitude; 0 where no capture shows any clearly, nor is too short to show it
    codes wandered;    ///< by slow noise; 0 where no capture shows any
    double degrees_of_wandering = 1.0;
    codes slow;  ///< amplitude of the slow disturbance; 0 where all captures show it
};

/// Where the noise of all captures is proved to dither, their s pooled (JCGM 100:2008, 4.2.4), which holds the quantiser's own scatter. Else
/// the noise before the quantiser and, beside it, half a code of one sample, wherever in its code it lies.
/// @param turns  captures of seen, where these are of several in turn
[[nodiscard]] sampled_noise noise_of(const std::vector<step>& seen, duration longest_time, const stated_lines& lines,
                                     const std::vector<repeated_capture>& turns = {});

/// "1 day", "90 s".
[[nodiscard]] std::string time_text(duration t);

/// Stated for the range, or a day.
[[nodiscard]] duration longest_time_of(const range_calibration& of);
[[nodiscard]] duration longest_time_of(const std::optional<duration>& stated, const std::string& begun, const std::string& ended);

}  // namespace plumbline::inline v0::calibration
