#pragma once
// A non-inverting amplifier before the converter.

#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::front_end {

/// Input over output of an amplifier of open-loop gain A: 1/A + beta, beta = R_ground / (R_ground + R_feedback). A follower has beta = 1, which
/// is a feedback resistor of 0 ohm.
/// @param one_over_a  0 when ideal
/// Source: feedback; circuit.hpp solves the same.
struct inverse_gain {
    template <class OneOver, class Feedback, class Ground>
    [[nodiscard]] constexpr auto operator()(const OneOver& one_over_a, const Feedback& r_feedback, const Ground& r_ground) const {
        return one_over_a + r_ground / (r_ground + r_feedback);
    }
};

/// Its gain A / (1 + A beta). The error against 1 / beta is -1 / (1 + A beta).
struct closed_loop_gain {
    template <class OpenLoop, class Feedback, class Ground>
    [[nodiscard]] constexpr auto operator()(const OpenLoop& a, const Feedback& r_feedback, const Ground& r_ground) const {
        return 1.0 / inverse_gain{}(1.0 / a, r_feedback, r_ground);
    }
};

/// Output for a source V behind a resistance:
///
///     G (V - I_plus R_source - V_offset + I_minus (R_feedback || R_ground))
///
/// I_plus and I_minus flow into the inputs; V_offset is what the plus input must stand above the minus input for an output of 0 V.
struct amplified {
    template <class V, class SourceResistance, class Offset, class Current, class OpenLoop, class Feedback, class Ground>
    [[nodiscard]] constexpr auto operator()(const V& v, const SourceResistance& r_source, const Offset& offset,
                                            const Current& i_plus, const Current& i_minus, const OpenLoop& a,
                                            const Feedback& r_feedback, const Ground& r_ground) const {
        return closed_loop_gain{}(a, r_feedback, r_ground) *
               (v - i_plus * r_source - offset + i_minus * (r_feedback * r_ground / (r_feedback + r_ground)));
    }
};

/// Voltage at the plus input for an output, the inverse of amplified:
///
///     V_out (1/A + beta) + V_offset - I_minus (R_feedback || R_ground)
///
/// What I_plus does hangs on the network ahead of it: node.hpp.
struct before_amplifier {
    template <class Out, class Offset, class Current, class OneOver, class Feedback, class Ground>
    [[nodiscard]] constexpr auto operator()(const Out& v_out, const Offset& offset, const Current& i_minus,
                                            const OneOver& one_over_a, const Feedback& r_feedback, const Ground& r_ground) const {
        return v_out * inverse_gain{}(one_over_a, r_feedback, r_ground) + offset -
               i_minus * (r_feedback * r_ground / (r_feedback + r_ground));
    }
};

/// -3 dB of an amplifier with one pole and a gain-bandwidth product: GBW beta, where A is large.
[[nodiscard]] inline frequency amplifier_bandwidth(frequency gain_bandwidth, resistance r_feedback, resistance r_ground) {
    return gain_bandwidth * (r_ground / (r_ground + r_feedback));
}

}  // namespace plumbline::inline v0::front_end
