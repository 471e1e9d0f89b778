#include "figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <plumbline/error.hpp>
#include <utility>

namespace plumbline::inline v0::record {

namespace {

constexpr std::size_t longest_quote = 40;

bool is_digit(char c) { return c >= '0' && c <= '9'; }

std::size_t digits_at(std::string_view text, std::size_t from) {
    std::size_t end = from;
    while (end < text.size() && is_digit(text[end])) ++end;
    return end - from;
}

/// A decimal number at the beginning of a text: [sign] digits [. digits] [e [sign] digits], as two pieces of the text.
struct leading_number {
    std::string_view mantissa;
    int exponent = 0;
    std::size_t length = 0;  ///< 0 where there is none
};

leading_number leading_decimal(std::string_view text) {
    leading_number d;
    std::size_t at = !text.empty() && (text[0] == '-' || text[0] == '+') ? 1 : 0;
    const std::size_t whole = digits_at(text, at);
    if (whole == 0) return d;
    at += whole;
    if (at + 1 < text.size() && text[at] == '.' && is_digit(text[at + 1])) at += 1 + digits_at(text, at + 1);
    d.mantissa = text.substr(0, at);
    d.length = at;
    if (d.mantissa.front() == '+') d.mantissa.remove_prefix(1);  // from_chars knows no '+'
    if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
        std::size_t digits = at + 1;
        if (digits < text.size() && (text[digits] == '-' || text[digits] == '+')) ++digits;
        const std::size_t end = digits + digits_at(text, digits);
        if (end > digits) {
            const std::size_t first = text[at + 1] == '+' ? at + 2 : at + 1;
            if (std::from_chars(text.data() + first, text.data() + end, d.exponent).ec != std::errc() ||
                std::abs(d.exponent) > 9999) {
                return {};
            }
            d.length = end;
        }
    }
    return d;
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size())) {
        text.replace(at, from.size(), to);
    }
}

/// The unit as this library spells it. Symbols are compared as wholes between the '/' of a unit.
std::string spelt(std::string_view unit) {
    std::string text(unit);
    replace_all(text, "\xce\xa9", "ohm");      // Greek capital omega
    replace_all(text, "\xe2\x84\xa6", "ohm");  // ohm sign
    replace_all(text, "\xc2\xb5", "u");        // micro sign
    replace_all(text, "\xce\xbc", "u");        // Greek small mu
    replace_all(text,
                "\xc2\xb0"
                "C",
                "degC");
    for (const std::string_view trade : {"codes", "LSB"}) {
        if (text == trade) text = "code";
        if (text.ends_with("/" + std::string(trade))) text.replace(text.size() - trade.size(), trade.size(), "code");
    }
    return text;
}

bool takes_prefix(std::string_view unit) {
    const std::string_view first = unit.substr(0, unit.find('/'));
    return first == "V" || first == "ohm" || first == "A" || first == "Hz" || first == "s" || first == "K" || first == "F" ||
           first == "W";
}

/// Power of ten that turns a figure in the unit found into one in the coherent unit.
std::optional<int> decade(const std::string& found, std::string_view unit) {
    if (found == unit) return 0;
    if (unit.front() == '1') {  // "1" or "1/K"
        const std::string_view per = unit.substr(1);
        if (per.empty() && found.empty()) return 0;
        if (found == "%" + std::string(per)) return -2;
        if (found == "ppm" + std::string(per)) return -6;
        return {};
    }
    if (!takes_prefix(unit) || found.empty() || std::string_view(found).substr(1) != unit) return {};
    constexpr std::array<std::pair<char, int>, 7> prefixes{
        {{'p', -12}, {'n', -9}, {'u', -6}, {'m', -3}, {'k', 3}, {'M', 6}, {'G', 9}}};
    for (const auto& [letter, power] : prefixes) {
        if (found.front() == letter) return power;
    }
    return {};
}

struct example {
    std::string_view unit;
    const char* kind;
    const char* text;
};

constexpr std::array<example, 15> examples{{{"V", "a voltage", "4.096 V"},
                                            {"code", "a number of codes", "0.5 code"},
                                            {"ohm", "a resistance", "220 kohm"},
                                            {"A", "a current", "2 mA"},
                                            {"Hz", "a frequency", "10 kHz"},
                                            {"F", "a capacitance", "15 pF"},
                                            {"W", "a power", "250 mW"},
                                            {"s", "a time", "2 ms"},
                                            {"1", "a ratio", "0.1 %"},
                                            {"K", "a temperature difference", "2 K"},
                                            {"V/code", "a gain", "5 mV/code"},
                                            {"1/K", "a temperature coefficient", "25 ppm/K"},
                                            {"V/K", "a drift of a voltage", "5 uV/K"},
                                            {"A/K", "a drift of a current", "10 pA/K"},
                                            {"degC", "a temperature", "22.5 degC"}}};

}  // namespace

bool meets(double value, demand d) noexcept {
    if (d == demand::above_zero) return value > 0.0;
    if (d == demand::not_negative) return value >= 0.0;
    return !std::isnan(value);
}

std::optional<double> read_figure(std::string_view text, std::string_view unit) {
    const leading_number d = leading_decimal(text);
    if (d.length == 0) return {};
    std::string_view rest = text.substr(d.length);
    rest.remove_prefix(std::min(rest.find_first_not_of(' '), rest.size()));
    const std::optional<int> power = decade(spelt(rest), unit);
    if (!power) return {};
    const std::string number = fmt::format("{}e{}", d.mantissa, d.exponent + *power);
    double value = 0.0;
    if (std::from_chars(number.data(), number.data() + number.size(), value).ec != std::errc()) return {};
    const bool lost = value == 0.0 && d.mantissa.find_first_of("123456789") != std::string_view::npos;
    if (lost || !std::isfinite(value)) return {};
    return value;
}

std::string write_figure(double value, std::string_view unit) { return fmt::format("{} {}", value, unit); }

std::string describe_figure(std::string_view unit, demand d) {
    const auto known = std::find_if(examples.begin(), examples.end(), [&](const example& e) { return e.unit == unit; });
    const std::string above = d == demand::above_zero ? " above 0" : d == demand::not_negative ? " of 0 or more" : "";
    if (known == examples.end()) return fmt::format("a figure{} in {} such as \"1 {}\"", above, unit, unit);
    return fmt::format("{}{} such as \"{}\"", known->kind, above, known->text);
}

std::string shown(std::string_view text) {
    std::string quoted = "\"";
    std::size_t characters = 0;
    for (const char c : text) {
        const bool begins_character = (static_cast<unsigned char>(c) & 0xc0U) != 0x80U;
        if (begins_character && characters++ == longest_quote) {
            quoted += "...";
            break;
        }
        if (c == '"' || c == '\\') quoted += '\\';
        quoted += c;
    }
    return in_one_line(quoted + '"');
}

}  // namespace plumbline::inline v0::record
