#include "../reference/published.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <string>

namespace published_used_test {

namespace {

/// All tests but this one, as one text.
std::string all_tests() {
    std::string all;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(PLUMBLINE_SOURCE_DIR "/tests")) {
        const std::string name = entry.path().filename().string();
        if (!name.ends_with("_test.cpp") || name == "published_used_test.cpp") continue;
        std::ifstream in(entry.path(), std::ios::binary);
        all.append(std::istreambuf_iterator<char>(in), {});
    }
    return all;
}

}  // namespace

TEST_CASE("every published entry on converters, preferred values and guidelines is used by a test, by its id") {
    const std::string tests = all_tests();
    for (const char* family : {"converters", "e-series", "guidelines"}) {
        std::ifstream file(std::string(PLUMBLINE_SOURCE_DIR "/tests/reference/") + family + ".json");
        const auto all = nlohmann::json::parse(file);
        REQUIRE(all.at("entries").size() >= 4);
        for (const auto& e : all.at("entries")) {
            CAPTURE(e.at("id").get<std::string>());
            CHECK(tests.find('"' + e.at("id").get<std::string>() + '"') != std::string::npos);
        }
    }
    CHECK(tests.find("\"no-such-entry\"") == std::string::npos);
}

}  // namespace published_used_test
