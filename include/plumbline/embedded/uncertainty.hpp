#pragma once
// The plus-or-minus of a reading, by integers alone: never too small, and too large by no more than a stated bound.

#include <stddef.h>
#include <stdint.h>

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// By how much the expanded uncertainty grows per unit of distance from the calibration, added in quadrature.
struct growth {
    uint32_t floor;  ///< 1/16 microvolt
    uint32_t slope;  ///< 2^-32, of |V - Vc|
};

/// Expanded uncertainty U of a reading V that is the mean of n samples, dT kelvin and t years away from the calibration:
///
///     U^2 = A + C (V - Vc)^2 + N^2 / min(n, most_samples)
///         + (Ft dT)^2 + (St dT (V - Vc))^2 + (Fy t)^2 + (Sy t (V - Vc))^2
///
/// A = floor^2 and C = slope^2 without the noise N; Ft and St are per_kelvin, Fy and Sy per_year. Kept as roots: half the size,
/// and no product of more than 64 bits. All at the coverage probability that the image states. A year has 365 days.
struct uncertainty_form {
    uint32_t floor;         ///< 1/16 microvolt
    uint32_t slope;         ///< 2^-32
    int32_t centre;         ///< Vc, microvolts
    uint32_t noise;         ///< of one sample, 1/16 microvolt
    uint16_t most_samples;  ///< averaging more does not help: slow noise. >= 1
    growth per_kelvin;
    growth per_year;
};

/// No term of the form may exceed this, 67 V in sixteenths of a microvolt: so the sum of their squares fits into 64 bits.
constexpr uint32_t largest_term = UINT32_C(1) << 30;

/// What plus_or_minus() returns where a term exceeds largest_term: nothing can be stated.
constexpr uint32_t unstated = UINT32_C(0xFFFFFFFF);

/// Smallest r with r^2 >= x.
/// @param x  at most 0xFFFFFFFF^2
inline uint32_t root_up(uint64_t x) {
    uint64_t root = 0;
    for (uint64_t bit = UINT64_C(1) << 62; bit != 0; bit >>= 2) {
        const uint64_t trial = root + bit;
        root >>= 1;
        if (x >= trial) {
            x -= trial;
            root += bit;
        }
    }
    return static_cast<uint32_t>(root) + (x != 0 ? 1 : 0);
}

/// x / n rounded up, in steps of 16 bits: a library's 64-bit division would be larger than all of this header.
/// @param n  >= 1
inline uint64_t quotient_up(uint64_t x, uint16_t n) {
    uint64_t quotient = 0;
    uint32_t rest = 0;
    for (uint8_t i = 0; i < 4; ++i) {
        const uint32_t dividend = (rest << 16) | static_cast<uint16_t>(x >> 48);
        const uint32_t digit = dividend / n;
        rest = dividend - digit * n;
        quotient = (quotient << 16) | digit;
        x <<= 16;
    }
    return quotient + (rest != 0 ? 1 : 0);
}

/// Sum of squares of terms in sixteenths of a microvolt.
class quadrature {
public:
    void add(uint64_t term) {
        if (term > largest_term) overflow_ = true;
        const uint32_t small = static_cast<uint32_t>(term);
        squares_ += static_cast<uint64_t>(small) * small;
    }
    void add_mean(uint32_t term, uint16_t n) {
        if (term > largest_term) overflow_ = true;
        squares_ += quotient_up(static_cast<uint64_t>(term) * term, n);
    }
    /// Proportional to a distance in microvolts. @param slope  2^-32
    void add_slope(uint64_t slope, uint32_t distance) {
        if (slope > UINT32_C(0xFFFFFFFF)) overflow_ = true;
        add((static_cast<uint64_t>(static_cast<uint32_t>(slope)) * distance + UINT32_C(0xFFFFFFF)) >> 28);
    }
    void add_growth(const growth& by, uint16_t amount, uint16_t unit, uint32_t distance) {
        add(quotient_up(static_cast<uint64_t>(by.floor) * amount, unit));
        add_slope(quotient_up(static_cast<uint64_t>(by.slope) * amount, unit), distance);
    }
    /// Root of the sum in microvolts, rounded up, or unstated.
    uint32_t microvolts() const { return overflow_ ? unstated : (root_up(squares_) + 15) >> 4; }

private:
    uint64_t squares_ = 0;
    bool overflow_ = false;
};

/// U of a reading, in microvolts, or unstated. With U the exact value of the form above:
///
///     0 <= result - U < 1.14 + |V - Vc| / 2^31 microvolts
///
/// Everything is rounded up: five terms to the next 1/16 microvolt (in quadrature sqrt(5)/16), the two growing slopes to the next
/// 2^-32 before, the root to the next microvolt.
/// @param microvolts  V
/// @param samples     n, >= 1
/// @param kelvin      |dT| in 0.01 K
/// @param days        t
inline uint32_t plus_or_minus(const uncertainty_form& form, int32_t microvolts, uint16_t samples, uint16_t kelvin,
                              uint16_t days) {
    const uint32_t up = static_cast<uint32_t>(microvolts) - static_cast<uint32_t>(form.centre);
    const uint32_t distance = microvolts < form.centre ? 0 - up : up;
    quadrature sum;
    sum.add(form.floor);
    sum.add_slope(form.slope, distance);
    sum.add_mean(form.noise, samples < form.most_samples ? samples : form.most_samples);
    sum.add_growth(form.per_kelvin, kelvin, 100, distance);
    sum.add_growth(form.per_year, days, 365, distance);
    return sum.microvolts();
}

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
