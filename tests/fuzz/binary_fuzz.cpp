// Captures of 16-bit samples, and any capture in pieces. Property: whole samples read as the codes that arithmetic makes of their bytes,
// however many bytes the stream hands over at a time; anything else is refused as bad_input, by file. One pass over the codes gives the
// same bits for every cut into pieces, and stops at a code that the converter does not have, by its place, with what stands before it added.
//
// Of the input the first three bytes choose the cuts and what is done; the others are the capture.

#include "property.hpp"

#include <algorithm>
#include <cstdint>
#include <istream>
#include <optional>
#include <plumbline/capture/digest.hpp>
#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/pieces.hpp>
#include <plumbline/error.hpp>
#include <span>
#include <streambuf>
#include <vector>

namespace binary_fuzz {

namespace {

using plumbline::capture::code_format;
using plumbline::capture::one_pass;
using plumbline::capture::pieces_read;

const std::string name = "c.bin";
constexpr std::size_t longest_refusal = 250;

/// Lengths from 1 to `longest`, the same ones for the same seed.
class cuts {
public:
    cuts(std::uint32_t seed, std::size_t longest) : state_(seed), longest_(longest) {}
    std::size_t next() {
        state_ = state_ * 1'664'525U + 1'013'904'223U;
        return 1 + (state_ >> 8U) % longest_;
    }

private:
    std::uint32_t state_;
    std::size_t longest_;
};

/// Hands over a few bytes at a time, as a pipe does.
class trickle : public std::streambuf {
public:
    trickle(std::string bytes, cuts lengths) : bytes_(std::move(bytes)), lengths_(lengths) {}

protected:
    int_type underflow() override {
        if (at_ == bytes_.size()) return traits_type::eof();
        const std::size_t count = std::min(lengths_.next(), bytes_.size() - at_);
        setg(bytes_.data() + at_, bytes_.data() + at_, bytes_.data() + at_ + count);
        at_ += count;
        return traits_type::to_int_type(*gptr());
    }

private:
    std::string bytes_;
    cuts lengths_;
    std::size_t at_ = 0;
};

std::vector<std::int32_t> by_arithmetic(std::string_view bytes, bool with_sign) {
    std::vector<std::int32_t> codes;
    for (std::size_t i = 0; i + 1 < bytes.size(); i += 2) {
        const int c = static_cast<unsigned char>(bytes[i]) + 256 * static_cast<unsigned char>(bytes[i + 1]);
        codes.push_back(with_sign && c >= 32'768 ? c - 65'536 : c);
    }
    return codes;
}

void check_reading(std::string_view bytes, bool with_sign, cuts lengths) {
    const auto format = with_sign ? code_format::signed_16_little_endian : code_format::unsigned_16_little_endian;
    std::vector<std::int32_t> codes;
    std::optional<pieces_read> facts;
    try {
        trickle from(std::string(bytes), lengths);
        std::istream in(&from);
        facts =
            plumbline::capture::read_pieces(in, name, {.format = format, .column = {}}, [&](std::span<const std::int32_t> piece) {
                fuzz::expect(!piece.empty(), "no piece is empty", bytes);
                codes.insert(codes.end(), piece.begin(), piece.end());
            });
    } catch (const plumbline::bad_input& refused) {
        fuzz::expect_refusal(refused.what(), name, longest_refusal);
    }
    const bool whole = !bytes.empty() && bytes.size() % 2 == 0;
    fuzz::expect(facts.has_value() == whole, "whole samples are accepted, and nothing else", bytes);
    if (!facts) return;
    fuzz::expect(codes == by_arithmetic(bytes, with_sign), "samples are what arithmetic makes of their bytes", bytes);
    fuzz::expect(facts->samples == codes.size() && facts->bytes == bytes.size() && !facts->sample_rate &&
                     facts->sha256 == plumbline::capture::sha256_hex(bytes),
                 "number, bytes and digest are those of the capture", bytes);
}

/// All of it, or up to the code that is refused.
one_pass passed(std::span<const std::int32_t> codes, bool spectrum, std::optional<cuts> lengths, std::string_view bytes) {
    constexpr std::int32_t top = 255;
    one_pass seen(0, top, {}, spectrum);
    try {
        for (std::size_t from = 0; from < codes.size();) {
            const std::size_t count = lengths ? std::min(lengths->next(), codes.size() - from) : codes.size();
            seen.add(codes.subspan(from, count));
            from += count;
        }
        fuzz::expect(seen.size() == codes.size(), "all codes are added", bytes);
    } catch (const plumbline::bad_input& refused) {
        const std::string said = refused.what();
        const std::size_t place = seen.size();
        fuzz::expect_refusal(said, "sample " + std::to_string(place + 1) + " of the capture", longest_refusal);
        fuzz::expect(place < codes.size() && (codes[place] < 0 || codes[place] > top), "a refused code is out of range", bytes);
        const auto good = codes.first(place);
        fuzz::expect(std::all_of(good.begin(), good.end(), [](std::int32_t c) { return c >= 0 && c <= top; }),
                     "the first code out of range is refused", bytes);
    }
    return seen;
}

}  // namespace

void check(std::string_view input) {
    constexpr std::size_t controls = 3;
    if (input.size() < controls) return;
    const auto control = [&](std::size_t i) { return std::size_t{static_cast<unsigned char>(input[i])}; };
    const bool spectrum = control(0) % 2 != 0;
    const cuts lengths(static_cast<std::uint32_t>(control(0)), 1 + control(1) * control(1));
    // Long enough that tables fill up and are halved. Not with spectrum, which takes seconds then under the sanitizers.
    const std::size_t at_least = control(2) == 0xff && !spectrum ? 20'000 : 0;
    const std::string_view bytes = input.substr(controls);
    check_reading(bytes, false, lengths);
    check_reading(bytes, true, lengths);

    // 8 bits, so that tables are small; one code in 257 is not theirs.
    std::vector<std::int32_t> codes = by_arithmetic(bytes, false);
    for (std::int32_t& c : codes) c = c % 257 - (c >= 65'535 ? 1 : 0);
    if (codes.empty()) return;
    const std::size_t once = codes.size();
    while (codes.size() < at_least) codes.push_back(codes[codes.size() - once]);
    const one_pass whole = passed(codes, spectrum, {}, bytes);
    const one_pass in_pieces = passed(codes, spectrum, lengths, bytes);
    fuzz::expect(whole.size() == in_pieces.size(), "pieces end where the whole does", bytes);
    if (whole.size() == 0) return;
    fuzz::expect(whole.statistics() == in_pieces.statistics(), "statistics are the same bits for every cut into pieces", bytes);
}

}  // namespace binary_fuzz
