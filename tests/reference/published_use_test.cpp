// Nothing published lies about unused: every entry of tests/reference is named by a test, and every figure of it, printed or recomputed.

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace reference_published_use {

namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

/// A test case with what stands ahead of the first of its file: the helpers that it may compare by.
struct test_case {
    std::string text;
    std::string helpers;
    [[nodiscard]] bool names(const std::string& key) const {
        const std::string literal = '"' + key + '"';
        return text.find(literal) != std::string::npos || helpers.find(literal) != std::string::npos;
    }
};

std::vector<test_case> all_test_cases() {
    const std::string begin = std::string("\nTEST") + "_CASE(";
    std::vector<test_case> all;
    for (const auto& file : fs::recursive_directory_iterator(PLUMBLINE_SOURCE_DIR "/tests")) {
        if (!file.path().string().ends_with("_test.cpp")) continue;
        const std::string text = text_of(file.path());
        const std::size_t first = text.find(begin);
        for (std::size_t at = first; at != std::string::npos;) {
            const std::size_t next = text.find(begin, at + 1);
            all.push_back({text.substr(at, next == std::string::npos ? next : next - at), text.substr(0, first)});
            at = next;
        }
    }
    return all;
}

/// Whether there is a number or a verdict in it; words alone are statements that a test is named after.
bool has_figures(const nlohmann::json& v) {
    if (v.is_structured()) return std::any_of(v.begin(), v.end(), [](const auto& part) { return has_figures(part); });
    return v.is_number() || v.is_boolean();
}

}  // namespace

TEST_CASE("every published entry and every figure of it is used by a test") {
    const std::vector<test_case> tests = all_test_cases();
    std::size_t families = 0;
    std::size_t entries = 0;
    std::size_t figures = 0;
    std::string missing;
    for (const auto& file : fs::directory_iterator(PLUMBLINE_SOURCE_DIR "/tests/reference")) {
        if (file.path().extension() != ".json") continue;
        const auto all = nlohmann::json::parse(text_of(file.path()));
        if (!all.contains("entries")) continue;
        const std::string family = file.path().stem();
        ++families;
        for (const auto& e : all["entries"]) {
            ++entries;
            const std::string id = e["id"];
            std::vector<const test_case*> users;
            for (const test_case& t : tests) {
                if (t.text.find('"' + id + '"') != std::string::npos || t.helpers.find("\"" + id + "\"") != std::string::npos)
                    users.push_back(&t);
            }
            if (users.empty()) missing += '\n' + family + ", " + id + ": no test";
            for (const char* section : {"expected", "recomputed"}) {
                const auto of = e.value(section, nlohmann::json::object());
                for (const auto& [key, value] : of.items()) {
                    if (!has_figures(value) && family != "random") continue;
                    ++figures;
                    if (std::none_of(users.begin(), users.end(), [&k = key](const test_case* t) { return t->names(k); })) {
                        missing += '\n' + family + ", " + id + ": no test compares \"" + key + '"';
                    }
                }
            }
        }
    }
    CHECK(missing == "");
    CHECK(families >= 17);
    CHECK(entries > 100);
    CHECK(figures > 600);
}

}  // namespace reference_published_use
