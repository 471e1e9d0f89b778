// Checks on site: E_n against the record, stored beside it, shown on the certificate.

#include <doctest/doctest.h>

#include "../message.hpp"
#include "../slow_build.hpp"
#include "fixture.hpp"

#include <cmath>
#include <limits>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/store.hpp>
#include <plumbline/session/intermediate_check.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <string>

namespace intermediate_check_test {

namespace {

namespace pl = plumbline;
using plumbline::volt;

/// The 12 V battery monitor, which reads no 0 V: it is checked at 1 V and at 5 V, by references that are well known.
struct on_a_farm {
    scratch_folder folder;
    pl::record::record monitor;
    pl::session::on_site check;

    on_a_farm() {
        const fixture::on_disk d;
        monitor = pl::session::run(pl::session::read_session(d.file));
        reset();
    }
    void reset() {
        check = {};
        check.channel = "A";
        check.range = "12 V";
        check.date = "2025-09-14";
        check.occasion = "after a fall";
        check.ambient = {12.0};
        check.folder = folder.path().string();
        check.zero.file = "zero.csv";
        check.reference.file = "five.csv";
        check.value = 5.0 * volt;
        check.limits = 0.5e-3 * volt;
        check.zero_value = 1.0 * volt;
        check.zero_limits = 0.1e-3 * volt;
        capture_at(1.0, 5.0);
    }
    /// Captures whose means are the codes of these voltages, to a code.
    void capture_at(double low, double high) const {
        const auto at = [&](double volts) {
            return fixture::capture(
                static_cast<int>(std::lround(pl::calibration::code_at(monitor.ranges[0], volts * volt).value())));
        };
        folder.add("zero.csv", at(low));
        folder.add("five.csv", at(high));
    }
    [[nodiscard]] std::string refusal() const {
        return refused::message([&] { static_cast<void>(pl::session::checked_on_site(monitor, check)); });
    }
};

}  // namespace

TEST_CASE("a check on site compares readings and their U in use with what was applied") {
    const on_a_farm f;
    const pl::record::record r = pl::session::checked_on_site(f.monitor, f.check);
    REQUIRE(r.intermediate.size() == 1);
    const pl::record::intermediate_check& c = r.intermediate[0];
    CHECK(c.date == "2025-09-14");
    CHECK(c.occasion == "after a fall");
    CHECK(c.reference.evidence.sha256 == pl::capture::sha256_hex(contents_of(f.folder.path() / "five.csv")));
    for (const pl::record::checked_point* p : {&c.zero, &c.reference}) {
        const double half_a_code = 0.5 * f.monitor.ranges[0].result.gain.value();
        CHECK(std::abs((p->reading - p->applied).value()) <= 1.2 * half_a_code);
        const double en = std::abs((p->reading - p->applied).value()) / std::hypot(p->U.value(), p->U_applied.value());
        CHECK(std::abs(p->e_n - en) < 1e-12);
        CHECK(p->e_n <= 1.0);
    }
    CHECK(std::abs(c.reference.U_applied.value() - 2.0 * 0.5e-3 / std::sqrt(3.0)) < 1e-12);
    CHECK(std::abs(c.zero.U_applied.value() - 2.0 * 0.1e-3 / std::sqrt(3.0)) < 1e-12);
    // 6 K from the calibration, each known within 2 K: the reading's U is that of a mean in use
    pl::calibration::use_conditions use;
    use.temperature_half_width = 4.0 * pl::kelvin;
    const auto in_use = [&](double kelvins) {
        return pl::uncertainty::make_convolved_budget(
                   pl::calibration::reading_in_use(r.inputs, r.references, r.ranges[0],
                                                   pl::calibration::code_at(r.ranges[0], c.reference.reading), 400.0, use,
                                                   kelvins * pl::kelvin),
                   r.coverage_probability, r.correlations)
            .U;
    };
    CHECK(std::abs(c.reference.U.value() / in_use(-6.0) - 1.0) < 0.02);
    CHECK(c.reference.U.value() > 1.05 * in_use(0.0));
    CHECK(pl::session::agrees(c));
    CHECK(c.result.starts_with("Reads as record SHED-1 says: E_n is 0."));
    CHECK(c.result.ends_with(
        " on the pocket reference, and up to 1 is agreement. The record states no drift: none was allowed for."));
}

TEST_CASE("drift that the record states is allowed for, by the years that passed") {
    on_a_farm f;
    f.monitor.ranges[0].in_use = pl::calibration::use_conditions{};
    f.monitor.ranges[0].in_use->gain_per_year = 0.02 * pl::one;
    const auto U = [&] { return pl::session::checked_on_site(f.monitor, f.check).intermediate[0].reference.U.value(); };
    const double half_a_year = U();
    f.check.date = "2026-09-14";
    CHECK(U() > 2.0 * half_a_year);  // 2 % a year of 5 V rules
    CHECK(pl::session::checked_on_site(f.monitor, f.check).intermediate[0].result.find("no drift") == std::string::npos);
}

TEST_CASE("an instrument that fell and reads otherwise does not agree, at either end") {
    on_a_farm f;
    for (const std::pair<double, double>& at : {std::pair{1.0, 5.2}, std::pair{1.2, 5.0}}) {
        const double low = at.first;
        CAPTURE(low);
        f.capture_at(low, at.second);
        const pl::record::record r = pl::session::checked_on_site(f.monitor, f.check);
        const pl::record::intermediate_check& c = r.intermediate[0];
        CHECK_FALSE(pl::session::agrees(c));
        CHECK((low > 1.1 ? c.zero.e_n : c.reference.e_n) > 1.0);
        CHECK((low > 1.1 ? c.reference.e_n : c.zero.e_n) <= 1.0);
        CHECK(c.result.starts_with("Does not read as record SHED-1 says: E_n is "));
        CHECK(c.result.find("Do not rely on its readings; find out why, and calibrate again.") != std::string::npos);
    }
}

TEST_CASE("captures that are each other's are told as swapped, and nothing else is" * doctest::skip(slow::build)) {
    const auto result_at = [](double low, double high) {
        const on_a_farm f;
        f.capture_at(low, high);
        return pl::session::checked_on_site(f.monitor, f.check).intermediate[0].result;
    };
    const std::string swapped = result_at(5.0, 1.0);
    CHECK(swapped.starts_with("Does not read as record SHED-1 says: E_n is "));
    CHECK(swapped.ends_with(
        "above 1 is none. Each capture reads what was applied in the other: they are swapped. Check again with each "
        "in its place. The record states no drift: none was allowed for."));
    for (const auto& at : {std::pair{5.0, 5.0}, std::pair{1.0, 1.0}, std::pair{5.2, 1.0}, std::pair{1.0, 5.0}}) {
        const std::string result = result_at(at.first, at.second);
        CAPTURE(result);
        CHECK(result.find("swapped") == std::string::npos);
    }
}

TEST_CASE("a check on site goes into the record's file and onto its certificate, and the digest stays") {
    const on_a_farm f;
    const auto file = f.folder.add("SHED-1.json", pl::record::to_json(f.monitor));
    const pl::record::record once = pl::session::checked_on_site(f.monitor, f.check);
    CHECK(pl::record::append_checks(file, once) == pl::record::stored::written);
    const pl::record::record kept = pl::record::read_record(file);
    CHECK(kept == once);
    CHECK(pl::record::sections_digest(kept) == pl::record::sections_digest(f.monitor));
    const std::string text = pl::certificate::text(kept);
    CHECK(pl::certificate::text(f.monitor).find("Checks after the calibration") == std::string::npos);
    for (const char* said : {". Checks after the calibration", "2025-09-14, after a fall: channel A, range 12",
                             "Pocket reference: (", "Verdict: Reads as record SHED-1 says"}) {
        CAPTURE(said);
        CHECK(text.find(said) != std::string::npos);
    }
    CHECK(pl::certificate::html(kept).find("after a fall") != std::string::npos);
}

TEST_CASE("a check on site that cannot be is refused, and says what it needs") {
    on_a_farm f;
    f.check.range = "10 V";
    CHECK(
        f.refusal() ==
        "check on site: range: found channel \"A\", range \"10 V\", expected a range of record SHED-1; correct channel or range, "
        "or take another record");
    f.reset();
    f.check.date = "2025-03-13";
    CHECK(f.refusal() ==
          "check on site: date: found \"2025-03-13\", expected a day not before 2025-03-14; correct the date, or take an earlier "
          "record");
    f.check.date = "yesterday";
    CHECK(f.refusal() ==
          "check on site: date: found \"yesterday\", expected a day of the calendar as YYYY-MM-DD; correct the date");
    f.reset();
    f.check.occasion = " ";
    CHECK(f.refusal() == "check on site: occasion: found none, expected why it was checked; say for instance \"after a fall\"");
    f.reset();
    for (const double limits : {0.0, -1e-3, std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()}) {
        CAPTURE(limits);
        f.check.limits = limits * volt;
        CHECK(f.refusal().ends_with("expected a voltage and limits above 0; state what was applied, and how well that is known"));
    }
    f.reset();
    f.folder.add("zero.csv", fixture::capture(1));
    CHECK(
        f.refusal() ==
        "check on site: zero.csv: found samples on an end of the converter, expected a capture inside the range; apply a voltage "
        "that the range can read, two above 0 V on a single supply");
    f.reset();
    f.folder.add("zero.csv", fixture::capture(338, "# sample rate: 2 kHz\n"));
    CHECK(
        f.refusal().ends_with("a correction belongs to one mode: correct the rate that is wrong, or capture again in this mode"));
}

}  // namespace intermediate_check_test
