#pragma once
// Raw codes from a text file: one code a line, or comma-separated columns under a header line.
//
//     # pocket scope, channel A, input shorted
//     # sample rate: 10 kHz
//     A,B
//     2047,2051
//
// Accepted: comment lines that begin with '#', blank lines, spaces around a cell, a leading '+' or '-', a missing last line end. A first
// line with a cell that begins with a letter is a header. Only the chosen column has to hold codes; the other ones (a time in seconds,
// say) need the right number of cells, none empty. The comment "# sample rate: NUMBER Hz" (or kHz), once, states the sample rate.
//
// Also accepted, as spreadsheets write it: semicolons or tabs instead of commas (the first line that has one of the three decides),
// cells in quotation marks, empty cells at the end of a line beyond the header's, rows of separators alone; UTF-8 with a byte order mark,
// UTF-16 with one; line ends LF, CRLF or, throughout, CR.
// Refused by name: two kinds of separator in the line that decides; codes with a comma or a point, "12,0" too, since a spreadsheet shows
// 12.04 so; line breaks within cells; UTF-32, binary data, hexadecimal. Lines end at 4096 characters, files at 256 MiB.

#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>

#include <string>
#include <string_view>

namespace plumbline::inline v0::capture {

/// Reads a capture from text.
/// @param text    the whole contents of the file
/// @param name    file name, as messages shall show it
/// @param column  the column to take; may be empty when there is only one
/// @return        at least one code
/// @throws bad_input  naming file, line, what was found, what was expected and what to do; it quotes at most 40 characters of the
/// file
[[nodiscard]] PLUMBLINE_EXPORT run parse_csv(std::string_view text, const std::string& name, const std::string& column = "");

/// The whole contents of a capture file of at most 256 MiB. Read once: what parse_csv and sha256_hex then say of them belongs together,
/// whatever becomes of the file.
/// @param file  its path, in the encoding of the system
/// @throws bad_input  the file is missing, not a regular file, unreadable, too large (seen before anything is read) or not of the size that
///                    it had when it was opened
[[nodiscard]] PLUMBLINE_EXPORT std::string read_bytes(const std::string& file);

/// parse_csv of read_bytes.
[[nodiscard]] PLUMBLINE_EXPORT run read_csv(const std::string& file, const std::string& column = "");

}  // namespace plumbline::inline v0::capture
