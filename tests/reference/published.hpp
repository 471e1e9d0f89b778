#pragma once
// Published values for tests: every entry names its source (document and clause), its status and the tolerance of its digits.

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>

namespace plumbline::published {

inline nlohmann::json entry(const std::string& family, const std::string& id) {
    const std::string path = std::string(PLUMBLINE_SOURCE_DIR "/tests/reference/") + family + ".json";
    std::ifstream file(path);
    const auto all = nlohmann::json::parse(file);
    for (const auto& e : all.at("entries")) {
        if (e.at("id") == id) return e;
    }
    throw std::runtime_error(path + " has no entry " + id);
}

/// Checks a value against the digits printed. The slack is for ties in the last binary place only.
inline void check_printed(const nlohmann::json& e, const std::string& key, double found) {
    const double printed = e.at("expected").at(key);
    const double allowed = e.at("tolerance").at("absolute").at(key);
    CAPTURE(e.at("source").get<std::string>());
    CAPTURE(key);
    CAPTURE(printed);
    CAPTURE(found);
    CHECK(std::abs(found - printed) <= allowed * (1.0 + 1e-9));
}

/// Checks a value against the figure recomputed from the published inputs in full precision.
inline void check_recomputed(const nlohmann::json& e, const std::string& key, double found, double relative = 1e-9) {
    const double exact = e.at("recomputed").at(key);
    CAPTURE(e.at("source").get<std::string>());
    CAPTURE(key);
    CAPTURE(found - exact);
    CHECK(std::abs(found - exact) <= relative * std::abs(exact));
}

}  // namespace plumbline::published
