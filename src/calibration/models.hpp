#pragma once
// How the models of a calibration hang together. Each is written once, as a template over the evaluation (uncertainty/uncertain.hpp).

#include "identity.hpp"
#include "pin_models.hpp"
#include "range_inputs.hpp"
#include "reference_by_supply.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/surroundings.hpp>
#include <plumbline/error.hpp>
#include <plumbline/front_end/amplifier.hpp>
#include <plumbline/front_end/node.hpp>
#include <vector>

namespace plumbline::inline v0::calibration::models {

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

/// A line whose gain and offset are chosen, not measured: a correction that was in force.
struct straight {
    volts_per_code gain;
    voltage offset;
    template <class Code>
    [[nodiscard]] constexpr auto operator()(const Code& c) const {
        return offset + gain * c;
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

/// What a meter's limits are multiplied by where the ambient may lie outside its band.
[[nodiscard]] inline double growth_of_limits(const calibration::meter& m, const moment& at) {
    if (!m.band) return 1.0;
    const double below = (m.band->low - at.ambient + at.temperature_half_width).value();
    const double above = (at.ambient - m.band->high + at.temperature_half_width).value();
    return 1.0 + m.outside_per_kelvin * std::max({0.0, below, above});
}

/// What stands at a meter that shows `indicated`: errors of reading and counts in units of their limits, which have grown by a factor outside
/// the meter's temperature band; resolution in volts.
struct metered {
    voltage indicated;
    calibration::meter by;
    double growth;
    template <class Reading, class Counts, class Resolution>
    [[nodiscard]] constexpr auto operator()(const Reading& of_reading, const Counts& of_counts,
                                            const Resolution& resolution) const {
        return indicated * (1.0 + growth * by.of_reading * of_reading) + growth * by.counts * by.count * of_counts + resolution;
    }
};

/// Output of a reference part: relative deviations add.
struct part_output {
    voltage nominal;
    template <class Initial, class Temperature, class Ageing, class Regulation, class Noise>
    [[nodiscard]] constexpr auto operator()(const Initial& initial, const Temperature& temperature, const Ageing& ageing,
                                            const Regulation& regulation, const Noise& noise) const {
        return nominal * (1.0 + initial + temperature + ageing + regulation) + noise;
    }
};

/// Voltage of a source without load, from what a meter of input resistance r_meter showed across it.
struct without_meter {
    resistance r_meter;
    template <class Voltage, class Resistance>
    [[nodiscard]] constexpr auto operator()(const Voltage& v, const Resistance& r_source) const {
        return v * (1.0 + r_source / r_meter);
    }
};

/// A bow over all codes, 1 in the middle and 0 at the ends, times its height.
struct bow {
    codes at;
    codes full;
    template <class Height>
    [[nodiscard]] constexpr auto operator()(const Height& height) const {
        const double x = (at / full).value();
        return 4.0 * x * (1.0 - x) * height;
    }
};

/// A sum of a line's points: its height or its slope, with what one point's voltage and code are off their estimates, times its weight.
template <class Weight>
struct with_point {
    Weight weight;
    voltage applied;
    volts_per_code slope;  ///< 0 where the points' codes do not count by themselves
    codes mean;
    template <class Sum, class Voltage, class Code>
    [[nodiscard]] constexpr auto operator()(const Sum& before, const Voltage& v, const Code& m) const {
        return before + weight * ((v - applied) - slope * (m - mean));
    }
};

/// The line through many points.
struct by_height_and_slope {
    codes centre;
    template <class Code, class Height, class Slope>
    [[nodiscard]] constexpr auto operator()(const Code& c, const Height& height, const Slope& slope) const {
        return height + slope * (c - centre);
    }
};

/// A voltage at another temperature: relative change and shift. For records that keep no `middle` of the coefficients.
struct by_temperature {
    template <class V, class Gain, class Offset>
    [[nodiscard]] constexpr auto operator()(const V& v, const Gain& gain, const Offset& offset) const {
        return v * (1.0 + gain) + offset;
    }
};

/// A voltage that is read away from the temperature of the calibration, by coefficients measured about a centre: what they make of the
/// difference as far as it is known, and as far as it is not; and what they may be off themselves, times the difference.
struct by_measured_temperature {
    seen_at_two_temperatures::at_centre about;
    per_kelvin gain;
    template <class V, class Known, class Unknown, class Gain, class Change>
    [[nodiscard]] constexpr auto operator()(const V& v, const Known& known, const Unknown& unknown, const Gain& of_gain,
                                            const Change& of_change) const {
        return v + (about.change + gain * (v - about.centre)) * (known + unknown) + (v - about.centre) * of_gain + of_change;
    }
};

/// Change of a gain per kelvin, relative to the first of two, from calibrations `apart` from each other; t1 and t2 are what their temperatures
/// are off.
struct relative_change {
    kelvins apart;
    template <class Gain, class Kelvin>
    [[nodiscard]] constexpr auto operator()(const Gain& g1, const Gain& g2, const Kelvin& t1, const Kelvin& t2) const {
        return (g2 / g1 - 1.0) / (apart + t2 - t1);
    }
};

/// The same of a voltage, not relative.
struct change {
    kelvins apart;
    template <class Voltage, class Kelvin>
    [[nodiscard]] constexpr auto operator()(const Voltage& v1, const Voltage& v2, const Kelvin& t1, const Kelvin& t2) const {
        return (v2 - v1) / (apart + t2 - t1);
    }
};

/// A reading on the straight line between two calibrations, by temperature.
struct between {
    kelvins apart;
    kelvins from_first;
    template <class Voltage, class Kelvin>
    [[nodiscard]] constexpr auto operator()(const Voltage& v1, const Voltage& v2, const Kelvin& t1, const Kelvin& t2,
                                            const Kelvin& now) const {
        return v1 + (v2 - v1) * ((from_first + now - t1) / (apart + t2 - t1));
    }
};

/// A reading as it is in use: gain and offset have moved since.
struct moved {
    template <class V, class Gain, class Offset>
    [[nodiscard]] constexpr auto operator()(const V& v, const Gain& by_age, const Gain& by_supply, const Offset& offset_by_age,
                                            const Offset& offset_by_supply) const {
        return v * (1.0 + by_age + by_supply) + offset_by_age + offset_by_supply;
    }
};

/// A voltage read by a gain that is off, which turns about a centre.
struct turned_about {
    voltage centre;
    template <class V, class Gain>
    [[nodiscard]] constexpr auto operator()(const V& v, const Gain& gain) const {
        return v + (v - centre) * gain;
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

/// One sample's noise, hum with it, in a mean of n independent samples.
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

struct negated {
    template <class V>
    [[nodiscard]] constexpr auto operator()(const V& v) const {
        return -1.0 * v;
    }
};

/// u of a stated voltage as a scale of its reference's error: u itself for U and k, the half-width for limits; negative for a negative
/// voltage, since the error goes in proportion.
[[nodiscard]] inline voltage error_scale(const stated_voltage& s) {
    struct scale {
        voltage operator()(const expanded& e) const { return e.U / e.k; }
        voltage operator()(const limits& l) const { return l.half_width; }
    };
    return (s.value < voltage() ? -1.0 : 1.0) * std::visit(scale{}, s.spread);
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

/// What an amplifier stage is off: its input offset, the currents into its inputs, one over its open-loop gain.
template <class Evaluation>
struct amplifier_errors {
    decltype(std::declval<Evaluation>().constant(voltage())) offset;
    decltype(std::declval<Evaluation>().constant(current())) into_plus;
    decltype(std::declval<Evaluation>().constant(current())) into_minus;
    decltype(std::declval<Evaluation>().constant(ratio())) one_over_a;
};

/// By its data sheet.
template <class Evaluation>
[[nodiscard]] amplifier_errors<Evaluation> initial_errors(const Evaluation& e, const std::string& of_range,
                                                          const front_end::chain& c) {
    if (!c.amplifier) return {e.constant(voltage()), e.constant(current()), e.constant(current()), e.constant(ratio())};
    const auto part = [&](const char* name) { return identity::part(of_range, name); };
    return {e.template input<voltage>(part(identity::amplifier_offset) + "/deviation"),
            e.template input<current>(part(identity::amplifier_into_plus) + "/deviation"),
            e.template input<current>(part(identity::amplifier_into_minus) + "/deviation"),
            e.template input<ratio>(part("amplifier") + "/one over open-loop gain")};
}

/// Current into an amplifier's plus input at a step, as far as it has inputs: the one that all times share, and what warmth adds there.
template <class Evaluation>
[[nodiscard]] auto current_at(const Evaluation& e, const std::string& of_range, const std::string& at) {
    const std::string part = identity::part(of_range, identity::amplifier_into_plus);
    const auto shared = e.template input<current>(part + "/deviation");
    const std::string warm = identity::temperature(at, part);
    return e.inputs.find(warm) == nullptr ? shared : e.apply(sum{}, shared, e.template input<current>(warm));
}

/// Voltage of the open connector, with a current that an amplifier draws from the node.
template <class Evaluation, class Resistance, class Supply, class Current>
[[nodiscard]] auto open_connector(const Evaluation& e, const front_end::chain& c, const Resistance& r_bottom,
                                  const Resistance& r_bias, const Supply& v_supply, const Current& out_of_node) {
    const front_end::open_voltage open{front_end::branches_of(c.input)};
    return c.amplifier ? e.apply(open, r_bottom, r_bias, v_supply, out_of_node) : e.apply(open, r_bottom, r_bias, v_supply);
}

/// What a reference gives by itself: its stated output, or its part's.
template <class Evaluation>
[[nodiscard]] auto own_voltage(const Evaluation& e, const reference& r, const std::string& at, const std::string& where) {
    const std::string id = identity::reference(r.id);
    if (r.output)
        return e.apply(stated_with_error{r.output->value, error_scale(*r.output)}, e.template input<ratio>(id + "/error"));
    if (!r.part) {
        throw bad_input(where, "reference \"" + r.id + "\" without a voltage",
                        "a value with U and k or limits, a part, a divider, or a meter with its reading",
                        "state the voltage at the step or with the reference");
    }
    return e.apply(part_output{r.part->nominal}, e.template input<ratio>(id + "/initial deviation"),
                   e.template input<ratio>(identity::temperature(at, id)), e.template input<ratio>(id + "/ageing"),
                   e.template input<ratio>(id + "/regulation"), e.template input<voltage>(at + "/noise of " + id));
}

/// The voltage at the connector, by a reference as it stands there, through its divider or from its source, loaded by this input.
template <class Evaluation>
[[nodiscard]] auto applied_voltage(const Evaluation& e, const std::string& of_range, const front_end::chain& c,
                                   const std::vector<reference>& references, const applied& a, const moment& when) {
    const std::string& at = when.id;
    const std::string where = "applied voltage, " + of_range;
    const reference& r = find(references, a.reference, where);
    const std::string id = identity::reference(r.id);
    const auto under_load = [&](const auto& v, const auto& r_source) {
        const front_end::branches present = front_end::branches_of(c.input);
        const auto r_top = part(e, identity::part(of_range, "top"), top(c));
        const auto r_bottom = part(e, identity::part(of_range, "bottom"), bottom(c));
        const auto r_bias = part(e, identity::part(of_range, "bias"), bias(c));
        const auto drawn = c.amplifier ? current_at(e, of_range, at) : e.constant(current());
        const auto open = open_connector(e, c, r_bottom, r_bias, supply(e, of_range, c), drawn);
        return e.apply(front_end::loaded{}, v, r_source, with_leakage(e, of_range, c, open, r_bottom, r_bias, 1.0 * one),
                       e.apply(front_end::input_resistance{present}, r_top, r_bottom, r_bias));
    };
    if (r.divider && !a.stated) {
        const reference& from = find(references, r.divider->from, where);
        const auto arm = [&](const char* name, const front_end::resistor& nominal) {
            const std::string of_arm = id + "/" + name;
            return e.apply(front_end::deviated{}, part(e, of_arm, &nominal),
                           e.template input<ratio>(identity::temperature(at, of_arm)));
        };
        const auto upper = arm("top", r.divider->top);
        const auto lower = arm("bottom", r.divider->bottom);
        const auto given = e.apply(divider_voltage{}, own_voltage(e, from, at, where), upper, lower);
        return under_load(a.reversed ? e.apply(negated{}, given) : given, e.apply(divider_source_resistance{}, upper, lower));
    }
    auto alone = [&] {
        if (a.carried) return e.template linear<voltage>(a.carried->value, a.carried->by);
        if (a.stated)
            return e.apply(stated_with_error{a.stated->value, error_scale(*a.stated)}, e.template input<ratio>(id + "/error"));
        if (a.indicated && r.meter) {
            return e.apply(metered{*a.indicated, *r.meter, growth_of_limits(*r.meter, when)},
                           e.template input<ratio>(id + "/error of reading"), e.template input<ratio>(id + "/error of counts"),
                           e.template input<voltage>(at + "/resolution of " + id));
        }
        const auto given = own_voltage(e, r, at, where);
        return a.reversed ? e.apply(negated{}, given) : given;
    }();
    if (!a.source) return alone;
    const auto r_source = part(e, identity::source(at, a.source_id), &*a.source);
    return under_load(r.meter ? e.apply(without_meter{r.meter->input_resistance}, alone, r_source) : alone, r_source);
}

/// Nominal resistance of what drives the connector, 0 where its voltage was measured there.
[[nodiscard]] inline resistance resistance_behind(const applied& a, const std::vector<reference>& references,
                                                  const std::string& where) {
    if (a.source) return a.source->nominal;
    if (a.stated || a.carried) return {};
    const reference& r = find(references, a.reference, where);
    return r.divider ? divider_source_resistance{}(r.divider->top.nominal, r.divider->bottom.nominal) : resistance();
}

/// The voltage at the connector that gives, from a source without resistance, the code that the applied one gives from its own: what the
/// sampling capacitor takes off by the source's resistance is an error of the step.
template <class Evaluation>
[[nodiscard]] auto applied_as_read(const Evaluation& e, const range_calibration& of, const std::vector<reference>& references,
                                   const applied& a, const moment& when) {
    const std::string id = identity::range(of.channel, of.range);
    auto v = applied_voltage(e, id, of.chain, references, a, when);
    const resistance source = resistance_behind(a, references, "applied voltage, " + id);
    if (!(source > resistance()) || e.inputs.find(identity::sampling_capacitor(id)) == nullptr) return v;
    const ratio gain = front_end::gain_away_from(of.chain, of.mode, *of.chain.pin, of.mode.sample_rate, source);
    return e.apply(off_about{front_end::nominal_offset(of.chain), gain.value()}, v,
                   e.template input<ratio>(identity::sampling_capacitor(id)));
}

/// Non-linearity at a code. `at` names the input where it is stepped; a bow is the same everywhere.
template <class Evaluation>
[[nodiscard]] auto nonlinearity(const Evaluation& e, const std::string& of_range, const front_end::converter& adc,
                                const std::string& at, codes c) {
    if (adc.shape == front_end::converter::inl_shape::stepped) return e.template input<codes>(at + "/nonlinearity");
    return e.apply(bow{c, static_cast<double>(adc.top_code()) * code},
                   e.template input<codes>(identity::part(of_range, "converter") + "/bow"));
}

/// Mean code of a step or check point: what was seen, what quantisation, hum, slow noise and non-linearity may hide. `at` names the step's
/// inputs; those of hum and slow noise are there where the capture shows them, or is too short to show hum and a stated disturbance.
template <class Evaluation, class Nonlinearity>
[[nodiscard]] auto captured_code_by(const Evaluation& e, const std::string& at, const Nonlinearity& inl) {
    auto seen = e.apply(sum{}, e.template input<codes>(at + "/mean"), e.template input<codes>(at + "/quantisation"), inl);
    for (const std::string& id :
         {identity::hum(at), identity::unseen_hum(at), identity::slow_disturbance(at), identity::slow_noise(at)}) {
        if (e.inputs.find(id) != nullptr) seen = e.apply(sum{}, seen, e.template input<codes>(id));
    }
    return seen;
}

/// The same with the data sheet's non-linearity at the mean code.
template <class Evaluation>
[[nodiscard]] auto captured_code(const Evaluation& e, const std::string& of_range, const front_end::converter& adc,
                                 const std::string& at, codes mean) {
    return captured_code_by(e, at, nonlinearity(e, of_range, adc, at, mean));
}

/// Code of a reading. own(id) fetches one of its inputs, or one made after it; inl is its non-linearity.
template <class Evaluation, class Own, class Nonlinearity>
[[nodiscard]] auto read_code_by(const Evaluation& e, const std::string& of_range, codes c, double samples, const Own& own,
                                const Nonlinearity& inl) {
    const std::string at = identity::reading(of_range);
    auto noise = own(at + "/noise");
    if (e.inputs.find(identity::hum(at)) != nullptr) noise = e.apply(sum{}, noise, own(identity::hum(at)));
    auto read = e.apply(averaged_code{samples}, e.constant(c), noise, own(at + "/quantisation"), inl);
    for (const std::string& id : {identity::slow_disturbance(at), identity::slow_noise(at)}) {
        if (e.inputs.find(id) != nullptr) read = e.apply(sum{}, read, own(id));
    }
    return read;
}

/// An error, several times.
struct times {
    double factor;
    template <class Code>
    [[nodiscard]] constexpr auto operator()(const Code& c) const {
        return factor * c;
    }
};

/// The non-linearity at a code as the residuals of many points show it, with the scatter of the points that make the line there. One input
/// of this evaluation: an input per point would count the same few degrees of freedom n times.
template <class Evaluation>
[[nodiscard]] auto measured_nonlinearity(const Evaluation& e, const line_of_points& by, const std::string& at,
                                         const std::string& label, codes c) {
    double squares = 1.0;
    for (const weighted_point& p : by.points) {
        const double d = p.of_height + p.of_slope * (c - by.centre).value();
        squares += d * d;
    }
    const auto scatter =
        e.template given<codes>({at + "/nonlinearity measured", "non-linearity and scatter of the points, " + label,
                                 "residuals of " + std::to_string(by.points.size()) + " points", unit_symbol<codes>, 0.0,
                                 uncertainty::repeated{by.nonlinearity.value(), by.degrees_of_freedom}});
    return e.apply(times{std::sqrt(squares)}, scatter);
}

/// Where the residuals of a range's points take the place of the data sheet's non-linearity.
[[nodiscard]] inline const line_of_points* measured(const range_calibration& of) {
    return of.points && of.points->measured ? &*of.points : nullptr;
}

/// Code of a reading. Where several readings stand in one result `which` tells their noise apart; "" for a single one.
template <class Evaluation>
[[nodiscard]] auto read_code(const Evaluation& e, const std::string& of_range, const front_end::converter& adc, codes c,
                             double samples, const std::string& which = "", const line_of_points* points = nullptr) {
    const std::string at = identity::reading(of_range);
    const auto own = [&](const std::string& id) {
        if (which.empty()) return e.template input<codes>(id);
        uncertainty::input another = *e.inputs.at(id);
        another.id += ", " + which;
        another.label += ", " + which;
        return e.template given<codes>(std::move(another));
    };
    const bool stepped = adc.shape == front_end::converter::inl_shape::stepped;
    const std::string suffix = which.empty() ? "" : ", " + which;
    return read_code_by(e, of_range, c, samples, own,
                        points != nullptr ? measured_nonlinearity(e, *points, at + suffix, "reading" + suffix, c)
                        : stepped         ? own(at + "/nonlinearity")
                                          : nonlinearity(e, of_range, adc, at, c));
}

/// A part's change by temperature as one input: its coefficient, the same at all times, times the difference at the moment that `at` names, the
/// same for all parts. In the coefficient's unit times kelvin: relative of most parts, volts and amperes of an amplifier.
[[nodiscard]] inline uncertainty::input temperature_effect(const uncertainty::input& coefficient, const std::string& part_id,
                                                           const std::string& at, const std::string& at_label, kelvins difference,
                                                           kelvins half_width, const std::string& difference_name) {
    return {identity::temperature(at, part_id),
            coefficient.label + " times temperature difference, " + at_label,
            coefficient.source,
            coefficient.unit.substr(0, coefficient.unit.rfind("/K")),
            0.0,
            uncertainty::coefficient_times_difference{std::get<uncertainty::rectangular>(coefficient.spread).half_width,
                                                      difference.value(), half_width.value(), coefficient.id,
                                                      at + "/" + difference_name}};
}

/// The difference that all parts of the instrument, and a divider beside it, have at one moment.
inline constexpr const char* instrument_difference = "temperature difference";

/// Effects of a step or check point: inputs of the record.
template <class Evaluation>
struct effects_of_step {
    const Evaluation& e;
    std::string at;
    template <class Change = ratio>
    [[nodiscard]] auto operator()(const std::string& part_id, Change = {}) const {
        return e.template input<Change>(identity::temperature(at, part_id));
    }
    [[nodiscard]] auto leakage(const std::string& id) const { return (*this)(id); }
};

/// Effects of a reading: inputs of this one evaluation, by the conditions of the reading.
template <class Evaluation>
struct effects_of_reading {
    const Evaluation& e;
    std::string of_range;
    reading_conditions when;
    template <class Change = ratio>
    [[nodiscard]] auto operator()(const std::string& part_id, Change = {}) const {
        return e.template given<Change>(temperature_effect(*e.inputs.at(identity::coefficient(part_id)), part_id,
                                                           identity::reading(of_range), "reading", when.temperature_difference,
                                                           when.temperature_half_width, instrument_difference));
    }
    [[nodiscard]] auto leakage(const std::string& id) const {
        return e.template given<ratio>(growth_of_leakage(*e.inputs.at(id), identity::reading(of_range), "reading",
                                                         when.temperature_difference, when.temperature_half_width));
    }
};

/// The resistors that set an amplifier's gain; none of a follower, which has a feedback of 0 ohm.
[[nodiscard]] inline const front_end::resistor* feedback(const front_end::chain& c) {
    return c.amplifier && c.amplifier->gain ? &c.amplifier->gain->feedback : nullptr;
}
[[nodiscard]] inline const front_end::resistor* ground(const front_end::chain& c) {
    return c.amplifier && c.amplifier->gain ? &c.amplifier->gain->ground : nullptr;
}

/// What the chain by its data sheet reads at mean code c; each resistor is given by a function of its id.
template <class Evaluation, class Code, class Offset, class Gain, class ConverterReference, class Supply, class Part>
[[nodiscard]] auto nominal(const Evaluation& e, const std::string& of_range, const front_end::chain& chain, const Code& c,
                           const Offset& offset, const Gain& gain_error, const ConverterReference& v_reference,
                           const Supply& v_supply, const Part& resistor, const amplifier_errors<Evaluation>& errors) {
    if (chain.amplifier) {
        const auto output = e.apply(front_end::converter_voltage{chain.adc.bits}, c, offset, gain_error, v_reference);
        const auto r_feedback = feedback(chain) == nullptr
                                    ? e.constant(0.0 * ohm)
                                    : resistor(identity::part(of_range, identity::amplifier_feedback), feedback(chain));
        const auto node = e.apply(front_end::before_amplifier{}, output, errors.offset, errors.into_minus, errors.one_over_a,
                                  r_feedback, resistor(identity::part(of_range, identity::amplifier_ground), ground(chain)));
        return e.apply(front_end::connector_voltage{front_end::branches_of(chain.input)}, node,
                       resistor(identity::part(of_range, "top"), top(chain)),
                       resistor(identity::part(of_range, "bottom"), bottom(chain)),
                       resistor(identity::part(of_range, "bias"), bias(chain)), v_supply, errors.into_plus);
    }
    return e.apply(front_end::nominal_reading{chain.adc.bits, front_end::branches_of(chain.input)}, c, offset, gain_error,
                   v_reference, resistor(identity::part(of_range, "top"), top(chain)),
                   resistor(identity::part(of_range, "bottom"), bottom(chain)),
                   resistor(identity::part(of_range, "bias"), bias(chain)), v_supply);
}

/// How far the connector's voltage is from what the chain would read at the temperature of the calibration: the chain with its parts warm
/// less the chain with its parts nominal, both at mean code c, less what the pin leaks more. Estimated as zero. `effect` gives a part's relative
/// change, and the leakage's growth.
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
    amplifier_errors<Evaluation> cold_errors{e.constant(voltage()), e.constant(current()), e.constant(current()), no_error};
    if (chain.amplifier) cold_errors.one_over_a = e.constant(front_end::nominal_one_over_a(*chain.amplifier));
    amplifier_errors<Evaluation> warm_errors = cold_errors;
    if (chain.amplifier) {
        warm_errors.offset = effect(identity::part(of_range, identity::amplifier_offset), voltage());
        warm_errors.into_plus = effect(identity::part(of_range, identity::amplifier_into_plus), current());
        warm_errors.into_minus = effect(identity::part(of_range, identity::amplifier_into_minus), current());
    }
    auto shift = e.apply(difference{},
                         nominal(e, of_range, chain, at, no_offset, no_error, warm_reference, warm_supply, warm, warm_errors),
                         nominal(e, of_range, chain, at, no_offset, no_error, e.constant(chain.adc.reference),
                                 e.constant(supply_value), cold, cold_errors));
    if (!leaks(e, of_range, chain)) return shift;
    return e.apply(off_by{-1.0 * shift_by_leakage(chain)}, shift, effect.leakage(identity::leakage(of_range)));
}

/// A chain's reading by its data sheet with what the pin takes off and adds before any calibration.
template <class Evaluation, class Voltage>
[[nodiscard]] auto with_pin(const Evaluation& e, const range_calibration& of, Voltage v, const reading_conditions& when) {
    const std::string id = identity::range(of.channel, of.range);
    if (leaks(e, id, of.chain))
        v = e.apply(off_by{-1.0 * shift_by_leakage(of.chain)}, v, e.template input<ratio>(identity::leakage(id)));
    if (e.inputs.find(identity::sampling_capacitor(id)) == nullptr) return v;
    const ratio gain = front_end::gain_by_sampling(of.chain, mode_at(of, when), *of.chain.pin);
    return e.apply(off_about{front_end::nominal_offset(of.chain), 1.0 / (1.0 + gain.value()) - 1.0}, v,
                   e.template input<ratio>(identity::sampling_capacitor(id)));
}

/// The uncalibrated reading: initial deviations by data sheet, temperature, and the pin.
template <class Evaluation>
[[nodiscard]] auto uncalibrated(const Evaluation& e, const range_calibration& of, codes c, const reading_conditions& when) {
    const std::string of_range = identity::range(of.channel, of.range);
    const front_end::chain& chain = of.chain;
    const std::string adc = identity::part(of_range, "converter");
    const auto deviating = [&](const std::string& id, const front_end::resistor* r) { return part(e, id, r); };
    auto noise = e.template input<codes>(adc + "/noise");
    if (e.inputs.find(identity::thermal_noise(of_range)) != nullptr)
        noise = e.apply(sum{}, noise, e.template input<codes>(identity::thermal_noise(of_range)));
    const auto seen = e.apply(averaged_code{when.samples}, e.constant(c), noise, e.template input<codes>(adc + "/quantisation"),
                              nonlinearity(e, of_range, chain.adc, identity::reading(of_range), c));
    const auto by_parts = e.apply(sum{},
                                  nominal(e, of_range, chain, seen, e.template input<codes>(adc + "/offset"),
                                          e.template input<ratio>(adc + "/gain error"), converter_reference(e, of_range, chain),
                                          supply(e, of_range, chain), deviating, initial_errors(e, of_range, chain)),
                                  temperature_shift(e, of_range, chain, c, effects_of_reading<Evaluation>{e, of_range, when}));
    return with_pin(e, of, by_parts, when);
}

/// One step as the arguments of the line: its code, and the voltage that would have given the same code at the temperature of the
/// calibration. With r the span fraction, a shift at the zero step so enters a reading with -(1 - r), one at the reference step with -r.
template <class Evaluation>
struct end_of_line {
    using code_type =
        decltype(captured_code(std::declval<Evaluation>(), std::string(), front_end::converter(), std::string(), codes()));
    using voltage_type = decltype(std::declval<Evaluation>().constant(voltage()));
    code_type m;
    voltage_type v;

    end_of_line(const Evaluation& e, const range_calibration& of, const std::vector<reference>& references, const step& s,
                const std::string& at)
        : m(captured_code(e, identity::range(of.channel, of.range), of.chain.adc, at, s.seen.mean)),
          v(e.apply(difference{},
                    applied_as_read(e, of, references, s.source, {at, {}, {}, of.ambient, of.temperature_half_width}),
                    temperature_shift(e, identity::range(of.channel, of.range), of.chain, s.seen.mean,
                                      effects_of_step<Evaluation>{e, at}))) {}
};

/// A further step, which stands at one moment of a drift that is taken off zero and reference: its voltage is off by what the drift is there.
template <class Evaluation>
[[nodiscard]] end_of_line<Evaluation> further_end(const Evaluation& e, const range_calibration& of,
                                                  const std::vector<reference>& references, const named_step& s) {
    const std::string id = identity::range(of.channel, of.range);
    end_of_line<Evaluation> end(e, of, references, s.seen, identity::further_step(id, s.name));
    if (of.points->drift) end.v = e.apply(sum{}, end.v, e.template input<voltage>(identity::drift_of_points(id)));
    return end;
}

/// The line from the zero step to the reference step, and where there is a negative step the one from the zero step to that. Where the range
/// has further points, the one line through all.
template <class Evaluation>
struct line {
    codes knee;
    bool negative_is_below;
    end_of_line<Evaluation> zero;
    end_of_line<Evaluation> reference;
    std::optional<end_of_line<Evaluation>> negative;
    const line_of_points* points;
    std::vector<end_of_line<Evaluation>> further{};
    std::vector<codes> means{};  ///< of the points

    line(const Evaluation& e, const range_calibration& of, const std::vector<calibration::reference>& references)
        : knee(of.zero.seen.mean),
          negative_is_below(of.reference.seen.mean > knee),
          zero(e, of, references, of.zero, identity::zero(identity::range(of.channel, of.range))),
          reference(e, of, references, of.reference, identity::reference_step(identity::range(of.channel, of.range))),
          points(of.points ? &*of.points : nullptr) {
        if (of.negative) {
            negative.emplace(e, of, references, *of.negative, identity::negative_step(identity::range(of.channel, of.range)));
        }
        if (points == nullptr) return;
        for (const named_step& s : points->more) further.push_back(further_end(e, of, references, s));
        means = {of.zero.seen.mean, of.reference.seen.mean};
        if (of.negative) means.push_back(of.negative->seen.mean);
        for (const named_step& s : points->more) means.push_back(s.seen.seen.mean);
    }

    /// @param estimate  of c, tells the side
    template <class Code>
    [[nodiscard]] auto at(const Evaluation& e, const Code& c, codes estimate) const {
        if (points != nullptr) {
            return e.apply(by_height_and_slope{points->centre}, c,
                           weighted(e, points->height, [](const weighted_point& p) { return p.of_height; }),
                           weighted(e, points->slope, [](const weighted_point& p) { return p.of_slope * (1.0 / code); }));
        }
        return through(e, c, negative && (estimate < knee) == negative_is_below ? *negative : reference);
    }
    template <class Code>
    [[nodiscard]] auto through(const Evaluation& e, const Code& c, const end_of_line<Evaluation>& second) const {
        return e.apply(two_point_reading{}, c, zero.m, second.m, zero.v, second.v);
    }
    [[nodiscard]] auto gain(const Evaluation& e, const end_of_line<Evaluation>& second) const {
        return e.apply(two_point_gain{}, zero.m, second.m, zero.v, second.v);
    }

private:
    /// Height or slope of the line through the points. Where residuals are the non-linearity, they hold the points' codes too.
    template <class Quantity, class Weight>
    [[nodiscard]] auto weighted(const Evaluation& e, Quantity estimate, const Weight& weight) const {
        auto y = e.constant(estimate);
        const volts_per_code slope = points->measured ? volts_per_code() : points->slope;
        for (std::size_t i = 0; i < points->points.size(); ++i) {
            const std::size_t steps = points->points.size() - further.size();
            const end_of_line<Evaluation>& p = i == 0 ? zero : i == 1 ? reference : i < steps ? *negative : further[i - steps];
            const with_point<decltype(weight(points->points[i]))> add{weight(points->points[i]), points->points[i].applied, slope,
                                                                      means[i]};
            y = e.apply(add, y, p.v, p.m);
        }
        return y;
    }
};

/// The corrected reading. `c` is the code with its own inputs, from read_code or captured_code; c_estimate its estimate; `effect` gives the
/// parts' change by temperature when it was read.
template <class Evaluation, class Code, class Effect>
[[nodiscard]] auto corrected(const Evaluation& e, const range_calibration& of, const line<Evaluation>& steps, const Code& c,
                             codes c_estimate, const Effect& effect) {
    return e.apply(sum{}, steps.at(e, c, c_estimate),
                   temperature_shift(e, identity::range(of.channel, of.range), of.chain, c_estimate, effect));
}

/// A reading at another temperature by measured coefficients. They are not used to correct, since the instrument does not: what they make of a
/// difference that is known counts as an error that stands at that size.
template <class Evaluation, class Voltage>
[[nodiscard]] auto at_temperature(const Evaluation& e, const range_calibration& of, const Voltage& v,
                                  const reading_conditions& when) {
    const seen_at_two_temperatures& t = *of.temperatures;
    const std::string at = identity::reading(identity::range(of.channel, of.range));
    const auto effect = [&](const char* name, const char* label, const char* unit, double limit) -> uncertainty::input {
        return {at + '/' + name,
                std::string(label) + " times temperature difference, reading",
                "calibrations at two temperatures",
                unit,
                0.0,
                uncertainty::coefficient_times_difference{limit, when.temperature_difference.value(),
                                                          when.temperature_half_width.value(), at + '/' + name + " coefficient",
                                                          at + '/' + instrument_difference}};
    };
    const char* const gain = "gain by temperature";
    const char* const offset = "offset by temperature";
    if (!t.middle) {
        return e.apply(by_temperature{}, v,
                       e.template given<ratio>(effect(gain, "gain, measured coefficient", unit_symbol<ratio>,
                                                      std::abs(t.gain.value()) + t.U_gain.value())),
                       e.template given<voltage>(effect(offset, "offset, measured coefficient", unit_symbol<voltage>,
                                                        std::abs(t.offset.value()) + t.U_offset.value())));
    }
    const auto difference = [&](const char* name, const char* label, uncertainty::distribution spread) {
        return e.template given<kelvins>({at + '/' + name, std::string(label) + " times measured coefficients",
                                          "conditions of the reading", unit_symbol<kelvins>, 0.0, std::move(spread)});
    };
    const auto unknown = difference("temperature", "temperature difference, what is not known of it",
                                    uncertainty::rectangular{when.temperature_half_width.value()});
    const double known = std::abs(when.temperature_difference.value());
    constexpr double same_u = 0.8660254037844386;  // sqrt(3) / 2: a rectangular coefficient with the u of U, k = 2
    return e.apply(by_measured_temperature{*t.middle, t.gain}, v,
                   known > 0.0 ? difference("known temperature", "temperature difference", uncertainty::two_point{known})
                               : e.constant(kelvins()),
                   unknown,
                   e.template given<ratio>(
                       effect(gain, "gain, uncertainty of its coefficient", unit_symbol<ratio>, same_u * t.U_gain.value())),
                   e.template given<voltage>(effect(offset, "offset, uncertainty of its coefficient", unit_symbol<voltage>,
                                                    same_u * t.middle->U.value())));
}

/// The corrected reading of one evaluation at code c, under the conditions given: with temperature by data sheets or by what was measured, and
/// with what comes in from other channels. `which` as with read_code.
template <class Evaluation>
[[nodiscard]] auto reading(const Evaluation& e, const range_calibration& of, const line<Evaluation>& steps, codes c,
                           const reading_conditions& when, const std::string& which = "") {
    const std::string id = identity::range(of.channel, of.range);
    const auto seen = read_code(e, id, of.chain.adc, c, when.samples, which, measured(of));
    auto y = of.temperatures ? at_temperature(e, of, steps.at(e, seen, c), when)
                             : corrected(e, of, steps, seen, c, effects_of_reading<Evaluation>{e, id, when});
    for (const seen_crosstalk& other : of.crosstalk) {
        uncertainty::input row = *e.inputs.at(identity::crosstalk(id, other.channel));
        if (!which.empty()) {
            row.id += ", " + which;
            row.label += ", " + which;
        }
        y = e.apply(sum{}, y, e.template given<voltage>(std::move(row)));
    }
    if (!at_another_rate(of, when)) return y;
    return by_sampling(e, of, y, front_end::nominal_offset(of.chain), of.mode, *when.sample_rate, resistance());
}

/// Mean code of what the range's line turns into volts, with the non-linearity that it has by data sheet or by its points.
template <class Evaluation>
[[nodiscard]] auto code_to_correct(const Evaluation& e, const range_calibration& of, const std::string& at, codes mean) {
    const line_of_points* points = measured(of);
    if (points == nullptr) return captured_code(e, identity::range(of.channel, of.range), of.chain.adc, at, mean);
    return captured_code_by(e, at, measured_nonlinearity(e, *points, at, at.substr(at.rfind('/') + 1), mean));
}

/// Difference of two readings, second minus first, with what they share.
template <class Evaluation>
[[nodiscard]] auto difference_of_readings(const Evaluation& e, const range_calibration& of, const line<Evaluation>& steps,
                                          codes first, codes second, const reading_conditions& when) {
    const auto one = [&](codes c, const char* which) { return reading(e, of, steps, c, when, which); };
    return e.apply(difference{}, one(second, "second reading"), one(first, "first reading"));
}

/// By how much noise may widen a capture's peak to peak at each end: the mean of the largest of so many normal values of this u.
[[nodiscard]] double widest_by_noise(double u, double samples);

/// Peak to peak: the difference of the end codes, less half of what noise may have widened it by.
template <class Evaluation>
[[nodiscard]] auto peak_to_peak(const Evaluation& e, const range_calibration& of, const line<Evaluation>& steps, codes lowest,
                                codes highest, double samples, const reading_conditions& when) {
    const std::string at = identity::reading(identity::range(of.channel, of.range));
    const uncertainty::shared_input noise = e.inputs.at(at + "/noise");
    double one_sample = uncertainty::standard_uncertainty(noise->spread);
    if (const auto hum = e.inputs.find(identity::hum(at)); hum != nullptr) {
        one_sample = std::hypot(one_sample, uncertainty::standard_uncertainty(hum->spread));
    }
    const double widest = widest_by_noise(one_sample, samples);
    const auto widened = e.template given<codes>({at + "/widening", "widening by noise, both ends together", noise->source,
                                                  unit_symbol<codes>, widest, uncertainty::rectangular{widest}});
    return e.apply(difference{}, difference_of_readings(e, of, steps, lowest, highest, when),
                   e.apply(straight{of.result.gain, voltage()}, widened));
}

/// How far a reading's gain may have moved because an amplifier's open-loop gain is another in use than it was at the calibration: 1/A is
/// anywhere between 0 and its limit each time.
[[nodiscard]] inline uncertainty::input change_of_open_loop_gain(const std::string& at, const front_end::amplifier_stage& a) {
    const ratio most = 1.0 / a.open_loop_gain / front_end::nominal_inverse_gain(a);
    return {
        at + "/gain by open-loop gain",       "amplifier, change of its open-loop gain", "data sheet", unit_symbol<ratio>, 0.0,
        uncertainty::triangular{most.value()}};
}

/// A result that has moved since the calibration: by its gain, and by its offset where that does not cancel.
template <class Evaluation, class Voltage>
[[nodiscard]] auto in_use(const Evaluation& e, const range_calibration& of, const Voltage& v, const use_conditions& use,
                          bool by_offset) {
    const std::string id = identity::reading(identity::range(of.channel, of.range));
    const auto within = [&](const char* name, const char* label, auto half_width) {
        using quantity = decltype(half_width);
        return e.template given<quantity>({id + '/' + name, label, "conditions of use", unit_symbol<quantity>, 0.0,
                                           uncertainty::rectangular{half_width.value()}});
    };
    const auto offset = [&](const char* name, const char* label, voltage half_width) {
        return by_offset ? within(name, label, half_width) : e.constant(voltage());
    };
    const ratio by_reference = moved_by_its_supply(of, use);
    auto y = e.apply(moved{}, v, within("gain by age", "gain, drift since the calibration", use.gain_per_year * use.years),
                     within("gain by supply", "gain, by the supply", by_reference > ratio(0.0) ? ratio(0.0) : use.gain_by_supply),
                     offset("offset by age", "offset, drift since the calibration", use.offset_per_year * use.years),
                     offset("offset by supply", "offset, by the supply", use.offset_by_supply));
    // Of a difference the centre cancels.
    const auto about = [&](voltage centre) { return turned_about{by_offset ? centre : voltage()}; };
    if (by_reference > ratio(0.0)) {
        y = e.apply(about(front_end::unmoved_by_reference(of.chain)), y,
                    within("reference by supply", "converter's reference, by its supply", by_reference));
    }
    if (of.chain.amplifier) {
        y = e.apply(about(front_end::nominal_offset(of.chain)), y,
                    e.template given<ratio>(change_of_open_loop_gain(id, *of.chain.amplifier)));
    }
    if (by_offset && of.warm_up && of.warm_up->used_from)
        y = e.apply(sum{}, y, e.template given<voltage>(row_of(of, *of.warm_up)));
    return y;
}

/// What is indicated at a check point whose inputs `at` names.
template <class Evaluation>
[[nodiscard]] auto checked(const Evaluation& e, const range_calibration& of, const line<Evaluation>& steps, const step& observed,
                           bool as_found, const std::string& at) {
    const auto seen = as_found ? captured_code(e, identity::range(of.channel, of.range), of.chain.adc, at, observed.seen.mean)
                               : code_to_correct(e, of, at, observed.seen.mean);
    return as_found ? e.apply(straight{of.before->gain, of.before->offset}, seen)
                    : corrected(e, of, steps, seen, observed.seen.mean, effects_of_step<Evaluation>{e, at});
}

}  // namespace plumbline::inline v0::calibration::models
