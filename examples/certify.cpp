// certify SESSION.json [--out DIR] [--advise]: from a session file and its captures to the record and its certificates.

#include <plumbline/calibration/advice.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/store.hpp>
#include <plumbline/session/session.hpp>

#include <CLI/CLI.hpp>

#include <cstdio>
#include <exception>
#include <filesystem>
#include <iostream>
#include <string>
#include <vector>

namespace {

enum exit_code { done = 0, refused_by_a_finding = 1, bad_input_or_output = 2 };

constexpr const char* description =
    "Calibrates an instrument: reads a session file and the captures that it names, and writes the record NUMBER.json with its\n"
    "certificates NUMBER.txt and NUMBER.html. All three or nothing; an earlier record is never overwritten.";

constexpr const char* details =
    "Example, with the captures that come with Plumbline (an invented pocket scope):\n"
    "  certify examples/sessions/pocket-scope.json --out certificates\n"
    "The session file is described in README.md. Its figures carry units: \"220 kohm\", \"4.096 V\", \"0.1 %\", \"25 ppm/K\".\n"
    "Exit codes:\n"
    "  0  done\n"
    "  1  the steps cannot carry a calibration (clipped, too close together, far from nominal ...): nothing written\n"
    "  2  bad input, bad usage, or the files could not be written: nothing written";

void certify(const std::filesystem::path& session_file, const std::filesystem::path& folder, bool advise) {
    namespace pl = plumbline;
    const pl::record::record record = pl::session::run(pl::session::read_session(session_file));
    const std::string text = pl::certificate::text(record);
    const std::vector<pl::record::file> files{
        {record.number + ".txt", text},
        {record.number + ".html", pl::certificate::html(record)},
        {record.number + ".json", pl::record::to_json(record)}};  // vouches for the others: last
    const pl::record::stored stored = pl::record::write_new(folder, files);
    std::cout << text << (stored == pl::record::stored::written ? "\nWritten:\n" : "\nThere already, with the same contents:\n");
    for (const pl::record::file& file : files) std::cout << "  " << (folder / file.name).string() << "\n";
    if (!advise) return;
    for (const pl::calibration::range_calibration& of : record.ranges) {
        std::cout << "\nAdvice, channel " << of.channel << ", range " << of.range << ":\n";
        for (const std::string& line :
             pl::calibration::advice(of, record.references, record.inputs, record.coverage_probability, record.correlations)) {
            std::cout << "  " << line << "\n";
        }
    }
}

}  // namespace

int main(int argc, char** argv) {
    CLI::App app(description, "certify");
    app.footer(details);
    std::string session_file;
    std::string folder = ".";
    app.add_option("SESSION.json", session_file, "session file; captures are found from its folder")->required();
    app.add_option("--out", folder, "folder for record and certificates; made if it is missing")->capture_default_str();
    bool advise = false;
    app.add_flag("--advise", advise, "show what is worth improving, and U by reference voltage");
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& wrong) {
        return app.exit(wrong) == 0 ? done : bad_input_or_output;
    }
    try {
        certify(session_file, folder, advise);
    } catch (const plumbline::bad_step& finding) {
        std::cerr << "certify: refused: " << finding.what() << "\n";
        return refused_by_a_finding;
    } catch (const std::exception& failure) {
        std::cerr << "certify: " << failure.what() << "\n";
        return bad_input_or_output;
    }
    std::cout.flush();
    if (!std::cout) {
        std::cerr << "certify: the files are written, but the certificate could not be shown on standard output\n";
    }
    return done;
}
