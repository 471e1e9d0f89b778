#pragma once
// The network between connector and converter, solved by its node equation.

#include <plumbline/export.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::front_end {

// All branches meet in one node, the converter's input. Kirchhoff's current law there, no current into the converter:
//
//     (V_in - V)/R_top + (0 - V)/R_bottom + (V_bias - V)/R_bias = 0
//
// Divider, level shift and both together are this one equation; an absent branch has no term. The callables below solve it for one
// quantity each. Source: Kirchhoff's current law; for a divider alone they reduce to R_bottom / (R_top + R_bottom).

/// Which branches a network has besides its top resistor.
struct branches {
    bool bottom = false;
    bool bias = false;
};

[[nodiscard]] constexpr branches branches_of(const network& n) { return {n.bottom.has_value(), n.bias.has_value()}; }

/// Conductance from the node to ground and supply, without the top resistor (S). Arguments of absent branches are not looked at.
struct shunt_conductance {
    branches present;
    template <class Bottom, class Bias>
    [[nodiscard]] constexpr auto operator()(const Bottom& r_bottom, const Bias& r_bias) const {
        auto sum = 0.0 / r_bottom;
        if (present.bottom) sum += 1.0 / r_bottom;
        if (present.bias) sum += 1.0 / r_bias;
        return sum;
    }
};

/// Voltage at the connector that gives the node a voltage V.
struct connector_voltage {
    branches present;
    template <class Node, class Top, class Bottom, class Bias, class Supply>
    [[nodiscard]] constexpr auto operator()(const Node& v, const Top& r_top, const Bottom& r_bottom, const Bias& r_bias,
                                            const Supply& v_bias) const {
        auto connector = v + r_top * shunt_conductance{present}(r_bottom, r_bias) * v;
        if (present.bias) connector -= r_top / r_bias * v_bias;
        return connector;
    }
    /// The same with a current out of the node, into an amplifier's input.
    template <class Node, class Top, class Bottom, class Bias, class Supply, class Current>
    [[nodiscard]] constexpr auto operator()(const Node& v, const Top& r_top, const Bottom& r_bottom, const Bias& r_bias,
                                            const Supply& v_bias, const Current& out_of_node) const {
        return (*this)(v, r_top, r_bottom, r_bias, v_bias) + r_top * out_of_node;
    }
};

/// Voltage that the open connector shows: that of the node without input current. 0 V without a bias branch.
/// @pre a bottom resistor or a bias branch is present
struct open_voltage {
    branches present;
    template <class Bottom, class Bias, class Supply>
    [[nodiscard]] constexpr auto operator()(const Bottom& r_bottom, const Bias& r_bias, const Supply& v_bias) const {
        const auto through = v_bias / r_bias / shunt_conductance{present}(r_bottom, r_bias);
        return present.bias ? through : 0.0 * through;
    }
    /// The same with a current out of the node, into an amplifier's input.
    template <class Bottom, class Bias, class Supply, class Current>
    [[nodiscard]] constexpr auto operator()(const Bottom& r_bottom, const Bias& r_bias, const Supply& v_bias,
                                            const Current& out_of_node) const {
        return (*this)(r_bottom, r_bias, v_bias) - out_of_node / shunt_conductance{present}(r_bottom, r_bias);
    }
};

/// Resistance that a source at the connector sees: the top resistor and what leads away from the node.
/// @pre a bottom resistor or a bias branch is present
struct input_resistance {
    branches present;
    template <class Top, class Bottom, class Bias>
    [[nodiscard]] constexpr auto operator()(const Top& r_top, const Bottom& r_bottom, const Bias& r_bias) const {
        return r_top + 1.0 / shunt_conductance{present}(r_bottom, r_bias);
    }
};

/// Resistance that the node's load sees (Thevenin), the converter's pin or an amplifier's input: the top resistor, with what is before it in series, beside bottom and bias.
struct pin_resistance {
    branches present;
    template <class Top, class Bottom, class Bias>
    [[nodiscard]] constexpr auto operator()(const Top& r_top_and_source, const Bottom& r_bottom, const Bias& r_bias) const {
        return 1.0 / (1.0 / r_top_and_source + shunt_conductance{present}(r_bottom, r_bias));
    }
};

/// Voltage at the connector of a source with resistance, loaded by the input:
///
///     V = V_source + (V_open - V_source) R_source / (R_source + R_in)
///
/// V_open is what the open connector shows, not 0 V for a biased input. Source: superposition.
struct loaded {
    template <class Source, class SourceResistance, class Open, class InputResistance>
    [[nodiscard]] constexpr auto operator()(const Source& v_source, const SourceResistance& r_source, const Open& v_open,
                                            const InputResistance& r_in) const {
        return v_source + (v_open - v_source) * (r_source / (r_source + r_in));
    }
};

/// The inverse of loaded: voltage of the source without load, from that at the connector:
///
///     V_source = V + (V - V_open) R_source / R_in
///
/// With a probe's series resistance as R_source this is the probe: its factor is 1 + R_probe / R_in, not 10 by itself, and a biased input
/// adds an offset. Source: superposition.
struct unloaded {
    template <class Connector, class SourceResistance, class Open, class InputResistance>
    [[nodiscard]] constexpr auto operator()(const Connector& v, const SourceResistance& r_source, const Open& v_open,
                                            const InputResistance& r_in) const {
        return v + (v - v_open) * (r_source / r_in);
    }
};

