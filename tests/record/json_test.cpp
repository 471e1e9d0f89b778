#include <doctest/doctest.h>

#include "../../src/record/json_writer.hpp"
#include "../../src/record/layout.hpp"
#include "../slow_build.hpp"
#include "sample.hpp"
#include "scratch_folder.hpp"

#include <bit>
#include <cstdint>
#include <filesystem>
#include <locale>
#include <nlohmann/json.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace json_test {

namespace {

using nlohmann::ordered_json;
using plumbline::record::from_json;
using plumbline::record::to_json;
using pointer = ordered_json::json_pointer;

/// What from_json says to a text; "" if it reads it.
std::string refusal(const std::string& text) {
    try {
        static_cast<void>(from_json(text, "r.json"));
    } catch (const plumbline::bad_input& refused) {
        return refused.what();
    }
    return "";
}

std::string refusal(const ordered_json& j) { return refusal(j.dump()); }

ordered_json good() { return ordered_json::parse(to_json(sample::record())); }

/// What from_json says to the sample with one value replaced or added.
std::string with(const std::string& at, const ordered_json& value) {
    ordered_json j = good();
    j[pointer(at)] = value;
    return refusal(j);
}

/// The sample as text with one piece of it replaced.
std::string text_with(const std::string& from, const std::string& to) {
    std::string text = to_json(sample::record());
    const std::size_t at = text.find(from);
    REQUIRE_MESSAGE(at != std::string::npos, from);
    return refusal(text.replace(at, from.size(), to));
}

/// Every object of a document, as its pointer.
void objects_of(const ordered_json& j, const std::string& at, std::vector<std::string>& found) {
    if (j.is_object()) found.push_back(at);
    if (!j.is_structured()) return;
    std::size_t i = 0;
    for (const auto& [key, value] : j.items()) {
        objects_of(value, at + "/" + (j.is_array() ? std::to_string(i) : key), found);
        ++i;
    }
}

std::vector<std::string> objects_of(const ordered_json& j) {
    std::vector<std::string> found;
    objects_of(j, "", found);
    return found;
}

std::string last_token(const std::string& at) { return at.substr(at.rfind('/') + 1); }

/// Puts random digits into every figure of a record, near enough to what stood there to keep the record sound.
class shaker final : public plumbline::record::fields {
public:
    explicit shaker(std::uint64_t seed) : random_(seed) {}

    void text(const char*, std::string&, plumbline::record::wording) override {}
    void number(const char*, double& value, plumbline::record::demand) override { shake(value); }
    void number_or_infinite(const char*, double& value, plumbline::record::demand) override { shake(value); }
    void flag(const char* key, bool& value) override {
        const bool drawn = (random_() & 1U) != 0;
        if (std::string_view(key) != "reversed") value = drawn;  // not beside a value or reading
    }
    void figure(const char* key, double& value, const char*, plumbline::record::demand) override {
        if (std::string_view(key) != "supply") shake(value);
    }
    bool has(const char*, bool now) override { return now; }
    bool gives(const char*) override { return true; }
    void expect(bool, const std::string&, const std::string&, const std::string&, const std::string&) override {}

    int figures = 0;

protected:
    void whole_number(const char*, std::int64_t&, std::int64_t, std::int64_t) override {}
    void begin_object(const char*) override {}
    void end_object() override {}
    std::size_t begin_list(const char*, std::size_t now) override { return now; }
    void begin_item(std::size_t) override {}
    void end_list() override {}

private:
    void shake(double& value) {
        ++figures;
        if (std::isfinite(value)) value *= 1.0 + 1e-3 * std::uniform_real_distribution<>(-1.0, 1.0)(random_);
    }

    std::mt19937_64 random_;
};

}  // namespace

TEST_CASE("a record reads back equal, and writes the same bytes again") {
    const plumbline::record::record r = sample::record();
    const std::string text = to_json(r);
    const plumbline::record::record back = from_json(text, "r.json");
    CHECK(back == r);
    CHECK(to_json(back) == text);
    CHECK(text.find("nan") == std::string::npos);
    CHECK(text.ends_with("}\n"));
}

