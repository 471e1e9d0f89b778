#pragma once
// A probe by its answer to a square wave: compensation, rise time, overshoot.

#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>

namespace plumbline::inline v0::calibration {

/// What feeds the probe while it is captured, and what it stands before.
struct square_wave {
    frequency at;          ///< within 1 % of what is captured, > 0
    duration rise_time{};  ///< 10 % to 90 %, its own
    ratio droop{};         ///< limits of its own fall over half a period, as a fraction of the amplitude; 0: none is looked for
    resistance series;     ///< of the probe, > 0
    resistance input_resistance;  ///< of the instrument, > 0
};

/// What the square wave shows of a probe. A time constant R C of the probe, R_in C_in of the input.
struct probe_step {
    ratio mismatch;           ///< R C / (R_in C_in) - 1: above 0 over-compensated, below 0 under-compensated
    ratio U_mismatch;         ///< k = 2
    duration time_constant;   ///< with which the step settles: (R || R_in)(C + C_in). 0 where no mismatch can be seen
    duration rise_time;       ///< 10 % to 90 % of the settled step, the square wave's own taken off; good to a sample
    ratio overshoot;          ///< highest mean beyond the settled step, as a fraction of it; 0 if there is none
    codes step;               ///< size of the settled step
    std::size_t periods = 0;  ///< that were seen
    codes noise;              ///< rms of one sample about what was fitted
};

/// The settled step is approached as
///
///     v = B +- A (1 + D exp(-t / tau) + g t)        D = 2 d / (1 + exp(-T / (2 tau)))
///
/// from one edge to the next, T the period; 1 + d is front_end::compensation_step of the mismatch, solved for it. B, A, A D and A g (where
/// the square wave may droop) by least squares over all periods, tau by search.
///
/// @param run    codes with their sample rate
/// @param where  name of the capture for messages
/// @throws bad_input  no sample rate; fewer than 5 periods; fewer than 30 samples between edges; a step below 20 codes or 20 times the noise;
///                    codes on an end of the converter; an edge too slow, or a settling too fast or too slow for this sample rate or this
///                    square wave: what is needed is said
/// Source: capacitive and resistive divider; least squares. Within 0.05 of the mismatch on simulated captures, see tests.
[[nodiscard]] PLUMBLINE_EXPORT probe_step probe_by_square_wave(const capture::run& run, const square_wave& fed, int top_code,
                                                               const std::string& where);

/// Ratio of two settled steps of one square wave, x1 over x10: the probe's factor, with U (k = 2) from noise and quantisation alone.
struct probe_ratio {
    ratio value;
    ratio U;
    codes direct;  ///< size of each settled step
    codes divided;
};
[[nodiscard]] PLUMBLINE_EXPORT probe_ratio ratio_by_steps(const capture::run& direct, const capture::run& divided,
                                                          const square_wave& fed, int top_code, const std::string& where);

}  // namespace plumbline::inline v0::calibration
