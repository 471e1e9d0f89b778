#pragma once
// Linear least squares with any number of parameters: multiple regression, polynomials. Straight lines have line.hpp.

#include <cmath>
#include <cstddef>
#include <limits>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/line_points.hpp>
#include <plumbline/units/compiler.hpp>
#include <span>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// Observations of y = b_1 x_1 + b_2 x_2 + ... Nothing is copied: the lists must outlive the call. Figures are numbers in units of the
/// caller's choice, b_j then in that of y over that of column j.
struct linear_observations {
    std::span<const double> design;  ///< x_j of observation i at [i * parameters + j]; a column of ones for a constant term
    std::size_t parameters = 0;      ///< columns of the design
    std::span<const double> y;
    std::span<const double>
        u_y{};  ///< standard uncertainties of y, > 0, its errors independent; empty: the same for all and not known
};

struct linear_fit {
    std::vector<double> b;               ///< estimates of the parameters
    std::vector<double> covariance;      ///< of the estimates, b.size() x b.size(), row by row
    std::size_t degrees_of_freedom = 0;  ///< observations less parameters
    double chi_squared = 0.0;            ///< sum of squared weighted residuals; 0 where no u was stated
    double residual_deviation = 0.0;     ///< standard deviation of y about the fit; 0 where u was stated
    /// 1 - sum of squares of residuals over that of y, weighted: about the mean of y where the columns make a constant, else about 0. 1 where
    /// y does not vary.
    double r_squared = 0.0;
    /// Of the uncertainties, jointly: infinite where they come from stated u, degrees_of_freedom where from the residuals.
    double degrees_of_freedom_of_u = std::numeric_limits<double>::infinity();

    [[nodiscard]] double u(std::size_t j) const { return std::sqrt(covariance[j * b.size() + j]); }
    /// Correlation coefficient of two estimates, to state with a budget that both enter: JCGM 100:2008, 5.2.2.
    [[nodiscard]] double correlation(std::size_t i, std::size_t j) const {
        return i == j ? 1.0 : covariance[i * b.size() + j] / (u(i) * u(j));
    }
};

/// Minimises the sum of (y - b_1 x_1 - b_2 x_2 - ...)^2 / u^2. The covariance is (X^T U^-1 X)^-1, what JCGM 102 propagates, times the squared
/// residual deviation where u is not known.
///
/// By Householder reflections with exchange of columns, and then refined: estimates, residuals and each column of the covariance solve one
/// system of equations, whose residuals are taken with twice the digits, so that nearly dependent columns cost hardly a digit more than what the
/// doubles of the data have lost already. Columns may differ in size as they like. Time goes with n p^2.
/// @throws bad_input  no parameter, a design of another size, fewer observations than parameters (or not more, where u is not known), a figure
///                    not finite, u not above 0, a column that is a combination of the others but for rounding, results beyond what doubles hold
/// Source: JCGM 100:2008, H.3 and ISO/TS 28037:2010, clause 6, for more columns than two; the refinement A. Bjorck, BIT 7 (1967) 257, from
/// memory.
[[nodiscard]] PLUMBLINE_EXPORT linear_fit fit_linear(const linear_observations& observations);

/// y = b_0 + b_1 x + ... + b_degree x^degree. The powers are formed with twice the digits of a double too.
/// @throws bad_input  as fit_linear; fewer than degree + 1 different x make a power a combination of the lower ones
[[nodiscard]] PLUMBLINE_EXPORT linear_fit fit_polynomial(const unweighted_points<>& points, std::size_t degree);
[[nodiscard]] PLUMBLINE_EXPORT linear_fit fit_polynomial(const weighted_points<>& points, std::size_t degree);

}  // namespace plumbline::inline v0::uncertainty