TEST_CASE("a record with as little as possible reads back equal") {
    plumbline::record::record r = sample::record();
    r.replaces = r.reason = r.device.firmware = r.device.condition = r.dates.received = r.method.deviations =
        r.method.not_covered = "";
    r.data_from_others = r.invented = "";
    r.ambient.humidity_percent.reset();
    r.correlations.clear();
    r.inputs = {};
    r.ranges[0].checks.clear();
    r.ranges[0].findings.clear();
    r.ranges[0].negative.reset();
    r.ranges[0].negative_result.reset();
    r.ranges[0].before.reset();
    r.ranges[0].in_use.reset();
    r.ranges[0].turns.clear();
    r.ranges[0].points.reset();
    r.ranges[0].crosstalk.clear();
    r.ranges[0].warm_up.reset();
    r.ranges[0].supplies.clear();
    r.ranges[0].temperatures.reset();
    r.clock.reset();
    r.clock_tolerance.reset();
    r.comparisons.clear();
    r.ranges[0].chain.input.bottom.reset();
    r.ranges[0].chain.input.bias.reset();
    CHECK(from_json(to_json(r), "r.json") == r);
}

TEST_CASE("random figures read back bit for bit") {
    for (std::uint64_t seed = 1; seed <= 300U; seed += slow::looked_at_one_in(3)) {
        CAPTURE(seed);
        plumbline::record::record r = sample::record();
        plumbline::front_end::bias_branch& bias = *r.ranges[0].chain.input.bias;
        bias.from_converter_reference = false;
        bias.supply_tolerance = 0.02 * plumbline::one;
        bias.supply_temperature_coefficient = 1e-4 / plumbline::kelvin;
        shaker s(seed);
        plumbline::record::visit(s, r);
        REQUIRE(s.figures > 90);
        if (bias.from_converter_reference) {
            bias.supply = r.ranges[0].chain.adc.reference;
            bias.supply_tolerance = 0.0 * plumbline::one;
            bias.supply_temperature_coefficient = 0.0 / plumbline::kelvin;
        }
        const plumbline::record::record back = from_json(to_json(r), "r.json");
        REQUIRE(back == r);
        // == takes -0 for 0: the sign of a covariance's zero is compared by its bits
        REQUIRE(std::bit_cast<std::uint64_t>(back.ranges[0].result.covariance) ==
                std::bit_cast<std::uint64_t>(r.ranges[0].result.covariance));
    }
}

TEST_CASE("figures carry their unit, counts and ratios are plain numbers") {
    const ordered_json j = good();
    CHECK(j["plumbline"] == "record");
    CHECK(j["schema"] == 1);
    CHECK(j["kind"] == "instrument");
    CHECK(j[pointer("/ranges/0/correction/gain")] == "0.00473 V/code");
    CHECK(j[pointer("/ranges/0/correction/covariance")] == "-1.25e-08 V^2/code");
    CHECK(j[pointer("/ranges/0/chain/bottom/nominal")] == "430000 ohm");
    CHECK(j[pointer("/ranges/0/chain/bottom/temperature_coefficient")] == "5e-05 1/K");
    CHECK(j[pointer("/ranges/0/chain/bottom/tolerance")] == 0.01);
    CHECK(j[pointer("/ranges/0/zero/seen/n")] == 2048);
    CHECK(j[pointer("/ranges/0/checks/0/degrees_of_freedom")] == "infinite");
    CHECK(j[pointer("/ambient/temperature")] == "22.5 degC");
    CHECK(j[pointer("/inputs/5/coefficient")] == "2e-06 V/K");
    CHECK(j[pointer("/inputs/4/coefficient")] == "5e-05 1/K");
}

TEST_CASE("the locale changes nothing") {
    struct decimal_comma : std::numpunct<char> {
        char do_decimal_point() const override { return ','; }
        char do_thousands_sep() const override { return '.'; }
        std::string do_grouping() const override { return "\3"; }
    };
    const std::string before = to_json(sample::record());
    const std::locale old = std::locale::global(std::locale(std::locale::classic(), new decimal_comma));
    const std::string text = to_json(sample::record());
    const bool same = from_json(text, "r.json") == sample::record();
    std::locale::global(old);
    CHECK(text == before);
    CHECK(same);
}

