#pragma once
// What an overvoltage at the connector does: to clamps, supply and resistors, what gives way first, what else it disturbs.

#include <optional>
#include <plumbline/export.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::front_end {

// All limits are those of the parts' data sheets. What is not stated is said to be unknown, never taken as good.

struct resistor_rating {
    std::optional<power> dissipation{};  ///< at the temperature where it is used: derate
    std::optional<voltage> working{};    ///< across it, besides the dissipation
};

/// A diode that conducts beyond its drop, with a resistance in series then.
struct clamp_diode {
    voltage drop;
    resistance on;  ///< > 0
    std::optional<current> rating{};
};

/// The supply that the upper clamp leads to.
struct supply_rail {
    voltage nominal;                   ///< > 0
    resistance output;                 ///< of what feeds it, > 0
    current load;                      ///< that it feeds at its nominal voltage; taken to grow in proportion to the voltage
    bool sinks = false;                ///< takes current back. A linear regulator as a rule does not: then only the load takes it
    std::optional<voltage> highest{};  ///< that everything on it withstands
    bool converter_reference = false;  ///< the converter measures against it
};

struct protection {
    std::optional<clamp_diode> to_supply{};
    std::optional<clamp_diode> to_ground{};
    supply_rail supply;
    std::optional<voltage> pin_beyond_supply{};  ///< that the converter's pin withstands above the supply and below ground
    resistor_rating top;
    resistor_rating bottom;
    resistor_rating bias;
    resistance in_front{};  ///< source or probe before the connector, not counted for a spike
};

/// One thing that an overvoltage strains.
struct strain {
    std::string what;  ///< "dissipation of the top resistor"
    double found = 0.0;
    std::optional<double> limit{};
    std::string unit;
    std::optional<voltage>
        gives_way_at{};  ///< where the limit is reached, on the same side; none up to 100 kV, or without a limit
    [[nodiscard]] bool exceeded() const { return limit && found > *limit; }
};

struct overvoltage {
    voltage at;
    voltage node;
    voltage supply;
    voltage supply_at_rest;         ///< with 0 V at the connector
    current through_clamp;          ///< into the supply above 0, out of ground below
    bool supply_lifted = false;     ///< by half a code at the top of the converter's range, or more
    ratio readings_off;             ///< of every channel, where the converter measures against the supply
    std::vector<strain> strains;    ///< what gives way first comes first, what has no limit last
    std::vector<std::string> text;  ///< the same in sentences, with the cautions
};

/// Solves the chain with its clamps and supply by circuit.hpp.
/// @param at  at the connector, or at what is in front of it; either side of 0 V
/// @throws bad_input  as expect_sound; a figure of the protection is not above 0 where it has to be, or not finite
/// Source: Kirchhoff's and Ohm's law. What clamps and pins do to neighbouring channels: common practice, no source.
[[nodiscard]] PLUMBLINE_EXPORT overvoltage under_overvoltage(const chain& c, const protection& by, voltage at);

}  // namespace plumbline::inline v0::front_end
