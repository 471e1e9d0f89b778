// Times the library beside its peers, prints each ratio beside its aim, and writes them as JSON. Processor time; the best of many repetitions,
// in which all take turns, so that what else the machine does disturbs all alike.
//
//     speed_ratios [--trials=N] [--json=FILE] [options of Google Benchmark, --benchmark_filter=lines for instance]

#include "ratios.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>

namespace plumbline::benchmarks {

namespace {

/// Best time of a call by name, in seconds.
class collecting_reporter : public benchmark::ConsoleReporter {
public:
    void ReportRuns(const std::vector<Run>& runs) override {
        for (const Run& run : runs) {
            if (run.run_type != Run::RT_Iteration || run.error_occurred) continue;
            const double seconds = run.cpu_accumulated_time / static_cast<double>(run.iterations);
            auto& best = seconds_.try_emplace(run.run_name.function_name, seconds).first->second;
            best = std::min(best, seconds);
        }
    }
    /// NaN where it has not run.
    [[nodiscard]] double seconds(const std::string& name) const {
        if (name == microsecond) return 1e-6;
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

/// The value beside its aim, in words; into the entry too.
std::string judged(double value, const aim& wanted, nlohmann::ordered_json& entry) {
    entry["ratio"] = value;
    if (wanted.which == aim::side::none) return "no aim";
    const bool most = wanted.which == aim::side::at_most;
    const bool met = most ? value <= wanted.value : value >= wanted.value;
    entry[most ? "aim_at_most" : "aim_at_least"] = wanted.value;
    entry["met"] = met;
    return fmt::format("aim {} {}, {}", most ? "<=" : ">=", wanted.value, met ? "met" : "NOT MET");
}

int run(int count, char** arguments) {
    const std::string json_file = option(count, arguments, "--json=", "");
    const std::size_t trials = std::stoul(option(count, arguments, "--trials=", "10000000"));
    std::vector<char*> with(arguments, arguments + count);
    std::string interleaved = "--benchmark_enable_random_interleaving=true";
    with.insert(with.begin() + 1, interleaved.data());
    int with_count = static_cast<int>(with.size());
    benchmark::Initialize(&with_count, with.data());
    if (benchmark::ReportUnrecognizedArguments(with_count, with.data())) return 2;

    suite all;
    add_monte_carlo(all, trials);
    add_first_order(all);
    add_lines(all);
    add_captures(all);
    collecting_reporter reporter;
    benchmark::RunSpecifiedBenchmarks(&reporter);

    nlohmann::ordered_json json{
        {"trials", trials}, {"instruction_sets", uncertainty::instruction_sets()}, {"ratios", nlohmann::json::array()}};
    for (const comparison& c : all.comparisons) {
        const double per_item = 1e9 / c.items;
        const double ours = per_item * reporter.seconds(c.ours);
        double best = std::numeric_limits<double>::infinity();
        std::string best_name = "-";
        nlohmann::ordered_json entry{{"what", c.what}, {"ns", ours}};
        for (const std::string& peer : c.peers) {
            const double theirs = per_item * reporter.seconds(peer);
            entry["peers_ns"][peer] = theirs;
            if (theirs < best) {
                best = theirs;
                best_name = peer;
            }
        }
        if (std::isnan(ours) || std::isinf(best)) continue;  // left out by a filter
        const double ratio = c.wanted.which == aim::side::at_most ? ours / best : best / ours;
        fmt::print("{}: {:.1f} ns against {:.1f} ({}): ratio {:.3f}, {}\n", c.what, ours, best, best_name, ratio,
                   judged(ratio, c.wanted, entry));
        json["ratios"].push_back(entry);
    }
    for (const figure& f : all.figures) {
        const double value = f.value();
        nlohmann::ordered_json entry{{"what", f.what}};
        if (std::isnan(value)) continue;
        fmt::print("{}: {:.3f}, {}\n", f.what, value, judged(value, f.wanted, entry));
        json["ratios"].push_back(entry);
    }
    for (const char* set : {"avx2", "avx512"}) {
        const auto here = uncertainty::instruction_sets();
        if (std::find(here.begin(), here.end(), set) == here.end())
            fmt::print("{}: not measured, this machine does not run it\n", set);
    }
    if (!json_file.empty()) std::ofstream(json_file) << json.dump(2) << '\n';
    return std::all_of(all.checks.begin(), all.checks.end(), [](const auto& c) { return c(); }) ? 0 : 1;
}

}  // namespace

}  // namespace plumbline::benchmarks

int main(int count, char** arguments) { return plumbline::benchmarks::run(count, arguments); }
