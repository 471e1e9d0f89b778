#pragma once
// What capture/volts.hpp needs to turn a waveform's codes into volts, each with its plus-or-minus, from a calibration.

#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/capture/volts.hpp>
#include <plumbline/export.hpp>

namespace plumbline::inline v0::calibration {

/// Lines and compact form of a range, that of a record for one. U is that of one sample at calibration, at the record's coverage
/// probability: within the range never below what reading() states, but for the float's 2 parts in 10^7, and above it by at most
/// compact.largest_excess. Beyond the range it is not bounded; age, temperature and supply are not in it: reading_in_use() has them.
[[nodiscard]] PLUMBLINE_EXPORT capture::code_to_volts code_to_volts(const range_calibration& of);

}  // namespace plumbline::inline v0::calibration
