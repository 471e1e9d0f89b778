#include "instruction_set.hpp"

#include <cstdlib>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

using monte_carlo_detail::kernels;

std::vector<const kernels*> found() {
    std::vector<const kernels*> all = {&monte_carlo_detail::plain_kernels};
#if defined(PLUMBLINE_X86_KERNELS)
    __builtin_cpu_init();
    if (__builtin_cpu_supports("avx2")) all.push_back(&monte_carlo_detail::avx2_kernels);
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq"))
        all.push_back(&monte_carlo_detail::avx512_kernels);
#endif
    return all;
}

/// What the processor can run does not change; a line of some hundred points is fitted faster than it is asked.
const std::vector<const kernels*>& available() {
    static const std::vector<const kernels*> all = found();
    return all;
}

}  // namespace

const kernels& monte_carlo_detail::chosen_kernels() {
    const std::vector<const kernels*>& all = available();
    const char* named = std::getenv("PLUMBLINE_INSTRUCTION_SET");
    if (named == nullptr) return *all.back();
    std::string names;
    for (const kernels* k : all) {
        if (std::string(named) == k->name) return *k;
        names += (names.empty() ? "" : ", ") + std::string(k->name);
    }
    throw bad_input("environment variable PLUMBLINE_INSTRUCTION_SET", '"' + std::string(named) + '"',
                    "one that this machine runs: " + names, "correct it, or leave it unset for the best");
}

std::vector<std::string> instruction_sets() {
    std::vector<std::string> names;
    for (const kernels* k : available()) names.emplace_back(k->name);
    return names;
}

}  // namespace plumbline::inline v0::uncertainty