TEST_CASE("every field is needed: without it the record is refused by its path") {
    const std::vector<std::string> may_be_absent = {"humidity_percent",
                                                    "output",
                                                    "divider",
                                                    "bottom",
                                                    "bias",
                                                    "value",
                                                    "limits",
                                                    "meter",
                                                    "part",
                                                    "valid_temperature",
                                                    "reading",
                                                    "source",
                                                    "negative",
                                                    "negative_correction",
                                                    "before",
                                                    "in_use",
                                                    "verdict",
                                                    "transfer",
                                                    "trend",
                                                    "removed_hum",
                                                    "slow_noise",
                                                    "few_codes",
                                                    "at_limit",
                                                    "longest_time",
                                                    "middle",
                                                    "largest_hum",
                                                    "slow_disturbance",
                                                    "frequency",
                                                    "by_trials",
                                                    "uncalibrated",
                                                    "kinds",
                                                    "to",
                                                    "pin",
                                                    "amplifier",
                                                    "reference_by_supply",
                                                    "clock",
                                                    "clock_tolerance",
                                                    "format",
                                                    "moved_by_drift",
                                                    "turns",
                                                    "points",
                                                    "crosstalk",
                                                    "warm_up",
                                                    "used_from",
                                                    "warm_after",
                                                    "supplies",
                                                    "temperatures"};
    const std::vector<std::string> of_limits = {
        "clamp_to_supply", "clamp_to_ground", "rating", "highest", "pin_beyond_supply", "top", "bottom", "bias",
        "dissipation",     "working"};
    const std::vector<std::string> of_amplifier = {"gain", "gain_bandwidth", "lowest_output", "highest_output"};
    const ordered_json whole = good();
    int tried = 0;
    slow::choice looked_at;
    for (const std::string& at : objects_of(whole)) {
        for (const auto& [key, value] : whole[pointer(at)].items()) {
            if (std::find(may_be_absent.begin(), may_be_absent.end(), key) != may_be_absent.end() && !at.ends_with("divider"))
                continue;
            const bool in_limits = at.find("/chain/limits") != std::string::npos;
            if (in_limits && std::find(of_limits.begin(), of_limits.end(), key) != of_limits.end()) continue;
            if (at.ends_with("/chain/amplifier") &&
                std::find(of_amplifier.begin(), of_amplifier.end(), key) != of_amplifier.end())
                continue;
            if (at.ends_with("divider") && key == "nominal_temperature") continue;
            if (last_token(at) == "seen" && key == "min") continue;  // its neighbour is judged by it
            ++tried;
            if (!looked_at()) continue;
            ordered_json j = whole;
            j[pointer(at)].erase(key);
            const std::string said = refusal(j);
            const std::string path = at + "/" + key;
            CAPTURE(path);
            if (path == "/plumbline") {
                CHECK(said == "r.json: /plumbline: found no such field, expected \"record\"; give a record file");
            } else {
                CHECK(said == "r.json: " + path +
                                  ": found no such field, expected one; add it: every field that has no default is needed");
            }
        }
    }
    CHECK(tried > 150);
}

TEST_CASE("every unknown field is refused by its path") {
    const ordered_json whole = good();
    slow::choice looked_at;
    for (const std::string& at : objects_of(whole)) {
        if (!looked_at()) continue;
        CAPTURE(at);
        ordered_json j = whole;
        j[pointer(at)]["gain~/x"] = 1;
        const std::string said = refusal(j);
        CHECK(said.starts_with("r.json: " + at + "/gain~0~1x: found an unknown field, expected none besides "));
        CHECK(said.ends_with("; correct its name or remove it"));
    }
    CHECK(with("/owner/phone", "1") ==
          "r.json: /owner/phone: found an unknown field, expected none besides name, contact; correct its name or remove it");
}

TEST_CASE("every field given twice is refused by its path") {
    const ordered_json whole = good();
    int tried = 0;
    slow::choice looked_at;
    for (const std::string& at : objects_of(whole)) {
        for (const auto& [key, value] : whole[pointer(at)].items()) {
            ++tried;
            if (!looked_at()) continue;
            // A twin under a name of its own, renamed in the text: the library of this test would not write a key twice.
            ordered_json j = whole;
            j[pointer(at)]["TWIN"] = 1;
            std::string text = j.dump();
            text.replace(text.find("\"TWIN\""), 6, ordered_json(key).dump());
            CHECK(refusal(text) ==
                  "r.json: " + at + "/" + key + ": found this field twice, expected each field once; remove one of the two");
        }
    }
    CHECK(tried > 150);
}

TEST_CASE("a value of another type is refused by its path wherever it stands") {
    const ordered_json whole = good();
    slow::choice looked_at(5);
    for (const std::string& at : objects_of(whole)) {
        for (const auto& [key, value] : whole[pointer(at)].items()) {
            for (const ordered_json& other :
                 {ordered_json(nullptr), ordered_json::array(), ordered_json::object(), ordered_json(true)}) {
                if (other.type() == value.type() || !looked_at()) continue;
                ordered_json j = whole;
                j[pointer(at + "/" + key)] = other;
                const std::string said = refusal(j);
                const std::string path = at + "/" + key;
                CAPTURE(path);
                CAPTURE(said);
                CHECK(said.starts_with("r.json: " + path + ": found "));
            }
        }
    }
}

