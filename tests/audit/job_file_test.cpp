#include <doctest/doctest.h>

#include "../message.hpp"
#include "../record/schema_check.hpp"
#include "../slow_build.hpp"

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <plumbline/audit/job_file.hpp>
#include <string>

namespace job_file_test {

namespace {

namespace audit = plumbline::audit;
using nlohmann::json;
using pointer = json::json_pointer;
using refused::message;

const std::string top = PLUMBLINE_SOURCE_DIR;

audit::job read(const json& j) { return audit::job_from_json(j.dump(), "j.json"); }

json small() {
    return {{"plumbline", "job"},
            {"schema", 1},
            {"name", "battery"},
            {"channel", "A"},
            {"range", "10 V"},
            {"date", "2025-06-01"},
            {"ambient", {{"temperature", "5 degC"}, {"half_width", "8 K"}}},
            {"signal", {{"low", "-1 V"}, {"high", "9 V"}, {"highest", "20 V"}, {"event", {{"what", "dc"}}}}},
            {"read", "level"},
            {"need", {{"absolute", "0.1 V"}, {"relative", "0.5 %"}}}};
}

/// Everything that a job may say.
json full() {
    json j = small();
    j["signal"]["event"] = {{"what", "pulse width"}, {"time", "156 us"}, {"within", "6 us"}};
    j["signal"]["source"] = {{"resistance", "1 kohm"}, {"tolerance", "5 %"}, {"corrected", true}};
    j["signal"]["also_present"] = {{{"name", "ripple"}, {"frequency", "100 kHz"}, {"amplitude", "20 mV"}}};
    j["read"] = "mean";
    j["samples"] = 64;
    j["need"] = {{"lower", "1 V"}, {"upper", "2 V"}, {"confidence", 0.99}};
    j["expected"] = {{"estimate", "1.5 V"}, {"u", "0.2 V"}};
    j["mode"] = {{"sample_rate", "20 kHz"}, {"continuous", true}};
    j["probe"] = {{"name", "x10"},          {"series", "9 Mohm"}, {"tolerance", "1 %"}, {"tip_capacitance", "15 pF"},
                  {"bandwidth", "100 MHz"}, {"rating", "300 V"},  {"mismatch", "2 %"},  {"calibrated_together", true}};
    j["instrument"] = {{"bandwidth", "100 kHz"},
                       {"input_capacitance", "35 pF"},
                       {"clock_tolerance", "100 ppm"},
                       {"highest_input", "30 V"},
                       {"clamp_current", "1 mA"},
                       {"top_resistor_power", "250 mW"},
                       {"in_use",
                        {{"years", 1},
                         {"temperature_half_width", "8 K"},
                         {"gain_per_year", "0.1 %"},
                         {"offset_per_year", "1 mV"},
                         {"gain_by_supply", "0 %"},
                         {"offset_by_supply", "0 V"}}}};
    return j;
}

json with(json j, const char* at, const json& value) {
    j[pointer(at)] = value;
    return j;
}

std::string refusal(const json& j) {
    return message([&] { static_cast<void>(read(j)); });
}

bool reads(const json& j) { return refusal(j) == "no exception"; }

schema_check::schema& schema() {
    static schema_check::schema made(audit::job_schema());
    return made;
}

}  // namespace

TEST_CASE("a job file gives every member of a job its figure, in coherent units") {
    const audit::job j = read(full());
    CHECK(j.file == "j.json");
    CHECK(j.name == "battery");
    CHECK(j.ambient.degrees == 5.0);
    CHECK(j.low.value() == -1.0);
    CHECK(j.highest.value() == 20.0);
    CHECK(j.fastest.what == audit::event_kind::pulse_width);
    CHECK(j.fastest.time.value() == 156e-6);
    CHECK(j.fastest.within.value() == 6e-6);
    CHECK(j.source.corrected);
    CHECK(j.source.tolerance.value() == 0.05);
    REQUIRE(j.also_present.has_value());
    CHECK(j.also_present->front().at.value() == 100e3);
    CHECK(j.read == audit::reading_of::mean);
    CHECK(j.samples == 64.0);
    CHECK(j.need.limits->upper.value() == 2.0);
    CHECK(j.need.confidence == 0.99);
    CHECK(j.expected->u.value() == 0.2);
    CHECK(j.sample_rate->value() == 20e3);
    CHECK(j.continuous);
    CHECK(j.probe->tip_capacitance->value() == 15e-12);
    CHECK(j.probe->calibrated_together);
    CHECK(j.instrument.top_resistor_power->value() == 0.25);
    CHECK(j.instrument.in_use->gain_per_year.value() == 0.001);
}

TEST_CASE("what may be left out of a job is not known, not zero") {
    const audit::job j = read(small());
    CHECK_FALSE(j.also_present.has_value());
    CHECK_FALSE(j.sample_rate.has_value());
    CHECK_FALSE(j.probe.has_value());
    CHECK(j.instrument == audit::instrument_figures{});
    CHECK(j.need.confidence == 0.95);
    json one_sided = small();
    one_sided["need"] = {{"lower", "1 V"}};
    CHECK(read(one_sided).need.limits->upper.value() == plumbline::conformity::no_limit);
}

TEST_CASE("a job that cannot be meant is refused by its place in the file") {
    CHECK(refusal(with(small(), "/plumbline", "session")) ==
          "j.json: /plumbline: found \"session\", expected \"job\"; give a job file");
    CHECK(
        refusal(with(small(), "/schema", 2)) ==
        "j.json: /schema: found version 2, expected at most 1, the newest that this library reads; read it with a newer library");
    CHECK(refusal(with(small(), "/date", "2025-02-30")) ==
          "j.json: /date: found \"2025-02-30\", expected a day of the calendar as YYYY-MM-DD; correct the date");
    CHECK(refusal(with(small(), "/signal/high", "-2 V")) ==
          "j.json: /signal/high: found -2 V, expected at least the low end, -1 V; correct the ends");
    CHECK(refusal(with(small(), "/signal/highest", "8 V")) ==
          "j.json: /signal/highest: found 8 V, expected at least what is to be measured, 9 V; state the highest voltage that can "
          "appear by accident, without its sign");
    CHECK(
        refusal(with(small(), "/signal/event/what", "edge")) ==
        "j.json: /signal/event/what: found \"edge\", expected \"dc\", \"sine\", \"rise time\", \"pulse width\", \"edge timing\"; "
        "correct the word");
    CHECK(refusal(with(small(), "/signal/source", {{"resistance", "1 kohm"}, {"tolerance", "100 %"}})) ==
          "j.json: /signal/source/tolerance: found 1, expected less than 1; state the limits of the resistance");
    CHECK(refusal(with(small(), "/need", {{"confidence", 0.9}})) ==
          "j.json: /need: found no limits, expected \"absolute\" and \"relative\", or \"lower\" and \"upper\"; say how well the "
          "value "
          "has to be known");
    CHECK(refusal(with(small(), "/need/upper", "1 V")) ==
          "j.json: /need: found limits of error beside limits of the value, expected \"absolute\" and \"relative\", or \"lower\" "
          "and "
          "\"upper\"; say how well the value has to be known");
    CHECK(refusal(with(small(), "/need", {{"lower", "2 V"}, {"upper", "1 V"}})) ==
          "j.json: /need/upper: found 1 V, expected more than the lower limit, 2 V; correct the limits");
    CHECK(
        refusal(with(small(), "/need/confidence", 1)) ==
        "j.json: /need/confidence: found 1, expected a number from 0.5 to 0.9999; state how sure the reading has to be, 0.95 for "
        "instance");
    CHECK(refusal(with(full(), "/samples", 1)) ==
          "j.json: /samples: found 1, expected 2 or more; state how many samples are averaged or captured");
    CHECK(refusal(with(full(), "/probe/mismatch", "100 %")) ==
          "j.json: /probe/mismatch: found 1, expected less than 1; compensate the probe first");
    CHECK(refusal(with(small(), "/expected", {{"estimate", "1 V"}, {"u", "0.1 V"}})) ==
          "j.json: /expected: found what is expected without limits to judge it by, expected limits of the value, \"lower\" or "
          "\"upper\" in \"need\"; leave it out, or state the limits");
    CHECK(refusal(with(full(), "/probe/tip_capacitance", "15 pV")) ==
          "j.json: /probe/tip_capacitance: found \"15 pV\", expected a capacitance above 0 such as \"15 pF\"; write a number "
          "with a decimal point, a space and a unit of that kind");
}

TEST_CASE("the shipped schema of jobs is what the library writes, to the byte, and satisfies the meta-schema of draft 7") {
    CHECK(schema_check::bytes_of(top + "/cal_records/job.schema.json") == audit::job_schema());
    schema_check::schema meta(schema_check::bytes_of(top + "/tests/reference/json-schema-draft-07.json"));
    CHECK(meta.complaints(json::parse(audit::job_schema())) == "");
}

TEST_CASE("every shipped job satisfies the schema") {
    int jobs = 0;
    for (const auto& entry : std::filesystem::directory_iterator(top + "/examples/jobs")) {
        CAPTURE(entry.path().string());
        ++jobs;
        CHECK(schema().complaints(json::parse(schema_check::bytes_of(entry.path().string()))) == "");
    }
    CHECK(jobs >= 8);
}

TEST_CASE("a job changed in any one place: the schema accepts what the reader reads") {
    const std::vector<json> others{nullptr, true, -1, 0, 1.5, "", "x", "1 V", "-1 V", json::object(), json::array()};
    const std::map<std::string, json> keys{{"surplus", 1}, {"samples", 8}, {"frequency", "1 Hz"}, {"absolute", "1 V"}};
    CHECK(schema().complaints(small()) == "");
    CHECK(schema().complaints(full()) == "");
    schema_check::judgement all[] = {schema_check::without_each_key(full(), schema(), reads),
                                     schema_check::with_one_key_more(keys, full(), schema(), reads),
                                     schema_check::with_each_value_as(others, full(), schema(), reads)};
    for (const schema_check::judgement& one : all) {
        CHECK(schema_check::lines(one.schema_alone) == "");
        CHECK(one.refused > (slow::build ? 0 : 20));
    }
}

}  // namespace job_file_test
