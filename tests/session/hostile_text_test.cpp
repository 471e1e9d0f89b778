// Texts that mean harm, in every field of a session, through to record and certificates; and surroundings that must change nothing.

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "fixture.hpp"

#include <algorithm>
#include <array>
#include <clocale>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <functional>
#include <locale>
#include <optional>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <sstream>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace hostile_text_test {

namespace {

using fixture::on_disk;
using nlohmann::ordered_json;
using pointer = ordered_json::json_pointer;
using plumbline::record::record;

/// The fixture with every text that may be left out.
ordered_json full_session() {
    ordered_json j = fixture::session();
    j["replaces"] = "SHED-0";
    j["reason"] = "typing error";
    j["device"]["firmware"] = "1.2";
    j["device"]["condition"] = "good";
    j["method"]["deviations"] = "none at all";
    j["method"]["not_covered"] = "time base";
    j["data_from_others"] = "tolerances";
    for (ordered_json& r : j["references"]) {
        for (const char* key : {"maker", "model", "serial", "traceability"}) r[key] = key;
    }
    for (const char* key : {"coupling", "supply", "sampling"}) j["ranges"][0]["mode"][key] = key;
    j["dates"]["received"] = "2025-03-14";
    return j;
}

/// Where the texts of a document are.
std::vector<std::string> text_fields(const ordered_json& j) {
    std::vector<std::string> all;
    const ordered_json flat = j.flatten();
    for (const auto& [at, value] : flat.items()) {
        if (value.is_string()) all.push_back(at);
    }
    return all;
}

/// Where a session takes any words at all. Channel, range, check point and the id of a reference are names: see is_name.
std::vector<std::string> free_texts() {
    std::vector<std::string> all{"/reason",
                                 "/owner/name",
                                 "/owner/contact",
                                 "/calibrated_by/name",
                                 "/calibrated_by/contact",
                                 "/authorised_by",
                                 "/place",
                                 "/method/text",
                                 "/method/deviations",
                                 "/method/not_covered",
                                 "/data_from_others",
                                 "/invented",
                                 "/ranges/0/mode/coupling",
                                 "/ranges/0/mode/supply",
                                 "/ranges/0/mode/sampling"};
    for (const char* key : {"description", "maker", "model", "serial", "firmware", "condition"}) {
        all.push_back(std::string("/device/") + key);
    }
    for (const char* reference : {"/references/0/", "/references/1/", "/references/2/"}) {
        for (const char* key : {"description", "maker", "model", "serial", "traceability"}) {
            all.push_back(std::string(reference) + key);
        }
    }
    return all;
}

const std::vector<std::string> names{"/ranges/0/channel", "/ranges/0/range", "/ranges/0/checks/0/name", "/references/1/id"};

void put(ordered_json& j, const std::string& at, const std::string& text) {
    j[pointer(at)] = text;
    if (at == "/references/1/id") j["ranges"][0]["reference"]["applied"]["reference"] = text;
}

std::string without_folder(std::string said, const on_disk& d) {
    const std::string folder = d.folder.path().string() + "/";
    for (std::size_t at = said.find(folder); at != std::string::npos; at = said.find(folder)) said.erase(at, folder.size());
    return said;
}

/// What is said to a session file with these contents when it is read; "" if it is taken.
std::string refusal(const on_disk& d, const std::string& contents) {
    d.folder.add("s.json", contents);
    try {
        static_cast<void>(plumbline::session::read_session(d.file));
    } catch (const plumbline::error& refused) {
        return without_folder(refused.what(), d);
    }
    return "";
}

std::string refusal(const on_disk& d, const std::string& at, const std::string& text) {
    ordered_json j = full_session();
    put(j, at, text);
    return refusal(d, j.dump());
}

record made_from(const ordered_json& j) {
    const on_disk d(j);
    return plumbline::session::run(plumbline::session::read_session(d.file));
}

/// The tags of a page with the names of their attributes, and no text: what a reader's browser makes boxes of.
std::string skeleton(const std::string& page) {
    std::string tags;
    bool in_tag = false;
    bool in_value = false;
    for (const char c : page) {
        if (c == '<') in_tag = true;
        if (in_tag && c == '"') in_value = !in_value;
        if (in_tag && !in_value) tags += c;
        if (c == '>' && !in_value) in_tag = false;
    }
    return tags;
}

/// Control characters other than line feeds, C1 controls, what turns the direction of writing, line separators: "" if there are none.
std::string steering(const std::string& text) {
    for (std::size_t i = 0; i < text.size(); ++i) {
        const auto byte = static_cast<unsigned char>(text[i]);
        const std::string_view three = std::string_view(text).substr(i, 3);
        const bool c1 = byte == 0xc2 && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) < 0xa0;
        const bool turns = three == "\u200e" || three == "\u200f" || (three >= "\u2028" && three <= "\u202e") ||
                           (three >= "\u2066" && three <= "\u2069") || three == "\ufeff";
        if ((byte < 0x20 && byte != '\n') || byte == 0x7f || c1 || turns) return text.substr(i < 20 ? 0 : i - 20, 40);
    }
    return "";
}

