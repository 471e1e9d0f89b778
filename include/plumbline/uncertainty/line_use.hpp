#pragma once
// A straight line in use: y at x, and x at y, with uncertainty.

#include <array>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/line.hpp>
#include <plumbline/units/dual.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// y on a line: y = height + slope (x - centre). The one copy of this formula, and below that of its inverse.
/// Height and slope of a fitted line are uncorrelated, so that the correlation of intercept and slope is all in this form.
/// Source: ISO/TS 28037:2010, clause 11, with the origin of x moved to the centre.
template <class X>
struct line_reading {
    X centre;  ///< a constant
    template <class A, class Height, class Slope>
    [[nodiscard]] constexpr auto operator()(const A& x, const Height& height, const Slope& slope) const {
        return height + slope * (x - centre);
    }
};

/// x on a line: x = centre + (y - height) / slope.
/// @pre  slope is not 0
/// Source: ISO/TS 28037:2010, clause 11, with the origin of x moved to the centre.
template <class X>
struct line_inverse {
    X centre;
    template <class A, class Height, class Slope>
    [[nodiscard]] constexpr auto operator()(const A& y, const Height& height, const Slope& slope) const {
        return (y - height) / slope + centre;
    }
};

/// A value and its standard uncertainty.
template <class Quantity>
struct value_with_u {
    Quantity value;
    Quantity u;
};

namespace line_detail {

template <class Quantity>
struct as_quantity {
    using type = Quantity;
};
template <>
struct as_quantity<double> {
    using type = ratio;
};

/// First order of a model of an independent argument, height and slope.
template <class Result, class Model, class Argument, class X, class Y>
value_with_u<Result> used(const Model& model, const Argument& at, const Argument& u, const straight_line<X, Y>& line) {
    const auto variable = [](const auto& q, std::size_t i) {
        using quantity = typename as_quantity<std::remove_cvref_t<decltype(q)>>::type;
        return dual<typename quantity::unit_type, 3>::variable(from_number<quantity>(number(q)), i);
    };
    const auto y = model(variable(at, 0), variable(line.height, 1), variable(line.slope, 2));
    const double by_argument = y.derivative(0) * number(u);
    const double by_height = y.derivative(1) * number(line.u_height);
    const double by_slope = y.derivative(2) * number(line.u_slope);
    return {from_number<Result>(y.value().value()), from_number<Result>(std::hypot(by_argument, by_height, by_slope))};
}

/// @throws bad_input  not finite, or u below 0
PLUMBLINE_EXPORT void expect_argument(const char* where, double value, double u);
/// @throws bad_input  slope 0
PLUMBLINE_EXPORT void expect_slope(double slope);

template <class Quantity>
using plain_or_quantity = typename as_quantity<Quantity>::type;

}  // namespace line_detail

/// y on the line at x, with the uncertainty of the line and that of x, whose errors are independent. Scatter of a single y is not in it.
/// @throws bad_input  x or u_x not finite, u_x below 0
/// Source: ISO/TS 28037:2010, clause 11; JCGM 100:2008, 5.1.2.
template <class X, class Y>
[[nodiscard]] value_with_u<Y> y_at(const straight_line<X, Y>& line, std::type_identity_t<X> x, std::type_identity_t<X> u_x) {
    using namespace line_detail;
    expect_argument("y on a line", number(x), number(u_x));
    return used<Y>(line_reading<plain_or_quantity<X>>{line.centre}, x, u_x, line);
}

/// x on the line at y, likewise.
/// @throws bad_input  y or u_y not finite, u_y below 0; a slope of 0
/// Source: ISO/TS 28037:2010, clause 11; JCGM 100:2008, 5.1.2. First order: u(slope) must be small beside the slope.
template <class X, class Y>
[[nodiscard]] value_with_u<X> x_at(const straight_line<X, Y>& line, std::type_identity_t<Y> y, std::type_identity_t<Y> u_y) {
    using namespace line_detail;
    expect_argument("x on a line", number(y), number(u_y));
    expect_slope(number(line.slope));
    return used<X>(line_inverse<plain_or_quantity<X>>{line.centre}, y, u_y, line);
}

/// A line as two inputs of a set: what is read on it at several places, or in several results, shares its error.
template <class X, class Y>
struct line_of_inputs {
    X centre;
    uncertain<Y> height;
    uncertain<quotient_of<Y, X>> slope;

    [[nodiscard]] uncertain<Y> y_at(const uncertain<X>& x) const {
        return first_order(line_reading<X>{centre}, x, height, slope);
    }
    /// @pre  slope is not 0
    [[nodiscard]] uncertain<X> x_at(const uncertain<Y>& y) const {
        return first_order(line_inverse<X>{centre}, y, height, slope);
    }
    /// To state with a budget: not correlated, but their u are from the same residuals and share the degrees of freedom.
    [[nodiscard]] std::vector<correlation> observed_together() const {
        return {{height.dependences.front().on->id, slope.dependences.front().on->id, 0.0}};
    }
};

/// @param id  of the line; the inputs are "id height" and "id slope"
/// @throws bad_input  other inputs of these ids are in the set
template <class X, class Y>
[[nodiscard]] line_of_inputs<X, Y> as_inputs(const straight_line<X, Y>& line, const std::string& id, const std::string& source,
                                             input_set& set) {
    static_assert(unit_symbol<X> != nullptr && unit_symbol<Y> != nullptr, "the quantities of an input need a unit_symbol");
    const auto spread = [&](double u) -> distribution {
        if (std::isinf(line.degrees_of_freedom_of_u)) return normal{u};
        return repeated{u, line.degrees_of_freedom_of_u};
    };
    const std::string y_unit = unit_symbol<Y>;
    const std::string x_unit = unit_symbol<X>;
    const auto height =
        set.add({id + " height", "height of the line", source, y_unit, line.height.value(), spread(line.u_height.value())});
    const auto slope = set.add({id + " slope", "slope of the line", source, x_unit == "1" ? y_unit : y_unit + "/" + x_unit,
                                line.slope.value(), spread(line.u_slope.value())});
    return {line.centre, {line.height, {{height, 1.0}}}, {line.slope, {{slope, 1.0}}}};
}

}  // namespace plumbline::inline v0::uncertainty
