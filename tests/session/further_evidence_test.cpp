// What a session may have beyond one capture per step, from its file to record and certificate.

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "fixture.hpp"

#include <cmath>
#include <numbers>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace further_evidence_test {

namespace {

using namespace plumbline;
using fixture::on_disk;
using fixture::ordered_json;
using pointer = ordered_json::json_pointer;

ordered_json file(const std::string& name) { return {{"file", "captures/" + name + ".csv"}}; }

ordered_json at(const char* when, const std::string& name) { return {{"at", when}, {"capture", file(name)}}; }

ordered_json& range_of(ordered_json& j) { return j["ranges"][0]; }

/// 4000 samples of a sine by a clock that is faster than its nominal 1 kHz.
std::string sine(double known, double rate, double amplitude = 1000.0) {
    std::string text;
    for (int i = 0; i < 4000; ++i) {
        text += std::to_string(std::lround(2000.0 + amplitude * std::sin(2.0 * std::numbers::pi * known * i / rate))) + "\n";
    }
    return text;
}

/// 400 codes about a centre, with mains of 50 Hz and a drift from the first to the last, in codes.
std::string disturbed(double centre, double amplitude, double drift) {
    std::string text;
    std::uint32_t state = 999;
    for (int i = 0; i < 400; ++i) {
        state = state * 1664525U + 1013904223U;
        const double noise = static_cast<double>(state >> 8U) / (1U << 24U) - 0.5;
        const double moved = amplitude * std::sin(2.0 * std::numbers::pi * i / 20.0) + drift * i / 400.0;
        text += std::to_string(std::lround(centre + moved + 2.0 * noise)) + "\n";
    }
    return text;
}

/// A session on disk with every capture that the ones below ask for.
struct on_bench : on_disk {
    explicit on_bench(const ordered_json& j) : on_disk(j) {
        for (const auto& [name, centre] : std::initializer_list<std::pair<const char*, int>>{{"zero 2", 341},
                                                                                             {"reference 2", 3381},
                                                                                             {"zero 3", 342},
                                                                                             {"reference 3", 3384},
                                                                                             {"2 V", 676},
                                                                                             {"4 V", 1351},
                                                                                             {"6 V", 2027},
                                                                                             {"8 V", 2702},
                                                                                             {"quiet", 338},
                                                                                             {"loud", 340},
                                                                                             {"warm 0", 3390},
                                                                                             {"warm 1", 3383},
                                                                                             {"warm 2", 3379},
                                                                                             {"warm 3", 3378},
                                                                                             {"warm 4", 3378},
                                                                                             {"warm 5", 3378},
                                                                                             {"charged zero", 339},
                                                                                             {"charged reference", 3382}}) {
            folder.add("captures/" + std::string(name) + ".csv", fixture::capture(centre));
        }
        folder.add("captures/sine.csv", sine(100.0, 1002.0));
    }
};

std::string refusal(const on_disk& d) {
    try {
        (void)session::run(session::read_session(d.file.string()));
    } catch (const error& refused) {
        std::string said = refused.what();
        const std::string folder = d.folder.path().string() + "/";
        for (std::size_t i = said.find(folder); i != std::string::npos; i = said.find(folder)) said.erase(i, folder.size());
        return said;
    }
    return "";
}

/// The record of a session, after a trip through its file, which must say the same.
record::record recorded(const on_disk& d) {
    const record::record r = session::run(session::read_session(d.file.string()));
    const record::record read = record::from_json(record::to_json(r), "r.json");
    CHECK(read == r);
    const bool same_text = certificate::text(read) == certificate::text(r);
    CHECK(same_text);
    return read;
}

/// Numbers and places of all findings.
std::string noticed(const record::record& r) {
    std::string all;
    for (const calibration::range_calibration& of : r.ranges) {
        for (const calibration::finding& f : of.findings) all += std::to_string(f.number) + " " + f.where + "\n";
    }
    return all;
}

/// A text without its line breaks and what a page writes otherwise: certificates are wrapped.
std::string flat(std::string text) {
    for (const auto& [written, meant] : {std::pair{"&quot;", "\""}, std::pair{"&apos;", "'"}, std::pair{"&#39;", "'"}}) {
        for (std::size_t i = text.find(written); i != std::string::npos; i = text.find(written)) {
            text.replace(i, std::string_view(written).size(), meant);
        }
    }
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text.compare(i, 2, "\xC2\xA0") == 0) {  // no-break space
            out += ' ';
            ++i;
        } else if (text[i] != '\n' && text[i] != ' ') {
            out += text[i];
        } else if (!out.empty() && out.back() != ' ') {
            out += ' ';
        }
    }
    return out;
}

