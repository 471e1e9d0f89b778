#pragma once
// A job: what is to be measured, how well, with what attached. Plain data, as a job file gives it.

#include <optional>
#include <plumbline/calibration/probe_calibration.hpp>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/conformity/prior.hpp>
#include <plumbline/conformity/tolerance.hpp>
#include <plumbline/front_end/probe.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::audit {

/// What is read off.
enum class reading_of {
    level,         ///< one sample
    mean,          ///< of n samples
    difference,    ///< of two readings, each one sample or a mean of n: that at the high end of the span less that at the low end
    peak_to_peak,  ///< of a capture of n samples: from the low to the high end of the span
};

/// The fastest that has to be seen.
enum class event_kind { dc, sine, rise_time, pulse_width, edge_timing };

struct event {
    event_kind what = event_kind::dc;
    frequency at{};     ///< of a sine, > 0
    duration time{};    ///< rise time from 10 % to 90 %, width, or time from trigger to edge; > 0 unless dc or sine
    duration within{};  ///< limits of the error of that time, > 0 where there is one
    friend bool operator==(const event&, const event&) = default;
};

/// Something else on the same wire: hum, switching ripple. A sine.
struct disturbance {
    std::string name;
    frequency at;
    voltage amplitude;  ///< peak
    friend bool operator==(const disturbance&, const disturbance&) = default;
};

/// What feeds the wire. Its resistance with the input's is a divider, which reads too low unless corrected for.
struct signal_source {
    plumbline::resistance resistance{};
    ratio tolerance{};       ///< limits of it
    bool corrected = false;  ///< the reading is corrected for its nominal value
    friend bool operator==(const signal_source&, const signal_source&) = default;
};

/// How well. Either limits of the error of a reading, absolute + relative |value|, or limits that the value itself is to be judged by.
struct need {
    voltage absolute{};
    ratio relative{};
    std::optional<conformity::interval<voltage>> limits{};  ///< infinite where there is none; then absolute and relative are 0
    double confidence = 0.95;                               ///< 0.5 to less than 1
    friend bool operator==(const need&, const need&) = default;
};

/// What a record does not hold of its instrument and a job may need. What is missing is said to be not known, never taken as good.
struct instrument_figures {
    std::optional<frequency> bandwidth{};  ///< -3 dB, of the front end
    std::optional<plumbline::capacitance> input_capacitance{};
    std::optional<ratio> clock_tolerance{};                ///< limits, of the sample rate
    std::optional<voltage> highest_input{};                ///< that the connector withstands, either sign
    std::optional<current> clamp_current{};                ///< that clamps and supply take
    std::optional<plumbline::power> top_resistor_power{};  ///< that the top resistor dissipates without harm
    std::optional<calibration::use_conditions>
        in_use{};  ///< drift, in place of the record's; its years and temperature do not count
    friend bool operator==(const instrument_figures&, const instrument_figures&) = default;
};

/// A probe by its record, in place of a description.
struct probe_record {
    std::string file;    ///< as the job file names it, from its own folder
    std::string number;  ///< of the record
    std::string name;    ///< model and serial number of the probe
    celsius ambient;     ///< of its calibration
    calibration::probe_calibration found;
    friend bool operator==(const probe_record&, const probe_record&) = default;
};

struct job {
    std::string file;  ///< as messages show it
    std::string name;
    std::string channel;
    std::string range;
    std::string date;  ///< YYYY-MM-DD, on which it is done
    celsius ambient;
    kelvins ambient_half_width;
    voltage low;  ///< ends of what is measured, low <= high
    voltage high;
    voltage highest;  ///< that can appear by accident, either sign, >= 0
    event fastest;
    signal_source source;
    std::optional<std::vector<disturbance>> also_present{};  ///< none: not known; empty: nothing else
    reading_of read = reading_of::level;
    double samples = 1.0;  ///< of a mean, of each mean of a difference, or of a capture
    audit::need need;
    std::optional<conformity::knowledge<voltage>> expected{};  ///< what comes to be measured, for global risks
    std::optional<frequency> sample_rate{};                    ///< none: that of the calibration
    bool continuous = false;                                   ///< runs all the time, instead of by a trigger
    std::optional<front_end::probe> probe{};
    std::optional<audit::probe_record> probe_record{};  ///< where there is one, of `probe` only calibrated_together counts
    instrument_figures instrument;
    friend bool operator==(const job&, const job&) = default;
};

}  // namespace plumbline::inline v0::audit
