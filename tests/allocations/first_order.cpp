// First order without budgets takes no memory: every operator new of this program is counted.

#include "../benchmark/reference_problem.hpp"

#include <doctest/doctest.h>
#include <array>
#include <cmath>
#include <cstdlib>
#include <new>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/sensitivities.hpp>
#include <vector>

namespace {
std::size_t allocations = 0;
}

// not inlined: g++ warns of free() where it sees that the memory came from operator new
[[gnu::noinline]] void* operator new(std::size_t size) {
    ++allocations;
    if (void* p = std::malloc(size == 0 ? 1 : size)) return p;
    throw std::bad_alloc();
}
[[gnu::noinline]] void operator delete(void* p) noexcept { std::free(p); }
[[gnu::noinline]] void operator delete(void* p, std::size_t) noexcept { std::free(p); }

namespace {

using namespace plumbline;
using namespace plumbline::uncertainty;

TEST_CASE("an allocation is counted") {
    const std::size_t before = allocations;
    const std::vector<double> some(100, 1.0);
    CHECK(allocations == before + 1);
    CHECK(some.back() == 1.0);
}

TEST_CASE("value, sensitivities, u, degrees of freedom and U of the reference problem take no memory") {
    const benchmarks::reading_problem& p = benchmarks::first_numbers;
    const double third = 1.0 / std::sqrt(3.0);
    const std::array<double, 13> u{p.u_c0,
                                   p.half_code * third,
                                   p.u_c1,
                                   p.half_code * third,
                                   p.u_c,
                                   p.half_code * third,
                                   p.reference_half_width * third,
                                   p.linearity_half_width * third,
                                   p.alpha_half_width * third,
                                   p.warmer_half_width * third,
                                   p.drift_half_width * third,
                                   p.source_half_width / std::sqrt(6.0),
                                   p.u_input};
    const std::array<double, 13> nu{63.0,     infinite, 63.0,     infinite, 63.0,     infinite, infinite,
                                    infinite, infinite, infinite, infinite, infinite, 50.0};
    const std::size_t before = allocations;
    const auto y =
        linearise(benchmarks::reading_model{}, p.c0 * code, 0.0 * code, p.c1 * code, 0.0 * code, p.c * code, 0.0 * code,
                  p.reference * volt, ratio(0.0), per_kelvin(), 0.0 * kelvin, ratio(0.0), p.source * ohm, p.input * ohm);
    const combined_uncertainty c = combine(y.sensitivities, u, nu);
    const double k = coverage_factor(0.95, c.degrees_of_freedom);
    const std::size_t after = allocations;
    CHECK(after == before);
    // as published with the problem
    CHECK(std::abs(y.value.value() - 3.4099139) <= 5e-8);
    CHECK(std::abs(c.u - 1.906216e-3) <= 5e-10);
    CHECK(std::abs(c.degrees_of_freedom - 820.4) <= 0.05);
    CHECK(std::abs(k - 1.9629) <= 5e-5);
}

TEST_CASE("a thousand quantities whose number is known at run time take no memory but the caller's") {
    const std::vector<voltage> x(1000, 2.0 * volt);
    std::vector<double> c(1000);
    const std::vector<double> u(1000, 0.1);
    const auto mean = [](const auto& all) {
        auto sum = all[0];
        for (std::size_t i = 1; i < all.size(); ++i) sum += all[i];
        return sum / static_cast<double>(all.size());
    };
    const std::size_t before = allocations;
    const voltage y = linearise(mean, std::span(x), std::span(c));
    const combined_uncertainty combined = combine(c, u);
    const std::size_t after = allocations;
    CHECK(after == before);
    CHECK(y == 2.0 * volt);
    CHECK(std::abs(combined.u - 0.1 / std::sqrt(1000.0)) <= 1e-15);
}

}  // namespace
