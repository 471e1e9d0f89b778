#pragma once
// First order for a number of inputs that is known at compile time: no allocation, for loops that state an uncertainty with each reading.

#include <array>
#include <cmath>
#include <cstddef>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/units/dual.hpp>
#include <plumbline/units/quantities.hpp>
#include <type_traits>
#include <utility>

namespace plumbline::inline v0::uncertainty {

/// An input by its figures alone. It has no identity: each one given is independent of the others, and results do not share it. Where they
/// must, or a budget is wanted, use uncertain.hpp.
template <class Quantity>
struct figures {
    using quantity_type = Quantity;
    Quantity estimate{};
    Quantity u{};                          ///< standard uncertainty, >= 0
    double degrees_of_freedom = infinite;  ///< of u, > 0
};

/// A result with its uncertainty.
template <class Quantity, std::size_t N>
struct fixed_result {
    Quantity value{};
    Quantity u{};                           ///< combined standard uncertainty
    double degrees_of_freedom = infinite;   ///< effective (Welch-Satterthwaite); infinite where u is 0
    std::array<double, N> sensitivities{};  ///< d value / d input, in coherent units, in the order of the inputs

    /// k = t_p of the effective degrees of freedom. No allocation. @throws bad_input  as coverage_factor
    [[nodiscard]] double k(double probability = default_coverage_probability) const {
        return coverage_factor(probability, degrees_of_freedom);
    }
};

/// First order of one model: calls it once with dual quantities, one direction for each input.
///
///     u^2 = sum_i (c_i u_i)^2        1/nu_eff = sum_i (c_i u_i)^4 / (u^4 nu_i)
///
/// @param model   the same generic callable that the other evaluations take; a function of values only
/// @param inputs  independent of one another; figures are taken as they are: what is not finite shows in the result
/// Source: JCGM 100:2008, eq. (10) and G.4.1.
/// `flatten` compiles all of the model into this function: at -O2 g++ would not see through it that most partials are zeros.
template <class Model, class... Quantity>
[[nodiscard, gnu::flatten]] auto first_order(const Model& model, const figures<Quantity>&... inputs) {
    constexpr std::size_t n = sizeof...(Quantity);
    const auto y = [&]<std::size_t... I>(std::index_sequence<I...>) {
        return model(dual<typename Quantity::unit_type, n>::variable(inputs.estimate, I)...);
    }
    (std::make_index_sequence<n>{});
    using result = typename std::remove_cvref_t<decltype(y)>::quantity_type;
    fixed_result<result, n> found;
    found.value = y.value();
    const std::array<double, n>& c = y.partials();
    const std::array<double, n> u{inputs.u.value()...};
    const std::array<double, n> nu{inputs.degrees_of_freedom...};
    double variance = 0.0;
    double satterthwaite = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        found.sensitivities[i] = c[i];
        const double contribution = c[i] * u[i];
        const double squared = contribution * contribution;
        variance += squared;
        satterthwaite += squared * squared / nu[i];
    }
    found.u = result::from_value(std::sqrt(variance));
    if (satterthwaite > 0.0) found.degrees_of_freedom = variance * variance / satterthwaite;
    return found;
}

}  // namespace plumbline::inline v0::uncertainty
