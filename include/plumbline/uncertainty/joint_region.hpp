#pragma once
// Coverage regions of several results at once: JCGM 102:2011.

#include <plumbline/export.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>

namespace plumbline::inline v0::uncertainty {

/// Sizes of two regions that hold a fraction p of the results: the ellipsoid (y - mean)^T V^-1 (y - mean) <= ellipsoid^2, and the box with
/// each result within +-box standard deviations of its mean.
struct region_factors {
    double ellipsoid = 0.0;  ///< k_p
    double box = 0.0;        ///< k_q
};

/// For results that are jointly normal: k_p^2 is the quantile of chi-squared with as many degrees of freedom as results; k_q that of the
/// normal at 1 - (1 - p) / results (a bound: at least p is held).
/// @throws bad_input  no result, or p not between 0 and 1
/// Source: JCGM 102:2011, 6.5.2.3 and 6.5.3, table 1; 6.5.4.
[[nodiscard]] PLUMBLINE_EXPORT region_factors normal_region(std::size_t results, double probability);

/// By trials. `result` is that of a run of the same program with the same settings; the same trials are drawn again, so that none need be
/// kept.
/// @throws bad_input  fewer than two results; p not above 1/2; a covariance without inverse: one result is a linear function of others
/// Source: JCGM 102:2011, 7.7.2 and 7.7.3.
[[nodiscard]] PLUMBLINE_EXPORT region_factors region_by_trials(const trial_program& program,
                                                               const std::vector<program_output>& outputs,
                                                               const monte_carlo_settings& settings,
                                                               const monte_carlo_result& result);

template <class Composition>
[[nodiscard]] region_factors region_by_trials(const monte_carlo_settings& settings, const input_set& inputs,
                                              const Composition& composition, const monte_carlo_result& result) {
    trial_program program;
    const auto outputs = detail::outputs_of(composition(in_trials{inputs, program}));
    return region_by_trials(program, outputs, settings, result);
}

}  // namespace plumbline::inline v0::uncertainty
