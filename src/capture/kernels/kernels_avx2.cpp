// Kernels for processors with AVX2; compiled with -mavx2.

#include "kernels.hpp"

#include <immintrin.h>

namespace plumbline::inline v0::capture::kernel_detail {

namespace {

constexpr std::size_t width = 8;
#include "kernels.inc"

INLINE vf root_of(vf v) { return _mm256_sqrt_ps(v); }
// g++ 12 makes five instructions of __builtin_convertvector to twice the width, of which this is one.
INLINE vi widened(const std::uint16_t* p) {
    return vi(_mm256_cvtepu16_epi32(_mm_loadu_si128(reinterpret_cast<const __m128i*>(p))));
}
INLINE vi widened(const std::int16_t* p) {
    return vi(_mm256_cvtepi16_epi32(_mm_loadu_si128(reinterpret_cast<const __m128i*>(p))));
}
INLINE void write_past(float* p, vf v) { _mm256_stream_ps(p, v); }
INLINE void end_of_writing() { _mm_sfence(); }

}  // namespace

const kernels avx2_kernels = {"avx2", look, volts_of<std::uint16_t>, volts_of<std::int16_t>, volts_of<std::int32_t>};

}  // namespace plumbline::inline v0::capture::kernel_detail
