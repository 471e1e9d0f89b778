#pragma once
// How the models of a calibration hang together. Each is written once, as a template over the evaluation (uncertainty/uncertain.hpp).

#include "identity.hpp"

#include <algorithm>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/error.hpp>
#include <plumbline/front_end/node.hpp>

namespace plumbline::calibration::models {

struct sum {
    template <class First, class... Rest>
    [[nodiscard]] constexpr auto operator()(const First& first, const Rest&... rest) const {
        return (first + ... + rest);
    }
};

struct difference {
    template <class A, class B>
    [[nodiscard]] constexpr auto operator()(const A& a, const B& b) const {
        return a - b;
    }
};

/// A stated voltage with its error: value + scale * xi. xi is the reference's own error in units of its limit or of its u, one for
/// all its uses: what it is off at one voltage it is off, in proportion, at the others.
struct stated_with_error {
    voltage value;
    voltage scale;
    template <class Error>
    [[nodiscard]] constexpr auto operator()(const Error& xi) const {
        return value + scale * xi;
    }
};

struct divider_voltage {
    template <class Voltage, class Top, class Bottom>
    [[nodiscard]] constexpr auto operator()(const Voltage& v, const Top& top, const Bottom& bottom) const {
        return v * (bottom / (top + bottom));
    }
};

struct divider_source_resistance {
    template <class Top, class Bottom>
    [[nodiscard]] constexpr auto operator()(const Top& top, const Bottom& bottom) const {
        return top * bottom / (top + bottom);
    }
};

/// One sample's noise in a mean of n.
struct averaged_code {
    double samples;
    template <class Code, class Noise, class Quantisation, class Nonlinearity>
    [[nodiscard]] auto operator()(const Code& c, const Noise& noise, const Quantisation& quantisation,
                                  const Nonlinearity& inl) const {
        return c + noise / std::sqrt(samples) + quantisation + inl;
    }
};

/// The reference of this id. @throws bad_input
[[nodiscard]] inline const reference& find(const std::vector<reference>& all, const std::string& id, const std::string& where) {
    const auto found = std::find_if(all.begin(), all.end(), [&](const reference& r) { return r.id == id; });
    if (found == all.end()) {
        throw bad_input(where, "reference \"" + id + "\", which is not described", "one of the references",
                        "describe it, or correct its id");
    }
    return *found;
}

/// u of a stated voltage as a scale of its reference's error: u itself for U and k, the half-width for limits.
[[nodiscard]] inline voltage error_scale(const stated_voltage& s) {
    struct scale {
        voltage operator()(const expanded& e) const { return e.U / e.k; }
        voltage operator()(const limits& l) const { return l.half_width; }
    };
    return std::visit(scale{}, s.spread);
}

/// A resistor of the front end with its initial deviation; an absent one stands as an exact ohm that no model looks at.
template <class Evaluation>
[[nodiscard]] auto part(const Evaluation& e, const std::string& id, const front_end::resistor* r) {
    if (r == nullptr) return e.constant(1.0 * ohm);
    return e.apply(front_end::deviated{}, e.constant(r->nominal), e.template input<ratio>(id + "/deviation"));
}

template <class Evaluation>
[[nodiscard]] auto converter_reference(const Evaluation& e, const std::string& id, const front_end::chain& c) {
    return e.apply(front_end::deviated{}, e.constant(c.adc.reference),
                   e.template input<ratio>(identity::part(id, "converter reference") + "/deviation"));
}

template <class Evaluation>
[[nodiscard]] auto supply(const Evaluation& e, const std::string& id, const front_end::chain& c) {
    if (!c.input.bias) return e.constant(0.0 * volt);
    if (c.input.bias->from_converter_reference) return converter_reference(e, id, c);
    return e.apply(front_end::deviated{}, e.constant(c.input.bias->supply),
                   e.template input<ratio>(identity::part(id, "bias supply") + "/deviation"));
}

[[nodiscard]] inline const front_end::resistor* top(const front_end::chain& c) { return &c.input.top; }
[[nodiscard]] inline const front_end::resistor* bottom(const front_end::chain& c) {
    return c.input.bottom ? &*c.input.bottom : nullptr;
}
[[nodiscard]] inline const front_end::resistor* bias(const front_end::chain& c) {
    return c.input.bias ? &c.input.bias->branch : nullptr;
}

/// The voltage at the connector, by a reference as it stands there or through its divider, loaded by this input. `at` names the step.
template <class Evaluation>
[[nodiscard]] auto applied_voltage(const Evaluation& e, const std::string& of_range, const front_end::chain& c,
                                   const std::vector<reference>& references, const applied& a, const std::string& at) {
    const std::string where = "applied voltage, " + of_range;
    const auto stated = [&](const stated_voltage& s, const std::string& by) {
        return e.apply(stated_with_error{s.value, error_scale(s)}, e.template input<ratio>(identity::reference(by) + "/error"));
    };
    const reference& r = find(references, a.reference, where);
    if (a.stated) return stated(*a.stated, r.id);
    if (r.output) return stated(*r.output, r.id);
    if (!r.divider) {
        throw bad_input(where, "reference \"" + r.id + "\" without a voltage", "a value with U and k or limits, or a divider",
                        "state the voltage at the step or with the reference");
    }
    const reference& from = find(references, r.divider->from, where);
    if (!from.output) {
        throw bad_input(where, "reference \"" + from.id + "\" behind a divider without a voltage of its own",
                        "a value with U and k or limits", "state its output");
    }
    const auto arm = [&](const char* name, const front_end::resistor& nominal) {
        const std::string id = identity::reference(r.id) + "/" + name;
        return e.apply(front_end::deviated{}, part(e, id, &nominal), e.template input<ratio>(identity::temperature(at, id)));
    };
    const auto upper = arm("top", r.divider->top);
    const auto lower = arm("bottom", r.divider->bottom);
    const auto r_top = part(e, identity::part(of_range, "top"), top(c));
    const auto r_bottom = part(e, identity::part(of_range, "bottom"), bottom(c));
    const auto r_bias = part(e, identity::part(of_range, "bias"), bias(c));
    const front_end::branches present = front_end::branches_of(c.input);
    return e.apply(front_end::loaded{}, e.apply(divider_voltage{}, stated(*from.output, from.id), upper, lower),
                   e.apply(divider_source_resistance{}, upper, lower),
                   e.apply(front_end::open_voltage{present}, r_bottom, r_bias, supply(e, of_range, c)),
                   e.apply(front_end::input_resistance{present}, r_top, r_bottom, r_bias));
}

/// Mean code of a step or check point: what was seen, what quantisation and non-linearity may hide. `at` names the step's inputs.
template <class Evaluation>
[[nodiscard]] auto captured_code(const Evaluation& e, const std::string& at) {
    return e.apply(sum{}, e.template input<codes>(at + "/mean"), e.template input<codes>(at + "/quantisation"),
                   e.template input<codes>(at + "/nonlinearity"));
}

template <class Evaluation>
[[nodiscard]] auto read_code(const Evaluation& e, const std::string& of_range, codes c, double samples) {
    const std::string at = identity::reading(of_range);
    return e.apply(averaged_code{samples}, e.constant(c), e.template input<codes>(at + "/noise"),
                   e.template input<codes>(at + "/quantisation"), e.template input<codes>(at + "/nonlinearity"));
}

/// A part's relative change by temperature as one input: its coefficient, the same at all times, times the difference at the moment that
/// `at` names, the same for all parts.
[[nodiscard]] inline uncertainty::input temperature_effect(const uncertainty::input& coefficient, const std::string& part_id,
                                                           const std::string& at, const std::string& at_label, kelvins difference,
                                                           kelvins half_width) {
    return {identity::temperature(at, part_id),
            coefficient.label + " times temperature difference, " + at_label,
            coefficient.source,
            unit_symbol<ratio>,
            0.0,
            uncertainty::coefficient_times_difference{std::get<uncertainty::rectangular>(coefficient.spread).half_width,
                                                      difference.value(), half_width.value(), coefficient.id,
                                                      at + "/temperature difference"}};
}

/// Effects of a step or check point: inputs of the record.
template <class Evaluation>
struct effects_of_step {
    const Evaluation& e;
    std::string at;
    [[nodiscard]] auto operator()(const std::string& part_id) const {
        return e.template input<ratio>(identity::temperature(at, part_id));
    }
};

/// Effects of a reading: inputs of this one evaluation, by the conditions of the reading.
template <class Evaluation>
struct effects_of_reading {
    const Evaluation& e;
    std::string of_range;
    reading_conditions when;
    [[nodiscard]] auto operator()(const std::string& part_id) const {
        return e.template given<ratio>(temperature_effect(*e.inputs.at(identity::coefficient(part_id)), part_id,
                                                          identity::reading(of_range), "reading", when.temperature_difference,
                                                          when.temperature_half_width));
    }
};

/// What the chain by its data sheet reads at mean code c; each part is given by a function of its id.
template <class Evaluation, class Code, class Offset, class Gain, class ConverterReference, class Supply, class Part>
[[nodiscard]] auto nominal(const Evaluation& e, const std::string& of_range, const front_end::chain& chain, const Code& c,
                           const Offset& offset, const Gain& gain_error, const ConverterReference& v_reference,
                           const Supply& v_supply, const Part& resistor) {
    return e.apply(front_end::nominal_reading{chain.adc.bits, front_end::branches_of(chain.input)}, c, offset, gain_error,
                   v_reference, resistor(identity::part(of_range, "top"), top(chain)),
                   resistor(identity::part(of_range, "bottom"), bottom(chain)),
                   resistor(identity::part(of_range, "bias"), bias(chain)), v_supply);
}

/// How far the connector's voltage is from what the chain would read at the temperature of the calibration: the chain with its parts warm
/// less the chain with its parts nominal, both at mean code c. Estimated as zero. `effect` gives a part's relative change.
template <class Evaluation, class Effect>
[[nodiscard]] auto temperature_shift(const Evaluation& e, const std::string& of_range, const front_end::chain& chain, codes c,
                                     const Effect& effect) {
    const auto cold = [&](const std::string&, const front_end::resistor* r) {
        return e.constant(r == nullptr ? 1.0 * ohm : r->nominal);
    };
    const auto warm = [&](const std::string& id, const front_end::resistor* r) {
        if (r == nullptr) return e.constant(1.0 * ohm);
        return e.apply(front_end::deviated{}, e.constant(r->nominal), effect(id));
    };
    const auto warm_voltage = [&](const std::string& name, voltage nominal_value) {
        return e.apply(front_end::deviated{}, e.constant(nominal_value), effect(identity::part(of_range, name)));
    };
    const auto& bias_of = chain.input.bias;
    const voltage supply_value = bias_of ? bias_of->supply : 0.0 * volt;
    const auto warm_reference = warm_voltage("converter reference", chain.adc.reference);
    const auto warm_supply = !bias_of                            ? e.constant(supply_value)
                             : bias_of->from_converter_reference ? warm_reference
                                                                 : warm_voltage("bias supply", supply_value);
    const auto at = e.constant(c);
    const auto no_offset = e.constant(0.0 * code);
    const auto no_error = e.constant(ratio(0.0));
    return e.apply(
        difference{}, nominal(e, of_range, chain, at, no_offset, no_error, warm_reference, warm_supply, warm),
        nominal(e, of_range, chain, at, no_offset, no_error, e.constant(chain.adc.reference), e.constant(supply_value), cold));
}

/// The uncalibrated reading: initial deviations by data sheet, and temperature.
template <class Evaluation>
[[nodiscard]] auto uncalibrated(const Evaluation& e, const std::string& of_range, const front_end::chain& chain, codes c,
                                const reading_conditions& when) {
    const std::string adc = identity::part(of_range, "converter");
    const auto deviating = [&](const std::string& id, const front_end::resistor* r) { return part(e, id, r); };
    const auto seen = e.apply(averaged_code{when.samples}, e.constant(c), e.template input<codes>(adc + "/noise"),
                              e.template input<codes>(adc + "/quantisation"),
                              e.template input<codes>(identity::reading(of_range) + "/nonlinearity"));
    return e.apply(
        sum{},
        nominal(e, of_range, chain, seen, e.template input<codes>(adc + "/offset"), e.template input<ratio>(adc + "/gain error"),
                converter_reference(e, of_range, chain), supply(e, of_range, chain), deviating),
        temperature_shift(e, of_range, chain, c, effects_of_reading<Evaluation>{e, of_range, when}));
}

/// The two steps as the arguments of the line: the voltages that would have given the same codes at the temperature of the calibration.
/// With r the span fraction, a shift at the zero step so enters a reading with -(1 - r), one at the reference step with -r.
template <class Evaluation>
struct line {
    using code_type = decltype(captured_code(std::declval<Evaluation>(), std::string()));
    using voltage_type = decltype(std::declval<Evaluation>().constant(voltage()));
    code_type m0, m1;
    voltage_type v0, v1;