std::size_t widest_line(const std::string& text) {
    std::size_t widest = 0;
    std::size_t width = 0;
    for (const char c : text) {
        if (c == '\n')
            width = 0;
        else if ((static_cast<unsigned char>(c) & 0xc0U) != 0x80U)
            widest = std::max(widest, ++width);
    }
    return widest;
}

std::size_t count(const std::string& text, const std::string& of) {
    std::size_t n = 0;
    for (std::size_t at = text.find(of); at != std::string::npos; at = text.find(of, at + of.size())) ++n;
    return n;
}

}  // namespace

TEST_CASE("control characters are refused in every text of a session, by its path") {
    const on_disk d;
    const std::vector<std::string> all = text_fields(full_session());
    REQUIRE(all.size() > 60);
    slow::choice looked_at;
    for (const std::string& at : all) {
        if (!looked_at()) continue;
        CAPTURE(at);
        const std::string tail = ", expected text and line feeds; remove the character";
        CHECK(refusal(d, at, "x\x1b[2Jy") == "s.json: " + at + ": found a control character in \"x\\u001b[2Jy\"" + tail);
        CHECK(refusal(d, at, "a\tb") == "s.json: " + at + ": found a control character in \"a\\u0009b\"" + tail);
        CHECK(refusal(d, at, "a\rb") == "s.json: " + at + ": found a control character in \"a\\u000db\"" + tail);
        CHECK(refusal(d, at, std::string("a\0b", 3)) == "s.json: " + at + ": found a control character in \"a\\u0000b\"" + tail);
        CHECK(refusal(d, at, "\x7f") == "s.json: " + at + ": found a control character in \"\\u007f\"" + tail);
        CHECK(refusal(d, at, "\u009b2J") == "s.json: " + at + ": found a control character in \"\\u009b2J\"" + tail);
    }
}

TEST_CASE("a text of 1 MB is refused in every field of a session, by its path, and so is a name of 1 MB for a field") {
    const on_disk d;
    slow::choice looked_at(5);
    for (const std::string& at : text_fields(full_session())) {
        if (!looked_at()) continue;
        CHECK(refusal(d, at, std::string(1 << 20, 'x')) ==
              "s.json: " + at + ": found a text of 1048576 bytes, expected at most 65536; shorten it");
    }
    ordered_json j = full_session();
    j["device"][std::string(1 << 20, 'x')] = 1;
    CHECK(refusal(d, j.dump()) == "s.json: /device: found a text of 1048576 bytes, expected at most 65536; shorten it");
}

