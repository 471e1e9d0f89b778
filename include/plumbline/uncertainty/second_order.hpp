#pragma once
// Second-order terms, on request: what first order leaves out where a model is curved or a sensitivity vanishes.

#include <array>
#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/function.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <plumbline/units/taylor.hpp>
#include <span>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// A result at first order, and what second order adds to u^2.
template <class Quantity>
struct second_order_result {
    uncertain<Quantity> y;
    std::vector<second_order_row> terms;    ///< of pairs of inputs, without shares; largest first, terms of 0 left out
    double added = 0.0;                     ///< to u^2: their sum, and with correlations what these add besides
    std::vector<correlation> correlations;  ///< that it was evaluated with
};

/// Several results of one model, each with its terms.
template <class... Quantity>
struct second_order_results {
    std::tuple<second_order_result<Quantity>...> each;
    std::vector<double> covariances;  ///< with both orders; as `covariances` of budget.hpp has those of first order
};

/// The evaluation of a composition, beside those of uncertain.hpp, with derivatives up to the third along two directions: how far each
/// input goes in them, in its coherent unit. An input that is not named does not move.
struct along_two_directions {
    const input_set& inputs;
    std::span<const sensitivity_to> first;   ///< along x
    std::span<const sensitivity_to> second;  ///< along y; empty for one direction alone

    template <class Quantity>
    using value_of = taylor<typename Quantity::unit_type>;

    /// What an input of this id and estimate becomes.
    template <class Quantity>
    [[nodiscard]] value_of<Quantity> moved(Quantity estimate, const std::string& id) const {
        auto y = value_of<Quantity>(estimate).all();
        for (const sensitivity_to& step : first) y[1] += step.id == id ? step.sensitivity : 0.0;
        for (const sensitivity_to& step : second) y[2] += step.id == id ? step.sensitivity : 0.0;
        return value_of<Quantity>(y);
    }
    template <class Quantity>
    [[nodiscard]] value_of<Quantity> input(const std::string& id) const {
        return given<Quantity>(*inputs.at(id));
    }
    template <class Quantity>
    [[nodiscard]] value_of<Quantity> given(const uncertainty::input& in) const {
        return moved(Quantity::from_value(in.estimate), in.id);
    }
    template <class Quantity>
    [[nodiscard]] static value_of<Quantity> constant(Quantity q) {
        return q;
    }
    template <class Quantity>
    [[nodiscard]] value_of<Quantity> linear(Quantity value, std::span<const sensitivity_to> by) const {
        auto y = value_of<Quantity>(value).all();
        for (const sensitivity_to& s : by) {
            for (const sensitivity_to& step : first) y[1] += step.id == s.id ? s.sensitivity * step.sensitivity : 0.0;
            for (const sensitivity_to& step : second) y[2] += step.id == s.id ? s.sensitivity * step.sensitivity : 0.0;
        }
        return value_of<Quantity>(y);
    }
    template <class Model, class... Argument>
    [[nodiscard]] static auto apply(const Model& model, const Argument&... arguments) {
        return model(arguments...);
    }
};

namespace detail {

/// Coefficients of Taylor quantities along two directions, one for each result.
using along_pair = function<std::vector<plumbline::detail::polynomial>(std::span<const sensitivity_to> first,
                                                                       std::span<const sensitivity_to> second)>;

/// Of all results.
struct second_order_sums {
    std::vector<std::vector<second_order_row>> terms;
    std::vector<double> added;  ///< covariance of results i and j that second order adds, at [i * results + j]
};

/// @param results  the inputs that each depends on, ordered by id
[[nodiscard]] PLUMBLINE_EXPORT second_order_sums second_order_terms(std::span<const std::vector<dependence>* const> results,
                                                                    std::span<const correlation> correlations,
                                                                    const along_pair& derivatives);

/// The input that an argument is, or null for a constant. @throws bad_input  it is a result of several inputs or of a scaled one
[[nodiscard]] PLUMBLINE_EXPORT const input* sole_input(std::span<const dependence> argument, std::size_t number);

[[nodiscard]] PLUMBLINE_EXPORT budget make_second_order_budget(double value, const std::string& unit,
                                                               std::span<const dependence> dependences,
                                                               std::vector<second_order_row> terms, double added,
                                                               double probability, std::span<const correlation> correlations);

/// One result or a tuple of them, first order and what second order adds to it.
template <class FirstOrder, class Along>
[[nodiscard]] auto with_second_order(FirstOrder y, std::span<const correlation> correlations, const Along& along) {
    using plumbline::detail::polynomial;
    using directions = std::span<const sensitivity_to>;
    const std::vector<correlation> stated(correlations.begin(), correlations.end());
    if constexpr (several<FirstOrder>) {
        return [&]<class... Quantity>(std::tuple<uncertain<Quantity>...>& all) {
            constexpr std::size_t n = sizeof...(Quantity);
            const auto dependences = std::apply(
                [](const auto&... each) { return std::array<const std::vector<dependence>*, n>{&each.dependences...}; }, all);
            second_order_sums sums = second_order_terms(dependences, stated, [&](directions first, directions second) {
                return std::apply([](const auto&... each) { return std::vector<polynomial>{each.all()...}; },
                                  along(first, second));
            });
            second_order_results<Quantity...> r;
            r.covariances = uncertainty::covariances(all, stated);
            for (std::size_t i = 0; i < n * n; ++i) r.covariances[i] += sums.added[i];
            [&]<std::size_t... K>(std::index_sequence<K...>) {
                ((std::get<K>(r.each) = {std::move(std::get<K>(all)), std::move(sums.terms[K]), sums.added[K * n + K], stated}),
                 ...);
            }
            (std::make_index_sequence<n>{});
            return r;
        }(y);
    } else {
        const std::array<const std::vector<dependence>*, 1> dependences{&y.dependences};
        second_order_sums sums = second_order_terms(dependences, stated, [&](directions first, directions second) {
            return std::vector<polynomial>{along(first, second).all()};
        });
        using quantity = typename FirstOrder::quantity_type;
        return second_order_result<quantity>{std::move(y), std::move(sums.terms[0]), sums.added[0], stated};
    }
}

}  // namespace detail