bool says(const record::record& r, const std::string& sentence) {
    return flat(certificate::text(r)).find(sentence) != std::string::npos &&
           flat(certificate::html(r)).find(sentence) != std::string::npos;
}

const uncertainty::budget_row* row_of(const uncertainty::budget& b, const std::string& id) {
    for (const uncertainty::budget_row& row : b.rows) {
        if (row.in->id == id) return &row;
    }
    return nullptr;
}

uncertainty::budget budget_at(const record::record& r, voltage v) {
    const calibration::range_calibration& of = r.ranges[0];
    return uncertainty::make_convolved_budget(
        calibration::reading(r.inputs, r.references, of, calibration::code_at(of, v), calibration::at_calibration(of)),
        r.coverage_probability, r.correlations);
}

ordered_json with_turns() {
    ordered_json j = fixture::session();
    range_of(j)["turns"] = {{"reference_at", "60 s"},
                            {"captures", {at("120 s", "zero 2"), at("180 s", "reference 2"), at("240 s", "zero 3")}}};
    return j;
}

ordered_json with_points(bool enough) {
    ordered_json j = fixture::session();
    ordered_json& points = range_of(j)["points"] = ordered_json::array();
    for (const int v : {2, 4, 6, 8}) {
        if (!enough && v > 4) break;
        const std::string volts = std::to_string(v) + " V";
        points.push_back({{"name", volts},
                          {"applied", {{"reference", "meter"}, {"value", volts}, {"U", "1 mV"}, {"k", 2}}},
                          {"capture", file(volts)}});
    }
    return j;
}

ordered_json with_surroundings() {
    ordered_json j = fixture::session();
    ordered_json other = range_of(j);
    other["channel"] = "B";
    j["ranges"].push_back(other);
    ordered_json& r = range_of(j);
    r["in_use"] = {{"years", 1},
                   {"temperature_half_width", "5 K"},
                   {"gain_per_year", "0.05 %"},
                   {"offset_per_year", "1 mV"},
                   {"gain_by_supply", "0.1 %"},
                   {"offset_by_supply", "1 mV"}};
    r["crosstalk"] = {{{"channel", "B"},
                       {"range", "12 V"},
                       {"low", {{"voltage", "0 V"}, {"capture", file("quiet")}}},
                       {"high", {{"voltage", "12 V"}, {"capture", file("loud")}}}}};
    r["warm_up"] = {{"curve", ordered_json::array()}, {"slope_limit", "20 mV/h"}, {"window", "1200 s"}, {"used_from", "0 s"}};
    for (int i = 0; i < 6; ++i) {
        r["warm_up"]["curve"].push_back(at((std::to_string(600 * i) + " s").c_str(), "warm " + std::to_string(i)));
    }
    r["supplies"] = {{{"name", "charger attached"}, {"zero", file("charged zero")}, {"reference", file("charged reference")}}};
    return j;
}

/// What with_surroundings shows: 2 codes by the other channel, 1 and 4 by the charger.
constexpr const char* moved_by_surroundings =
    "216 crosstalk from channel B, channel A, range 12 V\n218 supply charger attached, channel A, range 12 V\n";

ordered_json with_clock() {
    ordered_json j = fixture::session();
    j["clock"] = {{"channel", "A"},
                  {"range", "12 V"},
                  {"capture", file("sine")},
                  {"known", {{"value", "100 Hz"}, {"limits", "5 mHz"}}},
                  {"source", "a generator locked to a satellite clock"}};
    return j;
}

}  // namespace

