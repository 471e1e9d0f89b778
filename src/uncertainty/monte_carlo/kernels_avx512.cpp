// Kernels for processors with AVX-512; compiled with -mavx512f -mavx512dq.

#include "kernels.hpp"

#include <immintrin.h>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

namespace {

constexpr std::size_t width = 8;
constexpr std::size_t together = 1;
#include "kernel_types.inc"

// All lanes by their mask: g++ 12 warns of the unmasked form, whose header reads an uninitialised vector.
INLINE vd root(vd x) { return _mm512_maskz_sqrt_pd(0xff, x); }

INLINE std::size_t append(vd v, __mmask8 flags, double* out) {
    _mm512_storeu_pd(out, _mm512_maskz_compress_pd(flags, v));
    return static_cast<std::size_t>(__builtin_popcount(flags));
}
INLINE std::size_t append_if_at_most(vd v, double limit, double* out) {
    return append(v, _mm512_cmp_pd_mask(v, all_of(limit), _CMP_LE_OQ), out);
}
INLINE std::size_t append_if_at_least(vd v, double limit, double* out) {
    return append(v, _mm512_cmp_pd_mask(v, all_of(limit), _CMP_GE_OQ), out);
}

#include "kernels.inc"
#include "line_sums.inc"

}  // namespace

const kernels avx512_kernels = {"avx512", rectangular,     two_rectangles, curvilinear_trapezoid,
                                arcsine,  normal,          student_t,      bits,
                                sum,      sum_of_products, keep_tails,     line};

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
