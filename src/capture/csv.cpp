#include <plumbline/capture/csv.hpp>

#include <plumbline/error.hpp>

#include "regular_file.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <system_error>
#include <utility>
#include <vector>

namespace plumbline::capture {

namespace {

constexpr std::size_t longest_line = 4096;
constexpr std::uintmax_t largest_file = std::uintmax_t{256} << 20U;
constexpr std::size_t longest_quote = 40;
constexpr std::size_t most_columns_listed = 12;
constexpr const char* layout = "one code a line, or comma-separated columns under a header line";

/// Text of a file as messages show it: cut at 40 characters; control characters and bytes beyond ASCII (they may be half a
/// character, or steer a terminal) as escapes.
std::string shown(std::string_view text) {
    constexpr const char* digits = "0123456789abcdef";
    std::string out = "\"";
    for (const char c : text.substr(0, longest_quote)) {
        const auto byte = static_cast<unsigned char>(c);
        if (c == '\t') {
            out += "\\t";
        } else if (c == '\r') {
            out += "\\r";
        } else if (c == '"' || c == '\\') {
            out += {'\\', c};
        } else if (byte < 0x20 || byte >= 0x7f) {
            out += {'\\', 'x', digits[byte >> 4U], digits[byte & 15U]};
        } else {
            out += c;
        }
    }
    return out + (text.size() > longest_quote ? "...\"" : "\"");
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool equal_ignoring_case(std::string_view a, std::string_view b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](char x, char y) { return lower(x) == lower(y); });
}

bool is_letter(char c) { return (lower(c) >= 'a' && lower(c) <= 'z') || c == '_' || static_cast<unsigned char>(c) >= 0x80; }

/// A column name begins with a letter. The words for values that are no numbers are data gone wrong, not names.
bool is_name(std::string_view cell) {
    return !cell.empty() && is_letter(cell.front()) && !equal_ignoring_case(cell, "nan") && !equal_ignoring_case(cell, "inf") &&
           !equal_ignoring_case(cell, "infinity");
}

std::string_view trimmed(std::string_view text, const char* blanks) {
    const std::size_t first = text.find_first_not_of(blanks);
    if (first == std::string_view::npos) {
        return {};
    }
    return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

class reader {
public:
    reader(const std::string& name, const std::string& column) : name_(name), column_(column) {}

    run read(std::string_view text) {
        if (text.empty()) {
            throw bad_input(name_, "found an empty file", layout, "export the capture again");
        }
        if (text.starts_with("\xff\xfe") || text.starts_with("\xfe\xff")) {
            throw bad_input(name_, "found UTF-16 text", "ASCII or UTF-8", "export as UTF-8");
        }
        if (text.starts_with("\xef\xbb\xbf")) {
            text.remove_prefix(3);
        }
        if (const std::size_t nul = text.find('\0'); nul != std::string_view::npos) {
            line_ = 1 + static_cast<std::size_t>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(nul), '\n'));
            refuse("found a NUL byte", "text", "export as ASCII or UTF-8 text, not as binary or UTF-16");
        }
        while (!text.empty()) {
            const std::size_t end = std::min(text.find('\n'), text.size());
            ++line_;
            read_line(text.substr(0, end));
            text.remove_prefix(std::min(end + 1, text.size()));
        }
        if (result_.codes.empty()) {
            throw bad_input(name_, "found no codes", layout, "export the capture again");
        }
        return std::move(result_);
    }

private:
    [[noreturn]] void refuse(const std::string& found, const std::string& expected, const std::string& remedy) const {
        throw bad_input(name_ + ", line " + std::to_string(line_), found, expected, remedy);
    }

    void read_line(std::string_view line) {
        if (line.ends_with('\r')) {
            line.remove_suffix(1);
        }
        if (line.size() > longest_line) {
            refuse("found a line of " + std::to_string(line.size()) + " characters", "at most " + std::to_string(longest_line),
                   "write one sample of each channel a line");
        }
        const std::string_view content = trimmed(line, " \t");
        if (content.empty()) {
            return;
        }
        if (content.front() == '#') {
            read_comment(trimmed(content.substr(1), " \t"));
            return;
        }
        if (line.find(';') != std::string_view::npos) {
            refuse("found semicolon-separated " + shown(line), layout, "export with commas");
        }
        if (line.find('\t') != std::string_view::npos) {
            refuse("found tab-separated " + shown(line), layout, "export with commas");
        }
        split(line);
        if (columns_ == 0) {
            read_first(line);
        } else {
            read_row(line);
        }
    }

    /// Only "sample rate" means anything, and then it must be right: a rate that is silently lost may be replaced by a wrong one.
    void read_comment(std::string_view comment) {
        constexpr std::string_view key = "sample rate";
        if (!equal_ignoring_case(comment.substr(0, key.size()), key)) {
            return;
        }
        std::string_view rest = comment.substr(key.size());
        if (!rest.empty() && is_letter(rest.front())) {
            return;  // "sample rates ...": prose
        }
        if (result_.sample_rate) {
            refuse("found a second sample rate", "one", "keep the right one");
        }
        rest = trimmed(rest, " \t");
        if (rest.starts_with(':')) {
            const std::string_view value = trimmed(rest.substr(1), " \t");
            double number = 0.0;
            const auto [end, failed] = std::from_chars(value.data(), value.data() + value.size(), number);
            const std::string_view unit = trimmed(value.substr(static_cast<std::size_t>(end - value.data())), " \t");
            const double in_hertz = unit == "kHz" ? 1000.0 * number : number;
            if (failed == std::errc() && (unit == "Hz" || unit == "kHz") && in_hertz > 0.0 && std::isfinite(in_hertz)) {
                result_.sample_rate = in_hertz * hertz;
                return;
            }
        }
        refuse("found " + shown(comment), "a positive number and Hz or kHz", "write for example \"# sample rate: 10000 Hz\"");
    }

