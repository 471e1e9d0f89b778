#include "../reference/published.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <plumbline/front_end/node.hpp>
#include <plumbline/session/session.hpp>
#include <string>
#include <vector>

namespace guidelines_test {

using namespace plumbline;

namespace {

nlohmann::json printed(const char* id) { return published::entry("guidelines", id).at("expected"); }

session::session shipped(const char* name) {
    return session::read_session(std::string(PLUMBLINE_SOURCE_DIR "/examples/sessions/") + name);
}

}  // namespace

TEST_CASE("the shipped session has points near both ends and of both polarities of each range, as EURAMET cg-15 asks") {
    const auto facts = printed("euramet-cg-15").at("facts").get<std::vector<std::string>>();
    REQUIRE(facts.size() == 3);
    REQUIRE(facts[0].starts_with("measurement points are tabulated as percentages of full scale"));
    REQUIRE(facts[1] == "points near both ends and both polarities of DC ranges are included");
    const session::session s = shipped("pocket-scope.json");
    REQUIRE(s.ranges.size() == 4);
    for (const session::range& r : s.ranges) {
        CAPTURE(r.setup.channel + ' ' + r.setup.range);
        REQUIRE(r.setup.chain.low == -1.0 * r.setup.chain.high);
        std::vector<long> percentages;
        for (const session::check& c : r.checks) {
            if (c.as_found) continue;
            REQUIRE(c.step.source.stated.has_value());
            percentages.push_back(std::lround(100.0 * (c.step.source.stated->value / r.setup.chain.high).value()));
        }
        CHECK(std::is_sorted(percentages.begin(), percentages.end()));
        REQUIRE(percentages.size() == 4);
        CHECK(percentages[0] <= -67);  // near: in the outer thirds of full scale
        CHECK(std::abs(percentages[1] + 40) <= 2);
        CHECK(std::abs(percentages[2] - 25) <= 2);
        CHECK(percentages[3] >= 67);
    }
}

TEST_CASE("what EURAMET cg-7 lists for a calibration, a shipped session has, or says that it is not covered") {
    const auto listed = printed("euramet-cg-7-measurands").at("measurands").get<std::vector<std::string>>();
    REQUIRE(listed.size() == 5);
    for (const char* file : {"pocket-scope.json", "shed-logger.json"}) {
        CAPTURE(file);
        const session::session s = shipped(file);
        const std::string& left_out = s.header.method.not_covered;
        const auto named = [&](const char* what) { return left_out.find(what) != std::string::npos; };
        for (const std::string& measurand : listed) {
            CAPTURE(measurand);
            if (measurand.starts_with("vertical deflection")) {
                CHECK_FALSE(s.ranges.empty());
            } else if (measurand.starts_with("time base")) {
                CHECK(s.clock.has_value() != named("time base"));
            } else if (measurand.starts_with("rise time") || measurand.starts_with("bandwidth")) {
                CHECK(named("bandwidth"));  // one is the other's
            } else {
                REQUIRE(measurand == "flatness, trigger and input resistance where applicable");
                for (const session::range& r : s.ranges) {
                    CHECK(front_end::nominal_input_resistance(r.setup.chain) > 1e3 * ohm);
                }
            }
        }
    }
}

TEST_CASE("the guidelines are cited in the edition that was published") {
    struct cited {
        const char* id;
        const char* name;
        const char* in;
    };
    for (const cited& c : {cited{"euramet-cg-7", "EURAMET cg-7", "include/plumbline/front_end/bandwidth.hpp"},
                           cited{"euramet-cg-15", "EURAMET cg-15", "src/audit/value_lines.cpp"}}) {
        const auto e = printed(c.id);
        const double version = e.at("version");
        const std::string date = e.at("date");
        const std::string tenths = std::to_string(std::lround(10.0 * version));
        const std::string citation =
            std::string(c.name) + ", version " + tenths.substr(0, 1) + '.' + tenths.substr(1) + " (" + date + ")";
        std::ifstream in(std::string(PLUMBLINE_SOURCE_DIR "/") + c.in, std::ios::binary);
        const std::string text{std::istreambuf_iterator<char>(in), {}};
        CAPTURE(citation);
        CHECK(text.find(citation) != std::string::npos);
    }
}

}  // namespace guidelines_test
