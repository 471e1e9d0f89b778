// The inner loops: the same bits by every instruction set, and the distributions they claim.

#include "../../src/uncertainty/monte_carlo/instruction_set.hpp"
#include "../slow_build.hpp"
#include "instruction_set_guard.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <array>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <cstring>
#include <functional>
#include <numbers>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <plumbline/uncertainty/random.hpp>
#include <vector>

namespace monte_carlo_kernels_test {

using namespace plumbline::uncertainty;
namespace mc = plumbline::uncertainty::monte_carlo_detail;

namespace {

struct generator_state {
    alignas(64) std::uint64_t words[mc::kernel_state];
    explicit generator_state(std::uint64_t seed) {
        const auto all = generators(seed, 0);
        for (std::size_t lane = 0; lane < all.size(); ++lane) {
            for (std::size_t w = 0; w < 4; ++w) words[w * mc::kernel_lanes + lane] = all[lane][w];
        }
    }
};

const mc::kernels& kernels_named(const std::string& set) {
    const instruction_set_guard forced(set);
    return mc::chosen_kernels();
}

using draw = std::function<void(const mc::kernels&, std::uint64_t*, double*)>;

const std::vector<std::pair<std::string, draw>>& draws() {
    static const std::vector<std::pair<std::string, draw>> all = {
        {"rectangular", [](const mc::kernels& k, std::uint64_t* s, double* y) { k.rectangular(s, y, 1.0, 2.5); }},
        {"two rectangles", [](const mc::kernels& k, std::uint64_t* s, double* y) { k.two_rectangles(s, y, 1.0, 2.5, 0.5); }},
        {"curvilinear trapezoid",
         [](const mc::kernels& k, std::uint64_t* s, double* y) { k.curvilinear_trapezoid(s, y, 1.0, 2.5, 0.5); }},
        {"arcsine", [](const mc::kernels& k, std::uint64_t* s, double* y) { k.arcsine(s, y, 1.0, 2.5); }},
        {"normal", [](const mc::kernels& k, std::uint64_t* s, double* y) { k.normal(s, y, 1.0, 2.5); }},
        {"t", [](const mc::kernels& k, std::uint64_t* s, double* y) { k.student_t(s, y, 1.0, 2.5, 3.7); }},
        {"t with half a degree of freedom",
         [](const mc::kernels& k, std::uint64_t* s, double* y) { k.student_t(s, y, 1.0, 2.5, 0.5); }}};
    return all;
}

template <class Number>
bool same_bits(const std::vector<Number>& a, const std::vector<Number>& b) {
    return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(Number)) == 0;
}

/// Largest distance of the empirical from the true distribution function, times sqrt(n): above 2.2 once in ten thousand (Kolmogorov).
double kolmogorov(const draw& what, const std::function<double(double)>& cdf, std::size_t columns = 2000) {
    generator_state state(7);
    const mc::kernels& k = mc::chosen_kernels();
    std::vector<double> y(columns * mc::kernel_column);
    for (std::size_t c = 0; c < columns; ++c) what(k, state.words, y.data() + c * mc::kernel_column);
    std::sort(y.begin(), y.end());
    double distance = 0.0;
    const double n = static_cast<double>(y.size());
    for (std::size_t i = 0; i < y.size(); ++i) {
        const double p = cdf(y[i]);
        distance = std::max({distance, std::abs(p - static_cast<double>(i) / n), std::abs(p - static_cast<double>(i + 1) / n)});
    }
    return distance * std::sqrt(n);
}

constexpr double seldom = 2.2;

}  // namespace

