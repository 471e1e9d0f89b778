#pragma once
// Which statement of what the supply does to the gain counts.

#include <plumbline/calibration/range_calibration.hpp>

namespace plumbline::inline v0::calibration {

/// Limits of how far a converter's reference has moved with its supply since the calibration, where that is what counts of the supply's effect
/// on the gain: no other supplies were measured, and the conditions of use state no larger one. Else 0.
[[nodiscard]] inline ratio moved_by_its_supply(const range_calibration& of, const use_conditions& use) {
    const ratio by = of.chain.adc.reference_by_supply.value_or(ratio(0.0));
    return of.supplies.empty() && by >= use.gain_by_supply ? by : ratio(0.0);
}

}  // namespace plumbline::inline v0::calibration