TEST_CASE("repetitions in turn take a drift off the steps, whose scatter is then that of reconnecting") {
    const on_bench d(with_turns());
    d.folder.add("captures/high.csv", fixture::capture(3379));
    const record::record r = recorded(d);
    const calibration::range_calibration& of = r.ranges[0];
    REQUIRE(of.turns.size() == 5);
    CHECK(of.turns[3].evidence.file == "captures/reference 2.csv");
    // by hand: levels at the middle 340 1/3 and 3380, drift 1 code a minute, scatter sqrt(1/3) codes with 2 degrees of freedom
    CHECK((of.reference.seen.mean - of.zero.seen.mean).value() == doctest::Approx(3380.0 - 1021.0 / 3.0).epsilon(1e-12).scale(0));
    const auto& zero = std::get<uncertainty::repeated>(r.inputs.at("A/12 V/zero/mean")->spread);
    CHECK(zero.u == doctest::Approx(1.0 / 3.0).epsilon(1e-9).scale(0));
    CHECK(zero.degrees_of_freedom == 2.0);
    CHECK(of.result.gain.value() == doctest::Approx(9.0 / (3380.0 - 1021.0 / 3.0)).epsilon(1e-12).scale(0));
    CHECK(of.zero.seen.n == 1200);
    CHECK(says(r,
               "Over 240 s the codes drifted by 4 +- 3.3, which is taken off. Connecting anew scatters by 0.58 codes, with 2 "
               "degrees of freedom: few; more turns narrow U."));
    CHECK(says(r, "mean code, zero step, 3 captures in turn (repetitions in turn)"));
    CHECK(r.correlations.empty());  // equal intervals
    CHECK(noticed(r) == "");
}

TEST_CASE("repetitions that end with the reference are correlated, and every figure knows of it" * doctest::skip(slow::build)) {
    ordered_json j = with_turns();
    range_of(j)["turns"]["captures"].push_back(at("300 s", "reference 3"));
    const on_bench d(j);
    d.folder.add("captures/high.csv", fixture::capture(3379));
    const record::record r = recorded(d);
    REQUIRE(r.correlations.size() == 1);
    CHECK(r.correlations[0].coefficient < 0.0);
    const calibration::range_calibration& of = r.ranges[0];
    CHECK(r.correlations == calibration::correlations_of(of));
    // the envelope is that of the U which is stated
    for (const double v : {0.0, 3.0, 12.0}) {
        const double U = budget_at(r, v * volt).U;
        const double away = v - of.compact.centre.value();
        CHECK(of.compact.a + of.compact.c * away * away >= U * U * (1.0 - 1e-12));
    }
    CHECK(says(r, "A/12 V/zero/mean with A/12 V/reference/mean: r = -"));
}

TEST_CASE("further points of a session make one line, and its residuals the non-linearity") {
    const record::record r = recorded(on_bench(with_points(true)));
    const calibration::range_calibration& of = r.ranges[0];
    REQUIRE(of.points.has_value());
    CHECK(of.points->measured);
    CHECK(of.points->degrees_of_freedom == 4.0);
    CHECK(of.points->points.size() == 6);
    CHECK(std::abs(of.points->nonlinearity.value()) < 0.4);  // what rounding to whole codes leaves
    const uncertainty::budget b = budget_at(r, 5.0 * volt);
    CHECK(std::abs(b.value - 5.0) < 1e-12);
    CHECK(row_of(b, "A/12 V/reading/nonlinearity") == nullptr);
    const uncertainty::budget_row* measured = row_of(b, "A/12 V/reading/nonlinearity measured");
    REQUIRE(measured != nullptr);
    CHECK(measured->degrees_of_freedom == 4.0);
    // check points are judged by the same line
    REQUIRE(of.checks.size() == 1);
    CHECK(of.checks[0].indication.value() ==
          doctest::Approx((of.result.offset + of.result.gain * of.checks[0].observed.seen.mean).value()).epsilon(1e-12).scale(0));
    for (const std::string& sentence : calibration::sentences_of_points(of)) CHECK(says(r, sentence));
    CHECK(says(r, "Points of the line"));
    CHECK(noticed(r) == "");
    REQUIRE(of.by_trials.has_value());
    for (const auto& reading : of.by_trials->readings) {  // trials run the same line
        const uncertainty::budget there = budget_at(r, reading.at);
        CHECK(std::abs(reading.interval.high.value() - there.value - there.U) < 0.1 * there.U);
    }
}

