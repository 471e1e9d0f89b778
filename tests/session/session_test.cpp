#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "fixture.hpp"

#include <plumbline/calibration/reading.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <string>

namespace session_test {

namespace {

using fixture::on_disk;
using nlohmann::ordered_json;
using pointer = ordered_json::json_pointer;
using plumbline::session::read_session;

/// What the library says to a session when it is read and run, without the folder of the test; "" if all goes well.
std::string refusal(const on_disk& d) {
    try {
        static_cast<void>(plumbline::session::run(read_session(d.file)));
    } catch (const plumbline::error& refused) {
        std::string said = refused.what();
        const std::string folder = d.folder.path().string() + "/";
        for (std::size_t at = said.find(folder); at != std::string::npos; at = said.find(folder)) said.erase(at, folder.size());
        return said;
    }
    return "";
}

std::string with(const std::string& at, const ordered_json& value) {
    ordered_json j = fixture::session();
    j[pointer(at)] = value;
    return refusal(on_disk(j));
}

std::string without(const std::string& at) {
    ordered_json j = fixture::session();
    const std::size_t last = at.rfind('/');
    REQUIRE(j[pointer(at.substr(0, last))].erase(at.substr(last + 1)) == 1);
    return refusal(on_disk(j));
}

}  // namespace

TEST_CASE("a session gives a record with evidence, inputs, correction, compact form and check points") {
    const on_disk d;
    const plumbline::record::record r = plumbline::session::run(read_session(d.file));
    CHECK(r.number == "SHED-1");
    CHECK(r.model.name == plumbline::calibration::model_name);
    CHECK(r.model.version == plumbline::calibration::model_version);
    CHECK_FALSE(r.inputs.all().empty());
    REQUIRE(r.ranges.size() == 1);
    const plumbline::calibration::range_calibration& range = r.ranges[0];
    CHECK(range.temperature_half_width == 2.0 * plumbline::kelvin);  // from ambient
    CHECK(range.mode.coupling == "DC");                              // the default
    CHECK(range.zero.evidence.file == "captures/low.csv");
    CHECK(range.zero.evidence.sha256 == plumbline::capture::sha256_hex(fixture::capture(338)));
    CHECK(range.zero.evidence.sample_rate == 1000.0 * plumbline::hertz);
    CHECK(range.zero.seen.n == 400);
    CHECK(range.zero.seen.min == 337);
    CHECK(range.zero.seen.max == 339);
    // The captures are the same codes shifted by 3040 for 9 V: every mean differs from another by a whole number.
    CHECK(std::abs(range.result.gain.value() - 9.0 / 3040.0) <= 1e-12);
    CHECK(range.compact.a > 0.0);
    CHECK(range.compact.c > 0.0);
    REQUIRE(range.checks.size() == 1);
    const double indicated = 1.0 + 9.0 * 2702.0 / 3040.0;
    CHECK(std::abs(range.checks[0].indication.value() - indicated) <= 1e-12);
    CHECK(std::abs(range.checks[0].error.value() - (indicated - 9.0)) <= 1e-12);
    CHECK(range.checks[0].U.value() > 0.002);  // at least the meter's
    CHECK(range.checks[0].verdict == plumbline::conformity::verdict::pass);
    CHECK(range.checks[0].tests_reference);
}

TEST_CASE("the same session gives the same record, and that reads back equal" * doctest::skip(slow::build)) {
    const on_disk d;
    const plumbline::record::record first = plumbline::session::run(read_session(d.file));
    const plumbline::record::record second = plumbline::session::run(read_session(d.file));
    CHECK(first == second);
    const std::string text = plumbline::record::to_json(first);
    CHECK(plumbline::record::to_json(second) == text);
    CHECK(plumbline::record::from_json(text, "r.json") == first);
    CHECK(text.find(d.folder.path().string()) == std::string::npos);  // no trace of where it was made
}

TEST_CASE("the shipped session runs, and its record reads back equal" * doctest::skip(slow::build)) {
    const std::string file = std::string(PLUMBLINE_SOURCE_DIR "/examples/sessions/pocket-scope.json");
    const plumbline::record::record r = plumbline::session::run(read_session(file));
    CHECK(r.ranges.size() == 4);
    CHECK(plumbline::record::from_json(plumbline::record::to_json(r), "r.json") == r);
    for (const auto& range : r.ranges) CHECK(range.checks.size() == (&range == &r.ranges.front() ? 6 : 4));  // two as found
}

TEST_CASE("a range may state how far its own temperature may have moved, and a session may have no checks") {
    ordered_json j = fixture::session();
    j[pointer("/ranges/0/temperature_half_width")] = "0.5 K";
    j[pointer("/ranges/0")].erase("checks");
    const on_disk d(j);
    const plumbline::record::record r = plumbline::session::run(read_session(d.file));
    CHECK(r.ranges[0].temperature_half_width == 0.5 * plumbline::kelvin);
    CHECK(r.ranges[0].checks.empty());
}

TEST_CASE("captures shorter than a period of mains have a finding and rows of the budget, by what the range states of hum") {
    const auto run = [](const char* hum) {
        ordered_json j = fixture::session();
        if (*hum != '\0') j[pointer("/ranges/0/largest_hum")] = hum;
        on_disk d(j);
        d.folder.add("captures/low.csv", fixture::capture(338, "", 15));  // 15 ms
        d.folder.add("captures/high.csv", fixture::capture(3378, "", 15));
        return plumbline::session::run(read_session(d.file));
    };
    const plumbline::record::record unstated = run("");
    const plumbline::record::record stated = run("20 mV");
    for (const auto& r : {unstated, stated}) {
        int findings = 0;
        for (const auto& f : r.ranges[0].findings) findings += f.number == 207 ? 1 : 0;
        CHECK(findings == 2);
    }
    CHECK(unstated.inputs.at("A/12 V/zero/unseen hum")->source == "hum, by the scatter of capture captures/low.csv");
    CHECK(stated.inputs.at("A/12 V/zero/unseen hum")->source == "hum, stated for the place");
    CHECK(stated.ranges[0].largest_hum == 20e-3 * plumbline::volt);
    CHECK(stated.ranges[0].compact.a > unstated.ranges[0].compact.a);
    CHECK(plumbline::record::from_json(plumbline::record::to_json(stated), "s.json") == stated);
    CHECK(plumbline::certificate::text(stated).find("disturbance that cannot be judged, zero step") != std::string::npos);
}

TEST_CASE("a disturbance slower than captures last has rows of the budget, where the range states it") {
    ordered_json j = fixture::session();
    j[pointer("/ranges/0/slow_disturbance")] = {{"amplitude", "30 mV"}};
    const on_disk d(j);
    const plumbline::record::record plain = plumbline::session::run(read_session(on_disk(fixture::session()).file));
    const plumbline::record::record stated = plumbline::session::run(read_session(d.file));
    for (const char* at : {"zero", "reference", "reading"}) {
        CAPTURE(at);
        const std::string id = std::string("A/12 V/") + at + "/slow disturbance";
        REQUIRE(stated.inputs.find(id) != nullptr);
        CHECK(stated.inputs.at(id)->source == "slow disturbance, stated for the place");
        CHECK(plain.inputs.find(id) == nullptr);
    }
    CHECK(stated.ranges[0].compact.a > plain.ranges[0].compact.a);
    CHECK(plumbline::record::from_json(plumbline::record::to_json(stated), "s.json") == stated);
    CHECK(plumbline::certificate::text(stated).find("disturbance that cannot be judged, reading") != std::string::npos);
    CHECK(with("/ranges/0/slow_disturbance", {{"amplitude", "0 V"}}) ==
          "s.json: /ranges/0/slow_disturbance/amplitude: found \"0 V\", expected a voltage above 0 such as \"4.096 V\"; write a "
          "number with a decimal point, a space and a unit of that kind");
    CHECK(
        with("/ranges/0/slow_disturbance", {{"amplitude", "3 mV"}, {"frequency", "0 Hz"}}) ==
        "s.json: /ranges/0/slow_disturbance/frequency: found \"0 Hz\", expected a frequency above 0 such as \"10 kHz\"; write a "
        "number with a decimal point, a space and a unit of that kind");
    CHECK(with("/ranges/0/slow_disturbance", "3 mV") ==
          "s.json: /ranges/0/slow_disturbance: found \"3 mV\", expected an object in braces; write its fields between { and }");
}

TEST_CASE("a range may state the longest time for slow noise, and a reference that its error stands at a limit") {
    ordered_json j = fixture::session();
    j[pointer("/ranges/0/longest_time")] = "600 s";
    j[pointer("/references/1/output/at_limit")] = true;
    const on_disk d(j);
    const plumbline::record::record r = plumbline::session::run(read_session(d.file));
    CHECK(r.ranges[0].longest_time == 600.0 * plumbline::second);
    CHECK(r.inputs.at("reference/ref/error")->spread ==
          plumbline::uncertainty::distribution(plumbline::uncertainty::two_point{1.0}));
    CHECK(r.inputs.at("reference/low/error")->spread ==
          plumbline::uncertainty::distribution(plumbline::uncertainty::rectangular{1.0}));
}

TEST_CASE("the supply of a bias branch from the converter's reference need not be stated twice") {
    ordered_json j = fixture::session();
    j[pointer("/ranges/0/chain/bias")] = {{"branch", fixture::resistor("300 kohm")}, {"from_converter_reference", true}};
    const on_disk d(j);
    const plumbline::session::session s = read_session(d.file);
    REQUIRE(s.ranges[0].setup.chain.input.bias.has_value());
    CHECK(s.ranges[0].setup.chain.input.bias->supply == 3.3 * plumbline::volt);
    CHECK(with("/ranges/0/chain/bias", {{"branch", fixture::resistor("300 kohm")}}) ==
          "s.json: /ranges/0/chain/bias/supply: found no such field, expected one; add it: every field that has no default is "
          "needed");
}

TEST_CASE("what a session must say is asked for by its path") {
    for (const std::string at : {"/number",
                                 "/device",
                                 "/device/serial",
                                 "/owner",
                                 "/owner/contact",
                                 "/calibrated_by",
                                 "/calibrated_by/name",
                                 "/authorised_by",
                                 "/place",
                                 "/dates",
                                 "/dates/issued",
                                 "/ambient",
                                 "/ambient/temperature",
                                 "/ambient/temperature_half_width",
                                 "/method",
                                 "/method/text",
                                 "/references",
                                 "/ranges",
                                 "/ranges/0/channel",
                                 "/ranges/0/mode",
                                 "/ranges/0/mode/sample_rate",
                                 "/ranges/0/chain",
                                 "/ranges/0/chain/adc/noise",
                                 "/ranges/0/accept",
                                 "/ranges/0/zero",
                                 "/ranges/0/zero/capture",
                                 "/ranges/0/zero/capture/file",
                                 "/ranges/0/checks/0/name",
                                 "/ranges/0/checks/0/applied/U",
                                 "/schema",
                                 "/kind"}) {
        CHECK(without(at) ==
              "s.json: " + at + ": found no such field, expected one; add it: every field that has no default is needed");
    }
}

TEST_CASE("a session that contradicts itself is refused by the path of the contradiction") {
    CHECK(without("/plumbline") == "s.json: /plumbline: found no such field, expected \"session\"; give a session file");
    CHECK(with("/plumbline", "record") == "s.json: /plumbline: found \"record\", expected \"session\"; give a session file");
    CHECK(
        with("/schema", 2) ==
        "s.json: /schema: found version 2, expected at most 1, the newest that this library reads; read it with a newer library");
    CHECK(with("/kind", "probe") ==
          "s.json: /probe: found no such field, expected one; add it: every field that has no default is needed");
    CHECK(with("/ranges", ordered_json::array()) ==
          "s.json: /ranges: found an empty list, expected at least one range; describe the range that was calibrated");
    CHECK(with("/ranges/1", fixture::session()["ranges"][0]) ==
          "s.json: /ranges/1: found channel \"A\", range \"12 V\" a second time, expected each range of a channel once; remove "
          "one of them, or "
          "give it another name");
    CHECK(with("/ranges/0/checks/1", fixture::session()[pointer("/ranges/0/checks/0")]) ==
          "s.json: /ranges/0/checks/1/name: found \"9 V\" a second time, expected a name of its own for each check; rename one "
          "of them");
    CHECK(with("/ranges/0/zero/applied/reference", "plug") ==
          "s.json: /ranges/0/zero/applied/reference: found \"plug\", expected the id of one of the references; correct the id, "
          "or add the "
          "reference");
    CHECK(with("/ranges/0/reference/applied/reference", "meter") ==
          "s.json: /ranges/0/reference/applied: found no value, and reference \"meter\" states none, expected a value with U and "
          "k, or with "
          "limits; state the voltage that was applied");
    CHECK(with("/ranges/0/checks/0/applied/reference", "plug") ==
          "s.json: /ranges/0/checks/0/applied/reference: found \"plug\", expected the id of one of the references; correct the "
          "id, or add the "
          "reference");
    CHECK(with("/ranges/0/findings", ordered_json::array()) ==
          "s.json: /ranges/0/findings: found an unknown field, expected none besides channel, range, mode, chain, "
          "temperature_half_width, accept, "
          "longest_time, largest_hum, slow_disturbance, zero, reference, negative, before, in_use, checks, turns, points, "
          "crosstalk, warm_up, "
          "supplies, earlier; "
          "correct its name or remove it");
}

TEST_CASE("a capture outside the session's folder is refused, however it is named") {
    for (const std::string name : {"/etc/hostname", "../low.csv", "captures/../../low.csv", "..", "captures/.."}) {
        CHECK(with("/ranges/0/zero/capture/file", name) ==
              "s.json: /ranges/0/zero/capture/file: found \"" + name +
                  "\", expected a file in the folder of the session or below it, without "
                  "\"..\"; copy the capture there and name it relative to the session");
    }
    CHECK(with("/ranges/0/zero/capture/file", "captures/..low.csv") ==
          "captures/..low.csv: found no such file, expected a file; check the name and the folder");
}

TEST_CASE("sample rates that are stated in several places must agree within 0.1 %") {
    const std::string remedy =
        "; a correction belongs to one mode: correct the rate that is wrong, or capture again in this mode";
    CHECK(with("/ranges/0/mode/sample_rate", "1002 Hz") ==
          "captures/high.csv: found a sample rate of 1000 Hz in the capture, expected 1002 Hz as in the mode, to 0.1 %" + remedy);
    CHECK(with("/ranges/0/mode/sample_rate", "1000.9 Hz") == "");
    CHECK(with("/ranges/0/zero/capture/sample_rate", "2 kHz") ==
          "captures/low.csv: found a sample rate of 2000 Hz in the session's entry for this capture, expected 1000 Hz as in the "
          "mode, to 0.1 %" +
              remedy);
    CHECK(with("/ranges/0/zero/capture/sample_rate", "0.9995 kHz") == "");
}

TEST_CASE("what a capture states goes into the record before what the session states, and that before the mode") {
    ordered_json j = fixture::session();
    j[pointer("/ranges/0/mode/sample_rate")] = "1000.5 Hz";
    for (const char* step : {"zero", "reference"}) j["ranges"][0][step]["capture"]["sample_rate"] = "1000.25 Hz";
    const on_disk d(j);
    const auto range = plumbline::session::run(read_session(d.file)).ranges[0];
    CHECK(range.reference.evidence.sample_rate == 1000.0 * plumbline::hertz);
    CHECK(range.zero.evidence.sample_rate == 1000.25 * plumbline::hertz);
    CHECK(range.checks[0].observed.evidence.sample_rate == 1000.5 * plumbline::hertz);
}

TEST_CASE("steps that cannot carry a calibration are refused, and bad captures by file and line") {
    const auto said = [](const char* file, const std::string& contents) {
        const on_disk d;
        d.folder.add(file, contents);
        return refusal(d);
    };
    CHECK(said("captures/low.csv", "338\nNaN\n") ==
          "captures/low.csv, line 2: found \"NaN\", expected a whole decimal number; export raw codes, not volts or text");
    CHECK(said("captures/low.csv", "") ==
          "captures/low.csv: found an empty file, expected one code a line, or comma-separated columns under a header line; "
          "export the capture "
          "again");
    const on_disk clipped;
    clipped.folder.add("captures/low.csv", fixture::capture(0));
    CHECK_THROWS_AS(static_cast<void>(plumbline::session::run(read_session(clipped.file))), plumbline::bad_step);
    const on_disk swapped;
    swapped.folder.add("captures/low.csv", fixture::capture(3378));
    swapped.folder.add("captures/high.csv", fixture::capture(338));
    CHECK_THROWS_AS(static_cast<void>(plumbline::session::run(read_session(swapped.file))), plumbline::bad_step);
}

TEST_CASE("a column is taken from a file with several") {
    ordered_json j = fixture::session();
    j[pointer("/ranges/0/zero/capture")] = {{"file", "captures/both.csv"}, {"column", "B"}};
    const on_disk d(j);
    d.folder.add("captures/both.csv", "A,B\n1,337\n1,338\n1,339\n1,338\n");
    const auto range = plumbline::session::run(read_session(d.file)).ranges[0];
    CHECK(range.zero.evidence.column == "B");
    CHECK(range.zero.seen.n == 4);
}

}  // namespace session_test
