#pragma once
// What a refusal of a JSON file must name: a line, or a place that the file has.

#include "property.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace fuzz {

/// 64 levels of keys cut at 100 bytes and "/...", each byte at most an escape of 6; quotes of 40 characters and lists of known fields.
constexpr std::size_t longest_json_refusal = 64 * (6 * 100 + 4) + 4096;

/// Whether the document has what a JSON pointer names, or an object that lacks just the last token. Tokens that a message cut or escaped
/// are taken as there.
inline bool has_place(const nlohmann::json& document, std::string_view pointer) {
    const nlohmann::json* at = &document;
    while (!pointer.empty()) {
        const std::size_t end = std::min(pointer.find('/', 1), pointer.size());
        std::string token(pointer.substr(1, end - 1));
        pointer.remove_prefix(end);
        if (token.find("...") != std::string::npos || token.find("\\u") != std::string::npos) return true;
        for (std::size_t i = token.find('~'); i != std::string::npos; i = token.find('~', i + 1)) {
            if (token.compare(i, 2, "~1") == 0) token[i] = '/';
            token.erase(i + 1, 1);
        }
        if (at->is_array()) {
            if (token.empty() || token.find_first_not_of("0123456789") != std::string::npos) return false;
            const std::size_t i = std::strtoull(token.c_str(), nullptr, 10);
            if (i >= at->size()) return false;
            at = &(*at)[i];
        } else if (at->is_object()) {
            const auto found = at->find(token);
            if (found == at->end()) return pointer.empty();
            at = &*found;
        } else {
            return false;
        }
    }
    return true;
}

/// Whether some beginning of what follows the file names a place; a key may hold ": found" itself.
inline bool names_place(std::string_view after_file, const nlohmann::json& document) {
    constexpr std::string_view found = ": found ";
    for (std::size_t end = after_file.find(found); end != std::string_view::npos; end = after_file.find(found, end + 1)) {
        if (has_place(document, after_file.substr(0, end))) return true;
    }
    return false;
}

constexpr std::size_t longest_text = 65536;

/// Whether one of the outermost fields has a name that is refused as a text: its place is the whole file.
inline bool has_odd_name(const nlohmann::json& document) {
    const auto items = document.items();
    return std::any_of(items.begin(), items.end(),
                       [](const auto& item) { return steers(item.key()) || item.key().size() > longest_text; });
}

inline void expect_json_refusal(const std::string& said, const std::string& file, std::string_view text) {
    expect_refusal(said, file, longest_json_refusal);
    expect(!steers(said), "a refusal shows on one line as it is", said);
    const auto lines = 1 + static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
    if (const std::size_t line = line_named(said, file); line > 0) {
        expect(line <= lines, "a refusal names a line of the file", said);
        return;
    }
    const nlohmann::json document = nlohmann::json::parse(text, nullptr, false);
    if (document.is_discarded()) return;  // refused on the way, before a mistake further down, or for having nothing in it
    if (said.compare(file.size(), 3, ": /") != 0) {
        expect(!document.is_object() || has_odd_name(document), "a refusal of an object names a place in it", said);
        return;
    }
    expect(names_place(std::string_view(said).substr(file.size() + 2), document), "a refusal names a place that the file has",
           said);
}

}  // namespace fuzz
