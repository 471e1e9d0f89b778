// Kernels for processors with AVX2; compiled with -mavx2.

#include "kernels.hpp"

#include <immintrin.h>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

namespace {

constexpr std::size_t width = 4;
constexpr std::size_t together = 2;
#include "kernel_types.inc"

INLINE vd root(vd x) { return _mm256_sqrt_pd(x); }

/// For each set of four flags, the order of eight halves that brings the flagged numbers to the front.
struct compression {
    alignas(32) int halves[16][8];
    unsigned char count[16];
};
constexpr compression compressions() {
    compression all{};
    for (int flags = 0; flags < 16; ++flags) {
        std::size_t kept = 0;
        for (int i = 0; i < 4; ++i) {
            if ((flags >> i & 1) == 0) continue;
            all.halves[flags][2 * kept] = 2 * i;
            all.halves[flags][2 * kept + 1] = 2 * i + 1;
            ++kept;
        }
        all.count[flags] = static_cast<unsigned char>(kept);
    }
    return all;
}
constexpr compression table = compressions();

INLINE std::size_t append(vd v, int flags, double* out) {
    const __m256i order = _mm256_load_si256(reinterpret_cast<const __m256i*>(table.halves[flags]));
    _mm256_storeu_pd(out, _mm256_castps_pd(_mm256_permutevar8x32_ps(_mm256_castpd_ps(v), order)));
    return table.count[flags];
}
INLINE std::size_t append_if_at_most(vd v, double limit, double* out) {
    return append(v, _mm256_movemask_pd(_mm256_cmp_pd(v, all_of(limit), _CMP_LE_OQ)), out);
}
INLINE std::size_t append_if_at_least(vd v, double limit, double* out) {
    return append(v, _mm256_movemask_pd(_mm256_cmp_pd(v, all_of(limit), _CMP_GE_OQ)), out);
}

#include "kernels.inc"
#include "line_sums.inc"

}  // namespace

const kernels avx2_kernels = {"avx2",  rectangular,     two_rectangles, curvilinear_trapezoid,
                              arcsine, normal,          student_t,      bits,
                              sum,     sum_of_products, keep_tails,     line};

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
