#pragma once
// Published values of tests/reference/capture.json, each with its source beside it there.

#include <nlohmann/json.hpp>

#include <fstream>
#include <stdexcept>
#include <string>

inline nlohmann::json capture_reference(const std::string& id) {
    std::ifstream file(PLUMBLINE_SOURCE_DIR "/tests/reference/capture.json");
    const nlohmann::json all = nlohmann::json::parse(file);
    for (const nlohmann::json& entry : all.at("entries")) {
        if (entry.at("id") == id) {
            return entry;
        }
    }
    throw std::runtime_error("tests/reference/capture.json has no entry " + id);
}