TEST_CASE("values of the wrong type, unit or size are refused with what was expected") {
    CHECK(with("/ranges/0/chain/adc/reference", "4.096 ohm") ==
          "r.json: /ranges/0/chain/adc/reference: found \"4.096 ohm\", expected a voltage above 0 such as \"4.096 V\"; write a "
          "number with a "
          "decimal point, a space and a unit of that kind");
    CHECK(with("/ranges/0/chain/adc/reference", 4.096) ==
          "r.json: /ranges/0/chain/adc/reference: found 4.096 without a unit, expected a voltage above 0 such as \"4.096 V\"; "
          "add the unit, in "
          "quotation marks with the number");
    CHECK(with("/ranges/0/chain/top/nominal", "-1 Mohm") ==
          "r.json: /ranges/0/chain/top/nominal: found \"-1 Mohm\", expected a resistance above 0 such as \"220 kohm\"; write a "
          "number with a "
          "decimal point, a space and a unit of that kind");
    CHECK(with("/ranges/0/chain/low", "NaN V") ==
          "r.json: /ranges/0/chain/low: found \"NaN V\", expected a voltage such as \"4.096 V\"; write a number with a decimal "
          "point, a space "
          "and a unit of that kind");
    CHECK(with("/ranges/0/chain/top/tolerance", -0.01) ==
          "r.json: /ranges/0/chain/top/tolerance: found -0.01, expected a ratio of 0 or more such as \"0.1 %\"; correct the "
          "number");
    CHECK(with("/ranges/0/chain/adc/bits", 12.5) ==
          "r.json: /ranges/0/chain/adc/bits: found 12.5, expected a whole number from 1 to 24; correct the number");
    CHECK(with("/ranges/0/chain/adc/bits", 32) ==
          "r.json: /ranges/0/chain/adc/bits: found 32, expected a whole number from 1 to 24; correct the number");
    CHECK(with("/ranges/0/zero/seen/n", 18446744073709551615U) ==
          "r.json: /ranges/0/zero/seen/n: found 18446744073709551615, expected a whole number from 1 to 9007199254740992; "
          "correct the number");
    CHECK(with("/ranges/0/zero/seen/n", -1) ==
          "r.json: /ranges/0/zero/seen/n: found -1, expected a whole number from 1 to 9007199254740992; correct the number");
    CHECK(with("/ranges/0/zero/seen/n_eff", "many") ==
          "r.json: /ranges/0/zero/seen/n_eff: found \"many\", expected a number above 0; write a number without quotation marks "
          "and unit");
    CHECK(with("/ranges/0/checks/0/tests_reference", "yes") ==
          "r.json: /ranges/0/checks/0/tests_reference: found \"yes\", expected true or false; write one of them without "
          "quotation marks");
    CHECK(with("/ranges/0/checks/0/degrees_of_freedom", "many") ==
          "r.json: /ranges/0/checks/0/degrees_of_freedom: found \"many\", expected a number or \"infinite\"; write one of them");
    CHECK(with("/ranges/0/checks/0/degrees_of_freedom", 0) ==
          "r.json: /ranges/0/checks/0/degrees_of_freedom: found 0, expected a number above 0; correct the number");
    CHECK(with("/ranges/0/checks/0/applied/U", "0 V") ==
          "r.json: /ranges/0/checks/0/applied/U: found \"0 V\", expected a voltage above 0 such as \"4.096 V\"; write a number "
          "with a decimal "
          "point, a space and a unit of that kind");
    CHECK(with("/ranges/0/checks/0/applied/limits", "1 mV") ==
          "r.json: /ranges/0/checks/0/applied/U: found an unknown field, expected none besides reference, value, limits, "
          "at_limit, reading, reversed, source, transfer; correct "
          "its name or "
          "remove it");
    CHECK(with("/place", 5) == "r.json: /place: found 5, expected a text in quotation marks; put it in quotation marks");
    CHECK(with("/place", " ") == "r.json: /place: found an empty text, expected some words; fill it in");
    CHECK(with("/ranges", ordered_json::object()) ==
          "r.json: /ranges: found an object, expected a list in brackets; write it between [ and ]");
    CHECK(with("/ranges/0", 1) == "r.json: /ranges/0: found 1, expected an object in braces; write its fields between { and }");
    CHECK(with("/ranges", ordered_json::array()) ==
          "r.json: /ranges: found an empty list, expected at least one range; use the record as it was written");
    CHECK(with("/ambient/humidity_percent", 101) ==
          "r.json: /ambient/humidity_percent: found 101, expected at most 100; correct the number");
    CHECK(with("/ambient/temperature", "-300 degC") ==
          "r.json: /ambient/temperature: found -300 degC, expected a temperature above absolute zero; correct the number");
    CHECK(with("/coverage_probability", 1) ==
          "r.json: /coverage_probability: found 1, expected a number below 1; correct the number");
    CHECK(refusal(std::string("[1, 2]")) ==
          "r.json: found a list, expected an object in braces; write its fields between { and }");
    CHECK(refusal(std::string("5")) == "r.json: found 5, expected an object in braces; write its fields between { and }");
}

