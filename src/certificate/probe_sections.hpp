#pragma once
// The results of a probe, and the checks made after a calibration, as sections of the sheet.

#include <plumbline/record/record.hpp>
#include <vector>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// "PS-2, serial number 0007, channel A, range 10 V"
[[nodiscard]] std::string input_text(const calibration::probed_input& on);

/// What was found, in a few lines. @pre of is the record of a probe
[[nodiscard]] section probe_summary(const record::record& of, rounding how);

/// @pre of is the record of a probe
[[nodiscard]] std::vector<section> probe_sections(const record::record& of, rounding how);

/// Checks on site and of what the instrument stores. @pre there is one
[[nodiscard]] section later_checks(const record::record& of, rounding how);

}  // namespace plumbline::inline v0::certificate
