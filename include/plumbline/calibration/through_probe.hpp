#pragma once
// A reading through a probe that the instrument was calibrated without: from the voltage at the connector to that at the probe's tip.

#include <plumbline/calibration/reading.hpp>
#include <plumbline/export.hpp>
#include <plumbline/front_end/probe.hpp>

namespace plumbline::inline v0::calibration {

/// The voltage at the tip, from a reading at the connector, whichever budget that has (front_end::unloaded):
///
///     V_tip = V + (V - V_open) R / R_in
///
/// R is the probe's series resistance with its tolerance, R_in and V_open are input resistance and open voltage of the range. R_in's resistors
/// are those of the range, deviations and temperature with them: what they do to the reading already and what they do here go together. Where the
/// probe's factor was measured on this input, factor - 1 takes the place of R / R_in, with its u. A probe that the instrument was calibrated
/// with changes nothing.
///
/// At 0 Hz: bandwidth and compensation are for an audit.
/// @param inputs        the record's inputs
/// @param at_connector  a result of reading, uncalibrated_reading or reading_in_use, of this range
/// @param when          the conditions of that reading
/// @throws bad_input    the probe's resistance not more than 0, its tolerance not from 0 to less than 1, its factor not more than 1, its u
///                      below 0, one of them not finite; an input of the range's resistors is missing
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> through_probe(const uncertainty::input_set& inputs,
                                                                             const range_calibration& of,
                                                                             const uncertainty::uncertain<voltage>& at_connector,
                                                                             const front_end::probe& probe,
                                                                             const reading_conditions& when);

/// The same of a difference of two readings or of peak to peak, in which V_open cancels.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> difference_through_probe(
    const uncertainty::input_set& inputs, const range_calibration& of, const uncertainty::uncertain<voltage>& at_connector,
    const front_end::probe& probe, const reading_conditions& when);

}  // namespace plumbline::inline v0::calibration
