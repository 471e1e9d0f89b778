#pragma once
// First order as bare figures: a model's value and sensitivities, u and degrees of freedom of independent inputs. No memory is allocated,
// no input has an identity: for a loop that states a plus-or-minus with each reading. Budgets and correlated results: uncertain.hpp.

#include <array>
#include <cstddef>
#include <plumbline/error.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/distribution.hpp>
#include <plumbline/units/dual.hpp>
#include <span>
#include <string>
#include <type_traits>
#include <utility>

namespace plumbline::inline v0::uncertainty {

/// A model at one point: df/dx_i in the coherent unit of the result per coherent unit of the argument.
template <class Quantity, std::size_t N>
struct linearised {
    Quantity value;
    std::array<double, N> sensitivities;
};

/// @param model  a generic callable, as first_order takes it; its result depends on its arguments
/// `flatten` compiles all of the model into this function: at -O2 g++ would not see through it that most partials are zeros.
template <class Model, class... Quantity>
[[nodiscard, gnu::flatten]] constexpr auto linearise(const Model& model, const Quantity&... at) {
    constexpr std::size_t n = sizeof...(Quantity);
    const auto y = [&]<std::size_t... I>(std::index_sequence<I...>) {
        return model(dual<typename Quantity::unit_type, n>::variable(at, I)...);
    }
    (std::make_index_sequence<n>{});
    return linearised<typename std::remove_cvref_t<decltype(y)>::quantity_type, n>{y.value(), y.partials()};
}

/// Like quantities whose number is known at run time, as dual quantities: those from `first` on have a derivative by themselves. Made one by
/// one as they are asked for.
template <class Quantity, std::size_t N>
class dual_span {
public:
    using value_type = dual<typename Quantity::unit_type, N>;

    constexpr dual_span(std::span<const Quantity> at, std::size_t first) : at_(at), first_(first) {}
    [[nodiscard]] constexpr std::size_t size() const { return at_.size(); }
    [[nodiscard]] constexpr bool empty() const { return at_.empty(); }
    /// @pre i < size()
    [[nodiscard]] constexpr value_type operator[](std::size_t i) const {
        return i >= first_ && i - first_ < N ? value_type::variable(at_[i], i - first_) : value_type(at_[i]);
    }

    class iterator {
    public:
        constexpr iterator(const dual_span& of, std::size_t i) : of_(&of), i_(i) {}
        constexpr value_type operator*() const { return (*of_)[i_]; }
        constexpr iterator& operator++() {
            ++i_;
            return *this;
        }
        friend constexpr bool operator==(const iterator&, const iterator&) = default;

    private:
        const dual_span* of_;
        std::size_t i_;
    };
    [[nodiscard]] constexpr iterator begin() const { return {*this, 0}; }
    [[nodiscard]] constexpr iterator end() const { return {*this, size()}; }

private:
    std::span<const Quantity> at_;
    std::size_t first_;
};

/// The same for a model of many like quantities, a mean or a polynomial for instance. The model is called once for each eight of them.
///
/// @param model  a generic callable over one argument that has size(), [i] and begin() to end(): a std::span of quantities by itself, and a
///               dual_span here
/// @param into   as long as at; gets df/dx_i
/// @return       f(at)
/// @throws bad_input  into is not as long as at
template <class Model, class Quantity>
constexpr auto linearise(const Model& model, std::span<const Quantity> at, std::span<double> into) {
    constexpr std::size_t at_once = 8;
    if (into.size() != at.size()) {
        throw bad_input("sensitivities of " + std::to_string(at.size()) + " quantities",
                        "room for " + std::to_string(into.size()), "room for each", "give a span of the same length");
    }
    const auto from = [&](std::size_t first) { return model(dual_span<Quantity, at_once>(at, first)); };
    const auto y = from(0);
    const auto keep = [&](const auto& of, std::size_t first) {
        for (std::size_t i = first; i < at.size() && i - first < at_once; ++i) into[i] = of.partials()[i - first];
    };
    keep(y, 0);
    for (std::size_t first = at_once; first < at.size(); first += at_once) keep(from(first), first);
    return y.value();
}

/// Combined standard uncertainty and effective degrees of freedom.
struct combined_uncertainty {
    double u = 0.0;
    double degrees_of_freedom = infinite;
};

/// Independent inputs, by Welch-Satterthwaite; u = 0 where all are exact.
/// @param u                   standard uncertainties, as many as sensitivities
/// @param degrees_of_freedom  as many, more than 0; none: all infinite
/// @throws bad_input          the three are not of one length
/// Source: JCGM 100:2008, eqs. (10) and (G.2b).
[[nodiscard]] PLUMBLINE_EXPORT combined_uncertainty combine(std::span<const double> sensitivities, std::span<const double> u,
                                                            std::span<const double> degrees_of_freedom = {});

}  // namespace plumbline::inline v0::uncertainty
