#include <doctest/doctest.h>

#include <cmath>
#include <plumbline/capture/statistics.hpp>
#include <simulation/instrument.hpp>
#include <slow_build.hpp>

namespace slow_noise_test {

using namespace plumbline;
using simulation::generator;

namespace {

capture::statistics seen(const simulation::disturbance& besides, double noise, std::size_t n, std::uint64_t seed,
                         double* position = nullptr) {
    generator random(seed);
    simulation::instrument unit;
    unit.network.top = {1e6, 0.0};
    unit.network.bottom = simulation::actual_part{1e6, 0.0};
    unit.converter.reference = {3.3, 0.0};
    unit.converter.inl.assign(512, 0.0);
    unit.converter.noise = noise;
    unit.converter.besides = besides;
    capture::run r;
    const simulation::source from{2.0 + random.uniform(), 0.0};
    if (position != nullptr) *position = unit.position(from, 23.0);
    r.codes = unit.capture(from, n, 23.0, random);
    r.sample_rate = 10e3 * hertz;
    return capture::summarise(r, 0, 4095);
}

int with_slow_noise(int captures, const simulation::disturbance& besides, double noise, std::size_t n) {
    int found = 0;
    for (int i = 0; i < captures; ++i)
        found += seen(besides, noise, n, 500 + static_cast<std::uint64_t>(i)).slow.has_value() ? 1 : 0;
    return found;
}

}  // namespace

TEST_CASE("1/f noise has the floor of its Allan deviation, white noise and noise with a short memory have none") {
    const simulation::disturbance flicker{.flicker = 1.5};
    const int captures = slow::repetitions(200);
    CHECK(with_slow_noise(captures, {}, 0.7, 256) <= 1);
    CHECK(with_slow_noise(captures, {}, 0.1, 256) <= 1);
    CHECK(with_slow_noise(captures, {.noise_memory = 0.8}, 2.0, 1000) <= 1);
    // a share of many: eight of them say nothing of it
    CHECK((slow::build || with_slow_noise(captures, flicker, 0.7, 4000) >= captures * 88 / 100));

    // Each octave of 1/f noise has h ln 2, each part of this one, two octaves apart, 1.5^2 / 8: A = 2 ln 2 h = 0.53^2.
    double floors = 0.0;
    int found = 0;
    for (int i = 0; i < captures; ++i) {
        const auto s = seen(flicker, 0.7, 4000, 500 + static_cast<std::uint64_t>(i));
        if (!s.slow) continue;
        ++found;
        floors += s.slow->floor.value() * s.slow->floor.value();
        CHECK(s.n_eff <= s.s.value() * s.s.value() / (s.slow->floor.value() * s.slow->floor.value()) + 1e-9);
        CHECK(s.slow->degrees_of_freedom > 20.0);
    }
    CHECK(std::abs(std::sqrt(floors / found) - 1.5 / std::sqrt(8.0)) <= 0.05);
}

TEST_CASE("hum that stands out is taken off: what a part of a period does to the mean is known, and noise is what is left") {
    double off = 0.0;
    double off_with_it = 0.0;
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        double position = 0.0;
        const auto s = seen({.hum = 3.0}, 0.7, 460, seed, &position);
        REQUIRE(s.removed.has_value());
        CHECK(std::abs(s.removed->at.value() - 50.0) <= 1e-9);
        CHECK(std::abs(s.removed->amplitude.value() - 3.0) <= 0.25);
        CHECK(std::abs(s.removed->noise.value() - std::sqrt(0.49 + 1.0 / 12.0)) <= 0.1);
        CHECK(s.removed->n_eff > 230.0);
        CHECK(s.removed->u.value() > 0.0);
        CHECK(s.removed->u.value() < 0.02);
        off += std::pow((s.mean - s.removed->shift).value() - position, 2.0) / 20.0;
        off_with_it += std::pow(s.mean.value() - position, 2.0) / 20.0;
    }
    CHECK(std::sqrt(off) <= 0.055);         // 0.76 / sqrt(460) = 0.035
    CHECK(std::sqrt(off_with_it) >= 0.15);  // 3 sin(2.3 pi) / (2.3 pi) = 0.34 at most
    CHECK_FALSE(seen({}, 0.7, 460, 1).removed.has_value());
    CHECK_FALSE(seen({.hum = 0.2}, 0.7, 460, 1).removed.has_value());
}

TEST_CASE("a few codes are counted, many are not") {
    capture::run r;
    r.codes = {10, 12, 12, 10, 12};
    const auto few = capture::summarise(r, 0, 4095);
    CHECK(few.few_codes == std::vector<capture::code_count>{{10, 2}, {12, 3}});
    r.codes.push_back(18);
    CHECK(capture::summarise(r, 0, 4095).few_codes.empty());
}

}  // namespace slow_noise_test
