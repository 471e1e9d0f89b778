#pragma once
// The uncertainty budget of a result: a row per input.

#include <array>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <span>
#include <string>
#include <tuple>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// A row of a budget, in coherent units.
struct budget_row {
    shared_input in;
    double u = 0.0;                        ///< standard uncertainty of the input
    double degrees_of_freedom = infinite;  ///< of u
    double sensitivity = 0.0;              ///< d result / d input
    double contribution = 0.0;             ///< |sensitivity| u, in the unit of the result
    double share = 0.0;                    ///< contribution^2 / u_c^2; with stated correlations the shares need not add up to 1
};

/// What a pair of inputs, or one input twice, adds to u_c^2 beyond first order: see second_order.hpp.
struct second_order_row {
    shared_input first;
    shared_input second;    ///< the same one as first for a term of one input's curvature
    double variance = 0.0;  ///< in the unit of the result, squared; below 0 where the curve flattens first order's line
    double share = 0.0;     ///< variance / u_c^2
    /// The sensitivity to one of the two vanishes at the estimates, so that first order does not see this term at all.
    bool vanishing = false;
};

/// Correlation between two inputs, besides what shared inputs bring by themselves. Defined for normal and repeated inputs.
struct correlation {
    std::string first;
    std::string second;
    double coefficient = 0.0;  ///< -1 to 1
    friend bool operator==(const correlation&, const correlation&) = default;
};

/// The result: value +- U = k u at the coverage probability.
struct budget {
    std::string unit;  ///< "" where the unit has no symbol here
    double value = 0.0;
    double u = 0.0;                                ///< combined standard uncertainty
    double degrees_of_freedom = infinite;          ///< effective (Welch-Satterthwaite)
    bool few_degrees_of_freedom = false;           ///< fewer than 4: k is doubtful, take more readings
    coverage covered;                              ///< probability, k, and how k was found
    double U = 0.0;                                ///< expanded uncertainty
    std::vector<budget_row> rows;                  ///< largest contribution first; inputs without effect are left out
    std::vector<second_order_row> second_order{};  ///< largest first; empty where only first order was asked for
};

/// Budget of a result from its sensitivities, with k by the usual rule (usual_coverage).
///
///     u_c^2 = sum_i sum_j c_i c_j u_i u_j r_ij        1/nu_eff = sum_i (c_i u_i)^4 / (u_c^4 nu_i)
///
/// @param correlations  stated ones; jointly observed inputs among them share their degrees of freedom, and nu_eff is then theirs where they are
///                      all that counts. Of inputs with different ones u_c is right and nu_eff that of independent inputs: no joint t
///                      distribution is defined for them, and Monte Carlo refuses them by name. Where one bears on this result k is
///                      taken from t.
/// @throws bad_input    a correlation names an input whose distribution is neither normal nor repeated, or lies outside [-1, 1]
/// Source: JCGM 100:2008, eqs. (13) to (16), G.4.1.
[[nodiscard]] PLUMBLINE_EXPORT budget make_budget(double value, const std::string& unit, std::span<const dependence> dependences,
                                                  double probability = default_coverage_probability,
                                                  std::span<const correlation> correlations = {});

namespace detail {

/// "" where the unit has no symbol here: that of a product, for instance.
template <class Quantity>
inline constexpr const char* budget_unit = unit_symbol<Quantity> == nullptr ? "" : unit_symbol<Quantity>;

}  // namespace detail

template <class Quantity>
[[nodiscard]] budget make_budget(const uncertain<Quantity>& y, double probability = default_coverage_probability,
                                 std::span<const correlation> correlations = {}) {
    return make_budget(y.value.value(), detail::budget_unit<Quantity>, y.dependences, probability, correlations);
}

/// The same with k by convolution of all terms, not only where t is visibly wrong (convolved_coverage). What a calibration states.
[[nodiscard]] PLUMBLINE_EXPORT budget make_convolved_budget(double value, const std::string& unit,
                                                            std::span<const dependence> dependences,
                                                            double probability = default_coverage_probability,
                                                            std::span<const correlation> correlations = {});

template <class Quantity>
[[nodiscard]] budget make_convolved_budget(const uncertain<Quantity>& y, double probability = default_coverage_probability,
                                           std::span<const correlation> correlations = {}) {
    return make_convolved_budget(y.value.value(), detail::budget_unit<Quantity>, y.dependences, probability, correlations);
}

/// Covariance of two results through the inputs they share and the stated correlations, in the product of their coherent units.
/// Source: JCGM 100:2008, F.1.2.3, eq. (F.2).
[[nodiscard]] PLUMBLINE_EXPORT double covariance(std::span<const dependence> a, std::span<const dependence> b,
                                                 std::span<const correlation> correlations = {});

/// Covariances of several results: that of i and j at [i * results + j], as monte_carlo_result has them. The diagonal holds u^2.
/// Source: JCGM 102:2011, 6.2.1.3, U_y = C_x U_x C_x^T.
template <class... Quantity>
[[nodiscard]] std::vector<double> covariances(const std::tuple<uncertain<Quantity>...>& results,
                                              std::span<const correlation> correlations = {}) {
    const std::array<const std::vector<dependence>*, sizeof...(Quantity)> all =
        std::apply([](const auto&... each) { return std::array{&each.dependences...}; }, results);
    std::vector<double> out;
    out.reserve(all.size() * all.size());
    for (const auto* a : all) {
        for (const auto* b : all) out.push_back(covariance(*a, *b, correlations));
    }
    return out;
}

}  // namespace plumbline::inline v0::uncertainty
