// First order without budgets takes no memory: every operator new of this program is counted.

#include "../benchmark/reference_problem.hpp"

#include <doctest/doctest.h>
#include <array>
#include <cmath>
#include <cstdlib>
#include <new>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/line.hpp>
#include <plumbline/uncertainty/sensitivities.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
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

TEST_CASE("an allocation is counted, those of results that carry lists of inputs too") {
    const std::size_t before = allocations;
    const std::vector<double> some(100, 1.0);
    CHECK(allocations == before + 1);
    CHECK(some.back() == 1.0);
    const auto c = from_input<codes>(shared_input({"c", "code", "invented", unit_symbol<codes>, 12.0, normal{0.5}}));
    const std::size_t lists = allocations;
    const auto twice = first_order([](const auto& code_of) { return 2.0 * code_of; }, c);
    CHECK(allocations > lists);
    CHECK(twice.value == 24.0 * code);
}

TEST_CASE("first order of the reference problem with k takes no memory") {
    const auto inputs = benchmarks::inputs_of(benchmarks::first_numbers);
    const std::size_t before = allocations;
    const auto y = benchmarks::first_order_of(inputs);
    const double k = y.k(0.95);
    const std::size_t after = allocations;
    CHECK(after == before);
    // as published with the problem
    CHECK(std::abs(y.value.value() - 3.4099139) <= 5e-8);
    CHECK(std::abs(y.u.value() - 1.906216e-3) <= 5e-10);
    CHECK(std::abs(y.degrees_of_freedom - 820.4) <= 0.05);
    CHECK(std::abs(k - 1.9629) <= 5e-5);
}

TEST_CASE("a weighted line takes no memory") {
    const std::vector<double> x{1.0, 2.0, 3.0, 4.0, 5.0};
    const std::vector<double> y{1.1, 1.9, 3.2, 3.9, 5.0};
    const std::vector<double> u{0.1, 0.1, 0.2, 0.1, 0.1};
    static_cast<void>(fit_line(weighted_points<>{x, y, u}));  // the first line looks for the best instruction set
    const std::size_t before = allocations;
    const double slope = fit_line(weighted_points<>{x, y, u}).slope;
    const std::size_t after = allocations;
    CHECK(after == before);
    CHECK(std::abs(slope - 0.977) < 0.01);
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