TEST_CASE("every instruction set that this machine runs draws and adds up the same bits as the plain one") {
    const std::vector<std::string> here = instruction_sets();
    CHECK(here.front() == "plain");
    for (const char* set : {"avx2", "avx512"}) {
        if (std::find(here.begin(), here.end(), set) == here.end())
            MESSAGE("skipped, this machine does not run it: " << std::string(set));
    }
    const auto all_of = [](const mc::kernels& k) {
        std::vector<double> seen;
        generator_state state(3);
        std::vector<double> y(mc::kernel_column);
        std::vector<double> low(1000);
        std::vector<double> high(1000);
        for (int round = 0; round < 20; ++round) {
            for (const auto& [name, what] : draws()) {
                what(k, state.words, y.data());
                seen.insert(seen.end(), y.begin(), y.end());
                seen.push_back(k.sum(y.data()));
                seen.push_back(k.sum_of_products(y.data(), 0.75, y.data(), 1.25));
                std::size_t low_count = 3;
                std::size_t high_count = 5;
                k.keep_tails(y.data(), -0.5, 3.0, low.data(), &low_count, high.data(), &high_count);
                seen.push_back(static_cast<double>(low_count));
                seen.insert(seen.end(), low.begin() + 3, low.begin() + static_cast<std::ptrdiff_t>(low_count));
                seen.insert(seen.end(), high.begin() + 5, high.begin() + static_cast<std::ptrdiff_t>(high_count));
            }
        }
        return seen;
    };
    const std::vector<double> expected = all_of(mc::plain_kernels);
    for (const std::string& set : here) {
        CAPTURE(set);
        CHECK(kernels_named(set).name == set);
        CHECK(same_bits(all_of(kernels_named(set)), expected));
    }
}

TEST_CASE("the lanes of every instruction set are eight scalar xoshiro256++") {
    for (const std::string& set : instruction_sets()) {
        CAPTURE(set);
        generator_state state(11);
        std::vector<std::uint64_t> bits(mc::kernel_column);
        auto scalar = generators(11, 0);
        for (int column = 0; column < 3; ++column) {
            kernels_named(set).bits(state.words, bits.data());
            std::vector<std::uint64_t> expected;
            for (std::size_t i = 0; i < bits.size(); ++i) expected.push_back(xoshiro256pp(scalar[i % scalar.size()]));
            CHECK(same_bits(bits, expected));
        }
    }
}

TEST_CASE("tails keep each value at or beyond the limits and no other") {
    for (const std::string& set : instruction_sets()) {
        CAPTURE(set);
        generator_state state(5);
        std::vector<double> y(mc::kernel_column);
        kernels_named(set).normal(state.words, y.data(), 0.0, 1.0);
        const double low = y[17];  // equal counts
        const double high = y[200];
        std::vector<double> low_out(600);
        std::vector<double> high_out(600);
        std::size_t low_count = 0;
        std::size_t high_count = 0;
        kernels_named(set).keep_tails(y.data(), low, high, low_out.data(), &low_count, high_out.data(), &high_count);
        low_out.resize(low_count);
        high_out.resize(high_count);
        std::vector<double> low_expected;
        std::vector<double> high_expected;
        std::copy_if(y.begin(), y.end(), std::back_inserter(low_expected), [&](double v) { return v <= low; });
        std::copy_if(y.begin(), y.end(), std::back_inserter(high_expected), [&](double v) { return v >= high; });
        CHECK(low_out == low_expected);
        CHECK(high_out == high_expected);
    }
}

TEST_CASE("Box-Muller's radius and direction agree with the C library to 1e-12") {
    // The same bits once more: u from 52 of them, the angle from 52 and two.
    generator_state for_bits(19);
    generator_state for_normals(19);
    std::vector<std::uint64_t> bits(mc::kernel_column);
    std::vector<double> y(mc::kernel_column);
    const mc::kernels& k = mc::chosen_kernels();
    double worst = 0.0;
    for (int column = 0; column < 200; ++column) {
        k.bits(for_bits.words, bits.data());
        k.normal(for_normals.words, y.data(), 0.0, 1.0);
        for (std::size_t step = 0; step < 16; ++step) {
            for (std::size_t lane = 0; lane < 8; ++lane) {
                const std::uint64_t first = bits[8 * (2 * step) + lane];
                const std::uint64_t second = bits[8 * (2 * step + 1) + lane];
                const double u = 1.0 - static_cast<double>(first >> 12) * 0x1p-52;
                const double turn = (static_cast<double>(second >> 12) * 0x1p-52 - 0.5) * 0.25;
                double c = std::cos(2.0 * std::numbers::pi * turn);
                double s = std::sin(2.0 * std::numbers::pi * turn);
                if ((second & 1) != 0) std::swap(c, s);
                if ((second & 2) != 0) {
                    c = -c;
                    s = -s;
                }
                const double radius = std::sqrt(-2.0 * std::log(u));
                worst =
                    std::max({worst, std::abs(y[8 * step + lane] - radius * c), std::abs(y[128 + 8 * step + lane] - radius * s)});
            }
        }
    }
    CHECK(worst < 1e-12);
}

