#pragma once
// The compiled inner loops over captures: one table of functions for each instruction set, all with the same results to the last bit.
//
// A kernel object is compiled with flags of its own and defines no weak symbol (see src/uncertainty/monte_carlo/kernels.hpp): no inline
// function and no template of a library.

#include <cstddef>
#include <cstdint>

namespace plumbline::inline v0::capture::kernel_detail {

/// V = offset + gain c, by the second line below the knee; U = sqrt(a + c (V - centre)^2). Computed in float.
struct volt_terms {
    float gain, offset;
    float gain_below, offset_below;
    float knee;  ///< codes; -infinity: one line
    float a, c, centre;
};

/// What is seen of some samples: the sum of their distances from the bottom code, and whether all of them are within.
struct seen_samples {
    std::uint64_t sum;
    bool within;
};

struct kernels {
    const char* name;

    /// n samples, at most 4096; a distance of `last` or less from bottom is within; last < 2^20. The sum is right where all are within.
    seen_samples (*look)(const std::int32_t* samples, std::size_t n, std::int32_t bottom, std::uint32_t last);

    /// n codes to volts, and to U where u is not null. `past`: write past the caches, for results that do not fit into them.
    void (*volts_of_unsigned)(const std::uint16_t* codes, std::size_t n, const volt_terms& by, float* volts, float* u, bool past);
    void (*volts_of_signed)(const std::int16_t* codes, std::size_t n, const volt_terms& by, float* volts, float* u, bool past);
    void (*volts_of_wide)(const std::int32_t* codes, std::size_t n, const volt_terms& by, float* volts, float* u, bool past);
};

extern const kernels plain_kernels;
#if defined(PLUMBLINE_X86_KERNELS)
extern const kernels avx2_kernels;
extern const kernels avx512_kernels;
#endif

/// Those of the instruction set that Monte Carlo uses too: the best here, or the one named by PLUMBLINE_INSTRUCTION_SET.
/// @throws bad_input  that names none, or one too high
[[nodiscard]] const kernels& chosen_kernels();

}  // namespace plumbline::inline v0::capture::kernel_detail
