#pragma once
// A line through more than two steps: fit, lack of fit, and the non-linearity that its residuals show.

#include <optional>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/export.hpp>
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

/// A further step of a range, besides its zero and reference step.
struct named_step {
    std::string name;  ///< unique in the range
    step seen;
    friend bool operator==(const named_step&, const named_step&) = default;
};

/// Points from which residuals take the place of the data sheet's non-linearity: 4 degrees of freedom. Fewer leave k doubtful.
inline constexpr std::size_t points_for_nonlinearity = 6;

/// A calibration of one range by all its steps.
struct many_points {
    std::vector<named_step> more;
    fitted_line line;               ///< that is used
    std::vector<double> of_height;  ///< d height / d V of each point, and
    std::vector<double> of_slope;   ///< d slope / d V, 1/code: zero, reference, negative step where there is one, then `more`
    uncertainty::chi_squared_verdict straight;       ///< points on a line within noise and applied voltages alone
    uncertainty::chi_squared_verdict by_data_sheet;  ///< with the data sheet's non-linearity besides
    std::vector<codes> residuals;                    ///< in codes, in the order of of_height
    codes nonlinearity;                              ///< standard deviation of the residuals of the unweighted line
    double degrees_of_freedom = 0.0;
    bool measured = false;  ///< nonlinearity is used in place of the data sheet's
    correction result;
    std::vector<std::string> text;  ///< what the points say, in sentences
};

/// Fits the line through all steps of a range that solve() has accepted, and adds the inputs of the further ones.
///
/// The line is that of ISO/TS 28037:2010, clause 9, with the covariance of the points' distances from it: of the applied voltages, where a
/// reference's error is shared by the points that used it, and of the codes times the squared slope. That is clause 10 but for what the
/// slope's own u does to the weights. From points_for_nonlinearity points on, what the residuals scatter by is the non-linearity, noise of the points included, with n - 2
/// degrees of freedom; it is taken as independent from point to point, as steps are. A bow is then overestimated in the middle of its
/// slopes. Between the points nothing is seen.
///
/// @throws bad_step   a further step is clipped, not finite or too short
/// @throws bad_input  no further step; a name twice; an applied voltage as solve() refuses it
[[nodiscard]] PLUMBLINE_EXPORT many_points solve_points(const range_calibration& of, const std::vector<named_step>& more,
                                                        const std::vector<calibration::reference>& references,
                                                        uncertainty::input_set& inputs);

/// The reading by the line through all points, with every input it depends on. As reading().
/// @throws bad_input  as reading()
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> reading(const uncertainty::input_set& inputs,
                                                                       const std::vector<reference>& references,
                                                                       const range_calibration& of, const many_points& by,
                                                                       codes c, const reading_conditions& when);

}  // namespace plumbline::inline v0::calibration
