#pragma once
// The third evaluation of a model, beside at_estimates and with_sensitivities (uncertain.hpp): by columns of random trials.
//
// A composition of models is called once. What it applies to what is written down, as steps that each turn columns of 256 trials into
// another; then the steps are run for as many columns as there are trials. So a composition costs nothing per trial, and the models it
// applies are called with plain quantities, one trial after the other, in a loop the compiler can see through.

#include <array>
#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/function.hpp>
#include <plumbline/uncertainty/sampled_input.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <plumbline/units/quantities.hpp>
#include <span>
#include <string>
#include <tuple>
#include <type_traits>
#include <utility>
#include <vector>

namespace plumbline::inline v0::uncertainty {

inline constexpr std::size_t column_length = 256;  ///< trials in a column

/// Where the trials of one quantity stand; what an evaluation by trials hands on in place of the quantity.
template <class Quantity>
struct column {
    using quantity_type = Quantity;
    std::size_t place = 0;
};

/// What was written down: which inputs to draw, which steps to take.
class PLUMBLINE_EXPORT trial_program {
public:
    /// Computes trials begin to end of its columns; column p starts at columns + p * column_length.
    using step = function<void(double* columns, std::size_t begin, std::size_t end)>;

    struct drawn_input {
        sampled_input in;
        std::size_t place;
    };
    struct constant_column {
        std::size_t place;
        double value;
    };

    /// Place of an input's column; an equal input again has the same one.
    /// @throws bad_input  another input of this id is there, its unit is not the one named, or its figures are not finite or negative
    std::size_t add_input(const sampled_input& in, const char* unit);
    std::size_t add_constant(double value);
    /// @param count  of columns that the step fills, from next_place() on, which is returned
    std::size_t add_step(step what, std::size_t count = 1);
    [[nodiscard]] std::size_t next_place() const noexcept { return columns_; }

    /// The constant at a place, or null.
    [[nodiscard]] const double* constant_at(std::size_t place) const;

    [[nodiscard]] const std::vector<drawn_input>& inputs() const noexcept { return inputs_; }
    [[nodiscard]] const std::vector<constant_column>& constants() const noexcept { return constants_; }
    [[nodiscard]] const std::vector<step>& steps() const noexcept { return steps_; }
    [[nodiscard]] std::size_t columns() const noexcept { return columns_; }

private:
    std::vector<drawn_input> inputs_;
    std::vector<constant_column> constants_;
    std::vector<step> steps_;
    std::size_t columns_ = 0;
};

namespace detail {

/// The quantity of what a model returns; the bare number that 1.0 + ratio becomes is a ratio.
template <class Returned>
using returned_quantity = std::conditional_t<std::is_arithmetic_v<Returned>, ratio, Returned>;

/// The loop over a column's trials. The pointers do not overlap, the count of a full column is known, and each number is copied before it
/// becomes a quantity: so g++ vectorises it at -O2 where the model allows.
template <class... Quantity, class Model, class... Column>
void loop(const Model& model, std::size_t begin, std::size_t end, double* __restrict out, const Column* __restrict... in) {
    if (begin == 0 && end == column_length) {
        for (std::size_t i = 0; i < column_length; ++i)
            out[i] = plumbline::detail::number(model(Quantity::from_value(double{in[i]})...));
    } else {
        for (std::size_t i = begin; i < end; ++i)
            out[i] = plumbline::detail::number(model(Quantity::from_value(double{in[i]})...));
    }
}

/// The same for a model that returns several quantities at once; their columns stand one after the other.
template <class... Quantity, class Model, class... Column>
void loop_over_several(const Model& model, std::size_t begin, std::size_t end, double* __restrict out,
                       const Column* __restrict... in) {
    for (std::size_t i = begin; i < end; ++i) {
        const auto all = model(Quantity::from_value(double{in[i]})...);
        [&]<std::size_t... K>(std::index_sequence<K...>) {
            ((out[K * column_length + i] = plumbline::detail::number(std::get<K>(all))), ...);
        }
        (std::make_index_sequence<std::tuple_size_v<std::remove_cvref_t<decltype(all)>>>{});
    }
}

}  // namespace detail

/// By columns of trials. Has what at_estimates and with_sensitivities have, so that a composition, a template over one of the three, is
/// written once. What it is given it copies: models may be temporaries, but must not hold on to anything that is gone when trials run.
/// A model is called by several threads at once, through a const reference.
struct in_trials {
    const input_set& inputs;
    trial_program& program;