TEST_CASE("other files, newer forms and unknown models are refused by name") {
    CHECK(with("/plumbline", "session") == "r.json: /plumbline: found \"session\", expected \"record\"; give a record file");
    CHECK(
        with("/schema", 2) ==
        "r.json: /schema: found version 2, expected at most 1, the newest that this library reads; read it with a newer library");
    CHECK(with("/schema", "1").starts_with("r.json: /schema: found \"1\", expected a whole number from 1 to "));
    CHECK(with("/schema", 0).starts_with("r.json: /schema: found 0, expected a whole number from 1 to "));
    CHECK(with("/kind", "ruler") == "r.json: /kind: found \"ruler\", expected \"instrument\" or \"probe\"; correct the word");
    CHECK(with("/model/name", "three-point") ==
          "r.json: /model/name: found \"three-point\", expected \"lines through steps\", the model that this library computes; "
          "read it "
          "with the library "
          "that wrote it, or a newer one");
    for (const int version : {3, 4, 5, 6})
        CHECK(with("/model/version", version) == "");  // what newer ones add are inputs that such a record does not have
    for (const int other : {2, 8}) {
        CHECK(with("/model/version", other) == "r.json: /model/version: found version " + std::to_string(other) +
                                                   ", expected 3 to 7, the versions that this library computes; read it with the "
                                                   "library that wrote it");
    }
    // Without its first fields a record of a newer form could not be told from a broken one.
    ordered_json j = good();
    j["schema"] = 7;
    j["future"] = true;
    CHECK(
        refusal(j) ==
        "r.json: /schema: found version 7, expected at most 1, the newest that this library reads; read it with a newer library");
}

TEST_CASE("names that point nowhere or stand twice are refused") {
    CHECK(with("/ranges/0/zero/applied/reference", "shorted") ==
          "r.json: /ranges/0/zero/applied/reference: found \"shorted\", expected the id of one of the references; correct the "
          "id, or add the "
          "reference");
    CHECK(with("/ranges/0/checks/0/applied/reference", "x") ==
          "r.json: /ranges/0/checks/0/applied/reference: found \"x\", expected the id of one of the references; correct the id, "
          "or add the "
          "reference");
    CHECK(with("/ranges/0/reference/applied/reference", "meter") ==
          "r.json: /ranges/0/reference/applied: found no value, and reference \"meter\" states none, expected a value with U and "
          "k, or with "
          "limits; state the voltage that was applied");
    CHECK(with("/references/1/id", "short") ==
          "r.json: /references/1/id: found \"short\" a second time, expected an id of its own for each reference; rename one of "
          "them");
    for (const char* from : {"nowhere", "ref-0v8", "meter"}) {  // unknown, a divider (itself), and one without an output
        CHECK(with("/references/2/divider/from", from) ==
              "r.json: /references/2/divider/from: found \"" + std::string(from) +
                  "\", expected the id of a reference that states its output; name that reference, or state its output");
    }
    CHECK(with("/references/2/output", {{"value", "0.8 V"}, {"limits", "1 mV"}}) ==
          "r.json: /references/2/divider: found both an output and a divider, expected one of them; keep the output where the "
          "voltage was "
          "measured, the divider where it is computed");
    CHECK(with("/inputs/1/id", "a") ==
          "r.json: /inputs/1/id: found \"a\" a second time, expected an id of its own for each input; use the record as it was "
          "written");
    CHECK(with("/correlations/0/second", "z") ==
          "r.json: /correlations/0/second: found \"z\", expected the id of one of the inputs; use the record as it was written");
    CHECK(with("/correlations/0/coefficient", 1.5) ==
          "r.json: /correlations/0/coefficient: found 1.5, expected a number from -1 to 1; correct the number");
    CHECK(with("/inputs/0/unit", "furlong") ==
          "r.json: /inputs/0/unit: found \"furlong\", expected \"V\", \"code\", \"ohm\", \"A\", \"Hz\", \"s\", \"1\", \"K\", "
          "\"V/code\", "
          "\"1/K\", \"V/K\", \"A/K\"; use the record as it was written");
    CHECK(with("/inputs/0/distribution", "cauchy") ==
          "r.json: /inputs/0/distribution: found \"cauchy\", expected \"normal\", \"rectangular\", \"triangular\", \"repeated\", "
          "\"coefficient "
          "times difference\", \"trapezoidal\", \"arcsine\", \"two-point\"; use the record as it was written");
    CHECK(with("/ranges/0/zero/capture/sha256", "ABC") ==
          "r.json: /ranges/0/zero/capture/sha256: found \"ABC\", expected 64 hexadecimal digits in lower case; use the record as "
          "it was written");
}

