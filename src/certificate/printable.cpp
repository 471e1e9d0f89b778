#include "printable.hpp"

#include <algorithm>
#include <cstddef>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::certificate {
namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";

bool is_continuation(char c) { return (static_cast<unsigned char>(c) & 0xC0u) == 0x80u; }

struct decoded {
    char32_t value = 0;
    std::size_t length = 0;  ///< 0 where these bytes are no character
};

/// The character at the beginning, in its shortest form only and no surrogate (Unicode 15, table 3-7).
decoded first_of(std::string_view text) {
    const auto lead = static_cast<unsigned char>(text.front());
    if (lead < 0x80) return {lead, 1};
    const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
    if (lead < 0xC2 || lead > 0xF4 || text.size() < length) return {};
    char32_t value = lead & (0x7Fu >> length);
    for (std::size_t i = 1; i < length; ++i) {
        if (!is_continuation(text[i])) return {};
        value = value << 6 | (static_cast<unsigned char>(text[i]) & 0x3Fu);
    }
    constexpr char32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    if (value < least[length] || value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF)) return {};
    return {value, length};
}

bool misleads(char32_t c) {
    const auto within = [c](char32_t first, char32_t last) { return c >= first && c <= last; };
    return (c >= 0x80 && acts(c)) || c == 0xFEFF || within(0xFDD0, 0xFDEF) || (c & 0xFFFE) == 0xFFFE;
}

}  // namespace

std::string printable(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const decoded c = first_of(text);
        if (c.length == 0 || misleads(c.value)) {
            out += replacement;
        } else if (c.value < 0x20 || c.value == 0x7F) {
            const auto symbol = static_cast<unsigned char>(c.value == 0x7F ? 0x21 : c.value);
            out += "\xE2\x90";
            out += static_cast<char>(0x80u + symbol);
        } else {
            out += text.substr(0, c.length);
        }
        text.remove_prefix(std::max<std::size_t>(c.length, 1));
    }
    return out;
}

std::size_t code_points(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return !is_continuation(c); }));
}

}  // namespace plumbline::inline v0::certificate
