#include <plumbline/capture/csv.hpp>

#include <plumbline/error.hpp>

#include "csv_lines.hpp"
#include "regular_file.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <filesystem>
#include <memory>
#include <system_error>
#include <utility>
#include <vector>

namespace plumbline::inline v0::capture {

namespace {

constexpr std::size_t longest_line = 4096;
constexpr std::size_t longest_quote = 40;
constexpr std::size_t most_columns_listed = 12;
constexpr std::string_view blanks = " \t";
constexpr const char* csv_layout = "one code a line, or comma-separated columns under a header line";

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

std::string_view without_end(std::string_view text, std::string_view unwanted) {
    return text.substr(0, text.find_last_not_of(unwanted) + 1);  // npos + 1 is 0
}

std::string_view trimmed(std::string_view text) {
    text.remove_prefix(std::min(text.find_first_not_of(blanks), text.size()));
    return without_end(text, blanks);
}

void append_utf8(std::string& to, char32_t c) {
    const auto byte = [&](char32_t value) { to += static_cast<char>(value); };
    if (c < 0x80) {
        byte(c);
    } else if (c < 0x800) {
        byte(0xc0U | c >> 6U);
        byte(0x80U | (c & 0x3fU));
    } else if (c < 0x10000) {
        byte(0xe0U | c >> 12U);
        byte(0x80U | (c >> 6U & 0x3fU));
        byte(0x80U | (c & 0x3fU));
    } else {
        byte(0xf0U | c >> 18U);
        byte(0x80U | (c >> 12U & 0x3fU));
        byte(0x80U | (c >> 6U & 0x3fU));
        byte(0x80U | (c & 0x3fU));
    }
}

/// UTF-16 (Unicode 15.0, 3.9, D91) as UTF-8, without its byte order mark.
std::string from_utf16(std::string_view bytes, const std::string& name) {
    if (bytes.size() % 2 != 0) {
        throw bad_input(name, "found UTF-16 text with an odd number of bytes", "two bytes for each unit",
                        "the file is cut off or damaged: export the capture again");
    }
    const bool little_endian = bytes.starts_with('\xff');
    const auto unit = [&](std::size_t at) -> char32_t {
        const auto first = static_cast<unsigned char>(bytes[at]);
        const auto second = static_cast<unsigned char>(bytes[at + 1]);
        return little_endian ? first | static_cast<char32_t>(second) << 8U : static_cast<char32_t>(first) << 8U | second;
    };
    const auto within = [](char32_t u, char32_t low, char32_t high) { return low <= u && u <= high; };
    std::string text;
    text.reserve(bytes.size() / 2);
    for (std::size_t at = 2; at < bytes.size(); at += 2) {
        char32_t c = unit(at);
        if (within(c, 0xd800, 0xdfff)) {  // half of a pair
            const char32_t low = at + 2 < bytes.size() ? unit(at + 2) : 0;
            if (c > 0xdbff || !within(low, 0xdc00, 0xdfff)) {
                throw bad_input(name, "found half of a surrogate pair in UTF-16 text", "both halves",
                                "the file is damaged: export the capture again, as UTF-8");
            }
            c = 0x10000 + ((c - 0xd800) << 10U) + (low - 0xdc00);
            at += 2;
        }
        append_utf8(text, c);
    }
    return text;
}

struct separator {
    char character;
    const char* name;
};
constexpr separator separators[] = {{',', "commas"}, {';', "semicolons"}, {'\t', "tabs"}};
constexpr std::string_view separators_and_blanks = " \t,;";

/// The separators that a line has outside quotation marks.
std::vector<separator> separators_of(std::string_view line) {
    std::vector<separator> found;
    for (const separator& s : separators) {
        bool quoted = false;
        const auto is_one = [&](char c) {
            quoted ^= c == '"';
            return !quoted && c == s.character;
        };
        if (std::any_of(line.begin(), line.end(), is_one)) {
            found.push_back(s);
        }
    }
    return found;
}

/// A number that was written with a comma: decimal comma or thousands separator, nobody can tell.
bool has_number_with_comma(std::string_view cell) {
    return cell.find(',') != std::string_view::npos && cell.find_first_of("0123456789") != std::string_view::npos &&
           cell.find_first_not_of("+-0123456789,.") == std::string_view::npos;
}

class reader final : public csv_lines {
public:
    reader(const std::string& name, const std::string& column) : name_(name), column_(column) {}
    reader(const reader&) = delete;
    reader& operator=(const reader&) = delete;

