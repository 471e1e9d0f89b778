#include <doctest/doctest.h>

#include "../message.hpp"
#include "../slow_build.hpp"
#include "sample.hpp"
#include "schema_check.hpp"

#include "../../src/record/figure.hpp"
#include "../../src/record/schema.hpp"

#include <filesystem>
#include <map>
#include <plumbline/record/json.hpp>
#include <plumbline/record/schema.hpp>
#include <regex>
#include <set>
#include <string>
#include <vector>

namespace record_schema_test {

namespace {

using nlohmann::json;
using plumbline::record::demand;
using pointer = json::json_pointer;

const std::string cal_records = std::string(PLUMBLINE_SOURCE_DIR "/cal_records");

json good() { return json::parse(plumbline::record::to_json(sample::record())); }

/// The same without lists of captures, which are like those of steps: this test takes the square of a record's size.
json short_of_captures() {
    json j = good();
    for (const char* key : {"turns", "crosstalk", "warm_up", "supplies"}) j["ranges"][0].erase(key);
    return j;
}

bool reads(const json& j) {
    return refused::message([&] { static_cast<void>(plumbline::record::from_json(j.dump(), "r.json")); }) == "no exception";
}

schema_check::schema& schema() {
    static schema_check::schema made(plumbline::record::record_schema());
    return made;
}

/// Where the reader asks for more than a schema can: another part of the record has to agree.
const std::set<std::string> beyond_a_schema{
    "/correlations/*/first",
    "/correlations/*/second",
    "/comparisons/*/first/reference",
    "/comparisons/*/second/reference",
    "/comparisons/*/second/reading",                 // needed where the reference states nothing
    "/ranges/*/negative/applied/transfer/by/*/id",   // one of the inputs, in order
    "/ranges/*/negative/applied/transfer/seen/max",  // not below min
    "/inputs",                                       // correlations name them
    "/inputs/*/id",                                  // the same; each once
    "/inputs/*/half_width",                          // not below top_half_width
    "/inputs/*/top_half_width",
    "/ranges/*/accept/rule/times_U",          // four words need a guard band
    "/ranges/*/accept/rule/absolute",         // the same
    "/ranges/*/accept/rule/words",            // the same
    "/ranges/*/chain/adc/reference",          // that of the bias, where it comes from there
    "/ranges/*/chain/bias/supply",            // the same
    "/ranges/*/chain/bias/supply_tolerance",  // the same
    "/ranges/*/chain/bias/supply_temperature_coefficient",
    "/ranges/*/chain/bias/from_converter_reference",
    "/ranges/*/chain/low",
    "/ranges/*/chain/high",  // above the low end
    "/ranges/*/checks/*/applied/reference",
    "/ranges/*/negative/applied/reference",
    "/ranges/*/reference/applied/reference",
    "/ranges/*/zero/applied/reference",
    "/ranges/*/checks/*/seen/max",  // not below min
    "/ranges/*/negative/seen/max",
    "/ranges/*/reference/seen/max",
    "/ranges/*/zero/seen/max",
    "/ranges/*/turns/*/seen/max",
    "/ranges/*/points/steps/*/seen/max",
    "/ranges/*/crosstalk/*/low/seen/max",
    "/ranges/*/crosstalk/*/high/seen/max",
    "/ranges/*/warm_up/curve/*/seen/max",
    "/ranges/*/supplies/*/zero/seen/max",
    "/ranges/*/supplies/*/reference/seen/max",
    "/ranges/*/turns/*/at",  // after the one before
    "/ranges/*/points/steps",
    "/ranges/*/points/steps/*/applied/reference",
    "/ranges/*/points/weights",  // one for each step
    "/ranges/*/negative",        // the same
    "/ranges/*/negative_correction",
    "/reason",  // with "replaces" or not at all
    "/replaces",
    "/references",  // steps name them
    "/references/*/id",
    "/references/*/divider/from",
    "/references/*/output",  // a step without a value of its own needs it
    "/references/*/divider",
    "/references/*/part",
    "/references/*/meter",
};

}  // namespace

TEST_CASE("the shipped schema of records is what the library writes, to the byte") {
    CHECK(schema_check::bytes_of(cal_records + "/record.schema.json") == plumbline::record::record_schema());
}

TEST_CASE("the schema of records satisfies the meta-schema of draft 7") {
    // tests/reference/json-schema-draft-07.json: http://json-schema.org/draft-07/schema, as it was published
    const std::string text = schema_check::bytes_of(PLUMBLINE_SOURCE_DIR "/tests/reference/json-schema-draft-07.json");
    schema_check::schema meta(text);
    CHECK(meta.complaints(json::parse(plumbline::record::record_schema())) == "");
    CHECK(meta.accepts(json::parse(text)));
    CHECK_FALSE(meta.accepts(json{{"type", "figure"}}));
    CHECK_FALSE(meta.accepts(json{{"properties", {{"k", {{"required", "k"}}}}}}));
}

TEST_CASE("every shipped record satisfies the schema") {
    int records = 0;
    for (const auto& entry : std::filesystem::directory_iterator(cal_records)) {
        const std::string name = entry.path().filename().string();
        if (!name.ends_with(".json") || name.ends_with(".schema.json")) continue;
        CAPTURE(name);
        ++records;
        CHECK(schema().complaints(json::parse(schema_check::bytes_of(entry.path().string()))) == "");
    }
    CHECK(records > 0);
}

TEST_CASE("a record with something in every member satisfies the schema, and so do units as people write them") {
    json j = good();
    CHECK(schema().complaints(j) == "");
    j["ranges"][0]["chain"]["top"] = {
        {"nominal", "+1.0e0M\xce\xa9"}, {"tolerance", "1 %"}, {"temperature_coefficient", "50ppm/K"}};
    j["ranges"][0]["chain"]["adc"]["noise"] = "0.9 LSB";
    j["ambient"]["temperature"] = "22.5 \xc2\xb0\x43";
    CHECK(reads(j));
    CHECK(schema().complaints(j) == "");
}

TEST_CASE("broken records are refused by schema and reader") {
    struct change {
        const char* at;
        json value;
    };
    const pointer check("/ranges/0/checks/0");
    slow::choice looked_at;
    for (const change& c : std::vector<change>{{"/plumbline", "session"},
                                               {"/schema", plumbline::record::schema_version + 1},
                                               {"/kind", "meter"},
                                               {"/number", "../x"},
                                               {"/number", std::string(65, 'x')},
                                               {"/replaces", ".x"},
                                               {"/device/maker", " \n"},
                                               {"/dates/begun", "14.3.2025"},
                                               {"/dates/begun", "2025-13-14"},
                                               {"/ambient/temperature", "22.5"},
                                               {"/ambient/temperature", "22.5 K"},
                                               {"/ambient/temperature_half_width", "-1 K"},
                                               {"/ambient/humidity_percent", 101},
                                               {"/ambient/humidity_percent", "45"},
                                               {"/model/version", 0},
                                               {"/model/name", "another"},
                                               {"/coverage_probability", 1},
                                               {"/coverage_probability", 0},
                                               {"/inputs/0/unit", "mV"},
                                               {"/inputs/0/unit", "ohm"},
                                               {"/inputs/0/estimate", "1 code"},
                                               {"/inputs/0/distribution", "gaussian"},
                                               {"/inputs/0/distribution", "rectangular"},
                                               {"/inputs/0/u", "-1 V"},
                                               {"/inputs/0/u", "1 V/K"},
                                               {"/inputs/0/half_width", "1 V"},
                                               {"/inputs/1/half_width", "-0.5 code"},
                                               {"/inputs/0/degrees_of_freedom", "many"},
                                               {"/inputs/0/degrees_of_freedom", 0},
                                               {"/correlations/0/coefficient", 1.5},
                                               {"/ranges", json::array()},
                                               {"/ranges/0/zero/capture/sha256", "abc"},
                                               {"/ranges/0/zero/applied/limits", "1 mV"},
                                               {"/ranges/0/zero/seen/n", 0},
                                               {"/ranges/0/zero/seen/n", 2.5},
                                               {"/ranges/0/chain/adc/bits", 25},
                                               {"/ranges/0/chain/top/nominal", "0.0e5 ohm"},
                                               {"/ranges/0/chain/top/tolerance", "-1 %"},
                                               {"/ranges/0/chain/top/tolerance", -0.01},
                                               {"/ranges/0/checks/0/U", "-1 mV"},
                                               {"/ranges/0/checks/0/U", 0.001},
                                               {"/ranges/0/checks/0/tests_reference", 1},
                                               {"/ranges/0/checks/0/surplus", 1},
                                               {"/ranges/0/findings", json::object()},
                                               {"/surplus", nullptr}}) {
        if (!looked_at()) continue;
        CAPTURE(c.at);
        CAPTURE(c.value.dump());
        json j = good();
        j[pointer(c.at)] = c.value;
        CHECK_FALSE(reads(j));
        CHECK_FALSE(schema().accepts(j));
    }
    for (const char* key : {"error", "observed", "applied"}) {
        json j = good();
        if (j[check].erase(key) == 0) continue;
        CAPTURE(key);
        CHECK_FALSE(reads(j));
        CHECK_FALSE(schema().accepts(j));
    }
}

TEST_CASE("without any one key, schema and reader agree, but for what other parts of the record need") {
    constexpr std::size_t one_in = 5;
    const schema_check::judgement all = schema_check::without_each_key(good(), schema(), reads, one_in);
    CHECK(schema_check::lines(all.schema_alone) == "");
    CHECK(schema_check::beyond(beyond_a_schema, schema_check::places(all.reader_alone)) == "");
    CHECK((slow::build || all.read > 0));
    CHECK(all.refused * slow::looked_at_one_in(one_in) > (slow::build ? 100 : 200));
}

TEST_CASE("with any one key more, schema and reader agree") {
    constexpr std::size_t one_in = 5;
    const json j = good();
    const json& stated = j["/ranges/0/checks/0/applied"_json_pointer];
    const std::map<std::string, json> keys{{"surplus", 1},
                                           {"value", stated.at("value")},
                                           {"U", stated.at("U")},
                                           {"limits", "1 mV"},
                                           {"output", j["references"][0].at("output")},
                                           {"u", "1 V"},
                                           {"half_width", "1 V"},
                                           {"humidity_percent", 1}};
    const schema_check::judgement all = schema_check::with_one_key_more(keys, j, schema(), reads, one_in);
    CHECK(schema_check::lines(all.schema_alone) == "");
    CHECK(schema_check::lines(all.reader_alone) == "");
    CHECK(all.refused * slow::looked_at_one_in(one_in) > (slow::build ? 100 : 200));
}

TEST_CASE(
    "with any one value of another type, unit or size the schema accepts what the reader reads, and refuses what one field "
    "shows") {
    constexpr std::size_t one_in = 23;  // of twelve values in turn: others at each place
    const std::vector<json> others{nullptr, true, -1, 0, 1.5, "", "x", "infinite", "1 V", "-1 V", json::object(), json::array()};
    const schema_check::judgement all = schema_check::with_each_value_as(others, short_of_captures(), schema(), reads, one_in);
    CHECK(schema_check::lines(all.schema_alone) == "");
    CHECK(schema_check::beyond(beyond_a_schema, schema_check::places(all.reader_alone)) == "");
    CHECK(all.read * slow::looked_at_one_in(one_in) > (slow::build ? 100 : 200));
    CHECK(all.refused * slow::looked_at_one_in(one_in) > (slow::build ? 1000 : 2000));
}

TEST_CASE("the pattern of a figure matches the texts that the reader reads, and no others but those beyond double") {
    const std::vector<std::string> numbers{"0",       "1",  "-1",   "+1",    "-0",    "00.50", "-0.0", "0.0",
                                           "1.",      ".5", "1e3",  "1E+03", "-2e-3", "1e",    "0e5",  "-0e5",
                                           "0.00e-9", "10", "0.01", "1,5",   "0x1",   "",      "nan",  "--1"};
    const std::vector<std::string> units{"V",      "code",     "ohm",   "A",        "Hz",   "s",   "1",
                                         "K",      "V/code",   "1/K",   "V^2",      "degC", "V/K", "1/K/K",
                                         "code/K", "V/code/K", "ohm/K", "V^2/code", "A/K"};
    const std::vector<std::string> written{
        "",         "V",         "mV",          "\xc2\xb5V",    "\xce\xbcV",    "kV",     "KV",      "code",  "codes",  "LSB",
        "kcode",    "ohm",       "kohm",        "M\xce\xa9",    "\xe2\x84\xa6", "mA",     "GHz",     "ns",    "ps",     "1",
        "%",        "ppm",       "K",           "mK",           "V/code",       "mV/LSB", "V/codes", "1/K",   "%/K",    "ppm/K",
        "V^2",      "mV^2",      "degC",        "\xc2\xb0\x43", "V/K",          "uV/K",   "ppm/K/K", "1/K/K", "code/K", "codes/K",
        "V/code/K", "V/codes/K", "k\xce\xa9/K", "V^2/code",     "V^2/LSB",      "m",      "V ",      "v",     "VV",     "nA/K"};
    std::size_t matched = 0;
    slow::choice looked_at(5);
    for (const std::string& unit : units) {
        for (const demand d : {demand::any, demand::not_negative, demand::above_zero}) {
            const std::regex pattern(plumbline::record::figure_pattern(unit, d));
            for (const std::string& number : numbers) {
                if (!looked_at()) continue;
                for (const std::string& spelling : written) {
                    for (const char* space : {"", " ", "  ", "\t"}) {
                        const std::string text = number + space + spelling;
                        const auto value = plumbline::record::read_figure(text, unit);
                        const bool read = value && plumbline::record::meets(*value, d);
                        const bool match = std::regex_search(text, pattern);
                        if (match) ++matched;
                        if (read == match) continue;
                        CAPTURE(unit);
                        CAPTURE(static_cast<int>(d));
                        CAPTURE(text);
                        CHECK(match == read);
                    }
                }
            }
        }
    }
    CHECK(matched * slow::looked_at_one_in(5) > (slow::build ? 500 : 1000));
    CHECK(std::regex_search("1e999 V", std::regex(plumbline::record::figure_pattern("V", demand::any))));
    CHECK_FALSE(plumbline::record::read_figure("1e999 V", "V"));
}

TEST_CASE("more cannot be said of a field that has not been visited") {
    plumbline::record::schema_writer out(plumbline::record::completeness::every_field);
    std::string value;
    out.text("a", value, plumbline::record::wording::any);
    CHECK_NOTHROW(out.also("a", R"({"maxLength": 1})", ""));
    CHECK_THROWS_WITH_AS(out.also("b", R"({"maxLength": 1})", ""), "more is said of the field b, which has not been visited",
                         std::logic_error);
}

}  // namespace record_schema_test
