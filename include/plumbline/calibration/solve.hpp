#pragma once
// From steps to a correction.

#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <span>
#include <vector>

namespace plumbline::inline v0::calibration {

/// What is known before a range is calibrated.
struct range_setup {
    std::string channel;
    std::string range;
    front_end::mode mode;
    front_end::chain chain;
    celsius ambient;
    kelvins temperature_half_width;
    acceptance limit;
    std::optional<plain_correction> before;
    std::optional<use_conditions> in_use;
    std::string begun;  ///< YYYY-MM-DD, "" where it is not known: references may have a validity
    std::string ended;
    std::optional<duration>
        longest_time{};  ///< between any two captures and readings, for slow noise; else whole days from begun to ended
    std::optional<voltage>
        largest_hum{};  ///< amplitude at the connector, for captures shorter than a period of mains; else by their scatter
    std::optional<slow_disturbance> slow{};  ///< none: what no capture can show is not counted
};

/// The steps of a range. A bipolar range has a negative one by default: without it the negative half is extrapolated.
struct steps {
    step zero;
    step reference;
    std::optional<step> negative;
    std::vector<repeated_capture> turns{};  ///< all captures of zero and reference in turn, zero first; empty: one each
};

/// Solves gain and offset of one range and adds its inputs to the record's. The compact form is left empty: see compact.hpp.
///
/// @param references  all references of the session
/// @param inputs      gains the inputs of this range; shared ones (a reference's error) are added once
/// @throws bad_step   the steps cannot carry a calibration: clipped, not finite, swapped, on one code, too close together, or the gain is
///                    far from nominal. Nothing is half-solved: inputs is then unchanged
/// @throws bad_input  an applied voltage names a reference that is not there or states none; repetitions in turn beside a negative step, or as
///                    without_drift() refuses them; a front end or a converter's pin that cannot be one
[[nodiscard]] PLUMBLINE_EXPORT range_calibration solve(const range_setup& setup, const calibration::steps& seen,
                                                       const std::vector<calibration::reference>& references,
                                                       uncertainty::input_set& inputs);

/// Judges a point that was not used to calibrate; its own inputs are added to the record's.
/// @param as_found    by the correction that was in force before, instead of the new one
/// @param probability  coverage probability of U, 0 to 1
/// @throws bad_step   clipped, not finite or too few samples
/// @throws bad_input  as_found, and no correction from before is known; or the range's guard band leaves nothing to accept
[[nodiscard]] PLUMBLINE_EXPORT check_point check(const range_calibration& of, const std::string& name, bool as_found,
                                                 const step& observed, const std::vector<calibration::reference>& references,
                                                 uncertainty::input_set& inputs,
                                                 double probability = uncertainty::default_coverage_probability);

/// The envelope A + C (V - Vc)^2 of U^2 of one sample at calibration, from the low to the high end of the range.
/// @param correlations  stated ones, as with make_budget
[[nodiscard]] PLUMBLINE_EXPORT compact_uncertainty compact_form(const range_calibration& of,
                                                                const std::vector<calibration::reference>& references,
                                                                const uncertainty::input_set& inputs,
                                                                double probability = uncertainty::default_coverage_probability,
                                                                std::span<const uncertainty::correlation> correlations = {});

}  // namespace plumbline::inline v0::calibration
