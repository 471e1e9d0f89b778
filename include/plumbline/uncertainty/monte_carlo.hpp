#pragma once
// Monte Carlo: a model's distribution by random trials of its inputs (JCGM 101:2008; several results JCGM 102:2011).

#include <cstdint>
#include <exception>
#include <optional>
#include <plumbline/error.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/function.hpp>
#include <plumbline/uncertainty/trials.hpp>
#include <string>
#include <utility>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// Trials until the figures stand to so many digits (JCGM 101:2008, 7.9): blocks of max(100 / (1 - p), 10^4) trials, until mean, standard
/// deviation and both ends of the interval each have twice their standard deviation of the mean over the blocks within the tolerance.
struct adaptive_rule {
    int significant_digits = 2;       ///< of the standard uncertainty, 1 to 6; gives the tolerance delta (7.9.2)
    double tolerance_fraction = 1.0;  ///< of delta, more than 0; 1/5 to validate first order (8.2)
    bool shortest_interval = true;    ///< the ends watched: of the shortest interval, else of the symmetric one
};

struct monte_carlo_settings {
    std::uint64_t trials = 1'000'000;                   ///< 2 to 10^12; with an adaptive rule the most there may be
    double probability = default_coverage_probability;  ///< of the coverage intervals, 0 < p < 1
    std::uint64_t seed = 1;                             ///< same seed and same model: same bits, whatever threads and processor
    unsigned threads = 1;                               ///< 0: as many as the machine runs at once
    bool exact_intervals = true;                        ///< false: from cells, in memory that does not grow with the trials
    std::size_t histogram_cells = 0;                    ///< of the histogram for a plot; 0: none
    std::vector<correlation> correlations;              ///< stated ones, besides what inputs share; normal or joint t
    std::optional<adaptive_rule> adaptive;
    /// Called on the caller's thread, about a hundred times; false stops the run, which ends with `cancelled`.
    function<bool(std::uint64_t done, std::uint64_t of)> progress;
};

struct coverage_interval {
    double low = 0.0;
    double high = 0.0;
    friend bool operator==(const coverage_interval&, const coverage_interval&) = default;
};

/// How many trials fell into equal cells from low to high, and beyond.
struct histogram {
    double low = 0.0;
    double high = 0.0;
    std::vector<std::uint64_t> counts;
    std::uint64_t below = 0;
    std::uint64_t above = 0;
    friend bool operator==(const histogram&, const histogram&) = default;
};

/// One result of a model, in its coherent unit.
struct sampled_output {
    std::string unit;  ///< as in a budget; "" where the unit has no symbol here
    double mean = 0.0;
    double standard_deviation = 0.0;  ///< infinite where an input's t has none: 2 or fewer degrees of freedom
    coverage_interval symmetric;      ///< as many trials below as above it (JCGM 101:2008, 7.7.2)
    coverage_interval shortest;       ///< the shortest that holds the fraction p of the trials, the lowest of equals (5.3.4)
    /// How far an end may be from the order statistic it stands for; 0 for exact intervals. The shortest one of cells may exceed the
    /// exact one by twice this in length.
    double interval_bound = 0.0;
    histogram plot;
    friend bool operator==(const sampled_output&, const sampled_output&) = default;
};

struct PLUMBLINE_EXPORT monte_carlo_result {
    std::uint64_t trials = 0;
    double probability = 0.0;
    std::vector<sampled_output> outputs;
    std::vector<double> covariance;  ///< of outputs i and j at [i * outputs + j], in the product of their units
    bool settled = true;             ///< false: an adaptive rule was not met within the most trials allowed
    /// delta of each output by the adaptive rule; empty without one.
    std::vector<double> tolerances;

    /// Correlation coefficient of two outputs; 0 where one does not scatter.
    [[nodiscard]] double correlation(std::size_t i, std::size_t j) const;
    friend bool operator==(const monte_carlo_result&, const monte_carlo_result&) = default;
};

/// A trial whose result is NaN or infinite, or whose model threw: the lowest such trial.
class PLUMBLINE_EXPORT refused_trial : public bad_input {
public:
    refused_trial(std::uint64_t trial, std::vector<std::pair<std::string, double>> inputs, const std::string& found);
    [[nodiscard]] std::uint64_t trial() const noexcept { return trial_; }  ///< counted from 0
    /// Inputs of that trial by id, in coherent units.
    [[nodiscard]] const std::vector<std::pair<std::string, double>>& inputs() const noexcept { return inputs_; }

private:
    std::uint64_t trial_;
    std::vector<std::pair<std::string, double>> inputs_;
};

/// The progress callback asked to stop.
class cancelled : public std::exception {
public:
    [[nodiscard]] const char* what() const noexcept override { return "Monte Carlo: stopped by its progress callback"; }
};

/// Where a result's column is, and its unit.
struct program_output {
    std::size_t place = 0;
    std::string unit;
};

/// Runs what was written down. @throws as monte_carlo
[[nodiscard]] PLUMBLINE_EXPORT monte_carlo_result run(const trial_program& program, const std::vector<program_output>& outputs,
                                                      const monte_carlo_settings& settings);

namespace detail {

template <class Quantity>
program_output output_of(const column<Quantity>& y) {
    return {y.place, unit_symbol<Quantity> == nullptr ? "" : unit_symbol<Quantity>};
}
template <class Quantity>
std::vector<program_output> outputs_of(const column<Quantity>& y) {
    return {output_of(y)};
}
template <class... Quantity>
std::vector<program_output> outputs_of(const std::tuple<column<Quantity>...>& y) {
    return std::apply([](const auto&... each) { return std::vector<program_output>{output_of(each)...}; }, y);
}
template <class Quantity>
std::vector<program_output> outputs_of(const std::vector<column<Quantity>>& y) {
    std::vector<program_output> all;
    all.reserve(y.size());
    for (const auto& each : y) all.push_back(output_of(each));
    return all;
}

}  // namespace detail

/// An input of a model under Monte Carlo.
template <class Quantity>
struct sampled {
    sampled_input in;
};

/// Distribution of a composition over a set of inputs.
///
/// @param composition  called once with in_trials; returns a column, or a tuple or vector of columns
/// @throws bad_input      settings out of range; an input with figures that are not finite; correlations that contradict each other or that
///                        are stated for what is neither normal nor joint t; an adaptive rule with a t of 2 or fewer degrees of freedom
/// @throws refused_trial  a trial without a finite result
/// @throws cancelled      by the progress callback; whatever that throws itself is passed on
template <class Composition>
[[nodiscard]] monte_carlo_result monte_carlo(const monte_carlo_settings& settings, const input_set& inputs,
                                             const Composition& composition) {
    trial_program program;
    const auto outputs = detail::outputs_of(composition(in_trials{inputs, program}));
    return run(program, outputs, settings);
}

/// Distribution of one model: the same callable that first_order takes, here with plain quantities. Where it returns a std::tuple or
/// std::array of quantities, the distribution of all of them.
template <class Model, class... Quantity>
[[nodiscard]] monte_carlo_result monte_carlo(const monte_carlo_settings& settings, const Model& model,
                                             const sampled<Quantity>&... inputs) {
    const input_set none;
    return monte_carlo(settings, none, [&](const in_trials& trials) {
        return trials.apply(model, trials.template given<Quantity>(inputs.in)...);
    });
}

/// Instruction sets of this library's inner loops that this machine can run, the best last: "plain", "avx2", "avx512". The best is used,
/// or the one that the environment variable PLUMBLINE_INSTRUCTION_SET names. The results are the same, to the last bit.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> instruction_sets();

}  // namespace plumbline::inline v0::uncertainty
