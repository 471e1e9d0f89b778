#include <plumbline/uncertainty/monte_carlo.hpp>

#include "collector.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <plumbline/uncertainty/numerical_tolerance.hpp>
#include <thread>

namespace plumbline::inline v0::uncertainty {

namespace mc = monte_carlo_detail;

namespace {

constexpr std::uint64_t pilot_blocks = 8;
constexpr std::size_t cells_for_intervals = 65'536;
constexpr double usual_margin =
    5.0;  ///< standard deviations; the tails run short once in about two million runs, and are then redone

/// Fewest degrees of freedom of a t among the inputs; infinite without one.
double fewest_degrees_of_freedom(const trial_program& program, std::string& of) {
    double fewest = infinite;
    for (const auto& in : program.inputs()) {
        const auto* d = std::get_if<distribution>(&in.in.spread);
        const auto* t = d == nullptr ? nullptr : std::get_if<repeated>(d);
        if (t != nullptr && t->u > 0.0 && t->degrees_of_freedom < fewest) {
            fewest = t->degrees_of_freedom;
            of = in.in.id;
        }
    }
    return fewest;
}

std::uint64_t trials_of_part(double probability) {
    // JCGM 101:2008, 7.9.4 a). 100 / (1 - p) is to be a whole number where it is one but for rounding.
    const double j = 100.0 / (1.0 - probability);
    return std::max<std::uint64_t>(10'000, static_cast<std::uint64_t>(std::ceil(j * (1.0 - 1e-12))));
}

void expect_sound(const trial_program& program, const std::vector<program_output>& outputs, const monte_carlo_settings& s) {
    const auto expect = [](bool sound, const std::string& found, const std::string& expected, const std::string& remedy) {
        if (!sound) throw bad_input("Monte Carlo", found, expected, remedy);
    };
    expect(!outputs.empty(), "no result", "at least one", "return a column from the composition");
    expect(s.probability > 0.0 && s.probability < 1.0, fmt::format("coverage probability {}", s.probability),
           "more than 0 and less than 1", "state it as a fraction, 0.9545 for instance");
    expect(s.trials >= 2 && s.trials <= 1'000'000'000'000, fmt::format("{} trials", s.trials), "2 to 10^12",
           "correct the number");
    const double m = static_cast<double>(s.trials);
    const double inside = std::floor(s.probability * m + 0.5);
    expect(inside >= 1.0 && inside < m, fmt::format("{} trials for a coverage probability of {}", s.trials, s.probability),
           "enough that some lie inside the interval and some outside", "take more trials");
    expect(s.histogram_cells <= 1'000'000, fmt::format("{} cells of a histogram", s.histogram_cells), "1000000 or fewer",
           "ask for fewer");
    if (!s.adaptive) return;
    const adaptive_rule& a = *s.adaptive;
    expect(a.significant_digits >= 1 && a.significant_digits <= 6, fmt::format("{} significant digits", a.significant_digits),
           "1 to 6", "ask for fewer");
    expect(a.tolerance_fraction > 0.0, fmt::format("{} of the numerical tolerance", a.tolerance_fraction), "more than 0",
           "use 1, or 0.2 to validate first order");
    expect(s.exact_intervals, "an adaptive rule with intervals from cells", "exact intervals, which it watches",
           "leave exact_intervals as it is");
    const std::uint64_t part = trials_of_part(s.probability);
    expect(s.trials >= 2 * part, fmt::format("at most {} trials", s.trials),
           fmt::format("at least two blocks of {} for an adaptive rule at this coverage probability", part), "allow more");
    std::string id;
    const double nu = fewest_degrees_of_freedom(program, id);
    expect(
        nu > 2.0,
        fmt::format("input {} with {} degrees of freedom: its t has no standard deviation that trials could settle on", id, nu),
        "more than 2 under an adaptive rule", "take more readings, or a fixed number of trials and the intervals alone");
}

std::size_t threads_of(const monte_carlo_settings& s) {
    const unsigned asked = s.threads == 0 ? std::thread::hardware_concurrency() : s.threads;
    return std::clamp<std::size_t>(asked, 1, 256);
}

/// Runs blocks into one sink for each thread.
template <class Sink>
void run_into(const mc::runner& runner, const mc::block_range& range, std::vector<std::unique_ptr<Sink>>& sinks,
              std::uint64_t done) {
    std::vector<mc::sink*> all;
    all.reserve(sinks.size());
    for (const auto& s : sinks) all.push_back(s.get());
    runner.run(range, all, done);
}

/// Stores the trials of some blocks, `trials` of them.
struct stored_trials {
    std::vector<std::vector<double>> values;  ///< [output][trial]
    std::vector<mc::moments> of_block;

    stored_trials(const mc::runner& runner, const mc::block_range& range, std::uint64_t trials, std::size_t outputs,
                  const monte_carlo_settings& s, std::uint64_t done)
        : values(outputs, std::vector<double>(static_cast<std::size_t>(trials))),
          of_block(static_cast<std::size_t>(range.last - range.first)) {
        const std::uint64_t first_trial = mc::block(range, range.first).first_trial;
        std::vector<std::unique_ptr<mc::storing_sink>> sinks;
        for (std::size_t t = 0; t < threads_of(s); ++t) {
            sinks.push_back(std::make_unique<mc::storing_sink>(runner.inner_loops(), values, first_trial, of_block, range.first));
        }
        run_into(runner, range, sinks, done);
    }
};

/// Takes stored trials from one on, as columns.
void feed(mc::output_record& to, const mc::kernels& k, const double* values, std::size_t count) {
    for (std::size_t at = 0; at < count; at += column_length) to.take(k, values + at, std::min(column_length, count - at));
}

/// Limits of cells for a result of which these trials are known.
mc::cell_counter cells_around(const std::vector<double>& seen, double widened, std::size_t cells) {
    const auto [low, high] = std::minmax_element(seen.begin(), seen.end());
    const double least = std::max(1e-9 * std::max(std::abs(*low), std::abs(*high)), 1e-300);  // results all alike need cells too
    const double more = std::max(widened * (*high - *low), least);
    return {*low - more, *high + more, cells};
}

std::vector<mc::output_record> records_from(const std::vector<std::vector<double>>& pilot, std::uint64_t trials,
                                            const monte_carlo_settings& s, double margin) {
    std::vector<mc::output_record> records(pilot.size());
    for (std::size_t i = 0; i < pilot.size(); ++i) {
        records[i].limits = mc::limits_from(pilot[i], trials, s.probability, margin);
        if (s.histogram_cells > 0) records[i].plot.push_back(cells_around(pilot[i], 0.05, s.histogram_cells));
        if (!s.exact_intervals) records[i].intervals.push_back(cells_around(pilot[i], 0.5, cells_for_intervals));
    }
    return records;
}

/// A record that counts likewise and is empty.
std::vector<mc::output_record> empty_like(const std::vector<mc::output_record>& records) {
    std::vector<mc::output_record> empty(records.size());
    for (std::size_t i = 0; i < records.size(); ++i) {
        empty[i].limits = records[i].limits;
        const auto fresh = [](const std::vector<mc::cell_counter>& from) {
            std::vector<mc::cell_counter> to;
            to.reserve(from.size());
            for (const mc::cell_counter& c : from) to.emplace_back(c.cells().low, c.cells().high, c.cells().counts.size());
            return to;
        };
        empty[i].plot = fresh(records[i].plot);
        empty[i].intervals = fresh(records[i].intervals);
    }
    return empty;
}

bool holds_the_tails(const std::vector<mc::output_record>& records, std::uint64_t trials, double probability) {
    const std::uint64_t needed = trials - mc::ranks_of(trials, probability).q;
    return std::all_of(records.begin(), records.end(), [&](const mc::output_record& r) {
        return !r.intervals.empty() || (r.low.size() >= needed && r.high.size() >= needed);
    });
}

mc::moments sum_of(const std::vector<mc::moments>& parts, std::size_t outputs) {
    mc::moments all(outputs);
    for (const mc::moments& m : parts) all.add(m);
    return all;
}

monte_carlo_result result_of(const mc::moments& m, const std::vector<mc::output_record>& records,
                             const std::vector<program_output>& outputs, std::uint64_t trials, const trial_program& program,
                             const monte_carlo_settings& s) {
    std::string id;
    const double nu = fewest_degrees_of_freedom(program, id);
    const std::size_t n = outputs.size();
    monte_carlo_result result;
    result.trials = trials;
    result.probability = s.probability;
    result.covariance.resize(n * n);
    for (std::size_t i = 0; i < n; ++i) {
        sampled_output y;
        y.unit = outputs[i].unit;
        y.mean = m.mean[i];
        for (std::size_t j = 0; j < n; ++j) result.covariance[i * n + j] = m.covariance(i, j);
        double& variance = result.covariance[i * n + i];
        if (nu <= 2.0 && variance > 0.0) variance = infinite;
        y.standard_deviation = std::sqrt(variance);
        mc::interval_pair intervals;
        if (records[i].intervals.empty()) {
            intervals = mc::exact_intervals(records[i].low, records[i].high, trials, s.probability);
        } else {
            const mc::cell_counter& c = records[i].intervals.front();
            intervals = mc::intervals_of_cells(c.cells(), c.lowest(), c.highest(), trials, s.probability, y.interval_bound);
        }
        y.symmetric = intervals.symmetric;
        y.shortest = intervals.shortest;
        if (!records[i].plot.empty()) y.plot = records[i].plot.front().cells();
        result.outputs.push_back(std::move(y));
    }
    return result;
}

/// All trials of some parts, in one pass over them.
monte_carlo_result collected(const mc::runner& runner, const mc::block_range& all, std::uint64_t trials,
                             const trial_program& program, const std::vector<program_output>& outputs,
                             const monte_carlo_settings& s, double margin) {
    for (;; margin *= 2.0) {  // ends at the latest when all is kept
        mc::block_range pilot = all;
        pilot.last = std::min(all.last, all.first + std::min(pilot_blocks, all.blocks_of_part()));
        const std::uint64_t seen = std::min(all.part_length, (pilot.last - pilot.first) * mc::block_length);
        stored_trials first(runner, pilot, seen, outputs.size(), s, 0);
        std::vector<mc::output_record> records = records_from(first.values, trials, s, margin);
        for (std::size_t i = 0; i < records.size(); ++i) {
            feed(records[i], runner.inner_loops(), first.values[i].data(), static_cast<std::size_t>(seen));
        }
        first.values.clear();

        mc::block_range rest = all;
        rest.first = pilot.last;
        std::vector<mc::moments> of_block = std::move(first.of_block);
        of_block.resize(static_cast<std::size_t>(all.last - all.first));
        if (rest.first < rest.last) {
            std::vector<std::unique_ptr<mc::collecting_sink>> sinks;
            for (std::size_t t = 0; t < threads_of(s); ++t) {
                sinks.push_back(
                    std::make_unique<mc::collecting_sink>(runner.inner_loops(), empty_like(records), of_block, all.first));
            }
            run_into(runner, rest, sinks, seen);
            for (const auto& sink : sinks) {
                for (std::size_t i = 0; i < records.size(); ++i) records[i].take_over(sink->records[i]);
            }
        }
        if (!holds_the_tails(records, trials, s.probability)) continue;
        return result_of(sum_of(of_block, outputs.size()), records, outputs, trials, program, s);
    }
}

/// What an adaptive rule watches, of one result: mean, standard deviation and ends of the interval, of each part.
struct watched {
    std::array<mc::moments, 4> of{mc::moments(1), mc::moments(1), mc::moments(1), mc::moments(1)};

    void add(const std::array<double, 4>& figures) {
        for (std::size_t i = 0; i < 4; ++i) {
            mc::moments one(1);
            one.count = 1.0;
            one.mean[0] = figures[i];
            of[i].add(one);
        }
    }
    /// Twice the standard deviation of each mean within the tolerance. Source: JCGM 101:2008, 7.9.4 f) to i).
    [[nodiscard]] bool settled(double tolerance) const {
        return std::all_of(of.begin(), of.end(),
                           [&](const mc::moments& m) { return 2.0 * std::sqrt(m.covariance(0, 0) / m.count) <= tolerance; });
    }
};

monte_carlo_result adaptive(const mc::runner& runner, const trial_program& program, const std::vector<program_output>& outputs,
                            const monte_carlo_settings& s) {
    const std::size_t n = outputs.size();
    const adaptive_rule& rule = *s.adaptive;
    const std::uint64_t part_length = trials_of_part(s.probability);
    const mc::block_range parts{part_length, 0, 0};
    const std::uint64_t most_parts = s.trials / part_length;
    const std::uint64_t together = std::max<std::uint64_t>(threads_of(s), std::max<std::uint64_t>(1, 80'000 / part_length));
    const std::size_t length = static_cast<std::size_t>(part_length);

    std::vector<watched> seen(n);
    std::vector<mc::output_record> records;
    mc::moments all(n);
    std::vector<double> tolerances(n, 0.0);
    std::uint64_t h = 0;
    bool settled = false;
    while (!settled && h < most_parts) {
        const std::uint64_t until = std::min(most_parts, h + together);
        const mc::block_range range = parts.of_parts(h, until);
        const stored_trials stored(runner, range, (until - h) * part_length, n, s, h * part_length);
        const std::uint64_t first_part = h;
        for (; h < until && !settled; ++h) {
            const std::size_t offset = static_cast<std::size_t>((h - first_part) * part_length);
            mc::moments part(n);
            for (std::uint64_t b = 0; b < range.blocks_of_part(); ++b) {
                part.add(stored.of_block[static_cast<std::size_t>((h - first_part) * range.blocks_of_part() + b)]);
            }
            all.add(part);
            if (records.empty()) {
                std::vector<std::vector<double>> pilot;
                for (const auto& v : stored.values)
                    pilot.emplace_back(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(length));
                records = records_from(pilot, part_length, s, usual_margin);
            }
            std::vector<mc::output_record> own = empty_like(records);
            for (std::size_t i = 0; i < n; ++i) feed(own[i], runner.inner_loops(), stored.values[i].data() + offset, length);
            for (std::size_t i = 0; i < n; ++i) {
                mc::output_record whole;  // where this part's tails are longer than those of the first
                whole.limits = {infinite, -infinite};
                const bool enough = holds_the_tails(own, part_length, s.probability);
                if (!enough) feed(whole, runner.inner_loops(), stored.values[i].data() + offset, length);
                const mc::output_record& from = enough ? own[i] : whole;
                const mc::interval_pair pair = mc::exact_intervals(from.low, from.high, part_length, s.probability);
                const coverage_interval& interval = rule.shortest_interval ? pair.shortest : pair.symmetric;
                seen[i].add({part.mean[i], std::sqrt(part.covariance(i, i)), interval.low, interval.high});
            }
            for (std::size_t i = 0; i < n; ++i) records[i].take_over(own[i]);
            if (h == 0) continue;
            settled = true;
            for (std::size_t i = 0; i < n; ++i) {
                tolerances[i] =
                    tolerance_of(std::sqrt(all.covariance(i, i)), rule.significant_digits).delta * rule.tolerance_fraction;
                settled = settled && seen[i].settled(tolerances[i]);
            }
        }
    }
    const std::uint64_t trials = h * part_length;
    monte_carlo_result result = holds_the_tails(records, trials, s.probability)
                                    ? result_of(all, records, outputs, trials, program, s)
                                    : collected(runner, parts.of_parts(0, h), trials, program, outputs, s, 2.0 * usual_margin);
    result.settled = settled;
    result.tolerances = std::move(tolerances);
    return result;
}

std::string joined(const std::vector<std::pair<std::string, double>>& inputs) {
    std::string all;
    for (const auto& [id, value] : inputs) all += fmt::format("{}{} = {}", all.empty() ? " with " : ", ", id, value);
    return all;
}

}  // namespace

refused_trial::refused_trial(std::uint64_t trial, std::vector<std::pair<std::string, double>> inputs, const std::string& found)
    : bad_input(fmt::format("Monte Carlo, trial {}", trial), found + joined(inputs), "a finite result of every trial",
                "keep the inputs where the model holds, or mend the model"),
      trial_(trial),
      inputs_(std::move(inputs)) {}

double monte_carlo_result::correlation(std::size_t i, std::size_t j) const {
    const std::size_t n = outputs.size();
    const double scale = std::sqrt(covariance.at(i * n + i)) * std::sqrt(covariance.at(j * n + j));
    return scale > 0.0 ? covariance.at(i * n + j) / scale : 0.0;
}

monte_carlo_result run(const trial_program& program, const std::vector<program_output>& outputs, const monte_carlo_settings& s) {
    expect_sound(program, outputs, s);
    const mc::runner runner(program, outputs, s);
    if (s.adaptive) return adaptive(runner, program, outputs, s);
    const mc::block_range range{s.trials, 0, (s.trials + mc::block_length - 1) / mc::block_length};
    return collected(runner, range, s.trials, program, outputs, s, usual_margin);
}

}  // namespace plumbline::inline v0::uncertainty
