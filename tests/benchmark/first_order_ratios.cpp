// First order of the reference problem's thirteen inputs beside derivatives by hand.

#include "first_order_subjects.hpp"
#include "ratios.hpp"

#include <fmt/format.h>
#include <cmath>
#include <tuple>

namespace plumbline::benchmarks {

namespace {

bare_inputs bare(const reading_inputs& inputs) {
    return std::apply(
        [](const auto&... each) {
            return bare_inputs{{each.estimate.value()...}, {each.u.value()...}, {each.degrees_of_freedom...}};
        },
        inputs);
}

bool close(double a, double b) { return std::abs(a - b) <= 1e-12 * std::abs(b); }

/// Both are right or none is timed.
bool same(const reading_problem& p) {
    const reading_inputs inputs = inputs_of(p);
    first_order_figures a{};
    first_order_figures b{};
    optimised_2::by_duals(inputs, a);
    plain_3::by_hand(bare(inputs), b);
    bool all = close(a.value, b.value) && close(a.u, b.u) && close(a.degrees_of_freedom, b.degrees_of_freedom);
    for (std::size_t i = 0; i < a.sensitivities.size(); ++i) all = all && close(a.sensitivities[i], b.sensitivities[i]);
    if (!all) fmt::print(stderr, "first order by duals and by hand differ\n");
    return all;
}

}  // namespace

void add_first_order(suite& all) {
    struct numbered {
        const char* name;
        reading_problem problem;
    };
    for (const numbered& each : {numbered{"reference problem", first_numbers}, numbered{"other numbers", other_numbers}}) {
        const std::string title = std::string("first order, ") + each.name + ": ";
        const reading_inputs inputs = inputs_of(each.problem);
        const bare_inputs by_number = bare(inputs);
        const auto add_duals = [&](const std::string& name, auto function) {
            all.add(name, [inputs, function, found = first_order_figures{}]() mutable {
                benchmark::DoNotOptimize(&inputs);
                benchmark::ClobberMemory();
                function(inputs, found);
                benchmark::DoNotOptimize(&found);
                benchmark::ClobberMemory();
            });
        };
        const auto add_hand = [&](const std::string& name, auto function) {
            all.add(name, [by_number, function, found = first_order_figures{}]() mutable {
                benchmark::DoNotOptimize(&by_number);
                benchmark::ClobberMemory();
                function(by_number, found);
                benchmark::DoNotOptimize(&found);
                benchmark::ClobberMemory();
            });
        };
        add_duals(title + "plumbline -O2", optimised_2::by_duals);
        add_duals(title + "plumbline -O3", optimised_3::by_duals);
        add_hand(title + "by hand -O2, plain build", plain_2::by_hand);
        add_hand(title + "by hand -O2, native build", native_2::by_hand);
        add_hand(title + "by hand -O3, plain build", plain_3::by_hand);
        add_hand(title + "by hand -O3, native build", native_3::by_hand);
        const std::vector<std::string> peers = {title + "by hand -O2, plain build", title + "by hand -O2, native build",
                                                title + "by hand -O3, plain build", title + "by hand -O3, native build"};
        all.compare({title + "-O2 against derivatives by hand", title + "plumbline -O2", peers, aim::at_most(6.0)});
        all.compare({title + "-O3 against derivatives by hand", title + "plumbline -O3", peers, aim::at_most(3.5)});
        all.add(title + "plumbline -O2 with k", [inputs] {
            benchmark::DoNotOptimize(&inputs);
            benchmark::ClobberMemory();
            benchmark::DoNotOptimize(first_order_of(inputs).k(0.95));
        });
        // a peer that takes a microsecond by definition
        all.compare({title + "with k, in microseconds", title + "plumbline -O2 with k", {microsecond}, aim::at_most(1.0)});
        all.check([p = each.problem] { return same(p); });
    }
}

}  // namespace plumbline::benchmarks
