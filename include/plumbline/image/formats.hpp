#pragma once
// An image as the files that programmers of flash and compilers take: raw, Intel HEX, C header.

#include <plumbline/export.hpp>
#include <plumbline/image/image.hpp>

#include <cstdint>
#include <string>
#include <string_view>

namespace plumbline::inline v0::image {

/// The bytes as they are, for a file.
[[nodiscard]] PLUMBLINE_EXPORT std::string raw(const bytes& image);

/// Intel HEX: 16 bytes a line, ended by line feeds, no record across a 64 KiB boundary, extended linear addresses (type 04) where an address
/// is beyond 16 bits. Source: the public description of the format (revision A, 1988), from memory.
/// @param address  of the first byte
/// @throws bad_input  the bytes would reach beyond 32 bits
[[nodiscard]] PLUMBLINE_EXPORT std::string intel_hex(const bytes& image, std::uint32_t address);

/// What an Intel HEX file holds.
struct placed_bytes {
    std::uint32_t address = 0;  ///< of the first byte
    bytes what;
};

/// Record types 00, 01, 02 and 04; start addresses (03, 05) mean nothing here. Letters and line ends of either kind.
/// @param file  name of the file, as messages shall show it
/// @throws bad_input  naming file and line: no such record, a checksum that does not fit, a gap between the bytes, no end record or something
///                    behind it; or no bytes at all
[[nodiscard]] PLUMBLINE_EXPORT placed_bytes from_intel_hex(std::string_view text, const std::string& file);

/// The bytes of a file that was read back from an instrument: Intel HEX where it begins with ':', else raw. @throws bad_input as from_intel_hex
[[nodiscard]] PLUMBLINE_EXPORT bytes from_file(std::string_view contents, const std::string& file);

/// A header for C99 and C++ that defines `static const uint8_t NAME[SIZE]`.
/// @param name  an identifier of C, from letters, digits and '_'
/// @throws bad_input  it is none
[[nodiscard]] PLUMBLINE_EXPORT std::string c_header(const bytes& image, const std::string& name = "plumbline_image");

}  // namespace plumbline::inline v0::image
