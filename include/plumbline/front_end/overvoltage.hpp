#pragma once
// What an overvoltage at the connector does: to clamps, supply and resistors, what gives way first, what else it disturbs.

#include <optional>
#include <plumbline/export.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/front_end/ratings.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::front_end {

/// What kind of limit a strain has.
enum class strain_of { dissipation, working_voltage, clamp_current, supply_voltage, pin_voltage };

/// One thing that an overvoltage strains.
struct strain {
    strain_of kind = strain_of::dissipation;
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
    current into_supply;            ///< by that clamp and a bias branch from the same supply together; 0 where they draw from it
    bool supply_lifted = false;     ///< by half a code at the top of the converter's range, or more
    ratio readings_off;             ///< of every channel, where the converter measures against the supply
    std::vector<strain> strains;    ///< what gives way first comes first, what has no limit last
    std::vector<std::string> text;  ///< the same in sentences, with the cautions
};

/// Solves the chain with its clamps and supply by circuit.hpp. With an amplifier the clamps stand at its input, which is the node and takes the
/// place of the converter's pin; what its output does is not looked at.
/// @param by        all its limits are those of the parts' data sheets
/// @param at        at the connector, or at what is in front of it; either side of 0 V
/// @param in_front  of the connector: a source or probe; a spike need not have it. 0 or more
/// @throws bad_input  as expect_sound; a figure of the protection is not above 0 where it has to be, or not finite
/// Source: Kirchhoff's and Ohm's law. What clamps and pins do to neighbouring channels: common practice, no source.
[[nodiscard]] PLUMBLINE_EXPORT overvoltage under_overvoltage(const chain& c, const protection& by, voltage at,
                                                             resistance in_front = {});

}  // namespace plumbline::inline v0::front_end
