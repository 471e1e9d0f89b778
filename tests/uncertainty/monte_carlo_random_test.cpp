// The generators of Monte Carlo against published answers, and how a block of trials gets its own.

#include "../reference/published.hpp"
#include "wichmann_hill.hpp"

#include <array>
#include <cmath>
#include <numeric>
#include <plumbline/uncertainty/random.hpp>
#include <set>
#include <string>
#include <vector>

namespace monte_carlo_random_test {

using namespace plumbline::uncertainty;
using plumbline::published::entry;

namespace {

template <std::size_t n>
std::array<std::uint32_t, n> words(const nlohmann::json& hex) {
    std::array<std::uint32_t, n> all{};
    for (std::size_t i = 0; i < n; ++i)
        all[i] = static_cast<std::uint32_t>(std::stoul(hex.at(i).get<std::string>(), nullptr, 16));
    return all;
}

}  // namespace

TEST_CASE("Philox4x32 and Philox2x32 with 10 rounds and Threefry4x32 with 20 give the known answers of Random123") {
    const auto check = [](const char* id, auto generator, auto words_of_counter, auto words_of_key) {
        CAPTURE(id);
        const auto e = entry("random", id);
        const auto& in = e["inputs"];
        REQUIRE(in["counter"].size() == 3);
        for (std::size_t i = 0; i < in["counter"].size(); ++i) {
            CAPTURE(i);
            CHECK(generator(words<words_of_counter>(in["counter"][i]), words<words_of_key>(in["key"][i])) ==
                  words<words_of_counter>(e["expected"]["output"][i]));
        }
    };
    using std::integral_constant;
    check("philox4x32-10", philox4x32, integral_constant<std::size_t, 4>{}, integral_constant<std::size_t, 2>{});
    check("philox2x32-10", philox2x32, integral_constant<std::size_t, 2>{}, integral_constant<std::size_t, 1>{});
    check("threefry4x32-20", threefry4x32, integral_constant<std::size_t, 4>{}, integral_constant<std::size_t, 4>{});
}

TEST_CASE("xoshiro256++ from the state 1, 2, 3, 4 starts as its definition says, worked out by hand") {
    // first: rotl(1 + 4, 23) + 1 = 5 * 2^23 + 1; the state is then {7, 0, 0x40002, 6 << 45}, so rotl(7 + (6 << 45), 23) + 7 with
    // (6 << 45) rotated by 23 places: 6 * 2^68 mod (2^64 - 1) = 6 * 2^4 = 96
    std::array<std::uint64_t, 4> state = {1, 2, 3, 4};
    CHECK(xoshiro256pp(state) == 41943041u);
    CHECK(state == std::array<std::uint64_t, 4>{7, 0, 0x40002, std::uint64_t{6} << 45});
    CHECK(xoshiro256pp(state) == 7u * 0x800000u + 96u + 7u);
}

TEST_CASE("a block's generators are Philox of seed, block, lane and half, and no two of them are alike") {
    const auto all = generators(0x0123456789abcdef, 0xfedcba9876543210);
    const auto half = philox4x32({0x76543210, 0xfedcba98, 5, 1}, {0x89abcdef, 0x01234567});
    CHECK(all[5][2] == (half[0] | std::uint64_t{half[1]} << 32));
    CHECK(all[5][3] == (half[2] | std::uint64_t{half[3]} << 32));

    std::set<std::array<std::uint64_t, 4>> seen;
    for (std::uint64_t seed = 0; seed < 10; ++seed) {
        for (std::uint64_t block = 0; block < 100; ++block) {
            for (const auto& state : generators(seed, block)) seen.insert(state);
        }
    }
    CHECK(seen.size() == 10 * 100 * generators_of_block);
}

TEST_CASE(
    "the enhanced Wichmann-Hill generator of JCGM 101 C.3.3, which tests draw by, gives the sequence recomputed from its "
    "constants") {
    const auto e = entry("jcgm101", "jcgm101-c3.3-enhanced-wichmann-hill");
    wichmann_hill draw(e["inputs"]["seed"].get<std::array<std::uint64_t, 4>>());
    for (const double expected : e["recomputed"]["first_five"].get<std::vector<double>>())
        CHECK(std::abs(draw() - expected) < 1e-15);
    CHECK(draw.state == e["recomputed"]["state_after_five"].get<std::array<std::uint64_t, 4>>());

    // Each of the four runs through all numbers below its prime; what two of these periods share is a factor of 2.
    const auto primes = e["inputs"]["d"].get<std::array<std::uint64_t, 4>>();
    double period_log2 = 0.0;
    for (std::size_t i = 0; i < 4; ++i) {
        period_log2 += std::log2(static_cast<double>(primes[i] - 1)) - (i > 0 ? 1.0 : 0.0);
        for (std::size_t j = 0; j < i; ++j) CHECK(std::gcd(primes[i] - 1, primes[j] - 1) == 2);
    }
    CHECK(std::abs(period_log2 - e["expected"]["period_log2"].get<double>()) <= 0.001);
}

}  // namespace monte_carlo_random_test
