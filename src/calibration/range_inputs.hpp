#pragma once
// The inputs that a range brings into the record.

#include "captured_mean.hpp"

#include <plumbline/calibration/solve.hpp>

namespace plumbline::inline v0::calibration {

/// When something was captured: a step or a check point.
struct moment {
    std::string id;     ///< of its inputs
    std::string label;  ///< in words
    std::string where;  ///< place in messages
    celsius ambient;
    kelvins temperature_half_width;
    duration longest_time{};  ///< between two captures or readings that one result joins; 0 where nothing is captured
    stated_lines lines{};     ///< of a step repeated in turn by lines_of_turns
};

/// How far a mean code may be off by scatter, seen from repeated captures in place of the samples of one.
struct scatter_of_turns {
    codes u;
    double degrees_of_freedom;
    std::size_t captures;
    codes half_width;  ///< of quantisation that the scatter does not hold: where it dithers, each capture has an error of its own
};

/// Inputs of a step or check point: mean code, quantisation, hum and slow noise where the capture shows them, hum and what
/// is stated where it is too short to, non-linearity, temperature of each part.
/// @pre add_front_end has been called for the range
void add_captured_code(uncertainty::input_set& to, const std::string& of_range, const moment& at, const step& s,
                       const front_end::chain& chain, const std::optional<scatter_of_turns>& turns = {},
                       const std::optional<capture::slow_noise>& slow_beside = {});

/// Error of the reference applied, of the divider and reference behind it, of its source's resistance.
/// @throws bad_input  the same reference is stated with U and k in one place and with limits in another; a reading is beyond its meter's
///                    range; a source resistance stands beside a divider, or behind a meter whose own resistance is not known
void add_applied_voltage(uncertainty::input_set& to, const applied& a, const std::vector<reference>& references,
                         const moment& at);

/// Data-sheet inputs of the front end: deviations, temperature coefficients, converter.
void add_front_end(uncertainty::input_set& to, const std::string& of_range, const front_end::chain& chain);

/// Noise, quantisation, hum, slow noise, slow disturbance and non-linearity of one sample, noise from all steps together.
/// @param turns  captures of seen, where these are of several in turn
void add_reading(uncertainty::input_set& to, const std::string& of_range, const std::vector<step>& seen,
                 const front_end::converter& adc, duration longest_time, const stated_lines& lines,
                 const std::vector<repeated_capture>& turns = {});

}  // namespace plumbline::inline v0::calibration
