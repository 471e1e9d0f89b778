#pragma once
// Tolerance limits: one or two, unequal if need be.
//
// The functions of this room come twice: for quantities, unit-checked, and for plain doubles, all in one unit that the caller keeps; its
// symbol, the last argument then, serves messages only.

#include <concepts>
#include <limits>
#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>
#include <type_traits>

namespace plumbline::inline v0::conformity {

inline constexpr double no_limit = std::numeric_limits<double>::infinity();

/// A quantity that can be judged: one whose unit has a symbol, which messages print.
template <class Quantity>
concept judged_quantity = requires(const Quantity& q) {
    { Quantity::from_value(1.0) } -> std::same_as<Quantity>;
    { q.value() } -> std::convertible_to<double>;
}
&&unit_symbol<Quantity> != nullptr;

/// From lower to upper, both included; infinite where there is no limit.
template <class Number>
struct interval {
    Number lower{};
    Number upper{};
    [[nodiscard]] bool contains(const Number& x) const { return lower <= x && x <= upper; }
    friend bool operator==(const interval&, const interval&) = default;
};

/// @throws bad_input  a limit is NaN, both are infinite, or lower is not below upper
PLUMBLINE_EXPORT void expect_tolerance(const interval<double>& limits, const char* unit = "1");

/// What a conforming value keeps to: an upper limit, a lower one, or both.
template <class Number>
class tolerance;

template <>
class tolerance<double> {
public:
    /// @throws bad_input  see expect_tolerance; so do the functions below
    explicit tolerance(const interval<double>& limits, const char* unit = "1") : limits_(limits) {
        expect_tolerance(limits, unit);
    }
    [[nodiscard]] static tolerance between(double lower, double upper) { return tolerance({lower, upper}); }
    [[nodiscard]] static tolerance at_most(double upper) { return tolerance({-no_limit, upper}); }
    [[nodiscard]] static tolerance at_least(double lower) { return tolerance({lower, no_limit}); }
    /// For an error whose size has a limit (maximum permissible error): -limit to +limit.
    [[nodiscard]] static tolerance within(double limit) { return tolerance({-limit, limit}); }

    [[nodiscard]] double lower() const { return limits_.lower; }
    [[nodiscard]] double upper() const { return limits_.upper; }
    [[nodiscard]] bool has_lower() const { return limits_.lower > -no_limit; }
    [[nodiscard]] bool has_upper() const { return limits_.upper < no_limit; }
    [[nodiscard]] bool two_sided() const { return has_lower() && has_upper(); }
    /// Full width, infinite if one-sided.
    [[nodiscard]] double width() const { return upper() - lower(); }
    [[nodiscard]] bool contains(double x) const { return limits_.contains(x); }
    friend bool operator==(const tolerance&, const tolerance&) = default;

private:
    interval<double> limits_;
};

template <judged_quantity Quantity>
class tolerance<Quantity> {
public:
    [[nodiscard]] static tolerance between(Quantity lower, Quantity upper) { return tolerance({lower.value(), upper.value()}); }
    [[nodiscard]] static tolerance at_most(Quantity upper) { return tolerance({-no_limit, upper.value()}); }
    [[nodiscard]] static tolerance at_least(Quantity lower) { return tolerance({lower.value(), no_limit}); }
    [[nodiscard]] static tolerance within(Quantity limit) { return tolerance({-limit.value(), limit.value()}); }

    [[nodiscard]] Quantity lower() const { return Quantity::from_value(plain_.lower()); }
    [[nodiscard]] Quantity upper() const { return Quantity::from_value(plain_.upper()); }
    [[nodiscard]] bool has_lower() const { return plain_.has_lower(); }
    [[nodiscard]] bool has_upper() const { return plain_.has_upper(); }
    [[nodiscard]] bool two_sided() const { return plain_.two_sided(); }
    [[nodiscard]] Quantity width() const { return Quantity::from_value(plain_.width()); }
    [[nodiscard]] bool contains(Quantity x) const { return plain_.contains(x.value()); }
    /// The same in the coherent unit.
    [[nodiscard]] const tolerance<double>& plain() const { return plain_; }
    friend bool operator==(const tolerance&, const tolerance&) = default;

private:
    explicit tolerance(const interval<double>& limits) : plain_(limits, unit_symbol<Quantity>) {}
    tolerance<double> plain_;
};

/// An argument whose type is taken from the tolerance beside it: what converts to that quantity may stand there.
template <class Quantity>
using like = std::type_identity_t<Quantity>;

}  // namespace plumbline::inline v0::conformity
