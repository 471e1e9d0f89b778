#pragma once
// A line through more than two steps: fit, lack of fit, and the non-linearity that its residuals show.

#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/line.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

using squared_volts = decltype(voltage() * voltage());

/// Points of a calibration's line, by what is known of them. Lists of one kind have one length.
struct line_points {
    std::span<const codes> m;              ///< mean codes
    std::span<const voltage> v;            ///< applied
    std::span<const codes> u_m{};          ///< >= 0; empty: exact
    std::span<const voltage> u_v{};        ///< >= 0; empty: not known, then u_m and U_v are too
    std::span<const squared_volts> U_v{};  ///< n x n, in place of u_v: a reference's error that points share
    std::span<const uncertainty::product_of<codes, voltage>> covariance{};  ///< of m and v of one point; not with U_v
};

/// The line V = height + slope (m - centre) and whether the points lie on it.
struct fitted_line {
    uncertainty::straight_line<codes, voltage> line;
    std::optional<uncertainty::chi_squared_verdict> fit;  ///< none where no u is known, and for two points
    std::vector<voltage> residuals;                       ///< applied less line
};

/// The door through which every line of a calibration is fitted: exact codes and unknown u(V), weights, uncertainty in both axes, a common
/// reference.
/// @throws bad_input  as uncertainty::fit_line
/// Source: ISO/TS 28037:2010, clauses 6 to 10.
[[nodiscard]] PLUMBLINE_EXPORT fitted_line fit(const line_points& points);

/// Points from which residuals take the place of the data sheet's non-linearity: 4 degrees of freedom. Fewer leave k doubtful.
inline constexpr std::size_t points_for_nonlinearity = 6;

/// Fits the line through all steps of a range that solve() has accepted, and adds the inputs of the further ones. From then on of.points is
/// there, of.result is the line's, and readings are by it.
///
/// The line is that of ISO/TS 28037:2010, clause 9, with the covariance of the points' distances from it: of the applied voltages, where a
/// reference's error is shared by the points that used it, and of the codes times the squared slope. That is clause 10 but for what the
/// slope's own u does to the weights. From points_for_nonlinearity points on, what the residuals scatter by is the non-linearity, noise of the points included, with n - 2
/// degrees of freedom; it is taken as independent from point to point, as steps are. A bow is then overestimated in the middle of its
/// slopes. Between the points nothing is seen.
///
/// @param correlations  stated ones, as with make_budget
/// @throws bad_step   a further step is clipped, not finite or too short
/// @throws bad_input  no further step; a name twice; an applied voltage as solve() refuses it
PLUMBLINE_EXPORT void solve_points(range_calibration& of, const std::vector<named_step>& more,
                                   const std::vector<calibration::reference>& references, uncertainty::input_set& inputs,
                                   std::span<const uncertainty::correlation> correlations = {});

/// What the points of a range say, in sentences; empty where it has none.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> sentences_of_points(const range_calibration& of);

}  // namespace plumbline::inline v0::calibration
