// The firmware of examples/firmware over its serial line: images stored, power cut, firmware upgraded. Needs FIRMWARE_FOLDER with
// instrument-1.elf and instrument-2.elf in the environment; line_test sets it.

#include <plumbline/embedded/words.h>
#include <plumbline/embedded/block.hpp>
#include <plumbline/embedded/image.hpp>

#include <doctest/doctest.h>

#include "embedded/example_image.hpp"
#include "emulated_instrument.hpp"

#include <plumbline/image/comparison.hpp>
#include <plumbline/image/formats.hpp>
#include <plumbline/image/stored.hpp>
#include <plumbline/record/json.hpp>

#include <chrono>
#include <cstdlib>
#include <random>
#include <string>
#include <thread>
#include <vector>

namespace emb = plumbline::embedded;
using bytes = std::vector<std::uint8_t>;

namespace {

constexpr std::uint16_t mode = 0;  // that of the firmware

std::string folder() {
    const char* set = std::getenv("FIRMWARE_FOLDER");
    REQUIRE(set != nullptr);
    return set;
}

std::string program(int version) { return folder() + "/instrument-" + std::to_string(version) + ".elf"; }

std::string block(const bytes& content) {
    char front[11];
    const std::size_t size = emb::put_block_header(front, static_cast<std::uint32_t>(content.size()));
    return std::string(front, size) + std::string(content.begin(), content.end());
}

std::string store(const bytes& image) { return PLUMBLINE_WORD_ADJUSTMENT " " + block(image) + "\n"; }

/// The example image with a record number of its own and another offset.
bytes image_number(int number) {
    emb::identity of = example_image::identity();
    const std::string record = "PS2-0007-" + std::to_string(number);
    std::fill(std::begin(of.record), std::end(of.record), '\0');
    std::copy(record.begin(), record.end(), of.record);
    std::vector<emb::range> ranges = example_image::ranges();
    for (emb::range& one : ranges) {
        one.line.offset += number;
        one.mode = mode;
    }
    bytes image(emb::image_size(of.ranges));
    image.resize(emb::encode(of, ranges.data(), image.data(), image.size()));
    REQUIRE(image.size() == 380);
    return image;
}

/// What the instrument must answer to "READ? 0,0" with this image: computed by the host from the same bytes.
std::string expected_reading(const bytes& image, std::uint16_t code) {
    const emb::range by = emb::read_range(image.data(), 0);
    emb::samples all;
    for (int i = 0; i < 64; ++i) all.add(by.line, static_cast<std::uint16_t>(code + (i % 4 == 1 ? 1 : i % 4 == 3 ? -1 : 0)));
    const emb::reading r = emb::read(by, emb::read_validity(image.data()), {mode, 2310, emb::unknown_day}, all);
    REQUIRE(r.what == emb::status::ok);
    return std::to_string(r.microvolts) + "," + std::to_string(r.plus_or_minus) + ",0";
}

}  // namespace

TEST_CASE("an image stored over the serial line outlives a power cut and an upgrade, and what is read back is what was sent") {
    flash_file flash(folder() + "/flash-stored.bin");
    const bytes image = image_number(1);
    {
        emulated_instrument fresh(program(1), flash);
        CHECK(fresh.ask("*IDN?") == "home-built,Pocket Scope 2,PS2-0007,1");
        CHECK(fresh.ask("READ? 0,0") == "0,0,2");
        CHECK(fresh.ask_block("ADJUSTMENT?").empty());
        fresh.send(store(image));
        CHECK(fresh.ask("*OPC?") == "1");
        CHECK(fresh.ask("FAULT?") == "0");
        CHECK(fresh.ask("READ? 0,0") == expected_reading(image, 2248));
        CHECK(fresh.ask_block("ADJUSTMENT?") == image);
    }
    for (const int version : {1, 2}) {
        emulated_instrument again(program(version), flash);
        CHECK(again.ask("*IDN?") == "home-built,Pocket Scope 2,PS2-0007," + std::to_string(version));
        CHECK(again.ask_block("ADJUSTMENT?") == image);
        flash.apply(0, static_cast<std::uint16_t>(3000 + version));
        CHECK(again.ask("READ? 0,0") == expected_reading(image, static_cast<std::uint16_t>(3000 + version)));
        CHECK(again.ask("WEAR?") == "1");
        CHECK(again.ask("*TST?") == "0");
    }
}

