// Kernels for every processor: on x86-64 with SSE2, which all of them have.

#include "kernels.hpp"

#if defined(__SSE2__)
#include <emmintrin.h>
#endif

namespace plumbline::inline v0::capture::kernel_detail {

namespace {

constexpr std::size_t width = 4;
#include "kernels.inc"

INLINE vf root_of(vf v) {
#if defined(__SSE2__)
    return _mm_sqrt_ps(v);
#else
    return vf{__builtin_sqrtf(v[0]), __builtin_sqrtf(v[1]), __builtin_sqrtf(v[2]), __builtin_sqrtf(v[3])};
#endif
}
INLINE vi widened(const std::uint16_t* p) { return vi{p[0], p[1], p[2], p[3]}; }
INLINE vi widened(const std::int16_t* p) { return vi{p[0], p[1], p[2], p[3]}; }
INLINE void write_past(float* p, vf v) {
#if defined(__SSE2__)
    _mm_stream_ps(p, v);
#else
    __builtin_memcpy(p, &v, sizeof v);
#endif
}
INLINE void end_of_writing() {
#if defined(__SSE2__)
    _mm_sfence();
#endif
}

}  // namespace

const kernels plain_kernels = {"plain", look, volts_of<std::uint16_t>, volts_of<std::int16_t>, volts_of<std::int32_t>};

}  // namespace plumbline::inline v0::capture::kernel_detail
