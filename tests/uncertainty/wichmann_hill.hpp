#pragma once
// A generator by other means than the library's: for trials that are to agree with it by chance alone.

#include <array>
#include <cmath>
#include <cstdint>

namespace plumbline::inline v0::uncertainty {

/// The enhanced Wichmann-Hill generator. Source: JCGM 101:2008, C.3.3, table C.2 and the rule for 64-bit integers.
class wichmann_hill {
public:
    explicit wichmann_hill(std::array<std::uint64_t, 4> seed) : state(seed) {}
    double operator()() {
        constexpr std::array<std::uint64_t, 4> a = {11600, 47003, 23000, 33000};
        constexpr std::array<std::uint64_t, 4> d = {2147483579, 2147483543, 2147483423, 2147483123};
        double sum = 0.0;
        for (std::size_t j = 0; j < 4; ++j) {
            state[j] = a[j] * state[j] % d[j];
            sum += static_cast<double>(state[j]) / static_cast<double>(d[j]);
        }
        return sum - std::floor(sum);
    }
    std::array<std::uint64_t, 4> state;
};

}  // namespace plumbline::inline v0::uncertainty
