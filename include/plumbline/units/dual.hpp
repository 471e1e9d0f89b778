#pragma once
// Dual quantities: a value and its partial derivatives, so that one generic model gives its sensitivities too.
//
// A type of its own that carries its unit by Boost.Units' unit algebra: as value type inside boost::units::quantity a dual number is
// many times slower. Forward differentiation; first order only: a product of two inputs estimated as zero has no slope here.

#include <array>
#include <boost/units/pow.hpp>
#include <cmath>
#include <compare>
#include <cstddef>
#include <type_traits>
#include <utility>

#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0 {

/// A quantity in Unit with its partial derivatives by N inputs.
///
/// A number or a quantity of the same unit converts to a dual without derivatives, so constants may stand where a model wants a dual.
/// A dual never converts to double, not even a dimensionless one: the derivatives would be lost in silence.
template <class Unit, std::size_t N>
class dual {
public:
    using unit_type = Unit;
    using quantity_type = boost::units::quantity<Unit>;
    static constexpr std::size_t size = N;

    constexpr dual() : value_(0.0), partials_{} {}
    constexpr dual(const quantity_type& q) : value_(q.value()), partials_{} {}
    template <detail::arithmetic Number>
        requires detail::is_number<Unit>
    constexpr dual(Number number) : value_(static_cast<double>(number)), partials_{} {}

    /// Input number `index`: its derivative by itself is 1. @throws std::out_of_range  index is not below N
    [[nodiscard]] static constexpr dual variable(const quantity_type& q, std::size_t index) {
        dual result = q;
        result.partials_.at(index) = 1.0;
        return result;
    }
    [[nodiscard]] static constexpr dual constant(const quantity_type& q) { return q; }

    /// f(a) by the chain rule: slope is df/da, in coherent units. Built in place: g++ copies what a helper function returns. And without a
    /// loop: at -O2 g++ does not see through one that the partials of an input are zeros.
    template <class A>
    constexpr dual(double value, const dual<A, N>& a, double slope) : dual(value, a, slope, std::make_index_sequence<N>{}) {}
    /// f(a, b) by the chain rule.
    template <class A, class B>
    constexpr dual(double value, const dual<A, N>& a, double slope_a, const dual<B, N>& b, double slope_b)
        : dual(value, a, slope_a, b, slope_b, std::make_index_sequence<N>{}) {}

    [[nodiscard]] constexpr quantity_type value() const { return quantity_type::from_value(value_); }
    /// Derivative by input `index`, in coherent units. @throws std::out_of_range  index is not below N
    [[nodiscard]] constexpr double derivative(std::size_t index) const { return partials_.at(index); }
    [[nodiscard]] constexpr const std::array<double, N>& partials() const { return partials_; }

    template <class Other>
    constexpr dual& operator+=(const Other& other) {
        return *this = *this + other;
    }
    template <class Other>
    constexpr dual& operator-=(const Other& other) {
        return *this = *this - other;
    }
    template <class Other>
    constexpr dual& operator*=(const Other& other) {
        return *this = *this * other;
    }
    template <class Other>
    constexpr dual& operator/=(const Other& other) {
        return *this = *this / other;
    }

private:
    template <class A, std::size_t... I>
    constexpr dual(double value, const dual<A, N>& a, double slope, std::index_sequence<I...>)
        : value_(value), partials_{slope * a.partials()[I]...} {}
    template <class A, class B, std::size_t... I>
    constexpr dual(double value, const dual<A, N>& a, double slope_a, const dual<B, N>& b, double slope_b,
                   std::index_sequence<I...>)
        : value_(value), partials_{(slope_a * a.partials()[I] + slope_b * b.partials()[I])...} {}

    double value_;
    std::array<double, N> partials_;
};

