// Kernels for every processor: on x86-64 with SSE2, which all of them have.

#include "kernels.hpp"

#if defined(__SSE2__)
#include <emmintrin.h>
#endif

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

namespace {

constexpr std::size_t width = 2;
constexpr std::size_t together = 2;
#include "kernel_types.inc"

inline vd root(vd x) {
#if defined(__SSE2__)
    return _mm_sqrt_pd(x);
#else
    return vd{__builtin_sqrt(x[0]), __builtin_sqrt(x[1])};
#endif
}

// Written always, counted when it belongs: no branch to be guessed.
inline std::size_t append_if_at_most(vd v, double limit, double* out) {
    const double a = v[0];
    const double b = v[1];
    out[0] = a;
    const std::size_t first = a <= limit;
    out[first] = b;
    return first + (b <= limit);
}
inline std::size_t append_if_at_least(vd v, double limit, double* out) {
    const double a = v[0];
    const double b = v[1];
    out[0] = a;
    const std::size_t first = a >= limit;
    out[first] = b;
    return first + (b >= limit);
}

#include "kernels.inc"
#include "line_sums.inc"

}  // namespace

const kernels plain_kernels = {"plain", rectangular,     two_rectangles, curvilinear_trapezoid,
                               arcsine, normal,          student_t,      bits,
                               sum,     sum_of_products, keep_tails,     line};

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
