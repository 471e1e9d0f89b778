#pragma once
// Sums, differences and comparisons of unlike units: the first error of the compiler is a sentence.
//
// Catch-all operators with a static_assert, not concepts: a failed concept lists every candidate it discarded and buries the reason.
// The price: `requires { volts + codes; }` says yes. They stand in this namespace, not in Boost's: argument-dependent lookup finds
// them through the base unit of the code, which every unit of unit_system names, and code that uses plain SI is left alone.

#include <plumbline/units/compiler.hpp>

#include <boost/units/physical_dimensions/electric_potential.hpp>
#include <boost/units/quantity.hpp>
#include <boost/units/unit.hpp>
#include <compare>
#include <concepts>
#include <type_traits>

namespace plumbline::inline v0 {

struct code_dimension;  // units/quantities.hpp

namespace detail {

template <class T>
concept arithmetic = std::is_arithmetic_v<T>;

/// Stands where a unit stands, for an operand that is a number of the language.
struct bare_number {};

/// Boost converts a dimensionless quantity to and from its number: whatever does so is a number here too.
template <class Unit>
inline constexpr bool is_number = std::is_convertible_v<boost::units::quantity<Unit>, double>;
template <>
inline constexpr bool is_number<bare_number> = true;

template <class A, class B>
inline constexpr bool is_like = std::is_same_v<A, B> || (is_number<A> && is_number<B>);

template <class Unit>
struct dimension_in {
    using type = void;
};
template <class Dimension, class System>
struct dimension_in<boost::units::unit<Dimension, System>> {
    using type = Dimension;
};

/// Refuses two unlike units (or a unit and bare_number) with exactly one sentence.
template <class A, class B>
constexpr void require_like_units() {
    using code =
        boost::units::list<boost::units::dim<code_dimension, boost::units::static_rational<1>>, boost::units::dimensionless_type>;
    using potential = boost::units::electric_potential_dimension;
    using a = typename dimension_in<A>::type;
    using b = typename dimension_in<B>::type;
    constexpr bool like = is_like<A, B>;
    constexpr bool bare = std::is_same_v<A, bare_number> || std::is_same_v<B, bare_number>;
    constexpr bool raw =
        (std::is_same_v<a, code> && std::is_same_v<b, potential>) || (std::is_same_v<a, potential> && std::is_same_v<b, code>);
    constexpr bool two_systems = std::is_same_v<a, b>;
    static_assert(like || !bare,
                  "a bare number has no unit: a sum, difference or comparison needs the same unit on both sides; "
                  "multiply the number by its unit, as in 1.0 * plumbline::volt");
    static_assert(like || !raw,
                  "a raw code is not a voltage until a correction has been applied: "
                  "apply the correction first, then add, subtract or compare volts");
    static_assert(like || !two_systems,
                  "these two quantities come from two systems of units: "
                  "convert one side first, as in plumbline::voltage(x)");
    static_assert(like || bare || raw || two_systems,
                  "these two quantities have unlike units: a sum, difference or comparison needs "
                  "the same unit on both sides; look for a missing or a surplus factor");
}

template <class A, class B>
concept unlike = !is_like<A, B>;

}  // namespace detail

template <class A, class X, class B, class Y>
    requires detail::unlike<A, B>
constexpr boost::units::quantity<A, X> operator+(const boost::units::quantity<A, X>& a, const boost::units::quantity<B, Y>&) {
    detail::require_like_units<A, B>();
    return a;
}

template <class A, class X, detail::arithmetic Y>
    requires detail::unlike<A, detail::bare_number>
constexpr boost::units::quantity<A, X> operator+(const boost::units::quantity<A, X>& a, Y) {
    detail::require_like_units<A, detail::bare_number>();
    return a;
}

template <detail::arithmetic X, class B, class Y>
    requires detail::unlike<detail::bare_number, B>
constexpr boost::units::quantity<B, Y> operator+(X, const boost::units::quantity<B, Y>& b) {
    detail::require_like_units<detail::bare_number, B>();
    return b;
}

template <class A, class X, class B, class Y>
    requires detail::unlike<A, B>
constexpr boost::units::quantity<A, X> operator-(const boost::units::quantity<A, X>& a, const boost::units::quantity<B, Y>&) {
    detail::require_like_units<A, B>();
    return a;
}

template <class A, class X, detail::arithmetic Y>
    requires detail::unlike<A, detail::bare_number>
constexpr boost::units::quantity<A, X> operator-(const boost::units::quantity<A, X>& a, Y) {
    detail::require_like_units<A, detail::bare_number>();
    return a;
}

template <detail::arithmetic X, class B, class Y>
    requires detail::unlike<detail::bare_number, B>
constexpr boost::units::quantity<B, Y> operator-(X, const boost::units::quantity<B, Y>& b) {
    detail::require_like_units<detail::bare_number, B>();
    return b;
}

// Boost's v += c asks for the type of unit + unit; the deduced return type makes that question end in the sentence too.

template <class A, class S, class B, class T>
    requires detail::unlike<boost::units::unit<A, S>, boost::units::unit<B, T>>
constexpr auto operator+(const boost::units::unit<A, S>& a, const boost::units::unit<B, T>&) {
    detail::require_like_units<boost::units::unit<A, S>, boost::units::unit<B, T>>();
    return a;
}

template <class A, class S, class B, class T>
    requires detail::unlike<boost::units::unit<A, S>, boost::units::unit<B, T>>
constexpr auto operator-(const boost::units::unit<A, S>& a, const boost::units::unit<B, T>&) {
    detail::require_like_units<boost::units::unit<A, S>, boost::units::unit<B, T>>();
    return a;
}

// == and <=> stand for all six comparisons and for both orders of the operands.

template <class A, class X, class B, class Y>
    requires detail::unlike<A, B>
constexpr bool operator==(const boost::units::quantity<A, X>&, const boost::units::quantity<B, Y>&) {
    detail::require_like_units<A, B>();
    return false;
}

template <class A, class X, detail::arithmetic Y>
    requires detail::unlike<A, detail::bare_number>
constexpr bool operator==(const boost::units::quantity<A, X>&, Y) {
    detail::require_like_units<A, detail::bare_number>();
    return false;
}

template <class A, class X, class B, class Y>
    requires detail::unlike<A, B>
constexpr std::partial_ordering operator<=>(const boost::units::quantity<A, X>&, const boost::units::quantity<B, Y>&) {
    detail::require_like_units<A, B>();
    return std::partial_ordering::unordered;
}

template <class A, class X, detail::arithmetic Y>
    requires detail::unlike<A, detail::bare_number>
constexpr std::partial_ordering operator<=>(const boost::units::quantity<A, X>&, Y) {
    detail::require_like_units<A, detail::bare_number>();
    return std::partial_ordering::unordered;
}

}  // namespace plumbline::inline v0
