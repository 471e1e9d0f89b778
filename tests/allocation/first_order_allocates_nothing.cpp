// Counts what first order takes from the heap: nothing where the inputs are known at compile time, k included. That the counter counts is
// seen by the general evaluation, whose results carry lists of inputs.

#include "../benchmark/reference_problem.hpp"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <new>
#include <plumbline/uncertainty/line.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <vector>

namespace {

std::size_t taken = 0;

void* counted(std::size_t size) {
    ++taken;
    if (void* p = std::malloc(size == 0 ? 1 : size)) return p;
    throw std::bad_alloc();
}

}  // namespace

void* operator new(std::size_t size) { return counted(size); }
void* operator new[](std::size_t size) { return counted(size); }
void operator delete(void* p) noexcept { std::free(p); }
void operator delete[](void* p) noexcept { std::free(p); }
void operator delete(void* p, std::size_t) noexcept { std::free(p); }
void operator delete[](void* p, std::size_t) noexcept { std::free(p); }

namespace {

using namespace plumbline;
using namespace plumbline::uncertainty;

int failures = 0;

template <class What>
void expect(const char* what, bool nothing, const What& call) {
    const std::size_t before = taken;
    const bool right = call();
    const std::size_t here = taken - before;
    std::printf("%s: %zu allocations\n", what, here);
    if (!right) std::printf("    and a wrong result\n");
    if (!right || (here == 0) != nothing) ++failures;
}

}  // namespace

int main() {
    const auto inputs = benchmarks::inputs_of(benchmarks::first_numbers);
    expect("first order of 13 inputs", true,
           [&] { return std::abs(benchmarks::first_order_of(inputs).u.value() - 1.906216e-3) < 1e-9; });
    expect("first order of 13 inputs with k", true,
           [&] { return std::abs(benchmarks::first_order_of(inputs).k(0.95) - 1.9629) < 1e-4; });

    const std::vector<double> x{1.0, 2.0, 3.0, 4.0, 5.0};
    const std::vector<double> y{1.1, 1.9, 3.2, 3.9, 5.0};
    const std::vector<double> u{0.1, 0.1, 0.2, 0.1, 0.1};
    static_cast<void>(fit_line(weighted_points<>{x, y, u}));  // the first line looks for the best instruction set
    expect("a weighted line", true, [&] { return std::abs(fit_line(weighted_points<>{x, y, u}).slope - 0.977) < 0.01; });

    const auto code_of = from_input<codes>(shared_input({"c", "code", "invented", unit_symbol<codes>, 12.0, normal{0.5}}));
    expect("first order with shared inputs, which does allocate", false,
           [&] { return first_order([](const auto& c) { return 2.0 * c; }, code_of).value.value() == 24.0; });
    if (failures != 0) std::printf("%d of these are not as expected\n", failures);
    return failures == 0 ? 0 : 1;
}
