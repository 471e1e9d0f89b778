#pragma once
// The random numbers of Monte Carlo: published generators, and how a seed and the number of a block of trials become numbers.

#include <array>
#include <cstddef>
#include <cstdint>
#include <plumbline/export.hpp>
#include <plumbline/units/compiler.hpp>
#include <span>

namespace plumbline::inline v0::uncertainty {

// Generators by counter: a counter and a key to as many random words, the same whatever was asked before.
// Source: J. K. Salmon et al., Parallel random numbers: as easy as 1, 2, 3, SC11 (2011); known answers of Random123.

/// Philox4x32 with 10 rounds, by which Monte Carlo seeds its blocks.
[[nodiscard]] PLUMBLINE_EXPORT std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter,
                                                                       std::array<std::uint32_t, 2> key);

/// Philox2x32 with 10 rounds.
[[nodiscard]] PLUMBLINE_EXPORT std::array<std::uint32_t, 2> philox2x32(std::array<std::uint32_t, 2> counter,
                                                                       std::array<std::uint32_t, 1> key);

/// Threefry4x32 with 20 rounds: sums, rotations and exclusive or in place of Philox's multiplications. No result comes from it: a result that
/// is drawn again by it, and stays, does not come from the generator.
[[nodiscard]] PLUMBLINE_EXPORT std::array<std::uint32_t, 4> threefry4x32(std::array<std::uint32_t, 4> counter,
                                                                         std::array<std::uint32_t, 4> key);

/// One step of xoshiro256++. Period 2^256 - 1; the state must not be all zero.
/// Source: D. Blackman, S. Vigna, Scrambled linear pseudorandom number generators, ACM Trans. Math. Softw. 47 (2021) 36.
[[nodiscard]] PLUMBLINE_EXPORT std::uint64_t xoshiro256pp(std::array<std::uint64_t, 4>& state);

/// The generators of a block of trials: eight xoshiro256++ side by side, trial i of the block drawn by number i % 8. Word w of generator l
/// is half of philox4x32({block (low, high), l, w / 2}, {seed (low, high)}), so that a block's numbers depend on seed and block alone: any
/// thread may draw any block.
inline constexpr std::size_t generators_of_block = 8;
[[nodiscard]] PLUMBLINE_EXPORT std::array<std::array<std::uint64_t, 4>, generators_of_block> generators(std::uint64_t seed,
                                                                                                        std::uint64_t block);

}  // namespace plumbline::inline v0::uncertainty
