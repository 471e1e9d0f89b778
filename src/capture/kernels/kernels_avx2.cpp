// Kernels for processors with AVX2; compiled with -mavx2.

#include "kernels.hpp"

#include <immintrin.h>

namespace plumbline::inline v0::capture::kernel_detail {

namespace {

constexpr std::size_t width = 8;
#include "kernels.inc"

INLINE vf root_of(vf v) { return _mm256_sqrt_ps(v); }
INLINE void write_past(float* p, vf v) { _mm256_stream_ps(p, v); }
INLINE void end_of_writing() { _mm_sfence(); }

}  // namespace

const kernels avx2_kernels = {"avx2", look, volts_of<std::uint16_t>, volts_of<std::int16_t>, volts_of<std::int32_t>};

}  // namespace plumbline::inline v0::capture::kernel_detail
