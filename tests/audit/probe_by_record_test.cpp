// Jobs that name a probe's record: its figures hold on the input that it was calibrated on, in the mode of the job.

#include <doctest/doctest.h>

#include "../../src/audit/lines.hpp"
#include "../message.hpp"
#include "jobs.hpp"

#include <algorithm>
#include <cmath>
#include <plumbline/audit/job_file.hpp>
#include <plumbline/uncertainty/distribution.hpp>
#include <string>

namespace probe_by_record_test {

namespace {

using namespace jobs;
using refused::message;

const std::string folder = std::string(PLUMBLINE_SOURCE_DIR) + "/examples/jobs/";

std::string job_text(const std::string& probe, const std::string& date = "2025-06-01") {
    return R"({"plumbline": "job", "schema": 1, "name": "panel", "channel": "A", "range": "10 V", "date": ")" + date +
           R"(", "ambient": {"temperature": "31.5 degC", "half_width": "2 K"},
            "signal": {"low": "20 V", "high": "20 V", "highest": "40 V", "event": {"what": "dc"}}, "read": "level",
            "need": {"absolute": "1 V"}, "probe": )" +
           probe + "}";
}

constexpr const char* by_record = R"({"record": "../../cal_records/PP1-0021-2025-03.json"})";

audit::job read(const std::string& text) { return audit::job_from_json(text, folder + "j.json"); }

std::string refusal(const std::string& text) {
    std::string said = message([&] { static_cast<void>(read(text)); });
    for (std::size_t at = said.find(folder); at != std::string::npos; at = said.find(folder)) said.erase(at, folder.size());
    return said;
}

/// Contribution of an input to the uncertainty of a reading, in volts; 0 where it has none.
double contribution(const audit::job& j, const std::string& label) {
    const audit::job known = audit::with_probe_of_record(scope(), j);
    const auto budget = audit::on_the_job(scope(), known).read(known.high).known;
    for (const auto& row : budget.rows) {
        if (row.in->label == label) return std::abs(row.sensitivity) * pl::uncertainty::standard_uncertainty(row.in->spread);
    }
    return 0.0;
}

}  // namespace

TEST_CASE("a job takes its probe from a record that it names from its own folder") {
    const audit::job j = read(job_text(by_record));
    REQUIRE(j.probe_record.has_value());
    CHECK(j.probe_record->number == "PP1-0021-2025-03");
    CHECK(j.probe_record->name == "PP-1 0021");
    CHECK(j.probe_record->found ==
          *pl::record::read_record(std::string(PLUMBLINE_SOURCE_DIR) + "/cal_records/PP1-0021-2025-03.json").probe);
    CHECK(read(job_text(R"({"record": "../../cal_records/PP1-0021-2025-03.json", "calibrated_together": true})"))
              .probe->calibrated_together);
}

TEST_CASE("a probe's record that cannot be used is refused by its place in the job") {
    const std::string absent = refusal(job_text(R"({"record": "none.json"})"));
    CHECK(absent.starts_with("j.json: /probe/record: found \"none.json\", which cannot be used (none.json: found "));
    CHECK(absent.ends_with("), expected the record of a probe; correct its path, from the folder of the job file"));
    CHECK(refusal(job_text(R"({"record": "../../cal_records/PS2-0007-2025-03.json"})")) ==
          "j.json: /probe/record: found \"../../cal_records/PS2-0007-2025-03.json\", the record of an instrument, expected the "
          "record of a probe; calibrate the probe, or describe it here");
    CHECK(refusal(job_text(by_record, "2025-03-20")) ==
          "j.json: /probe/record: found \"../../cal_records/PP1-0021-2025-03.json\", made on 2025-03-22, expected a record not "
          "after the job, 2025-03-20; correct the date, or take an earlier record");
    CHECK(refusal(job_text(R"({"record": "x.json", "series": "9 Mohm"})"))
              .starts_with("j.json: /probe/series: found an unknown field, expected none besides "));
}

