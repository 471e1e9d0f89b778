// The page of numbers (include/plumbline/NUMBERS.md) against the code.

#include <doctest/doctest.h>

#include <fstream>
#include <iterator>
#include <map>
#include <regex>
#include <string>

namespace numbers_test {

namespace {

using numbers = std::map<int, std::string>;

std::string text_of(const std::string& file) {
    std::ifstream in(std::string(PLUMBLINE_SOURCE_DIR "/") + file, std::ios::binary);
    REQUIRE_MESSAGE(in.good(), file);
    return {std::istreambuf_iterator<char>(in), {}};
}

/// What a pattern with one group for the number and one for the name finds, by number.
void collect(numbers& into, const std::string& text, const std::string& pattern, std::size_t number, std::size_t name) {
    const std::regex wanted(pattern);
    for (auto m = std::sregex_iterator(text.begin(), text.end(), wanted); m != std::sregex_iterator(); ++m) {
        CHECK_MESSAGE(into.emplace(std::stoi((*m)[number]), (*m)[name]).second, (*m)[0].str());  // each number once
    }
}

std::string listed(const numbers& all) {
    std::string text;
    for (const auto& [number, name] : all) text += std::to_string(number) + " " + name + "\n";
    return text;
}

}  // namespace

TEST_CASE("the page of numbers has a row with meaning and advice for each refusal and finding of the code, and no other") {
    numbers in_code;
    const std::string enumerator = R"(\n\s+(\w+) = ([12]\d\d),)";
    collect(in_code, text_of("include/plumbline/error.hpp"), enumerator, 2, 1);
    collect(in_code, text_of("src/calibration/findings.hpp"), enumerator, 2, 1);
    numbers on_page;
    collect(on_page, text_of("include/plumbline/NUMBERS.md"), R"(\n\| (\d+) \| (\w+) \| [^|\n]{10,} \| [^|\n]{10,} \|)", 1, 2);
    CHECK(listed(on_page) == listed(in_code));
    CHECK(in_code.size() >= 15);
    CHECK(in_code.begin()->first == 101);
}

}  // namespace numbers_test
