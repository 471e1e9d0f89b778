#include <plumbline/uncertainty/random.hpp>

#include <bit>

namespace plumbline::inline v0::uncertainty {

namespace {

constexpr std::uint32_t low(std::uint64_t x) { return static_cast<std::uint32_t>(x); }
constexpr std::uint32_t high(std::uint64_t x) { return static_cast<std::uint32_t>(x >> 32); }

/// Ten rounds of Philox on pairs of words. In a round the first word of each pair is multiplied, and the pairs change places.
template <std::size_t pairs>
std::array<std::uint32_t, 2 * pairs> philox(std::array<std::uint32_t, 2 * pairs> counter, std::array<std::uint32_t, pairs> key,
                                            const std::array<std::uint32_t, pairs>& multiplier) {
    constexpr std::array<std::uint32_t, 2> step_of_key = {0x9E3779B9, 0xBB67AE85};
    for (int round = 0; round < 10; ++round) {
        const auto before = counter;
        for (std::size_t i = 0; i < pairs; ++i) {
            const std::size_t other = pairs - 1 - i;
            const std::uint64_t product = std::uint64_t{multiplier[other]} * before[2 * other];
            counter[2 * i] = high(product) ^ before[2 * i + 1] ^ key[i];
            counter[2 * i + 1] = low(product);
        }
        for (std::size_t i = 0; i < pairs; ++i) key[i] += step_of_key[i];
    }
    return counter;
}

}  // namespace

std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key) {
    return philox<2>(counter, key, {0xD2511F53, 0xCD9E8D57});
}

std::array<std::uint32_t, 2> philox2x32(std::array<std::uint32_t, 2> counter, std::array<std::uint32_t, 1> key) {
    return philox<1>(counter, key, {0xD256D193});
}

std::array<std::uint32_t, 4> threefry4x32(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 4> key) {
    constexpr std::array<std::array<int, 2>, 8> turns = {
        {{10, 26}, {11, 21}, {13, 27}, {23, 5}, {6, 20}, {17, 11}, {25, 10}, {18, 20}}};
    const std::array<std::uint32_t, 5> keys = {key[0], key[1], key[2], key[3], 0x1BD11BDA ^ key[0] ^ key[1] ^ key[2] ^ key[3]};
    auto& x = counter;
    for (std::size_t i = 0; i < 4; ++i) x[i] += keys[i];
    for (std::uint32_t round = 0; round < 20; ++round) {
        // the first and the third word each mix with one of the other two, in turn
        const std::size_t first = round % 2 == 0 ? 1 : 3;
        const std::size_t second = 4 - first;
        x[0] += x[first];
        x[first] = std::rotl(x[first], turns[round % 8][0]) ^ x[0];
        x[2] += x[second];
        x[second] = std::rotl(x[second], turns[round % 8][1]) ^ x[2];
        if (round % 4 != 3) continue;
        const std::uint32_t injected = round / 4 + 1;
        for (std::size_t i = 0; i < 4; ++i) x[i] += keys[(injected + i) % 5];
        x[3] += injected;
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
