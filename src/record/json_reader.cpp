#include "json_reader.hpp"

#include "../capture/regular_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <plumbline/error.hpp>
#include <utility>

namespace plumbline::inline v0::record {

namespace {

using nlohmann::json;

constexpr std::uintmax_t largest_file = std::uintmax_t{16} << 20U;
constexpr std::size_t longest_text = std::size_t{64} << 10U;
constexpr std::size_t deepest = 64;
constexpr std::size_t shown_before_error = 20;
constexpr const char* take_another_copy = "take another copy of the file";

/// A key as a token of a JSON pointer (RFC 6901, 3), as messages show it: cut where a message would drown in it.
std::string pointer_token(const std::string& key) {
    std::string token = "/";
    for (const char c : key) {
        if (c == '~') {
            token += "~0";
        } else if (c == '/') {
            token += "~1";
        } else {
            token += c;
        }
    }
    constexpr std::size_t longest_token = 100;
    if (token.size() <= longest_token) return token;
    std::size_t end = longest_token;
    while ((static_cast<unsigned char>(token[end]) & 0xc0U) == 0x80U) --end;
    return token.substr(0, end) + "...";
}

std::string place(const std::string& file, const std::string& pointer) { return pointer.empty() ? file : file + ": " + pointer; }

std::size_t line_of(std::string_view text, std::size_t at) {
    const std::string_view before = text.substr(0, at);
    return 1 + static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n'));
}

/// Index of the first byte that is not UTF-8 (Unicode 15.0, table 3-7), or the size.
std::size_t first_bad_utf8(std::string_view text) {
    const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
    const auto within = [](unsigned b, unsigned low, unsigned high) { return low <= b && b <= high; };
    for (std::size_t i = 0; i < text.size();) {
        const unsigned lead = byte(i);
        if (lead < 0x80) {
            ++i;
            continue;
        }
        const std::size_t length = within(lead, 0xc2, 0xdf) ? 2 : within(lead, 0xe0, 0xef) ? 3 : within(lead, 0xf0, 0xf4) ? 4 : 0;
        const unsigned low = lead == 0xe0 ? 0xa0 : lead == 0xf0 ? 0x90 : 0x80;
        const unsigned high = lead == 0xed ? 0x9f : lead == 0xf4 ? 0x8f : 0xbf;
        if (length == 0 || !within(byte(i + 1), low, high)) return i;
        for (std::size_t k = 2; k < length; ++k) {
            if (!within(byte(i + k), 0x80, 0xbf)) return i;
        }
        i += length;
    }
    return text.size();
}

/// Control characters would steer a terminal and break the lines of a certificate; a line feed is a paragraph.
bool has_control(const std::string& text) {
    for (std::size_t i = 0; i < text.size(); ++i) {
        const auto byte = static_cast<unsigned char>(text[i]);
        const bool c1 = byte == 0xc2 && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) < 0xa0;
        if ((byte < 0x20 && byte != '\n') || byte == 0x7f || c1) return true;
    }
    return false;
}

std::string found_value(const json& value) {
    switch (value.type()) {
        case json::value_t::object:
            return "found an object";
        case json::value_t::array:
            return "found a list";
        case json::value_t::string:
            return "found " + shown(value.get_ref<const std::string&>());
        default:
            return "found " + value.dump();
    }
}

/// Builds the document and refuses what nlohmann's own builder would let pass.
class builder final : public nlohmann::json_sax<json> {
public:
    builder(std::string_view text, const std::string& file) : text_(text), file_(file) {}

    json take() { return std::move(root_); }

    bool null() override { return add(nullptr); }
    bool boolean(bool value) override { return add(value); }
    bool number_integer(std::int64_t value) override { return add(value); }
    bool number_unsigned(std::uint64_t value) override { return add(value); }
    bool number_float(double value, const std::string&) override { return add(value); }
    bool binary(json::binary_t&) override { return false; }  // no JSON text holds one
    bool string(std::string& value) override {
        check_text(value, pointer() + next_token());
        return add(std::move(value));
    }
    bool start_object(std::size_t) override { return open(json::object()); }
    bool start_array(std::size_t) override { return open(json::array()); }
    bool end_object() override { return close(); }
    bool end_array() override { return close(); }

