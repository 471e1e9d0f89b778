// audit RECORD.json JOB...: is the instrument good enough for a job? A folder of jobs gives a table.

#include <plumbline/audit/audit.hpp>
#include <plumbline/audit/job_file.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>

#include <fmt/core.h>
#include <CLI/CLI.hpp>

#include <algorithm>
#include <exception>
#include <filesystem>
#include <string>
#include <vector>

namespace {

namespace pl = plumbline;
namespace fs = std::filesystem;

enum exit_code { suitable = 0, not_suitable = 1, bad_input_or_output = 2, do_not_connect = 3, with_conditions = 4 };

constexpr const char* details =
    "Examples, with the record and the jobs that come with Plumbline (all of it invented):\n"
    "  audit cal_records/PS2-0007-2025-03.json examples/jobs/lfo-level.json\n"
    "  audit cal_records/PS2-0007-2025-03.json examples/jobs\n"
    "Job files: README.md and cal_records/job.schema.json. Exit codes, the worst of all jobs:\n"
    "  0  suitable\n"
    "  4  suitable with conditions, each named\n"
    "  1  not suitable\n"
    "  3  do not connect: a limit of safety is exceeded, or not known where it counts\n"
    "  2  bad input or usage";

exit_code code_of(pl::audit::suitability s) {
    switch (s) {
        case pl::audit::suitability::suitable:
            return suitable;
        case pl::audit::suitability::with_conditions:
            return with_conditions;
        case pl::audit::suitability::not_suitable:
            return not_suitable;
        default:
            return do_not_connect;
    }
}

std::vector<std::string> files_of(const std::vector<std::string>& given) {
    std::vector<std::string> files;
    for (const std::string& path : given) {
        if (!fs::is_directory(path)) {
            files.push_back(path);
            continue;
        }
        std::vector<std::string> in_folder;
        for (const auto& entry : fs::directory_iterator(path)) {
            if (entry.path().extension() == ".json") in_folder.push_back(entry.path().string());
        }
        if (in_folder.empty()) throw pl::bad_input(path, "found no *.json", "job files", "name another folder");
        std::sort(in_folder.begin(), in_folder.end());
        files.insert(files.end(), in_folder.begin(), in_folder.end());
    }
    return files;
}

/// "suitable with conditions  compensation      pulse-width.json: PWM of the charge controller"
void print_row(const std::string& file, const pl::audit::report& r) {
    const pl::audit::line& first = r.lines.front();
    const bool good = first.verdict == pl::audit::line_is::good;
    fmt::print("{:<24}  {:<27}  {}: {}\n", pl::audit::word(r.verdict), good ? "" : first.name, fs::path(file).filename().string(),
               pl::in_one_line(r.job));
}

exit_code audit(const std::string& record_file, const std::vector<std::string>& given, bool json) {
    const auto record = pl::record::read_record(record_file);
    const std::vector<std::string> files = files_of(given);
    std::vector<pl::audit::report> reports;  // all of them before anything is printed: a bad file among them stops it
    for (const std::string& file : files) reports.push_back(pl::audit::audit(record, pl::audit::read_job(file)));
    const bool table = files.size() > 1 || fs::is_directory(given.front());
    if (table && !json) fmt::print("{:<24}  {:<27}  {}\n", "verdict", "because of", "job");
    if (table && json) fmt::print("[\n");
    auto worst = pl::audit::suitability::suitable;
    for (std::size_t i = 0; i < reports.size(); ++i) {
        if (json) {
            fmt::print("{}{}", pl::audit::to_json(reports[i]), i + 1 < reports.size() ? ",\n" : "");
        } else if (table) {
            print_row(files[i], reports[i]);
        } else {
            fmt::print("{}", pl::audit::text(reports[i]));
        }
        worst = std::max(worst, reports[i].verdict);
    }
    if (table && json) fmt::print("]\n");
    return code_of(worst);
}

}  // namespace

int main(int argc, char** argv) {
    CLI::App app("Tells whether an instrument is good enough for a job, why, and what would change it.", "audit");
    app.footer(details);
    std::string record;
    std::vector<std::string> jobs;
    bool json = false;
    app.add_option("RECORD.json", record, "record of the instrument")->required();
    app.add_option("JOB.json", jobs, "job files, or folders of them")->required();
    app.add_flag("--json", json, "the reports as JSON, for programs");
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& wrong) {
        return app.exit(wrong) == 0 ? suitable : bad_input_or_output;
    }
    try {
        return audit(record, jobs, json);
    } catch (const std::exception& failure) {
        fmt::print(stderr, "audit: {}\n", failure.what());
        return bad_input_or_output;
    }
}
