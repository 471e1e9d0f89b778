#pragma once
// The paper view of a record: a calibration certificate as text and as one HTML file.

#include <plumbline/certificate/rounding.hpp>
#include <plumbline/export.hpp>
#include <string>

namespace plumbline::inline v0::record {
struct record;
}

namespace plumbline::inline v0::certificate {

/// The certificate in UTF-8, 80 columns, lines ended by '\n'. Headings and sentences, so that it can also be read aloud.
///
/// Both forms are made of the record alone and of the same sheet of finished figures: they cannot differ. What a record does not state is
/// said to be absent. Control characters and the like in the record's texts are shown as symbols, never sent on. Nothing depends on clock,
/// locale or environment.
///
/// @param how  rounding of every expanded uncertainty; the certificate names it
/// @throws bad_input  the record's inputs do not carry its ranges, or a figure is not finite: no certificate is better than a wrong one
/// Source of the contents: ISO/IEC 17025:2017, 7.8.2 to 7.8.8; JCGM 100:2008, 7.2; ILAC-P14:09/2020; ILAC-G8:09/2019, 4.2.
[[nodiscard]] PLUMBLINE_EXPORT std::string text(const record::record& of, rounding how = rounding::nearest);

/// The certificate as one self-contained HTML page that is also well-formed XML: no script, no network, no other files; light or dark as the
/// reader's device asks; A4 pages with number and page count when printed.
/// @throws bad_input  as text()
[[nodiscard]] PLUMBLINE_EXPORT std::string html(const record::record& of, rounding how = rounding::nearest);

}  // namespace plumbline::inline v0::certificate
