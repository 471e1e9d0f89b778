#pragma once
// Generated words, numbers, and other ways to write the same JSON, for properties of files.

#include "property.hpp"

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace property {

/// One character as UTF-8: ASCII without control characters more often than not, else one of any length that is no control character.
inline std::string any_character() {
    const auto encoded = [](std::uint32_t c) -> std::string {
        const auto byte = [](std::uint32_t b) { return static_cast<char>(b); };
        if (c < 0x80) return {byte(c)};
        if (c < 0x800) return {byte(0xc0U | c >> 6U), byte(0x80U | (c & 0x3fU))};
        if (c < 0x10000) return {byte(0xe0U | c >> 12U), byte(0x80U | (c >> 6U & 0x3fU)), byte(0x80U | (c & 0x3fU))};
        return {byte(0xf0U | c >> 18U), byte(0x80U | (c >> 12U & 0x3fU)), byte(0x80U | (c >> 6U & 0x3fU)),
                byte(0x80U | (c & 0x3fU))};
    };
    switch (*rc::gen::inRange(0, 8)) {
        case 0:
            return encoded(*rc::gen::inRange<std::uint32_t>(0xa0, 0xd800));
        case 1:
            return encoded(*rc::gen::inRange<std::uint32_t>(0xe000, 0x110000));
        case 2:
            return *rc::gen::element<std::string>("\"", "\\", "\n", "\xe2\x80\xae", "{{", "</script>", "\xef\xbf\xbf");
        default:
            return encoded(*rc::gen::inRange<std::uint32_t>(0x20, 0x7f));
    }
}

/// Words that any text of a file may hold.
inline std::string any_text() {
    std::string text;
    for (int left = *rc::gen::inRange(0, 20); left > 0; --left) text += any_character();
    return text;
}

inline std::string some_words() { return "x" + any_text(); }

/// Any finite double, of all magnitudes alike or like those of a bench.
inline double any_double() {
    if (*rc::gen::arbitrary<bool>()) return 1e-6 * *rc::gen::inRange(-100'000'000, 100'000'000);
    std::uint64_t bits = 0;
    for (int i = 0; i < 4; ++i) bits = bits << 16U | *rc::gen::inRange<std::uint64_t>(0, 0x10000);
    const auto value = std::bit_cast<double>(bits);
    return std::isfinite(value) ? value : 0.25;
}

/// A figure in another spelling: "0.0041 V" as "41e-4 V" or "4.1 mV" would be, with the same decimal digits.
inline std::string respelt(const std::string& figure) {
    constexpr std::string_view prefixed[] = {"V", "ohm", "Hz", "K", "V/code", "V/K"};
    const std::size_t space = figure.find(' ');
    const std::string unit = figure.substr(space + 1);
    const std::size_t digits = figure.find_first_not_of("0123456789+-.e");
    if (space == std::string::npos || space == 0 || digits != space) return figure;
    const std::size_t e = std::min(figure.find('e'), space);
    const std::string mantissa = figure.substr(0, e);
    const int exponent = e < space ? std::stoi(figure.substr(e + 1, space - e - 1)) : 0;
    const auto with = [&](int moved, const std::string& spelling) {
        return mantissa + "e" + std::to_string(exponent + moved) + *rc::gen::element<std::string>("", " ", "  ") + spelling;
    };
    if (unit == "1/K") return with(6, "ppm/K");
    if (unit == "%") return with(4, "ppm");
    for (const std::string_view known : prefixed) {
        if (unit != known) continue;
        const auto& [prefix, power] =
            *rc::gen::element(std::pair{"", 0}, std::pair{"n", 9}, std::pair{"u", 6}, std::pair{"\xc2\xb5", 6}, std::pair{"m", 3},
                              std::pair{"k", -3}, std::pair{"M", -6});
        return with(power, prefix + unit);
    }
    return figure;
}

/// The same JSON with the fields of each object in another order, and figures in other spellings.
inline nlohmann::ordered_json in_other_words(const nlohmann::ordered_json& j) {
    using nlohmann::ordered_json;
    if (j.is_array()) {
        ordered_json other = ordered_json::array();
        for (const ordered_json& item : j) other.push_back(in_other_words(item));
        return other;
    }
    if (!j.is_object()) return j.is_string() ? ordered_json(respelt(j.get<std::string>())) : j;
    std::vector<std::string> keys;
    for (const auto& item : j.items()) keys.push_back(item.key());
    for (std::size_t i = keys.size(); i > 1; --i) std::swap(keys[i - 1], keys[*rc::gen::inRange<std::size_t>(0, i)]);
    ordered_json other = ordered_json::object();
    for (const std::string& key : keys) other[key] = in_other_words(j[key]);
    return other;
}

/// In one line or several, with or without what is beyond ASCII.
inline std::string any_dump(const nlohmann::ordered_json& j) {
    return j.dump(*rc::gen::inRange(-1, 5), *rc::gen::element(' ', '\t'), *rc::gen::arbitrary<bool>()) +
           *rc::gen::element<std::string>("", "\n", " \r\n\t");
}

}  // namespace property
