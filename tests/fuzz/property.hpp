#pragma once
// What the fuzzers share. A property that does not hold ends the program after saying which one, and of what.

#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

namespace fuzz {

inline void expect(bool holds, const char* property, std::string_view of) {
    if (holds) return;
    std::fprintf(stderr, "does not hold: %s\n%.*s\n", property, static_cast<int>(of.size()), of.data());
    std::abort();
}

/// Whether a terminal would do something else with a text than show it on one line: control characters, C1 controls, marks and overrides of
/// direction, separators of lines.
inline bool steers(std::string_view text) {
    for (std::size_t i = 0; i < text.size(); ++i) {
        const auto byte = static_cast<unsigned char>(text[i]);
        const std::string_view two = text.substr(i, 2);
        const std::string_view three = text.substr(i, 3);
        const bool c1 = two >= "\u0080" && two <= "\u009f";
        const bool turns = two == "\u061c" || three == "\u200e" || three == "\u200f" ||
                           (three >= "\u2028" && three <= "\u202e") || (three >= "\u2066" && three <= "\u2069");
        if (byte < 0x20 || byte == 0x7f || c1 || turns) return true;
    }
    return false;
}

/// What every refusal must be: "where: found, expected ...; remedy", where beginning with the file, of bounded length.
inline void expect_refusal(const std::string& said, const std::string& file, std::size_t longest) {
    expect(said.starts_with(file), "a refusal begins with the file", said);
    const std::size_t expected = said.find(", expected ");
    expect(expected != std::string::npos && said.find("; ", expected) != std::string::npos,
           "a refusal says what was expected and what to do", said);
    expect(said.size() <= longest, "a refusal has a bounded length", said);
}

/// Number of the line that a refusal names right after the file, 0 where it names none.
inline std::size_t line_named(const std::string& said, const std::string& file) {
    constexpr std::string_view mark = ", line ";
    if (said.compare(file.size(), mark.size(), mark) != 0) return 0;
    return std::strtoull(said.c_str() + file.size() + mark.size(), nullptr, 10);
}

}  // namespace fuzz