TEST_CASE("a record number that could not name a file is refused") {
    for (const std::string number : {"", ".hidden", "..", "a/b", "a b", "a\\b", "\xc3\xa4", "con:1"}) {
        CHECK(with("/number", number) ==
              "r.json: /number: found " + plumbline::record::shown(number) +
                  ", expected 1 to 64 letters, digits, '.', '_' or '-', not beginning with '.'; choose a number that "
                  "can name a file");
    }
    CHECK(with("/number", std::string(65, 'x')).starts_with("r.json: /number: found \"xxxx"));
    CHECK(with("/number", std::string(64, 'x')) == "");
    CHECK(with("/number", "PS2-0007-2024-11") ==
          "r.json: /replaces: found the record's own number, expected that of an earlier one; give the new record a number of "
          "its own");
    CHECK(with("/reason", "") ==
          "r.json: /reason: found no reason, expected why the earlier record is replaced; say what was wrong with it");
    CHECK(with("/replaces", "") ==
          "r.json: /reason: found a reason, expected none, since no record is replaced; name the earlier record in "
          "\"replaces\", or remove the reason");
    CHECK(with("/replaces", "a/b") ==
          "r.json: /replaces: found \"a/b\", expected 1 to 64 letters, digits, '.', '_' or '-', not beginning with "
          "'.'; give the number of the earlier record");
}

TEST_CASE("dates are days of the calendar in order") {
    for (const char* day : {"", "2025-02-29", "2025-13-01", "2025-00-10", "2025-04-31", "2025-4-1", "14.03.2025", "2025-03-14T10",
                            "-025-03-14", "2025-+3-14", "2025/03/14", "20250-3-14"}) {
        CHECK(with("/dates/ended", day) == "r.json: /dates/ended: found \"" + std::string(day) +
                                               "\", expected a day of the calendar as YYYY-MM-DD; correct the date");
    }
    CHECK(with("/dates/received", "yesterday") ==
          "r.json: /dates/received: found \"yesterday\", expected a day of the calendar as YYYY-MM-DD, or "
          "nothing; correct the date");
    CHECK(with("/dates/issued", "2025-03-13") ==
          "r.json: /dates/issued: found \"2025-03-13\", expected a day not before \"ended\", 2025-03-14; correct one of the two "
          "dates");
    CHECK(with("/dates/begun", "2025-03-15") ==
          "r.json: /dates/ended: found \"2025-03-14\", expected a day not before \"begun\", 2025-03-15; correct one of the two "
          "dates");
    CHECK(with("/dates/received", "2025-03-15") ==
          "r.json: /dates/begun: found \"2025-03-14\", expected a day not before \"received\", 2025-03-15; correct one of the "
          "two dates");
    ordered_json j = good();
    j["dates"] = {{"received", ""}, {"begun", "2025-03-14"}, {"ended", "2025-03-18"}, {"issued", "2025-03-16"}};
    CHECK(refusal(j) ==
          "r.json: /dates/issued: found \"2025-03-16\", expected a day not before \"ended\", 2025-03-18; correct one of the two "
          "dates");
    j["dates"] = {{"received", ""}, {"begun", "2024-02-29"}, {"ended", "2024-02-29"}, {"issued", "2024-02-29"}};
    CHECK(refusal(j) == "");  // a leap day
}