TEST_CASE("bytes that are no UTF-8 are refused in every text of a session, by their line") {
    const on_disk d;
    slow::choice looked_at;
    for (const std::string& at : text_fields(full_session())) {
        if (!looked_at()) continue;
        ordered_json j = full_session();
        put(j, at, "PLACE");
        std::string contents = j.dump();
        contents.replace(contents.find("PLACE"), 5, "\xed\xa0\x80");  // a surrogate, as no UTF-8 writes it
        CAPTURE(at);
        CHECK(refusal(d, contents) ==
              "s.json, line 1: found the byte 0xed where no UTF-8 character has it, expected UTF-8 text; save the file as UTF-8");
    }
}

TEST_CASE("names that make the identity of an input have no '/' and are short, and no channel is called as references are") {
    const on_disk d;
    for (const std::string& at : names) {
        CAPTURE(at);
        for (const std::string name : {"V/oct", "/", "A/12 V/zero", "../x"}) {
            CHECK(refusal(d, at, name) == "s.json: " + at + ": found \"" + name +
                                              "\", expected a name without \"/\"; write another character, or \"per\"");
        }
        CHECK(refusal(d, at, std::string(257, 'x')) ==
              "s.json: " + at + ": found a name of 257 bytes, expected at most 256; shorten it");
        CHECK(refusal(d, at, std::string(256, 'x')) == "");
    }
    CHECK(refusal(d, "/ranges/0/channel", "reference") ==
          "s.json: /ranges/0/channel: found \"reference\", expected another name, since the inputs of references begin with that "
          "one; "
          "rename the channel");
    CHECK(refusal(d, "/references/0/description", std::string(4097, 'x')) ==
          "s.json: /references/0/description: found a text of 4097 bytes, expected at most 4096; shorten it");
}

TEST_CASE("a number that becomes a file name has nothing in it that a path could take") {
    const on_disk d;
    for (const std::string number : {"", ".", "..", ".hidden", "../x", "a/b", "/etc/x", "a\\\\b", "a b", "a:b", "a*", "\u00e4",
                                     "a\u202eb", "~", "$(x)", "<b>", "a\nb"}) {
        CAPTURE(number);
        const std::string said = refusal(d, "/number", number);
        CHECK(said.starts_with("s.json: /number: found \""));
        CHECK(said.ends_with(
            "\", expected 1 to 64 letters, digits, '.', '_' or '-', not beginning with '.'; choose a number that can "
            "name a file"));
    }
    CHECK(refusal(d, "/number", std::string(65, 'x')) == "s.json: /number: found \"" + std::string(40, 'x') +
                                                             "...\", expected 1 to 64 letters, digits, '.', '_' or '-', not "
                                                             "beginning with '.'; choose a number that can name a file");
    CHECK(refusal(d, "/number", std::string(64, 'x')) == "");
}

TEST_CASE(
    "hostile words in every field come out as words: the page keeps its tags, the text its width, and neither steers a screen") {
    const std::string tags = skeleton(plumbline::certificate::html(made_from(full_session())));
    REQUIRE(count(tags, "<") > 500);
    struct payload {
        std::string text;
        std::string in_page;
    };
    const std::vector<payload> payloads{
        {"<img src=x onerror=\"alert('1')\">", "&lt;img src=x onerror=&quot;alert(&apos;1&apos;)&quot;&gt;"},
        {"\"><script>alert(1)&lt;</script><style>*{display:none}</style><!--",
         "&quot;&gt;&lt;script&gt;alert(1)&amp;lt;&lt;/script&gt;&lt;style&gt;*{display:none}&lt;/style&gt;&lt;!--"},
        {"{{{number}}}{{#sections}}{{>x}}]]>", "{{{number}}}{{#sections}}{{&gt;x}}]]&gt;"},
        {"paid\u202e0001 \u2066\u2067\u200f\u2028\u2029\ufeffend", "paid\ufffd0001 \ufffd\ufffd\ufffd\ufffd\ufffd\ufffdend"},
        {"first\nsecond\n\n\nlast", "first"},
        {"..\\..\\x; rm -rf ~ `x` $(x) %s%n", "..\\..\\x; rm -rf ~ `x` $(x) %s%n"},
        {std::string(300, 'W'), std::string(300, 'W')},
    };
    slow::choice looked_at;
    for (const payload& p : payloads) {
        if (!looked_at()) continue;
        CAPTURE(p.text);
        ordered_json j = full_session();
        for (const std::string& at : free_texts()) put(j, at, p.text);
        for (const std::string& at : names) {
            if (p.text.find('/') == std::string::npos && p.text.size() <= 256) put(j, at, p.text);
        }
        const record made = made_from(j);
        CHECK(plumbline::record::from_json(plumbline::record::to_json(made), "r.json") == made);
        CHECK(made.owner.name == p.text);
        const std::string page = plumbline::certificate::html(made);
        const bool same_tags = skeleton(page) == tags;  // too long to print
        CHECK(same_tags);
        CHECK(steering(page) == "");
        CHECK(count(page, p.in_page) >= free_texts().size());
        const std::string text = plumbline::certificate::text(made);
        CHECK(steering(text) == "");
        CHECK(widest_line(text) <= 80);
    }
}