TEST_CASE("few points make a line too, with the non-linearity of the data sheet") {
    const record::record r = recorded(on_bench(with_points(false)));
    REQUIRE(r.ranges[0].points.has_value());
    CHECK_FALSE(r.ranges[0].points->measured);
    CHECK(row_of(budget_at(r, 5.0 * volt), "A/12 V/reading/nonlinearity") != nullptr);
    CHECK(row_of(budget_at(r, 5.0 * volt), "A/12 V/step/4 V/mean") != nullptr);
    CHECK(says(r, "4 points are too few to take their residuals for the non-linearity, 6 would do: the data sheet's is used."));
}

TEST_CASE("crosstalk, warming up and supply of a session are rows of its budgets") {
    const record::record r = recorded(on_bench(with_surroundings()));
    const calibration::range_calibration& of = r.ranges[0];
    const double gain = of.result.gain.value();
    REQUIRE(of.crosstalk.size() == 1);
    CHECK(of.crosstalk[0].value.value() == doctest::Approx(2.0 * gain / 12.0).epsilon(1e-9).scale(0));
    const uncertainty::budget b = budget_at(r, 5.0 * volt);
    const uncertainty::budget_row* from_b = row_of(b, "A/12 V/reading/crosstalk from B");
    REQUIRE(from_b != nullptr);
    CHECK(from_b->contribution == doctest::Approx(of.crosstalk[0].most.value() / std::sqrt(3.0)).epsilon(1e-12).scale(0));
    CHECK(of.crosstalk[0].most.value() >= 2.0 * gain);

    REQUIRE(of.warm_up.has_value());
    REQUIRE(of.warm_up->warm_after.has_value());
    CHECK(of.warm_up->warm_after->value() == 1200.0);
    CHECK(of.warm_up->span.value() > 11.75 * gain);
    CHECK(of.warm_up->span.value() < 12.5 * gain);
    const auto in_use = uncertainty::make_convolved_budget(
        calibration::reading_in_use(r.inputs, r.references, of, 2000.0 * code, 1.0, *of.in_use), r.coverage_probability);
    const uncertainty::budget_row* cold = row_of(in_use, "A/12 V/reading/warm-up");
    REQUIRE(cold != nullptr);
    CHECK(cold->contribution == doctest::Approx(of.warm_up->span.value() / std::sqrt(3.0)).epsilon(1e-12).scale(0));
    CHECK(row_of(b, "A/12 V/reading/warm-up") == nullptr);  // the calibration was made warm

    REQUIRE(of.supplies.size() == 1);
    CHECK(of.in_use->gain_by_supply.value() > 3.0 / 3040.0);  // 3043 codes in place of 3040
    CHECK(of.in_use->gain_by_supply.value() < 3.3 / 3040.0);
    CHECK(of.in_use->offset_by_supply.value() > gain);
    CHECK(says(r, "is warm after 20 min: from then on no slope exceeds 20 mV/h."));
    CHECK(says(r, "comes into channel A, range 12 V: it is seen;"));
    CHECK(says(r, "These are the limits of U in use."));
    CHECK(noticed(r) == moved_by_surroundings);
}

TEST_CASE("a capture of a known frequency calibrates the sample rate") {
    const record::record r = recorded(on_bench(with_clock()));
    REQUIRE(r.clock.has_value());
    CHECK(r.clock->nominal == 1000.0 * hertz);
    CHECK(std::abs(r.clock->rate.value() - 1002.0) < r.clock->U.value());
    CHECK(r.clock->u_by_reference.value() == doctest::Approx(1002.0 * 5e-5 / std::sqrt(3.0)).epsilon(1e-4).scale(0));
    CHECK(r.clock->U.value() < 0.08);
    CHECK(noticed(r) == "");
    CHECK(says(r, "a generator locked to a satellite clock"));
    CHECK(says(r, "Sample rate ± U"));
    CHECK(says(r, "(1.002"));
}

