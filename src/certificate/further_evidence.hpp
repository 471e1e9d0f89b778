#pragma once
// What a certificate says of captures beyond one per step.

#include <plumbline/calibration/range_calibration.hpp>
#include <string>
#include <vector>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// File, column, sample rate and digest of a capture.
[[nodiscard]] std::string capture_text(const calibration::capture_evidence& e);

[[nodiscard]] std::vector<block> further_evidence(const calibration::range_calibration& range);

}  // namespace plumbline::inline v0::certificate
