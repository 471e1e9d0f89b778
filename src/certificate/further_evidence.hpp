#pragma once
// What a certificate says of captures beyond one per step.

#include <plumbline/calibration/range_calibration.hpp>
#include <string>
#include <vector>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// File, column, sample rate and digest of a capture.
[[nodiscard]] std::string capture_text(const calibration::capture_evidence& e);

/// The points of a line through more than two, and whether they lie on it; empty where there is none.
[[nodiscard]] std::vector<block> points_of_line(const calibration::range_calibration& range);

/// The sample rate as it was measured, and by the clock's data sheet. @pre the record has one of them
[[nodiscard]] section clock_section(const record::record& of, rounding how);

/// Repetitions, other channels, warming up, supplies, temperatures.
[[nodiscard]] std::vector<block> further_evidence(const calibration::range_calibration& range);

}  // namespace plumbline::inline v0::certificate
