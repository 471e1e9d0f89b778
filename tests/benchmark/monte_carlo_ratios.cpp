// Monte Carlo of the reference problem beside what a user would write instead.

#include "ratios.hpp"
#include "reference_problem.hpp"

#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <plumbline/uncertainty/monte_carlo.hpp>

namespace plumbline::benchmarks {

namespace {

using namespace plumbline::uncertainty;

constexpr double probability = 0.95;

template <class Quantity>
sampled<Quantity> drawn(const char* id, double estimate, distribution spread) {
    return {sampled_input(id, unit_symbol<Quantity>, estimate, std::move(spread))};
}

run_figures by_plumbline(const reading_problem& p, std::size_t trials, unsigned threads) {
    monte_carlo_settings s;
    s.trials = trials;
    s.probability = probability;
    s.threads = threads;
    const monte_carlo_result result = monte_carlo(
        s, reading_model{}, drawn<codes>("c0", p.c0, normal{p.u_c0}), drawn<codes>("q0", 0.0, rectangular{p.half_code}),
        drawn<codes>("c1", p.c1, normal{p.u_c1}), drawn<codes>("q1", 0.0, rectangular{p.half_code}),
        drawn<codes>("c", p.c, normal{p.u_c}), drawn<codes>("q", 0.0, rectangular{p.half_code}),
        drawn<voltage>("reference", p.reference, rectangular{p.reference_half_width}),
        drawn<ratio>("linearity", 0.0, rectangular{p.linearity_half_width}),
        drawn<per_kelvin>("alpha", 0.0, rectangular{p.alpha_half_width}),
        drawn<kelvins>("warmer", 0.0, rectangular{p.warmer_half_width}),
        drawn<ratio>("drift", 0.0, rectangular{p.drift_half_width}),
        drawn<resistance>("source", p.source, triangular{p.source_half_width}),
        drawn<resistance>("input", p.input, normal{p.u_input}));
    const sampled_output& y = result.outputs.front();
    return {y.mean, y.standard_deviation, y.symmetric.low, y.symmetric.high, y.shortest.low, y.shortest.high};
}

/// Bytes for a trial beyond 4 MiB that a run adds to the greatest resident size of a process of its own. NaN if it failed.
double bytes_a_trial(const reading_problem& p, std::size_t trials) {
    int ends[2];
    if (pipe(ends) != 0) return std::nan("");
    const pid_t child = fork();
    if (child < 0) return std::nan("");
    if (child == 0) {
        rusage before{};
        rusage after{};
        getrusage(RUSAGE_SELF, &before);
        const run_figures f = by_plumbline(p, trials, 1);
        getrusage(RUSAGE_SELF, &after);
        const double bytes =
            f.standard_deviation > 0.0 ? 1024.0 * static_cast<double>(after.ru_maxrss - before.ru_maxrss) : std::nan("");
        _exit(write(ends[1], &bytes, sizeof bytes) == static_cast<ssize_t>(sizeof bytes) ? 0 : 1);
    }
    double bytes = std::nan("");
    if (read(ends[0], &bytes, sizeof bytes) != static_cast<ssize_t>(sizeof bytes)) bytes = std::nan("");
    int status = 0;
    waitpid(child, &status, 0);
    close(ends[0]);
    close(ends[1]);
    return (bytes - 4.0 * 1024.0 * 1024.0) / static_cast<double>(trials);
}

/// What each run stated, by name.
std::map<std::string, run_figures>& stated() {
    static std::map<std::string, run_figures> all;
    return all;
}
/// Time of one thread over that of two, best pair by problem.
std::map<std::string, double>& best_pair() {
    static std::map<std::string, double> all;
    return all;
}

/// All must state the same, but for chance: an end of the interval scatters by about 3 u / sqrt(trials).
bool agree(const std::string& problem, std::size_t trials) {
    bool all_agree = true;
    const auto first = stated().find("monte carlo, " + problem + ": plumbline plain");
    if (first == stated().end()) return true;
    const run_figures& ours = first->second;
    const double allowed = 20.0 * ours.standard_deviation / std::sqrt(static_cast<double>(trials));
    for (const auto& [name, f] : stated()) {
        if (name.find(problem) == std::string::npos) continue;
        if (std::abs(f.mean - ours.mean) <= allowed && std::abs(f.standard_deviation - ours.standard_deviation) <= allowed &&
            std::abs(f.symmetric_low - ours.symmetric_low) <= allowed &&
            std::abs(f.symmetric_high - ours.symmetric_high) <= allowed)
            continue;
        fmt::print(stderr, "{} states other figures than {}\n", name, first->first);
        all_agree = false;
    }
    return all_agree;
}

}  // namespace

void add_monte_carlo(suite& all, std::size_t trials) {
    using peer = run_figures (*)(const reading_problem&, std::size_t, double, unsigned long);
    struct peer_builds {
        const char* name;
        peer plain_build, native_build;
        std::map<std::string, aim> wanted;  // by instruction set of ours
    };
    const std::vector<peer_builds> peers = {
        {"scalar xoshiro256++, Boost ziggurat, nth_element",
         plain::xoshiro_ziggurat_selection,
         native::xoshiro_ziggurat_selection,
         {{"plain", aim::at_least(1.6)}, {"avx2", aim::at_least(3.0)}, {"avx512", aim::at_least(4.5)}}},
        {"std::mt19937_64, std::normal_distribution, std::sort",
         plain::mt19937_normal_sort,
         native::mt19937_normal_sort,
         {{"avx512", aim::at_least(12.0)}}}};
    struct numbered {
        const char* name;
        reading_problem problem;
    };
    for (const numbered& each : {numbered{"reference problem", first_numbers}, numbered{"other numbers", other_numbers}}) {
        const std::string name = each.name;
        const std::string title = "monte carlo, " + name + ": ";
        const reading_problem p = each.problem;
        for (const std::string& set : instruction_sets()) {
            const std::string ours = title + "plumbline " + set;
            all.add(
                ours,
                [p, trials, set, ours] {
                    setenv("PLUMBLINE_INSTRUCTION_SET", set.c_str(), 1);
                    benchmark::DoNotOptimize(stated()[ours] = by_plumbline(p, trials, 1));
                    unsetenv("PLUMBLINE_INSTRUCTION_SET");
                },
                true);
            for (const peer_builds& theirs : peers) {
                const auto wanted = theirs.wanted.find(set);
                all.compare({title + set + " against " + theirs.name,
                             ours,
                             {title + theirs.name + ", plain build", title + theirs.name + ", native build"},
                             wanted == theirs.wanted.end() ? aim{} : wanted->second,
                             static_cast<double>(trials)});
            }
        }
        for (const peer_builds& theirs : peers) {
            const std::string builds[] = {title + theirs.name + ", plain build", title + theirs.name + ", native build"};
            const peer functions[] = {theirs.plain_build, theirs.native_build};
            for (std::size_t i = 0; i < 2; ++i) {
                const std::string build = builds[i];
                const peer function = functions[i];
                all.add(
                    build,
                    [p, trials, build, function] {
                        benchmark::DoNotOptimize(stated()[build] = function(p, trials, probability, 1));
                    },
                    true);
            }
        }
        // One thread and two in turn; the best pair counts, since another program on the machine can only spoil one.
        all.add(
            title + "two threads after one",
            [p, trials, name] {
                const auto seconds = [&](unsigned threads) {
                    const auto start = std::chrono::steady_clock::now();
                    benchmark::DoNotOptimize(by_plumbline(p, trials, threads));
                    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
                };
                const double alone = seconds(1);
                best_pair()[name] = std::max(best_pair()[name], alone / seconds(2));
            },
            true);
        all.state({title + "two threads over one",
                   [name] { return best_pair().contains(name) ? best_pair()[name] : std::nan(""); }, aim::at_least(1.7)});
        // before anything else runs, whose memory would be used again and not be seen
        const double bytes = bytes_a_trial(p, trials);
        all.state({title + "bytes a trial, beyond 4 MiB", [bytes] { return bytes; }, aim::at_most(3.0)});
        all.check([name, trials] { return agree(name, trials); });
    }
}

}  // namespace plumbline::benchmarks
