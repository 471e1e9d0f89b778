// An amplifier and a reference from a supply, from the session's file to record, certificate, image and audit.

#include <doctest/doctest.h>

#include "../../src/audit/on_the_job.hpp"
#include "fixture.hpp"
#include "front_end/amplified_bench.hpp"

#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/error.hpp>
#include <plumbline/image/image.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <string>

namespace amplifier_session_test {

using namespace plumbline;
using fixture::ordered_json;

namespace {

/// The fixture's battery monitor with a follower, whose reference is its supply.
ordered_json followed() {
    ordered_json j = fixture::session();
    ordered_json& range = j["ranges"][0];
    range["chain"]["adc"]["reference_by_supply"] = "0.3 %";
    range["chain"]["amplifier"] = {{"offset_limit", "2 mV"},         {"offset_drift", "10 uV/K"}, {"bias_current", "50 nA"},
                                   {"bias_current_drift", "1 nA/K"}, {"open_loop_gain", 100000},  {"gain_bandwidth", "1 MHz"}};
    range["in_use"] = {{"years", 1},
                       {"temperature_half_width", "10 K"},
                       {"gain_per_year", "0.01 %"},
                       {"offset_per_year", "0.1 mV"},
                       {"gain_by_supply", "0 %"},
                       {"offset_by_supply", "0 V"}};
    return j;
}

record::record recorded(const ordered_json& j) {
    const fixture::on_disk here(j);
    return session::run(session::read_session(here.file.string()));
}

std::string refusal(const ordered_json& j) {
    const fixture::on_disk here(j);
    try {
        static_cast<void>(session::run(session::read_session(here.file.string())));
    } catch (const bad_input& e) {
        const std::string said = e.what();
        return said.substr(said.find("s.json") == std::string::npos ? 0 : said.find("s.json"));
    }
    return "no exception";
}

const uncertainty::budget_row* row_of(const uncertainty::budget& b, const std::string& id) {
    for (const uncertainty::budget_row& row : b.rows) {
        if (row.in->id == id) return &row;
    }
    return nullptr;
}

}  // namespace

TEST_CASE("an amplifier and a reference from a supply go from the session to the record, and back from its file") {
    const record::record r = recorded(followed());
    const front_end::chain& chain = r.ranges[0].chain;
    REQUIRE(chain.amplifier.has_value());
    CHECK_FALSE(chain.amplifier->gain.has_value());
    CHECK(chain.amplifier->offset_drift.value() == 10e-6);
    CHECK(chain.amplifier->bias_current_drift.value() == 1e-9);
    CHECK(chain.amplifier->gain_bandwidth->value() == 1e6);
    CHECK(chain.adc.reference_by_supply->value() == 0.003);
    const std::string text = record::to_json(r);
    CHECK(record::from_json(text, "record") == r);
    CHECK(text.find("\"V/K\"") != std::string::npos);

    const std::string sheet = certificate::text(r);
    CHECK(sheet.find("follower") != std::string::npos);
    for (const char* said : {"offset ±2 mV", "±10 µV/K", "±50 nA", "±1 nA/K", "a supply, which may move it by ±0.3 %",
                             "±0.3 %, of the converter's reference"}) {
        CAPTURE(said);
        CHECK(sheet.find(said) != std::string::npos);
    }
}

TEST_CASE("rows of an amplifier count in use, and those of the record without it are the same as ever") {
    const record::record r = recorded(followed());
    const calibration::range_calibration& of = r.ranges[0];
    const auto in_use = [&](double v) {
        return uncertainty::make_convolved_budget(
            calibration::reading_in_use(r.inputs, r.references, of, calibration::code_at(of, v * volt), 1.0, *of.in_use),
            r.coverage_probability);
    };
    const uncertainty::budget b = in_use(8.0);
    // volts at the connector for one at the node: 1 + 100 / 37.4
    const double divided = 1.0 + 100.0 / 37.4;
    const uncertainty::budget_row* offset = row_of(b, "A/12 V/reading/temperature of A/12 V/amplifier offset");
    REQUIRE(offset != nullptr);
    CHECK(offset->contribution ==
          doctest::Approx(divided * 10e-6 / std::sqrt(3.0) * 10.0 / std::sqrt(3.0)).epsilon(1e-9).scale(0));
    const uncertainty::budget_row* current = row_of(b, "A/12 V/reading/temperature of A/12 V/amplifier current into plus");
    REQUIRE(current != nullptr);
    CHECK(current->contribution == doctest::Approx(100e3 * 1e-9 / std::sqrt(3.0) * 10.0 / std::sqrt(3.0)).epsilon(1e-9).scale(0));
    CHECK(row_of(b, "A/12 V/reading/temperature of A/12 V/amplifier current into minus") == nullptr);  // of a follower
    const uncertainty::budget_row* reference = row_of(b, "A/12 V/reading/reference by supply");
    REQUIRE(reference != nullptr);
    CHECK(reference->contribution == doctest::Approx(b.value * 0.003 / std::sqrt(3.0)).epsilon(1e-9).scale(0));

    ordered_json bare = followed();
    bare["ranges"][0]["chain"].erase("amplifier");
    bare["ranges"][0]["chain"]["adc"].erase("reference_by_supply");
    const record::record without = recorded(bare);
    for (const auto& in : without.inputs.all()) {
        CAPTURE(in->id);
        CHECK(*r.inputs.at(in->id) == *in);
    }
    CHECK(without.ranges[0].result.u_gain < of.result.u_gain);
}

TEST_CASE("an image grows by the kelvin with what an amplifier's warmth does") {
    const auto per_kelvin = [](const ordered_json& j) {
        const record::record r = recorded(j);
        return image::make_image(r, {}).what.ranges[0].uncertainty.per_kelvin.floor / 16.0;  // microvolts
    };
    ordered_json still = followed();
    still["ranges"][0]["chain"]["amplifier"]["offset_drift"] = "0 V/K";
    still["ranges"][0]["chain"]["amplifier"]["bias_current_drift"] = "0 A/K";
    const double warm = per_kelvin(followed());
    const double cold = per_kelvin(still);
    // Offset and current by hand, at the connector in microvolts per kelvin, the same at any voltage: they add to the squares of the floor, k^2
    // times, k being that of a rectangle to that of a normal sum.
    const double u = std::hypot((1.0 + 100.0 / 37.4) * 10.0, 100.0) / std::sqrt(3.0);
    const double more = std::sqrt(warm * warm - cold * cold);
    CHECK(more >= 1.65 * u);
    CHECK(more <= 2.1 * u);
}

TEST_CASE("on a job the current into an amplifier loads the source, and its bandwidth is a pole where none is stated") {
    const record::record r = recorded(followed());
    audit::job j;
    j.file = "job.json";
    j.channel = "A";
    j.range = "12 V";
    j.date = "2025-03-15";
    j.ambient = {38.0};
    j.low = j.high = 8.0 * volt;
    j.source.resistance = 22e3 * ohm;
    j.need.absolute = 1.0 * volt;
    for (const bool corrected : {false, true}) {
        j.source.corrected = corrected;
        const audit::on_the_job on(r, j);
        const uncertainty::budget b = on.read(8.0 * volt).known;
        // by the circuit: what the connector moves by with the current
        amplified_bench::parts p = amplified_bench::nominal(r.ranges[0].chain);
        p.source = 8.0;
        p.rs = 22e3;
        const double still = amplified_bench::built(p).connector;
        p.into_plus = 1e-8;
        const double by_current = (amplified_bench::built(p).connector - still) / 1e-8;
        const double input = 137.4e3;
        const uncertainty::budget_row* row = row_of(b, "A/12 V/amplifier current into plus/deviation");
        REQUIRE(row != nullptr);
        // corrected, the connector is taken back to the source: (R_source + R_in) / R_in as much, with the other sign
        const double expected = corrected ? -by_current * (22e3 + input) / input : by_current;
        CHECK(row->sensitivity == doctest::Approx(expected).epsilon(1e-6).scale(0));
        CHECK(row->contribution == doctest::Approx(std::abs(expected) * 50e-9 / std::sqrt(3.0)).epsilon(1e-6).scale(0));
        REQUIRE(on.poles().size() == 1);
        CHECK(on.poles()[0].value() == 1e6);
    }
    j.instrument.bandwidth = 5e3 * hertz;
    REQUIRE(audit::on_the_job(r, j).poles().size() == 1);
    CHECK(audit::on_the_job(r, j).poles()[0].value() == 5e3);
}

TEST_CASE("an amplifier that the range cannot have is refused with its place or its part") {
    ordered_json j = followed();
    j["ranges"][0]["chain"]["amplifier"]["bias_current"] = "-1 nA";
    CHECK(refusal(j) ==
          "s.json: /ranges/0/chain/amplifier/bias_current: found \"-1 nA\", expected a current of 0 or more such as \"2 mA\"; "
          "write a number with a decimal point, a space and a unit of that kind");
    j = followed();
    j["ranges"][0]["chain"]["amplifier"]["offset_drift"] = "5 uV";
    CHECK(
        refusal(j) ==
        "s.json: /ranges/0/chain/amplifier/offset_drift: found \"5 uV\", expected a drift of a voltage of 0 or more such as \"5 "
        "uV/K\"; write a number with a decimal point, a space and a unit of that kind");
    j = followed();
    j["ranges"][0]["chain"]["amplifier"]["lowest_output"] = "20 mV";
    CHECK(refusal(j) ==
          "front end, channel A, range 12 V, amplifier: an output of 0 V at 0 V, expected 0.02 V to 3.3 V, which amplifier and "
          "converter reach; correct the front end");
}

}  // namespace amplifier_session_test