    run read(std::string_view text) {
        if (text.empty()) {
            throw bad_input(name_, "found an empty file", csv_layout, "export the capture again");
        }
        std::string decoded;
        if (text.starts_with(std::string_view("\xff\xfe\0\0", 4)) || text.starts_with(std::string_view("\0\0\xfe\xff", 4))) {
            throw bad_input(name_, "found UTF-32 text", "ASCII, UTF-8 or UTF-16", "export as UTF-8");
        }
        if (text.starts_with("\xff\xfe") || text.starts_with("\xfe\xff")) {
            decoded = from_utf16(text, name_);
            text = decoded;
        } else if (text.starts_with("\xef\xbb\xbf")) {
            text.remove_prefix(3);
        }
        has_cr_ = text.find('\r') != std::string_view::npos;
        const char line_end = has_cr_ && text.find('\n') == std::string_view::npos ? '\r' : '\n';
        if (const std::size_t nul = text.find('\0'); nul != std::string_view::npos) {
            line_ =
                1 + static_cast<std::size_t>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(nul), line_end));
            refuse("found a NUL byte", "text",
                   "export as ASCII or UTF-8 text, not as binary or as UTF-16 without a byte order mark");
        }
        while (!text.empty()) {
            const std::size_t end = std::min(text.find(line_end), text.size());
            ++line_;
            read_line(text.substr(0, end));
            text.remove_prefix(std::min(end + 1, text.size()));
        }
        if (result_.codes.empty()) {
            throw bad_input(name_, "found no codes", csv_layout, "export the capture again");
        }
        return std::move(result_);
    }

    void feed(std::string_view text, bool last) override {
        if (!begun_) begin(text);
        has_cr_ = has_cr_ || text.find('\r') != std::string_view::npos;
        for (std::size_t end = text.find(line_end_); end != std::string_view::npos; end = text.find(line_end_)) {
            read_counted(joined(text.substr(0, end)));
            rest_.clear();
            text.remove_prefix(end + 1);
        }
        rest_ += text;
        if (rest_.size() > longest_line + 1 || last) {  // more than a line and its CR, or the last line without its end
            if (!rest_.empty()) read_counted(rest_);
            rest_.clear();
        }
    }
    std::vector<std::int32_t>& codes() override { return result_.codes; }
    [[nodiscard]] std::optional<frequency> sample_rate() const override { return result_.sample_rate; }

private:
    /// What the beginning of a text says of all of it.
    void begin(std::string_view& text) {
        begun_ = true;
        if (text.starts_with("\xff\xfe") || text.starts_with("\xfe\xff") ||
            text.starts_with(std::string_view("\0\0\xfe\xff", 4))) {
            throw bad_input(name_, "found UTF-16 or UTF-32 text", "ASCII or UTF-8 in a capture that is read in pieces",
                            "export as UTF-8");
        }
        if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
        line_end_ = text.find('\r') != std::string_view::npos && text.find('\n') == std::string_view::npos ? '\r' : '\n';
    }

    /// A line that may have begun in the piece before.
    std::string_view joined(std::string_view end) {
        if (rest_.empty()) return end;
        rest_ += end;
        return rest_;
    }

