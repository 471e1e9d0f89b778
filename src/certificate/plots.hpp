#pragma once
// The pictures of a certificate. They show figures that stand in a table beside them: nothing is known from a picture alone, and nothing in it
// by colour alone.

#include <plumbline/calibration/range_calibration.hpp>
#include <string>
#include <vector>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// Error with its U at each check point over the applied voltage, as found (hollow square, dashed bar) and as left (dot, whole bar), between
/// the limits where there are any.
/// @pre  the range has check points
[[nodiscard]] picture error_picture(const calibration::range_calibration& range);

/// One line of a picture.
struct curve {
    enum class line { whole, dashed, dotted };
    std::string name;
    line drawn = line::whole;
    std::vector<double> U;  ///< volts, above 0, one for each voltage
};

/// U over the reading, U on a logarithmic axis.
/// @param at  ascending, two or more
[[nodiscard]] picture U_picture(const std::vector<voltage>& at, const std::vector<curve>& all);

struct share {
    std::string label;
    double of_u_squared = 0.0;  ///< drawn from 0 to 1
    std::string text;           ///< as the table has it
};

/// Shares of a budget as bars, in the order given.
[[nodiscard]] picture shares_picture(const std::string& title, const std::vector<share>& all);

}  // namespace plumbline::inline v0::certificate
