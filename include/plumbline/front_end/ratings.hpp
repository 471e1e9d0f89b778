#pragma once
// What the parts of an input chain withstand, and the converter's pin, by their data sheets. What is not stated is said to be unknown, never
// taken as good.

#include <optional>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::front_end {

struct resistor_rating {
    std::optional<power> dissipation{};  ///< at the temperature where it is used: derate
    std::optional<voltage> working{};    ///< across it, besides the dissipation
    friend bool operator==(const resistor_rating&, const resistor_rating&) = default;
};

/// A diode that conducts beyond its drop, with a resistance in series then.
struct clamp_diode {
    voltage drop;
    resistance on;  ///< > 0
    std::optional<current> rating{};
    friend bool operator==(const clamp_diode&, const clamp_diode&) = default;
};

/// The supply that the upper clamp leads to.
struct supply_rail {
    voltage nominal;                   ///< > 0
    resistance output;                 ///< of what feeds it, > 0
    current load;                      ///< that it feeds at its nominal voltage; taken to grow in proportion to the voltage
    bool sinks = false;                ///< takes current back. A linear regulator as a rule does not: then only the load takes it
    std::optional<voltage> highest{};  ///< that everything on it withstands
    bool converter_reference = false;  ///< the converter measures against it
    friend bool operator==(const supply_rail&, const supply_rail&) = default;
};

struct protection {
    std::optional<clamp_diode> to_supply{};
    std::optional<clamp_diode> to_ground{};
    supply_rail supply;
    std::optional<voltage>
        pin_beyond_supply{};  ///< that the converter's pin, or an amplifier's input, withstands above the supply and below ground
    resistor_rating top;
    resistor_rating bottom;
    resistor_rating bias;
    friend bool operator==(const protection&, const protection&) = default;
};

/// The pin by the converter's data sheet, and what is soldered to it. 0: none, or not known.
struct pin_details {
    capacitance
        sampling;  ///< > 0, the highest; where only a typical one is stated, half as much again (common practice, no source)
    resistance switch_on{};  ///< in series with it
    duration sampling_time;  ///< for which it is connected, > 0
    capacitance at_pin{};    ///< from the node to ground, strays included
    current leakage{};       ///< limits, either direction, at the temperature of the calibration
    friend bool operator==(const pin_details&, const pin_details&) = default;
};

}  // namespace plumbline::inline v0::front_end
