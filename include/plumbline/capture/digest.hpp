#pragma once
// SHA-256 (FIPS 180-4): the digest by which a record names the capture files that it came from.

#include <filesystem>
#include <string>
#include <string_view>

namespace plumbline::capture {

/// SHA-256 of bytes as 64 lower-case hexadecimal digits.
[[nodiscard]] std::string sha256_hex(std::string_view bytes);

/// SHA-256 of the contents of a file of any size, read in pieces.
/// @throws bad_input  the file is missing, not a regular file or unreadable
[[nodiscard]] std::string sha256_of_file(const std::filesystem::path& file);

}  // namespace plumbline::capture