    /// @throws bad_input  no such input, or it has another unit
    template <class Quantity>
    [[nodiscard]] column<Quantity> input(const std::string& id) const {
        return {program.add_input(inputs.at(id), unit_symbol<Quantity>)};
    }
    /// An input that belongs to this one evaluation and not to the set. @throws bad_input  it has another unit
    template <class Quantity>
    [[nodiscard]] column<Quantity> given(const uncertainty::input& in) const {
        return {program.add_input(in, unit_symbol<Quantity>)};
    }
    template <class Quantity>
    [[nodiscard]] column<Quantity> given(const sampled_input& in) const {
        return {program.add_input(in, unit_symbol<Quantity>)};
    }
    template <class Quantity>
    [[nodiscard]] column<Quantity> constant(Quantity q) const {
        return {program.add_constant(q.value())};
    }
    /// A result of before, by its sensitivities to inputs of the set.
    template <class Quantity>
    [[nodiscard]] column<Quantity> linear(Quantity value, std::span<const sensitivity_to> by) const {
        column<Quantity> y = constant(value);
        for (const sensitivity_to& s : by) {
            const shared_input in = inputs.at(s.id);
            const column<ratio> number{program.add_input(in, in->unit.c_str())};  // its unit stands in the sensitivity
            y = apply([k = s.sensitivity, estimate = in->estimate](
                          const auto& sum, const auto& x) { return sum + Quantity::from_value(k * (x.value() - estimate)); },
                      y, number);
        }
        return y;
    }
    /// @return  a column, or a tuple of columns where the model returns a std::tuple or std::array of quantities
    template <class Model, class... Quantity>
    [[nodiscard]] auto apply(const Model& model, const column<Quantity>&... arguments) const {
        using returned = std::remove_cvref_t<decltype(model(std::declval<const Quantity&>()...))>;
        constexpr std::size_t n = sizeof...(Quantity);
        const std::array<std::size_t, n> from{arguments.place...};
        if constexpr (detail::several<returned>) {
            constexpr std::size_t count = std::tuple_size_v<returned>;
            const std::size_t to =
                add<count, Quantity...>(from, [model](std::size_t begin, std::size_t end, double* out, const auto*... in) {
                    detail::loop_over_several<Quantity...>(model, begin, end, out, in...);
                });
            return [&]<std::size_t... K>(std::index_sequence<K...>) {
                return std::tuple{column<detail::returned_quantity<std::tuple_element_t<K, returned>>>{to + K}...};
            }
            (std::make_index_sequence<count>{});
        } else {
            using result = column<detail::returned_quantity<returned>>;
            if ((program.constant_at(arguments.place) && ...)) {
                return result{program.add_constant(
                    plumbline::detail::number(model(Quantity::from_value(*program.constant_at(arguments.place))...)))};
            }
            return result{add<1, Quantity...>(from, [model](std::size_t begin, std::size_t end, double* out, const auto*... in) {
                detail::loop<Quantity...>(model, begin, end, out, in...);
            })};
        }
    }

private:
    template <std::size_t count, class... Quantity, class Loop>
    std::size_t add(const std::array<std::size_t, sizeof...(Quantity)>& from, const Loop& run) const {
        const std::size_t to = program.next_place();
        return program.add_step(
            [from, to, run](double* columns, std::size_t begin, std::size_t end) {
                [&]<std::size_t... I>(std::index_sequence<I...>) {
                    run(begin, end, columns + to * column_length,
                        static_cast<const double*>(columns + from[I] * column_length)...);
                }
                (std::make_index_sequence<sizeof...(Quantity)>{});
            },
            count);
    }
};

}  // namespace plumbline::inline v0::uncertainty