TEST_CASE("whatever stands in the names of a session, a refusal is one line that steers no screen") {
    ordered_json j = full_session();
    j["ranges"][0]["channel"] = "A\nA\u202eV\u2028";
    j["ranges"][0]["zero"]["capture"]["file"] = "captures/none\u2066.csv";
    const on_disk missing(j);
    std::string said;
    try {
        static_cast<void>(plumbline::session::run(plumbline::session::read_session(missing.file)));
    } catch (const plumbline::error& refused) {
        said = without_folder(refused.what(), missing);
    }
    CHECK(said == "captures/none\\u2066.csv: found no such file, expected a file; check the name and the folder");

    j["ranges"][0]["zero"]["capture"] = j["ranges"][0]["reference"]["capture"];  // no span: no calibration
    const on_disk same(j);
    try {
        static_cast<void>(plumbline::session::run(plumbline::session::read_session(same.file)));
    } catch (const plumbline::error& refused) {
        said = refused.what();
    }
    CHECK(said.find("\\u202e") != std::string::npos);
    CHECK(said.find('\n') == std::string::npos);
    CHECK(steering(said) == "");
}

TEST_CASE("the longest words allowed in every field come out whole" * doctest::skip(slow::build)) {
    ordered_json j = full_session();
    std::size_t longest = 0;
    for (const std::string& at : free_texts()) {
        const std::size_t most = at.starts_with("/references/") && at.ends_with("/description") ? 4096 : 65536;
        put(j, at, std::string(most, 'x'));
        longest += most;
    }
    for (const std::string& at : names) put(j, at, std::string(256, 'y'));
    const record made = made_from(j);
    CHECK(plumbline::record::from_json(plumbline::record::to_json(made), "r.json") == made);
    const std::string page = plumbline::certificate::html(made);
    CHECK(count(page, "x") >= longest);
    const std::string text = plumbline::certificate::text(made);
    CHECK(count(text, "x") >= longest);
    CHECK(widest_line(text) <= 80);
}

TEST_CASE("a capture with a hostile name and column comes out as words") {
    const std::string file = "captures/<b onclick=\"x\">\u202e&.csv";
    const std::string column = "x<i>\u2066\"{{x}}\"</i>";
    ordered_json j = full_session();
    const std::string tags = skeleton(plumbline::certificate::html(made_from(j)));
    j["ranges"][0]["zero"]["capture"] = {{"file", file}, {"column", column}};
    const on_disk d(j);
    d.folder.add(
        file, "a,\"x<i>\u2066\"\"{{x}}\"\"</i>\"\n" + [] {
            std::string rows;
            std::istringstream codes(fixture::capture(338));
            for (std::string code; std::getline(codes, code);) rows += "0," + code + "\n";
            return rows;
        }());
    const record made = plumbline::session::run(plumbline::session::read_session(d.file));
    CHECK(made.ranges[0].zero.evidence.file == file);
    CHECK(made.ranges[0].zero.evidence.column == column);
    const std::string page = plumbline::certificate::html(made);
    const bool same_tags = skeleton(page) == tags;
    CHECK(same_tags);
    CHECK(count(page, "captures/&lt;b onclick=&quot;x&quot;&gt;\ufffd&amp;.csv") >= 1);
    CHECK(steering(page) == "");
    CHECK(steering(plumbline::certificate::text(made)) == "");
}