    bool key(std::string& name) override {
        check_text(name, pointer());
        if (open_.back().value->contains(name)) {
            refuse(pointer() + pointer_token(name), "found this field twice", "each field once", "remove one of the two");
        }
        open_.back().key = name;
        return true;
    }

    bool parse_error(std::size_t position, const std::string&, const nlohmann::detail::exception& why) override {
        constexpr int number_overflow = 406;  // nlohmann_json, documentation of exceptions: json.exception.out_of_range.406
        if (why.id == number_overflow) {
            refuse(pointer() + next_token(), "found a number beyond the range of double", "at most 1.8e308 in size",
                   "correct the number");
        }
        const std::size_t at = position == 0 ? 0 : position - 1;
        const std::string where = fmt::format("{}, line {}", file_, line_of(text_, at));
        if (text_.find_first_not_of(" \t\r\n", at) == std::string_view::npos || position > text_.size()) {
            throw bad_input(where, "found the end of the file", "the rest of the JSON text",
                            "the file is cut off: take a whole copy");
        }
        const std::size_t line = text_.rfind('\n', at) + 1;  // npos + 1 is 0
        std::size_t from = std::max(at < shown_before_error ? 0 : at - shown_before_error, std::min(line, at));
        while (from < at && (static_cast<unsigned char>(text_[from]) & 0xc0U) == 0x80U) ++from;
        std::string_view near = text_.substr(from, text_.find_first_of("\r\n", at) - from);
        near.remove_prefix(std::min(near.find_first_not_of(" \t\r\n"), near.size()));
        throw bad_input(where, "found no JSON at " + shown(near), "JSON (RFC 8259)",
                        "correct this line: commas, quotation marks, brackets, no NaN and no comments");
    }

private:
    struct frame {
        json* value;
        std::string key;
    };

    [[noreturn]] void refuse(const std::string& at, const std::string& found, const std::string& expected,
                             const std::string& remedy) const {
        throw bad_input(place(file_, at), found, expected, remedy);
    }

    void check_text(const std::string& value, const std::string& at) const {
        if (value.size() > longest_text) {
            refuse(at, fmt::format("found a text of {} bytes", value.size()), fmt::format("at most {}", longest_text),
                   "shorten it");
        }
        if (has_control(value)) {
            refuse(at, "found a control character in " + shown(value), "text and line feeds", "remove the character");
        }
    }

    std::string pointer() const {  // of the innermost open object or list
        std::string path;
        for (std::size_t i = 0; i + 1 < open_.size(); ++i) {
            const frame& f = open_[i];
            path += f.value->is_array() ? "/" + std::to_string(f.value->size() - 1) : pointer_token(f.key);
        }
        return path;
    }

    std::string next_token() const {  // of the value to be added
        if (open_.empty()) return "";
        const frame& f = open_.back();
        return f.value->is_array() ? "/" + std::to_string(f.value->size()) : pointer_token(f.key);
    }

    json* put(json value) {
        if (open_.empty()) {
            root_ = std::move(value);
            return &root_;
        }
        json& parent = *open_.back().value;
        if (!parent.is_array()) return &(parent[open_.back().key] = std::move(value));
        parent.push_back(std::move(value));
        return &parent.back();
    }

    bool add(json value) {
        put(std::move(value));
        return true;
    }

    bool open(json value) {
        if (open_.size() == deepest) {
            refuse(pointer() + next_token(), fmt::format("found more than {} levels of brackets", deepest),
                   fmt::format("at most {}", deepest), take_another_copy);
        }
        open_.push_back({put(std::move(value)), {}});
        return true;
    }

    bool close() {
        open_.pop_back();
        return true;
    }