namespace detail {

/// What an operand of dual arithmetic is: number() its value, plain its type in the plain evaluation of the same model, size its N.
template <class T>
struct operand {
    static constexpr bool known = false;
    static constexpr std::size_t size = 0;
};

template <arithmetic T>
struct operand<T> {
    static constexpr bool known = true;
    static constexpr std::size_t size = 0;
    using plain = double;
    using unit = bare_number;
    static constexpr double number(T x) { return static_cast<double>(x); }
};

template <class Unit, arithmetic T>
struct operand<boost::units::quantity<Unit, T>> {
    static constexpr bool known = true;
    static constexpr std::size_t size = 0;
    using plain = boost::units::quantity<Unit>;
    using unit = Unit;
    static constexpr double number(const boost::units::quantity<Unit, T>& x) { return static_cast<double>(x.value()); }
};

template <class Unit, std::size_t N>
struct operand<dual<Unit, N>> {
    static constexpr bool known = true;
    static constexpr std::size_t size = N;
    using plain = boost::units::quantity<Unit>;
    using unit = Unit;
    static constexpr double number(const dual<Unit, N>& x) { return x.value().value(); }
};

template <class T>
constexpr double number(const T& x) {
    return operand<T>::number(x);
}

/// Two operands of which one is a dual, and if both are, with as many derivatives.
template <class A, class B>
concept dual_operands = operand<A>::known && operand<B>::known &&
    (operand<A>::size != operand<B>::size ? operand<A>::size == 0 || operand<B>::size == 0 : operand<A>::size != 0);

/// Of a sum: the unit of the left operand, or of the right one when the left is a number of the language.
template <class A, class B>
using sum_unit = std::conditional_t<arithmetic<A>, typename operand<B>::unit, typename operand<A>::unit>;
template <class A, class B>
using product_unit = typename decltype(typename operand<A>::plain() * typename operand<B>::plain())::unit_type;
template <class A, class B>
using quotient_unit = typename decltype(typename operand<A>::plain() / typename operand<B>::plain())::unit_type;

/// Chain rule for an operator. A constant has no partials to multiply by: cheaper, and an infinite slope stays out.
template <class Unit, class A, class B>
constexpr auto chain(double value, const A& a, double slope_a, const B& b, double slope_b) {
    if constexpr (operand<B>::size == 0) {
        return dual<Unit, operand<A>::size>(value, a, slope_a);
    } else if constexpr (operand<A>::size == 0) {
        return dual<Unit, operand<B>::size>(value, b, slope_b);
    } else {
        return dual<Unit, operand<A>::size>(value, a, slope_a, b, slope_b);
    }
}

}  // namespace detail

template <class Unit, std::size_t N>
constexpr dual<Unit, N> operator+(const dual<Unit, N>& a) {
    return a;
}

template <class Unit, std::size_t N>
constexpr dual<Unit, N> operator-(const dual<Unit, N>& a) {
    return {-detail::number(a), a, -1.0};
}

template <class A, class B>
    requires detail::dual_operands<A, B>
constexpr auto operator+(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return detail::chain<detail::sum_unit<A, B>>(detail::number(a) + detail::number(b), a, 1.0, b, 1.0);
}

template <class A, class B>
    requires detail::dual_operands<A, B>
constexpr auto operator-(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return detail::chain<detail::sum_unit<A, B>>(detail::number(a) - detail::number(b), a, 1.0, b, -1.0);
}

template <class A, class B>
    requires detail::dual_operands<A, B>
constexpr auto operator*(const A& a, const B& b) {
    const double x = detail::number(a);
    const double y = detail::number(b);
    return detail::chain<detail::product_unit<A, B>>(x * y, a, y, b, x);
}

template <class A, class B>
    requires detail::dual_operands<A, B>
constexpr auto operator/(const A& a, const B& b) {
    const double q = detail::number(a) / detail::number(b);
    const double inverse = 1.0 / detail::number(b);
    return detail::chain<detail::quotient_unit<A, B>>(q, a, inverse, b, -q * inverse);
}

/// Comparisons look at the value alone: a branch of a model takes the same way in every evaluation.
template <class A, class B>
    requires detail::dual_operands<A, B>
constexpr bool operator==(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return detail::number(a) == detail::number(b);
}

template <class A, class B>
    requires detail::dual_operands<A, B>
constexpr std::partial_ordering operator<=>(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return detail::number(a) <=> detail::number(b);
}

// Functions. Each name serves numbers, quantities of unit_system and duals, so that a generic model may write sqrt(x) without knowing
// which it has: argument-dependent lookup finds quantities and duals, `using std::sqrt` or plumbline::sqrt the bare number that
// 1.0 + ratio becomes. Here and not from boost/units/cmath.hpp, which pulls Boost.Math in and has no functions of duals. Angles are
// plain ratios, in radians.

