#include <plumbline/embedded/image.hpp>

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "example_image.hpp"

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <functional>
#include <limits>
#include <random>
#include <string>
#include <vector>

namespace embedded_image_test {

namespace emb = plumbline::embedded;
using emb::image_fault;
using bytes = std::vector<std::uint8_t>;

namespace {

image_fault check(const bytes& image) { return emb::check(image.data(), image.size()); }

void put_crc(bytes& image) { emb::byte_writer(image.data() + image.size() - 4).u32(emb::crc32(image.data(), image.size() - 4)); }

/// What check says of the example image with these changes and a CRC that fits.
image_fault with(const std::function<void(bytes&)>& change) {
    bytes image = example_image::bytes();
    change(image);
    put_crc(image);
    return check(image);
}

bytes encoded_again(const bytes& image) {
    const emb::identity of = emb::read_identity(image.data());
    std::vector<emb::range> ranges;
    for (std::uint8_t i = 0; i < of.ranges; ++i) ranges.push_back(emb::read_range(image.data(), i));
    bytes again(image.size());
    again.resize(emb::encode(of, ranges.data(), again.data(), again.size()));
    return again;
}

}  // namespace

TEST_CASE("the CRC of the nine digits is its published check value") {
    // IEEE 802.3 / ITU-T V.42 polynomial; the check value as lists of CRCs print it
    const std::uint8_t text[9] = {'1', '2', '3', '4', '5', '6', '7', '8', '9'};
    CHECK(emb::crc32(text, 9) == 0xCBF43926);
    CHECK(emb::crc32(text + 4, 5, emb::crc32(text, 4)) == 0xCBF43926);
    CHECK(emb::crc32(text, 0) == 0);
}

TEST_CASE("two channels of two ranges take no more than 384 bytes") {
    CHECK(example_image::bytes().size() == 380);
    CHECK(check(example_image::bytes()) == image_fault::none);
}

TEST_CASE("what was encoded is read back, field by field") {
    const bytes image = example_image::bytes();
    const emb::identity in = example_image::identity();
    const emb::identity out = emb::read_identity(image.data());
    CHECK(std::string(out.model) == "Pocket Scope 2");
    CHECK(std::string(out.serial) == "PS2-0007");
    CHECK(std::string(out.record) == "PS2-0007-2025-03");
    CHECK(std::equal(in.digest, in.digest + 32, out.digest));
    CHECK(out.coverage == 9545);
    CHECK(out.ranges == 4);
    CHECK(out.holds.first_day == 9191);
    CHECK(out.holds.last_day == 9556);
    CHECK(out.holds.temperature == 2310);
    CHECK(out.holds.lowest_temperature == 1500);
    CHECK(out.holds.highest_temperature == 3500);
    for (std::uint8_t i = 0; i < 4; ++i) {
        const emb::range a = example_image::ranges()[i];
        const emb::range b = emb::read_range(image.data(), i);
        CHECK(a.channel == b.channel);
        CHECK(a.number == b.number);
        CHECK(a.mode == b.mode);
        CHECK(std::string(a.name) == b.name);
        CHECK(a.line.gain == b.line.gain);
        CHECK(a.line.gain_fraction == b.line.gain_fraction);
        CHECK(a.line.offset == b.line.offset);
        CHECK(a.line.offset_fraction == b.line.offset_fraction);
        CHECK(a.line.first_code == b.line.first_code);
        CHECK(a.line.last_code == b.line.last_code);
        CHECK(a.uncertainty.floor == b.uncertainty.floor);
        CHECK(a.uncertainty.slope == b.uncertainty.slope);
        CHECK(a.uncertainty.centre == b.uncertainty.centre);
        CHECK(a.uncertainty.noise == b.uncertainty.noise);
        CHECK(a.uncertainty.most_samples == b.uncertainty.most_samples);
        CHECK(a.uncertainty.per_kelvin.floor == b.uncertainty.per_kelvin.floor);
        CHECK(a.uncertainty.per_kelvin.slope == b.uncertainty.per_kelvin.slope);
        CHECK(a.uncertainty.per_year.floor == b.uncertainty.per_year.floor);
        CHECK(a.uncertainty.per_year.slope == b.uncertainty.per_year.slope);
    }
    CHECK(encoded_again(image) == image);
}

TEST_CASE("the bytes stand where IMAGE.md says") {
    const bytes image = example_image::bytes();
    const auto u16 = [&](std::size_t at) { return image[at] + 256 * image[at + 1]; };
    const auto u32 = [&](std::size_t at) { return u16(at) + 65536LL * u16(at + 2); };
    const auto text = [&](std::size_t at, std::size_t size) {
        std::string found;
        for (std::size_t i = at; i < at + size && image[i] != 0; ++i) found += static_cast<char>(image[i]);
        return found;
    };
    CHECK(text(0, 4) == "PLBI");
    CHECK(u16(4) == 1);
    CHECK(u16(6) == 380);
    CHECK(image[8] == 4);
    CHECK(image[9] == 0);
    CHECK(u16(10) == 9545);
    CHECK(u16(12) == 9191);
    CHECK(u16(14) == 9556);
    CHECK(u16(16) == 2310);
    CHECK(u16(18) == 1500);
    CHECK(u16(20) == 3500);
    CHECK(u16(22) == 0);
    CHECK(text(24, 16) == "Pocket Scope 2");
    CHECK(text(40, 16) == "PS2-0007");
    CHECK(text(56, 32) == "PS2-0007-2025-03");
    CHECK(image[88] == 11);
    CHECK(image[119] == (37 * 31 + 11) % 256);
    const std::size_t last = 120 + 3 * 64;
    CHECK(image[last] == 1);
    CHECK(image[last + 1] == 1);
    CHECK(u16(last + 2) == 3);
    CHECK(u16(last + 4) == 1);
    CHECK(u16(last + 6) == 4094);
    CHECK(u32(last + 8) == 10024);
    CHECK(u32(last + 12) == (1LL << 32) - 10264583);
    CHECK(u16(last + 16) == 12346);
    CHECK(u16(last + 18) == 778);
    CHECK(u32(last + 20) == 16 * 2800);
    CHECK(u32(last + 24) == 4300000);
    CHECK(u32(last + 28) == (1LL << 32) - 150000);
    CHECK(u32(last + 32) == 16 * 5100);
    CHECK(u32(last + 36) == 16 * 90 + 1);
    CHECK(u32(last + 40) == 214748);
    CHECK(u32(last + 44) == 16 * 450 + 2);
    CHECK(u32(last + 48) == 858993);
    CHECK(u16(last + 52) == 400);
    CHECK(text(last + 54, 10) == "B 20 V");
    CHECK(u32(376) == emb::crc32(image.data(), 376));
}

TEST_CASE("every cut and every added byte is refused") {
    const bytes image = example_image::bytes();
    for (std::size_t size = 0; size < image.size(); ++size) {
        const bytes cut(image.begin(), image.begin() + static_cast<long>(size));
        CHECK(check(cut) == (size < 8 ? image_fault::not_an_image : image_fault::wrong_size));
    }
    bytes longer = image;
    longer.push_back(0);
    CHECK(check(longer) == image_fault::wrong_size);
}

TEST_CASE("every one and every two wrong bits of an image of one range are refused") {
    bytes image = example_image::bytes(1);
    const std::size_t size = image.size() * 8;
    const auto flip = [&](std::size_t bit) { image[bit / 8] = static_cast<std::uint8_t>(image[bit / 8] ^ (1U << bit % 8)); };
    long accepted = 0;
    for (std::size_t i = 0; i < size; i += slow::one_in) {
        flip(i);
        if (check(image) == image_fault::none) ++accepted;
        for (std::size_t j = i + 1; j < size; ++j) {
            flip(j);
            if (check(image) == image_fault::none) ++accepted;
            flip(j);
        }
        flip(i);
    }
    CHECK(accepted == 0);
    CHECK(check(image) == image_fault::none);
}

TEST_CASE("in the largest image no one or two wrong bits leave the CRC fitting") {
    // The CRC is affine: a wrong bit changes it by a pattern that depends on its place alone. All patterns differ and none is
    // zero, so no pair cancels. Bits of the CRC itself change it by one bit each.
    const std::size_t size = emb::image_size(255);
    bytes zeros(size - 4);
    const std::uint32_t before = emb::crc32(zeros.data(), zeros.size());
    std::vector<std::uint32_t> patterns = {0};
    for (int bit = 0; bit < 32; ++bit) patterns.push_back(1U << bit);
    // A wrong bit further in front goes through more zeros: one step of the register each. Checked against the whole below.
    std::uint8_t one = 0x80;
    const std::uint8_t zero = 0;
    std::uint32_t pattern = emb::crc32(&one, 1) ^ emb::crc32(&zero, 1);
    for (std::size_t bit = 0; bit < zeros.size() * 8; ++bit) {
        patterns.push_back(pattern);
        if (bit % 9973 == 0) {
            const std::size_t at = zeros.size() - 1 - bit / 8;
            zeros[at] = static_cast<std::uint8_t>(0x80U >> bit % 8);
            REQUIRE((emb::crc32(zeros.data(), zeros.size()) ^ before) == pattern);
            zeros[at] = 0;
        }
        pattern = (pattern >> 1) ^ ((pattern & 1) != 0 ? 0xEDB88320U : 0);
    }
    std::sort(patterns.begin(), patterns.end());
    CHECK(patterns.size() == size * 8 + 1);
    CHECK(std::adjacent_find(patterns.begin(), patterns.end()) == patterns.end());
}

TEST_CASE("a million random images are refused, whether they look like one or not") {
    std::mt19937_64 bits(17);
    long accepted = 0;
    for (int i = 0; i < slow::repetitions(1000000); ++i) {
        const auto ranges = static_cast<std::uint8_t>(i % 64 == 0 ? 4 : 1);
        bytes image(i % 4 == 3 ? bits() % 400 : emb::image_size(ranges));
        for (std::size_t at = 0; at < image.size(); at += 8) {
            const std::uint64_t random = bits();
            std::memcpy(image.data() + at, &random, std::min<std::size_t>(8, image.size() - at));
        }
        if (i % 4 != 3) {  // right in front, so that the CRC decides
            emb::byte_writer to(image.data());
            to.take({'P', 'L', 'B', 'I'});
            to.u16(1);
            to.u16(static_cast<std::uint16_t>(image.size()));
        }
        if (check(image) == image_fault::none) ++accepted;
    }
    CHECK(accepted == 0);
}

TEST_CASE("random content under a fitting CRC is refused or means what it says when written again") {
    std::mt19937_64 bits(19);
    const bytes example = example_image::bytes(2);
    int accepted = 0;
    for (int i = 0; i < slow::repetitions(100000); ++i) {
        bytes image = example;
        for (std::uint64_t changes = 1 + bits() % 6; changes > 0; --changes)
            image[8 + bits() % (image.size() - 12)] = static_cast<std::uint8_t>(bits());
        put_crc(image);
        const image_fault fault = check(image);
        if (fault != image_fault::none) {
            REQUIRE(fault == image_fault::bad_content);
            continue;
        }
        ++accepted;
        REQUIRE(encoded_again(image) == image);
        // nothing that a whole image holds makes a reading undefined
        const emb::identity of = emb::read_identity(image.data());
        const emb::range one = emb::read_range(image.data(), static_cast<std::uint8_t>(bits() % of.ranges));
        emb::samples sampled;
        for (int n = 0; n < 3; ++n) sampled.add(one.line, static_cast<std::uint16_t>(bits()));
        const emb::reading r =
            emb::read(one, of.holds, {one.mode, static_cast<std::int16_t>(bits()), static_cast<std::uint16_t>(bits())}, sampled);
        REQUIRE((r.what == emb::status::ok) == (r.plus_or_minus != 0));
    }
    CHECK(accepted > slow::repetitions(1000));
}

TEST_CASE("a newer format is refused as such, before its size and CRC are looked at") {
    bytes image = example_image::bytes();
    image[4] = 2;
    CHECK(check(image) == image_fault::newer_format);
    CHECK(emb::format_of(image.data()) == 2);
    image.resize(20);
    CHECK(check(image) == image_fault::newer_format);
    CHECK(with([](bytes& b) { b[4] = 0; }) == image_fault::bad_content);
}

TEST_CASE("blank flash and foreign bytes are not an image") {
    CHECK(check(bytes(380, 0xFF)) == image_fault::not_an_image);
    CHECK(check(bytes(380, 0x00)) == image_fault::not_an_image);
    CHECK(emb::check(nullptr, 0) == image_fault::not_an_image);
    for (std::size_t i = 0; i < 4; ++i) CHECK(with([&](bytes& b) { b[i] = 'x'; }) == image_fault::not_an_image);
}

TEST_CASE("a value that is not allowed is refused though the CRC fits") {
    const auto set16 = [](std::size_t at, std::uint16_t value) {
        return with([=](bytes& b) { emb::byte_writer(b.data() + at).u16(value); });
    };
    const auto set32 = [](std::size_t at, std::uint32_t value) {
        return with([=](bytes& b) { emb::byte_writer(b.data() + at).u32(value); });
    };
    const image_fault bad = image_fault::bad_content;
    CHECK(with([](bytes&) {}) == image_fault::none);
    CHECK(with([](bytes& b) { b[8] = 3; }) == bad);
    CHECK(with([](bytes& b) { b[8] = 5; }) == bad);
    CHECK(with([](bytes& b) { b[8] = 0; }) == bad);
    CHECK(with([](bytes& b) { b[9] = 1; }) == bad);
    CHECK(with([](bytes& b) { b[22] = 1; }) == bad);
    CHECK(with([](bytes& b) { b[23] = 1; }) == bad);
    CHECK(set16(10, 0) == bad);
    CHECK(set16(10, 10000) == bad);
    CHECK(set16(12, 9557) == bad);
    CHECK(set16(12, 9556) == image_fault::none);
    CHECK(set16(14, 65535) == bad);
    CHECK(set16(16, 3501) == bad);
    CHECK(set16(16, 1499) == bad);
    CHECK(set16(18, 0x8000) == bad);
    CHECK(with([](bytes& b) { b[30] = '\n'; }) == bad);
    CHECK(with([](bytes& b) { b[30] = 0x7F; }) == bad);
    CHECK(with([](bytes& b) { b[39] = 'x'; }) == bad);
    CHECK(with([](bytes& b) { std::fill(b.begin() + 40, b.begin() + 56, std::uint8_t{0}); }) == bad);
    CHECK(with([](bytes& b) { b[87] = 'x'; }) == bad);
    CHECK(with([](bytes& b) { b[121] = 1; }) == bad);  // the same place as the second range
    CHECK(set16(124, 4095) == bad);
    CHECK(set32(128, 1U << 30) == bad);
    CHECK(set32(132, 0x7FFFFFFF) == bad);
    CHECK(set32(140, 0) == bad);
    CHECK(set32(140, (1U << 30) + 1) == bad);
    CHECK(set32(152, (1U << 30) + 1) == bad);
    CHECK(set16(172, 0) == bad);
    CHECK(with([](bytes& b) { b[183] = 'x'; }) == bad);
}

TEST_CASE("what check would refuse is not encoded, nor what does not fit") {
    std::uint8_t image[384] = {};
    emb::identity of = example_image::identity();
    CHECK(emb::encode(of, example_image::ranges().data(), image, sizeof image) == 380);
    CHECK(emb::encode(of, example_image::ranges().data(), image, 380) == 380);
    CHECK(emb::encode(of, example_image::ranges().data(), image, 379) == 0);
    of.coverage = 0;
    CHECK(emb::encode(of, example_image::ranges().data(), image, sizeof image) == 0);
    CHECK(emb::encode(example_image::identity(0), example_image::ranges().data(), image, sizeof image) == 0);
}

TEST_CASE("an image is that of the instrument with its model and its serial number, to the last character") {
    const bytes image = example_image::bytes();
    const emb::identity whose = example_image::identity();
    CHECK(emb::is_of(image.data(), whose.model, whose.serial));
    for (std::size_t i = 0; i < 16; ++i) {
        emb::identity other = whose;
        other.model[i] = 'x';
        CHECK_FALSE(emb::is_of(image.data(), other.model, other.serial));
        other = whose;
        other.serial[i] = 'x';
        CHECK_FALSE(emb::is_of(image.data(), other.model, other.serial));
    }
}

TEST_CASE("an adjustment is found by channel, range and mode, and another mode is told from none at all") {
    const bytes image = example_image::bytes();
    std::uint8_t found = 77;
    CHECK(emb::find(image.data(), 0, 2, 3, found) == emb::status::not_calibrated);
    CHECK(emb::find(image.data(), 2, 0, 3, found) == emb::status::not_calibrated);
    CHECK(emb::find(image.data(), 0, 0, 4, found) == emb::status::other_mode);
    CHECK(found == 77);
    CHECK(emb::find(image.data(), 1, 0, 3, found) == emb::status::ok);
    CHECK(std::string(emb::read_range(image.data(), found).name) == "B 10 V");
    CHECK(emb::find(image.data(), 0, 1, 3, found) == emb::status::ok);
    CHECK(std::string(emb::read_range(image.data(), found).name) == "A 20 V");
}

}  // namespace embedded_image_test
