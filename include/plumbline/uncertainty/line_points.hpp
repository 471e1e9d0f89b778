#pragma once
// Measured points for a straight line, by what is known of their uncertainty.

#include <plumbline/units/compiler.hpp>
#include <span>

namespace plumbline::inline v0::uncertainty {

template <class A, class B>
using product_of = decltype(A() * B());
template <class A, class B>
using quotient_of = decltype(A() / B());

// The points, by what is known of them. Numbers, or quantities: then the units are checked. Lists of one kind have one length n; matrices
// are n x n, row by row, symmetric. Nothing is copied: the lists must outlive the call.

/// u(y) is the same for all points and not known; x is exact. Points that all lie on the line show no u at all: state one and use
/// weighted_points. ISO/TS 28037:2010, clause 6 with annex E.
template <class X = double, class Y = X>
struct unweighted_points {
    std::span<const X> x;
    std::span<const Y> y;
};

/// Standard uncertainties of y are known (> 0), its errors independent; x is exact. ISO/TS 28037:2010, clause 6.
template <class X = double, class Y = X>
struct weighted_points {
    std::span<const X> x;
    std::span<const Y> y;
    std::span<const Y> u_y;
};

/// Both axes are uncertain, each point independent of the others. ISO/TS 28037:2010, clauses 7 and 8.
template <class X = double, class Y = X>
struct both_uncertain_points {
    std::span<const X> x;
    std::span<const Y> y;
    std::span<const X> u_x;                          ///< >= 0
    std::span<const Y> u_y;                          ///< >= 0, not 0 where u_x is
    std::span<const product_of<X, Y>> covariance{};  ///< of x and y of one point, |covariance| < u_x u_y or 0; empty: none
};

/// The errors of y hang together, a common reference for instance; x is exact. ISO/TS 28037:2010, clause 9.
template <class X = double, class Y = X>
struct correlated_points {
    std::span<const X> x;
    std::span<const Y> y;
    std::span<const product_of<Y, Y>> U_y;  ///< covariance matrix, positive definite
};

/// Everything may hang together. ISO/TS 28037:2010, clause 10.
template <class X = double, class Y = X>
struct all_correlated_points {
    std::span<const X> x;
    std::span<const Y> y;
    std::span<const product_of<X, X>> U_x;
    std::span<const product_of<Y, Y>> U_y;
    std::span<const product_of<X, Y>>
        U_xy;  ///< of x_i and y_j at [i * n + j], not symmetric as a rule. The three make one covariance
               ///< matrix, positive definite but for what is exact (variance 0)
};

}  // namespace plumbline::inline v0::uncertainty
