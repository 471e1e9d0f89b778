#pragma once
// Taylor quantities: a value with its derivatives up to the third order in two directions, so that the generic model that gives value and
// sensitivities gives its second-order terms too. Exact derivatives, no differences; the unit goes by Boost.Units' unit algebra, as with
// dual (dual.hpp). Two directions are enough: a model of many inputs is evaluated once for each pair of them.

#include <array>
#include <cmath>
#include <compare>
#include <cstddef>

#include <plumbline/units/dual.hpp>

namespace plumbline::inline v0 {

/// A polynomial in x and y of degree 3, in powers of the deviations from the estimates; terms of higher degree are dropped. A number or a
/// quantity of the same unit converts to one without deviations; it never converts to a number.
template <class Unit>
class taylor {
public:
    using unit_type = Unit;
    using quantity_type = boost::units::quantity<Unit>;
    using coefficients = std::array<double, 10>;  ///< of 1, x, y, x^2, xy, y^2, x^3, x^2 y, x y^2, y^3

    constexpr taylor() : of_{} {}
    constexpr taylor(const quantity_type& q) : of_{q.value()} {}
    template <detail::arithmetic Number>
        requires detail::is_number<Unit>
    constexpr taylor(Number number) : of_{static_cast<double>(number)} {}
    constexpr explicit taylor(const coefficients& of) : of_(of) {}

    /// An input: its deviation is x alone (along_y false) or y alone.
    [[nodiscard]] static constexpr taylor variable(const quantity_type& q, bool along_y) {
        taylor result = q;
        result.of_[along_y ? 2 : 1] = 1.0;
        return result;
    }

    [[nodiscard]] constexpr quantity_type value() const { return quantity_type::from_value(of_[0]); }
    /// d^(a+b) f / (dx^a dy^b) in coherent units. @pre a + b <= 3
    [[nodiscard]] constexpr double derivative(std::size_t a, std::size_t b) const {
        constexpr std::array<double, 4> factorial{1.0, 1.0, 2.0, 6.0};
        return of_[place(a, b)] * factorial[a] * factorial[b];
    }
    [[nodiscard]] constexpr const coefficients& all() const { return of_; }

    /// Where the coefficient of x^a y^b stands.
    [[nodiscard]] static constexpr std::size_t place(std::size_t a, std::size_t b) { return (a + b) * (a + b + 1) / 2 + b; }

