#pragma once
// The results of one range, as sections of the sheet.

#include <plumbline/calibration/range_calibration.hpp>
#include <vector>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// U at both ends and in the middle of each range, and its check points.
[[nodiscard]] section summary(const record::record& of, rounding how);

[[nodiscard]] std::vector<section> range_sections(const record::record& of, const calibration::range_calibration& range,
                                                  rounding how);

/// "4.096 V ± 0.41 mV, k = 2" or "4.096 V within ±2 mV".
[[nodiscard]] std::string stated_voltage_text(const calibration::stated_voltage& v);

/// "100 kΩ ±1 %, ±50 ppm/K"
[[nodiscard]] std::string resistor_text(const front_end::resistor& r);

}  // namespace plumbline::inline v0::certificate
