// look FILE: what a capture says of itself, whatever its length, or of its converter, from a ramp or a sine. "-" is standard input.

#include <plumbline/capture/code_density.hpp>
#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/pieces.hpp>
#include <plumbline/capture/report.hpp>
#include <plumbline/capture/sine_fit.hpp>
#include <plumbline/error.hpp>

#include <fmt/core.h>
#include <unistd.h>
#include <CLI/CLI.hpp>

#include <cstdio>
#include <exception>
#include <iostream>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace {

namespace pl = plumbline;

constexpr const char* details =
    "Example, with a capture that comes with Plumbline (invented):\n"
    "  look examples/sessions/captures/10v-zero.csv --column A\n"
    "Of a converter, by the terms of IEEE 1241 and 1057: --ramp and --sine give differential and integral\n"
    "non-linearity and missing codes by code density; --sine fits the sine too, for noise, SINAD and effective bits, and keeps\n"
    "all samples for that.\n"
    "Exit codes: 0 it was read, 2 bad input or usage.";

const std::map<std::string, pl::capture::code_format> formats{{"csv", pl::capture::code_format::csv},
                                                              {"s16", pl::capture::code_format::signed_16_little_endian},
                                                              {"u16", pl::capture::code_format::unsigned_16_little_endian}};

/// On standard error, and only for who looks at it; gone when it ends, before whatever is said then.
class bar {
public:
    bar() = default;
    bar(const bar&) = delete;
    bar& operator=(const bar&) = delete;
    ~bar() {
        if (seen_) fmt::print(stderr, "\r{:78}\r", "");
    }
    void show(const pl::capture::reading_progress& p) const {
        if (!seen_) return;
        if (p.of_bytes && *p.of_bytes > 0) {
            constexpr std::uint64_t width = 40;
            const auto done = static_cast<std::size_t>(p.bytes * width / *p.of_bytes);
            fmt::print(stderr, "\r[{:<40}] {} samples", std::string(done, '#'), p.samples);
        } else {
            fmt::print(stderr, "\r{} samples", p.samples);
        }
    }

private:
    bool seen_ = isatty(STDERR_FILENO) == 1;
};

pl::capture::pieces_read read(const std::string& file, const pl::capture::piece_layout& layout,
                              const pl::capture::piece_taker& take) {
    const bar progress;
    const auto show = [&](const pl::capture::reading_progress& p) { progress.show(p); };
    if (file == "-") return pl::capture::read_pieces(std::cin, "standard input", layout, take, show);
    return pl::capture::read_pieces(file, layout, take, show);
}

double per_sample(double frequency, const std::optional<pl::frequency>& rate) {
    if (!rate) throw pl::bad_input("--frequency", "no sample rate", "one that it stands to", "state --sample-rate");
    return frequency / rate->value();
}

}  // namespace

int main(int count, char** arguments) {
    CLI::App app{"What a capture says of itself, or of its converter, whatever its length", "look"};
    app.footer(details);
    std::string file;
    pl::capture::piece_layout layout;
    int bits = 12;
    double rate = 0.0;
    double U = 0.0;
    double frequency = 0.0;
    bool ramp = false;
    bool sine = false;
    app.add_option("FILE", file, "the capture; - for standard input")->required();
    app.add_option("--format", layout.format, "csv, or 16 bits a sample, lower byte first: s16 signed, u16 unsigned")
        ->transform(CLI::CheckedTransformer(formats));
    app.add_option("--column", layout.column, "of CSV, where there are several");
    app.add_option("--bits", bits, "of the converter: codes from 0, or from -2^(bits - 1) with s16")->check(CLI::Range(1, 20));
    app.add_option("--sample-rate", rate, "Hz, where the file does not state it")->check(CLI::PositiveNumber);
    const auto wanted = app.add_option("--wanted-U", U, "codes: how many samples for this U (k = 2) of the mean?");
    const auto by_ramp = app.add_flag("--ramp", ramp, "a ramp goes through the converter's codes: test it");
    const auto by_sine = app.add_flag("--sine", sine, "a sine does: test it");
    const auto known =
        app.add_option("--frequency", frequency, "Hz, of the sine where it is known exactly: a fit of three parameters, not four")
            ->needs(by_sine);
    wanted->excludes(by_ramp)->excludes(by_sine);
    by_ramp->excludes(by_sine);
    try {
        app.parse(count, arguments);
    } catch (const CLI::ParseError& e) {
        return app.exit(e) == 0 ? 0 : 2;
    }
    try {
        const std::int32_t codes = 1 << bits;
        const std::int32_t bottom = layout.format == pl::capture::code_format::signed_16_little_endian ? -codes / 2 : 0;
        const std::int32_t top = bottom + codes - 1;
        pl::capture::one_pass seen(bottom, top, {}, !ramp && !sine);
        pl::capture::run kept;
        const auto read_in = read(file, layout, [&](std::span<const std::int32_t> piece) {
            seen.add(piece);
            if (sine) kept.codes.insert(kept.codes.end(), piece.begin(), piece.end());
        });
        if (rate > 0.0) kept.sample_rate = rate * pl::hertz;
        if (read_in.sample_rate) kept.sample_rate = read_in.sample_rate;
        if (kept.sample_rate) seen.sampled_at(*kept.sample_rate);
        const pl::capture::one_pass_statistics statistics = seen.statistics();
        const auto by = ramp ? pl::capture::stimulus::ramp : pl::capture::stimulus::sine;
        std::vector<std::string> all = ramp || sine ? sentences(statistics, by) : sentences(statistics);
        if (sine) {
            const std::optional<double> at =
                known->count() > 0 ? std::optional(per_sample(frequency, kept.sample_rate)) : std::nullopt;
            for (std::string& sentence : sentences(fit_sine(kept, bottom, top, at))) all.push_back(std::move(sentence));
        }
        if (wanted->count() > 0) all.push_back(for_wanted(statistics, U * pl::code));
        for (const std::string& sentence : all) fmt::print("- {}\n", sentence);
        return 0;
    } catch (const std::exception& e) {
        fmt::print(stderr, "look: {}\n", e.what());
        return 2;
    }
}