    line(const Evaluation& e, const range_calibration& of, const std::vector<reference>& references)
        : m0(captured_code(e, identity::zero(identity::range(of.channel, of.range)))),
          m1(captured_code(e, identity::reference_step(identity::range(of.channel, of.range)))),
          v0(at_one_temperature(e, of, references, of.zero, identity::zero(identity::range(of.channel, of.range)))),
          v1(at_one_temperature(e, of, references, of.reference,
                                identity::reference_step(identity::range(of.channel, of.range)))) {}

    template <class Code>
    [[nodiscard]] auto at(const Evaluation& e, const Code& c) const {
        return e.apply(two_point_reading{}, c, m0, m1, v0, v1);
    }
    [[nodiscard]] auto gain(const Evaluation& e) const { return e.apply(two_point_gain{}, m0, m1, v0, v1); }

private:
    static voltage_type at_one_temperature(const Evaluation& e, const range_calibration& of,
                                           const std::vector<reference>& references, const step& s, const std::string& at) {
        const std::string id = identity::range(of.channel, of.range);
        return e.apply(difference{}, applied_voltage(e, id, of.chain, references, s.source, at),
                       temperature_shift(e, id, of.chain, s.seen.mean, effects_of_step<Evaluation>{e, at}));
    }
};

/// The corrected reading. `c` is the code with its own inputs, from read_code or captured_code; c_estimate its estimate; `effect` gives the
/// parts' change by temperature when it was read.
template <class Evaluation, class Code, class Effect>
[[nodiscard]] auto corrected(const Evaluation& e, const range_calibration& of, const line<Evaluation>& steps, const Code& c,
                             codes c_estimate, const Effect& effect) {
    return e.apply(sum{}, steps.at(e, c),
                   temperature_shift(e, identity::range(of.channel, of.range), of.chain, c_estimate, effect));
}

}  // namespace plumbline::calibration::models
