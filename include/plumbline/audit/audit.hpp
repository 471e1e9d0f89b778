#pragma once
// Is this instrument, with this probe, in this mode, good enough for that job?

#include <plumbline/audit/job.hpp>
#include <plumbline/audit/report.hpp>
#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>

namespace plumbline::inline v0::audit {

/// Goes through all that can spoil the job, and through what would change the verdict.
///
/// The reading is that of the record in use (calibration/reading.hpp): at the job's age, temperature and number of samples, through probe
/// and source (front_end/node.hpp). A reading is good enough where it stays within what is allowed with the job's confidence, all that is
/// left uncorrected (loading, bandwidth, sampling, compensation) lying to one side of it.
///
/// @throws bad_input  the record is none of an instrument or has no such channel and range; the job is before the calibration
[[nodiscard]] PLUMBLINE_EXPORT report audit(const record::record& r, const job& j);

}  // namespace plumbline::inline v0::audit
