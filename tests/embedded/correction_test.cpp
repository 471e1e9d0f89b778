#include <plumbline/embedded/correction.hpp>
#include <plumbline/embedded/correction_float.hpp>

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <vector>

namespace correction_test {

namespace emb = plumbline::embedded;

namespace {

/// A gain and an offset before they are rounded to fixed point, in microvolts.
struct line {
    long double gain;
    long double offset;

    [[nodiscard]] long double at(long double code) const { return offset + gain * code; }
    [[nodiscard]] emb::correction rounded(int bits) const {
        const auto last = static_cast<std::uint16_t>((1U << bits) - 2);
        return emb::make_correction(std::llround(gain * 65536), std::llround(offset * 65536), 1, last);
    }
};

/// From ranges of 20 mV to ranges of 900 V over all codes, either polarity, zero anywhere on the range.
line any_line(std::mt19937_64& bits, int code_bits) {
    std::uniform_real_distribution<long double> unit(0.0L, 1.0L);
    const long double span = std::pow(10.0L, 4.3L + 4.65L * unit(bits));
    const long double gain = std::ldexp(span, -code_bits) * (unit(bits) < 0.5L ? -1.0L : 1.0L);
    return {gain, -unit(bits) * gain * std::ldexp(1.0L, code_bits)};
}

}  // namespace

TEST_CASE("a corrected code of 8 to 16 bits lies within the stated bound of the line for every code of random corrections") {
    std::mt19937_64 bits(20250301);
    for (int code_bits = 8; code_bits <= 16; ++code_bits) {
        long double largest = 0.0L;
        for (int i = 0; i < 100; ++i) {
            const line truth = any_line(bits, code_bits);
            const emb::correction by = truth.rounded(code_bits);
            REQUIRE(emb::is_valid(by));
            long double worst = -1.0L;  // of error minus bound
            for (std::uint32_t c = by.first_code; c <= by.last_code; ++c) {
                const long double error = std::fabs(emb::correct(by, static_cast<std::uint16_t>(c)) - truth.at(c));
                worst = std::max(worst, error - (0.5L + std::ldexp(c + 1.0L, -17)));
                largest = std::max(largest, error);
            }
            CAPTURE(code_bits);
            CAPTURE(by.gain);
            CHECK(worst <= 1e-9L);  // of the comparison's own rounding
        }
        const long double bound = emb::correction_error_bound(static_cast<std::uint16_t>((1U << code_bits) - 2)) * 1e-3L;
        CHECK(largest <= bound);
        CHECK(largest > 0.9L * bound);  // a bound that nothing comes near says little
    }
}

TEST_CASE("the bound of the correction's error is that of the formula, rounded up to a nanovolt") {
    static_assert(emb::correction_error_bound(0xFFFF) == 1000);
    static_assert(emb::correction_error_bound(4095) == 532);  // 531.25
    static_assert(emb::correction_error_bound(255) == 502);   // 501.95
    CHECK(emb::correction_error_bound(0) == 501);
}

TEST_CASE("a block gives what single codes give and counts the codes out of range") {
    std::mt19937_64 bits(7);
    const emb::correction by = emb::make_correction(INT64_C(-160004321), INT64_C(330000000123), 3, 4090);
    std::vector<std::uint16_t> codes;
    for (std::uint32_t c = 0; c <= 0xFFFF; ++c) codes.push_back(static_cast<std::uint16_t>(c));
    std::shuffle(codes.begin(), codes.end(), bits);
    for (const std::size_t size : {std::size_t{0}, std::size_t{1}, std::size_t{2}, std::size_t{7}, codes.size()}) {
        std::vector<std::int32_t> microvolts(size + 1, 12345);
        const std::size_t outside = emb::correct(by, codes.data(), size, microvolts.data());
        std::size_t expected = 0;
        for (std::size_t i = 0; i < size; ++i) {
            expected += emb::in_range(by, codes[i]) ? 0U : 1U;
            REQUIRE(microvolts[i] == emb::correct(by, codes[i]));
        }
        CHECK(outside == expected);
        CHECK(microvolts[size] == 12345);
        if (size == codes.size()) CHECK(outside == 65536 - 4088);
    }
}

TEST_CASE("only the codes from the first to the last are in range") {
    const emb::correction by = emb::make_correction(65536, 0, 1, 254);
    CHECK_FALSE(emb::in_range(by, 0));
    CHECK(emb::in_range(by, 1));
    CHECK(emb::in_range(by, 254));
    CHECK_FALSE(emb::in_range(by, 255));
    CHECK_FALSE(emb::in_range(by, 0xFFFF));
}

TEST_CASE("the voltage of a mean code lies within the stated bound of the line") {
    std::mt19937_64 bits(3);
    for (int code_bits = 8; code_bits <= 16; ++code_bits) {
        for (int i = 0; i < 4000; ++i) {
            const line truth = any_line(bits, code_bits);
            const emb::correction by = truth.rounded(code_bits);
            const auto n = static_cast<std::uint16_t>(i % 3 == 0 ? 65535 : 1 + bits() % 300);
            const auto sum = static_cast<std::uint32_t>(n + bits() % (static_cast<std::uint64_t>(n) * (by.last_code - 1U) + 1));
            const long double mean = static_cast<long double>(sum) / n;
            const long double bound = 0.5L + std::ldexp(mean + 2 + std::fabs(truth.gain), -17);
            CAPTURE(n);
            CAPTURE(sum);
            CHECK(std::fabs(emb::correct_mean(by, sum, n) - truth.at(mean)) <= bound + 1e-9L);
        }
    }
}

TEST_CASE("the mean of one code is the code") {
    const emb::correction by = emb::make_correction(INT64_C(160004321), INT64_C(-330000000123), 0, 0xFFFF);
    for (std::uint32_t c = 0; c <= 0xFFFF; ++c)
        REQUIRE(emb::correct_mean(by, c, 1) == emb::correct(by, static_cast<std::uint16_t>(c)));
}

TEST_CASE("a correction that leaves the microvolts of 32 bits or turns its codes round is not valid") {
    const auto with = [](std::int32_t gain, std::int32_t offset, std::uint16_t first, std::uint16_t last) {
        return emb::is_valid(emb::correction{gain, offset, 0xFFFF, 0xFFFF, first, last});
    };
    CHECK(with(1, 0, 0, 0xFFFF));
    CHECK(with(1, 0, 5, 5));
    CHECK_FALSE(with(1, 0, 6, 5));
    CHECK(with(32766, 0, 0, 0xFFFF));
    CHECK_FALSE(with(32768, 0, 0, 0xFFFF));
    CHECK(with(-32767, 0, 0, 0xFFFF));
    CHECK_FALSE(with(-32769, 0, 0, 0xFFFF));
    CHECK(with(32768, 0, 0, 4095));
    CHECK_FALSE(with(1 << 30, 0, 0, 1));
    CHECK_FALSE(with(1, std::numeric_limits<std::int32_t>::max(), 0, 1));
    CHECK_FALSE(with(1, std::numeric_limits<std::int32_t>::min(), 0, 1));
    // a valid one never wraps, not even at its ends
    const emb::correction high = {32766, 0, 0xFFFF, 0xFFFF, 0, 0xFFFF};
    CHECK(emb::correct(high, 0xFFFF) == 2147385345);  // 32766 * 65535 + 65535
}

TEST_CASE("the single precision form lies within its stated bound for every code of random corrections") {
    std::mt19937_64 bits(11);
    for (int code_bits = 8; code_bits <= 16; ++code_bits) {
        for (int i = 0; i < 40; ++i) {
            const emb::correction by = any_line(bits, code_bits).rounded(code_bits);
            const emb::float_correction in_float = emb::to_float(by);
            const long double gain = by.gain + by.gain_fraction / 65536.0L;
            const long double offset = by.offset + by.offset_fraction / 65536.0L;
            long double worst = -1.0L;
            for (std::uint32_t c = by.first_code; c <= by.last_code; ++c) {
                const long double bound = std::ldexp(std::fabs(gain) * c + std::fabs(offset), -22) * (1 + std::ldexp(1.0L, -20));
                worst = std::max(worst,
                                 std::fabs(emb::correct(in_float, static_cast<std::uint16_t>(c)) - (offset + gain * c)) - bound);
            }
            CHECK(worst <= 0.0L);
        }
    }
}

}  // namespace correction_test
