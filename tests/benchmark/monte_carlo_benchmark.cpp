// Times Monte Carlo beside its peers and prints the ratios. Processor time of one thread, the best of several repetitions, which take turns.
//
//     monte_carlo_benchmark [--trials=N] [--json=FILE] [options of Google Benchmark]

#include "reference_problem.hpp"

#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <string>

namespace {

using namespace plumbline;
using namespace plumbline::uncertainty;
using benchmarks::reading_problem;
using benchmarks::run_figures;

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
    const monte_carlo_result result =
        monte_carlo(s, benchmarks::reading_model{}, drawn<codes>("c0", p.c0, normal{p.u_c0}),
                    drawn<codes>("q0", 0.0, rectangular{p.half_code}), drawn<codes>("c1", p.c1, normal{p.u_c1}),
                    drawn<codes>("q1", 0.0, rectangular{p.half_code}), drawn<codes>("c", p.c, normal{p.u_c}),
                    drawn<codes>("q", 0.0, rectangular{p.half_code}),
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

/// Best time per run by name, and what was stated.
class collecting_reporter : public benchmark::ConsoleReporter {
public:
    void ReportRuns(const std::vector<Run>& runs) override {
        for (const Run& run : runs) {
            if (run.run_type != Run::RT_Iteration || run.error_occurred) continue;
            const double seconds = run.cpu_accumulated_time / static_cast<double>(run.iterations);
            auto& best = seconds_.try_emplace(run.run_name.function_name, seconds).first->second;
            best = std::min(best, seconds);
        }
        ConsoleReporter::ReportRuns(runs);
    }
    [[nodiscard]] double seconds(const std::string& name) const {
        const auto found = seconds_.find(name);
        return found == seconds_.end() ? std::nan("") : found->second;
    }

private:
    std::map<std::string, double> seconds_;
};

std::string option(int& count, char** arguments, const std::string& name, const std::string& otherwise) {
    std::string value = otherwise;
    int kept = 0;
    for (int i = 0; i < count; ++i) {
        const std::string argument = arguments[i];
        if (argument.starts_with(name)) {
            value = argument.substr(name.size());
        } else {
            arguments[kept++] = arguments[i];
        }
    }
    count = kept;
    return value;
}

struct comparison {
    std::string problem, set, peer;
    double nanoseconds, peer_nanoseconds, wanted;  // wanted: the ratio aimed at

    [[nodiscard]] double ratio() const { return peer_nanoseconds / nanoseconds; }
};

}  // namespace

int main(int count, char** arguments) {
    const std::string json_file = option(count, arguments, "--json=", "");
    const std::size_t trials = std::stoul(option(count, arguments, "--trials=", "10000000"));
    std::vector<char*> all(arguments, arguments + count);
    std::string repetitions = "--benchmark_repetitions=5";
    std::string interleaved = "--benchmark_enable_random_interleaving=true";
    std::string once = "--benchmark_min_time=0";
    all.insert(all.begin() + 1, {repetitions.data(), interleaved.data(), once.data()});
    int all_count = static_cast<int>(all.size());
    benchmark::Initialize(&all_count, all.data());
    if (benchmark::ReportUnrecognizedArguments(all_count, all.data())) return 2;

    const std::map<std::string, reading_problem> problems = {{"first numbers", benchmarks::first_numbers},
                                                             {"other numbers", benchmarks::other_numbers}};
    using peer = run_figures (*)(const reading_problem&, std::size_t, double, unsigned long);
    const std::map<std::string, std::map<std::string, peer>> peers = {
        {"xoshiro256++, Boost ziggurat, selection",
         {{"plain", benchmarks::plain::xoshiro_ziggurat_selection}, {"native", benchmarks::native::xoshiro_ziggurat_selection}}},
        {"std::mt19937_64, std::normal_distribution, std::sort",
         {{"plain", benchmarks::plain::mt19937_normal_sort}, {"native", benchmarks::native::mt19937_normal_sort}}}};
    const auto sets = instruction_sets();

    std::map<std::string, run_figures> stated;
    std::map<std::string, double> best_pair;  // time of one thread over that of two
    const auto add = [&](const std::string& name, auto run) {
        return benchmark::RegisterBenchmark(name.c_str(),
                                            [&stated, name, run](benchmark::State& state) {
                                                for (auto _ : state) benchmark::DoNotOptimize(stated[name] = run());
                                            })
            ->Unit(benchmark::kMillisecond);
    };
    for (const auto& each_problem : problems) {
        const std::string problem = each_problem.first;  // by name: clang 14 cannot capture structured bindings
        const reading_problem p = each_problem.second;
        for (const std::string& set : sets) {
            const auto run = [p, trials, set](unsigned threads) {
                setenv("PLUMBLINE_INSTRUCTION_SET", set.c_str(), 1);
                return by_plumbline(p, trials, threads);
            };
            add(problem + "/plumbline " + set, [run] { return run(1); });
            if (set != sets.back()) continue;
            // One thread and two in turn; the best pair counts, since another program on the machine can only spoil one.
            benchmark::RegisterBenchmark((problem + "/two threads after one").c_str(), [&best_pair, problem,
                                                                                        run](benchmark::State& state) {
                const auto seconds = [&](unsigned threads) {
                    const auto start = std::chrono::steady_clock::now();
                    benchmark::DoNotOptimize(run(threads));
                    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
                };
                for (auto _ : state) {
                    const double alone = seconds(1);
                    best_pair[problem] = std::max(best_pair[problem], alone / seconds(2));
                }
            })->Unit(benchmark::kMillisecond);
        }
        for (const auto& [name, builds] : peers) {
            for (const auto& [build, function] : builds) {
                add(problem + "/" + name + " " + build,
                    [p, trials, function = function] { return function(p, trials, probability, 1); });
            }
        }
    }

    collecting_reporter reporter;
    benchmark::RunSpecifiedBenchmarks(&reporter);

    const std::map<std::string, std::map<std::string, double>> wanted = {
        {"xoshiro256++, Boost ziggurat, selection", {{"plain", 1.6}, {"avx2", 3.0}, {"avx512", 4.5}}},
        {"std::mt19937_64, std::normal_distribution, std::sort", {{"avx512", 12.0}}}};
    const double per_trial = 1e9 / static_cast<double>(trials);
    nlohmann::ordered_json json{{"trials", trials}, {"ratios", nlohmann::json::array()}};
    fmt::print("\nRatios: time of the peer, in the faster of its two builds, over the time of this library.\n");
    bool agree = true;
    for (const auto& [problem, p] : problems) {
        for (const std::string& set : sets) {
            for (const auto& [name, builds] : peers) {
                const double ours = per_trial * reporter.seconds(problem + "/plumbline " + set);
                const double plain = per_trial * reporter.seconds(problem + "/" + name + " plain");
                const double native = per_trial * reporter.seconds(problem + "/" + name + " native");
                const comparison c{problem,
                                   set,
                                   name,
                                   ours,
                                   std::fmin(plain, native),
                                   wanted.at(name).contains(set) ? wanted.at(name).at(set) : std::nan("")};
                fmt::print("{}, {}: {:.1f} ns a trial against {:.1f} (plain {:.1f}, native {:.1f}), {}: ratio {:.2f}{}\n",
                           problem, set, c.nanoseconds, c.peer_nanoseconds, plain, native, name, c.ratio(),
                           std::isnan(c.wanted) ? "" : fmt::format(", aim {:.1f}", c.wanted));
                json["ratios"].push_back({{"problem", problem},
                                          {"instruction_set", set},
                                          {"peer", name},
                                          {"ns_per_trial", c.nanoseconds},
                                          {"peer_ns_per_trial", {{"plain", plain}, {"native", native}}},
                                          {"ratio", c.ratio()},
                                          {"aim", std::isnan(c.wanted) ? nlohmann::json(nullptr) : nlohmann::json(c.wanted)}});
            }
        }
        fmt::print("{}: two threads {:.2f} times as fast as one in the best of the pairs, aim 1.7\n", problem,
                   best_pair[problem]);
        json["ratios"].push_back({{"problem", problem}, {"two_threads_over_one", best_pair[problem]}, {"aim", 1.7}});

        // All must state the same, but for chance: an end of the interval scatters by about 3 u / sqrt(trials).
        for (const auto& [name, f] : stated) {
            if (!name.starts_with(problem)) continue;
            const run_figures& ours = stated.at(problem + "/plumbline plain");
            const double allowed = 20.0 * ours.standard_deviation / std::sqrt(static_cast<double>(trials));
            if (std::abs(f.mean - ours.mean) > allowed || std::abs(f.standard_deviation - ours.standard_deviation) > allowed ||
                std::abs(f.symmetric_low - ours.symmetric_low) > allowed ||
                std::abs(f.symmetric_high - ours.symmetric_high) > allowed) {
                fmt::print(stderr, "{} states other figures than {}/plumbline plain\n", name, problem);
                agree = false;
            }
        }
    }
    if (!json_file.empty()) std::ofstream(json_file) << json.dump(2) << '\n';
    return agree ? 0 : 1;
}
