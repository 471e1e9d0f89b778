#pragma once
// What a calibration of a probe leaves, as its record keeps it: compensation and factor, each on one input of one instrument.

#include <optional>
#include <plumbline/calibration/applied.hpp>
#include <plumbline/capture/run.hpp>
#include <plumbline/export.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/front_end/probe.hpp>
#include <string>

namespace plumbline::inline v0::calibration {

/// The input that a probe was calibrated on. Elsewhere it has another factor and another compensation.
struct probed_input {
    std::string record;  ///< number of the instrument's record
    std::string sha256;  ///< of that record's sections, record/canonical.hpp
    std::string model;   ///< of the instrument
    std::string serial;
    std::string channel;
    std::string range;
    plumbline::resistance resistance;  ///< nominal
    friend bool operator==(const probed_input&, const probed_input&) = default;
};

/// A square wave as its generator's description gives it.
struct wave {
    frequency at;          ///< > 0
    duration rise_time{};  ///< 10 % to 90 %
    ratio droop{};         ///< limits of its fall over half a period, as a fraction of the amplitude
    friend bool operator==(const wave&, const wave&) = default;
};

/// How well the probe is compensated. Each U with k = 2.
struct compensation {
    wave fed;
    capture_evidence evidence;
    ratio mismatch;  ///< R C / (R_in C_in) - 1: above 0 over-compensated
    ratio U_mismatch;
    duration time_constant;  ///< with which the step settles, 0 where no mismatch can be seen
    duration rise_time;      ///< 10 % to 90 %, of probe and instrument together
    duration U_rise_time;    ///< of one sample, and what taking off the square wave's own makes of it
    ratio overshoot;
    ratio U_overshoot;
    codes step;
    std::size_t periods = 0;
    friend bool operator==(const compensation&, const compensation&) = default;
};

/// Voltage at the tip over voltage at the connector at 0 Hz: the ratio of one square wave's steps, direct and through the probe.
struct division {
    wave fed;
    capture_evidence direct;
    capture_evidence divided;
    ratio factor;
    ratio U;                             ///< k = 2
    per_kelvin temperature_coefficient;  ///< limits, by the data sheets of probe and input
    friend bool operator==(const division&, const division&) = default;
};

struct probe_calibration {
    front_end::probe described;  ///< by its data sheet; no mismatch
    probed_input on;
    calibration::compensation compensation;
    std::optional<calibration::division> division{};
    friend bool operator==(const probe_calibration&, const probe_calibration&) = default;
};

/// Compensation from a capture through the probe: probe_by_square_wave, and what the converter's non-linearity adds to U. Stepped
/// non-linearity moves the settled step and its beginning apart by limits of their own.
/// @param adc    of the input, whose data sheet's integral non-linearity counts
/// @param where  name of the capture for messages
/// @throws bad_input  as probe_by_square_wave
[[nodiscard]] PLUMBLINE_EXPORT compensation compensation_of(const front_end::probe& described, plumbline::resistance input,
                                                            const front_end::converter& adc, const wave& fed,
                                                            const capture::run& run, const capture_evidence& evidence,
                                                            const std::string& where);

/// Factor from two captures of one square wave, in the mode in which the input is used. The wave's source is taken as one of no resistance.
/// @throws bad_input  as ratio_by_steps
[[nodiscard]] PLUMBLINE_EXPORT division division_of(const front_end::probe& described, plumbline::resistance input,
                                                    const front_end::converter& adc, const wave& fed, const capture::run& direct,
                                                    const capture_evidence& direct_evidence, const capture::run& divided,
                                                    const capture_evidence& divided_evidence, const std::string& where);

}  // namespace plumbline::inline v0::calibration
