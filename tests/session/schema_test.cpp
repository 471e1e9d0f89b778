#include <doctest/doctest.h>

#include "../message.hpp"
#include "../record/schema_check.hpp"
#include "../slow_build.hpp"
#include "fixture.hpp"

#include <filesystem>
#include <map>
#include <plumbline/session/schema.hpp>
#include <plumbline/session/session.hpp>
#include <set>
#include <string>
#include <vector>

namespace session_schema_test {

namespace {

using nlohmann::json;
using pointer = json::json_pointer;

const std::string top = PLUMBLINE_SOURCE_DIR;

bool reads(const json& j) {
    static const scratch_folder folder;
    return refused::message([&] { static_cast<void>(plumbline::session::read_session(folder.add("s.json", j.dump()))); }) ==
           "no exception";
}

schema_check::schema& schema() {
    static schema_check::schema made(plumbline::session::session_schema());
    return made;
}

json good() { return json::parse(fixture::session().dump()); }

/// The same with what may be left out.
json full() {
    json j = good();
    j["replaces"] = "SHED-0";
    j["reason"] = "wrong serial number";
    j["dates"]["received"] = "2025-03-14";
    j["ambient"]["humidity_percent"] = 45;
    j["ambient"]["warm_up_minutes"] = 30;
    j["references"].push_back(
        {{"id", "half"},
         {"description", "half of it"},
         {"divider", {{"from", "ref"}, {"top", fixture::resistor("1 kohm")}, {"bottom", fixture::resistor("1 kohm")}}}});
    json& range = j["ranges"][0];
    range["temperature_half_width"] = "1 K";
    range["mode"]["oversampling"] = 4;
    range["chain"]["bias"] = {{"branch", fixture::resistor("1 Mohm")},
                              {"supply", "5 V"},
                              {"supply_tolerance", "1 %"},
                              {"supply_temperature_coefficient", "50 ppm/K"}};
    range["chain"]["adc"]["reference_by_supply"] = "0.3 %";
    range["chain"]["amplifier"] = {
        {"gain", {{"feedback", fixture::resistor("1 kohm")}, {"ground", fixture::resistor("100 kohm")}}},
        {"offset_limit", "2 mV"},
        {"offset_drift", "10 uV/K"},
        {"bias_current", "50 nA"},
        {"bias_current_drift", "1 nA/K"},
        {"open_loop_gain", 100000},
        {"gain_bandwidth", "1 MHz"},
        {"lowest_output", "0 V"},
        {"highest_output", "3.3 V"}};
    range["zero"]["capture"]["sample_rate"] = "1 kHz";
    range["zero"]["capture"]["column"] = "A";
    range["zero"]["capture"]["format"] = "csv";
    range["reference"]["capture"]["format"] = "s16";
    const json capture = {{"file", "more.csv"}};
    const auto at = [&](const char* when) { return json{{"at", when}, {"capture", capture}}; };
    range["in_use"] = {{"years", 1},
                       {"temperature_half_width", "5 K"},
                       {"gain_per_year", "0.05 %"},
                       {"offset_per_year", "1 mV"},
                       {"gain_by_supply", "0.1 %"},
                       {"offset_by_supply", "1 mV"}};
    range["turns"] = {{"reference_at", "60 s"}, {"captures", {at("2e2 s"), at("3e2 s"), at("4e2 s")}}};
    range["points"] = {{{"name", "2 V"}, {"applied", {{"reference", "low"}}}, {"capture", capture}}};
    range["warm_up"] = {
        {"curve", {at("0 s"), at("60 s"), at("120 s")}}, {"slope_limit", "1 mV/h"}, {"window", "60 s"}, {"used_from", "0 s"}};
    range["supplies"] = {{{"name", "charger attached"}, {"zero", capture}, {"reference", capture}}};
    range["earlier"] = "SHED-0.json";
    json other = good()["ranges"][0];
    other["channel"] = "B";
    range["crosstalk"] = {{{"channel", "B"},
                           {"range", "12 V"},
                           {"low", {{"voltage", "0 V"}, {"capture", capture}}},
                           {"high", {{"voltage", "12 V"}, {"capture", capture}}}}};
    j["ranges"].push_back(other);
    j["clock"] = {{"channel", "A"},
                  {"range", "12 V"},
                  {"capture", capture},
                  {"known", {{"value", "100 Hz"}, {"U", "5 mHz"}, {"k", 2}}},
                  {"source", "frequency counter"},
                  {"traceability", "none"}};
    j["clock_tolerance"] = "50 ppm";
    return j;
}

/// Where the reader asks for more than a schema can: another part of the session has to agree.
const std::set<std::string> beyond_a_schema{
    "/ranges/*/chain/low",
    "/ranges/*/chain/high",  // above the low end
    "/ranges/*/chain/bias/from_converter_reference",
    "/ranges/*/chain/bias/supply",  // that of the converter, where it comes from there
    "/ranges/*/chain/bias/supply_tolerance",
    "/ranges/*/chain/bias/supply_temperature_coefficient",
    "/ranges/*/chain/adc/reference",
    "/ranges/*/checks/*/applied/reference",
    "/ranges/*/reference/applied/reference",
    "/ranges/*/zero/applied/reference",
    "/ranges/*/checks/*/applied/value",  // where the reference states none
    "/ranges/*/checks/*/as_found",       // needs "before"
    "/ranges/*/in_use",                  // supplies and cold use need it
    "/ranges/*/channel",                 // crosstalk and the clock name one
    "/ranges/*/range",                   // the same
    "/ranges/*/crosstalk/*/channel",     // another, of this session
    "/ranges/*/crosstalk/*/range",
    "/ranges/*/crosstalk/*/high/voltage",  // above the low one
    "/ranges/*/points/*/applied/reference",
    "/clock/channel",  // of this session
    "/clock/range",
    "/reason",  // with "replaces" or not at all
    "/replaces",
    "/references",  // steps name them
    "/references/*/id",
    "/references/*/divider/from",
    "/references/*/output",  // a step without a value of its own needs it
};

}  // namespace

TEST_CASE("the shipped schema of sessions is what the library writes, to the byte") {
    CHECK(schema_check::bytes_of(top + "/cal_records/session.schema.json") == plumbline::session::session_schema());
}

TEST_CASE("the schema of sessions satisfies the meta-schema of draft 7") {
    schema_check::schema meta(schema_check::bytes_of(top + "/tests/reference/json-schema-draft-07.json"));
    CHECK(meta.complaints(json::parse(plumbline::session::session_schema())) == "");
}

TEST_CASE("every shipped session satisfies the schema") {
    int sessions = 0;
    for (const auto& entry : std::filesystem::directory_iterator(top + "/examples/sessions")) {
        if (entry.path().extension() != ".json") continue;
        const json j = json::parse(schema_check::bytes_of(entry.path().string()));
        if (!j.contains("plumbline")) continue;  // the truth of the simulated captures
        CAPTURE(entry.path().string());
        ++sessions;
        CHECK(schema().complaints(j) == "");
    }
    CHECK(sessions > 0);
}

TEST_CASE("a session may leave out what has a default, and the schema lets it") {
    for (const json& j : {good(), full()}) {
        CHECK(reads(j));
        CHECK(schema().complaints(j) == "");
    }
    json j = full();
    j["ranges"][0]["chain"]["bias"] = {{"branch", fixture::resistor("1 Mohm")}, {"from_converter_reference", true}};
    CHECK(reads(j));
    CHECK(schema().complaints(j) == "");
    j["ranges"][0]["chain"]["bias"]["from_converter_reference"] = false;
    CHECK_FALSE(reads(j));
    CHECK_FALSE(schema().accepts(j));
}

TEST_CASE("broken sessions are refused by schema and reader") {
    struct change {
        const char* at;
        json value;
    };
    for (const change& c :
         std::vector<change>{{"/plumbline", "record"},
                             {"/schema", "1"},
                             {"/kind", "probe"},
                             {"/number", "a/b"},
                             {"/dates/issued", "yesterday"},
                             {"/dates/received", "2025-3-1"},
                             {"/ambient/temperature_half_width", "-2 K"},
                             {"/ambient/humidity_percent", -1},
                             {"/references/0/output/k", 2},
                             {"/references/0/output/limits", "0 V"},
                             {"/references/0/divider", full()["references"].back()["divider"]},
                             {"/ranges", json::array()},
                             {"/ranges/0/channel", "a/b"},
                             {"/ranges/0/channel", "reference"},
                             {"/ranges/0/range", std::string(257, 'x')},
                             {"/ranges/0/checks/0/name", "1 V/octave"},
                             {"/ranges/0/mode/sample_rate", "1 kV"},
                             {"/ranges/0/mode/sample_rate", "0 Hz"},
                             {"/ranges/0/chain/top/nominal", "100000"},
                             {"/ranges/0/chain/top/nominal", 100000},
                             {"/ranges/0/zero/capture/file", "/captures/low.csv"},
                             {"/ranges/0/zero/capture/file", "captures/../low.csv"},
                             {"/ranges/0/zero/capture/file", ".."},
                             {"/ranges/0/zero/capture/format", "f32"},
                             {"/ranges/0/zero/capture", {{"file", "a.s16"}, {"format", "s16"}, {"column", "A"}}},
                             {"/clock_tolerance", "0 %"},
                             {"/clock_tolerance", "50 Hz"},
                             {"/ranges/0/zero/applied/U", "1 mV"},
                             {"/ranges/0/checks/0/applied/k", 0},
                             {"/ranges/0/checks/0/applied/limits", "1 mV"},
                             {"/ranges/0/surplus", 1}}) {
        CAPTURE(c.at);
        CAPTURE(c.value.dump());
        json j = good();
        j[pointer(c.at)] = c.value;
        CHECK_FALSE(reads(j));
        CHECK_FALSE(schema().accepts(j));
    }
}

TEST_CASE("a session changed in any one place: the schema accepts what the reader reads, and refuses what one field shows") {
    const std::vector<json> others{nullptr, true, -1, 0, 1.5, "", "x", "1 V", "-1 V", "a/..", json::object(), json::array()};
    const std::map<std::string, json> keys{
        {"surplus", 1},           {"value", "1 V"},  {"U", "1 mV"},       {"limits", "1 mV"},
        {"column", "A"},          {"invented", "x"}, {"supply", "3.3 V"}, {"from_converter_reference", true},
        {"sample_rate", "1 kHz"}, {"format", "s16"}};
    constexpr std::size_t one_in = 5;
    schema_check::judgement all[] = {schema_check::without_each_key(full(), schema(), reads, one_in),
                                     schema_check::with_one_key_more(keys, full(), schema(), reads, one_in),
                                     schema_check::with_each_value_as(others, full(), schema(), reads, one_in)};
    for (const schema_check::judgement& one : all) {
        CHECK(schema_check::lines(one.schema_alone) == "");
        CHECK(schema_check::beyond(beyond_a_schema, schema_check::places(one.reader_alone)) == "");
        CHECK((slow::build || one.read > 0));
        CHECK(one.refused * slow::looked_at_one_in(one_in) > (slow::build ? 35 : 70));
    }
}

}  // namespace session_schema_test
