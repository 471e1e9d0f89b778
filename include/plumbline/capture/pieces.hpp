#pragma once
// Captures that may be larger than memory: read in pieces from a file or a stream, each piece handed on and forgotten.
//
//     capture::one_pass seen(0, 4095);
//     const auto read = capture::read_pieces("night.csv", {}, [&](auto piece) { seen.add(piece); });
//     if (read.sample_rate) seen.sampled_at(*read.sample_rate);

#include <plumbline/capture/code_format.hpp>
#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/function.hpp>

#include <cstdint>
#include <iosfwd>
#include <optional>
#include <span>
#include <string>

namespace plumbline::inline v0::capture {

struct piece_layout {
    code_format format = code_format::csv;
    std::string column;  ///< of CSV; may be empty when there is only one
};

/// How far it has come.
struct reading_progress {
    std::uint64_t bytes = 0;
    std::optional<std::uint64_t> of_bytes;  ///< absent for a stream, whose length is not known
    std::uint64_t samples = 0;
};

/// What was read.
struct pieces_read {
    std::uint64_t samples = 0;
    std::uint64_t bytes = 0;
    std::optional<frequency> sample_rate;  ///< stated in CSV
    std::string sha256;                    ///< of all bytes, as digest.hpp's
};

using piece_taker = uncertainty::function<void(std::span<const std::int32_t>)>;
using progress_listener = uncertainty::function<void(const reading_progress&)>;

/// Reads a regular file. Memory: some 3 MiB, whatever its length.
/// @param file    its path
/// @param take    gets the codes in their order, in pieces of any length, none empty; called by this thread, as report is
/// @param report  called after each piece (1 MiB of the file); may be left out
/// @return        at least one sample was read
/// @throws bad_input  as read_csv, naming file and line or byte; and whatever take throws. Pieces handed on before are not taken back
PLUMBLINE_EXPORT pieces_read read_pieces(const std::string& file, const piece_layout& layout, const piece_taker& take,
                                         const progress_listener& report = {});

/// The same from a stream, standard input for one, opened in binary mode.
/// @param name  as messages shall show it
PLUMBLINE_EXPORT pieces_read read_pieces(std::istream& in, const std::string& name, const piece_layout& layout,
                                         const piece_taker& take, const progress_listener& report = {});

}  // namespace plumbline::inline v0::capture