TEST_CASE("the instrument says why there is no reading, and refuses an image that is not whole") {
    flash_file flash(folder() + "/flash-refused.bin");
    emulated_instrument instrument(program(1), flash);
    const bytes good = image_number(2);
    instrument.send(store(good));
    CHECK(instrument.ask("READ? 0,2") == "0,0,2");
    CHECK(instrument.ask("READ? 7,0") == "0,0,2");
    flash.apply(0, 4095);
    CHECK(instrument.ask("READ? 0,0") == "0,0,1");
    flash.apply(0, 2248);

    bytes damaged = good;
    damaged[200] ^= 4;
    instrument.send(store(damaged));
    CHECK(instrument.ask("FAULT?") == "4");
    bytes newer = good;
    newer[4] = 2;
    instrument.send(store(newer));
    CHECK(instrument.ask("FAULT?") == "2");
    instrument.send(store(bytes(good.begin(), good.end() - 1)));
    CHECK(instrument.ask("FAULT?") == "3");
    CHECK(instrument.ask("*ESR?") == "144");  // power on, execution error
    CHECK(instrument.ask_block("ADJUSTMENT?") == good);
    CHECK(instrument.ask("READ? 0,0") == expected_reading(good, 2248));
    CHECK(instrument.ask("WEAR?") == "1");
}

TEST_CASE(
    "the adjustment of a record outlives a power cut and an upgrade of the firmware, and what is read back is the record's") {
    const std::vector<plumbline::record::record> records = {
        plumbline::record::read_record(PLUMBLINE_SOURCE_DIR "/cal_records/PS2-0007-2025-03.json")};
    const bytes image = plumbline::image::encode(plumbline::image::make_image(records.front()).what);
    const auto verdict_of = [&](const bytes& read_back) { return plumbline::image::compare(read_back, records).what; };
    flash_file flash(folder() + "/flash-record.bin");
    flash.name("PS-2", "0007");

    SUBCASE("stored over the serial line") {
        emulated_instrument fresh(program(1), flash);
        CHECK(verdict_of(fresh.ask_block("ADJUSTMENT?")) == plumbline::image::verdict::unreadable);
        fresh.send(store(image));
        CHECK(fresh.ask("FAULT?") == "0");
        fresh.cut_power();
    }
    SUBCASE("programmed from Intel HEX") {
        const std::string hex = plumbline::image::intel_hex(plumbline::image::stored(image, {512}), 0x21000000);
        flash.program(plumbline::image::from_intel_hex(hex, "flash.hex").what);
    }
    for (const int version : {1, 2}) {
        emulated_instrument again(program(version), flash);
        CHECK(again.ask("*IDN?") == "home-built,PS-2,0007," + std::to_string(version));
        CHECK(again.ask("READ? 0,0") == expected_reading(image, 2248));
        CHECK(verdict_of(again.ask_block("ADJUSTMENT?")) == plumbline::image::verdict::same);
    }
}

TEST_CASE("the image of another instrument is refused over the line, and not used where a programmer put it") {
    flash_file flash(folder() + "/flash-other.bin");
    flash.name("Pocket Scope 2", "PS2-0008");
    const bytes image = image_number(3);
    {
        emulated_instrument instrument(program(1), flash);
        instrument.send(store(image));
        CHECK(instrument.ask("FAULT?") == "50");
        CHECK(instrument.ask("*ESR?") == "144");  // power on, execution error
        CHECK(instrument.ask("READ? 0,0") == "0,0,2");
        CHECK(instrument.ask("WEAR?") == "0");
    }
    flash.program(plumbline::image::stored(image, {512}));
    emulated_instrument again(program(1), flash);
    CHECK(again.ask("READ? 0,0") == "0,0,2");
    CHECK(again.ask_block("ADJUSTMENT?").empty());
    CHECK(again.ask("*TST?") == "1");
}

