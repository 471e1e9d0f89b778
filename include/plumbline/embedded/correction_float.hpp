#pragma once
// The stored adjustment in single precision, for controllers that have it in hardware. Nothing else here uses floating point.

#include "correction.hpp"

namespace plumbline {
inline namespace v0 {
namespace embedded {

struct float_correction {
    float gain;    ///< microvolts per code
    float offset;  ///< microvolts at code 0
};

inline float_correction to_float(const correction& of) {
    const float step = 1.0F / 65536.0F;
    return {static_cast<float>(of.gain) + static_cast<float>(of.gain_fraction) * step,
            static_cast<float>(of.offset) + static_cast<float>(of.offset_fraction) * step};
}

/// Voltage of one code, in microvolts.
///
///     |result - (offset + gain c)| <= (|gain| c + |offset|) / 2^22 (1 + 2^-20) microvolts, gain and offset as the fixed-point
///     form has them
///
/// from at most four roundings of 2^-24 each: two of the gain or offset, the product, the sum. A fused multiply-add has one less.
/// At 10 V and little offset these are 2.4 microvolts: the fixed-point form is sharper, this one is for firmware that goes on in
/// float.
inline float correct(const float_correction& by, uint16_t code) { return by.offset + by.gain * static_cast<float>(code); }

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
