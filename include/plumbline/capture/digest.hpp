#pragma once
// SHA-256 (FIPS 180-4): the digest by which a record names the capture files that it came from.

#include <plumbline/export.hpp>
#include <string>
#include <string_view>

namespace plumbline::inline v0::capture {

/// SHA-256 of bytes as 64 lower-case hexadecimal digits.
[[nodiscard]] PLUMBLINE_EXPORT std::string sha256_hex(std::string_view bytes);

}  // namespace plumbline::inline v0::capture
