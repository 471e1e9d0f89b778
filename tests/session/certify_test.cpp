// certify as a program: what it prints, what it writes, how it ends.

#include <doctest/doctest.h>

#include "../program.hpp"
#include "fixture.hpp"

#include <plumbline/calibration/advice.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <string>

namespace certify_test {

namespace {

using fixture::on_disk;

program::outcome run(const std::string& arguments) { return program::run(PLUMBLINE_CERTIFY, arguments); }

std::string in(const scratch_folder& folder, const std::string& name) { return (folder.path() / name).string(); }

}  // namespace

TEST_CASE("certify writes record and both certificates, shows the text and where the files are, and ends with 0") {
    const on_disk d;
    const program::outcome first = run(d.file.string() + " --out " + in(d.folder, "out"));
    CHECK(first.code == 0);
    CHECK(d.folder.listing() ==
          "captures/ captures/check.csv captures/high.csv captures/low.csv captures/low.s16 out/ out/SHED-1.html out/SHED-1.json "
          "out/SHED-1.txt s.json");
    const plumbline::record::record r = plumbline::record::read_record(in(d.folder, "out/SHED-1.json"));
    const std::string text = plumbline::certificate::text(r);
    CHECK(contents_of(in(d.folder, "out/SHED-1.txt")) == text);
    const bool same_page = contents_of(in(d.folder, "out/SHED-1.html")) == plumbline::certificate::html(r);  // too long to print
    CHECK(same_page);
    const std::string paths = "  " + in(d.folder, "out/SHED-1.txt") + "\n  " + in(d.folder, "out/SHED-1.html") + "\n  " +
                              in(d.folder, "out/SHED-1.json") + "\n";
    CHECK(first.out == text + "\nWritten:\n" + paths);

    const program::outcome again = run(d.file.string() + " --out " + in(d.folder, "out"));
    CHECK(again.code == 0);
    CHECK(again.out == text + "\nThere already, with the same contents:\n" + paths);
}

TEST_CASE("certify adds advice for each range where it is asked for, and writes the same files") {
    const on_disk d;
    const program::outcome plain = run(d.file.string() + " --out " + in(d.folder, "out"));
    const program::outcome o = run(d.file.string() + " --advise --out " + in(d.folder, "out"));
    CHECK(o.code == 0);
    const plumbline::record::record r = plumbline::record::read_record(in(d.folder, "out/SHED-1.json"));
    std::string expected;
    for (const auto& of : r.ranges) {
        expected += "\nAdvice, channel " + of.channel + ", range " + of.range + ":\n";
        for (const std::string& s :
             plumbline::calibration::advice(of, r.references, r.inputs, r.coverage_probability, r.correlations)) {
            expected += "  " + s + "\n";
        }
    }
    CHECK(o.out.ends_with(expected));
    CHECK(expected.find("\n  10 V, as now ") != std::string::npos);
    CHECK(o.out.find("There already, with the same contents:") != std::string::npos);
    CHECK(plain.out.find("Advice") == std::string::npos);
}

TEST_CASE("the shipped ranges with the reference that they have, at the voltage that they have it, get the U that is certified") {
    using namespace plumbline;
    const std::string top = PLUMBLINE_SOURCE_DIR;
    for (const record::record& r : {record::read_record(top + "/cal_records/PS2-0007-2025-03.json"),
                                    session::run(session::read_session(top + "/examples/sessions/shed-logger.json"))}) {
        for (const calibration::range_calibration& of : r.ranges) {
            CAPTURE(r.number + ' ' + of.channel + ' ' + of.range);
            const auto best = [&](const std::vector<voltage>& at) {
                return calibration::best_voltage(of, r.references, r.inputs, at, r.coverage_probability, r.correlations);
            };
            const auto now = best(calibration::voltages_within(of)).now;
            const auto same = best({now.by.voltage.value}).all.front();
            REQUIRE(same.U.size() == now.at.size());
            for (std::size_t i = 0; i < now.at.size(); ++i) {
                const auto there = calibration::reading(r.inputs, r.references, of, calibration::code_at(of, now.at[i]),
                                                        calibration::at_calibration(of));
                const double U = make_convolved_budget(there, r.coverage_probability, r.correlations).U;
                CHECK(now.U[i].value() == doctest::Approx(U).epsilon(1e-12).scale(0));
                CHECK(same.U[i].value() == doctest::Approx(U).epsilon(1e-9).scale(0));
            }
        }
    }
}

TEST_CASE("certify ends with 1 when the steps cannot carry a calibration, and leaves nothing behind") {
    const on_disk d;
    d.folder.add("captures/low.csv", fixture::capture(0));
    const std::string before = d.folder.listing();
    const program::outcome o = run(d.file.string() + " --out " + in(d.folder, "out") + " 2>&1");
    CHECK(o.code == 1);
    CHECK(o.out.starts_with("certify: refused: "));
    CHECK(d.folder.listing() == before);
}

TEST_CASE("certify ends with 2 on bad input or usage, says why, and leaves nothing behind") {
    fixture::ordered_json j = fixture::session();
    j["number"] = "../escape";
    const on_disk d(j);
    const std::string before = d.folder.listing();
    const std::string out = " --out " + in(d.folder, "out") + " 2>&1";
    const program::outcome bad = run(d.file.string() + out);
    CHECK(bad.code == 2);
    CHECK(
        bad.out ==
        "certify: " + d.file.string() +
            ": /number: found \"../escape\", expected 1 to 64 letters, digits, '.', '_' or '-', not beginning with '.'; choose a "
            "number that can name a file\n");
    const program::outcome missing = run(in(d.folder, "none.json") + out);
    CHECK(missing.code == 2);
    CHECK(missing.out ==
          "certify: " + in(d.folder, "none.json") + ": found no such file, expected a file; check the name and the folder\n");
    CHECK(run("2>&1").code == 2);
    CHECK(run("--frobnicate 2>&1").code == 2);
    CHECK(run(d.file.string() + " " + d.file.string() + " 2>&1").code == 2);
    CHECK(d.folder.listing() == before);
}

TEST_CASE("certify never overwrites: an earlier record of other contents stays, and the exit code is 2") {
    const on_disk d;
    d.folder.add("out/SHED-1.json", "earlier");
    const std::string before = d.folder.listing();
    const program::outcome o = run(d.file.string() + " --out " + in(d.folder, "out") + " 2>&1");
    CHECK(o.code == 2);
    CHECK(o.out == "certify: " + in(d.folder, "out/SHED-1.json") +
                       ": found a file with other contents, expected a free name or the same contents; records are never "
                       "overwritten: give the "
                       "new one a number of its own\n");
    CHECK(d.folder.listing() == before);
    CHECK(contents_of(in(d.folder, "out/SHED-1.json")) == "earlier");
}

TEST_CASE("certify explains itself") {
    const program::outcome o = run("--help");
    CHECK(o.code == 0);
    CHECK(o.out.find("certify examples/sessions/pocket-scope.json --out certificates") != std::string::npos);
    CHECK(o.out.find("Exit codes:") != std::string::npos);
}

TEST_CASE("check ends with 0 or 1 by what it finds, appends only when asked to, and with 2 on bad input") {
    const scratch_folder folder;
    const std::string top = PLUMBLINE_SOURCE_DIR;
    const std::string before = contents_of(top + "/cal_records/PS2-0007-2025-03.json");
    const std::string file = folder.add("r.json", before).string();
    const std::string captures = top + "/examples/sessions/captures/on-site-";
    const auto check = [&](const std::string& volts, const std::string& more) {
        return program::run(PLUMBLINE_CHECK, file + " " + captures + "zero.csv " + captures +
                                                 "reference.csv --channel A --range '10 V' --within 0.0013 --celsius 6 --date "
                                                 "2025-06-01 --occasion 'after a fall' --volts " +
                                                 volts + more + " 2>&1");
    };
    const program::outcome good = check("2.5", "");
    CHECK(good.code == 0);
    CHECK(good.out.find("\nReads as record PS2-0007-2025-03 says: ") != std::string::npos);
    CHECK(contents_of(file) == before);
    CHECK(check("2.5", " --append --out " + in(folder, "out")).code == 0);
    const auto kept = plumbline::record::read_record(file);
    CHECK(kept.intermediate.size() == 1);
    CHECK(folder.listing() == "out/ out/PS2-0007-2025-03-2025-06-01.html out/PS2-0007-2025-03-2025-06-01.txt r.json");
    CHECK(contents_of(in(folder, "out/PS2-0007-2025-03-2025-06-01.txt")) == plumbline::certificate::text(kept));
    const program::outcome bad = check("2.6", "");
    CHECK(bad.code == 1);
    CHECK(bad.out.find("\nDoes not read as record PS2-0007-2025-03 says: ") != std::string::npos);
    CHECK(check("x", "").code == 2);
    CHECK(check("2.5", " --date 2025-01-01").code == 2);
}

}  // namespace certify_test
