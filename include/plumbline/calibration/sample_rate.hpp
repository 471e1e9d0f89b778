#pragma once
// The sample rate, by a signal of known frequency or by the clock's tolerance.

#include <optional>
#include <plumbline/calibration/applied.hpp>
#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>

namespace plumbline::inline v0::calibration {

struct measured_rate {
    frequency rate;
    double degrees_of_freedom = 0.0;  ///< of u_by_phase
    frequency u_by_phase;             ///< type A: how the signal's phase scatters about a straight line in time
    frequency u_by_reference;         ///< of the known frequency
    std::string text;
};

/// The sine's phase is fitted in 16 pieces of the capture, in ever longer ones, and a straight line through the phases gives its frequency in
/// periods per sample.
///
/// @param nominal    within 10 % of the rate
/// @param known      frequency of the signal, below 0.4 of the sample rate
/// @param u_known    its standard uncertainty, >= 0
/// @throws bad_input  fewer than 48 periods or 16 samples a piece; known not below 0.4 nominal; no such sine in the capture
/// Source: least squares for a sine of given frequency (IEEE Std 1057, three parameters), then of its phase.
[[nodiscard]] PLUMBLINE_EXPORT measured_rate sample_rate_by(const capture::run& run, frequency nominal, frequency known,
                                                            frequency u_known, const std::string& where);

/// The rate as inputs of a time: measured, or nominal within the clock's tolerance. Measured, u is both parts' together, normal; its degrees
/// of freedom are by Welch-Satterthwaite.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input rate_input(const measured_rate& by);
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input rate_input(frequency nominal, ratio clock_tolerance);

/// A frequency with U and k, or within limits.
struct stated_frequency {
    frequency value;
    std::optional<frequency> limits{};  ///< rectangular; then U and k do not count
    frequency U{};
    double k = 2.0;
    friend bool operator==(const stated_frequency&, const stated_frequency&) = default;
};

/// The instrument's clock against a known frequency, as the record keeps it.
struct clock_calibration {
    std::string channel;  ///< that captured it
    std::string range;
    capture_evidence evidence;
    frequency nominal;  ///< sample rate of the mode
    stated_frequency known;
    std::string source;        ///< what gave it
    std::string traceability;  ///< "" prints as "no traceability claimed"
    celsius ambient;
    frequency rate;        ///< measured
    frequency u_by_phase;  ///< type A
    double degrees_of_freedom = 0.0;
    frequency u_by_reference;
    frequency U;  ///< of rate, with the record's coverage probability
    double k = 0.0;
    friend bool operator==(const clock_calibration&, const clock_calibration&) = default;
};

/// Fills rate and what follows from it. @throws bad_input  as sample_rate_by
PLUMBLINE_EXPORT void calibrate_clock(clock_calibration& c, const capture::run& run, const std::string& where,
                                      double probability);

/// The clock's rate over its nominal one, less 1, as an input. An instrument divides one clock: it holds for all its sample rates.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input deviation_input(const clock_calibration& by);

}  // namespace plumbline::inline v0::calibration