/// A composition of models with its second-order terms. For inputs i and j, derivatives at the estimates:
///
///     u^2 = sum_i (f_i u_i)^2 + sum_i sum_j (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2
///
/// A row holds both orders of its pair. The double sum is that of independent inputs, each normal about its estimate. Correlated ones count
/// as jointly normal, and the sum goes over independent quantities that they are linear functions of (a Cholesky factor): exact
/// to the same order, mixed derivatives by three inputs included. Its rows stay those of independent inputs, and as with first order's
/// the shares then need not add up to 1. Two results f and g have the covariance
///
///     sum_i f_i g_i u_i^2 + sum_i sum_j (f_ij g_ij + f_i g_ijj + g_i f_ijj) / 2 u_i^2 u_j^2
///
/// The composition runs once for each pair of inputs, with correlations twice: on request only, first order by itself costs what it did.
///
/// @param composition   as monte_carlo takes it: a template over the evaluation
/// @param correlations  stated ones; those that do not bear on the inputs of the composition are left aside
/// @return              second_order_result, or second_order_results where the composition returns a tuple or array
/// @throws bad_input    a derivative is not finite at the estimates; a correlation outside [-1, 1], of an input with limits, or several that
///                      contradict each other
/// Source: JCGM 100:2008, 5.1.2, note. Covariance and correlations by the same expansion with the fourth moments of jointly normal
/// quantities, L. Isserlis, Biometrika 12 (1918) 134 (from memory).
template <class Composition>
[[nodiscard]] auto second_order(const input_set& inputs, const Composition& composition,
                                std::span<const correlation> correlations = {}) {
    return detail::with_second_order(composition(with_sensitivities{inputs}), correlations,
                                     [&](std::span<const sensitivity_to> first, std::span<const sensitivity_to> second) {
                                         return composition(along_two_directions{inputs, first, second});
                                     });
}

/// One model with its second-order terms, for independent inputs: the same callable and the same arguments that first_order takes, each an
/// input or a constant.
/// @throws bad_input  a derivative is not finite at the estimates; an argument is itself a result: make it a composition
template <class Model, class... Quantity>
[[nodiscard]] auto second_order(const Model& model, const uncertain<Quantity>&... arguments) {
    static constexpr auto along = []<class Argument>(const uncertain<Argument>& argument, std::size_t number,
                                                     const along_two_directions& at) {
        const input* in = detail::sole_input(argument.dependences, number);
        return in == nullptr ? at.constant(argument.value) : at.moved(argument.value, in->id);
    };
    const input_set none;
    return detail::with_second_order(first_order(model, arguments...), {},
                                     [&](std::span<const sensitivity_to> first, std::span<const sensitivity_to> second) {
                                         const along_two_directions at{none, first, second};
                                         return [&]<std::size_t... I>(std::index_sequence<I...>) {
                                             return model(along(arguments, I + 1, at)...);
                                         }
                                         (std::index_sequence_for<Quantity...>{});
                                     });
}

/// Budget with the second-order terms in u and as rows of their own. k is that of t: a product of inputs has no simple shape, and where it
/// rules (its rows hold much of u^2) the interval is that of Monte Carlo. A pair's degrees of freedom are those of its product,
/// 1/nu = 1/nu_i + 1/nu_j, and 4/nu_i for one input twice (from JCGM 100:2008, G.4.2: relative doubts of u_i and u_j add in squares).
///
template <class Quantity>
[[nodiscard]] budget make_budget(const second_order_result<Quantity>& r, double probability = default_coverage_probability) {
    return detail::make_second_order_budget(r.y.value.value(), detail::budget_unit<Quantity>, r.y.dependences, r.terms, r.added,
                                            probability, r.correlations);
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
