#include <doctest/doctest.h>

#include "../../src/record/canonical.hpp"
#include "sample.hpp"

#include <bit>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <limits>
#include <nlohmann/json.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <random>
#include <string>
#include <vector>

namespace canonical_test {

namespace {

using nlohmann::json;
using plumbline::record::canonical_json;
using plumbline::record::canonical_number;
using plumbline::record::sections_digest;

plumbline::record::stored_check passed() {
    return {"2025-03-16", std::string(64, 'b'), true, "the image of record PS2-0007-2025-03"};
}

template <class Change>
std::string digest_with(const Change& change) {
    plumbline::record::record r = sample::record();
    change(r);
    return sections_digest(r);
}

}  // namespace

TEST_CASE("canonical numbers are those of RFC 8785, appendix B") {
    // the table of the RFC, from memory; node's JSON.stringify prints the same
    struct row {
        std::uint64_t bits;
        const char* text;
    };
    for (const row& r : std::vector<row>{{0x0000000000000000, "0"},
                                         {0x8000000000000000, "0"},
                                         {0x0000000000000001, "5e-324"},
                                         {0x8000000000000001, "-5e-324"},
                                         {0x7fefffffffffffff, "1.7976931348623157e+308"},
                                         {0xffefffffffffffff, "-1.7976931348623157e+308"},
                                         {0x4340000000000000, "9007199254740992"},
                                         {0xc340000000000000, "-9007199254740992"},
                                         {0x4430000000000000, "295147905179352830000"},
                                         {0x44b52d02c7e14af5, "9.999999999999997e+22"},
                                         {0x44b52d02c7e14af6, "1e+23"},
                                         {0x44b52d02c7e14af7, "1.0000000000000001e+23"},
                                         {0x444b1ae4d6e2ef4e, "999999999999999700000"},
                                         {0x444b1ae4d6e2ef4f, "999999999999999900000"},
                                         {0x444b1ae4d6e2ef50, "1e+21"},
                                         {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
                                         {0x3eb0c6f7a0b5ed8d, "0.000001"},
                                         {0x41b3de4355555553, "333333333.3333332"},
                                         {0x41b3de4355555554, "333333333.33333325"},
                                         {0x41b3de4355555555, "333333333.3333333"},
                                         {0x41b3de4355555556, "333333333.3333334"},
                                         {0x41b3de4355555557, "333333333.33333343"},
                                         {0xbecbf647612f3696, "-0.0000033333333333333333"},
                                         {0x43143ff3c1cb0959, "1424953923781206.2"}}) {
        CHECK(canonical_number(std::bit_cast<double>(r.bits)) == r.text);
    }
}

TEST_CASE("every canonical number reads back bit for bit") {
    std::mt19937_64 random(8785);
    for (int i = 0; i < 200000; ++i) {
        const auto x = std::bit_cast<double>(random());
        if (!std::isfinite(x) || x == 0.0) continue;
        const std::string text = canonical_number(x);
        REQUIRE_MESSAGE(std::strtod(text.c_str(), nullptr) == x, text);
    }
}

TEST_CASE("the examples of RFC 8785, 3.2.2 and 3.2.3, come out as printed there") {
    // from memory
    CHECK(canonical_json(
              json::parse(R"({"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],)"
                          R"( "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]})")) ==
          R"({"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],)"
          "\"string\":\"\xe2\x82\xac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}");
    CHECK(
        canonical_json(json::parse(
            R"({"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",)"
            R"( "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"})")) ==
        "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\xc2\x80\":\"Control\","
        "\"\xc3\xb6\":\"Latin Small Letter O With Diaeresis\",\"\xe2\x82\xac\":\"Euro Sign\","
        "\"\xf0\x9f\x98\x80\":\"Emoji: Grinning Face\",\"\xef\xac\xb3\":\"Hebrew Letter Dalet With Dagesh\"}");
}

TEST_CASE("a whole number beyond 2^53 is written as the double that others would read") {
    CHECK(canonical_json(json::parse("[9007199254740993, -1, 18446744073709551615]")) ==
          "[9007199254740992,-1,18446744073709552000]");
}

TEST_CASE("what has no canonical form is refused") {
    CHECK_THROWS_WITH_AS(static_cast<void>(canonical_json(json("\xff"))),
                         "canonical form: found a text that is not UTF-8, expected UTF-8; convert the text before it is used",
                         plumbline::bad_input);
    CHECK_THROWS_WITH_AS(static_cast<void>(canonical_json(json(std::numeric_limits<double>::infinity()))),
                         "canonical form: found a number that is not finite, expected a finite one; correct it",
                         plumbline::bad_input);
}

