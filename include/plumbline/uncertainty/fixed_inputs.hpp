#pragma once
// First order for a number of inputs that is known at compile time: no allocation, for loops that state an uncertainty with each reading.

#include <array>
#include <cstddef>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/sensitivities.hpp>
#include <plumbline/units/quantities.hpp>
#include <type_traits>

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

/// First order of one model, linearised once and combined (sensitivities.hpp).
/// @param inputs      independent of one another
/// @throws bad_input  as combine
template <class Model, class... Quantity>
[[nodiscard]] auto first_order(const Model& model, const figures<Quantity>&... inputs) {
    constexpr std::size_t n = sizeof...(Quantity);
    const auto y = linearise(model, inputs.estimate...);
    using result = std::remove_const_t<decltype(y.value)>;
    const std::array<double, n> u{inputs.u.value()...};
    const std::array<double, n> nu{inputs.degrees_of_freedom...};
    const combined_uncertainty all = combine(y.sensitivities, u, nu);
    return fixed_result<result, n>{y.value, result::from_value(all.u), all.degrees_of_freedom, y.sensitivities};
}

}  // namespace plumbline::inline v0::uncertainty
