#include <plumbline/image/comparison.hpp>

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "example_image_record.hpp"

#include <cstdint>
#include <plumbline/capture/digest.hpp>
#include <plumbline/error.hpp>
#include <plumbline/image/formats.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <random>
#include <string>
#include <vector>

namespace comparison_test {

namespace {

using namespace plumbline;
using example_image_record::one_line;
using image::compare;
using image::verdict;

const image::bytes& stored() {
    static const image::bytes bytes = image::encode(image::make_image(one_line()).what);
    return bytes;
}

/// A year later: another number, other dates.
record::record next_year() {
    record::record r = one_line();
    r.number = "PS2-0007-2026-03";
    r.dates = {"", "2026-03-10", "2026-03-10", "2026-03-11"};
    return r;
}

/// The stored image with a figure changed and a CRC that fits.
template <class Change>
image::bytes edited(const Change& change) {
    image::content what = image::decode(stored(), "image");
    change(what);
    return image::encode(what);
}

template <class Change>
record::record changed(const Change& change) {
    record::record r = one_line();
    change(r);
    return r;
}

}  // namespace

TEST_CASE("what was stored is the same, whichever other records lie beside and whatever erased flash follows") {
    CHECK(compare(stored(), {one_line()}).what == verdict::same);
    CHECK(compare(stored(), {one_line()}).record == "PS2-0007-2025-03");
    CHECK(compare(stored(), {one_line()}).sentence ==
          "The instrument holds the adjustment of record PS2-0007-2025-03, byte for byte.");
    const record::record other = changed([](record::record& r) { r.device.serial = "0008"; });
    record::record older = next_year();
    older.dates = {"", "2024-03-10", "2024-03-10", "2024-03-11"};
    CHECK(compare(stored(), {other, older, one_line()}).what == verdict::same);
    image::bytes flash = stored();
    flash.resize(1024, 0xff);
    CHECK(compare(flash, {one_line()}).what == verdict::same);
    flash.back() = 0;
    CHECK(compare(flash, {one_line()}).what == verdict::unreadable);
}

TEST_CASE("a newer record of the instrument makes what is stored older" * doctest::skip(slow::build)) {
    const image::comparison c = compare(stored(), {next_year(), one_line()});
    CHECK(c.what == verdict::older);
    CHECK(c.sentence ==
          "The instrument holds the adjustment of record PS2-0007-2025-03 of 2025-03-15, and record PS2-0007-2026-03 of "
          "2026-03-10 is "
          "newer: store the newest.");
    CHECK(compare(image::encode(image::make_image(next_year()).what), {next_year(), one_line()}).what == verdict::same);
    const record::record amended = changed([](record::record& r) {
        r.replaces = r.number;
        r.number = "PS2-0007-2025-03a";
        r.reason = "owner's address";
    });
    CHECK(compare(stored(), {one_line(), amended}).what == verdict::older);
}

TEST_CASE("an adjustment under another plus-or-minus is told from the same" * doctest::skip(slow::build)) {
    const image::bytes optimist = edited([](image::content& what) { what.ranges[0].uncertainty.floor /= 2; });
    const image::comparison c = compare(optimist, {one_line()});
    CHECK(c.what == verdict::other_budget);
    CHECK(c.sentence ==
          "The instrument corrects as record PS2-0007-2025-03 does, but its plus-or-minus, validity or names are others. The "
          "record is "
          "the one that it was made from, so the image was edited or made with other settings; store the record's image.");
    CHECK(compare(edited([](image::content& what) { what.whose.holds.last_day += 365; }), {one_line()}).what ==
          verdict::other_budget);

    const image::comparison record_changed =
        compare(stored(), {changed([](record::record& r) { r.ranges[0].in_use->years = 3.0; })});
    CHECK(record_changed.what == verdict::other_budget);
    CHECK(record_changed.sentence ==
          "The instrument corrects as record PS2-0007-2025-03 does, but its plus-or-minus, validity or names are others. Record "
          "or image "
          "was edited since the image was made; store the record's image.");
}

TEST_CASE("an adjustment that was edited is named with what it makes of a code" * doctest::skip(slow::build)) {
    const image::comparison c = compare(edited([](image::content& what) { what.ranges[0].line.gain += 1; }), {one_line()});
    CHECK(c.what == verdict::edited);
    CHECK(c.sentence ==
          "The instrument's image names record PS2-0007-2025-03 but corrects otherwise: its \"A 10 V\" makes 10.003915 V of code "
          "3915, the record 10.000000 V; codes in range are 193 to 3915, by the record 193 to 3915. The record is the one that "
          "it was made from, so the image was edited or made for other numbers of channels, ranges and modes; store the record's "
          "image.");
    CHECK(compare(edited([](image::content& what) { what.ranges[0].line.offset_fraction ^= 1; }), {one_line()}).what ==
          verdict::edited);
    CHECK(compare(edited([](image::content& what) { what.ranges[0].line.last_code -= 1; }), {one_line()}).what ==
          verdict::edited);
    const image::comparison moved = compare(edited([](image::content& what) { what.ranges[0].channel = 1; }), {one_line()});
    CHECK(moved.what == verdict::edited);
    CHECK(moved.sentence ==
          "The instrument's image names record PS2-0007-2025-03 but corrects otherwise: its \"A 10 V\" stands at channel 1, "
          "range 0, mode 0, "
          "that of the record at 0, 0, 0. The record is the one that it was made from, so the image was edited or made for other "
          "numbers of "
          "channels, ranges and modes; store the record's image.");
    const image::comparison fewer = compare(edited([](image::content& what) {
                                                what.ranges.push_back(what.ranges[0]);
                                                what.ranges[1].number = 1;
                                                what.whose.ranges = 2;
                                            }),
                                            {one_line()});
    CHECK(fewer.what == verdict::edited);
    CHECK(fewer.sentence.find("corrects otherwise: it has 2 ranges, the record 1.") != std::string::npos);
}

TEST_CASE("a record that is not at hand and an instrument that is not are told apart") {
    const image::comparison no_record = compare(stored(), {next_year()});
    CHECK(no_record.what == verdict::unknown_record);
    CHECK(no_record.record == "PS2-0007-2025-03");
    CHECK(no_record.sentence ==
          "The instrument holds the adjustment of record PS2-0007-2025-03, which is not among those given: give that record, or "
          "store the "
          "image of one of these.");
    const image::comparison no_instrument = compare(stored(), {changed([](record::record& r) { r.device.serial = "0008"; })});
    CHECK(no_instrument.what == verdict::other_instrument);
    CHECK(no_instrument.sentence ==
          "The image is that of instrument PS-2 0007, from its record PS2-0007-2025-03; none of the records given is of that "
          "instrument: "
          "give its records, or see which instrument is connected.");
    CHECK(compare(stored(), {}).what == verdict::other_instrument);
}

TEST_CASE("of two copies of a record the one that was stored is found" * doctest::skip(slow::build)) {
    const record::record copy = changed([](record::record& r) { r.ranges[0].in_use->years = 3.0; });
    CHECK(compare(stored(), {copy, one_line()}).what == verdict::same);
}

TEST_CASE("an image that cannot be read says why") {
    CHECK(compare({}, {one_line()}).sentence ==
          "The instrument's image: found 0 bytes that are no image, expected an image, which begins with \"PLBI\"; read from "
          "where the "
          "instrument keeps its image, or store one.");
    CHECK(compare({}, {one_line()}).what == verdict::unreadable);
}

TEST_CASE("no image with a wrong byte, or two, or cut anywhere, is taken for the same") {
    std::mt19937_64 random(13);
    const std::vector<record::record> records{one_line()};
    for (int i = 0; i < slow::repetitions(20000); ++i) {
        image::bytes bytes = stored();
        bytes[random() % bytes.size()] ^= static_cast<std::uint8_t>(1 + random() % 255);
        if (i % 2 == 0) bytes[random() % bytes.size()] ^= static_cast<std::uint8_t>(1 + random() % 255);
        if (bytes == stored()) continue;
        REQUIRE(compare(bytes, records).what != verdict::same);
    }
    for (std::size_t size = 0; size < stored().size(); size += slow::one_in) {
        const image::bytes cut(stored().begin(), stored().begin() + static_cast<std::ptrdiff_t>(size));
        REQUIRE(compare(cut, records).what == verdict::unreadable);
    }
}

TEST_CASE("the image of the shipped record is the same after a journey through Intel HEX") {
    using namespace example_image_record;
    const image::bytes bytes = image::encode(shipped_image().what);
    const image::bytes back = image::from_file(image::intel_hex(bytes, 0x0801F000), "back.hex");
    CHECK(compare(back, {shipped()}, shipped_settings()).what == verdict::same);
}

TEST_CASE("a check is appended to the record, outside of its digest and of the image made from it") {
    const record::record checked = image::with_check(one_line(), stored(), "2025-03-17");
    REQUIRE(checked.stored.size() == 1);
    CHECK(checked.stored[0].date == "2025-03-17");
    CHECK(checked.stored[0].same);
    CHECK(checked.stored[0].image_sha256 == capture::sha256_hex(image::raw(stored())));
    CHECK(checked.stored[0].result == compare(stored(), {one_line()}).sentence);
    CHECK(record::sections_digest(checked) == record::sections_digest(one_line()));
    CHECK(image::encode(image::make_image(checked).what) == stored());

    const record::record twice =
        image::with_check(checked, edited([](image::content& what) { what.ranges[0].line.gain += 1; }), "2025-06-01");
    REQUIRE(twice.stored.size() == 2);
    CHECK(twice.stored[0] == checked.stored[0]);
    CHECK_FALSE(twice.stored[1].same);
    CHECK(compare(stored(), {twice}).what == verdict::same);
    CHECK(record::from_json(to_json(twice), "r.json") == twice);
}

TEST_CASE("a check dated before the calibration or before the last check is refused") {
    const auto refusal = [](const record::record& r, const std::string& date) {
        try {
            static_cast<void>(image::with_check(r, stored(), date));
        } catch (const bad_input& refused) {
            return std::string(refused.what());
        }
        return std::string();
    };
    CHECK(
        refusal(one_line(), "2025-03-14") ==
        "record PS2-0007-2025-03: /stored: found a check of \"2025-03-14\", expected a day not before 2025-03-15, the end of the "
        "calibration; correct the date");
    CHECK(refusal(image::with_check(one_line(), stored(), "2025-06-01"), "2025-05-31") ==
          "record PS2-0007-2025-03: /stored: found a check of \"2025-05-31\", expected a day not before 2025-06-01, that of the "
          "check "
          "before; correct the date");
}

}  // namespace comparison_test
