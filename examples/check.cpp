// check RECORD.json ZERO.csv REFERENCE.csv: does the calibration still hold? One minute on site, with a pocket reference.

#include <plumbline/certificate/certificate.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/store.hpp>
#include <plumbline/session/intermediate_check.hpp>

#include <fmt/core.h>
#include <CLI/CLI.hpp>

#include <exception>
#include <string>

namespace {

namespace pl = plumbline;
enum exit_code { agrees = 0, does_not_agree = 1, bad_input_or_output = 2 };

constexpr const char* details =
    "Capture codes with the input shorted and then with the pocket reference, in the mode of the calibration. Exit codes:\n"
    "  0 as the record says, 1 not: do not rely on it, 2 bad input or usage, or not stored";

void print(const char* what, const pl::record::checked_point& p) {
    fmt::print("{}: {} where {} was applied, E_n {:.2f}\n", what, pl::certificate::round_with_prefix(p.reading, p.U).plus_minus(),
               pl::certificate::round_with_prefix(p.applied, p.U_applied).plus_minus(), p.e_n);
}

}  // namespace

int main(int argc, char** argv) {
    CLI::App app("Compares readings with a record: the input shorted, then a pocket reference.", "check");
    app.footer(details);
    std::string file;
    pl::session::on_site done;
    double volts = 0.0;
    double limits = 0.0;
    double zero = 0.0;
    bool append = false;
    std::string folder;
    app.add_option("RECORD.json", file, "record of the instrument")->required();
    app.add_option("ZERO.csv", done.zero.file, "capture with the input shorted")->required();
    app.add_option("REFERENCE.csv", done.reference.file, "capture with the pocket reference")->required();
    app.add_option("--channel", done.channel, "channel of the record")->required();
    app.add_option("--range", done.range, "range of that channel")->required();
    app.add_option("--volts", volts, "what the pocket reference gives, in volts")->required();
    app.add_option("--within", limits, "limits of that, in volts")->required();
    app.add_option("--zero", zero, "what was applied for ZERO.csv, within the same, where it was not shorted: in volts");
    app.add_option("--celsius", done.ambient.degrees, "temperature of the instrument, within 2 K")->required();
    app.add_option("--date", done.date, "YYYY-MM-DD")->required();
    app.add_option("--occasion", done.occasion, "why it is checked: \"after a fall\"")->required();
    app.add_flag("--append", append, "store the check in the record's file; its digest stays");
    app.add_option("--out", folder, "folder for the certificate with this check, NUMBER-DATE.txt and .html");
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& wrong) {
        return app.exit(wrong) == 0 ? agrees : bad_input_or_output;
    }
    try {
        done.value = volts * pl::volt;
        done.limits = limits * pl::volt;
        done.zero_value = zero * pl::volt;
        if (zero != 0.0) done.zero_limits = done.limits;
        const pl::record::record checked = pl::session::checked_on_site(pl::record::read_record(file), done);
        const pl::record::intermediate_check& found = checked.intermediate.back();
        print("zero", found.zero);
        print("pocket reference", found.reference);
        fmt::print("{}\n", found.result);
        if (append) static_cast<void>(pl::record::append_checks(file, checked));
        const std::string name = checked.number + "-" + done.date;
        if (!folder.empty())
            static_cast<void>(pl::record::write_new(
                folder, {{name + ".txt", pl::certificate::text(checked)}, {name + ".html", pl::certificate::html(checked)}}));
        return pl::session::agrees(found) ? agrees : does_not_agree;
    } catch (const std::exception& failure) {
        fmt::print(stderr, "check: {}\n", failure.what());
        return bad_input_or_output;
    }
}
