#include "scratch_file.hpp"

#include <doctest/doctest.h>

#include <message.hpp>
#include <plumbline/capture/csv.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/pieces.hpp>
#include <slow_build.hpp>
#include <sstream>

namespace pieces_test {

using namespace plumbline;
using capture::code_format;
using capture::piece_layout;
using capture::pieces_read;
using capture::read_pieces;
using refused::message;

namespace {

struct collected {
    std::vector<std::int32_t> codes;
    pieces_read facts;
    int pieces = 0;
};

collected from_stream(const std::string& bytes, const piece_layout& layout) {
    collected all;
    std::istringstream in(bytes);
    all.facts = read_pieces(in, "in", layout, [&](std::span<const std::int32_t> piece) {
        all.codes.insert(all.codes.end(), piece.begin(), piece.end());
        ++all.pieces;
    });
    return all;
}

std::string refusal(const std::string& bytes, const piece_layout& layout = {}) {
    return message([&] { from_stream(bytes, layout); });
}

std::string some_lines(int count, const char* line_end) {
    std::string text = std::string("# sample rate: 2 kHz") + line_end + "time,A" + line_end;
    for (int i = 0; i < count; ++i) text += "0.5," + std::to_string(i % 4096) + line_end;
    return text;
}

}  // namespace

TEST_CASE("a text in pieces is read as it is whole") {
    for (const char* line_end : {"\n", "\r\n", "\r"}) {
        const std::string text = some_lines(slow::build ? 150'000 : 400'000, line_end);  // more than one piece of 1 MiB
        const collected all = from_stream(text, {.format = code_format::csv, .column = "A"});
        const capture::run whole = capture::parse_csv(text, "in", "A");
        CHECK(all.pieces >= 2);
        CHECK(all.codes == whole.codes);
        CHECK(all.facts.samples == whole.codes.size());
        CHECK(all.facts.sample_rate == whole.sample_rate);
        CHECK(all.facts.bytes == text.size());
        CHECK(all.facts.sha256 == capture::sha256_hex(text));
    }
    CHECK(from_stream("\xef\xbb\xbf"
                      "A\n\n\"5\"\n7",
                      {})
              .codes == std::vector<std::int32_t>{5, 7});
}

TEST_CASE("16-bit samples have their lower byte first, with a sign or without") {
    const std::string bytes("\x01\x00\xff\x7f\x00\x80\xff\xff", 8);
    CHECK(from_stream(bytes, {.format = code_format::signed_16_little_endian, .column = {}}).codes ==
          std::vector<std::int32_t>{1, 32767, -32768, -1});
    CHECK(from_stream(bytes, {.format = code_format::unsigned_16_little_endian, .column = {}}).codes ==
          std::vector<std::int32_t>{1, 32767, 32768, 65535});
}

TEST_CASE("a file is read in pieces with progress, and gives the statistics of the same in memory") {
    std::string bytes;
    std::vector<std::int32_t> codes;
    for (int i = 0; i < 1'200'000; ++i) {
        codes.push_back(2000 + (i * 7 + i / 1000) % 13);
        bytes += static_cast<char>(codes.back() & 0xff);
        bytes += static_cast<char>(codes.back() >> 8);
    }
    const scratch_file file(bytes);
    capture::one_pass seen(0, 4095, {}, false);
    std::vector<std::uint64_t> at;
    std::optional<std::uint64_t> of;
    const auto facts = read_pieces(
        file.path().string(), {.format = code_format::unsigned_16_little_endian, .column = {}},
        [&](std::span<const std::int32_t> piece) { seen.add(piece); },
        [&](const capture::reading_progress& p) {
            CHECK(p.samples == p.bytes / 2);
            at.push_back(p.bytes);
            of = p.of_bytes;
        });
    CHECK(at == std::vector<std::uint64_t>{1U << 20U, 2U << 20U, 2'400'000});
    CHECK(of == 2'400'000);
    CHECK(facts.sha256 == capture::sha256_hex(bytes));
    CHECK(seen.statistics() == capture::in_one_pass(capture::run{codes, {}}, 0, 4095, false));
}

TEST_CASE("the sample rate that a file states comes after its samples") {
    capture::one_pass seen(0, 4095);
    const std::string text = some_lines(100, "\n");
    std::istringstream in(text);
    const pieces_read facts = read_pieces(in, "in", {.format = code_format::csv, .column = "A"},
                                          [&](std::span<const std::int32_t> piece) { seen.add(piece); });
    REQUIRE(facts.sample_rate);
    seen.sampled_at(*facts.sample_rate);
    CHECK(seen.statistics().slowest_judged == 20.0 * hertz);
}

TEST_CASE("bad data in pieces is refused by name and line") {
    CHECK(refusal("") == "in: found no data, expected a capture; export the capture again");
    CHECK(refusal("# only prose\n") == "in: found no codes, expected a capture; export the capture again");
    CHECK(refusal("1\n2\nx\n") ==
          "in, line 3: found \"x\", expected a whole decimal number; export raw codes, not volts or text");
    CHECK(refusal(some_lines(300'000, "\n") + "0.5,-\n", {.format = code_format::csv, .column = "A"}) ==
          "in, line 300003: found \"-\", expected a whole decimal number; export raw codes, not volts or text");
    CHECK(refusal(std::string("1\n\0\n", 4)) ==
          "in, line 2: found a NUL byte, expected text; export as ASCII or UTF-8 text, not as binary or as UTF-16 without a byte "
          "order "
          "mark");
    CHECK(refusal("\xff\xfe"
                  "1") ==
          "in: found UTF-16 or UTF-32 text, expected ASCII or UTF-8 in a capture that is read in pieces; export as UTF-8");
    CHECK(refusal(std::string(5'000'000, '1')).starts_with("in, line 1: found a line of "));
    CHECK(refusal("123", {.format = code_format::signed_16_little_endian, .column = {}}) ==
          "in: found 3 bytes, expected an even number, two for each 16-bit sample; the capture is cut off: capture it again, or "
          "remove its "
          "last byte");
    CHECK(message([] { read_pieces("nowhere.csv", {}, [](auto) {}); }) ==
          "nowhere.csv: found no such file, expected a file; check the name and the folder");
}

TEST_CASE("what the taker throws comes out, and nothing more is read") {
    capture::one_pass seen(0, 3);
    std::istringstream in("1\n2\n9\n");
    CHECK(message([&] { read_pieces(in, "in", {}, [&](std::span<const std::int32_t> piece) { seen.add(piece); }); }) ==
          "sample 3 of the capture: code 9, expected a code from 0 to 3; state the converter's codes as they are, or look for "
          "damage in the "
          "transfer");
}

}  // namespace pieces_test
