#pragma once
// What a certificate says, as finished strings in reading order. Text and HTML are two looks of one sheet.

#include <plumbline/certificate/rounding.hpp>
#include <string>
#include <variant>
#include <vector>

namespace plumbline::record {
struct record;
}

namespace plumbline::certificate {

struct paragraph {
    std::string text;
};

struct items {
    std::vector<std::string> texts;
};

struct field {
    std::string label;
    std::string value;
};

struct fields {
    std::string caption;  ///< "" for none
    std::vector<field> all;
};

struct table {
    std::string caption;
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows;  ///< each as long as columns
    bool rows_have_names = false;                ///< the first cell speaks for itself without its column's name
};

/// Error with its U against the limits over the applied voltage: the figures of the table beside it, as a picture. In pixels of the view.
struct plot {
    struct point {
        std::string x, y, y_low, y_high;
        std::string x_left, x_right, limit_low, limit_high;  ///< of the two marks of the limits, where there are any
    };
    static constexpr int width = 640;
    static constexpr int height = 260;
    std::string description;
    std::vector<point> points;
    bool limited = false;
    std::string zero;                      ///< height of the line of no error
    std::string left, right, top, bottom;  ///< what the axes end at
};

using block = std::variant<paragraph, items, fields, table, plot>;

struct section {
    std::string heading;
    bool part_of_previous = false;  ///< a smaller heading below the one before
    std::vector<block> blocks;
};

struct sheet {
    std::string title;
    std::string subtitle;
    std::string number;
    std::vector<std::string> notices;  ///< to be seen first: invented data, an amended certificate
    std::vector<section> sections;
    std::string end_mark;
};

/// Everything that the certificate of this record says. Its strings are printable: valid UTF-8 without control characters.
[[nodiscard]] sheet make_sheet(const record::record& of, rounding how);

/// The text itself, or what stands for it where it is empty or blank.
[[nodiscard]] std::string stated(const std::string& text, const char* absent = "not stated");

/// A figure and its unit kept on one line: blanks become no-break spaces.
[[nodiscard]] std::string together(std::string figure);

}  // namespace plumbline::certificate
