#pragma once
// One range calibrated at two temperatures: measured coefficients, in place of those of data sheets.

#include <plumbline/calibration/reading.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <vector>

namespace plumbline::inline v0::calibration {

/// A calibration with what it needs to be evaluated. Kept by reference: they must outlive the call.
struct calibrated {
    const range_calibration& of;
    const uncertainty::input_set& inputs;
    const std::vector<reference>& references;
};

/// Change of gain, relative to that of the first calibration, of the voltage at code 0, and of that at the second calibration's zero step, per
/// kelvin. A reading V moves by zero + gain (V - V0) per kelvin.
struct temperature_coefficients {
    uncertainty::uncertain<per_kelvin> gain;
    uncertainty::uncertain<volts_per_kelvin> offset;
    uncertainty::uncertain<volts_per_kelvin> zero;
};

// What belongs to the instrument and to the references is one and the same in both calibrations, and cancels as far as it does; captures and
// temperatures are new in each. So is the data sheet's stepped non-linearity, except at steps whose mean codes differ by one code or less: there
// it is taken as the same, and as not depending on temperature. The ambient of each calibration is taken to lie within its temperature_half_width. References by a temperature
// coefficient of their own bring it in: the coefficient found is the instrument's, with that uncertainty.
//
// @throws bad_input  another channel, range, mode or chain; temperatures that do not differ by more than both half-widths

[[nodiscard]] PLUMBLINE_EXPORT temperature_coefficients coefficients_by(const calibrated& first, const calibrated& second);

/// The same with U, k by convolution at this probability, as the record of the second calibration keeps it. Number, digest and date of the first
/// are left to the caller.
[[nodiscard]] PLUMBLINE_EXPORT seen_at_two_temperatures seen_by(const calibrated& first, const calibrated& second,
                                                                double probability);

/// The reading at a temperature now, on the straight line between both calibrations (or beyond them):
///
///     V = V1(c) + (V2(c) - V1(c)) (T - T1) / (T2 - T1)
///
/// The parts' data-sheet coefficients do not enter for the temperature of the reading.
/// @param now, half_width  of the instrument; half_width >= 0
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> reading_between(const calibrated& first, const calibrated& second,
                                                                               codes c, celsius now, kelvins half_width,
                                                                               double samples = 1.0);

}  // namespace plumbline::inline v0::calibration
