#include "../uncertainty/monte_carlo/instruction_set.hpp"
#include "kernels/kernels.hpp"

#include <string_view>

namespace plumbline::inline v0::capture {

const kernel_detail::kernels& kernel_detail::chosen_kernels() {
#if defined(PLUMBLINE_X86_KERNELS)
    const std::string_view name = uncertainty::monte_carlo_detail::chosen_kernels().name;
    if (name == avx512_kernels.name && __builtin_cpu_supports("avx512bw")) return avx512_kernels;
    if (name != plain_kernels.name) return avx2_kernels;  // a processor with AVX-512 has AVX2
#endif
    return plain_kernels;
}

}  // namespace plumbline::inline v0::capture
