#include <plumbline/embedded/correction.hpp>
#include <plumbline/embedded/correction_float.hpp>

#include "../property.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace embedded_correction_properties_test {

namespace emb = plumbline::embedded;

namespace {

using property::holds;

/// A gain and an offset before they are rounded to fixed point, in microvolts: ranges of 20 mV to 900 V, zero anywhere on the range.
struct line {
    int bits;
    long double gain;
    long double offset;

    [[nodiscard]] long double code_of(long double microvolts) const { return (microvolts - offset) / gain; }
    [[nodiscard]] emb::correction rounded() const {
        const auto last = static_cast<std::uint16_t>((1U << static_cast<unsigned>(bits)) - 2);
        return emb::make_correction(std::llround(gain * 65536), std::llround(offset * 65536), 1, last);
    }
};

line any_line() {
    const int bits = *rc::gen::inRange(8, 17);
    const long double span = std::pow(10.0L, 4.3L + 0.001L * *rc::gen::inRange(0, 4651));
    const long double gain = std::ldexp(span, -bits) * (*rc::gen::arbitrary<bool>() ? 1.0L : -1.0L);
    return {bits, gain, -0.001L * *rc::gen::inRange(0, 1001) * std::ldexp(gain, bits)};
}

std::uint16_t any_code(const emb::correction& by) {
    return static_cast<std::uint16_t>(*rc::gen::inRange<unsigned>(by.first_code, by.last_code + 1U));
}

}  // namespace

TEST_CASE("a stored correction leads back from microvolts to the code within its stated bound") {
    CHECK(holds(
        "code, microvolts, code",
        [] {
            const line truth = any_line();
            const emb::correction by = truth.rounded();
            RC_ASSERT(emb::is_valid(by));
            const std::uint16_t c = any_code(by);
            const long double bound = 1e-3L * emb::correction_error_bound(c) / std::fabs(truth.gain);
            // the comparison's own rounding: 2^-63 of an offset of up to 1e9 microvolts, over the gain
            RC_ASSERT(std::fabs(truth.code_of(emb::correct(by, c)) - c) <= bound + 1e-9L);
        },
        2000));
}

TEST_CASE("where a code is more than 2 microvolts wide, the code nearest to its corrected voltage is that code") {
    CHECK(holds(
        "nearest code",
        [] {
            const line truth = any_line();
            RC_PRE(std::fabs(truth.gain) > 2.0L);
            const emb::correction by = truth.rounded();
            const std::uint16_t c = any_code(by);
            RC_ASSERT(std::llround(truth.code_of(emb::correct(by, c))) == c);
        },
        2000));
}

TEST_CASE("corrected voltages rise or fall with the code, never back") {
    CHECK(holds(
        "monotonic",
        [] {
            const line truth = any_line();
            const emb::correction by = truth.rounded();
            const std::uint16_t one = any_code(by);
            const std::uint16_t other = any_code(by);
            const auto [low, high] = std::minmax(one, other);
            if (truth.gain > 0.0L) {
                RC_ASSERT(emb::correct(by, low) <= emb::correct(by, high));
            } else {
                RC_ASSERT(emb::correct(by, low) >= emb::correct(by, high));
            }
        },
        2000));
}

TEST_CASE("the mean of equal codes reads as the code, however many they are") {
    CHECK(holds(
        "mean of equal codes",
        [] {
            const emb::correction by = any_line().rounded();
            const std::uint16_t c = any_code(by);
            const auto n = static_cast<std::uint16_t>(*rc::gen::inRange(1, 65536));
            RC_ASSERT(emb::correct_mean(by, static_cast<std::uint32_t>(c) * n, n) == emb::correct(by, c));
        },
        2000));
}

}  // namespace embedded_correction_properties_test
