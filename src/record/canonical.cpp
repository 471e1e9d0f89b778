#include "canonical.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <utility>
#include <vector>

namespace plumbline::inline v0::record {

namespace {

using nlohmann::json;

/// Order of two texts in UTF-8 by their UTF-16 units. It is the order of their bytes, but for characters beyond U+FFFF: their units, D800 and
/// up, come before those of U+E000 to U+FFFF, whose UTF-8 begins with EE or EF.
bool comes_first(const std::string& a, const std::string& b) {
    const auto rank = [](char c) {
        const auto byte = static_cast<unsigned char>(c);
        return byte == 0xee || byte == 0xef ? byte + 0x10 : byte;
    };
    return std::lexicographical_compare(a.begin(), a.end(), b.begin(), b.end(),
                                        [&](char x, char y) { return rank(x) < rank(y); });
}

std::string canonical_text(const std::string& text) {
    try {
        return json(text).dump();  // escapes what must be escaped, in the short form where there is one: RFC 8785, 3.2.2.2
    } catch (const json::type_error&) {
        throw bad_input("canonical form", "found a text that is not UTF-8", "UTF-8", "convert the text before it is used");
    }
}

void write(const json& value, std::string& out) {
    if (value.is_object()) {
        std::vector<std::pair<std::string, const json*>> members;
        for (const auto& [name, member] : value.items()) members.emplace_back(name, &member);
        std::sort(members.begin(), members.end(), [](const auto& a, const auto& b) { return comes_first(a.first, b.first); });
        out += '{';
        for (const auto& [name, member] : members) {
            if (out.back() != '{') out += ',';
            out += canonical_text(name) + ':';
            write(*member, out);
        }
        out += '}';
    } else if (value.is_array()) {
        out += '[';
        for (const json& item : value) {
            if (out.back() != '[') out += ',';
            write(item, out);
        }
        out += ']';
    } else if (value.is_number()) {
        const double x = value.get<double>();
        if (!std::isfinite(x))
            throw bad_input("canonical form", "found a number that is not finite", "a finite one", "correct it");
        out += canonical_number(x);
    } else if (value.is_string()) {
        out += canonical_text(value.get_ref<const std::string&>());
    } else {
        out += value.dump();  // true, false, null
    }
}

/// The members of these names that there are.
json part_of(const json& whole, std::initializer_list<const char*> names) {
    json part = json::object();
    for (const char* name : names) {
        if (whole.contains(name)) part[name] = whole[name];
    }
    return part;
}

}  // namespace

std::string canonical_number(double x) {
    if (x == 0.0) return "0";
    std::array<char, 32> text{};
    const char* const end = std::to_chars(text.data(), text.data() + text.size(), std::abs(x), std::chars_format::scientific).ptr;
    const char* const e = std::find(static_cast<const char*>(text.data()), end, 'e');
    std::string digits(static_cast<const char*>(text.data()), e);
    if (digits.size() > 1) digits.erase(1, 1);  // the point
    int exponent = 0;
    std::from_chars(e[1] == '+' ? e + 2 : e + 1, end, exponent);
    const int point = exponent + 1;  // digits before the point
    const int size = static_cast<int>(digits.size());
    const auto zeros = [](int n) { return std::string(static_cast<std::size_t>(n), '0'); };
    std::string out = x < 0.0 ? "-" : "";
    if (size <= point && point <= 21) return out + digits + zeros(point - size);
    if (0 < point && point <= 21) return out + digits.insert(static_cast<std::size_t>(point), ".");
    if (-6 < point && point <= 0) return out + "0." + zeros(-point) + digits;
    if (size > 1) digits.insert(1, ".");
    return out + digits + (exponent < 0 ? "e-" : "e+") + std::to_string(std::abs(exponent));
}

std::string canonical_json(const json& value) {
    std::string out;
    write(value, out);
    return out;
}

std::string canonical_sections(const record& r) {
    const json whole = json::parse(to_json(r));
    if (r.what == kind::probe) {
        return canonical_json(
            {{"device", whole["device"]}, {"probe", whole["probe"]}, {"budget", part_of(whole, {"ambient", "dates"})}});
    }
    json correction = json::array();
    json ranges = json::array();
    for (const json& range : whole["ranges"]) {
        correction.push_back(part_of(range, {"channel", "range", "mode", "correction", "negative_correction"}));
        ranges.push_back(part_of(range, {"chain", "ambient", "temperature_half_width", "zero", "reference", "negative",
                                         "nominal_gain", "in_use", "compact", "points", "crosstalk", "warm_up", "temperatures"}));
    }
    json budget = part_of(whole, {"model", "coverage_probability", "ambient", "dates", "references", "inputs", "correlations"});
    budget["ranges"] = std::move(ranges);
    return canonical_json({{"device", whole["device"]}, {"correction", std::move(correction)}, {"budget", std::move(budget)}});
}

std::string sections_digest(const record& r) { return capture::sha256_hex(canonical_sections(r)); }

}  // namespace plumbline::inline v0::record
