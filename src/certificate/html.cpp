#include <array>
#include <cstddef>
#include <kainjow/mustache.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

#include "sheet.hpp"

namespace plumbline::certificate {
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
    return data(std::move(out));
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
    out.set("all", data(std::move(all)));
    return data("fields", out);
}

data look(const table& t) {
    list rows;
    for (const auto& row : t.rows) {
        list cells;
        for (std::size_t c = 1; c < row.size(); ++c) {
            data d;
            d.set("column", t.columns[c]);
            d.set("cell", row[c]);
            cells.push_back(std::move(d));
        }
        data d;
        d.set("first_column", t.columns.front());
        d.set("first", row.front());
        d.set("cells", data(std::move(cells)));
        rows.push_back(std::move(d));
    }
    data out;
    out.set("has_caption", t.caption.empty() ? data::type::bool_false : data::type::bool_true);
    out.set("caption", t.caption);
    out.set("columns", strings(t.columns, "column"));
    out.set("rows", data(std::move(rows)));
    return data("table", out);
}

data look(const plot& p) {
    list points;
    for (const plot::point& one : p.points) {
        data d;
        d.set("x", one.x);
        d.set("y", one.y);
        d.set("y_low", one.y_low);
        d.set("y_high", one.y_high);
        d.set("x_left", one.x_left);
        d.set("x_right", one.x_right);
        d.set("limit_low", one.limit_low);
        d.set("limit_high", one.limit_high);
        points.push_back(std::move(d));
    }
    data out;
    out.set("width", std::to_string(plot::width));
    out.set("height", std::to_string(plot::height));
    out.set("description", p.description);
    out.set("points", data(std::move(points)));
    out.set("limited", p.limited ? data::type::bool_true : data::type::bool_false);
    out.set("zero", p.zero);
    out.set("left", p.left);
    out.set("right", p.right);
    out.set("top", p.top);
    out.set("bottom", p.bottom);
    return data("plot", out);
}

}  // namespace

std::string html(const record::record& of, rounding how) {
    const sheet s = make_sheet(of, how);
    list sections;
    for (const section& part : s.sections) {
        list blocks;
        for (const block& b : part.blocks) blocks.push_back(std::visit([](const auto& any) { return look(any); }, b));
        data d;
        d.set("heading", part.heading);
        d.set("main", part.part_of_previous ? data::type::bool_false : data::type::bool_true);
        d.set("blocks", data(std::move(blocks)));
        sections.push_back(std::move(d));
    }
    data all;
    all.set("title", s.title);
    all.set("subtitle", s.subtitle);
    all.set("number", s.number);
    all.set("number_in_css", in_css(s.number));
    all.set("notices", strings(s.notices, "notice"));
    all.set("sections", data(std::move(sections)));
    all.set("end_mark", s.end_mark);
    mustache view{std::string(page)};
    if (!view.is_valid()) throw std::logic_error("template of the certificate: " + view.error_message());
    return view.render(all);
}

}  // namespace plumbline::certificate
