#include <algorithm>
#include <cstddef>
#include <plumbline/certificate/certificate.hpp>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "printable.hpp"
#include "sheet.hpp"

namespace plumbline::inline v0::certificate {
namespace {

constexpr std::size_t page_width = 80;
constexpr std::string_view no_break_space = "\xC2\xA0";

/// Without the marks that kept figures on one line.
std::string plain_blanks(std::string text) {
    for (std::size_t at = text.find(no_break_space); at != std::string::npos; at = text.find(no_break_space, at)) {
        text.replace(at, no_break_space.size(), " ");
    }
    return text;
}

/// Cuts a text after so many code points.
std::string_view first_points(std::string_view text, std::size_t n) {
    std::size_t end = 0;
    for (; end < text.size(); ++end) {
        const bool begins = (static_cast<unsigned char>(text[end]) & 0xC0u) != 0x80u;
        if (begins && n-- == 0) break;
    }
    return text.substr(0, end);
}

std::vector<std::string_view> words_of(std::string_view text) {
    std::vector<std::string_view> words;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(' '), text.size());
        if (end > 0) words.push_back(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return words;
}

/// The text in lines of at most the page's width. A word longer than a line is cut.
/// @param first, rest  what the first and the other lines begin with, as wide as each other or rest shorter
std::string wrapped(std::string_view text, std::string_view first, std::string_view rest) {
    std::string out;
    std::string line(first);
    std::size_t used = code_points(first);
    const std::size_t indent = code_points(rest);
    bool begun = false;
    const auto end_line = [&] {
        out += plain_blanks(line) + '\n';
        line = rest;
        used = indent;
        begun = false;
    };
    for (std::string_view word : words_of(text)) {
        std::size_t width = code_points(word);
        if (begun && used + 1 + width > page_width) end_line();
        if (begun) {
            line += ' ';
            ++used;
        }
        while (used + width > page_width) {
            const std::string_view part = first_points(word, page_width - used);
            line += part;
            word.remove_prefix(part.size());
            width -= page_width - used;
            end_line();
        }
        line += word;
        used += width;
        begun = true;
    }
    end_line();
    return out;
}

std::string as_text(const paragraph& p) { return wrapped(p.text, "", ""); }

std::string as_text(const items& i) {
    std::string out;
    for (const std::string& t : i.texts) out += wrapped(t, "- ", "  ");
    return out;
}

std::string as_text(const fields& f) {
    std::string out;
    if (!f.caption.empty()) out += wrapped(f.caption + ':', "", "");
    for (const field& one : f.all) out += wrapped(one.label + ": " + one.value, "  ", "    ");
    return out;
}

/// A sentence for each row: columns cannot be heard.
std::string as_text(const table& t) {
    std::string out = t.caption.empty() ? "" : wrapped(t.caption + ':', "", "") + '\n';
    for (const auto& row : t.rows) {
        std::string sentence = t.rows_have_names ? row.front() : t.columns.front() + ' ' + row.front();
        const char* before = ": ";
        for (std::size_t c = 1; c < row.size(); ++c) {
            if (row[c].empty()) continue;
            const bool symbol = t.columns[c].size() == 1;  // is not parted from its figure
            sentence += before + t.columns[c];
            sentence += symbol ? no_break_space : " ";
            sentence += row[c];
            before = "; ";
        }
        out += wrapped(sentence + '.', "- ", "  ");
    }
    return out;
}

std::string as_text(const picture&) { return {}; }  // its figures are those of the table beside it

}  // namespace

std::string text(const record::record& of, rounding how) {
    const sheet s = make_sheet(of, how);
    std::string out = wrapped(s.title + ' ' + s.number, "", "") + wrapped(s.subtitle, "", "");
    for (const std::string& notice : s.notices) out += '\n' + wrapped(notice, "", "");
    for (const section& part : s.sections) {
        out += (part.part_of_previous ? "\n" : "\n\n") + wrapped(part.number + ". " + part.heading, "", "") + '\n';
        bool first = true;
        for (const block& b : part.blocks) {
            const std::string lines = std::visit([](const auto& any) { return as_text(any); }, b);
            if (!first && !lines.empty()) out += '\n';
            first = false;
            out += lines;
        }
    }
    return out + "\n\n" + wrapped(s.end_mark, "", "");
}

}  // namespace plumbline::inline v0::certificate