TEST_CASE("a clock's data sheet gives the sample rate a U where nothing measured it, and stands beside what did" *
          doctest::skip(slow::build)) {
    ordered_json j = fixture::session();
    j["clock_tolerance"] = "2 %";
    const record::record stated = recorded(on_disk(j));
    REQUIRE(stated.clock_tolerance.has_value());
    CHECK(stated.clock_tolerance->value() == 0.02);
    // a rectangle of 20 Hz: 95.45 % lie within 19.09 Hz, 1.65 of its u
    CHECK(says(stated, "±2 %, taken as rectangular"));
    CHECK(says(stated, "(1.000 ± 0.019) kHz, k = 1.65"));
    CHECK(says(stated, "The clock was not compared with a known frequency."));
    ordered_json both = with_clock();
    both["clock_tolerance"] = "2 %";
    const record::record measured = recorded(on_bench(both));
    CHECK(says(measured, "(1.002"));
    CHECK(says(measured, "(1.000 ± 0.019) kHz, k = 1.65"));
    CHECK(says(measured, "What was measured takes its place."));
    const std::string outside = "farther from its nominal one than the data sheet allows";
    CHECK_FALSE(says(measured, outside));
    both["clock_tolerance"] = "0.1 %";  // it is 0.2 % fast
    CHECK(says(recorded(on_bench(both)), outside));
    CHECK_FALSE(says(recorded(on_disk()), "clock was not compared"));
}

TEST_CASE("further points stand at one moment of a drift that turns show, and U has room for it" * doctest::skip(slow::build)) {
    ordered_json j = with_points(true);
    range_of(j)["turns"] = with_turns()["ranges"][0]["turns"];
    const on_bench drifting(j);
    drifting.folder.add("captures/high.csv", fixture::capture(3379));
    const record::record r = recorded(drifting);
    const calibration::range_calibration& of = r.ranges[0];
    REQUIRE(of.points.has_value());
    REQUIRE(of.points->drift.has_value());
    // 1 code a minute for 4 minutes, by the slope of the two steps (see above)
    const double moved = 4.0 * 9.0 / (3380.0 - 1021.0 / 3.0);
    CHECK(of.points->drift->value() == doctest::Approx(moved).epsilon(1e-9).scale(0));
    const uncertainty::budget b = budget_at(r, 6.0 * volt);
    const uncertainty::budget_row* drift = row_of(b, "A/12 V/drift of the points");
    REQUIRE(drift != nullptr);
    CHECK(drift->u == doctest::Approx(moved / std::sqrt(3.0)).epsilon(1e-9).scale(0));
    // Together the four points weigh this much in a reading; the two steps that are free of drift hold the rest.
    double weight = 0.0;
    const double from_centre = (calibration::code_at(of, 6.0 * volt) - of.points->centre).value();
    for (std::size_t i = 2; i < 6; ++i) weight += of.points->points[i].of_height + of.points->points[i].of_slope * from_centre;
    CHECK(drift->sensitivity == doctest::Approx(weight).epsilon(1e-9).scale(0));
    CHECK(weight > 0.1);
    CHECK(weight < 1.0);
    REQUIRE(of.by_trials.has_value());
    for (const auto& reading : of.by_trials->readings) {  // trials draw it too
        const uncertainty::budget there = budget_at(r, reading.at);
        CHECK(std::abs(reading.interval.high.value() - there.value - there.U) < 0.1 * there.U);
    }
    CHECK(
        says(r,
             "The further steps stand each at one moment of the drift that is taken off the zero and the reference step: it may "
             "have moved them by 12 mV, as much as from the first turn to the last. That is part of U, as limits that hold for "
             "all of them together."));

    // A drift within its own U is none that is seen.
    range_of(j)["turns"]["captures"][1] = at("180 s", "reference 3");
    const record::record scattered = recorded(on_bench(j));
    CHECK_FALSE(scattered.ranges[0].points->drift.has_value());
    CHECK(row_of(budget_at(scattered, 6.0 * volt), "A/12 V/drift of the points") == nullptr);
    CHECK_FALSE(says(scattered, "The further steps stand"));
}

