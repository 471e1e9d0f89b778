#pragma once
// The model of a reading through a probe, over any evaluation.

#include "models.hpp"

#include <plumbline/calibration/through_probe.hpp>

namespace plumbline::inline v0::calibration::models {

/// What a source at the connector sees of a range that is read: a resistance, and the voltage that it leads to.
template <class Evaluation>
struct load {
    decltype(std::declval<Evaluation>().constant(resistance())) r_in;
    decltype(std::declval<Evaluation>().constant(voltage())) open;
    voltage at_code_zero;  ///< at the connector
    front_end::mode mode;

    /// For the difference of two readings, in which the voltages cancel.
    [[nodiscard]] load of_difference(const Evaluation& e) const { return {r_in, e.constant(voltage()), voltage(), mode}; }
};

/// A range's load when it is read: its parts by their data sheets, at the temperature of the reading.
template <class Evaluation>
[[nodiscard]] load<Evaluation> load_at_reading(const Evaluation& e, const range_calibration& of, const reading_conditions& when) {
    const std::string id = identity::range(of.channel, of.range);
    const front_end::branches present = front_end::branches_of(of.chain.input);
    const effects_of_reading<Evaluation> effect{e, id, when};
    const auto warm = [&](const char* name, const front_end::resistor* r) {
        const auto cold = part(e, identity::part(id, name), r);
        return r == nullptr ? cold : e.apply(front_end::deviated{}, cold, effect(identity::part(id, name)));
    };
    const auto warm_supply = [&] {
        auto cold = supply(e, id, of.chain);
        if (!of.chain.input.bias) return cold;
        const char* const name = of.chain.input.bias->from_converter_reference ? "converter reference" : "bias supply";
        return e.apply(front_end::deviated{}, cold, effect(identity::part(id, name)));
    };
    const auto r_bottom = warm("bottom", bottom(of.chain));
    const auto r_bias = warm("bias", bias(of.chain));
    const auto drawn = [&] {  // by an amplifier's input
        if (!of.chain.amplifier) return e.constant(current());
        const std::string into_plus = identity::part(id, identity::amplifier_into_plus);
        return e.apply(sum{}, e.template input<current>(into_plus + "/deviation"), effect(into_plus, current()));
    };
    const auto open = open_connector(e, of.chain, r_bottom, r_bias, warm_supply(), drawn());
    const ratio leakage = front_end::leakage_growth(when.temperature_difference + when.temperature_half_width);
    return {e.apply(front_end::input_resistance{present}, warm("top", top(of.chain)), r_bottom, r_bias),
            with_leakage(e, id, of.chain, open, r_bottom, r_bias, leakage), front_end::nominal_offset(of.chain),
            mode_at(of, when)};
}

/// A reading at the connector through so much in series with it, as one without: with what the sampling capacitor takes off more.
template <class Evaluation, class Voltage>
[[nodiscard]] Voltage sampled_through(const Evaluation& e, const range_calibration& of, const Voltage& v,
                                      const load<Evaluation>& input, resistance series) {
    if (!of.chain.pin) return v;
    return by_sampling(e, of, v, input.at_code_zero, input.mode, input.mode.sample_rate, series);
}

/// Series resistance of a probe by its description, or by the factor that was measured: R over R_in is what was measured, so R goes with
/// the nominal R_in.
[[nodiscard]] inline resistance series_of(const front_end::probe& p, const front_end::chain& chain) {
    return p.factor ? (p.factor->value - 1.0 * one) * front_end::nominal_input_resistance(chain) : p.series;
}

/// A voltage at the connector as it is at the tip, and what a source at the tip sees.
template <class Evaluation>
struct at_tip {
    decltype(std::declval<Evaluation>().constant(voltage())) v;
    decltype(std::declval<Evaluation>().constant(resistance())) r_in;

    /// @param ahead  nominal resistance of what drives the tip
    at_tip(const Evaluation& e, const range_calibration& of, const decltype(v)& read, const front_end::probe& p,
           const load<Evaluation>& input, resistance ahead = {})
        : v(sampled_through(e, of, read, input, p.calibrated_together ? ahead : series_of(p, of.chain) + ahead)),
          r_in(input.r_in) {
        if (p.calibrated_together) return;
        const std::string id = identity::range(of.channel, of.range) + "/probe/";
        const auto nominal = e.constant(series_of(p, of.chain));
        const std::string source = p.name.empty() ? "description of the probe" : p.name;
        if (p.factor) {
            const double u = p.factor->u.value() / (p.factor->value.value() - 1.0);
            const auto series = e.apply(front_end::deviated{}, nominal,
                                        e.template given<ratio>({id + "factor", "probe, measured factor", source,
                                                                 unit_symbol<ratio>, 0.0, uncertainty::normal{u}}));
            v = e.apply(front_end::unloaded{}, v, series, input.open, e.constant(front_end::nominal_input_resistance(of.chain)));
            r_in = e.apply(sum{}, input.r_in, series);
        } else {
            const auto series =
                e.apply(front_end::deviated{}, nominal,
                        e.template given<ratio>({id + "series", "probe, series resistance", source, unit_symbol<ratio>, 0.0,
                                                 uncertainty::rectangular{p.tolerance.value()}}));
            v = e.apply(front_end::unloaded{}, v, series, input.open, input.r_in);
            r_in = e.apply(sum{}, input.r_in, series);
        }
    }
};

/// A reading at the tip.
template <class Evaluation, class Voltage>
[[nodiscard]] auto reading_at_tip(const Evaluation& e, const range_calibration& of, const Voltage& at_connector,
                                  const front_end::probe& p, const reading_conditions& when) {
    return at_tip<Evaluation>(e, of, at_connector, p, load_at_reading(e, of, when)).v;
}

/// A difference of two readings at the tip.
template <class Evaluation, class Voltage>
[[nodiscard]] auto difference_at_tip(const Evaluation& e, const range_calibration& of, const Voltage& at_connector,
                                     const front_end::probe& p, const reading_conditions& when) {
    return at_tip<Evaluation>(e, of, at_connector, p, load_at_reading(e, of, when).of_difference(e)).v;
}

}  // namespace plumbline::inline v0::calibration::models
