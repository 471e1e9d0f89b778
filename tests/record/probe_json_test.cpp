// The record of a probe as JSON, its schema and its digest.

#include <doctest/doctest.h>

#include "../message.hpp"
#include "sample.hpp"
#include "schema_check.hpp"

#include <nlohmann/json.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/schema.hpp>
#include <set>
#include <string>

namespace probe_json_test {

namespace {

using nlohmann::json;
using plumbline::record::from_json;
using plumbline::record::record;
using plumbline::record::sections_digest;
using plumbline::record::to_json;
using refused::message;

json good() { return json::parse(to_json(sample::probe())); }

std::string refusal(const json& j) {
    return message([&] { static_cast<void>(from_json(j.dump(), "r.json")); });
}

bool reads(const json& j) { return refusal(j) == "no exception"; }

template <class Change>
std::string digest_with(Change change) {
    record r = sample::probe();
    change(r);
    return sections_digest(r);
}

}  // namespace

TEST_CASE("the record of a probe reads back equal, with and without what it may lack, and writes the same bytes again") {
    record least = sample::probe();
    least.probe->division.reset();
    least.probe->described.tip_capacitance.reset();
    least.probe->described.bandwidth.reset();
    least.probe->described.rating.reset();
    for (const record& r : {sample::probe(), least}) {
        const std::string text = to_json(r);
        CHECK(from_json(text, "r.json") == r);
        CHECK(to_json(from_json(text, "r.json")) == text);
    }
}

TEST_CASE("a record is of an instrument or of a probe, never of both") {
    json j = good();
    j["kind"] = "instrument";
    CHECK(refusal(j) == "r.json: /model: found no such field, expected one; add it: every field that has no default is needed");
    j = json::parse(to_json(sample::record()));
    j["kind"] = "probe";
    CHECK(refusal(j) == "r.json: /probe: found no such field, expected one; add it: every field that has no default is needed");
    j = good();
    j["ranges"] = json::parse(to_json(sample::record()))["ranges"];
    CHECK(refusal(j).starts_with("r.json: /ranges: found an unknown field, expected none besides "));
}

TEST_CASE("figures of a probe that cannot be are refused by their place") {
    struct change {
        const char* at;
        json value;
        const char* said;
    };
    for (const change& c :
         {change{
              "/probe/instrument/sha256", "abc",
              "r.json: /probe/instrument/sha256: found \"abc\", expected 64 hexadecimal digits in lower case; use the record as "
              "it was written"},
          change{
              "/probe/instrument/record", "a/b",
              "r.json: /probe/instrument/record: found \"a/b\", expected the number of the instrument's record; use the record "
              "as it was written"},
          change{"/probe/tolerance", 1,
                 "r.json: /probe/tolerance: found 1, expected less than 1; state the limits of the series "
                 "resistance"},
          change{"/probe/compensation/square_wave/droop", 1,
                 "r.json: /probe/compensation/square_wave/droop: found 1, expected less than 1; state by what fraction of its "
                 "amplitude the square wave falls over half a period"}}) {
        json j = good();
        j[json::json_pointer(c.at)] = c.value;
        CHECK(refusal(j) == c.said);
    }
}

TEST_CASE(
    "the schema of records accepts what the reader reads of a probe changed in any one place, and refuses what it refuses") {
    schema_check::schema schema(plumbline::record::record_schema());
    CHECK(schema.complaints(good()) == "");
    const std::vector<json> others{nullptr, true, -1, 0, 1.5, "", "x", "1 V", "-1 V", json::object(), json::array()};
    // less than 1, also where it is written as per cent
    const std::set<std::string> beyond{"/reason", "/replaces", "/probe/tolerance", "/probe/compensation/square_wave/droop",
                                       "/probe/ratio/square_wave/droop"};
    const schema_check::judgement all[] = {
        schema_check::without_each_key(good(), schema, reads),
        schema_check::with_one_key_more({{"surplus", 1}, {"ranges", 1}}, good(), schema, reads),
        schema_check::with_each_value_as(others, good(), schema, reads)};
    for (const schema_check::judgement& one : all) {
        CHECK(schema_check::lines(one.schema_alone) == "");
        CHECK(schema_check::beyond(beyond, schema_check::places(one.reader_alone)) == "");
        CHECK(one.refused > (slow::build ? 0 : 20));
    }
}

TEST_CASE("the digest of a probe's record changes with the device, the results and the dates, and not with people or place") {
    const std::string digest = sections_digest(sample::probe());
    CHECK(digest_with([](record& r) { r.device.serial = "0022"; }) != digest);
    CHECK(digest_with([](record& r) { r.probe->compensation.mismatch *= 1.0 + 1e-15; }) != digest);
    CHECK(digest_with([](record& r) { r.probe->division->U *= 1.0 + 1e-15; }) != digest);
    CHECK(digest_with([](record& r) { r.probe->division.reset(); }) != digest);
    CHECK(digest_with([](record& r) { r.probe->on.channel = "B"; }) != digest);
    CHECK(digest_with([](record& r) { r.probe->compensation.evidence.sha256 = std::string(64, 'e'); }) != digest);
    CHECK(digest_with([](record& r) { r.dates.begun = "2025-03-13"; }) != digest);
    CHECK(digest_with([](record& r) { r.owner.contact = "elsewhere"; }) == digest);
    CHECK(digest_with([](record& r) { r.place = "elsewhere"; }) == digest);
}

TEST_CASE("checks on site read back equal, and a bad figure in one is named") {
    record r = sample::record();
    CHECK(to_json(r).find("\"intermediate\"") == std::string::npos);
    r.intermediate = {sample::on_site(), sample::on_site()};
    CHECK(from_json(to_json(r), "r.json") == r);
    schema_check::schema schema(plumbline::record::record_schema());
    CHECK(schema.complaints(json::parse(to_json(r))) == "");
    r.intermediate[1].occasion = "";
    CHECK(message([&] { static_cast<void>(to_json(r)); }) ==
          "record PS2-0007-2025-03: /intermediate/1/occasion: found an empty text, expected some words; fill it in");
}

}  // namespace probe_json_test
