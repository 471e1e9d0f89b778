#pragma once
// Transfer: a calibrated range as the reference of another.

#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// The voltage that a calibrated range read while another was connected to it, for use in that one's step or check point. Whatever the
/// reading depends on stays a shared input: the error of the reference that calibrated the first range comes back in the second.
///
/// @param reference  id under which the first range stands among the references
/// @param name       unique for this range
/// @param inputs     gains those of this capture
/// @throws bad_step  the capture is clipped, not finite or too short
[[nodiscard]] PLUMBLINE_EXPORT applied transferred(const range_calibration& from, const std::string& reference,
                                                   const std::string& name, const capture_evidence& evidence,
                                                   const capture::statistics& seen,
                                                   const std::vector<calibration::reference>& references,
                                                   uncertainty::input_set& inputs);

}  // namespace plumbline::inline v0::calibration