TEST_CASE("what is drawn has the distribution it is drawn for" * doctest::skip(slow::build)) {
    const auto& all = draws();
    const auto named = [&](const std::string& name) {
        return std::find_if(all.begin(), all.end(), [&](const auto& d) { return d.first == name; })->second;
    };
    const auto clamped = [](double p) { return std::clamp(p, 0.0, 1.0); };
    CHECK(kolmogorov(named("rectangular"), [&](double y) { return clamped((y + 1.5) / 5.0); }) < seldom);
    CHECK(kolmogorov(named("arcsine"), [&](double y) {
              return 0.5 + std::asin(std::clamp((y - 1.0) / 2.5, -1.0, 1.0)) / std::numbers::pi;
          }) < seldom);
    CHECK(kolmogorov(named("normal"), [](double y) { return boost::math::cdf(boost::math::normal(1.0, 2.5), y); }) < seldom);
    CHECK(kolmogorov(named("t"), [](double y) { return boost::math::cdf(boost::math::students_t(3.7), (y - 1.0) / 2.5); }) <
          seldom);
    CHECK(kolmogorov(
              named("t with half a degree of freedom"),
              [](double y) { return boost::math::cdf(boost::math::students_t(0.5), (y - 1.0) / 2.5); }, 200) < seldom);
    CHECK(kolmogorov([](const mc::kernels& k, std::uint64_t* s, double* y) { k.student_t(s, y, 0.0, 1.0, 1e8); },
                     [](double y) { return boost::math::cdf(boost::math::normal(), y); }) < seldom);
    // sum of two rectangles of half-widths 2.5 and 0.5: a trapezoid with limits +-3 and top +-2
    const auto trapezoid = [](double y) {
        const double x = std::abs(y - 1.0);
        const double above = x >= 3.0 ? 0.0 : x <= 2.0 ? 0.5 - x / 5.0 : (3.0 - x) * (3.0 - x) / 10.0;
        return y > 1.0 ? 1.0 - above : above;
    };
    CHECK(kolmogorov(named("two rectangles"), trapezoid) < seldom);
    // mean over the limit s, rectangular within 2.5 +- 0.5, of the rectangular distribution function (JCGM 101:2008, 6.4.3.2)
    const auto curvilinear = [](double y) {
        const double x = std::abs(y - 1.0);
        const double above = x >= 3.0   ? 0.0
                             : x <= 2.0 ? 0.5 - 0.5 * x * std::log(3.0 / 2.0)
                                        : 0.5 * ((3.0 - x) - x * std::log(3.0 / x));
        return y > 1.0 ? 1.0 - above : above;
    };
    CHECK(kolmogorov(named("curvilinear trapezoid"), curvilinear) < seldom);
}

TEST_CASE("an instruction set that is not there is refused by name, with those that are") {
    std::string names;
    for (const std::string& set : instruction_sets()) names += (names.empty() ? "" : ", ") + set;
    const instruction_set_guard forced("avx3");
    const std::string expected =
        "environment variable PLUMBLINE_INSTRUCTION_SET: \"avx3\", expected one that this machine runs: " + names +
        "; correct it, or leave it unset for the best";
    CHECK_THROWS_WITH_AS(static_cast<void>(mc::chosen_kernels()), expected.c_str(), plumbline::bad_input);
}

TEST_CASE("without the environment variable the best instruction set is used") {
    const instruction_set_guard restores_afterwards("plain");
    unsetenv("PLUMBLINE_INSTRUCTION_SET");
    CHECK(mc::chosen_kernels().name == instruction_sets().back());
}

}  // namespace monte_carlo_kernels_test
