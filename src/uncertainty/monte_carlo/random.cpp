#include <plumbline/uncertainty/random.hpp>

#include <bit>

namespace plumbline::inline v0::uncertainty {

namespace {

constexpr std::uint32_t low(std::uint64_t x) { return static_cast<std::uint32_t>(x); }
constexpr std::uint32_t high(std::uint64_t x) { return static_cast<std::uint32_t>(x >> 32); }

}  // namespace

std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key) {
    for (int round = 0; round < 10; ++round) {
        const std::uint64_t a = std::uint64_t{0xD2511F53} * counter[0];
        const std::uint64_t b = std::uint64_t{0xCD9E8D57} * counter[2];
        counter = {high(b) ^ counter[1] ^ key[0], low(b), high(a) ^ counter[3] ^ key[1], low(a)};
        key[0] += 0x9E3779B9;
        key[1] += 0xBB67AE85;
    }
    return counter;
}

std::uint64_t xoshiro256pp(std::array<std::uint64_t, 4>& state) {
    auto& [s0, s1, s2, s3] = state;
    const std::uint64_t result = std::rotl(s0 + s3, 23) + s0;
    const std::uint64_t t = s1 << 17;
    s2 ^= s0;
    s3 ^= s1;
    s1 ^= s2;
    s0 ^= s3;
    s2 ^= t;
    s3 = std::rotl(s3, 45);
    return result;
}

std::array<std::array<std::uint64_t, 4>, generators_of_block> generators(std::uint64_t seed, std::uint64_t block) {
    std::array<std::array<std::uint64_t, 4>, generators_of_block> all{};
    for (std::uint32_t lane = 0; lane < generators_of_block; ++lane) {
        for (std::uint32_t half = 0; half < 2; ++half) {
            const auto words = philox4x32({low(block), high(block), lane, half}, {low(seed), high(seed)});
            all[lane][std::size_t{2} * half] = words[0] | std::uint64_t{words[1]} << 32;
            all[lane][std::size_t{2} * half + 1] = words[2] | std::uint64_t{words[3]} << 32;
        }
    }
    return all;
}

}  // namespace plumbline::inline v0::uncertainty