/// Voltage of the converter's node at a mean code: c / 2^bits of the reference, for a converter that rounds.
struct node_voltage {
    int bits = 12;
    template <class Code, class Reference>
    [[nodiscard]] constexpr auto operator()(const Code& c, const Reference& v_reference) const {
        return c / (static_cast<double>(std::int64_t{1} << bits) * code) * v_reference;
    }
};

/// The same of a converter with an offset and a gain error: code = (1 + gain_error) * ideal code + offset. With an amplifier ahead of it that is
/// the amplifier's output.
struct converter_voltage {
    int bits = 12;
    template <class Code, class Offset, class Gain, class Reference>
    [[nodiscard]] constexpr auto operator()(const Code& c, const Offset& offset, const Gain& gain_error,
                                            const Reference& v_reference) const {
        return node_voltage{bits}((c - offset) / (1.0 + gain_error), v_reference);
    }
};

/// The whole chain by its data sheet: voltage at the connector for a mean code. An amplifier stands between converter_voltage and
/// connector_voltage: before_amplifier in amplifier.hpp.
///
/// @param offset      the converter's zero (codes), 0 when ideal
/// @param gain_error  relative, 0 when ideal
/// @param v_supply    bias supply; not looked at without a bias branch
/// @note a bias from the converter's reference is passed as that same reference, so that its deviations cancel as they do in the circuit
struct nominal_reading {
    int bits = 12;
    branches present;
    template <class Code, class Offset, class Gain, class Reference, class Top, class Bottom, class Bias, class Supply>
    [[nodiscard]] constexpr auto operator()(const Code& c, const Offset& offset, const Gain& gain_error,
                                            const Reference& v_reference, const Top& r_top, const Bottom& r_bottom,
                                            const Bias& r_bias, const Supply& v_supply) const {
        const auto node = converter_voltage{bits}(c, offset, gain_error, v_reference);
        return connector_voltage{present}(node, r_top, r_bottom, r_bias, v_supply);
    }
};

/// A part's value after its deviation: nominal * (1 + relative).
struct deviated {
    template <class Nominal, class Relative>
    [[nodiscard]] constexpr auto operator()(const Nominal& nominal, const Relative& relative) const {
        return nominal * (1.0 + relative);
    }
};

/// Gain of the chain by its nominal values, and the voltage at code 0.
[[nodiscard]] PLUMBLINE_EXPORT volts_per_code nominal_gain(const chain& c);
[[nodiscard]] PLUMBLINE_EXPORT voltage nominal_offset(const chain& c);
[[nodiscard]] PLUMBLINE_EXPORT resistance nominal_input_resistance(const chain& c);
[[nodiscard]] PLUMBLINE_EXPORT voltage nominal_open_voltage(const chain& c);

/// That of the node, seen by the converter's pin or by the amplifier's input.
/// @param source  resistance of what drives the connector, 0 or more
[[nodiscard]] PLUMBLINE_EXPORT resistance nominal_node_resistance(const chain& c, resistance source = {});
/// That which the converter's pin sees: of the node, or 0 behind an amplifier.
[[nodiscard]] PLUMBLINE_EXPORT resistance nominal_pin_resistance(const chain& c, resistance source = {});

/// 1/A by which an amplifier is taken at its nominal values: the middle between none and its limit, 0.5 / open_loop_gain.
[[nodiscard]] PLUMBLINE_EXPORT ratio nominal_one_over_a(const amplifier_stage& a);
/// Input over output of an amplifier by its nominal values: inverse_gain.
[[nodiscard]] PLUMBLINE_EXPORT ratio nominal_inverse_gain(const amplifier_stage& a);

/// -3 dB of an amplifier whose gain-bandwidth product is stated: amplifier_bandwidth in amplifier.hpp.
[[nodiscard]] PLUMBLINE_EXPORT frequency amplifier_bandwidth(const amplifier_stage& a);

/// Voltage at the connector that is read the same whatever the converter's reference is: 0 V where the bias comes from there, which then moves
/// with it, else the voltage at code 0. A reference that is off by a part of its value reads what is above that voltage off by the same part.
[[nodiscard]] PLUMBLINE_EXPORT voltage unmoved_by_reference(const chain& c);

/// Voltage of the network's node for one at the connector, by nominal values: beyond 0 V and the supply, clamps conduct. With an amplifier
/// that is its plus input.
[[nodiscard]] PLUMBLINE_EXPORT voltage nominal_node_voltage(const chain& c, voltage at_connector);

/// Refuses a chain that cannot be one: resistors not positive, no shunt branch, bits outside 1 to 24, low not below high, negative limits; an
/// amplifier whose output does not reach what the ends of the range need, or goes beyond the converter there.
/// @throws bad_input  where names the part
PLUMBLINE_EXPORT void expect_sound(const chain& c, const std::string& where);

}  // namespace plumbline::inline v0::front_end
