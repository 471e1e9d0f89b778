#include <plumbline/image/comparison.hpp>

#include "range_image.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <plumbline/capture/digest.hpp>
#include <plumbline/error.hpp>
#include <plumbline/image/instrument_reading.hpp>
#include <tuple>

namespace plumbline::inline v0::image {

namespace {

using pointers = std::vector<const record::record*>;

template <std::size_t size>
std::string text_of(const char (&field)[size]) {
    return {field, std::find(field, field + size, '\0')};
}

/// Without the erased flash behind an image.
std::span<const std::uint8_t> without_erased(std::span<const std::uint8_t> read) {
    if (read.size() < 8 || embedded::byte_reader(read.data()).u32() != embedded::image_letters) return read;
    const std::size_t size = embedded::byte_reader(read.data() + 6).u16();
    if (size >= read.size()) return read;
    const auto rest = read.subspan(size);
    const bool erased = std::all_of(rest.begin(), rest.end(), [](std::uint8_t byte) { return byte == 0xff; });
    return erased ? read.first(size) : read;
}

bool is_newer(const record::record& a, const record::record& than) {
    return a.replaces == than.number || std::tie(a.dates.ended, a.dates.issued) > std::tie(than.dates.ended, than.dates.issued);
}

auto line_of(const embedded::range& r) {
    const embedded::correction& l = r.line;
    return std::tuple(r.channel, r.number, r.mode, l.gain, l.gain_fraction, l.offset, l.offset_fraction, l.first_code,
                      l.last_code);
}

/// What corrects otherwise, or "".
std::string line_difference(const content& read, const content& expected) {
    if (read.ranges.size() != expected.ranges.size())
        return fmt::format("it has {} ranges, the record {}", read.ranges.size(), expected.ranges.size());
    for (std::size_t i = 0; i < read.ranges.size(); ++i) {
        const embedded::range& a = read.ranges[i];
        const embedded::range& b = expected.ranges[i];
        if (line_of(a) == line_of(b)) continue;
        const std::string name = text_of(b.name);
        if (std::tie(a.channel, a.number, a.mode) != std::tie(b.channel, b.number, b.mode))
            return fmt::format("its \"{}\" stands at channel {}, range {}, mode {}, that of the record at {}, {}, {}", name,
                               a.channel, a.number, a.mode, b.channel, b.number, b.mode);
        const codes at = static_cast<double>(b.line.last_code) * code;
        return fmt::format(
            "its \"{}\" makes {:.6f} V of code {}, the record {:.6f} V; codes in range are {} to {}, by the record {} to {}",
            name, on_line(a.line, at).value(), b.line.last_code, on_line(b.line, at).value(), a.line.first_code, a.line.last_code,
            b.line.first_code, b.line.last_code);
    }
    return "";
}

comparison compare_named(std::span<const std::uint8_t> image, const content& read, const record::record& named,
                         const pointers& all, const settings& by) {
    const content expected = make_image(named, by).what;
    const std::string number = named.number;
    if (std::ranges::equal(image, encode(expected))) {
        const auto newer = std::find_if(all.begin(), all.end(), [&](const auto* r) { return is_newer(*r, named); });
        if (newer == all.end())
            return {verdict::same, number,
                    fmt::format("The instrument holds the adjustment of record {}, byte for byte.", number)};
        return {
            verdict::older, number,
            fmt::format("The instrument holds the adjustment of record {} of {}, and record {} of {} is newer: store the newest.",
                        number, named.dates.ended, (*newer)->number, (*newer)->dates.ended)};
    }
    const bool same_sections = std::equal(std::begin(read.whose.digest), std::end(read.whose.digest), expected.whose.digest);
    const std::string line = line_difference(read, expected);
    if (!line.empty()) {
        return {
            verdict::edited, number,
            fmt::format("The instrument's image names record {} but corrects otherwise: {}. {}; store the record's image.",
                        number, line,
                        same_sections
                            ? "The record is the one that it was made from, so the image was edited or made for other numbers of "
                              "channels, ranges and modes"
                            : "Record or image was edited since the image was made")};
    }
    return {verdict::other_budget, number,
            fmt::format(
                "The instrument corrects as record {} does, but its plus-or-minus, validity or names are others. {}; store the "
                "record's image.",
                number,
                same_sections ? "The record is the one that it was made from, so the image was edited or made with other settings"
                              : "Record or image was edited since the image was made")};
}

}  // namespace

comparison compare(std::span<const std::uint8_t> read_back, const std::vector<record::record>& records, const settings& by) {
    const auto image = without_erased(read_back);
    content read;
    try {
        read = decode(image, "The instrument's image");
    } catch (const bad_input& refused) {
        return {verdict::unreadable, "", std::string(refused.what()) + '.'};
    }
    const std::string serial = text_of(read.whose.serial);
    const std::string number = text_of(read.whose.record);
    pointers all;
    for (const record::record& r : records) {
        if (r.device.serial == serial) all.push_back(&r);
    }
    if (all.empty()) {
        return {verdict::other_instrument, number,
                fmt::format(
                    "The image is that of instrument {} {}, from its record {}; none of the records given is of that instrument: "
                    "give its records, or see which instrument is connected.",
                    text_of(read.whose.model), serial, number)};
    }
    const auto named = [&](const record::record* r) { return r->number == number; };
    comparison found{
        verdict::unknown_record, number,
        fmt::format("The instrument holds the adjustment of record {}, which is not among those given: give that record, "
                    "or store the image of one of these.",
                    number)};
    for (const record::record* r : all) {
        if (!named(r)) continue;
        comparison one = compare_named(image, read, *r, all, by);
        if (found.what == verdict::unknown_record || one.what < found.what) found = std::move(one);
    }
    return found;
}

record::record with_check(const record::record& r, std::span<const std::uint8_t> read_back, const std::string& date,
                          const settings& by) {
    const std::string& before = r.stored.empty() ? r.dates.ended : r.stored.back().date;
    if (date < before) {
        throw bad_input(
            "record " + r.number + ": /stored", "found a check of \"" + date + '"',
            "a day not before " + before + (r.stored.empty() ? ", the end of the calibration" : ", that of the check before"),
            "correct the date");
    }
    const comparison now = compare(read_back, {r}, by);
    record::record checked = r;
    const auto counted = without_erased(read_back);
    const std::string image(counted.begin(), counted.end());
    checked.stored.push_back({date, capture::sha256_hex(image), now.what == verdict::same, now.sentence});
    return checked;
}

}  // namespace plumbline::inline v0::image
