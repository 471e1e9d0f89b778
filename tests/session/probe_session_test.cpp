// From a probe's session and captures to its record and certificate.

#include <doctest/doctest.h>

#include "../message.hpp"
#include "fixture.hpp"

#include <plumbline/capture/digest.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <string>

namespace probe_session_test {

namespace {

using nlohmann::ordered_json;
using pointer = ordered_json::json_pointer;
namespace pl = plumbline;

/// The instrument's record, made once.
const pl::record::record& instrument() {
    static const pl::record::record made = [] {
        const fixture::on_disk d;
        return pl::session::run(pl::session::read_session(d.file));
    }();
    return made;
}

/// A probe's session with all that it names.
struct bench {
    scratch_folder folder;
    bench() {
        folder.add("SHED-1.json", pl::record::to_json(instrument()));
        fixture::add_probe_captures(folder);
    }
    [[nodiscard]] pl::record::record run(const ordered_json& j = fixture::probe_session()) const {
        return pl::session::run(pl::session::read_session(folder.add("p.json", j.dump(1))));
    }
    [[nodiscard]] std::string refusal(const char* at, const ordered_json& value) const {
        ordered_json j = fixture::probe_session();
        j[pointer(at)] = value;
        std::string said = refused::message([&] { static_cast<void>(run(j)); });
        const std::string own = folder.path().string() + "/";
        for (std::size_t i = said.find(own); i != std::string::npos; i = said.find(own)) said.erase(i, own.size());
        return said;
    }
};

void says(const std::string& text, const std::string& what) {
    CAPTURE(what);
    CHECK(text.find(what) != std::string::npos);
}

}  // namespace

TEST_CASE("a probe's session gives a record with mismatch, factor, the input they hold for, and the digest of each capture") {
    const bench b;
    const pl::record::record r = b.run();
    CHECK(r.what == pl::record::kind::probe);
    REQUIRE(r.probe.has_value());
    const pl::calibration::probe_calibration& p = *r.probe;
    CHECK(p.on.record == "SHED-1");
    CHECK(p.on.sha256 == pl::record::sections_digest(instrument()));
    CHECK(p.on.serial == "1");
    CHECK(std::abs(p.on.resistance.value() - 137.4e3) < 1e-6);
    // The captures step by 400 codes with 0.05 of it beyond on each side, D = 0.1 of half a step; T / tau = 10, so
    // d = 0.05 (1 + exp(-5)); m = (1 + d) R / (R - R_in d) - 1.
    const double d = 0.05 * (1.0 + std::exp(-5.0));
    const double m = (1.0 + d) * 1.2e6 / (1.2e6 - 137.4e3 * d) - 1.0;
    CHECK(std::abs(p.compensation.mismatch.value() - m) <= p.compensation.U_mismatch.value());
    CHECK(p.compensation.U_mismatch.value() < 0.02);
    CHECK(std::abs(p.compensation.time_constant.value() - 20e-5) < 2e-5);
    CHECK(p.compensation.evidence.sha256 == pl::capture::sha256_hex(contents_of(b.folder.path() / "captures/step.csv")));
    REQUIRE(p.division.has_value());
    CHECK(std::abs(p.division->factor.value() - 3100.0 / 320.0) <= p.division->U.value());
    // INL of 1 code at each level: 2 sqrt(2 / 3) codes of 320, noise beside it
    CHECK(p.division->U.value() >= 3100.0 / 320.0 * 2.0 * std::sqrt(2.0 / 3.0) / 320.0);
    CHECK(p.division->U.value() < 1.5 * 3100.0 / 320.0 * 2.0 * std::sqrt(2.0 / 3.0) / 320.0);
    CHECK(p.division->divided.file == "captures/divided.csv");
    CHECK(pl::record::from_json(pl::record::to_json(r), "r.json") == r);
}

TEST_CASE("a probe's certificate states what was found, on what input, with U, and what it does not hold for") {
    const bench b;
    const pl::record::record r = b.run();
    std::string text = pl::certificate::text(r);
    for (char& c : text) c = c == '\n' ? ' ' : c;
    for (std::size_t at = text.find("  "); at != std::string::npos; at = text.find("  ")) text.erase(at, 1);
    says(text, "Calibration certificate PROBE-1 Own measurement, not an accredited calibration");
    const auto& c = r.probe->compensation;
    const auto& d = *r.probe->division;
    says(text,
         "Compensation: over-compensated: mismatch " + pl::certificate::round_with_prefix(c.mismatch, c.U_mismatch).plus_minus());
    says(text, "Factor: " + pl::certificate::round_result(d.factor.value(), d.U.value(), "").plus_minus());
    says(text, "On the input: BM, serial number 1, channel A, range 12 V");
    says(text, "The results relate only to the device named here");
    says(text, "U is the standard uncertainty u times k = 2");
    says(text, "SHA-256 of its device, correction and budget: " + r.probe->on.sha256);
    says(text, "SHA-256 " + r.probe->division->direct.sha256);
    says(text, "On another input factor and compensation are others.");
    says(text, "End of certificate PROBE-1");
    CHECK(text.find("no range was calibrated") == std::string::npos);

    pl::record::record alone = r;
    alone.probe->division.reset();
    alone.probe->compensation.mismatch = 0.001 * pl::one;
    alone.probe->compensation.U_mismatch = 0.01 * pl::one;
    const std::string other = pl::certificate::text(alone);
    says(other, "compensated, as far as U tells");
    says(other, "Factor: not measured");
}

TEST_CASE("what a probe's session names and does not have is refused by its place") {
    const bench b;
    CHECK(b.refusal("/probe/instrument/range", "10 V") ==
          "p.json: /probe/instrument/range: found channel \"A\", range \"10 V\", expected a range of record SHED-1; correct "
          "channel "
          "or range, or name another record");
    CHECK(b.refusal("/probe/instrument/record", "none.json").starts_with("none.json: "));
    CHECK(
        b.refusal("/probe/compensation/capture/file", "../step.csv") ==
        "p.json: /probe/compensation/capture/file: found \"../step.csv\", expected a file in the folder of the session or below "
        "it, without \"..\"; copy the capture there and name it relative to the session");
    CHECK(b.refusal("/probe/ratio/direct/sample_rate", "2 kHz") ==
          "captures/direct.csv: found a sample rate of 1000 Hz in the capture, expected 2000 Hz as in the mode, to 0.1 %; a "
          "correction belongs to one mode: correct the rate that is wrong, or capture again in this mode");
    CHECK(b.refusal("/probe/compensation/square_wave/frequency", "50 Hz") ==
          "captures/step.csv: a period of 200.00 samples, expected 2000.00 by frequency and sample rate; state the frequency "
          "of the square wave and the sample rate as they are");
    CHECK(b.refusal("/ranges", ordered_json::array())
              .starts_with("p.json: /ranges: found an unknown field, expected none besides "));
    b.folder.add("captures/step.csv", "500\n900\n");
    CHECK(
        b.refusal("/number", "PROBE-2") ==
        "captures/step.csv: found no sample rate, expected one in the capture or in the session's entry for it; write \"# sample "
        "rate: 1 MHz\" at the head of the capture");
}

}  // namespace probe_session_test
