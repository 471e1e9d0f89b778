#pragma once
// The converter's sampling capacitor: what it loads, how long it settles, what it remembers.

#include <cmath>
#include <numbers>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::front_end {

/// Resistance with which a capacitor that is emptied before each sample loads its source on average: 1 / (fs Cs). 10 pF at 250 kS/s: 400 kohm.
/// Source: charge per sample times samples per second.
[[nodiscard]] inline resistance sampling_load(frequency sample_rate, capacitance sampling) {
    return 1.0 / (sample_rate * sampling);
}

/// What is left of a step after a time: exp(-t / tau).
[[nodiscard]] inline ratio left_after(duration t, duration tau) { return ratio(std::exp(-(t / tau).value())); }

/// Time after which a fraction is left: -ln(fraction) tau, fraction from above 0 to 1.
[[nodiscard]] inline duration settling_time(ratio fraction, duration tau) { return -std::log(fraction.value()) * tau; }

/// Time to within half a code of N bits for a step of the full range: (N + 1) ln 2 time constants.
[[nodiscard]] inline duration settling_time_to_half_a_code(int bits, duration tau) {
    return (bits + 1) * std::numbers::ln2 * tau;
}

/// Time constant of the sampling capacitor behind the pin, with no capacitor at the pin.
[[nodiscard]] inline duration sampling_time_constant(resistance at_pin, resistance switch_on, capacitance sampling) {
    return (at_pin + switch_on) * sampling;
}

/// With a capacitor at the pin that is large beside the sampling capacitor: the part of (V - V_before) that is missing in each of many samples,
/// V the pin's voltage without a converter and V_before what the sampling capacitor holds when it is connected (0 V, or that of the channel
/// before it).
///
///     s / (1 - a + a s)      s = Cs / (Cs + Cpin),  a = exp(-1 / (fs R (Cs + Cpin)))
///
/// s for one sample alone; R / (R + 1/(fs Cs)) where samples follow each other fast. The sampling switch is taken as quick.
/// Source: charge is shared, and the pin recovers through R until the next sample; the state that repeats itself.
[[nodiscard]] inline ratio shared_charge(resistance at_pin, capacitance pin, capacitance sampling, frequency sample_rate) {
    const double s = (sampling / (sampling + pin)).value();
    const double recovery = (1.0 / (sample_rate * at_pin * (sampling + pin))).value();
    const double missing = -std::expm1(-recovery);  // 1 - a
    return ratio(s / (missing + (1.0 - missing) * s));
}

/// The part of the pin's voltage that is missing in each of many samples where the sampling capacitor is emptied before it is connected, for a
/// time t, to a pin with a capacitor of any size:
///
///     a s / (1 - a b (1 - s))     s = Cs / (Cs + Cpin),  a = exp(-t / ((R + Rswitch) (Cs + Cpin))),  b = exp(-(1/fs - t) / (R Cpin))
///
/// a without a capacitor at the pin, and what shared_charge gives for a large one. Charge is shared at once; then both capacitors settle
/// through R, with the switch added to it on the safe side; then the pin recovers alone.
/// @param connected  t; where it is longer than 1/fs the samples follow without a pause
/// Source: charge is shared; the state that repeats itself.
[[nodiscard]] inline ratio missed_when_emptied(resistance at_pin, resistance switch_on, capacitance pin, capacitance sampling,
                                               duration connected, frequency sample_rate) {
    const double share = (sampling / (sampling + pin)).value();
    const duration pause = 1.0 / sample_rate - connected;
    const double settling = left_after(connected, sampling_time_constant(at_pin, switch_on, sampling + pin)).value();
    double recovery = 0.0;
    if (pin > capacitance()) recovery = pause > duration() ? left_after(pause, at_pin * pin).value() : 1.0;
    return ratio(settling * share / (1.0 - settling * recovery * (1.0 - share)));
}

/// Shift at the pin by the pin's leakage: what flows out of the pin raises it.
[[nodiscard]] inline voltage leakage_shift(current out_of_pin, resistance at_pin) { return out_of_pin * at_pin; }

/// A junction's leakage over what it is at another temperature: it doubles with every ten kelvin (common practice, no source).
[[nodiscard]] inline ratio leakage_growth(kelvins warmer) { return ratio(std::exp2(0.1 * warmer.value())); }

/// Reference of a converter that is fed by a supply through a resistance: V_supply - I R. What the supply moves, all readings move;
/// how far that may be in use a chain states as converter::reference_by_supply.
struct fed_reference {
    template <class Supply, class Current, class Resistance>
    [[nodiscard]] constexpr auto operator()(const Supply& v_supply, const Current& drawn, const Resistance& r) const {
        return v_supply - drawn * r;
    }
};

}  // namespace plumbline::inline v0::front_end
