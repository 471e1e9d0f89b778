#pragma once
// Random numbers of the simulation: the same on every machine for the same seed, unlike the distributions of <random>.

#include <array>
#include <cstdint>

namespace plumbline::simulation {

/// One step of SplitMix64; spreads a small seed over 64 bits.
/// Source (from memory): G. L. Steele, D. Lea, C. H. Flood, Fast splittable pseudorandom number generators, OOPSLA 2014.
[[nodiscard]] std::uint64_t split_mix(std::uint64_t& state);

/// xoshiro256++, its four words filled by SplitMix64.
/// Source (from memory): D. Blackman, S. Vigna, Scrambled linear pseudorandom number generators, ACM TOMS 47 (2021), article 36.
class generator {
public:
    explicit generator(std::uint64_t seed);

    [[nodiscard]] std::uint64_t bits();

    /// Uniform in [0, 1), 53 bits.
    [[nodiscard]] double uniform();

    /// Uniform in [-half_width, half_width).
    [[nodiscard]] double within(double half_width);

    /// Normal with mean 0 and standard deviation 1 (Box and Muller). Calls the C library's log, sin and cos: another C library may differ in
    /// the last bit.
    [[nodiscard]] double normal();

private:
    std::array<std::uint64_t, 4> state_{};
    double kept_ = 0.0;  ///< second of the pair that Box and Muller make
    bool has_kept_ = false;
};

}  // namespace plumbline::simulation
