#pragma once
// What a certificate says, as finished strings in reading order. Text and HTML are two looks of one sheet.

#include <plumbline/certificate/rounding.hpp>
#include <string>
#include <variant>
#include <vector>

namespace plumbline::inline v0::record {
struct record;
}

namespace plumbline::inline v0::certificate {

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

/// A cell without text has nothing to say there.
struct table {
    std::string caption;
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows;  ///< each as long as columns
    bool rows_have_names = false;                ///< the first cell speaks for itself without its column's name
    bool of_words = false;                       ///< its cells are sentences more than figures
};

/// A picture of figures that stand in a table beside it. In pixels of the view.
struct picture {
    struct stroke {
        std::string look;  ///< class that the page's style knows
        std::string path;  ///< SVG path data
    };
    struct label {
        std::string anchor;  ///< start, middle or end
        std::string x, y;
        std::string text;
    };
    std::string title;
    std::string description;
    int width = 0;
    int height = 0;
    std::vector<stroke> strokes;
    std::vector<label> labels;
};

using block = std::variant<paragraph, items, fields, table, picture>;

struct section {
    std::string heading;
    bool part_of_previous = false;  ///< a smaller heading below the one before
    std::vector<block> blocks;
    std::string number{};  ///< "8.2", given by make_sheet
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

}  // namespace plumbline::inline v0::certificate