TEST_CASE("an input chain that contradicts itself is refused") {
    CHECK(with("/ranges/0/chain/high", "-10 V") ==
          "r.json: /ranges/0/chain/high: found -10 V, expected more than the low end, -10 V; correct the ends of the range");
    CHECK(with("/ranges/0/chain/bias/supply", "5 V") ==
          "r.json: /ranges/0/chain/bias/supply: found 5 V, expected 3.3 V, since the supply is the converter's reference; leave "
          "the supply out, "
          "or set \"from_converter_reference\" to false");
    CHECK(with("/ranges/0/chain/bias/supply_tolerance", "1 %") ==
          "r.json: /ranges/0/chain/bias/supply_tolerance: found a tolerance, expected none, since the supply is the converter's "
          "reference; "
          "leave it out");
    CHECK(with("/ranges/0/chain/bias/supply_temperature_coefficient", "1 ppm/K") ==
          "r.json: /ranges/0/chain/bias/supply_temperature_coefficient: found a temperature coefficient, expected none, since "
          "the supply is "
          "the converter's reference; leave it out");
}

TEST_CASE("what is not JSON is refused with its line") {
    const std::string remedy = "; correct this line: commas, quotation marks, brackets, no NaN and no comments";
    CHECK(refusal(std::string()) == "r.json: found an empty file, expected a JSON text; take another copy of the file");
    CHECK(refusal(std::string(" \r\n\t")) == "r.json: found an empty file, expected a JSON text; take another copy of the file");
    CHECK(refusal(std::string("{\n\"a\": NaN\n}")) ==
          "r.json, line 2: found no JSON at \"\\\"a\\\": NaN\", expected JSON (RFC 8259)" + remedy);
    CHECK(refusal(std::string("{\n\"a\": -Infinity\n}")) ==
          "r.json, line 2: found no JSON at \"\\\"a\\\": -Infinity\", expected JSON (RFC 8259)" + remedy);
    CHECK(refusal(std::string("{\n\"a\": 1,\n}")) == "r.json, line 3: found no JSON at \"}\", expected JSON (RFC 8259)" + remedy);
    CHECK(refusal(std::string("{\"a\": 1} // done")) ==
          "r.json, line 1: found no JSON at \"{\\\"a\\\": 1} // done\", expected JSON (RFC 8259)" + remedy);
    CHECK(refusal(std::string("{\"a\": \"x\ny\"}")).starts_with("r.json, line 1: found no JSON at "));
    CHECK(refusal(std::string("{\"a\": \"\\ud800\"}")).starts_with("r.json, line 1: found no JSON at "));
    CHECK(refusal(std::string("{\"a\": 01}")).starts_with("r.json, line 1: found no JSON at "));
    const std::string text = to_json(sample::record());
    for (const std::size_t size : {text.size() / 2, text.size() - 3, std::size_t{1}}) {
        const std::string cut = text.substr(0, size);
        CHECK(refusal(cut) ==
              "r.json, line " + std::to_string(1 + std::count(cut.begin(), cut.end(), '\n')) +
                  ": found the end of the file, expected the rest of the JSON text; the file is cut off: take a whole copy");
    }
    CHECK(refusal("\xef\xbb\xbf" + text) == "");  // a byte order mark does no harm
}

TEST_CASE("a record cut off anywhere is refused") {
    const std::string text = to_json(sample::record());
    for (std::size_t size = 0; size + 2 < text.size(); size += 7 * slow::looked_at_one_in(5)) {
        CAPTURE(size);
        CHECK(refusal(text.substr(0, size)) != "");
    }
}

TEST_CASE("numbers beyond double, texts beyond measure and control characters are refused by their path") {
    CHECK(text_with("\"warm_up_minutes\": 30.0", "\"warm_up_minutes\": 1e999") ==
          "r.json: /ambient/warm_up_minutes: found a number beyond the range of double, expected at most 1.8e308 in size; "
          "correct the number");
    CHECK(text_with("\"warm_up_minutes\": 30.0", "\"warm_up_minutes\": [1, -1e999]") ==
          "r.json: /ambient/warm_up_minutes/1: found a number beyond the range of double, expected at most 1.8e308 in size; "
          "correct the number");
    CHECK(with("/place", std::string((64U << 10U) + 1, 'x')) ==
          "r.json: /place: found a text of 65537 bytes, expected at most 65536; shorten it");
    CHECK(with("/place", std::string(64U << 10U, 'x')) == "");
    for (const std::string control : {"\t", "\r", "\x1b", "\x7f", "\xc2\x9b"}) {
        CHECK(with("/place", "a" + control) == "r.json: /place: found a control character in " +
                                                   plumbline::record::shown("a" + control) +
                                                   ", expected text and line feeds; remove the character");
    }
    CHECK(with("/place", std::string("a\0b", 3)) ==
          "r.json: /place: found a control character in \"a\\u0000b\", expected text and line feeds; remove the character");
    CHECK(with("/place", "two\nlines") == "");
}

