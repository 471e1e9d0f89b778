#pragma once
// Raw codes from a text file: one code a line, or comma-separated columns under a header line.
//
//     # pocket scope, channel A, input shorted
//     # sample rate: 10 kHz
//     A,B
//     2047,2051
//
// Accepted: comment lines that begin with '#', blank lines, spaces around a cell, a leading '+' or '-', LF or CRLF, a missing
// last line end, a UTF-8 byte order mark. A first line with a cell that begins with a letter is a header. Only the chosen column
// has to hold codes; the other ones (a time in seconds, say) need the right number of cells, none empty.
// The comment "# sample rate: NUMBER Hz" (or kHz), once, states the sample rate.
// Not read: quoted cells, semicolons, tabs, decimal commas, UTF-16, hexadecimal. Lines end at 4096 characters, files at 256 MiB.

#include <plumbline/capture/run.hpp>

#include <filesystem>
#include <string>
#include <string_view>

namespace plumbline::capture {

/// Reads a capture from text.
/// @param text    the whole contents of the file
/// @param name    file name, as messages shall show it
/// @param column  the column to take; may be empty when there is only one
/// @return        at least one code
/// @throws bad_input  naming file, line, what was found, what was expected and what to do; it quotes at most 40 characters of the
/// file
[[nodiscard]] run parse_csv(std::string_view text, const std::string& name, const std::string& column = "");

/// Reads a capture from a file of at most 256 MiB; the rest as parse_csv.
/// @throws bad_input  also when the file is missing, not a regular file, unreadable or too large (seen before anything is read)
[[nodiscard]] run read_csv(const std::filesystem::path& file, const std::string& column = "");

}  // namespace plumbline::capture
