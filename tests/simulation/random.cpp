#include <bit>
#include <cmath>
#include <numbers>
#include <simulation/random.hpp>

namespace plumbline::simulation {

std::uint64_t split_mix(std::uint64_t& state) {
    state += 0x9e3779b97f4a7c15U;
    std::uint64_t z = state;
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31U);
}

generator::generator(std::uint64_t from) {
    for (std::uint64_t& word : state_) word = split_mix(from);
}

std::uint64_t generator::bits() {
    const std::uint64_t result = std::rotl(state_[0] + state_[3], 23) + state_[0];
    const std::uint64_t shifted = state_[1] << 17U;
    state_[2] ^= state_[0];
    state_[3] ^= state_[1];
    state_[1] ^= state_[2];
    state_[0] ^= state_[3];
    state_[2] ^= shifted;
    state_[3] = std::rotl(state_[3], 45);
    return result;
}

double generator::uniform() { return static_cast<double>(bits() >> 11U) * 0x1p-53; }

double generator::within(double half_width) { return half_width * (2.0 * uniform() - 1.0); }

double generator::normal() {
    if (has_kept_) {
        has_kept_ = false;
        return kept_;
    }
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));  // 1 - uniform() is never 0
    const double angle = 2.0 * std::numbers::pi * uniform();
    kept_ = radius * std::sin(angle);
    has_kept_ = true;
    return radius * std::cos(angle);
}

}  // namespace plumbline::simulation