    std::string_view text_;
    const std::string& file_;
    json root_;
    std::vector<frame> open_;  // each value stays where it is: its parent grows only after it is closed
};

json parse(std::string_view text, const std::string& file) {
    if (text.size() > largest_file) {
        throw bad_input(file, fmt::format("found {} bytes", text.size()), fmt::format("at most {} (16 MiB)", largest_file),
                        "give a record or session file, not a capture");
    }
    if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
    if (text.find_first_not_of(" \t\r\n") == std::string_view::npos) {
        throw bad_input(file, "found an empty file", "a JSON text", take_another_copy);
    }
    if (const std::size_t bad = first_bad_utf8(text); bad < text.size()) {
        throw bad_input(
            fmt::format("{}, line {}", file, line_of(text, bad)),
            fmt::format("found the byte 0x{:02x} where no UTF-8 character has it", static_cast<unsigned char>(text[bad])),
            "UTF-8 text", "save the file as UTF-8");
    }
    builder to(text, file);
    json::sax_parse(text.begin(), text.end(), &to);
    return to.take();
}

}  // namespace

std::string read_json_text(const std::filesystem::path& file) {
    std::ifstream in = capture::open_regular_file(file);
    const std::uintmax_t size = std::filesystem::file_size(file);
    if (size > largest_file) {
        throw bad_input(file.string(), fmt::format("found {} bytes", size), fmt::format("at most {} (16 MiB)", largest_file),
                        "give a record or session file, not a capture");
    }
    std::string text(static_cast<std::size_t>(size), '\0');
    text.resize(capture::read_piece(in, text.data(), text.size(), file));
    return text;
}

struct json_reader::document {
    struct frame {
        const json* value;
        std::string pointer;
        std::vector<std::string> asked;
    };

    std::string file;
    completeness how;
    json root;
    std::vector<frame> open;

    frame& here() { return open.back(); }

    std::string at(const std::string& key) { return here().pointer + pointer_token(key); }

    [[noreturn]] void refuse(const std::string& pointer, const std::string& found, const std::string& expected,
                             const std::string& remedy) const {
        throw bad_input(place(file, pointer), found, expected, remedy);
    }

    void enter(const json& value, std::string pointer) {
        if (!value.is_object()) refuse(pointer, found_value(value), "an object in braces", "write its fields between { and }");
        open.push_back({&value, std::move(pointer), {}});
    }

    const json* find(const char* key) {
        std::vector<std::string>& asked = here().asked;
        if (std::find(asked.begin(), asked.end(), key) == asked.end()) asked.emplace_back(key);
        const auto found = here().value->find(key);
        return found == here().value->end() ? nullptr : &*found;
    }

    const json& need(const char* key) {
        const json* value = find(key);
        if (value == nullptr) refuse(at(key), "found no such field", "one", "add it: every field that has no default is needed");
        return *value;
    }

    void refuse_unknown() {
        const std::vector<std::string>& asked = here().asked;
        for (const auto& [key, value] : here().value->items()) {
            if (std::find(asked.begin(), asked.end(), key) != asked.end()) continue;
            std::string known;
            for (const std::string& name : asked) known += (known.empty() ? "" : ", ") + name;
            refuse(at(key), "found an unknown field", asked.empty() ? "none" : "none besides " + known,
                   "correct its name or remove it");
        }
    }

    double finite(const json& value, const std::string& pointer, const std::string& expected, demand d) const {
        const double number = value.get<double>();
        if (!std::isfinite(number) || !meets(number, d)) refuse(pointer, found_value(value), expected, "correct the number");
        return number;
    }
};

json_reader::json_reader(std::string_view text, std::string file, completeness how)
    : d_(std::make_unique<document>(document{std::move(file), how, {}, {}})) {
    d_->root = parse(text, d_->file);
    d_->enter(d_->root, "");
}

json_reader::~json_reader() = default;

void json_reader::finish() { d_->refuse_unknown(); }