TEST_CASE("the digest is that of the canonical sections, and these are canonical") {
    const std::string text = plumbline::record::canonical_sections(sample::record());
    CHECK(sections_digest(sample::record()) == plumbline::capture::sha256_hex(text));
    CHECK(canonical_json(json::parse(text)) == text);
    CHECK(text.starts_with(R"({"budget":{"ambient":{)"));
    CHECK(text.find(R"("correction":[{"channel":"A","correction":{"covariance":"-1.25e-08 V^2/code","gain":"0.00473 V/code",)") !=
          std::string::npos);
    CHECK(text.find(R"("negative_correction":{)") != std::string::npos);
    CHECK(text.find(R"("device":{"condition":"new battery",)") != std::string::npos);
}

TEST_CASE("the digest changes with device, correction and budget, and with nothing else") {
    using plumbline::record::record;
    const std::string digest = sections_digest(sample::record());
    CHECK(digest_with([](record& r) { r.device.serial = "0008"; }) != digest);
    CHECK(digest_with([](record& r) { r.ranges[0].result.gain *= 1.0 + 1e-15; }) != digest);
    CHECK(digest_with([](record& r) { r.ranges[0].negative_result->offset *= 1.0 + 1e-15; }) != digest);
    CHECK(digest_with([](record& r) { r.ranges[0].mode.supply = "charger"; }) != digest);
    CHECK(digest_with([](record& r) { r.ranges[0].compact.c *= 1.0 + 1e-15; }) != digest);
    CHECK(digest_with([](record& r) { r.ranges[0].in_use.reset(); }) != digest);
    CHECK(digest_with([](record& r) { r.correlations[0].coefficient = 0.25; }) != digest);
    CHECK(digest_with([](record& r) { r.dates.begun = "2025-03-13"; }) != digest);
    CHECK(digest_with([](record& r) { r.ranges[0].zero.seen.mean += 1e-6 * plumbline::code; }) != digest);

    CHECK(digest_with([](record& r) { r.owner.contact = "elsewhere"; }) == digest);
    CHECK(digest_with([](record& r) { r.ranges[0].checks.clear(); }) == digest);
    CHECK(digest_with([](record& r) { r.number = "another"; }) == digest);
    CHECK(digest_with([](record& r) { r.stored = {passed(), passed()}; }) == digest);
    CHECK(digest_with([](record& r) { r.intermediate = {sample::on_site()}; }) == digest);
}

TEST_CASE("a record without checks after storing is written as before there were any") {
    const std::string text = to_json(sample::record());
    CHECK(text.find("\"stored\"") == std::string::npos);
    CHECK(plumbline::record::from_json(text, "r.json").stored.empty());
}

TEST_CASE("a check made after storing is appended to what stood there") {
    plumbline::record::record r = sample::record();
    const std::string before = to_json(r);
    r.stored = {passed()};
    const std::string after = to_json(r);
    const std::string common = before.substr(0, before.size() - std::string("\n}\n").size());
    CHECK(after.starts_with(common));
    CHECK(plumbline::record::from_json(after, "r.json") == r);
    CHECK(json::parse(after)["stored"][0] == json{{"date", "2025-03-16"},
                                                  {"image_sha256", std::string(64, 'b')},
                                                  {"same", true},
                                                  {"result", "the image of record PS2-0007-2025-03"}});
}

TEST_CASE("a check after storing with a bad figure is named") {
    const auto refusal = [](const plumbline::record::stored_check& c) {
        plumbline::record::record r = sample::record();
        r.stored = {passed(), c};
        try {
            static_cast<void>(to_json(r));
        } catch (const plumbline::bad_input& refused) {
            return std::string(refused.what());
        }
        return std::string();
    };
    CHECK(refusal({"2025-02-30", std::string(64, 'b'), true, "x"}) ==
          "record PS2-0007-2025-03: /stored/1/date: found \"2025-02-30\", expected a day of the calendar as YYYY-MM-DD; correct "
          "the date");
    CHECK(refusal({"2025-03-16", "abc", true, "x"}) ==
          "record PS2-0007-2025-03: /stored/1/image_sha256: found \"abc\", expected 64 hexadecimal digits in lower case; use the "
          "record as it was written");
}

}  // namespace canonical_test
