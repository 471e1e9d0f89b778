#pragma once
// The inputs that a range brings into the record.

#include <plumbline/calibration/solve.hpp>

namespace plumbline::calibration {

/// Inputs of a step or check point under the identity `at`: mean code, quantisation, non-linearity.
void add_captured_code(uncertainty::input_set& to, const std::string& at, const std::string& label, const step& s,
                       const front_end::converter& adc);

/// Error of the reference applied, and of the divider and reference behind it.
/// @throws bad_input  the same reference is stated with U and k in one place and with limits in another
void add_reference_error(uncertainty::input_set& to, const applied& a, const std::vector<reference>& references,
                         const std::string& where, kelvins temperature_half_width);

/// Data-sheet inputs of the front end: deviations, temperature coefficients, converter.
void add_front_end(uncertainty::input_set& to, const std::string& of_range, const front_end::chain& chain);

/// Noise, quantisation and non-linearity of one sample, noise from both steps together.
void add_reading(uncertainty::input_set& to, const std::string& of_range, const step& zero, const step& reference,
                 const front_end::converter& adc);

}  // namespace plumbline::calibration
