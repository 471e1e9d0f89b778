#include <plumbline/image/image.hpp>

#include "range_image.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <limits>
#include <plumbline/error.hpp>
#include <plumbline/record/canonical.hpp>

namespace plumbline::inline v0::image {

namespace {

constexpr const char* session_remedy = "correct the session and give the record a number of its own";

std::string place_of(const record::record& r, std::size_t range) { return fmt::format("record {}: /ranges/{}", r.number, range); }

const calibration::use_conditions& use_of(const record::record& r, std::size_t range, const settings& by) {
    if (r.ranges[range].in_use) return *r.ranges[range].in_use;
    if (by.unless_stated) return *by.unless_stated;
    throw bad_input(place_of(r, range) + "/in_use",
                    fmt::format("found no conditions of use for \"{}\"", name_of(r.ranges[range])),
                    "age, temperature, drift and supply, which the instrument's plus-or-minus has to cover",
                    "state \"in_use\" in the session, or say which conditions shall count here");
}

/// Days since 2000-01-01. @pre a date that a record may hold
std::int64_t day_of(const std::string& date) {
    const auto number = [&](std::size_t from, std::size_t n) {
        int value = 0;
        std::from_chars(date.data() + from, date.data() + from + n, value);
        return value;
    };
    using namespace std::chrono;
    const sys_days day = year(number(0, 4)) / number(5, 2) / number(8, 2);
    return (day - sys_days(year(2000) / 1 / 1)).count();
}

embedded::validity validity_of(const record::record& r, const settings& by, reach& within) {
    const std::string where = "record " + r.number + ": ";
    double kelvins_away = 650.0;  // more than the image holds
    double years = 180.0;
    for (std::size_t i = 0; i < r.ranges.size(); ++i) {
        const calibration::use_conditions& use = use_of(r, i, by);
        kelvins_away = std::min(kelvins_away, use.temperature_half_width.value());
        years = std::min(years, use.years);
        if (r.ranges[i].ambient == r.ambient.temperature) continue;
        throw bad_input(place_of(r, i) + "/ambient", fmt::format("found {} degC", r.ranges[i].ambient.degrees),
                        fmt::format("{} degC, the temperature of the record", r.ambient.temperature.degrees),
                        "an image has one temperature of calibration: make a record for each");
    }
    constexpr std::int64_t last_possible = embedded::unknown_day - 1;
    const std::int64_t first = day_of(r.dates.begun);
    if (first < 0 || first > last_possible) {
        throw bad_input(where + "/dates/begun", "found " + r.dates.begun, "a day from 2000-01-01 to 2179-06-05", session_remedy);
    }
    const auto days = static_cast<std::int64_t>(std::floor(years * 365.0));
    const double centre = std::round(r.ambient.temperature.degrees * 100.0);
    within.centikelvin = static_cast<std::uint16_t>(std::floor(kelvins_away * 100.0 + 1e-6));  // 8 K, not 7.99
    if (!(std::abs(centre) + within.centikelvin <= std::numeric_limits<std::int16_t>::max())) {
        throw bad_input(where + "/ambient/temperature",
                        fmt::format("found {} degC and {} K about it", r.ambient.temperature.degrees, kelvins_away),
                        "temperatures from -327.67 to 327.67 degC", session_remedy);
    }
    embedded::validity holds{};
    holds.first_day = static_cast<std::uint16_t>(first);
    holds.last_day = static_cast<std::uint16_t>(std::min(first + days, last_possible));
    within.days = static_cast<std::uint16_t>(holds.last_day - holds.first_day);
    holds.temperature = static_cast<std::int16_t>(centre);
    holds.lowest_temperature = static_cast<std::int16_t>(centre - within.centikelvin);
    holds.highest_temperature = static_cast<std::int16_t>(centre + within.centikelvin);
    return holds;
}

embedded::identity identity_of(const record::record& r, const embedded::validity& holds) {
    const std::string where = "record " + r.number + ": ";
    embedded::identity of{};
    put_text(of.model, sizeof of.model, r.device.model, where + "/device/model");
    put_text(of.serial, sizeof of.serial, r.device.serial, where + "/device/serial");
    put_text(of.record, sizeof of.record, r.number, where + "/number");
    const std::string digest = record::sections_digest(r);
    for (std::size_t i = 0; i < sizeof of.digest; ++i)
        std::from_chars(digest.data() + 2 * i, digest.data() + 2 * i + 2, of.digest[i], 16);
    const double coverage = std::round(r.coverage_probability * 1e4);
    if (!(coverage >= 1.0 && coverage <= 9999.0)) {
        throw bad_input(where + "/coverage_probability", fmt::format("found {}", r.coverage_probability), "0.0001 to 0.9999",
                        session_remedy);
    }
    of.coverage = static_cast<std::uint16_t>(coverage);
    of.ranges = static_cast<std::uint8_t>(r.ranges.size());
    of.holds = holds;
    return of;
}

std::vector<place> places_for(const record::record& r, const settings& by) {
    const std::string where = "record " + r.number + ": /ranges";
    constexpr std::size_t most = std::numeric_limits<std::uint8_t>::max();
    if (r.ranges.size() > most)
        throw bad_input(where, fmt::format("found {} ranges", r.ranges.size()), fmt::format("at most {}", most), session_remedy);
    std::vector<place> places = by.places.empty() ? usual_places(r) : by.places;
    if (places.size() != r.ranges.size()) {
        throw bad_input(where, fmt::format("found {} places for {} ranges", places.size(), r.ranges.size()), "one for each",
                        "give each range a channel, a number and a mode");
    }
    for (auto p = places.begin(); p != places.end(); ++p) {
        if (std::find(places.begin(), p, *p) == p) continue;
        throw bad_input(where, fmt::format("found two ranges for channel {}, number {}, mode {}", p->channel, p->number, p->mode),
                        "a place of its own for each", "give each range a channel, a number and a mode");
    }
    return places;
}

}  // namespace

std::vector<place> usual_places(const record::record& r) {
    // where a value stands among the different ones seen so far, in their order
    const auto number_in = [](auto& seen, const auto& value) {
        const auto at = std::find(seen.begin(), seen.end(), value) - seen.begin();
        if (static_cast<std::size_t>(at) == seen.size()) seen.push_back(value);
        return static_cast<std::size_t>(at);
    };
    std::vector<std::string> channels;
    std::vector<std::vector<std::string>> ranges;
    std::vector<front_end::mode> modes;
    std::vector<place> places;
    for (const calibration::range_calibration& range : r.ranges) {
        const std::size_t channel = number_in(channels, range.channel);
        ranges.resize(channels.size());
        places.push_back({static_cast<std::uint8_t>(channel), static_cast<std::uint8_t>(number_in(ranges[channel], range.range)),
                          static_cast<std::uint16_t>(number_in(modes, range.mode))});
    }
    return places;
}

made_image make_image(const record::record& r, const settings& by) {
    if (r.what != record::kind::instrument) {
        throw bad_input("record " + r.number + ": /kind", "found the record of a probe", "that of an instrument",
                        "make the image from the record of the instrument");
    }
    const std::vector<place> places = places_for(r, by);
    static_cast<void>(record::sections_digest(r));  // refuses what is no sound record, before its dates are trusted
    reach within;
    const embedded::validity holds = validity_of(r, by, within);
    made_image made;
    made.what.whose = identity_of(r, holds);
    for (std::size_t i = 0; i < r.ranges.size(); ++i) {
        range_image range = make_range(r, r.ranges[i], use_of(r, i, by), places[i], within, place_of(r, i));
        made.what.ranges.push_back(range.what);
        made.statements.push_back(std::move(range.statement));
    }
    static_cast<void>(encode(made.what));
    return made;
}

bytes encode(const content& what) {
    bytes image(embedded::image_size(what.whose.ranges));
    const bool fits = what.ranges.size() == what.whose.ranges;
    if (!fits || embedded::encode(what.whose, what.ranges.data(), image.data(), image.size()) != image.size()) {
        throw bad_input("image", fmt::format("found {} ranges and figures that its reader would refuse", what.ranges.size()),
                        "figures within the limits of embedded/IMAGE.md", "make the image from a record");
    }
    return image;
}

content decode(std::span<const std::uint8_t> image, const std::string& from) {
    const auto refuse = [&](const std::string& found, const std::string& expected, const std::string& remedy) {
        throw bad_input(from, found, expected, remedy);
    };
    const char* again = "read it from the instrument once more, or store the image anew";
    switch (embedded::check(image.data(), image.size())) {
        case embedded::image_fault::none:
            break;
        case embedded::image_fault::not_an_image:
            refuse(fmt::format("found {} bytes that are no image", image.size()), "an image, which begins with \"PLBI\"",
                   "read from where the instrument keeps its image, or store one");
            break;
        case embedded::image_fault::newer_format:
            refuse(fmt::format("found an image of format {}", embedded::format_of(image.data())),
                   fmt::format("at most format {}", embedded::image_format), "read it with a newer library");
            break;
        case embedded::image_fault::wrong_size:
            refuse(fmt::format("found {} bytes", image.size()),
                   fmt::format("the {} that the image says it has", embedded::byte_reader(image.data() + 6).u16()), again);
            break;
        case embedded::image_fault::damaged:
            refuse("found that its CRC does not fit", "an image as it was written", again);
            break;
        case embedded::image_fault::bad_content:
            refuse("found a value that is not allowed", "values within the limits of embedded/IMAGE.md",
                   "make the image anew from its record");
            break;
    }
    content what;
    what.whose = embedded::read_identity(image.data());
    for (std::uint8_t i = 0; i < what.whose.ranges; ++i) what.ranges.push_back(embedded::read_range(image.data(), i));
    return what;
}

}  // namespace plumbline::inline v0::image
