#pragma once
// A record as JSON text (RFC 8259).
//
// "plumbline": "record", "schema": 1, "kind", and then every member of record.hpp under its own name, few exceptions. A figure with a
// dimension is a text of number, space and coherent unit with the shortest digits that read back bit for bit: "4.096 V", "2.5e-05 1/K";
// counts, ratios and flags are JSON numbers and booleans; infinite degrees of freedom are "infinite".

#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>

#include <string>
#include <string_view>

namespace plumbline::inline v0::record {

/// The record as JSON, the same bytes each time; from_json gives back an equal record, bit for bit.
/// @throws bad_input  the record is one that from_json would refuse: a figure not finite, a reference that is not there ...
[[nodiscard]] PLUMBLINE_EXPORT std::string to_json(const record& r);

/// A record from JSON. Units may also be written as people do: "220 kohm", "0.1 %", "25 ppm/K".
/// @param file  name of the file, as messages shall show it
/// @throws bad_input  naming file, JSON pointer (RFC 6901), what was found and what to do: not JSON (with its line), not UTF-8, another kind
///                    of file, a newer schema, a field missing, unknown, given twice, of the wrong type or unit or out of its limits, a name
///                    that points nowhere, over 16 MiB, nested beyond 64, a text over 64 KiB or with control characters
[[nodiscard]] PLUMBLINE_EXPORT record from_json(std::string_view text, const std::string& file);

/// The same from a file.
/// @param file  its path, in the encoding of the system
/// @throws bad_input  also when the file is missing, not a regular file or unreadable
[[nodiscard]] PLUMBLINE_EXPORT record read_record(const std::string& file);

}  // namespace plumbline::inline v0::record
