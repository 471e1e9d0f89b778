#pragma once
// Applied voltages: what stood at the connector during a step, and whose error it carries.

#include <optional>
#include <plumbline/capture/code_format.hpp>
#include <plumbline/capture/statistics.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <variant>
#include <vector>

namespace plumbline::inline v0::calibration {

/// Where the codes of a step came from.
struct capture_evidence {
    std::string file;    ///< name as the session gives it
    std::string column;  ///< "" where the file has one column
    std::string sha256;  ///< of the whole file, 64 hexadecimal digits
    frequency sample_rate;
    capture::code_format format = capture::code_format::csv;
    friend bool operator==(const capture_evidence&, const capture_evidence&) = default;
};

/// Stated as value +- U with k, normal.
struct expanded {
    voltage U;
    double k = 2.0;
    friend bool operator==(const expanded&, const expanded&) = default;
};

/// Stated as value within limits, rectangular; or known to stand at one of them, two-point (uncertainty/distribution.hpp): a meter that was
/// adjusted until it just passed, or one that showed an error of its limit when it was checked and nobody kept the sign.
struct limits {
    voltage half_width;
    bool at_limit = false;
    friend bool operator==(const limits&, const limits&) = default;
};

struct stated_voltage {
    voltage value;
    std::variant<expanded, limits> spread;
    friend bool operator==(const stated_voltage&, const stated_voltage&) = default;
};

/// A divider of two resistors behind another reference, loaded by the input it is connected to.
struct divided {
    std::string from;  ///< id of the reference it divides; that one states its output
    front_end::resistor top;
    front_end::resistor bottom;
    std::optional<celsius> nominal_temperature{};  ///< at which their nominal values hold; none: at that of the calibration
    friend bool operator==(const divided&, const divided&) = default;
};

/// Where a specification holds, degrees Celsius.
struct temperature_band {
    celsius low;
    celsius high;
    friend bool operator==(const temperature_band&, const temperature_band&) = default;
};

/// A meter's specification for one range: its error lies within +-(of_reading |V| + counts * count), rectangular. The part of the reading and
/// the part of the counts are two errors, each one and the same at all uses; the last digit's resolution, +-1/2 count, is new each time.
/// With at_limit both stand at their limits, as in limits.
struct meter {
    ratio of_reading;
    double counts = 0.0;
    voltage count;  ///< size of one
    voltage range;  ///< largest reading
    std::optional<temperature_band> band;
    double outside_per_kelvin = 0.1;  ///< growth of the limits per kelvin outside the band, as a fraction of them
    resistance input_resistance;
    bool at_limit = false;
    friend bool operator==(const meter&, const meter&) = default;
};

/// A reference part by its data sheet: limits, all rectangular, and the noise that is left in the mean of a capture.
struct reference_part {
    voltage nominal;
    ratio initial_tolerance;  ///< at nominal_temperature
    celsius nominal_temperature{25.0};
    per_kelvin temperature_coefficient;
    ratio ageing;      ///< since the initial tolerance held
    ratio regulation;  ///< line and load together, over how the part is fed and loaded here
    voltage noise;     ///< standard uncertainty
    friend bool operator==(const reference_part&, const reference_part&) = default;
};

/// Something that gives or shows a known voltage. Its error is one and the same wherever it is used: at every step, check point, channel and
/// range. It has at most one of output, divider, meter and part; with none, its voltage is stated at each step.
struct reference {
    std::string id;
    std::string description;
    std::string maker;
    std::string model;
    std::string serial;
    std::string traceability;              ///< certificate and chain; "" prints as "no traceability claimed"
    std::optional<stated_voltage> output;  ///< its one voltage
    std::optional<divided> divider;        ///< or the divider that makes it
    std::optional<calibration::meter> meter{};
    std::optional<reference_part> part{};
    std::string valid_from{};                 ///< YYYY-MM-DD, "" where it is not stated
    std::string valid_until{};                ///< YYYY-MM-DD, "" where it is not stated
    std::optional<temperature_band> valid{};  ///< temperatures outside which the statement does not hold
    friend bool operator==(const reference&, const reference&) = default;
};

/// A voltage read at the same time by a range that is calibrated already: that range's whole error is carried over, shared input by shared
/// input.
struct carried_voltage {
    std::string channel;
    std::string range;
    capture_evidence evidence;
    capture::statistics seen;
    voltage value;
    std::vector<uncertainty::sensitivity_to> by;  ///< V per unit of each input, ordered by id
    friend bool operator==(const carried_voltage&, const carried_voltage&) = default;
};

/// The voltage applied in a step: by a reference, with the value stated here, or read on it where it is a meter, or else the reference's own.
/// It was measured at the connector while connected, unless a source resistance is given: then it is the voltage of that source without this
/// input, which loads it.
struct applied {
    std::string reference;
    std::optional<stated_voltage> stated;
    std::optional<voltage> indicated{};  ///< reading of the meter
    bool reversed = false;  ///< leads reversed: less what the reference gives by itself; not with stated or indicated
    std::optional<front_end::resistor> source{};
    std::optional<carried_voltage> carried{};
    std::string source_id{};  ///< of a resistor used in several places, whose deviation is one and the same; "": used here alone
    friend bool operator==(const applied&, const applied&) = default;
};

}  // namespace plumbline::inline v0::calibration
