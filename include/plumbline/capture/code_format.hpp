#pragma once
// How the codes of a capture are written in its file.

namespace plumbline::inline v0::capture {

enum class code_format {
    csv,                       ///< as csv.hpp has it; in pieces of any length, but then in ASCII or UTF-8 only
    signed_16_little_endian,   ///< two bytes a sample, the lower first, -32768 to 32767; nothing else in the file
    unsigned_16_little_endian  ///< 0 to 65535
};

}  // namespace plumbline::inline v0::capture