TEST_CASE("on its own input the measured factor stands in place of series resistance and input resistance") {
    const audit::job j = read(job_text(by_record));
    const auto& found = j.probe_record->found;
    const audit::job known = audit::with_probe_of_record(scope(), j);
    REQUIRE(known.probe->factor.has_value());
    const double k = found.division->factor.value();
    CHECK(std::abs(known.probe->series.value() / r_in() - (k - 1.0)) < 1e-9);
    // 10 K from the probe's calibration, give or take 2 K, 100 ppm/K: rectangular
    const double u = std::hypot(0.5 * found.division->U.value(), k * 1e-4 * 12.0 / std::sqrt(3.0));
    CHECK(std::abs(known.probe->factor->u.value() - u) < 1e-12);
    // V = V_c + (V_c - V_open) (k - 1): dV/dk = V_c - V_open = (V - V_open) / k
    CHECK(std::abs(contribution(j, "probe, measured factor") - (20.0 - v_open()) / k * u) < 1e-9);
    CHECK(contribution(j, "probe, series resistance") == 0.0);
    const audit::report r = audit::audit(scope(), j);
    CHECK(line_of(r, "probe").text == "PP-1 0021, record PP1-0021-2025-03: factor 8.699 ± 0.044, measured on this input");
    // By the data sheet, 1 % of series and of input resistance, U is several times as large.
    audit::job described = known;
    described.probe_record.reset();
    described.probe->factor.reset();
    CHECK(audit::audit(scope(), described).accuracy.U > 1.4 * r.accuracy.U);
}

TEST_CASE("on another input, or at another sample rate, the factor is that of the data sheet") {
    audit::job other = read(job_text(by_record));
    other.channel = "B";
    audit::job faster = read(job_text(by_record));
    faster.sample_rate = 1e6 * hertz;
    audit::job unmeasured = read(job_text(by_record));
    unmeasured.probe_record->found.division.reset();
    for (const audit::job& j : {other, faster, unmeasured}) {
        CHECK(contribution(j, "probe, measured factor") == 0.0);
        CHECK(contribution(j, "probe, series resistance") > 0.0);
        CHECK(audit::with_probe_of_record(scope(), j).probe->series == 9e6 * ohm);
        CHECK(
            line_of(audit::audit(scope(), j), "probe").text ==
            "PP-1 0021, record PP1-0021-2025-03: factor by its data sheet, since none was measured on this input at this sample "
            "rate");
    }
}

TEST_CASE("compensation holds on its own input with its mismatch and U, and is not known on another") {
    audit::job j = read(job_text(by_record));
    j.fastest.what = audit::event_kind::sine;
    j.fastest.at = 100.0 * hertz;
    const auto& c = j.probe_record->found.compensation;
    CHECK(std::abs(audit::with_probe_of_record(scope(), j).probe->mismatch->value() -
                   (c.mismatch.value() + c.U_mismatch.value())) < 1e-12);
    CHECK(line_of(audit::audit(scope(), j), "compensation").text == "of the probe within 7 %; counted as uncorrected");
    // 0.35 over the rise time and its U
    CHECK(std::abs(audit::with_probe_of_record(scope(), j).probe->bandwidth->value() *
                       (c.rise_time.value() + c.U_rise_time.value()) -
                   0.35) < 1e-3);
    for (auto change : {+[](audit::job& one) { one.channel = "B"; }, +[](audit::job& one) { one.range = "1 V"; },
                        +[](audit::job& one) { one.probe_record->found.on.serial = "0008"; }}) {
        audit::job elsewhere = j;
        change(elsewhere);
        CHECK_FALSE(audit::with_probe_of_record(scope(), elsewhere).probe->mismatch.has_value());
        const audit::line l = line_of(audit::audit(scope(), elsewhere), "compensation");
        CHECK(l.verdict == audit::line_is::unknown);
        CHECK(l.text.starts_with("of the probe was adjusted on PS-2 000"));
        CHECK(l.text.ends_with(", channel A, range 10 V: adjust it here on a square wave, and calibrate it on this input"));
    }
}

TEST_CASE("no change tried for a job undoes what the probe's record says") {
    audit::job j = read(job_text(by_record));
    j.need.absolute = 1e-3 * volt;
    const audit::report r = audit::audit(scope(), j);
    CHECK(r.verdict == audit::suitability::not_suitable);
    for (const audit::change& c : r.changes) CHECK(c.what.find("series resistance") == std::string::npos);
}

}  // namespace probe_by_record_test
