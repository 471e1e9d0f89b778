#include "signals.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <slow_build.hpp>
#include <vector>

namespace one_pass_long_test {

using namespace plumbline;
using capture::in_one_pass;
using capture::longer_capture;
using capture::one_pass_statistics;
using signals::captured;
using signals::how_many;
using signals::pi;
using signals::sampled;
using signals::seen;
using signals::signal;
using signals::u_of_mean;

TEST_CASE("white noise counts in full, and a longer capture helps") {
    CHECK(how_many(200, {.n = 1000}, 100, [](const auto& st) { return st.n_eff == 1000.0; }) >= 195);
    CHECK(how_many(200, {.n = 1000}, 100, [](const auto& st) { return st.longer == longer_capture::helps; }) >= 195);
    CHECK(seen({.n = 1000}, 1).told_from == 32);
    CHECK(seen({.n = 31}, 1).longer == longer_capture::cannot_be_told);
    CHECK(seen({.n = 1000, .noise = 0.0}, 1).longer == longer_capture::does_not_help);
}

TEST_CASE("samples that hang together: the uncertainty of the mean covers the position") {
    struct row {
        double phi;
        std::size_t n;
    };
    for (const row& r : {row{0.5, 1000}, row{0.9, 8000}, row{0.98, 20000}}) {
        CAPTURE(r.phi);
        int covered = 0;
        double ratio = 0.0;
        constexpr int captures = 200;
        for (int i = 0; i < captures; ++i) {
            const captured c = sampled({.n = r.n, .noise = 5.0, .phi = r.phi}, 3000 + static_cast<std::uint64_t>(i));
            const one_pass_statistics st = in_one_pass(c.run, 0, 4095, false);
            covered += std::abs(st.mean.value() - c.position) <= 2.0 * u_of_mean(st) ? 1 : 0;
            ratio += u_of_mean(st) / std::sqrt(25.0 / static_cast<double>(r.n) * (1.0 + r.phi) / (1.0 - r.phi)) / captures;
        }
        CHECK(covered >= 181);  // 95.45 % less 3 standard deviations of 200 captures
        CHECK(ratio >= 0.95);
        CHECK(ratio <= 1.3);  // the largest of several estimates
    }
}

TEST_CASE("1/f noise has a floor, and a longer capture is said not to help") {
    const signal slow{.n = 20000, .noise = 0.5, .flicker = 1.0};
    const auto says = [](const auto& st) {
        return st.longer == longer_capture::does_not_help && st.floor > 0.5 * code && st.floor < 2.0 * code &&
               u_of_mean(st) >= st.floor.value() * (1.0 - 1e-12);
    };
    CHECK(how_many(100, slow, 400, says) >= 95);
    const one_pass_statistics st = seen(slow, 400);
    CHECK_FALSE(samples_for(st, 0.5 * code, 0.0 * code));
}

TEST_CASE("in a capture too long to be kept the strongest line is found too, fast or slow") {
    for (const double f : {2e-5, 4e-4, 0.0123, 0.31}) {
        CAPTURE(f);
        const one_pass_statistics st = seen({.n = 400000, .noise = 1.0, .sine = 0.3, .periods_per_sample = f}, 52);
        REQUIRE(st.line);
        CHECK(std::abs(st.line->periods_per_sample - f) <= 5e-6);
        CHECK(std::abs(st.line->amplitude.value() - 0.3) <= 0.03);
        CHECK(st.line->largest_shift.value() <= 0.33 / (4e5 * std::sin(pi * f)));
    }
}

TEST_CASE("noise of any slope, drift and a random walk are not taken for a line") {
    const auto has_line = [](const one_pass_statistics& st) { return st.line.has_value(); };
    CHECK(how_many(1000, {.n = 1000}, 600, has_line) <= 1);
    CHECK(how_many(100, {.n = 1000, .phi = 0.9}, 600, has_line) <= 1);
    CHECK(how_many(100, {.n = 2000, .noise = 0.1, .flicker = 1.0}, 600, has_line) <= 1);
    CHECK(how_many(100, {.n = 1000, .drift = 20.0}, 600, has_line) <= 1);
    CHECK(how_many(50, {.n = 4000, .noise = 20.0, .phi = 0.9999}, 600, has_line) <= 1);
}

}  // namespace one_pass_long_test
