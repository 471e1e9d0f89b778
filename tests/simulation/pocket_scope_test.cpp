#include <doctest/doctest.h>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <set>
#include <simulation/pocket_scope.hpp>
#include <simulation/shed_logger.hpp>
#include <simulation/shipped_probe.hpp>
#include <string>

namespace pocket_scope_test {

namespace {

const std::filesystem::path sessions = std::filesystem::path(PLUMBLINE_SOURCE_DIR) / "examples" / "sessions";

std::string contents(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

nlohmann::json session() { return nlohmann::json::parse(contents(sessions / "pocket-scope.json")); }

}  // namespace

TEST_CASE("the simulation writes the shipped captures and their truth byte for byte") {
    const auto files = plumbline::simulation::pocket_scope_files();
    CHECK(files.size() == 27);
    const auto of_probe = plumbline::simulation::shipped_probe_files();
    CHECK(of_probe.size() == 3);
    const auto of_logger = plumbline::simulation::shed_logger_files();
    CHECK(of_logger.size() == 7);
    for (const auto& file : of_logger) {
        CAPTURE(file.first);
        CHECK((contents(sessions / file.first) == file.second));
    }
    for (const auto& file : of_probe) {
        CAPTURE(file.first);
        CHECK((contents(sessions / file.first) == file.second));
    }
    for (const auto& file : files) {
        CAPTURE(file.first);
        CHECK(!file.second.empty());
        CHECK((contents(sessions / file.first) == file.second));  // in brackets: 20 kB need not be printed
    }
}

TEST_CASE("every shipped capture comes from the simulation") {
    auto files = plumbline::simulation::pocket_scope_files();
    files.merge(plumbline::simulation::shipped_probe_files());
    files.merge(plumbline::simulation::shed_logger_files());
    for (const auto& entry : std::filesystem::directory_iterator(sessions / "captures")) {
        const std::string name = "captures/" + entry.path().filename().string();
        CAPTURE(name);
        CHECK(files.count(name) == 1);
    }
}

TEST_CASE("the session states for each check point what the bench meter showed, and uses every capture") {
    const nlohmann::json truth = nlohmann::json::parse(plumbline::simulation::pocket_scope_files().at("pocket-scope-truth.json"));
    std::size_t checks = 0;
    std::set<std::string> used;
    const nlohmann::json stated = session();
    for (const nlohmann::json& range : stated.at("ranges")) {
        used.insert(range.at("zero").at("capture").at("file").get<std::string>());
        used.insert(range.at("reference").at("capture").at("file").get<std::string>());
        used.insert(range.at("negative").at("capture").at("file").get<std::string>());
        for (const nlohmann::json& check : range.at("checks")) {
            const std::string file = check.at("capture").at("file");
            used.insert(file);
            CAPTURE(file);
            for (const nlohmann::json& shot : truth.at("captures")) {
                if (shot.at("file") != file) continue;
                ++checks;
                CHECK(shot.at("channel") == range.at("channel"));
                CHECK(shot.at("range") == range.at("range"));
                CHECK(shot.at("meter_value") == check.at("applied").at("value"));
                CHECK(shot.at("meter_U") == check.at("applied").at("U"));
            }
        }
    }
    CHECK(checks == 18);  // two captures are judged both as found and as left
    CHECK(used.size() == 24);
}

TEST_CASE("the shipped files say that they are invented and stay small") {
    CHECK(session().at("invented") ==
          "Demonstration: instrument, people, references and captures are invented; the captures are simulated.");
    std::size_t bytes = 0;
    for (const auto& file : plumbline::simulation::pocket_scope_files()) {
        CAPTURE(file.first);
        CHECK(file.second.find("simulated by tests/simulation; no such instrument, person or reference exists") !=
              std::string::npos);
        bytes += file.second.size();
    }
    CHECK(bytes < 1'500'000);
}

}  // namespace pocket_scope_test
