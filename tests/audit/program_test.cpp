// audit as a program: how it ends, and what it prints.

#include <doctest/doctest.h>

#include "../program.hpp"
#include "../record/scratch_folder.hpp"

#include <nlohmann/json.hpp>
#include <plumbline/audit/audit.hpp>
#include <plumbline/audit/job_file.hpp>
#include <plumbline/record/json.hpp>
#include <string>

namespace program_test {

namespace {

const std::string top = PLUMBLINE_SOURCE_DIR;
const std::string record = top + "/cal_records/PS2-0007-2025-03.json";
const std::string jobs = top + "/examples/jobs/";

program::outcome run(const std::string& arguments) { return program::run(PLUMBLINE_AUDIT, arguments + " 2>&1"); }

program::outcome job(const std::string& name) { return run(record + " " + jobs + name + ".json"); }

}  // namespace

TEST_CASE("the shipped jobs show every verdict, and audit ends with its code") {
    CHECK(job("tune-to-5-cents").code == 0);
    CHECK(job("gate-level").code == 0);
    CHECK(job("lfo-level").code == 0);
    CHECK(job("panel-voltage").code == 0);
    CHECK(job("battery-thresholds").code == 4);
    CHECK(job("tune-to-1-cent").code == 1);
    CHECK(job("charger-ripple").code == 1);
    CHECK(job("charger-pwm").code == 1);
    CHECK(job("spiking-rail").code == 3);
}

TEST_CASE("audit prints the text of the report, or JSON that says the same") {
    const auto report =
        plumbline::audit::audit(plumbline::record::read_record(record), plumbline::audit::read_job(jobs + "spiking-rail.json"));
    const program::outcome text = job("spiking-rail");
    CHECK(text.out == plumbline::audit::text(report));
    CHECK(text.out.starts_with("DO NOT CONNECT: Rail of the charge controller that spikes when the panel is switched\n"));
    const program::outcome asked = run("--json " + record + " " + jobs + "spiking-rail.json");
    CHECK(asked.code == 3);
    CHECK(asked.out == plumbline::audit::to_json(report));
    const auto read = nlohmann::json::parse(asked.out);
    CHECK(read.at("verdict") == "do not connect");
    CHECK(read.at("lines").at(0).at("name") == "input limit");
    CHECK(read.at("lines").at(0).at("figure").get<double>() == doctest::Approx(80.0).epsilon(1e-12).scale(0));
}

TEST_CASE("a folder gives a table, one line a job, and the code of the worst") {
    const scratch_folder folder;
    const auto copy = [&](const char* name) {
        std::ifstream in(jobs + name, std::ios::binary);
        folder.add(name, std::string(std::istreambuf_iterator<char>(in), {}));
    };
    copy("lfo-level.json");
    CHECK(run(record + " " + folder.path().string()).code == 0);
    copy("battery-thresholds.json");
    const program::outcome two = run(record + " " + folder.path().string());
    CHECK(two.code == 4);
    CHECK(
        two.out ==
        "verdict                   because of                   job\n"
        "suitable with conditions  extrapolation                battery-thresholds.json: Charge thresholds of the shed's 12 V "
        "battery, to 0.1 V\n"
        "suitable                                               lfo-level.json: Level of a low-frequency oscillator, ±5 V up to "
        "10 Hz, to 0.1 V\n");
    copy("charger-pwm.json");
    CHECK(run(record + " " + folder.path().string()).code == 1);
    copy("spiking-rail.json");
    CHECK(run(record + " " + folder.path().string()).code == 3);
    CHECK(nlohmann::json::parse(run("--json " + record + " " + folder.path().string()).out).size() == 4);
}

TEST_CASE("audit ends with 2 on bad input, says why, and prints no verdict beside it") {
    const scratch_folder folder;
    const std::string empty = run(record + " " + folder.path().string()).out;
    CHECK(empty == "audit: " + folder.path().string() + ": found no *.json, expected job files; name another folder\n");
    folder.add("a.json", R"({"plumbline": "job"})");
    const program::outcome bad = run(record + " " + jobs + "lfo-level.json " + (folder.path() / "a.json").string());
    CHECK(bad.code == 2);
    CHECK(bad.out.starts_with("audit: " + (folder.path() / "a.json").string() + ": /schema: "));
    CHECK(run(record).code == 2);
    CHECK(run(jobs + "lfo-level.json " + jobs + "lfo-level.json").code == 2);
    CHECK(run("--help").code == 0);
}

}  // namespace program_test
