#pragma once
// The uncertainty budget of a range, with what is small put together so that it can be read.

#include <plumbline/calibration/range_calibration.hpp>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// Budget of one sample at the high end of the range. Inputs by temperature, one for each part at each step, stand together in a row for the
/// instrument and one for references; inputs and rows below 0.1 % of u² share one more. Contribution and degrees of freedom of such a row are
/// those of a budget of its inputs alone, so that the shares add up as they do in the whole.
[[nodiscard]] section budget_section(const record::record& of, const calibration::range_calibration& range, rounding how);

}  // namespace plumbline::inline v0::certificate