    template <class Other>
    constexpr taylor& operator+=(const Other& other) {
        return *this = *this + other;
    }
    template <class Other>
    constexpr taylor& operator-=(const Other& other) {
        return *this = *this - other;
    }
    template <class Other>
    constexpr taylor& operator*=(const Other& other) {
        return *this = *this * other;
    }
    template <class Other>
    constexpr taylor& operator/=(const Other& other) {
        return *this = *this / other;
    }

private:
    coefficients of_;
};

namespace detail {

template <class Unit>
struct operand<taylor<Unit>> {
    static constexpr bool known = false;  // not one of dual's: duals and Taylor quantities do not mix
    static constexpr std::size_t size = 0;
    using plain = boost::units::quantity<Unit>;
    using unit = Unit;
    static constexpr double number(const taylor<Unit>& x) { return x.all()[0]; }
};

template <class T>
inline constexpr bool is_taylor = false;
template <class Unit>
inline constexpr bool is_taylor<taylor<Unit>> = true;

template <class T>
concept constant_operand = operand<T>::known && operand<T>::size == 0;

/// Two operands of which one is a Taylor quantity.
template <class A, class B>
concept taylor_operands = (is_taylor<A> && (is_taylor<B> || constant_operand<B>)) || (constant_operand<A> && is_taylor<B>);

using polynomial = std::array<double, 10>;

template <class T>
constexpr polynomial polynomial_of(const T& x) {
    if constexpr (is_taylor<T>) {
        return x.all();
    } else {
        return {number(x)};
    }
}

/// a p + b q, but for the value, which is given: so it has the bits of the plain evaluation.
constexpr polynomial combined(double value, double a, const polynomial& p, double b, const polynomial& q) {
    polynomial r{value};
    for (std::size_t i = 1; i < r.size(); ++i) r[i] = a * p[i] + b * q[i];
    return r;
}

constexpr polynomial product(const polynomial& p, const polynomial& q) {
    polynomial r{};
    for (std::size_t degree = 0; degree <= 3; ++degree) {
        for (std::size_t b = 0; b <= degree; ++b) {
            double sum = 0.0;
            for (std::size_t i = 0; i <= degree - b; ++i) {
                for (std::size_t j = 0; j <= b; ++j) {
                    sum += p[taylor<bare_number>::place(i, j)] * q[taylor<bare_number>::place(degree - b - i, b - j)];
                }
            }
            r[taylor<bare_number>::place(degree - b, b)] = sum;
        }
    }
    return r;
}

/// f(p), from f and its first three derivatives at the value of p. What does not deviate stays so: an infinite slope stays out of constants.
constexpr polynomial composed(double value, double first, double second, double third, polynomial p) {
    p[0] = 0.0;
    bool deviates = false;
    for (const double c : p) deviates = deviates || c != 0.0;
    if (!deviates) return {value};
    const polynomial squared = product(p, p);
    const polynomial cubed = product(squared, p);
    polynomial r{value};
    for (std::size_t i = 1; i < r.size(); ++i) r[i] = first * p[i] + second / 2.0 * squared[i] + third / 6.0 * cubed[i];
    return r;
}

}  // namespace detail

template <class Unit>
constexpr taylor<Unit> operator+(const taylor<Unit>& a) {
    return a;
}

template <class Unit>
constexpr taylor<Unit> operator-(const taylor<Unit>& a) {
    return taylor<Unit>(detail::combined(-detail::number(a), -1.0, a.all(), 0.0, {}));
}

template <class A, class B>
    requires detail::taylor_operands<A, B>
constexpr auto operator+(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return taylor<detail::sum_unit<A, B>>(
        detail::combined(detail::number(a) + detail::number(b), 1.0, detail::polynomial_of(a), 1.0, detail::polynomial_of(b)));
}

template <class A, class B>
    requires detail::taylor_operands<A, B>
constexpr auto operator-(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return taylor<detail::sum_unit<A, B>>(
        detail::combined(detail::number(a) - detail::number(b), 1.0, detail::polynomial_of(a), -1.0, detail::polynomial_of(b)));
}

template <class A, class B>
    requires detail::taylor_operands<A, B>
constexpr auto operator*(const A& a, const B& b) {
    return taylor<detail::product_unit<A, B>>(detail::product(detail::polynomial_of(a), detail::polynomial_of(b)));
}

template <class A, class B>
    requires detail::taylor_operands<A, B>
constexpr auto operator/(const A& a, const B& b) {
    const double v = detail::number(b);
    const double inverse = 1.0 / v;
    const double squared = inverse * inverse;
    detail::polynomial q = detail::product(
        detail::polynomial_of(a),
        detail::composed(inverse, -squared, 2.0 * squared * inverse, -6.0 * squared * squared, detail::polynomial_of(b)));
    q[0] = detail::number(a) / v;
    return taylor<detail::quotient_unit<A, B>>(q);
}

/// Comparisons look at the value alone: a branch of a model takes the same way in every evaluation.
template <class A, class B>
    requires detail::taylor_operands<A, B>
constexpr bool operator==(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return detail::number(a) == detail::number(b);
}

template <class A, class B>
    requires detail::taylor_operands<A, B>
constexpr std::partial_ordering operator<=>(const A& a, const B& b) {
    detail::require_like_units<typename detail::operand<A>::unit, typename detail::operand<B>::unit>();
    return detail::number(a) <=> detail::number(b);
}

/// As with dual: at 0 from one side.
template <class Unit>
taylor<Unit> abs(const taylor<Unit>& x) {
    return std::signbit(detail::number(x)) ? -x : x;
}

/// At 0 the derivatives are infinite or NaN.
template <class Unit>
taylor<root_unit<Unit>> sqrt(const taylor<Unit>& x) {
    const double v = detail::number(x);
    const double r = std::sqrt(v);
    return taylor<root_unit<Unit>>(detail::composed(r, 0.5 / r, -0.25 / (r * v), 0.375 / (r * v * v), x.all()));
}

template <detail::number_unit Unit>
taylor<Unit> exp(const taylor<Unit>& x) {
    const double e = std::exp(detail::number(x));
    return taylor<Unit>(detail::composed(e, e, e, e, x.all()));
}
template <detail::number_unit Unit>
taylor<Unit> log(const taylor<Unit>& x) {
    const double v = detail::number(x);
    return taylor<Unit>(detail::composed(std::log(v), 1.0 / v, -1.0 / (v * v), 2.0 / (v * v * v), x.all()));
}
template <detail::number_unit Unit>
taylor<Unit> sin(const taylor<Unit>& x) {
    const double s = std::sin(detail::number(x));
    const double c = std::cos(detail::number(x));
    return taylor<Unit>(detail::composed(s, c, -s, -c, x.all()));
}
template <detail::number_unit Unit>
taylor<Unit> cos(const taylor<Unit>& x) {
    const double s = std::sin(detail::number(x));
    const double c = std::cos(detail::number(x));
    return taylor<Unit>(detail::composed(c, -s, -c, s, x.all()));
}
template <detail::number_unit Unit>
taylor<Unit> tan(const taylor<Unit>& x) {
    const double t = std::tan(detail::number(x));
    const double d = 1.0 + t * t;
    return taylor<Unit>(detail::composed(t, d, 2.0 * t * d, 2.0 * d * (1.0 + 3.0 * t * t), x.all()));
}
template <detail::number_unit Unit>
taylor<Unit> atan(const taylor<Unit>& x) {
    const double v = detail::number(x);
    const double d = 1.0 / (1.0 + v * v);
    return taylor<Unit>(detail::composed(std::atan(v), d, -2.0 * v * d * d, (6.0 * v * v - 2.0) * d * d * d, x.all()));
}
template <detail::number_unit Unit>
taylor<Unit> pow(const taylor<Unit>& x, double exponent) {
    const double v = detail::number(x);
    const double n = exponent;
    return taylor<Unit>(detail::composed(std::pow(v, n), n * std::pow(v, n - 1.0), n * (n - 1.0) * std::pow(v, n - 2.0),
                                         n * (n - 1.0) * (n - 2.0) * std::pow(v, n - 3.0), x.all()));
}

}  // namespace plumbline::inline v0

/// Boost's own hook: pow<2>(x) takes a Taylor quantity as it takes a quantity.
template <class Unit, long P>
struct boost::units::power_typeof_helper<plumbline::taylor<Unit>, boost::units::static_rational<P>> {
    using unit_type = typename power_typeof_helper<Unit, static_rational<P>>::type;
    using type = plumbline::taylor<unit_type>;

    /// factor * v^(P - order). A factor of 0 takes its power along: pow<2>(0) has no third derivative rather than 0 * infinity.
    template <long order>
    static constexpr double term(double factor, const plumbline::taylor<Unit>& x) {
        if (factor == 0.0) return 0.0;
        if constexpr (P == order) {
            return factor;
        } else {
            return factor * power_typeof_helper<double, static_rational<P - order>>::value(x.value().value());
        }
    }
    static constexpr type value(const plumbline::taylor<Unit>& x) {
        constexpr double p = P;
        return type(plumbline::detail::composed(term<0>(1.0, x), term<1>(p, x), term<2>(p * (p - 1.0), x),
                                                term<3>(p * (p - 1.0) * (p - 2.0), x), x.all()));
    }
};
