#pragma once
// A quantity with the inputs it depends on: the first-order evaluation of a model.

#include <array>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <plumbline/units/dual.hpp>
#include <plumbline/units/quantities.hpp>
#include <span>
#include <string>
#include <tuple>
#include <type_traits>
#include <utility>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// How much a result moves with one input: the partial derivative, in the coherent unit of the result per coherent unit of the input.
struct dependence {
    shared_input on;
    double sensitivity = 0.0;
};

/// Scales and adds: result[i] = sum over arguments of outer[a] * dependences[a][i], one entry per input id, ordered by id.
/// Source: chain rule; a shared input's sensitivities add before they are squared (JCGM 100:2008, 5.2.2, r = +1 with itself).
[[nodiscard]] PLUMBLINE_EXPORT std::vector<dependence> chain(std::span<const double> outer,
                                                             std::span<const std::vector<dependence>* const> arguments);

/// Refuses an input whose unit is not the one expected. @throws bad_input
PLUMBLINE_EXPORT void expect_unit(const input& in, const char* unit);

/// An estimate with its sensitivities to the inputs below it. x - x is 0 with u = 0, because both sides share their inputs.
template <class Quantity>
struct uncertain {
    using quantity_type = Quantity;
    Quantity value;
    std::vector<dependence> dependences;
};

/// An input as a quantity. @throws bad_input if the input's unit is not that of Quantity
template <class Quantity>
[[nodiscard]] uncertain<Quantity> from_input(const shared_input& in) {
    expect_unit(*in, unit_symbol<Quantity>);
    return {Quantity::from_value(in->estimate), {{in, 1.0}}};
}

/// A constant: no input, no uncertainty. For definitions and chosen values only, never for data.
template <class Quantity>
[[nodiscard]] uncertain<Quantity> exactly(Quantity q) {
    return {q, {}};
}

namespace detail {

/// A model's result that is several quantities at once: a std::tuple or std::array.
template <class T>
concept several = requires {
    std::tuple_size<T>::value;
};

/// A dual result as a quantity with the inputs below the arguments; a result without derivatives is a constant.
template <class Result, std::size_t N>
[[nodiscard]] auto lowered(const Result& y, const std::array<const std::vector<dependence>*, N>& inner) {
    using operand = plumbline::detail::operand<Result>;
    if constexpr (operand::size == 0) {
        using quantity = std::conditional_t<std::is_arithmetic_v<Result>, ratio, Result>;
        return exactly(quantity::from_value(plumbline::detail::number(y)));
    } else {
        return uncertain<typename Result::quantity_type>{y.value(), chain(y.partials(), inner)};
    }
}

}  // namespace detail

/// First order of one model: calls it once with dual quantities and carries the sensitivities down to the inputs.
///
/// @param model      a generic callable over unit-checked quantities; it is called with dual quantities, one direction for each argument
/// @param arguments  what it depends on; they may share inputs
/// @return           uncertain, or a std::tuple of them where the model returns a std::tuple or std::array: results that share their inputs
/// Source: JCGM 100:2008, 5.1.2 and 5.1.3; JCGM 102:2011, 6.2.1.3.
template <class Model, class... Quantity>
[[nodiscard]] auto first_order(const Model& model, const uncertain<Quantity>&... arguments) {
    constexpr std::size_t n = sizeof...(Quantity);
    const auto y = [&]<std::size_t... I>(std::index_sequence<I...>) {
        return model(dual<typename Quantity::unit_type, n>::variable(arguments.value, I)...);
    }
    (std::make_index_sequence<n>{});
    const std::array<const std::vector<dependence>*, n> inner{&arguments.dependences...};
    using returned = std::remove_cvref_t<decltype(y)>;
    if constexpr (detail::several<returned>) {
        return [&]<std::size_t... K>(std::index_sequence<K...>) { return std::tuple{detail::lowered(std::get<K>(y), inner)...}; }
        (std::make_index_sequence<std::tuple_size_v<returned>>{});
    } else {
        return detail::lowered(y, inner);
    }
}

/// The same by the input's id: a dependence that can be kept in a file.
struct sensitivity_to {
    std::string id;
    double sensitivity = 0.0;
    friend bool operator==(const sensitivity_to&, const sensitivity_to&) = default;
};

/// The two ways to evaluate a composition of models; a composition is a template over one of them and so is written once.
/// At the estimates: plain quantities.
struct at_estimates {
    const input_set& inputs;
    template <class Quantity>
    [[nodiscard]] Quantity input(const std::string& id) const {
        const shared_input in = inputs.at(id);
        expect_unit(*in, unit_symbol<Quantity>);
        return Quantity::from_value(in->estimate);
    }
    /// An input that belongs to this one evaluation and not to the set.
    template <class Quantity>
    [[nodiscard]] static Quantity given(const uncertainty::input& in) {
        return Quantity::from_value(in.estimate);
    }
    template <class Quantity>
    [[nodiscard]] static Quantity constant(Quantity q) {
        return q;
    }
    /// A result of before, by its sensitivities to inputs of the set.
    template <class Quantity>
    [[nodiscard]] static Quantity linear(Quantity value, std::span<const sensitivity_to>) {
        return value;
    }
    template <class Model, class... Quantity>
    [[nodiscard]] static auto apply(const Model& model, const Quantity&... arguments) {
        return model(arguments...);
    }
};

/// With uncertainty: quantities that carry their sensitivities.
struct with_sensitivities {
    const input_set& inputs;
    template <class Quantity>
    [[nodiscard]] uncertain<Quantity> input(const std::string& id) const {
        return from_input<Quantity>(inputs.at(id));
    }
    /// An input that belongs to this one evaluation and not to the set.
    template <class Quantity>
    [[nodiscard]] static uncertain<Quantity> given(uncertainty::input in) {
        return from_input<Quantity>(shared_input(std::move(in)));
    }
    template <class Quantity>
    [[nodiscard]] static uncertain<Quantity> constant(Quantity q) {
        return exactly(q);
    }
    /// A result of before, by its sensitivities to inputs of the set, ordered by id.
    template <class Quantity>
    [[nodiscard]] uncertain<Quantity> linear(Quantity value, std::span<const sensitivity_to> by) const {
        uncertain<Quantity> y{value, {}};
        for (const sensitivity_to& s : by) y.dependences.push_back({inputs.at(s.id), s.sensitivity});
        return y;
    }
    template <class Model, class... Quantity>
    [[nodiscard]] static auto apply(const Model& model, const uncertain<Quantity>&... arguments) {
        return first_order(model, arguments...);
    }
};

}  // namespace plumbline::inline v0::uncertainty
