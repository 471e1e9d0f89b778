// Kernels for processors with AVX-512; compiled with -mavx512f -mavx512bw -mavx512dq.

#include "kernels.hpp"

#include <immintrin.h>

namespace plumbline::inline v0::capture::kernel_detail {

namespace {

constexpr std::size_t width = 16;
#include "kernels.inc"

// All lanes by their mask: g++ 12 warns of the unmasked forms, whose header reads an uninitialised vector.
INLINE vf root_of(vf v) { return _mm512_maskz_sqrt_ps(0xffff, v); }
INLINE vi widened(const std::uint16_t* p) {
    return vi(_mm512_maskz_cvtepu16_epi32(0xffff, _mm256_loadu_si256(reinterpret_cast<const __m256i*>(p))));
}
INLINE vi widened(const std::int16_t* p) {
    return vi(_mm512_maskz_cvtepi16_epi32(0xffff, _mm256_loadu_si256(reinterpret_cast<const __m256i*>(p))));
}
INLINE void write_past(float* p, vf v) { _mm512_stream_ps(p, v); }
INLINE void end_of_writing() { _mm_sfence(); }

}  // namespace

const kernels avx512_kernels = {"avx512", look, volts_of<std::uint16_t>, volts_of<std::int16_t>, volts_of<std::int32_t>};

}  // namespace plumbline::inline v0::capture::kernel_detail
