#include <plumbline/image/formats.hpp>

#include <doctest/doctest.h>

#include "../slow_build.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <plumbline/error.hpp>
#include <random>
#include <string>
#include <vector>

namespace formats_test {

namespace {

using namespace plumbline;
using image::from_intel_hex;
using image::intel_hex;

template <class Call>
std::string refusal(const Call& call) {
    try {
        static_cast<void>(call());
    } catch (const bad_input& refused) {
        return refused.what();
    }
    return "";
}

std::string reading(const std::string& text) {
    return refusal([&] { return from_intel_hex(text, "a.hex"); });
}

image::bytes random_bytes(std::size_t size, std::mt19937_64& random) {
    image::bytes all(size);
    for (std::uint8_t& byte : all) byte = static_cast<std::uint8_t>(random());
    return all;
}

const std::string example =
    ":10010000214601360121470136007EFE09D2190140\n"
    ":100110002146017E17C20001FF5F16002148011928\n"
    ":10012000194E79234623965778239EDA3F01B2CAA7\n"
    ":100130003F0156702B5E712B722B732146013421C7\n"
    ":00000001FF\n";

}  // namespace

TEST_CASE("the worked example of the public description is read and written as printed") {
    // five lines that descriptions of the format print everywhere, from memory
    const image::placed_bytes got = from_intel_hex(example, "a.hex");
    CHECK(got.address == 0x0100);
    REQUIRE(got.what.size() == 64);
    CHECK(got.what.front() == 0x21);
    CHECK(got.what.back() == 0x21);
    CHECK(intel_hex(got.what, 0x0100) == example);
}

TEST_CASE("an address beyond 16 bits takes an extended linear address, and a new one at each 64 KiB") {
    CHECK(intel_hex({0xaa, 0xbb, 0xcc, 0xdd}, 0x0800FFFE) ==
          ":020000040800F2\n"
          ":02FFFE00AABB9C\n"
          ":020000040801F1\n"
          ":02000000CCDD55\n"
          ":00000001FF\n");
}

TEST_CASE("bytes that end with the last address are written, those beyond refused") {
    CHECK(from_intel_hex(intel_hex({1, 2}, 0xFFFFFFFE), "a.hex").what == image::bytes{1, 2});
    CHECK(refusal([] {
              return intel_hex({1, 2, 3}, 0xFFFFFFFE);
          }) == "Intel HEX: found 3 bytes from 0xFFFFFFFE, expected an end within 32 bits; correct the address");
}

TEST_CASE("what was written is read back, at any address and size, with other line ends and in small letters") {
    std::mt19937_64 random(3);
    for (int i = 0; i < slow::repetitions(300); ++i) {
        const image::bytes bytes = random_bytes(1 + random() % 70000 / (i % 3 == 0 ? 1 : 500), random);
        const auto address = static_cast<std::uint32_t>((random() & 0xFFFFFFFF) >> (random() % 32)) & 0x7FFFFFFF;
        std::string text = intel_hex(bytes, address);
        CAPTURE(address);
        image::placed_bytes back = from_intel_hex(text, "a.hex");
        REQUIRE(back.address == address);
        REQUIRE(back.what == bytes);
        std::string other;
        for (const char c : text) {
            if (c == '\n') other += '\r';
            other += c >= 'A' && c <= 'F' ? static_cast<char>(c - 'A' + 'a') : c;
        }
        REQUIRE(from_intel_hex(other + "\r\n", "a.hex").what == bytes);
    }
}

TEST_CASE("segment addresses count sixteen bytes, start addresses mean nothing") {
    const image::placed_bytes got = from_intel_hex(
        ":020000021200EA\n"
        ":0100100001EE\n"
        ":0400000300003800C1\n"
        ":04000005000000CD2A\n"
        ":00000001FF\n",
        "a.hex");
    CHECK(got.address == 0x12010);
    CHECK(got.what == image::bytes{1});
}

TEST_CASE("every wrong bit in a line of Intel HEX is found, and the line is named") {
    const std::string good = intel_hex({0x50, 0x4c, 0x42, 0x49, 0x01, 0x00, 0x7c}, 0x20000);
    int tried = 0;
    for (std::size_t i = 0; i < good.size(); ++i) {
        for (unsigned bit = 0; bit < 8; ++bit) {
            std::string text = good;
            text[i] = static_cast<char>(static_cast<unsigned char>(text[i]) ^ (1U << bit));
            if (text[i] >= 'a' && text[i] <= 'f' && text[i] - 'a' + 'A' == good[i]) continue;  // the same digit
            const std::size_t line =
                1 + static_cast<std::size_t>(std::count(good.begin(), good.begin() + static_cast<std::ptrdiff_t>(i), '\n'));
            const std::string said = reading(text);
            CAPTURE(text);
            CHECK(said.starts_with("a.hex:" + std::to_string(line) + ": found "));
            ++tried;
        }
    }
    CHECK(tried > 300);
}

TEST_CASE("what is no Intel HEX is refused with its line") {
    CHECK(reading("") ==
          "a.hex:1: found no end record, expected \":00000001FF\" as the last line; take another copy: the file is cut short");
    CHECK(reading(":00000001FF\n") == "a.hex:1: found no bytes, expected at least one data record; take the file of an image");
    CHECK(reading(":0100000001FE\n") ==
          "a.hex:1: found no end record, expected \":00000001FF\" as the last line; take another copy: the file is cut short");
    CHECK(reading("PLBI\n") ==
          "a.hex:1: found a line that does not begin with ':', expected a record of Intel HEX; take another copy of the file");
    CHECK(reading(":0100000001F\n") ==
          "a.hex:1: found half a byte, expected two digits for each byte; take another copy of the file");
    CHECK(reading(":01000000G1FE\n") ==
          "a.hex:1: found no hexadecimal digit at column 10, expected digits only; take another copy of the file");
    CHECK(reading(":010000000FG\n:00000001FF\n").starts_with("a.hex:1: "));
    CHECK(reading(":0200000001FD\n") ==
          "a.hex:1: found a record of 6 bytes, expected as many as its first byte says and 5; take another copy of the file");
    CHECK(reading(":0100000001FF\n") == "a.hex:1: found the checksum FF, expected FE; take another copy of the file");
    CHECK(reading(":00000006FA\n") == "a.hex:1: found record type 06, expected 00 to 05; take another copy of the file");
    CHECK(reading(":0100000401FA\n") == "a.hex:1: found an address of 1 bytes, expected 2; take another copy of the file");
    CHECK(reading(":02FFFF000102FD\n") ==
          "a.hex:1: found a record across the end of 64 KiB, expected one that ends within them; let another program write the "
          "file");
    CHECK(reading(":0100000001FE\n:0100020001FC\n:00000001FF\n") ==
          "a.hex:2: found bytes for 0x2, expected 0x1, where those before end; export the image alone, in the order of its "
          "addresses");
    CHECK(reading(":0100000001FE\n:00000001FF\n:0100010001FD\n") ==
          "a.hex:3: found a record behind the end record, expected nothing there; remove it, if two files were joined");
}

TEST_CASE("a file read back is taken as Intel HEX where it begins with a colon, else as it is") {
    CHECK(image::from_file(example, "a.hex").size() == 64);
    const std::string raw("PLBI\0\xff", 6);
    CHECK(image::from_file(raw, "a.bin") == image::bytes{'P', 'L', 'B', 'I', 0, 0xff});
    CHECK(image::raw(image::from_file(raw, "a.bin")) == raw);
}

TEST_CASE("the C header defines the bytes under the name given") {
    image::bytes bytes(17, 0x0f);
    bytes[0] = 0x50;
    CHECK(image::c_header(bytes, "scope_image") ==
          "/* Image of an adjustment, made by Plumbline. Layout: embedded/IMAGE.md. */\n"
          "#ifndef SCOPE_IMAGE_H\n"
          "#define SCOPE_IMAGE_H\n"
          "\n"
          "#include <stdint.h>\n"
          "\n"
          "static const uint8_t scope_image[17] = {\n"
          "    0x50, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F, 0x0F,\n"
          "    0x0F};\n"
          "\n"
          "#endif\n");
    for (const char* name : {"", "1st", "a-b", "a b", "\xc3\xa4"}) {
        CHECK(refusal([&] { return image::c_header(bytes, name); }) ==
              "C header: found the name \"" + std::string(name) +
                  "\", expected letters, digits and '_', no digit first; choose an identifier of C");
    }
}

}  // namespace formats_test
