#pragma once
// The form of a session file as a JSON Schema, for the editor in which it is written. cal_records/session.schema.json is this text.

#include <plumbline/export.hpp>
#include <string>

namespace plumbline::inline v0::session {

/// JSON Schema (draft 7) of a session file, the same bytes each time, ending in a line feed. It refuses no session that read_session reads;
/// what a schema cannot say is listed in record/schema.hpp.
[[nodiscard]] PLUMBLINE_EXPORT std::string session_schema();

}  // namespace plumbline::inline v0::session