TEST_CASE("a text that is not UTF-8 is refused with line and byte") {
    for (const std::string bad : {"\xff", "\xc3", "\xc0\xaf", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\x80", "\xe2\x82"}) {
        const std::string said = refusal("{\n\n\"a\": \"" + bad + "\"}");
        CHECK(said.starts_with("r.json, line 3: found the byte 0x"));
        CHECK(said.ends_with(" where no UTF-8 character has it, expected UTF-8 text; save the file as UTF-8"));
    }
    CHECK(with("/place", "\xf0\x9f\x94\x8b \xe2\x82\xac \xed\x9f\xbf") == "");
}

TEST_CASE("brackets nested beyond 64 are refused, however many") {
    for (const std::size_t levels : {std::size_t{65}, std::size_t{5'000'000}}) {
        const std::string said = refusal(std::string(levels, '['));
        CHECK(said.starts_with("r.json: /0/0/0/0"));
        CHECK(said.ends_with("/0: found more than 64 levels of brackets, expected at most 64; take another copy of the file"));
    }
    CHECK(refusal(std::string(64, '[') + std::string(64, ']')) ==
          "r.json: found a list, expected an object in braces; write its fields between { and }");
}

TEST_CASE("a text over 16 MiB is refused, from a file before it is read") {
    const scratch_folder folder;
    const std::filesystem::path file = folder.add("big.json", "{");
    std::filesystem::resize_file(file, (std::uintmax_t{16} << 20U) + 1);  // sparse
    const std::string expected =
        ": found 16777217 bytes, expected at most 16777216 (16 MiB); give a record or session file, not a capture";
    CHECK_THROWS_WITH_AS(static_cast<void>(plumbline::record::read_record(file)), (file.string() + expected).c_str(),
                         plumbline::bad_input);
    CHECK(refusal(std::string((16U << 20U) + 1, ' ')) == "r.json" + expected);
}

TEST_CASE("a file is read as its text is, and refused by its own name") {
    const scratch_folder folder;
    const std::filesystem::path file = folder.add("r.json", to_json(sample::record()));
    CHECK(plumbline::record::read_record(file) == sample::record());
    const std::string none = (folder.path() / "none.json").string();
    CHECK_THROWS_WITH_AS(static_cast<void>(plumbline::record::read_record(none)),
                         (none + ": found no such file, expected a file; check the name and the folder").c_str(),
                         plumbline::bad_input);
    CHECK_THROWS_WITH_AS(static_cast<void>(plumbline::record::read_record(folder.path())),
                         (folder.path().string() + ": found a directory, expected a file; name a file inside it").c_str(),
                         plumbline::bad_input);
}

TEST_CASE("a record that could not be read back is not written") {
    const auto said = [](const plumbline::record::record& r) -> std::string {
        try {
            static_cast<void>(to_json(r));
        } catch (const plumbline::bad_input& refused) {
            return refused.what();
        }
        return "";
    };
    plumbline::record::record r = sample::record();
    r.ranges[0].result.gain *= std::numeric_limits<double>::quiet_NaN();
    CHECK(said(r) ==
          "record PS2-0007-2025-03: /ranges/0/correction/gain: found \"nan V/code\", expected a gain such as \"5 mV/code\"; "
          "write a "
          "number with a decimal point, a space and a unit of that kind");
    r = sample::record();
    r.ranges[0].compact.c = std::numeric_limits<double>::infinity();
    CHECK(said(r) ==
          "record PS2-0007-2025-03: /ranges/0/compact/c: found \"inf \", expected a number of 0 or more; write a number without "
          "quotation marks and unit");
    r = sample::record();
    r.place = "\xff";
    CHECK(said(r) == "record: found a text that is not UTF-8, expected UTF-8; convert the text before it enters the record");
    r = sample::record();
    r.ranges[0].zero.source.reference = "nowhere";
    CHECK(
        said(r) ==
        "record PS2-0007-2025-03: /ranges/0/zero/applied/reference: found \"nowhere\", expected the id of one of the references; "
        "correct the id, or add the reference");
}

}  // namespace json_test
