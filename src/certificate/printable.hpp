#pragma once
// Texts that come from outside, made safe to look at.

#include <cstddef>
#include <string>
#include <string_view>

namespace plumbline::inline v0::certificate {

/// Valid UTF-8 of printable characters. Control characters become their symbols (U+2400 and on); what is not UTF-8, the marks that turn the
/// direction of writing, line separators and characters that XML forbids become U+FFFD.
[[nodiscard]] std::string printable(std::string_view text);

/// Number of code points. @pre valid UTF-8
[[nodiscard]] std::size_t code_points(std::string_view text);

}  // namespace plumbline::inline v0::certificate
