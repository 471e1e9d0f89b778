#pragma once
// What the converter's pin does to steps and readings: its leakage, and its sampling capacitor through what is in front of the connector. Its
// inputs stand in a record whose chain states the pin; of model version 5 and older records have none.

#include "identity.hpp"

#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/pin.hpp>
#include <plumbline/front_end/sampling.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <variant>

namespace plumbline::inline v0::calibration::models {

/// A voltage that is off in proportion to its distance from a centre: so much of it, times an error in units of its limits.
struct off_about {
    voltage centre;
    double relative;
    template <class V, class Error>
    [[nodiscard]] constexpr auto operator()(const V& v, const Error& xi) const {
        return v + (v - centre) * (relative * xi);
    }
};

/// A voltage that is off by so much, times an error in units of its limits.
struct off_by {
    voltage limit;
    template <class V, class Error>
    [[nodiscard]] constexpr auto operator()(const V& v, const Error& xi) const {
        return v + limit * xi;
    }
};

/// The open connector's voltage with what the pin leaks: its current goes through what leads away from the node.
struct raised_by_leakage {
    front_end::branches present;
    current limit;
    template <class Open, class Error, class Bottom, class Bias>
    [[nodiscard]] constexpr auto operator()(const Open& open, const Error& xi, const Bottom& r_bottom, const Bias& r_bias) const {
        return open + limit * xi / front_end::shunt_conductance{present}(r_bottom, r_bias);
    }
};

/// The sampling capacitor, in units of the highest that its data sheet states: what it takes off, it takes off everywhere. Below 0 it makes no
/// sense as a capacitor; limits to both sides are those of an error whose size alone is stated.
[[nodiscard]] inline uncertainty::input sampling_capacitor(const std::string& of_range) {
    return {identity::sampling_capacitor(of_range),
            "gain, by the sampling capacitor (sample rate, source)",
            "data sheet",
            unit_symbol<ratio>,
            0.0,
            uncertainty::rectangular{1.0}};
}

/// By how much the pin's leakage has grown since the calibration, as one input: its limits, the same at all times, times its growth between
/// the coldest and the warmest that the moment may be.
[[nodiscard]] inline uncertainty::input growth_of_leakage(const uncertainty::input& leakage, const std::string& at,
                                                          const std::string& at_label, kelvins difference, kelvins half_width) {
    const double coldest = front_end::leakage_growth(difference - half_width).value() - 1.0;
    const double warmest = front_end::leakage_growth(difference + half_width).value() - 1.0;
    return {identity::temperature(at, leakage.id),
            leakage.label + ", times its growth by temperature, " + at_label,
            leakage.source,
            unit_symbol<ratio>,
            0.0,
            uncertainty::coefficient_times_difference{std::get<uncertainty::rectangular>(leakage.spread).half_width,
                                                      0.5 * (warmest + coldest), 0.5 * (warmest - coldest), leakage.id,
                                                      at + "/growth of leakage"}};
}

template <class Evaluation>
[[nodiscard]] bool leaks(const Evaluation& e, const std::string& of_range, const front_end::chain& c) {
    return c.pin && e.inputs.find(identity::leakage(of_range)) != nullptr;
}

/// What the pin's leakage shifts a voltage at the connector by: that of the node over its slope, which is what it drops across the top resistor.
[[nodiscard]] inline voltage shift_by_leakage(const front_end::chain& c) { return c.pin->leakage * c.input.top.nominal; }

/// The open connector's voltage with what the pin leaks, where a record knows of that.
/// @param times  what the stated limits have grown to
template <class Evaluation, class Open, class Resistance>
[[nodiscard]] Open with_leakage(const Evaluation& e, const std::string& of_range, const front_end::chain& c, const Open& open,
                                const Resistance& r_bottom, const Resistance& r_bias, ratio times) {
    if (!leaks(e, of_range, c)) return open;
    return e.apply(raised_by_leakage{front_end::branches_of(c.input), times.value() * c.pin->leakage}, open,
                   e.template input<ratio>(identity::leakage(of_range)), r_bottom, r_bias);
}

[[nodiscard]] inline bool at_another_rate(const range_calibration& of, const reading_conditions& when) {
    return when.sample_rate && *when.sample_rate != of.mode.sample_rate;
}

/// The mode of a reading.
[[nodiscard]] inline front_end::mode mode_at(const range_calibration& of, const reading_conditions& when) {
    front_end::mode now = of.mode;
    now.sample_rate = when.sample_rate.value_or(of.mode.sample_rate);
    return now;
}

/// A reading whose pin misses another part of the voltage than one of `before`, from sources without resistance.
/// @param at_code_zero  the connector's voltage there, about which the pin's is in proportion; 0 V for a difference of two readings
template <class Evaluation, class Voltage>
[[nodiscard]] auto by_sampling(const Evaluation& e, const range_calibration& of, const Voltage& v, voltage at_code_zero,
                               const front_end::mode& before, frequency rate, resistance source) {
    const std::string id = identity::range(of.channel, of.range);
    const ratio gain = front_end::gain_away_from(of.chain, before, *of.chain.pin, rate, source);
    const bool known = e.inputs.find(identity::sampling_capacitor(id)) != nullptr;
    return e.apply(
        off_about{at_code_zero, 1.0 / (1.0 + gain.value()) - 1.0}, v,
        known ? e.template input<ratio>(identity::sampling_capacitor(id)) : e.template given<ratio>(sampling_capacitor(id)));
}

}  // namespace plumbline::inline v0::calibration::models
