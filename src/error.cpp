#include <plumbline/error.hpp>

#include <fmt/format.h>

#include <cstddef>

namespace plumbline::inline v0 {

bool acts(char32_t c) {
    return c < 0x20 || (c >= 0x7f && c <= 0x9f) || c == 0x61c || c == 0x200e || c == 0x200f || (c >= 0x2028 && c <= 0x202e) ||
           (c >= 0x2066 && c <= 0x2069);
}

namespace {

/// A character that acts. bytes is 0 where the text begins with none.
struct acting {
    unsigned code_point = 0;
    std::size_t bytes = 0;
};

acting acting_at(std::string_view text) {
    const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
    const auto more = [&](std::size_t i) { return (byte(i) & 0xc0U) == 0x80U; };
    acting c{byte(0), 1};
    if (byte(0) >= 0xc2 && byte(0) <= 0xdf && more(1)) c = {((byte(0) & 0x1fU) << 6U) | (byte(1) & 0x3fU), 2};
    if (byte(0) >= 0xe1 && byte(0) <= 0xef && more(1) && more(2))
        c = {((byte(0) & 0xfU) << 12U) | ((byte(1) & 0x3fU) << 6U) | (byte(2) & 0x3fU), 3};
    const bool alone = c.bytes == 1 && byte(0) >= 0x80;  // a byte that begins no such character
    return !alone && acts(c.code_point) ? c : acting{};
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
