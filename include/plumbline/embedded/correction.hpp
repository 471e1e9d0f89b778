#pragma once
// The stored adjustment in fixed point: from codes of the converter to microvolts at the connector. 32-bit products only.

#include <stddef.h>
#include <stdint.h>

namespace plumbline {
inline namespace v0 {
namespace embedded {

static_assert((-1 >> 1) == -1, "a right shift of a negative number must keep its sign");

/// The straight line V = offset + gain c, for codes c from first_code to last_code. Codes outside of these are over range: the
/// end codes of the converter always, and whatever lies beyond the voltages that the calibration covers.
///
/// gain and offset are split into the next lower whole microvolt and what is above it in 2^-16 microvolt. So -0.25 is -1 and
/// 49152.
struct correction {
    int32_t gain;              ///< microvolts per code, rounded down
    int32_t offset;            ///< microvolts at code 0, rounded down
    uint16_t gain_fraction;    ///< 2^-16 microvolt per code
    uint16_t offset_fraction;  ///< 2^-16 microvolt
    uint16_t first_code;       ///< lowest code in range
    uint16_t last_code;        ///< highest code in range
};

/// Largest |gain| that the arithmetic below is made for, in microvolts per code.
constexpr int32_t largest_gain = INT32_C(1) << 30;

/// @param gain    2^-16 microvolt per code
/// @param offset  2^-16 microvolt
inline correction make_correction(int64_t gain, int64_t offset, uint16_t first_code, uint16_t last_code) {
    correction made = {};
    made.gain = static_cast<int32_t>(gain >> 16);
    made.gain_fraction = static_cast<uint16_t>(gain & 0xFFFF);
    made.offset = static_cast<int32_t>(offset >> 16);
    made.offset_fraction = static_cast<uint16_t>(offset & 0xFFFF);
    made.first_code = first_code;
    made.last_code = last_code;
    return made;
}

/// Whether every code in range gives a voltage that a signed 32-bit number of microvolts holds (+-2147 V), and |gain| <=
/// largest_gain. What follows is right for valid corrections; for others it gives a meaningless number and nothing worse.
inline bool is_valid(const correction& of) {
    const int64_t first = static_cast<int64_t>(of.gain) * of.first_code + of.offset;
    const int64_t last = static_cast<int64_t>(of.gain) * of.last_code + of.offset;
    // the fractions and the rounding add between 0 and last_code + 2
    const int64_t lowest = -INT64_C(0x7FFFFFFF);
    const int64_t highest = INT64_C(0x7FFFFFFF) - 0x10001;
    return of.first_code <= of.last_code && of.gain >= -largest_gain && of.gain < largest_gain && first >= lowest &&
           last >= lowest && first <= highest && last <= highest;
}

inline bool in_range(const correction& by, uint16_t code) { return code >= by.first_code && code <= by.last_code; }

/// Voltage of one code, in microvolts, rounded to the nearest.
///
///     |result - (offset + gain c)| <= 1/2 + (c + 1) / 2^17 microvolts
///
/// for the gain and offset before they were rounded to the nearest 2^-16: half a microvolt from the result, half of 2^-16 per
/// code from the gain, half of 2^-16 from the offset. That is below 0.532 microvolts for 12-bit and 1 microvolt for 16-bit codes.
/// The fractions cannot overflow: 65535 * 65535 + 65535 + 32768 < 2^32. Unsigned, so that a code out of range wraps instead of
/// being undefined.
inline int32_t correct(const correction& by, uint16_t code) {
    const uint32_t c = code;
    const uint32_t above = by.gain_fraction * c + (by.offset_fraction + UINT32_C(0x8000));
    return static_cast<int32_t>(static_cast<uint32_t>(by.gain) * c + static_cast<uint32_t>(by.offset) + (above >> 16));
}

/// Bound of |correct - (offset + gain c)| over all codes up to last_code, in nanovolts, rounded up: a line of the budget.
constexpr uint32_t correction_error_bound(uint16_t last_code) {
    return 500 + static_cast<uint32_t>((UINT64_C(1000) * (last_code + UINT32_C(1)) + 0x1FFFF) >> 17);
}

/// Corrects a block of samples. What comes out for a code out of range is not a voltage.
/// @return  how many of the codes were out of range
inline size_t correct(const correction& by, const uint16_t* codes, size_t size, int32_t* microvolts) {
    const uint32_t gain = static_cast<uint32_t>(by.gain);
    const uint32_t offset = static_cast<uint32_t>(by.offset);
    const uint32_t gain_fraction = by.gain_fraction;
    const uint32_t half = by.offset_fraction + UINT32_C(0x8000);
    const uint32_t first = by.first_code;
    const uint32_t above_span = ~(static_cast<uint32_t>(by.last_code) - first);
    const uint16_t* const end = codes + size;
    size_t outside = 0;
    while (codes != end) {
        const uint32_t c = *codes++;
        // c - first > last - first, written as the carry of a sum: one instruction less than a comparison
        const uint32_t from_first = c - first;
        outside += from_first + above_span < from_first;
        *microvolts++ = static_cast<int32_t>(gain * c + offset + ((gain_fraction * c + half) >> 16));
    }
    return outside;
}

/// Voltage of a mean of n codes, in microvolts, rounded to the nearest.
///
///     |result - (offset + gain sum / n)| <= 1/2 + (sum / n + 2 + |gain|) / 2^17 microvolts
///
/// @param sum  of the n codes, each in range
/// @param n    number of codes, >= 1
inline int32_t correct_mean(const correction& by, uint32_t sum, uint16_t n) {
    const uint32_t whole = sum / n;
    const uint32_t part = (((sum - whole * n) << 16) + n / 2) / n;  // 2^-16 code
    const int64_t gain = (static_cast<int64_t>(by.gain) * 0x10000) + by.gain_fraction;
    const int64_t offset = (static_cast<int64_t>(by.offset) * 0x10000) + by.offset_fraction;
    const int64_t fine = (gain * part + 0x8000) >> 16;
    return static_cast<int32_t>((gain * whole + fine + offset + 0x8000) >> 16);
}

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
