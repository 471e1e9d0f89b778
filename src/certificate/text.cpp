#include <algorithm>
#include <cstddef>
#include <plumbline/certificate/certificate.hpp>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "printable.hpp"
#include "sheet.hpp"

namespace plumbline::certificate {
namespace {

constexpr std::size_t page_width = 80;
constexpr std::string_view no_break_space = "\xC2\xA0";

std::string blanks(std::size_t n) { return std::string(n, ' '); }

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
        const std::size_t width = code_points(word);
        if (begun && used + 1 + width > page_width) end_line();
        if (begun) {
            line += ' ';
            ++used;
        }
        while (used + code_points(word) > page_width) {
            const std::string_view part = first_points(word, page_width - used);
            line += part;
            word.remove_prefix(part.size());
            end_line();
        }
        line += word;
        used += code_points(word);
        begun = true;
    }
    end_line();
    return out;
}

std::string underlined(const std::string& heading, char with) {
    const std::string lines = wrapped(heading, "", "");
    return lines + std::string(std::min(page_width, code_points(heading)), with) + '\n';
}

std::string look(const paragraph& p) { return wrapped(p.text, "", ""); }

std::string look(const items& i) {
    std::string out;
    for (const std::string& t : i.texts) out += wrapped(t, "- ", "  ");
    return out;
}

std::string look(const fields& f) {
    std::string out;
    if (!f.caption.empty()) out += wrapped(f.caption + ':', "", "");
    for (const field& one : f.all) out += wrapped(one.label + ": " + one.value, "  ", "    ");
    return out;
}

/// For a table too wide for the page: a sentence for each row, which also reads better aloud.
std::string sentences(const table& t) {
    std::string out;
    for (const auto& row : t.rows) {
        std::string sentence = t.rows_have_names ? row.front() : t.columns.front() + ' ' + row.front();
        for (std::size_t c = 1; c < row.size(); ++c) sentence += (c == 1 ? ": " : "; ") + t.columns[c] + ' ' + row[c];
        out += wrapped(sentence + '.', "- ", "  ");
    }
    return out;
}

/// The words of a heading in lines of at most this width, or of a longer word.
std::vector<std::string> heading_lines(std::string_view heading, std::size_t width) {
    std::vector<std::string> lines;
    for (const std::string_view word : words_of(heading)) {
        if (!lines.empty() && code_points(lines.back()) + 1 + code_points(word) <= width) {
            lines.back() += ' ';
            lines.back() += word;
        } else {
            lines.emplace_back(word);
        }
    }
    return lines;
}

constexpr std::size_t gap = 2;  // between columns

struct columns {
    std::vector<std::vector<std::string>> headings;
    std::vector<std::size_t> widths;
    std::size_t height = 0;  ///< lines of the highest heading
    std::size_t width = 0;   ///< of all
};

columns columns_with_headings_of(const table& t, std::size_t width) {
    columns out;
    for (std::size_t c = 0; c < t.columns.size(); ++c) {
        out.headings.push_back(heading_lines(t.columns[c], width));
        std::size_t widest = 0;
        for (const std::string& line : out.headings.back()) widest = std::max(widest, code_points(line));
        for (const auto& row : t.rows) widest = std::max(widest, code_points(row[c]));
        out.widths.push_back(widest);
        out.height = std::max(out.height, out.headings.back().size());
        out.width += widest + (c == 0 ? 0 : gap);
    }
    return out;
}

std::string look(const table& t) {
    constexpr std::size_t widest_heading = 24;
    std::size_t width = widest_heading;
    columns fit = columns_with_headings_of(t, width);
    while (fit.width > page_width && width > 0) fit = columns_with_headings_of(t, --width);
    const std::string caption = t.caption.empty() ? "" : wrapped(t.caption + ':', "", "") + '\n';
    if (fit.width > page_width) return caption + sentences(t);

    const auto add_cell = [&](std::string& line, std::size_t c, std::string_view cell) {
        const std::string room = blanks(fit.widths[c] - code_points(cell));
        const bool name = c == 0 && t.rows_have_names;
        line += blanks(c == 0 ? 0 : gap) + (name ? "" : room);
        line += cell;
        if (name) line += room;
    };
    std::string out = caption;
    for (std::size_t l = 0; l < fit.height; ++l) {
        std::string line;
        for (std::size_t c = 0; c < fit.headings.size(); ++c) {
            const std::size_t first = fit.height - fit.headings[c].size();
            add_cell(line, c, l < first ? std::string_view() : fit.headings[c][l - first]);
        }
        out += line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
    }
    out += std::string(fit.width, '-') + '\n';
    for (const auto& row : t.rows) {
        std::string line;
        for (std::size_t c = 0; c < row.size(); ++c) add_cell(line, c, row[c]);
        out += plain_blanks(line) + '\n';
    }
    return out;
}

std::string look(const plot&) { return {}; }  // its figures are those of the table beside it

}  // namespace

std::string text(const record::record& of, rounding how) {
    const sheet s = make_sheet(of, how);
    std::string out = underlined(s.title + ' ' + s.number, '=') + s.subtitle + '\n';
    for (const std::string& notice : s.notices) out += '\n' + wrapped(notice, "!! ", "   ");
    for (const section& part : s.sections) {
        out += (part.part_of_previous ? "\n" : "\n\n") + underlined(part.heading, part.part_of_previous ? '-' : '=');
        bool first = true;
        for (const block& b : part.blocks) {
            const std::string lines = std::visit([](const auto& any) { return look(any); }, b);
            if (!first && !lines.empty()) out += '\n';
            first = false;
            out += lines;
        }
    }
    return out + "\n\n" + wrapped(s.end_mark, "", "");
}

}  // namespace plumbline::certificate