    void read_counted(std::string_view line) {
        ++line_;
        if (line.find('\0') != std::string_view::npos) {
            refuse("found a NUL byte", "text",
                   "export as ASCII or UTF-8 text, not as binary or as UTF-16 without a byte order mark");
        }
        read_line(line);
    }

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
        if (columns_ == 1 && take_plain_code(line)) {
            return;  // nearly every line of nearly every file
        }
        if (has_cr_ && line.find('\r') != std::string_view::npos) {
            refuse("found a carriage return within " + shown(line), "line ends of one kind: LF, CRLF or CR",
                   "export the capture again");
        }
        if (line.find_first_not_of(separators_and_blanks) == std::string_view::npos) {
            return;
        }
        const std::string_view content = trimmed(line);
        if (content.starts_with('#')) {
            read_comment(trimmed(without_end(content.substr(1), separators_and_blanks)));
            return;
        }
        if (content.starts_with("\"#")) {
            read_comment(trimmed(without_end(content.substr(2), " \t,;\"")));
            return;
        }
        choose_separator(line);
        split(line);
        if (columns_ == 0) {
            read_first(line);
        } else {
            read_row(line);
        }
    }

    /// The first line that has a separator says which one it is.
    void choose_separator(std::string_view line) {
        if (separator_ != '\0') {
            return;
        }
        const std::vector<separator> found = separators_of(line);
        if (found.size() > 1) {
            std::string list = found.front().name;
            for (std::size_t i = 1; i < found.size(); ++i) {
                list += std::string(i + 1 == found.size() ? " and " : ", ") + found[i].name;
            }
            refuse("found " + list + " in " + shown(line), "one kind of separator",
                   "export with one kind, without decimal commas, and with names that contain another in quotation marks");
        }
        if (!found.empty()) {
            separator_ = found.front().character;
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
        rest = trimmed(rest);
        if (rest.starts_with(':')) {
            const std::string_view value = trimmed(rest.substr(1));
            double number = 0.0;
            const auto [end, failed] = std::from_chars(value.data(), value.data() + value.size(), number);
            const std::string_view unit = trimmed(value.substr(static_cast<std::size_t>(end - value.data())));
            const double in_hertz = unit == "kHz" ? 1000.0 * number : number;
            if (failed == std::errc() && (unit == "Hz" || unit == "kHz") && in_hertz > 0.0 && std::isfinite(in_hertz)) {
                result_.sample_rate = in_hertz * hertz;
                return;
            }
        }
        refuse("found " + shown(comment), "a positive number and Hz or kHz", "write for example \"# sample rate: 10000 Hz\"");
    }

    /// Cells of a line, without the empty ones at its end that are beyond the header's: spreadsheets pad rows so.
    void split(std::string_view line) {
        cells_.clear();
        if (line.find('"') != std::string_view::npos) {
            split_quoted(line);
        } else {
            for (std::size_t end = line.find(separator_); end != std::string_view::npos; end = line.find(separator_)) {
                cells_.push_back(trimmed(line.substr(0, end)));
                line.remove_prefix(end + 1);
            }
            cells_.push_back(trimmed(line));
        }
        while (cells_.size() > std::max<std::size_t>(columns_, 1) && cells_.back().empty()) {
            cells_.pop_back();
        }
    }

    /// Cells may stand in quotation marks, which are doubled within (RFC 4180, 2).
    void split_quoted(const std::string_view line) {
        unescaped_.clear();
        std::string_view rest = line;
        for (bool more = true; more;) {
            rest.remove_prefix(std::min(rest.find_first_not_of(separator_ == '\t' ? " " : blanks), rest.size()));
            std::string_view cell;
            if (rest.starts_with('"')) {
                rest.remove_prefix(1);
                cell = take_quoted(rest, line);
            }
            const std::size_t end = std::min(rest.find(separator_), rest.size());
            const std::string_view plain = trimmed(rest.substr(0, end));
            if (plain.find('"') != std::string_view::npos || (!plain.empty() && cell.data() != nullptr)) {
                refuse("found a quotation mark within a cell of " + shown(line), "quotation marks around whole cells",
                       "export without quotation marks");
            }
            cells_.push_back(cell.data() != nullptr ? trimmed(cell) : plain);
            more = end < rest.size();
            rest.remove_prefix(std::min(end + 1, rest.size()));
        }
    }

    /// A cell up to its closing quotation mark, which is taken off rest too.
    std::string_view take_quoted(std::string_view& rest, std::string_view line) {
        std::string& cell = unescaped_.emplace_back();
        for (;;) {
            const std::size_t mark = rest.find('"');
            if (mark == std::string_view::npos) {
                refuse("found a quotation mark that is not closed in " + shown(line), "both quotation marks on one line",
                       "export without line breaks within cells, or without quotation marks");
            }
            cell += rest.substr(0, mark);
            rest.remove_prefix(mark + 1);
            if (!rest.starts_with('"')) {
                return cell;
            }
            cell += '"';
            rest.remove_prefix(1);
        }
    }

    /// The first line with contents: a header, or else the first code of a file with one column.
    void read_first(std::string_view line) {
        if (std::any_of(cells_.begin(), cells_.end(), is_name)) {
            read_header();
            return;
        }
        if (cells_.size() > 1) {
            refuse("found " + std::to_string(cells_.size()) + " cells in " + shown(line) + " and no header line", csv_layout,
                   separator_ == ',' ? "add a header line with the column names, or, if this is a decimal comma, export raw codes"
                                     : "add a header line with the column names");
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
            const bool decimal_commas =
                separator_ == ',' && cells_.size() == 2 * columns_;  // each number has fallen into two cells
            const bool other_separator = cells_.size() == 1 && !separators_of(line).empty();
            refuse(found, expected,
                   decimal_commas    ? "if these are decimal commas, export raw codes"
                   : other_separator ? "use one separator throughout the file"
                                     : "export the capture again");
        }
        for (const std::string_view& cell : cells_) {
            if (cell.empty()) {
                refuse("found an empty cell in " + shown(line), "a value in each cell",
                       "remove the line or export the capture again");
            }
        }
        read_code(cells_[chosen_]);
    }

    /// A code that is the whole text, without '+' or blanks.
    bool take_plain_code(std::string_view text) {
        std::int32_t value = 0;
        const auto [end, failed] = std::from_chars(text.data(), text.data() + text.size(), value);
        if (failed != std::errc() || end != text.data() + text.size()) {
            return false;
        }
        result_.codes.push_back(value);
        return true;
    }

    void read_code(std::string_view cell) {
        std::string_view number = cell;
        if (number.size() > 1 && number[0] == '+' && number[1] >= '0' && number[1] <= '9') {
            number.remove_prefix(1);  // from_chars knows no '+'
        }
        if (take_plain_code(number)) {
            return;
        }
        if (has_number_with_comma(cell)) {
            refuse("found " + shown(cell) + " with a comma", "a whole decimal number",
                   "export raw codes, without decimals and without thousands separators");
        }
        const bool digits_only =
            number.find_first_not_of("0123456789", number.starts_with('-') ? 1 : 0) == std::string_view::npos;
        if (digits_only && number != "-") {
            refuse("found " + shown(cell), "a code from -2147483648 to 2147483647", "export raw codes");
        }
        refuse("found " + shown(cell), "a whole decimal number", "export raw codes, not volts or text");
    }

    const std::string& name_;
    const std::string& column_;
    std::size_t line_ = 0;
    std::size_t columns_ = 0;  ///< 0 until the first line with contents
    std::size_t chosen_ = 0;
    bool has_header_ = false;
    bool has_cr_ = false;    ///< anywhere
    char separator_ = '\0';  ///< until a line has one
    std::vector<std::string_view> cells_;
    std::deque<std::string> unescaped_;  ///< what cells_ of a line with quotation marks look at
    run result_;
    bool begun_ = false;
    char line_end_ = '\n';  ///< of a text that comes in pieces
    std::string rest_;      ///< of the piece before: a line without its end
};

}  // namespace

std::unique_ptr<csv_lines> make_csv_lines(const std::string& name, const std::string& column) {
    return std::make_unique<reader>(name, column);
}

run parse_csv(std::string_view text, const std::string& name, const std::string& column) {
    return reader(name, column).read(text);
}

std::string read_bytes(const std::string& file) {
    std::ifstream in = open_regular_file(file);
    const std::uintmax_t size = size_to_keep(file);
    std::string bytes(static_cast<std::size_t>(size), '\0');
    char beyond = '\0';
    if (read_piece(in, bytes.data(), bytes.size(), file) != bytes.size() || read_piece(in, &beyond, 1, file) != 0) {
        throw bad_input(file, "found a file that grows or shrinks while it is read", "a finished capture",
                        "end the capture first");
    }
    return bytes;
}

run read_csv(const std::string& file, const std::string& column) { return parse_csv(read_bytes(file), file, column); }

}  // namespace plumbline::inline v0::capture