TEST_CASE("an earlier record at another temperature gives the coefficients of readings") {
    ordered_json before = fixture::session();
    before["number"] = "SHED-0";
    const record::record cold = session::run(session::read_session(on_disk(before).file.string()));
    ordered_json j = fixture::session();
    j["ambient"]["temperature"] = "38 degC";
    range_of(j)["earlier"] = "SHED-0.json";
    const on_disk d(j);
    d.folder.add("SHED-0.json", record::to_json(cold));
    d.folder.add("captures/high.csv", fixture::capture(3375));
    const record::record r = recorded(d);
    const calibration::range_calibration& of = r.ranges[0];
    REQUIRE(of.temperatures.has_value());
    CHECK(of.temperatures->record == "SHED-0");
    CHECK(of.temperatures->gain.value() == doctest::Approx((3040.0 / 3037.0 - 1.0) / 20.0).epsilon(1e-9).scale(0));
    const auto warmer = [&](const record::record& by, double half_width) {
        return uncertainty::make_convolved_budget(
            calibration::reading(by.inputs, by.references, by.ranges[0], 3000.0 * code, {1.0, 0.0 * kelvin, half_width * kelvin}),
            by.coverage_probability);
    };
    const uncertainty::budget b = warmer(r, 10.0);
    const uncertainty::budget_row* gain = row_of(b, "A/12 V/reading/gain by temperature");
    REQUIRE(gain != nullptr);
    CHECK(gain->u == doctest::Approx(0.5 * of.temperatures->U_gain.value() * 10.0 / std::sqrt(3.0)).epsilon(1e-9).scale(0));
    const uncertainty::budget_row* difference = row_of(b, "A/12 V/reading/temperature");
    REQUIRE(difference != nullptr);
    CHECK(difference->u == doctest::Approx(10.0 / std::sqrt(3.0)).epsilon(1e-9).scale(0));
    REQUIRE(of.temperatures->middle.has_value());
    const double v = b.value - of.temperatures->middle->centre.value();
    CHECK(of.temperatures->middle->centre > 1.0 * volt);  // between the steps
    CHECK(of.temperatures->middle->centre < 10.0 * volt);
    CHECK(difference->sensitivity ==
          doctest::Approx(of.temperatures->middle->change.value() + of.temperatures->gain.value() * v).epsilon(1e-9).scale(0));
    CHECK(row_of(b, "A/12 V/reading/temperature of A/12 V/top") == nullptr);
    CHECK(row_of(warmer(cold, 10.0), "A/12 V/reading/temperature of A/12 V/top") != nullptr);
    CHECK(says(r, "record SHED-0, 2025-03-14, at 18 °C ±2 K"));
}

TEST_CASE("the shipped logger's record says what its simulation was made of") {
    const record::record r = session::run(session::read_session(PLUMBLINE_SOURCE_DIR "/examples/sessions/shed-logger.json"));
    REQUIRE(r.ranges.size() == 2);
    const calibration::range_calibration& a = r.ranges[0];
    REQUIRE(r.clock.has_value());
    CHECK(std::abs(r.clock->rate.value() - 1013.0) <= r.clock->U.value());  // tests/simulation/shed_logger.cpp
    const calibration::drift_free f = calibration::without_drift(a.turns);
    const double minute = 60.0;
    const double t = uncertainty::coverage_factor(0.95, f.degrees_of_freedom);
    CHECK(std::abs(minute * f.drift.value() - 1.0 / 3.0) <= minute * t * f.u_drift.value());
    CHECK(f.scatter.value() < 0.3);
    REQUIRE(a.points.has_value());
    CHECK(a.points->measured);
    CHECK(a.points->nonlinearity.value() < 1.5);
    REQUIRE(a.crosstalk.size() == 1);
    CHECK(std::abs(a.crosstalk[0].value.value() - 0.9 * a.result.gain.value() / 14.0) <= a.crosstalk[0].U.value());
    REQUIRE(a.warm_up.has_value());
    CHECK(a.warm_up->warm_after.has_value());
    CHECK(a.in_use->offset_by_supply.value() > 0.0);
    CHECK(a.points->drift.has_value());
    REQUIRE(a.checks.size() == 2);
    CHECK(std::abs(a.checks[0].error.value()) <= a.checks[0].U.value());
    // 11 V lies outside its U by 1 %, which one check point in twenty does
    CHECK(std::abs(a.checks[1].error.value()) > a.checks[1].U.value());
    for (const calibration::check_point& c : a.checks) {
        CHECK(c.verdict == conformity::verdict::pass);
        CHECK_FALSE(c.tests_reference);  // its source made the line
    }
}

