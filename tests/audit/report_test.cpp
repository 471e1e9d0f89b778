#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <plumbline/audit/report.hpp>
#include <string>

namespace report_test {

namespace {

namespace audit = plumbline::audit;
using audit::line_is;
using plumbline::volt;

audit::report example() {
    audit::report r;
    r.job = "Rail\nof the shed";
    r.record = "PS2-1";
    r.channel = "A";
    r.range = "10 V";
    r.years = 0.26;
    r.verdict = audit::suitability::not_suitable;
    r.accuracy = {4.0 * volt, 0.02 * volt, 1.96, 0.001 * volt, 0.01 * volt, 0.7};
    r.decision = audit::decision{{1.0 * volt, plumbline::conformity::no_limit * volt}, 0.01 * volt, {0.025, 0.975}, std::nullopt};
    r.lines = {{"plus or minus", line_is::bad, 0.021, 0.01, false, "V", "a level of 4 V is known to ± 20 mV"},
               {"samples", line_is::bad, 2.0, 2.5, true, "1", "2 samples a period"},
               {"extrapolation", line_is::condition, {}, {}, false, "V", "check a point first"},
               {"bandwidth", line_is::unknown, {}, {}, false, "Hz", "not known: enter it"},
               {"range", line_is::good, 4.0, 10.0, false, "V", "0 V to 4 V at the connector"}};
    r.changes = {
        {"recalibrate", {"plus or minus", line_is::good, 0.009, 0.01, false, "V", ""}, audit::suitability::with_conditions},
        {"sample faster", {"plus or minus", line_is::bad, 0.021, 0.01, false, "V", ""}, audit::suitability::not_suitable}};
    return r;
}

double margin(double figure, double limit, bool at_least) {
    return *audit::line{"", line_is::good, figure, limit, at_least, "V", ""}.margin();
}

}  // namespace

TEST_CASE("a margin is the part of what is allowed that is left, below 0 where it is exceeded") {
    CHECK(margin(1.0, 4.0, false) == 0.75);
    CHECK(margin(5.0, 4.0, false) == -0.25);
    CHECK(margin(4.0, 1.0, true) == 0.75);
    CHECK(margin(2.0, 2.5, true) == -0.25);
    CHECK(margin(0.0, 0.0, false) == 0.0);
    CHECK(margin(1.0, 0.0, false) == -plumbline::conformity::no_limit);
    CHECK(margin(0.0, 1.0, true) == -plumbline::conformity::no_limit);
    CHECK_FALSE(audit::line{"", line_is::good, 1.0, std::nullopt, false, "V", ""}.margin().has_value());
}

TEST_CASE("the text says the verdict first, then why, what is missing, what would help, and what is good") {
    CHECK(audit::text(example()) ==
          "NOT SUITABLE: Rail\\u000aof the shed\n"
          "Instrument: record PS2-1, channel A, range 10 V, 0.3 years after its calibration.\n"
          "\n"
          "Not good enough\n"
          "  - Plus or minus: a level of 4 V is known to ± 20 mV [2.1 times too much]\n"
          "  - Samples: 2 samples a period [20 % short]\n"
          "\n"
          "Only if\n"
          "  - Extrapolation: check a point first\n"
          "\n"
          "Not known\n"
          "  - Bandwidth: not known: enter it\n"
          "\n"
          "What would change it, most effective first\n"
          "  - Recalibrate: suitable with conditions; plus or minus then 9 mV [10 % to spare]\n"
          "  - Sample faster: not suitable; plus or minus then 21 mV [2.1 times too much]\n"
          "\n"
          "Good\n"
          "  - Range: 0 V to 4 V at the connector [60 % to spare]\n"
          "\n"
          "Before you connect: a verdict on accuracy does not make an instrument safe. Never connect a pocket\n"
          "instrument to mains or to what is fed straight from them, an inverter's output included; fuse\n"
          "battery leads, take off rings, connect ground first. Local codes and licensed practice come first.\n");
}

TEST_CASE("what is dangerous comes before everything else") {
    audit::report r = example();
    r.lines.insert(r.lines.begin(), {"input limit", line_is::dangerous, 80.0, 30.0, false, "V", "80 V at the connector"});
    r.verdict = audit::suitability::do_not_connect;
    r.changes.clear();
    CHECK(
        audit::text(r).starts_with("DO NOT CONNECT: Rail\\u000aof the shed\n"
                                   "Instrument: record PS2-1, channel A, range 10 V, 0.3 years after its calibration.\n"
                                   "\n"
                                   "Do not connect, because\n"
                                   "  - Input limit: 80 V at the connector [2.7 times too much]\n"
                                   "\n"
                                   "Not good enough\n"));
    CHECK(audit::text(r).find("What would change it") == std::string::npos);
}

TEST_CASE("the report as JSON has the same figures, in coherent units, and leaves out what is not there") {
    const auto j = nlohmann::json::parse(audit::to_json(example()));
    CHECK(j.at("plumbline") == "audit");
    CHECK(j.at("verdict") == "not suitable");
    CHECK(j.at("job") == "Rail\nof the shed");
    CHECK(j.at("accuracy").at("U") == "0.02 V");
    CHECK(j.at("accuracy").at("conformity") == 0.7);
    CHECK(j.at("decision").at("accept_from") == "1 V");
    CHECK_FALSE(j.at("decision").contains("accept_to"));
    CHECK_FALSE(j.at("decision").contains("consumers_risk"));
    CHECK(j.at("lines").size() == 5);
    CHECK(j.at("lines").at(1).at("margin") == -0.25);
    CHECK(j.at("lines").at(1).at("verdict") == "bad");
    CHECK_FALSE(j.at("lines").at(2).contains("figure"));
    CHECK(j.at("changes").at(0).at("deciding").at("figure") == 0.009);
}

}  // namespace report_test
