#include <plumbline/error.hpp>

#include <fmt/format.h>

#include <cstddef>

namespace plumbline::inline v0 {
namespace {

/// A character that acts on a terminal instead of showing there. bytes is 0 where the text begins with none.
struct acting {
    unsigned code_point = 0;
    std::size_t bytes = 0;
};

acting acting_at(std::string_view text) {
    const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
    if (byte(0) < 0x20 || byte(0) == 0x7f) return {byte(0), 1};
    if (byte(0) == 0xc2 && byte(1) >= 0x80 && byte(1) <= 0x9f) return {byte(1), 2};
    if (byte(0) == 0xd8 && byte(1) == 0x9c) return {0x61c, 2};
    if (byte(0) != 0xe2 || (byte(1) & 0xc0U) != 0x80U || (byte(2) & 0xc0U) != 0x80U) return {};
    const unsigned c = 0x2000U | ((byte(1) & 0x3fU) << 6U) | (byte(2) & 0x3fU);
    const bool acts = c == 0x200e || c == 0x200f || (c >= 0x2028 && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069);
    return acts ? acting{c, 3} : acting{};
}

}  // namespace

std::string in_one_line(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const acting a = acting_at(text);
        if (a.bytes > 0)
            out += fmt::format("\\u{:04x}", a.code_point);
        else
            out += text.front();
        text.remove_prefix(a.bytes > 0 ? a.bytes : 1);
    }
    return out;
}

}  // namespace plumbline::inline v0
