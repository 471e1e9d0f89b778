#include "../slow_build.hpp"

#include <doctest/doctest.h>
#include <plumbline/uncertainty/coverage.hpp>
#include <simulation/coverage.hpp>
#include <thread>

namespace simulation_coverage_test {

using namespace plumbline::simulation;

TEST_CASE("binomial bounds leave at most 0.05 % on each side") {
    // n = 10, p = 1/2: P(0) = 1/1024 is more than 0.05 % already
    CHECK(binomial_bounds(10, 0.5).first == 0);
    CHECK(binomial_bounds(10, 0.5).second == 10);
    // n = 20, p = 1/2: P(<= 2) = 211/2^20 = 0.020 %, P(<= 3) = 1351/2^20 = 0.129 %
    CHECK(binomial_bounds(20, 0.5).first == 3);
    CHECK(binomial_bounds(20, 0.5).second == 17);
}

TEST_CASE("a simulation gives the same figures for one thread and for three") {
    const kind what = kinds().at(9);
    const auto one = simulate(what, 60, 1);
    const auto three = simulate(what, 60, 3);
    REQUIRE(one.size() == three.size());
    for (std::size_t i = 0; i < one.size(); ++i) {
        CHECK(one[i].covered == three[i].covered);
        CHECK(one[i].mean_U == three[i].mean_U);
        CHECK(one[i].quantile == three[i].quantile);
    }
}

// The small set. Its bounds are the large set's (coverage_long_test.cpp), widened by what a sample of this size can tell and no more.
TEST_CASE("stated intervals hold the truth of 500 simulated instruments of each kind as often as they say, and are not padded" *
          doctest::skip(slow::build)) {
    constexpr std::size_t instruments = 500;
    const count_bounds expected = binomial_bounds(instruments, plumbline::uncertainty::default_coverage_probability);
    for (const kind& what : kinds()) {
        for (const cell& c : simulate(what, instruments, std::thread::hardware_concurrency())) {
            CAPTURE(c.kind);
            CAPTURE(c.reading);
            CHECK(c.instruments == instruments);
            CHECK(c.covered >= expected.first);
            if (what.because.empty()) CHECK(c.covered <= expected.second);
            CHECK(c.mean_U >= 0.97 * c.quantile_low);
            CHECK(c.mean_U <= 1.10 * c.quantile_high);
        }
    }
}

TEST_CASE("stated intervals hold the truth of 150 instruments of each wider kind at least as often as they say" *
          doctest::skip(slow::build)) {
    constexpr std::size_t instruments = 150;
    for (const kind& what : wider_kinds()) {
        if (!what.finding.empty() || what.long_run_only) continue;
        for (const cell& c : simulate(what, instruments, std::thread::hardware_concurrency())) {
            CAPTURE(c.kind);
            CAPTURE(c.reading);
            CHECK(c.instruments + c.refused == instruments);
            CHECK(c.instruments > instruments / 2);
            CHECK(broken_rule(what, c) == "");
        }
    }
}

TEST_CASE("a calibration that the library refuses is counted, and nothing is stated of it") {
    // A twentieth of the converter's codes is the least span of the steps: 1.1 V of this range.
    kind what = kinds().at(7);
    REQUIRE(what.name == "no noise, bipolar");
    what.reference = {1.1, 1e-3, false};
    constexpr std::size_t instruments = 60;
    for (const cell& c : simulate(what, instruments, 1)) {
        CHECK(c.instruments + c.refused == instruments);
        CHECK(c.refused > 0);
        CHECK(c.instruments > 0);
    }
}

TEST_CASE("intervals from 100 000 trials are as long as those by convolution" * doctest::skip(slow::build)) {
    for (const kind& what : kinds_by_trials()) {
        for (const cell& c : simulate(what, 4, std::thread::hardware_concurrency(), 100'000)) {
            CAPTURE(c.kind);
            CAPTURE(c.reading);
            const double to_U = c.mean_U_by_trials / c.mean_U;
            CHECK(to_U >= 0.99);  // an end scatters by 0.9 % of u
            CHECK(to_U <= (what.samples < 20 ? 1.04 : 1.01));
        }
    }
}

}  // namespace simulation_coverage_test
