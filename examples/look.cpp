// look FILE: what a capture says of itself, whatever its length. "-" is standard input.

#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/pieces.hpp>
#include <plumbline/capture/report.hpp>
#include <plumbline/error.hpp>

#include <fmt/core.h>
#include <unistd.h>
#include <CLI/CLI.hpp>

#include <cstdio>
#include <exception>
#include <iostream>
#include <map>
#include <string>

namespace {

namespace pl = plumbline;

constexpr const char* details =
    "Example, with a capture that comes with Plumbline (invented):\n"
    "  look examples/sessions/captures/10v-zero.csv --column A\n"
    "Exit codes: 0 it was read, 2 bad input or usage.";

const std::map<std::string, pl::capture::code_format> formats{{"csv", pl::capture::code_format::csv},
                                                              {"s16", pl::capture::code_format::signed_16_little_endian},
                                                              {"u16", pl::capture::code_format::unsigned_16_little_endian}};

/// On standard error, and only for who looks at it.
class bar {
public:
    void operator()(const pl::capture::reading_progress& p) const {
        if (!seen_) return;
        if (p.of_bytes && *p.of_bytes > 0) {
            constexpr std::uint64_t width = 40;
            const auto done = static_cast<std::size_t>(p.bytes * width / *p.of_bytes);
            fmt::print(stderr, "\r[{:<40}] {} samples", std::string(done, '#'), p.samples);
        } else {
            fmt::print(stderr, "\r{} samples", p.samples);
        }
    }
    void end() const {
        if (seen_) fmt::print(stderr, "\r{:78}\r", "");
    }

private:
    bool seen_ = isatty(STDERR_FILENO) == 1;
};

}  // namespace

int main(int count, char** arguments) {
    CLI::App app{"What a capture says of itself, whatever its length", "look"};
    app.footer(details);
    std::string file;
    pl::capture::piece_layout layout;
    int bits = 12;
    double rate = 0.0;
    app.add_option("FILE", file, "the capture; - for standard input")->required();
    app.add_option("--format", layout.format, "csv, or 16 bits a sample, lower byte first: s16 signed, u16 unsigned")
        ->transform(CLI::CheckedTransformer(formats));
    app.add_option("--column", layout.column, "of CSV, where there are several");
    app.add_option("--bits", bits, "of the converter: codes from 0, or from -2^(bits - 1) with s16")->check(CLI::Range(1, 20));
    app.add_option("--sample-rate", rate, "Hz, where the file does not state it")->check(CLI::PositiveNumber);
    try {
        app.parse(count, arguments);
    } catch (const CLI::ParseError& e) {
        return app.exit(e) == 0 ? 0 : 2;
    }
    try {
        const std::int32_t codes = 1 << bits;
        const std::int32_t bottom = layout.format == pl::capture::code_format::signed_16_little_endian ? -codes / 2 : 0;
        pl::capture::one_pass seen(bottom, bottom + codes - 1);
        const auto take = [&](std::span<const std::int32_t> piece) { seen.add(piece); };
        const bar progress;
        const auto read = file == "-" ? pl::capture::read_pieces(std::cin, "standard input", layout, take, progress)
                                      : pl::capture::read_pieces(file, layout, take, progress);
        progress.end();
        if (rate > 0.0) seen.sampled_at(rate * pl::hertz);
        if (read.sample_rate) seen.sampled_at(*read.sample_rate);
        for (const std::string& sentence : pl::capture::sentences(seen.statistics())) fmt::print("- {}\n", sentence);
        return 0;
    } catch (const std::exception& e) {
        fmt::print(stderr, "look: {}\n", e.what());
        return 2;
    }
}
