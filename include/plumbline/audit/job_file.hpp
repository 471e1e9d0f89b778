#pragma once
// Job files: a job as JSON, its figures as texts with units. The form is cal_records/job.schema.json.

#include <plumbline/audit/job.hpp>
#include <plumbline/export.hpp>
#include <string>
#include <string_view>

namespace plumbline::inline v0::audit {

/// Version of the form of job files. Older ones are read, newer ones refused by name.
inline constexpr int schema_version = 1;

/// @param file  name of the file, as messages shall show it; a probe's record is found from its folder
/// @throws bad_input  as record::from_json; also a probe's record that cannot be read, or is none
[[nodiscard]] PLUMBLINE_EXPORT job job_from_json(std::string_view text, const std::string& file);

/// The same from a file. @param file  its path, in the encoding of the system
[[nodiscard]] PLUMBLINE_EXPORT job read_job(const std::string& file);

/// JSON Schema (draft 7) of a job file, the same bytes each time. It refuses no job that read_job reads.
[[nodiscard]] PLUMBLINE_EXPORT std::string job_schema();

}  // namespace plumbline::inline v0::audit