void json_reader::text(const char* key, std::string& value, wording w) {
    const json& found = d_->need(key);
    if (!found.is_string()) d_->refuse(d_->at(key), found_value(found), "a text in quotation marks", "put it in quotation marks");
    value = found.get<std::string>();
    if (w == wording::not_empty && value.find_first_not_of(" \n") == std::string::npos) {
        d_->refuse(d_->at(key), "found an empty text", "some words", "fill it in");
    }
}

void json_reader::number(const char* key, double& value, demand d) {
    const json& found = d_->need(key);
    const std::string expected = d == demand::any          ? "a number"
                                 : d == demand::above_zero ? "a number above 0"
                                                           : "a number of 0 or more";
    if (!found.is_number())
        d_->refuse(d_->at(key), found_value(found), expected, "write a number without quotation marks and unit");
    value = d_->finite(found, d_->at(key), expected, d);
}

void json_reader::number_or_infinite(const char* key, double& value, demand d) {
    const json& found = d_->need(key);
    if (found == "infinite") {
        value = std::numeric_limits<double>::infinity();
    } else if (found.is_number()) {
        number(key, value, d);
    } else {
        d_->refuse(d_->at(key), found_value(found), "a number or \"infinite\"", "write one of them");
    }
}

void json_reader::flag(const char* key, bool& value) {
    const json& found = d_->need(key);
    if (!found.is_boolean())
        d_->refuse(d_->at(key), found_value(found), "true or false", "write one of them without quotation marks");
    value = found.get<bool>();
}

void json_reader::whole_number(const char* key, std::int64_t& value, std::int64_t low, std::int64_t high) {
    const json& found = d_->need(key);
    const bool fits = found.is_number_integer() && (!found.is_number_unsigned() || found.get<std::uint64_t>() <= INT64_MAX);
    if (!fits || found.get<std::int64_t>() < low || found.get<std::int64_t>() > high) {
        d_->refuse(d_->at(key), found_value(found), fmt::format("a whole number from {} to {}", low, high), "correct the number");
    }
    value = found.get<std::int64_t>();
}

void json_reader::figure(const char* key, double& value, const char* unit, demand d) {
    const json& found = d_->need(key);
    const std::string expected = describe_figure(unit, d);
    if (found.is_number() && std::string_view(unit) == "1") {
        value = d_->finite(found, d_->at(key), expected, d);
        return;
    }
    if (found.is_number()) {
        d_->refuse(d_->at(key), found_value(found) + " without a unit", expected,
                   "add the unit, in quotation marks with the number");
    }
    const std::optional<double> read = found.is_string() ? read_figure(found.get_ref<const std::string&>(), unit) : std::nullopt;
    if (!read || !meets(*read, d)) {
        d_->refuse(d_->at(key), found_value(found), expected,
                   "write a number with a decimal point, a space and a unit of that kind");
    }
    value = *read;
}

bool json_reader::has(const char* key, bool) { return d_->find(key) != nullptr; }

bool json_reader::gives(const char* key) { return d_->how == completeness::every_field || d_->find(key) != nullptr; }

void json_reader::expect(bool good, const std::string& key, const std::string& found, const std::string& expected,
                         const std::string& remedy) {
    if (!good) d_->refuse(d_->here().pointer + "/" + key, found, expected, remedy);
}

void json_reader::begin_object(const char* key) {
    const json& found = d_->need(key);
    d_->enter(found, d_->at(key));
}

void json_reader::end_object() {
    d_->refuse_unknown();
    d_->open.pop_back();
}

std::size_t json_reader::begin_list(const char* key, std::size_t) {
    const json& found = d_->need(key);
    if (!found.is_array()) d_->refuse(d_->at(key), found_value(found), "a list in brackets", "write it between [ and ]");
    d_->open.push_back({&found, d_->at(key), {}});
    return found.size();
}

void json_reader::begin_item(std::size_t i) { d_->enter((*d_->here().value)[i], d_->at(std::to_string(i))); }

void json_reader::end_list() { d_->open.pop_back(); }

}  // namespace plumbline::inline v0::record
