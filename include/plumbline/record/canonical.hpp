#pragma once
// Canonical form (RFC 8785) and digest of what an adjustment hangs on: an image names by it the record that it was made from.

#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>

#include <string>

namespace plumbline::inline v0::record {

/// The sections device, correction and budget of a record in canonical form, without a line feed at the end:
///
///     device      the record's member of that name
///     correction  for each range: channel, range, mode, correction, negative_correction where there is one
///     budget      model, coverage_probability, ambient, dates, references, inputs, correlations, and for each range chain, ambient,
///                 temperature_half_width, the steps, nominal_gain, in_use where it is stated, compact
///
/// and of a probe's record
///
///     device, probe   the record's members of these names
///     budget          ambient, dates
///
/// each value as to_json writes it. Not among them: people, place, method, check points, findings, what was judged by which rule, comparisons,
/// checks made after storing. So none of these changes the digest.
/// @throws bad_input  as to_json
[[nodiscard]] PLUMBLINE_EXPORT std::string canonical_sections(const record& r);

/// SHA-256 of these as 64 lower-case hexadecimal digits. @throws bad_input  as to_json
[[nodiscard]] PLUMBLINE_EXPORT std::string sections_digest(const record& r);

}  // namespace plumbline::inline v0::record