TEST_CASE("what of all this cannot stand is refused with its place and what to do") {
    struct change {
        ordered_json (*of)();
        const char* at;
        ordered_json value;
        const char* said;
    };
    ordered_json (*points)() = [] { return with_points(true); };
    for (const change& c : std::vector<change>{
             {with_turns, "/ranges/0/turns/captures/1/at", "100 s",
              "s.json: /ranges/0/turns/captures/1/at: found 100 s, expected more than 120 s, when the one before was captured; "
              "put "
              "the captures in their order: zero first, then in turn"},
             {with_turns, "/ranges/0/turns/captures", ordered_json::array({at("120 s", "zero 2")}),
              "s.json: /ranges/0/turns/captures: found 1 captures, expected 3 or more, which make 0-R-0-R-0 with those of the "
              "steps; repeat the zero and the reference step in turn, each connected anew"},
             {with_turns, "/ranges/0/negative", fixture::step("low", "captures/low.csv"),
              "s.json: /ranges/0/turns: found repetitions in turn beside a negative step, expected zero and reference alone; "
              "leave "
              "the negative step out, or the repetitions: it would stand at one moment of a drift"},
             {points, "/ranges/0/points/1/name", "2 V",
              "s.json: /ranges/0/points/1/name: found \"2 V\" a second time, expected a name of its own for each point; rename "
              "one of them"},
             {points, "/ranges/0/points/1/name", "a/b",
              "s.json: /ranges/0/points/1/name: found \"a/b\", expected a name without \"/\"; write another character, or "
              "\"per\""},
             {points, "/ranges/0/points/0/applied/reference", "none",
              "s.json: /ranges/0/points/0/applied/reference: found \"none\", expected the id of one of the references; correct "
              "the "
              "id, or add the reference"},
             {with_surroundings, "/ranges/0/crosstalk/0/channel", "A",
              "s.json: /ranges/0/crosstalk/0/channel: found \"A\", this one, expected another channel; name the channel that the "
              "voltages were applied to"},
             {with_surroundings, "/ranges/0/crosstalk/0/range", "2 V",
              "s.json: /ranges/0/crosstalk/0: found channel \"B\", range \"2 V\", expected a range of this session; correct "
              "channel "
              "or range, or describe that range"},
             {with_surroundings, "/ranges/0/crosstalk/0/high/voltage", "-1 V",
              "s.json: /ranges/0/crosstalk/0/high/voltage: found -1 V, expected more than the low voltage, 0 V; put the two in "
              "their order"},
             {with_surroundings, "/ranges/0/warm_up/slope_limit", "100 mV",
              "s.json: /ranges/0/warm_up/slope_limit: found \"100 mV\", expected a figure above 0 in V/h such as \"1 V/h\"; "
              "write a "
              "number with a decimal point, a space and a unit of that kind"},
             {with_surroundings, "/ranges/0/warm_up/curve/2/at", "600 s",
              "s.json: /ranges/0/warm_up/curve/2/at: found 600 s, expected more than 600 s, when the one before was captured; "
              "put "
              "the captures in their order"},
             {with_surroundings, "/ranges/0/warm_up/window", "900 s",
              "warm-up of channel A, range 12 V: 2 points within 900 s from 0 s on, expected 3 or more; capture more often, or "
              "widen the window"},
             {with_clock, "/clock/range", "1 V",
              "s.json: /clock/range: found channel \"A\", range \"1 V\", expected a range of this session; name the range that "
              "captured the signal"},
             {with_clock, "/clock/known/value", "450 Hz",
              "s.json: clock, capture captures/sine.csv: a signal of 450 +- 0.002886751345948129 Hz sampled at 1000 Hz, expected "
              "a "
              "frequency above 0 and below 0.4 of the sample rate; use a lower frequency"}}) {
        CAPTURE(c.at);
        ordered_json j = c.of();
        j[pointer(c.at)] = c.value;
        const on_bench d(j);
        CHECK(refusal(d) == c.said);
    }
}

