#include <plumbline/image/stored.hpp>

#include <doctest/doctest.h>

#include "embedded/example_image.hpp"
#include "embedded/simulated_flash.hpp"
#include "message.hpp"

#include <algorithm>
#include <cstdint>
#include <plumbline/image/formats.hpp>
#include <vector>

namespace stored_test {

namespace {

using namespace plumbline;
using image::newest;
using image::stored;
using refused::message;

image::bytes example() { return example_image::bytes(); }

/// What firmware finds that starts on this flash, with slots of 512 bytes and pages of 256.
image::bytes found_by_firmware(simulated_flash& flash, std::uint8_t granularity) {
    image::bytes found(512);
    embedded::store<simulated_flash> slots(flash, {{0, 512}, 512, 256, granularity});
    found.resize(slots.load(found.data(), found.size()));
    return found;
}

}  // namespace

TEST_CASE("firmware that starts on flash programmed from Intel HEX finds the image, and stores the next one beside it") {
    for (const std::uint8_t granularity : {std::uint8_t{1}, std::uint8_t{2}, std::uint8_t{4}, std::uint8_t{8}}) {
        CAPTURE(granularity);
        const std::string hex = image::intel_hex(stored(example(), {512, granularity}), 0x0801F000);
        const image::placed_bytes placed = image::from_intel_hex(hex, "flash.hex");
        REQUIRE(placed.address == 0x0801F000);
        REQUIRE(placed.what.size() == 1024);

        simulated_flash flash(1024, 256, granularity);
        flash.cells = placed.what;
        CHECK(found_by_firmware(flash, granularity) == example());
        embedded::store<simulated_flash> slots(flash, {{0, 512}, 512, 256, granularity});
        CHECK(slots.erases() == 1);
        const image::bytes next = example_image::bytes(3);
        CHECK(slots.save(next.data(), next.size()) == embedded::save_result::saved);
        CHECK(found_by_firmware(flash, granularity) == next);
        CHECK(newest(flash.cells, {512, granularity}, "dump.bin") == next);
        flash.cells[512 + 40] =
            static_cast<std::uint8_t>(flash.cells[512 + 40] ^ 1U);  // rotten: the programmed one is still there
        CHECK(newest(flash.cells, {512, granularity}, "dump.bin") == example());
    }
}

TEST_CASE("the first slot begins with the commit word and the header of store.hpp, the second is erased") {
    const image::bytes flash = stored(example(), {512});
    CHECK(std::all_of(flash.begin(), flash.begin() + 8, [](std::uint8_t byte) { return byte == 0; }));
    CHECK(embedded::byte_reader(flash.data() + 8).u32() == 1);     // sequence
    CHECK(embedded::byte_reader(flash.data() + 12).u32() == 1);    // erases
    CHECK(embedded::byte_reader(flash.data() + 16).u32() == 380);  // size
    CHECK(image::bytes(flash.begin() + 32, flash.begin() + 32 + 380) == example());
    CHECK(std::all_of(flash.begin() + 32 + 380, flash.end(), [](std::uint8_t byte) { return byte == 0xff; }));
}

TEST_CASE("the image alone, where a slot should be, is not found") {
    image::bytes alone = example();
    alone.resize(1024, 0xff);
    CHECK(newest(alone, {512}, "dump.bin").empty());
    CHECK(newest(image::bytes(1024, 0xff), {512}, "dump.bin").empty());
}

TEST_CASE("slots that cannot be, and a dump of another size, are refused by name") {
    CHECK(message([] { return stored(example(), {408}); }) ==
          "slots: found slots of 408 bytes, expected at least 412 for an image of 380 bytes; give the firmware more pages for "
          "each slot");
    CHECK(stored(example(), {416}).size() == 832);
    CHECK(message([] {
              return stored(example(), {512, 3});
          }) == "slots: found a granularity of 3 bytes, expected 1, 2, 4 or 8; see how many bytes the flash programs at once");
    for (const std::uint32_t size : {0U, 32U, 513U, (1U << 24U) + 8U, 0xFFFFFFF8U})
        CHECK(message([&] { return stored(example(), {size}); }) ==
              "slots: found a slot of " + std::to_string(size) +
                  " bytes, expected a multiple of 8 above 32, at most 16777216; "
                  "give the size that the firmware's store_layout says, "
                  "whole pages of its flash");
    CHECK(message([] { return newest(image::bytes(1023, 0xff), {512}, "dump.bin"); }) ==
          "dump.bin: found 1023 bytes, expected 1024, two slots of 512 bytes; read both slots, from the beginning of the first "
          "to the "
          "end of the second");
}

}  // namespace stored_test