using boost::units::pow;  ///< pow<2>(x): integer power known at compile time
using std::abs;
using std::atan;
using std::cos;
using std::exp;
using std::log;
using std::pow;
using std::sin;
using std::sqrt;
using std::tan;

template <class Dimension>
boost::units::quantity<unit_of<Dimension>> abs(const boost::units::quantity<unit_of<Dimension>>& x) {
    return boost::units::quantity<unit_of<Dimension>>::from_value(std::abs(x.value()));
}
/// At 0 the slope is taken from one side: the size of the slope, and with it the uncertainty, is the same from either.
template <class Unit, std::size_t N>
dual<Unit, N> abs(const dual<Unit, N>& x) {
    const double v = detail::number(x);
    return {std::abs(v), x, std::signbit(v) ? -1.0 : 1.0};
}

template <class Unit>
using root_unit = typename boost::units::root_typeof_helper<Unit, boost::units::static_rational<2>>::type;

template <class Dimension>
boost::units::quantity<root_unit<unit_of<Dimension>>> sqrt(const boost::units::quantity<unit_of<Dimension>>& x) {
    return boost::units::quantity<root_unit<unit_of<Dimension>>>::from_value(std::sqrt(x.value()));
}
/// At 0 the slope is infinite and derivatives are infinite or NaN: there is no first order there.
template <class Unit, std::size_t N>
dual<root_unit<Unit>, N> sqrt(const dual<Unit, N>& x) {
    const double r = std::sqrt(detail::number(x));
    return {r, x, 0.5 / r};
}

inline ratio exp(const ratio& x) { return std::exp(x.value()); }
inline ratio log(const ratio& x) { return std::log(x.value()); }
inline ratio sin(const ratio& x) { return std::sin(x.value()); }
inline ratio cos(const ratio& x) { return std::cos(x.value()); }
inline ratio tan(const ratio& x) { return std::tan(x.value()); }
inline ratio atan(const ratio& x) { return std::atan(x.value()); }
inline ratio pow(const ratio& x, double exponent) { return std::pow(x.value(), exponent); }

namespace detail {
template <class Unit>
concept number_unit = is_number<Unit>;
}  // namespace detail

template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> exp(const dual<Unit, N>& x) {
    const double e = std::exp(detail::number(x));
    return {e, x, e};
}
template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> log(const dual<Unit, N>& x) {
    const double v = detail::number(x);
    return {std::log(v), x, 1.0 / v};
}
template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> sin(const dual<Unit, N>& x) {
    const double v = detail::number(x);
    return {std::sin(v), x, std::cos(v)};
}
template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> cos(const dual<Unit, N>& x) {
    const double v = detail::number(x);
    return {std::cos(v), x, -std::sin(v)};
}
template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> tan(const dual<Unit, N>& x) {
    const double t = std::tan(detail::number(x));
    return {t, x, 1.0 + t * t};
}
template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> atan(const dual<Unit, N>& x) {
    const double v = detail::number(x);
    return {std::atan(v), x, 1.0 / (1.0 + v * v)};
}
template <detail::number_unit Unit, std::size_t N>
dual<Unit, N> pow(const dual<Unit, N>& x, double exponent) {
    const double v = detail::number(x);
    return {std::pow(v, exponent), x, exponent * std::pow(v, exponent - 1.0)};
}

}  // namespace plumbline::inline v0

/// Boost's own hook: pow<2>(x) takes a dual as it takes a quantity.
template <class Unit, std::size_t N, long P>
struct boost::units::power_typeof_helper<plumbline::dual<Unit, N>, boost::units::static_rational<P>> {
    using unit_type = typename power_typeof_helper<Unit, static_rational<P>>::type;
    using type = plumbline::dual<unit_type, N>;
    static constexpr type value(const plumbline::dual<Unit, N>& x) {
        const double v = x.value().value();
        const double slope = static_cast<double>(P) * power_typeof_helper<double, static_rational<P - 1>>::value(v);
        return {power_typeof_helper<double, static_rational<P>>::value(v), x, slope};
    }
};
