#pragma once
// What is timed, and what the times are compared with.

#include <benchmark/benchmark.h>
#include <cstddef>
#include <functional>
#include <map>
#include <string>
#include <vector>

namespace plumbline::benchmarks {

/// A limit for a ratio. None: the ratio is stated and not judged.
struct aim {
    enum class side { none, at_most, at_least };
    side which = side::none;
    double value = 0.0;
    [[nodiscard]] static aim at_most(double value) { return {side::at_most, value}; }
    [[nodiscard]] static aim at_least(double value) { return {side::at_least, value}; }
};

/// A peer that takes this long by definition, for aims in absolute time.
inline constexpr const char* microsecond = "a microsecond";

/// Time of ours over time of the fastest peer where the aim is at most, the other way round where it is at least or none.
struct comparison {
    std::string what;
    std::string ours;
    std::vector<std::string> peers;  ///< the same work in several builds: the fastest counts
    aim wanted;
    double items = 1.0;  ///< in one call: trials
};

/// A figure that is no ratio of two of the times.
struct figure {
    std::string what;
    std::function<double()> value;  ///< asked for after all have run
    aim wanted;
};

/// All there is to run, by name. Each is run many times, in turn with the others; its best time counts.
class suite {
public:
    /// @param run  does the work once and keeps the compiler from leaving it out
    /// @param slow  takes milliseconds or more: one call for each repetition
    template <class Run>
    void add(const std::string& name, Run run, bool slow = false) {
        auto* b = benchmark::RegisterBenchmark(name.c_str(), [run](benchmark::State& state) mutable {
            for (auto _ : state) run();
        });
        if (slow) {
            b->Iterations(1)->Repetitions(5)->Unit(benchmark::kMillisecond);
        } else {
            b->MinTime(0.02)->Repetitions(25)->Unit(benchmark::kNanosecond);
        }
    }
    void compare(comparison c) { comparisons.push_back(std::move(c)); }
    void state(figure f) { figures.push_back(std::move(f)); }
    /// Looks at results when all have run; false ends the program with an error.
    void check(std::function<bool()> c) { checks.push_back(std::move(c)); }

    std::vector<comparison> comparisons;
    std::vector<figure> figures;
    std::vector<std::function<bool()>> checks;
};

void add_monte_carlo(suite& all, std::size_t trials);
void add_first_order(suite& all);
void add_lines(suite& all);
void add_captures(suite& all);

}  // namespace plumbline::benchmarks
