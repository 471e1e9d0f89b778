#include <plumbline/uncertainty/joint_region.hpp>

#include "../quantiles.hpp"
#include "draws.hpp"

#include <fmt/format.h>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

region_factors normal_region(std::size_t results, double probability) {
    if (results == 0 || !(probability > 0.0 && probability < 1.0)) {
        throw bad_input("coverage region", fmt::format("{} results at probability {}", results, probability),
                        "at least one result, and a probability between 0 and 1", "correct the figures");
    }
    const double m = static_cast<double>(results);
    return {std::sqrt(chi_squared_exceeded_by(1.0 - probability, m)), coverage_factor(1.0 - (1.0 - probability) / m, infinite)};
}

region_factors region_by_trials(const trial_program& program, const std::vector<program_output>& outputs,
                                const monte_carlo_settings& settings, const monte_carlo_result& result) {
    const std::size_t n = outputs.size();
    if (n < 2 || n != result.outputs.size() || !(settings.probability > 0.5)) {
        throw bad_input(
            "coverage region",
            fmt::format("{} results, a run of {}, and probability {}", n, result.outputs.size(), settings.probability),
            "at least two results, a run of the same, and more than 1/2", "correct the figures");
    }
    std::vector<double> correlations(n * n);
    std::vector<double> mean(n);
    std::vector<double> deviation(n);
    std::vector<std::size_t> places(n);
    for (std::size_t i = 0; i < n; ++i) {
        mean[i] = result.outputs[i].mean;
        deviation[i] = result.outputs[i].standard_deviation;
        places[i] = outputs[i].place;
        for (std::size_t j = 0; j < n; ++j) correlations[i * n + j] = i == j ? 1.0 : result.correlation(i, j);
    }
    const std::vector<double> factor = monte_carlo_detail::cholesky(correlations, n, "coverage region");
    for (std::size_t i = 0; i < n; ++i) {
        if (!(deviation[i] > 0.0) || !std::isfinite(deviation[i]) || !(factor[i * n + i] > 0.0)) {
            throw bad_input("coverage region",
                            fmt::format("result {} without scatter of its own: standard deviation {}", i + 1, deviation[i]),
                            "results of which none follows from the others", "leave it out");
        }
    }

    // Both distances of a trial from the means: z = L^-1 (y - mean) / u, whose length is the ellipsoid's; and the largest of |y - mean| / u.
    trial_program with_distances = program;
    const std::size_t to = with_distances.next_place();
    with_distances.add_step(
        [=](double* columns, std::size_t begin, std::size_t end) {
            std::vector<double> z(n);
            for (std::size_t trial = begin; trial < end; ++trial) {
                double squares = 0.0;
                double largest = 0.0;
                for (std::size_t i = 0; i < n; ++i) {
                    const double d = (columns[places[i] * column_length + trial] - mean[i]) / deviation[i];
                    largest = std::max(largest, std::abs(d));
                    double rest = d;
                    for (std::size_t j = 0; j < i; ++j) rest -= factor[i * n + j] * z[j];
                    z[i] = rest / factor[i * n + i];
                    squares += z[i] * z[i];
                }
                columns[to * column_length + trial] = std::sqrt(squares);
                columns[(to + 1) * column_length + trial] = largest;
            }
        },
        2);
    monte_carlo_settings same = settings;
    same.trials = result.trials;
    same.adaptive.reset();
    same.histogram_cells = 0;
    // The upper end of the interval that holds 2p - 1 with as many trials below as above it has 1 - p above it.
    same.probability = 2.0 * settings.probability - 1.0;
    const monte_carlo_result distances = run(with_distances, {{to, "1"}, {to + 1, "1"}}, same);
    return {distances.outputs[0].symmetric.high, distances.outputs[1].symmetric.high};
}

}  // namespace plumbline::inline v0::uncertainty
