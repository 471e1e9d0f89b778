#pragma once
// Second-order terms, on request: what first order leaves out where a model is curved or a sensitivity vanishes.

#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/function.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <plumbline/units/taylor.hpp>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// A result at first order, and what pairs of its inputs add to u^2.
template <class Quantity>
struct second_order_result {
    uncertain<Quantity> y;
    std::vector<second_order_row> terms;  ///< without shares; largest first, terms of 0 left out
};

/// The evaluation of a composition, beside those of uncertain.hpp, with derivatives up to the third by two of its inputs.
struct along_two_inputs {
    const input_set& inputs;
    const std::string& first;   ///< id of the input along x
    const std::string& second;  ///< along y; the same as first for one input alone

    template <class Quantity>
    using value_of = taylor<typename Quantity::unit_type>;

    template <class Quantity>
    [[nodiscard]] value_of<Quantity> input(const std::string& id) const {
        return given<Quantity>(*inputs.at(id));
    }
    template <class Quantity>
    [[nodiscard]] value_of<Quantity> given(const uncertainty::input& in) const {
        const Quantity q = Quantity::from_value(in.estimate);
        if (in.id == first) return value_of<Quantity>::variable(q, false);
        if (in.id == second) return value_of<Quantity>::variable(q, true);
        return q;
    }
    template <class Quantity>
    [[nodiscard]] static value_of<Quantity> constant(Quantity q) {
        return q;
    }
    template <class Quantity>
    [[nodiscard]] value_of<Quantity> linear(Quantity value, std::span<const sensitivity_to> by) const {
        auto y = value_of<Quantity>(value).all();
        for (const sensitivity_to& s : by) {
            if (s.id == first) y[1] = s.sensitivity;
            if (s.id == second && s.id != first) y[2] = s.sensitivity;
        }
        return value_of<Quantity>(y);
    }
    template <class Model, class... Argument>
    [[nodiscard]] static auto apply(const Model& model, const Argument&... arguments) {
        return model(arguments...);
    }
};

namespace detail {

/// Derivatives of a result by two inputs: coefficients of a Taylor quantity along them.
using along_pair = function<plumbline::detail::polynomial(const std::string& first, const std::string& second)>;

/// The terms of all pairs of the inputs that a result depends on.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<second_order_row> second_order_terms(std::span<const dependence> dependences,
                                                                                const along_pair& derivatives);

/// The input that an argument is, or null for a constant. @throws bad_input  it is a result of several inputs or of a scaled one
[[nodiscard]] PLUMBLINE_EXPORT const input* sole_input(std::span<const dependence> argument, std::size_t number);

[[nodiscard]] PLUMBLINE_EXPORT budget make_second_order_budget(double value, const std::string& unit,
                                                               std::span<const dependence> dependences,
                                                               std::vector<second_order_row> terms, double probability,
                                                               std::span<const correlation> correlations);

}  // namespace detail

/// A composition of models with its second-order terms. For inputs i and j, derivatives at the estimates:
///
///     u^2 = sum_i (f_i u_i)^2 + sum_i sum_j (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2
///
/// A row holds both orders of its pair. The double sum is that of independent inputs, each normal about its estimate. The composition runs
/// once for each pair of inputs: on request only, first order by itself costs what it did.
///
/// @param composition  as monte_carlo takes it: a template over the evaluation
/// @throws bad_input   a derivative is not finite at the estimates
/// Source: JCGM 100:2008, 5.1.2, note.
template <class Composition>
[[nodiscard]] auto second_order(const input_set& inputs, const Composition& composition) {
    auto y = composition(with_sensitivities{inputs});
    auto terms = detail::second_order_terms(y.dependences, [&](const std::string& first, const std::string& second) {
        return composition(along_two_inputs{inputs, first, second}).all();
    });
    return second_order_result<typename decltype(y)::quantity_type>{std::move(y), std::move(terms)};
}

/// One model with its second-order terms: the same callable and the same arguments that first_order takes, each an input or a constant.
/// @throws bad_input  a derivative is not finite at the estimates; an argument is itself a result: make it a composition
template <class Model, class... Quantity>
[[nodiscard]] auto second_order(const Model& model, const uncertain<Quantity>&... arguments) {
    auto y = first_order(model, arguments...);
    const auto along = [](const auto& argument, std::size_t number, const std::string& first, const std::string& second) {
        using quantity = typename std::remove_cvref_t<decltype(argument)>::quantity_type;
        using variable = taylor<typename quantity::unit_type>;
        const input* in = detail::sole_input(argument.dependences, number);
        if (in == nullptr || (in->id != first && in->id != second)) return variable(argument.value);
        return variable::variable(argument.value, in->id != first);
    };
    auto terms = detail::second_order_terms(y.dependences, [&](const std::string& first, const std::string& second) {
        return [&]<std::size_t... I>(std::index_sequence<I...>) { return model(along(arguments, I + 1, first, second)...).all(); }
        (std::index_sequence_for<Quantity...>{});
    });
    return second_order_result<typename decltype(y)::quantity_type>{std::move(y), std::move(terms)};
}

/// Budget with the second-order terms in u and as rows of their own. k is that of t: a product of inputs has no simple shape, and where it
/// rules (its rows hold much of u^2) the interval is that of Monte Carlo. A pair's degrees of freedom are those of its product,
/// 1/nu = 1/nu_i + 1/nu_j, and 4/nu_i for one input twice (from JCGM 100:2008, G.4.2: relative doubts of u_i and u_j add in squares).
///
/// @throws bad_input  a stated correlation bears on this result: the terms hold for independent inputs
template <class Quantity>
[[nodiscard]] budget make_budget(const second_order_result<Quantity>& r, double probability = default_coverage_probability,
                                 std::span<const correlation> correlations = {}) {
    return detail::make_second_order_budget(r.y.value.value(), detail::budget_unit<Quantity>, r.y.dependences, r.terms,
                                            probability, correlations);
}

/// What first order does not see of a model, in words: a sentence for each pair of inputs whose term holds at least `least_share` of u^2
/// although the sensitivity to one of them vanishes at the estimates, the largest first. Two inputs estimated as zero and multiplied, for
/// instance; also one alone, squared. Names both inputs and what to do. Empty for a model that does not depend on an input at all.
///
/// A sensitivity counts as vanishing below a tenth of what the pair adds (its variance is then below a hundredth of the pair's term).
/// @param least_share  0.01 of u^2 is half a percent of u: below, nobody would change a statement (common practice, no source)
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> unseen_by_first_order(const budget& with_second_order,
                                                                              double least_share = 0.01);

}  // namespace plumbline::inline v0::uncertainty
