#pragma once
// The form of a record as a JSON Schema, for editors and for programs in other languages. cal_records/record.schema.json is this text.
//
// The schema comes from the description that to_json and from_json visit. It refuses no record that from_json reads. The other way round it
// cannot say everything: names that point to another part of the record, dates in order, sums and bounds between fields, a temperature above
// absolute zero, a key given twice, control characters, and the sizes (16 MiB a file, 64 KiB a text) are left to from_json.

#include <plumbline/export.hpp>
#include <string>

namespace plumbline::inline v0::record {

/// JSON Schema (draft 7) of a record, the same bytes each time, ending in a line feed.
[[nodiscard]] PLUMBLINE_EXPORT std::string record_schema();

}  // namespace plumbline::inline v0::record