namespace {

class comma final : public std::numpunct<char> {
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
};

/// An environment variable of this process, put back at the end.
class environment {
public:
    environment(const char* name, const std::string& value) : name_(name) {
        if (const char* before = std::getenv(name)) before_ = before;
        ::setenv(name, value.c_str(), 1);
    }
    ~environment() {
        if (before_) {
            ::setenv(name_, before_->c_str(), 1);
        } else {
            ::unsetenv(name_);
        }
    }
    environment(const environment&) = delete;
    environment& operator=(const environment&) = delete;

private:
    const char* name_;
    std::optional<std::string> before_;
};

/// Both languages' ideas of a place where decimals have a comma.
class comma_locale {
public:
    explicit comma_locale(const std::filesystem::path& folder)
        : path_("LOCPATH", folder.string()), before_(std::locale::global(std::locale(std::locale::classic(), new comma))) {
        // A locale of our own, since a machine may have none with a comma.
        const std::string source = (folder / "source").string();
        if (std::FILE* f = std::fopen(source.c_str(), "w")) {
            std::fputs("LC_NUMERIC\ndecimal_point \"<U002C>\"\nthousands_sep \"<U002E>\"\ngrouping 3;3\nEND LC_NUMERIC\n", f);
            std::fclose(f);
        }
        const std::string make = "localedef --no-archive -c -i '" + source + "' -f ANSI_X3.4-1968 '" +
                                 (folder / "xx_comma").string() + "' >/dev/null 2>&1";
        static_cast<void>(std::system(make.c_str()));  // warns of what is not defined
        of_c = std::setlocale(LC_NUMERIC, "xx_comma") != nullptr;
    }
    ~comma_locale() {
        std::setlocale(LC_NUMERIC, "C");
        std::locale::global(before_);
    }
    comma_locale(const comma_locale&) = delete;
    comma_locale& operator=(const comma_locale&) = delete;

    bool of_c = false;

private:
    environment path_;
    std::locale before_;
};

std::array<std::string, 3> files_of(const on_disk& d) {
    const record made = plumbline::session::run(plumbline::session::read_session(d.file));
    const std::string json = plumbline::record::to_json(made);
    const record read = plumbline::record::from_json(json, "r.json");
    return {json, plumbline::certificate::text(read), plumbline::certificate::html(read)};
}

}  // namespace

TEST_CASE("a locale with decimal commas and an odd time zone change no byte of record and certificates") {
    const on_disk d(full_session());
    const std::array<std::string, 3> before = files_of(d);
    const scratch_folder folder;
    {
        const comma_locale place(folder.path());
        const environment zone("TZ", "ODD-13:45:30EVEN,J1/0,J365/23");
        ::tzset();
        std::ostringstream stream;
        stream << 1234.5;
        REQUIRE(stream.str() == "1.234,5");
        std::array<char, 8> printed{};
        std::snprintf(printed.data(), printed.size(), "%.1f", 1.5);
        if (place.of_c) {
            REQUIRE(std::string(printed.data()) == "1,5");
        } else {
            MESSAGE("tried with the locale of C++ alone: there is no localedef here");
        }
        const std::time_t epoch = 0;
        REQUIRE(std::localtime(&epoch)->tm_hour != 0);
        const std::array<std::string, 3> there = files_of(d);
        for (std::size_t i = 0; i < before.size(); ++i) {
            CAPTURE(i);
            const bool same = there[i] == before[i];  // too long to print
            CHECK(same);
        }
    }
    ::tzset();
}

}  // namespace hostile_text_test
