#pragma once
// What was captured to calibrate a range, as the record keeps it: its steps, and what goes beyond one capture per step.

#include <plumbline/calibration/applied.hpp>
#include <plumbline/capture/statistics.hpp>
#include <plumbline/units/quantities.hpp>

#include <optional>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// One applied voltage and what the converter made of it.
struct step {
    applied source;
    capture_evidence evidence;
    capture::statistics seen;  ///< of a step repeated in turn: of all its captures together (repetitions.hpp)
    friend bool operator==(const step&, const step&) = default;
};

/// A capture at one moment of a series.
struct repeated_capture {
    duration at;  ///< since the first one, or since the instrument was switched on
    capture_evidence evidence;
    capture::statistics seen;
    friend bool operator==(const repeated_capture&, const repeated_capture&) = default;
};

/// A further step of a range, besides its zero and reference step.
struct named_step {
    std::string name;  ///< unique in the range
    step seen;
    friend bool operator==(const named_step&, const named_step&) = default;
};

/// A point of a line: what was applied, how far its code lies from the line, and what it weighs in it.
struct weighted_point {
    std::string name;  ///< "zero step"
    voltage applied;
    codes residual;
    double of_height = 0.0;  ///< d height / d V of the point
    double of_slope = 0.0;   ///< d slope / d V, 1/code
    friend bool operator==(const weighted_point&, const weighted_point&) = default;
};

/// chi-squared of the points about the line, and its 95 % limit (ISO/TS 28037:2010).
struct lack_of_fit {
    double observed = 0.0;
    double limit = 0.0;
    friend bool operator==(const lack_of_fit&, const lack_of_fit&) = default;
};

/// The line through all steps of a range, V = height + slope (m - centre), in place of the one through two: see many_points.hpp.
struct line_of_points {
    std::vector<named_step> more;
    std::vector<weighted_point> points;  ///< zero, reference, negative step where there is one, then `more`
    voltage height;
    volts_per_code slope;
    codes centre;
    lack_of_fit straight;       ///< with noise and applied voltages alone
    lack_of_fit by_data_sheet;  ///< with the data sheet's non-linearity besides
    codes nonlinearity;         ///< standard deviation of the residuals of the unweighted line
    double degrees_of_freedom = 0.0;
    bool measured = false;           ///< nonlinearity is used in place of the data sheet's
    std::optional<voltage> drift{};  ///< limits of what a drift seen by repetitions in turn may have moved all of `more` by
    friend bool operator==(const line_of_points&, const line_of_points&) = default;
};

/// The range, shorted, with another channel at one end of its range and at the other: see surroundings.hpp.
struct seen_crosstalk {
    std::string channel;  ///< the other
    std::string range;
    voltage low;  ///< there
    voltage high;
    capture_evidence low_evidence;
    capture::statistics low_seen;
    capture_evidence high_evidence;
    capture::statistics high_seen;
    ratio value;   ///< volts read here per volt there
    ratio U;       ///< of it, k = 2
    voltage most;  ///< limits of what the other channel may add within its range
    friend bool operator==(const seen_crosstalk&, const seen_crosstalk&) = default;
};

/// One constant input from switching on: see surroundings.hpp.
struct seen_warm_up {
    std::vector<repeated_capture> curve;
    voltage slope_limit;  ///< an hour
    duration window;
    std::optional<duration> used_from;   ///< it is read from then on although it is cold; none: only when it is warm
    std::optional<duration> warm_after;  ///< none: not shown by this curve
    voltage span;                        ///< most that a reading from used_from (or 0 s) on is away from those when warm
    friend bool operator==(const seen_warm_up&, const seen_warm_up&) = default;
};

/// Zero and reference step once more, at another supply.
struct seen_at_supply {
    std::string name;  ///< "charger attached"
    capture_evidence zero_evidence;
    capture::statistics zero_seen;
    capture_evidence reference_evidence;
    capture::statistics reference_seen;
    friend bool operator==(const seen_at_supply&, const seen_at_supply&) = default;
};

/// Temperature coefficients of the range, from an earlier calibration at another temperature: see two_temperatures.hpp.
struct seen_at_two_temperatures {
    std::string record;  ///< number of the earlier one
    std::string sha256;  ///< of its sections (record/canonical.hpp)
    std::string date;    ///< when it ended, YYYY-MM-DD
    celsius ambient;     ///< of it
    kelvins temperature_half_width;
    per_kelvin gain;  ///< relative change of a reading per kelvin, from the earlier calibration to this one
    per_kelvin U_gain;
    volts_per_kelvin offset;  ///< change of the voltage at code 0
    volts_per_kelvin U_offset;
    /// The same at the voltage where it has nothing in common with the change of gain, near the middle of the steps: what readings go by.
    struct at_centre {
        voltage centre;
        volts_per_kelvin change;
        volts_per_kelvin U;
        friend bool operator==(const at_centre&, const at_centre&) = default;
    };
    std::optional<at_centre> middle{};  ///< records that lack it go by code 0
    friend bool operator==(const seen_at_two_temperatures&, const seen_at_two_temperatures&) = default;
};

}  // namespace plumbline::inline v0::calibration