TEST_CASE("hum in any capture of a session is told of once, by the name of what it was captured for" *
          doctest::skip(slow::build)) {
    ordered_json carried = fixture::session();
    ordered_json other = range_of(carried);
    other["range"] = "copy";
    other["reference"]["applied"]["transfer"] = {{"channel", "A"}, {"range", "12 V"}, {"capture", file("10 V")}};
    carried["ranges"].push_back(other);
    struct humming_capture {
        const char* name;
        int centre;
        const char* what;
    };
    struct humming_session {
        ordered_json of;
        std::vector<humming_capture> captures;
        const char* besides = "";
    };
    const std::vector<humming_session> each{
        {with_points(true), {{"low", 338, "zero step"}, {"4 V", 1351, "step 4 V"}, {"check", 3040, "check point 9 V"}}},
        {with_turns(),
         {{"high", 3378, "reference step"},
          {"reference 2", 3381, "reference step, capture 4 in turn"},
          {"zero 3", 342, "zero step, capture 5 in turn"}}},
        {with_surroundings(),
         {{"quiet", 338, "crosstalk from channel B, low"},
          {"loud", 340, "crosstalk from channel B, high"},
          {"charged zero", 339, "supply charger attached, zero step"},
          {"charged reference", 3382, "supply charger attached, reference step"},
          {"warm 2", 3379, "warm-up, capture 3"}},
         moved_by_surroundings},
        {carried, {{"10 V", 3378, "transfer A copy reference"}}}};
    for (const humming_session& one : each) {
        const on_bench d(one.of);
        std::string expected = one.besides;
        for (const humming_capture& c : one.captures) {
            d.folder.add("captures/" + std::string(c.name) + ".csv", disturbed(c.centre, 3.0, 0.0));
            for (const char* number : {"202 ", "206 "}) expected += number + std::string(c.what) + ", channel A, range 12 V\n";
        }
        CHECK(noticed(session::run(session::read_session(d.file.string()))) == expected);
    }
}

TEST_CASE("a known frequency is no finding, but samples far out of it are") {
    const on_bench d(with_clock());
    std::string with_glitch = sine(100.0, 1002.0, 300.0);
    with_glitch.replace(0, with_glitch.find('\n'), "4090");
    d.folder.add("captures/sine.csv", with_glitch);
    CHECK(noticed(recorded(d)) == "212 clock, channel A, range 12 V\n");
}

TEST_CASE("an instrument that warms up is no finding in its curve, and is one in any other capture") {
    const on_bench d(with_surroundings());
    const std::string drifting = disturbed(3378.0, 0.0, 10.0);
    d.folder.add("captures/warm 1.csv", drifting);
    d.folder.add("captures/charged reference.csv", drifting);
    const std::string where = " supply charger attached, reference step, channel A, range 12 V\n";
    CHECK(noticed(session::run(session::read_session(d.file.string()))) ==
          moved_by_surroundings + ("202" + where) + "204" + where);
}

TEST_CASE("supplies and cold use without conditions of use, clipped captures and a stranger's record are refused") {
    ordered_json j = with_surroundings();
    range_of(j).erase("in_use");
    CHECK(
        refusal(on_bench(j)) ==
        "s.json: /ranges/0/supplies: found supplies without the conditions of use that they are for, expected \"in_use\" in the "
        "range; state how the range is used after the calibration");
    range_of(j).erase("supplies");
    CHECK(refusal(on_bench(j)) ==
          "s.json: /ranges/0/warm_up/used_from: found a use before it is warm without the conditions of use, expected \"in_use\" "
          "in the range; state how the range is used after the calibration, or leave \"used_from\" out");
    const on_bench clipped(with_surroundings());
    clipped.folder.add("captures/quiet.csv", fixture::capture(0));
    CHECK(refusal(clipped).ends_with("expected at most 1 in 1000 on an end code; hold the input at a voltage inside the range"));
    ordered_json warm = fixture::session();
    range_of(warm)["earlier"] = "SHED-0.json";
    ordered_json other = fixture::session();
    other["device"]["serial"] = "2";
    other["number"] = "SHED-0";
    const on_disk d(warm);
    d.folder.add("SHED-0.json", record::to_json(session::run(session::read_session(on_disk(other).file.string()))));
    CHECK(
        refusal(d) ==
        "s.json: earlier record of channel A, range 12 V: record SHED-0 of BM 2, expected one of BM 1; name an earlier record of "
        "this instrument");
    other["device"]["serial"] = "1";
    d.folder.add("SHED-0.json", record::to_json(session::run(session::read_session(on_disk(other).file.string()))));
    CHECK(refusal(d) ==
          "two temperatures, A/12 V: 18 and 18 degrees Celsius, known within 4 K together, expected temperatures that differ by "
          "more; calibrate once more, warmer or colder");
}

}  // namespace further_evidence_test