    void split(std::string_view line) {
        cells_.clear();
        for (std::size_t comma = line.find(','); comma != std::string_view::npos; comma = line.find(',')) {
            cells_.push_back(trimmed(line.substr(0, comma), " "));
            line.remove_prefix(comma + 1);
        }
        cells_.push_back(trimmed(line, " "));
    }

    /// The first line with contents: a header, or else the first code of a file with one column.
    void read_first(std::string_view line) {
        if (line.find('"') != std::string_view::npos) {
            refuse("found quoted cells " + shown(line), "plain cells", "export without quotation marks");
        }
        if (std::any_of(cells_.begin(), cells_.end(), is_name)) {
            read_header();
            return;
        }
        if (cells_.size() > 1) {
            refuse("found " + std::to_string(cells_.size()) + " cells in " + shown(line) + " and no header line", layout,
                   "add a header line with the column names, or, if this is a decimal comma, export raw codes");
        }
        if (!column_.empty()) {
            refuse("found no header line", "a header line with column " + shown(column_),
                   "add the header line or name no column");
        }
        columns_ = 1;
        read_row(line);
    }

    void read_header() {
        for (auto cell = cells_.begin(); cell != cells_.end(); ++cell) {
            if (cell->empty()) {
                refuse("found an empty cell in the header line", "a name for each column", "name the column or remove it");
            }
            if (!is_name(*cell)) {
                refuse("found " + shown(*cell) + " in the header line", "column names that begin with a letter",
                       "rename the column");
            }
            if (std::find(cells_.begin(), cell, *cell) != cell) {
                refuse("found column " + shown(*cell) + " twice", "each column name once", "rename one of them");
            }
        }
        if (column_.empty() && cells_.size() > 1) {
            refuse("found columns " + list_of_columns(), "one column, or the name of one of them", "name the column to read");
        }
        if (!column_.empty()) {
            const auto wanted = std::find(cells_.begin(), cells_.end(), std::string_view(column_));
            if (wanted == cells_.end()) {
                refuse("found columns " + list_of_columns(), "a column " + shown(column_), "name one of those columns");
            }
            chosen_ = static_cast<std::size_t>(wanted - cells_.begin());
        }
        columns_ = cells_.size();
        has_header_ = true;
    }

    std::string list_of_columns() const {
        std::string list;
        for (std::size_t i = 0; i < std::min(cells_.size(), most_columns_listed); ++i) {
            list += (i == 0 ? "" : ", ") + shown(cells_[i]);
        }
        if (cells_.size() > most_columns_listed) {
            list += " and " + std::to_string(cells_.size() - most_columns_listed) + " more";
        }
        return list;
    }

    void read_row(std::string_view line) {
        if (cells_.size() != columns_) {
            const std::string found =
                "found " + std::to_string(cells_.size()) + (cells_.size() == 1 ? " cell in " : " cells in ") + shown(line);
            const std::string expected =
                std::to_string(columns_) + (has_header_ ? " as in the header line" : " as in the lines before");
            const bool decimal_commas = cells_.size() == 2 * columns_;  // each number has fallen into two cells
            refuse(found, expected,
                   decimal_commas ? "if these are decimal commas, export raw codes" : "export the capture again");
        }
        for (const std::string_view& cell : cells_) {
            if (cell.empty()) {
                refuse("found an empty cell in " + shown(line), "a value in each cell",
                       "remove the line or export the capture again");
            }
        }
        read_code(cells_[chosen_]);
    }

    void read_code(std::string_view cell) {
        std::string_view number = cell;
        if (number.size() > 1 && number[0] == '+' && number[1] >= '0' && number[1] <= '9') {
            number.remove_prefix(1);  // from_chars knows no '+'
        }
        std::int32_t value = 0;
        const auto [end, failed] = std::from_chars(number.data(), number.data() + number.size(), value);
        if (failed == std::errc::invalid_argument || end != number.data() + number.size()) {
            refuse("found " + shown(cell), "a whole decimal number", "export raw codes, not volts or text");
        }
        if (failed == std::errc::result_out_of_range) {
            refuse("found " + shown(cell), "a code from -2147483648 to 2147483647", "export raw codes");
        }
        result_.codes.push_back(value);
    }

    const std::string& name_;
    const std::string& column_;
    std::size_t line_ = 0;
    std::size_t columns_ = 0;  ///< 0 until the first line with contents
    std::size_t chosen_ = 0;
    bool has_header_ = false;
    std::vector<std::string_view> cells_;
    run result_;
};

}  // namespace

run parse_csv(std::string_view text, const std::string& name, const std::string& column) {
    return reader(name, column).read(text);
}

run read_csv(const std::filesystem::path& file, const std::string& column) {
    std::ifstream in = open_regular_file(file);
    const std::uintmax_t size = std::filesystem::file_size(file);
    if (size > largest_file) {
        throw bad_input(file.string(), "found " + std::to_string(size) + " bytes", "at most 268435456 (256 MiB)",
                        "take a shorter capture or split it");
    }
    std::string text(static_cast<std::size_t>(size), '\0');
    text.resize(read_piece(in, text.data(), text.size(), file));
    return parse_csv(text, file.string(), column);
}

}  // namespace plumbline::capture
