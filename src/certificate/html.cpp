#include <algorithm>
#include <cstddef>
#include <kainjow/mustache.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {
namespace {

using kainjow::mustache::data;
using kainjow::mustache::list;
using kainjow::mustache::mustache;

constexpr const char* page =
#include "page.mustache.inc"
    ;

/// A CSS string's inside: everything but letters, digits, '-', '_' and '.' by its number (CSS Syntax Level 3, 4.3.7). What results contains
/// nothing that HTML, XML or CSS would take for its own.
std::string in_css(std::string_view text) {
    constexpr std::string_view plain = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.";
    constexpr std::string_view hexadecimal = "0123456789abcdef";
    std::string out;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte >= 0x80 || plain.find(c) != std::string_view::npos) {  // bytes of UTF-8 stand for themselves
            out += c;
        } else {
            out += {'\\', hexadecimal[byte >> 4], hexadecimal[byte & 15u], ' '};
        }
    }
    return out;
}

data strings(const std::vector<std::string>& all, const char* name) {
    list out;
    for (const std::string& s : all) out.push_back(data(name, s));
    return data(out);
}

data look(const paragraph& p) { return data("paragraph", data("text", p.text)); }

data look(const items& i) { return data("items", data("all", strings(i.texts, "item"))); }

data look(const fields& f) {
    list all;
    for (const field& one : f.all) {
        data d;
        d.set("label", one.label);
        d.set("value", one.value);
        all.push_back(std::move(d));
    }
    data out;
    out.set("has_caption", f.caption.empty() ? data::type::bool_false : data::type::bool_true);
    out.set("caption", f.caption);
    out.set("all", data(all));
    return data("fields", out);
}

data look(const table& t) {
    list rows;
    for (const auto& row : t.rows) {
        list cells;
        for (std::size_t c = 1; c < row.size(); ++c) {
            data d;
            d.set("column", t.columns[c]);
            d.set("cell", row[c].empty() ? "\u2013" : row[c]);
            cells.push_back(std::move(d));
        }
        data d;
        d.set("first_column", t.columns.front());
        d.set("first", row.front());
        d.set("cells", data(cells));
        rows.push_back(std::move(d));
    }
    data out;
    out.set("has_caption", t.caption.empty() ? data::type::bool_false : data::type::bool_true);
    out.set("caption", t.caption);
    out.set("of_words", t.of_words ? data::type::bool_true : data::type::bool_false);
    out.set("columns", strings(t.columns, "column"));
    out.set("rows", data(rows));
    return data("table", out);
}

data look(const picture& p) {
    list strokes;
    for (const picture::stroke& one : p.strokes) {
        data d;
        d.set("look", one.look);
        d.set("path", one.path);
        strokes.push_back(std::move(d));
    }
    list labels;
    for (const picture::label& one : p.labels) {
        data d;
        d.set("anchor", one.anchor);
        d.set("x", one.x);
        d.set("y", one.y);
        d.set("text", one.text);
        labels.push_back(std::move(d));
    }
    data out;
    out.set("picture_title", p.title);
    out.set("description", p.description);
    out.set("width", std::to_string(p.width));
    out.set("height", std::to_string(p.height));
    out.set("strokes", data(strokes));
    out.set("labels", data(labels));
    return data("picture", out);
}

/// Ids of sections: "s8" for number 8, "s8-2" for 8.2.
std::string id_of(const section& s) {
    std::string id = 's' + s.number;
    std::replace(id.begin(), id.end(), '.', '-');
    return id;
}

}  // namespace

std::string html(const record::record& of, rounding how) {
    const sheet s = make_sheet(of, how);
    list sections;
    list contents;
    int pictures = 0;
    for (const section& part : s.sections) {
        list blocks;
        for (const block& b : part.blocks) {
            data d = std::visit([](const auto& any) { return look(any); }, b);
            if (std::holds_alternative<picture>(b)) d.set("id", "p" + std::to_string(++pictures));
            blocks.push_back(std::move(d));
        }
        data d;
        d.set("id", id_of(part));
        d.set("section_number", part.number);
        d.set("heading", part.heading);
        d.set("main", part.part_of_previous ? data::type::bool_false : data::type::bool_true);
        d.set("blocks", data(blocks));
        if (!part.part_of_previous) contents.push_back(d);
        sections.push_back(std::move(d));
    }
    data all;
    all.set("title", s.title);
    all.set("subtitle", s.subtitle);
    all.set("number", s.number);
    all.set("number_in_css", in_css(s.number));
    all.set("notices", strings(s.notices, "notice"));
    all.set("contents", data(contents));
    all.set("sections", data(sections));
    all.set("end_mark", s.end_mark);
    mustache view{std::string(page)};
    if (!view.is_valid()) throw std::logic_error("template of the certificate: " + view.error_message());
    return view.render(all);
}

}  // namespace plumbline::inline v0::certificate