TEST_CASE("whatever is wrong on the line, the next message is understood and the image stays") {
    flash_file flash(folder() + "/flash-wrong.bin");
    emulated_instrument instrument(program(1), flash);
    const bytes good = image_number(4);
    instrument.send(store(good));
    CHECK(instrument.ask("*ESR?") == "128");
    const std::string sent = block(good);
    const std::vector<std::string> wrong = {
        "ADJUSTMENT",
        "ADJUSTMENT ",
        "ADJUSTMENT  ",
        "ADJUSTMENT #",
        "ADJUSTMENT #0",
        "ADJUSTMENT #3",
        "ADJUSTMENT #33",
        "ADJUSTMENT #3x80",
        "ADJUSTMENT #9999999999",
        "ADJUSTMENT 380",
        "ADJUSTMENT " + sent + "garbage",
        "ADJUSTMENT " + sent + " " + sent,
        "ADJUSTMENT " + block(bytes(385, '\n')),
        "ADJUSTMENT " + block(bytes(5000, '*')),
        "ADJUSTMENT? 1",
        "adjustment?",
        "*IDN",
        "*IDN? 0",
        " *IDN?",
        "READ?",
        "READ? ",
        "READ? 0",
        "READ? 0,",
        "READ? ,0",
        "READ? 0,0,0",
        "READ? 0 0",
        "READ?0,0",
        "READ? 0,x",
        "READ? -1,0",
        "READ? 0.5,0",
        "READ? 0,99999999999999999999",
        "CODES? 0,0",
        "*ESE",
        "*ESE 1,2",
        "*ESE 99999",
        "*IDN?" + std::string(36, ' '),
        std::string(10000, 'x'),
        "\xff\x01\x7f",
    };
    for (const std::string& message : wrong) {
        CAPTURE(message);
        instrument.send(message + "\n");
        CHECK(instrument.ask("*ESR?") == "32");  // command error
    }
    CHECK(instrument.ask("READ? 2,0") == "0,0,2");
    CHECK(instrument.ask("*ESR?") == "16");  // execution error
    CHECK(instrument.ask_block("CODES? 2,0,5").empty());
    CHECK(instrument.ask("*ESR?") == "16");
    CHECK(instrument.ask("WEAR?") == "1");
    CHECK(instrument.ask_block("ADJUSTMENT?") == good);
    CHECK(instrument.ask("READ? 0,0") == expected_reading(good, 2248));
}

TEST_CASE(
    "two images in a row are stored one after the other, the last one counts, also with a space or a carriage return more") {
    flash_file flash(folder() + "/flash-two.bin");
    emulated_instrument instrument(program(1), flash);
    const bytes last = image_number(6);
    instrument.send(store(image_number(5)) + "ADJUSTMENT  " + block(last) + "\r\n");
    CHECK(instrument.ask("WEAR?") == "2");  // the second slot had no header to count on: taken for as worn as the first
    CHECK(instrument.ask_block("ADJUSTMENT?") == last);
    CHECK(instrument.ask("*ESR?") == "128");
}

TEST_CASE("a block that stops coming is given up after some seconds, and the line is free again") {
    flash_file flash(folder() + "/flash-stops.bin");
    emulated_instrument instrument(program(1), flash);
    CHECK(instrument.ask("*ESR?") == "128");
    const std::string whole = store(image_number(8));
    instrument.send("ADJUSTMENT #3999" + whole.substr(whole.find('#') + 5, 380));
    CHECK(instrument.received_within(std::chrono::seconds(5)).empty());
    CHECK(instrument.ask("*ESR?") == "32");
    CHECK(instrument.ask("WEAR?") == "0");
    instrument.send(whole);
    CHECK(instrument.ask("FAULT?") == "0");
    CHECK(instrument.ask("*ESR?") == "0");
}

