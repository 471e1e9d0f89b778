#include "observe.hpp"

#include "../capture/regular_file.hpp"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <plumbline/capture/csv.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/capture/pieces.hpp>
#include <plumbline/error.hpp>
#include <span>
#include <system_error>
#include <utility>

namespace plumbline::inline v0::session {

namespace {

/// The sample rate of a capture: every one that is stated, in file, capture entry and mode, must be the same within 0.1 %.
frequency agreed_rate(const std::optional<frequency>& in_file, const capture_source& source, const front_end::mode& mode,
                      const std::string& where) {
    constexpr double tolerance = 1e-3;
    const auto agree = [&](frequency rate, const char* stated_in) {
        if (std::abs((rate / mode.sample_rate).value() - 1.0) <= tolerance) return;
        throw bad_input(where, fmt::format("found a sample rate of {} Hz {}", rate.value(), stated_in),
                        fmt::format("{} Hz as in the mode, to 0.1 %", mode.sample_rate.value()),
                        "a correction belongs to one mode: correct the rate that is wrong, or capture again in this mode");
    };
    if (source.sample_rate) agree(*source.sample_rate, "in the session's entry for this capture");
    if (in_file) agree(*in_file, "in the capture");
    return in_file.value_or(source.sample_rate.value_or(mode.sample_rate));
}

/// Codes and digest, by one reading: the digest is of the bytes that gave the codes.
capture_read read_codes(const capture_source& from, const std::string& file) {
    capture_read read{{}, {from.file, from.column, {}, {}, from.format}};
    if (from.format == capture::code_format::csv) {
        const std::string bytes = capture::read_bytes(file);
        read.run = capture::parse_csv(bytes, file, from.column);
        read.evidence.sha256 = capture::sha256_hex(bytes);
        return read;
    }
    std::error_code unreadable;  // which read_pieces says
    if (std::filesystem::is_regular_file(file, unreadable)) read.run.codes.reserve(capture::size_to_keep(file) / 2);
    const auto keep = [&](std::span<const std::int32_t> piece) {
        read.run.codes.insert(read.run.codes.end(), piece.begin(), piece.end());
    };
    read.evidence.sha256 = capture::read_pieces(file, {from.format, {}}, keep).sha256;
    return read;
}

/// @param rate_of  the sample rate, by what the file states
template <class Rate>
capture_read read_capture(const capture_source& from, const std::string& folder, const Rate& rate_of) {
    const std::string file = (std::filesystem::path(folder) / from.file).string();
    capture_read read = read_codes(from, file);
    read.evidence.sample_rate = rate_of(read.run.sample_rate, file);
    read.run.sample_rate = read.evidence.sample_rate;
    return read;
}

}  // namespace

observation observe(const capture_source& from, const front_end::mode& mode, const front_end::converter& adc,
                    const std::string& folder) {
    capture_read read = read_capture(from, folder, [&](const std::optional<frequency>& in_file, const std::string& file) {
        return agreed_rate(in_file, from, mode, file);
    });
    const capture::statistics seen = capture::summarise(read.run, adc.bottom_code(), adc.top_code());
    return {read.evidence, seen, std::move(read.run)};
}

capture_read observe(const capture_source& from, const std::string& folder) {
    return read_capture(from, folder, [&](const std::optional<frequency>& in_file, const std::string& file) {
        if (!in_file && !from.sample_rate) {
            throw bad_input(file, "found no sample rate", "one in the capture or in the session's entry for it",
                            from.format == capture::code_format::csv ? "write \"# sample rate: 1 MHz\" at the head of the capture"
                                                                     : "state it as \"sample_rate\" beside the file");
        }
        front_end::mode mode;
        mode.sample_rate = from.sample_rate ? *from.sample_rate : *in_file;
        return agreed_rate(in_file, from, mode, file);
    });
}

}  // namespace plumbline::inline v0::session
