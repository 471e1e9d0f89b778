#pragma once
// The compiled inner loops of Monte Carlo and of straight lines: one table of functions for each instruction set, all with the same results to the last bit.
//
// A kernel object is compiled with flags of its own. It defines no weak symbol: the linker keeps one copy of such a symbol for the whole
// program, and might keep the one that other processors cannot run. So kernels use no inline function and no template of a library.

#include <cstddef>
#include <cstdint>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

inline constexpr std::size_t kernel_column = 256;  ///< trials in a column
inline constexpr std::size_t kernel_lanes = 8;     ///< generators side by side; trial i of a column belongs to lane i % 8

/// Word w of the generator of lane l at [8 w + l].
inline constexpr std::size_t kernel_state = 4 * kernel_lanes;

/// Sums over points of dx = x - x0 and of the residual r = y - y0 - slope dx from a guess, each multiplied by the weight 1/u^2, or by 1.
/// They stand in pairs as a kernel writes them, so that what is read together, dx and r, was written together.
struct alignas(16) line_sums {
    double w, dx_dx, dx, r, dx_r, r_r;
    bool sound;  ///< no u is negative or infinite; one of 0, or NaN, shows in w
};

// u stands for a number in [0, 1) or (0, 1] made of 52 bits, a new one each time. Columns are aligned to 64 bytes.
struct kernels {
    const char* name;

    /// out = centre + half_width (2u - 1). Source: JCGM 101:2008, 6.4.2.4.
    void (*rectangular)(std::uint64_t* state, double* out, double centre, double half_width);
    /// out = centre + half_width_1 (2u - 1) + half_width_2 (2u - 1). Source: JCGM 101:2008, 6.4.4.4 and 6.4.5.4.
    void (*two_rectangles)(std::uint64_t* state, double* out, double centre, double half_width_1, double half_width_2);
    /// out = centre + s (2u - 1) with s = half_width + d (2u - 1). Source: JCGM 101:2008, 6.4.3.4.
    void (*curvilinear_trapezoid)(std::uint64_t* state, double* out, double centre, double half_width, double d);
    /// out = centre + half_width sin(2 pi u). Source: JCGM 101:2008, 6.4.6.3.
    void (*arcsine)(std::uint64_t* state, double* out, double centre, double half_width);
    /// out = centre + scale sqrt(-2 ln u) cos(2 pi u'), and with sin. Source: JCGM 101:2008, C.4 (Box-Muller).
    void (*normal)(std::uint64_t* state, double* out, double centre, double scale);
    /// out = centre + scale sqrt(nu (u^(-2/nu) - 1)) cos(2 pi u'). Source: R. W. Bailey, Math. Comp. 62 (1994) 779, polar generation of t.
    void (*student_t)(std::uint64_t* state, double* out, double centre, double scale, double nu);
    /// out = bits of the generator as they come.
    void (*bits)(std::uint64_t* state, std::uint64_t* out);

    /// Sum of a column: eight partial sums, of trials i with the same i % 8, then their sum.
    double (*sum)(const double* x);
    /// Sum of (x - mean_x) (y - mean_y), added up likewise.
    double (*sum_of_products)(const double* x, double mean_x, const double* y, double mean_y);
    /// Appends each x <= low to low_out[*low_count...] and each x >= high to high_out, and counts; both have room for 264 more.
    void (*keep_tails)(const double* x, double low, double high, double* low_out, std::size_t* low_count, double* high_out,
                       std::size_t* high_count);

    /// Sums over n points, at least four; u may be null: all weights are 1. Four partial sums, of points i with the same i % 4.
    line_sums (*line)(const double* x, const double* y, const double* u, std::size_t n, double x0, double y0, double slope);
};

extern const kernels plain_kernels;
#if defined(PLUMBLINE_X86_KERNELS)
extern const kernels avx2_kernels;
extern const kernels avx512_kernels;
#endif

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