TEST_CASE("the common commands keep the registers of IEEE 488.2") {
    flash_file flash(folder() + "/flash-common.bin");
    emulated_instrument instrument(program(1), flash);
    CHECK(instrument.ask("*ESR?") == "128");
    CHECK(instrument.ask("*ESR?") == "0");
    instrument.send("NONSENSE\n*ESE 32\n*SRE 32\n");
    CHECK(instrument.ask("*ESE?") == "32");
    CHECK(instrument.ask("*SRE?") == "32");
    CHECK(instrument.ask("*STB?") == "96");
    CHECK(instrument.ask("*ESR?") == "32");
    CHECK(instrument.ask("*STB?") == "0");
    instrument.send("*ESE 256\r\n*WAI\n*RST\n");
    CHECK(instrument.ask("*ESR?") == "16");
    instrument.send("*OPC\n");
    CHECK(instrument.ask("*ESR?") == "1");
    instrument.send("NONSENSE\n*CLS\n");
    CHECK(instrument.ask("*ESR?") == "0");
    CHECK(instrument.ask("*OPC?") == "1");
    CHECK(instrument.ask("*TST?") == "0");
    const bytes codes = instrument.ask_block("CODES? 0,0,5");
    CHECK(codes == bytes{2248 & 0xFF, 2248 >> 8, 2249 & 0xFF, 2249 >> 8, 2248 & 0xFF, 2248 >> 8, 2247 & 0xFF, 2247 >> 8,
                         2248 & 0xFF, 2248 >> 8});
}

TEST_CASE("two hundred power cuts, most of them in the middle of a store, lose no image and leave none half-read") {
    constexpr int cuts = 200;
    flash_file flash(folder() + "/flash-cuts.bin");
    std::mt19937_64 random(41);
    bytes stored;  // the last one that the instrument said it has, empty at first
    bytes tried;   // the one that it was given when power was cut
    int lost = 0;
    int inside = 0;
    int taken = 0;  // cut off before it answered, yet stored
    // Where a machine is busy fewer cuts fall inside a store: then there are more of them.
    for (int i = 1; i <= cuts || (inside < cuts / 4 && i <= 5 * cuts); ++i) {
        emulated_instrument instrument(program(1 + i % 2), flash);
        const bytes found = instrument.ask_block("ADJUSTMENT?");
        if (found != stored && !(found == tried && !tried.empty())) ++lost;
        if (found != stored) ++taken;
        stored = found;
        if (!stored.empty() && instrument.ask("READ? 0,0") != expected_reading(stored, 2248)) ++lost;

        tried = image_number(i);
        instrument.send(store(tried) + "*OPC?\n");
        // a fourth of the cuts falls anywhere from the first byte on, the others after the store has begun
        const bool anywhere = i % 4 == 0;
        for (int waited = 0; !anywhere && !flash.is_storing() && waited < 20000; ++waited)
            std::this_thread::sleep_for(std::chrono::microseconds(50));
        const std::string answer = instrument.received_within(std::chrono::microseconds(random() % (anywhere ? 50000 : 14000)));
        instrument.cut_power();
        if (answer == "1\n") stored = tried;
        if (flash.is_storing()) ++inside;
        flash.forget_storing();
    }
    CHECK(lost == 0);
    CHECK(inside >= 50);
    MESSAGE("of at least " << cuts << " power cuts " << inside << " fell inside a store, " << taken
                           << " after its last step but before the answer");

    emulated_instrument at_last(program(1), flash);
    at_last.send(store(image_number(9999)));
    CHECK(at_last.ask_block("ADJUSTMENT?") == image_number(9999));
}
