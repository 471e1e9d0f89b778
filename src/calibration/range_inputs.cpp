#include "range_inputs.hpp"

#include "../units/figures.hpp"
#include "captured_mean.hpp"
#include "models.hpp"

#include <fmt/format.h>

#include <cmath>
#include <plumbline/capture/report.hpp>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/noise.hpp>

namespace plumbline::inline v0::calibration {

namespace {

using uncertainty::input_set;
using uncertainty::normal;
using uncertainty::rectangular;
using uncertainty::repeated;

constexpr const char* data_sheet = "data sheet";
constexpr const char* stated_for_the_place = "slow disturbance, stated for the place";

template <class Quantity>
void add(input_set& to, std::string id, std::string label, std::string source, Quantity estimate, uncertainty::distribution d) {
    to.add({std::move(id), std::move(label), std::move(source), unit_symbol<Quantity>, estimate.value(), std::move(d)});
}

std::string source_of(const step& s) {
    return "capture " + s.evidence.file + (s.evidence.column.empty() ? "" : ", column " + s.evidence.column);
}

void add_nonlinearity(input_set& to, const std::string& at, const std::string& label, const front_end::converter& adc) {
    if (adc.shape != front_end::converter::inl_shape::stepped) return;  // one bow for the range, from add_front_end
    add(to, at + "/nonlinearity", "integral non-linearity (stepped), " + label, data_sheet, 0.0 * code,
        rectangular{adc.integral_nonlinearity.value()});
}

void add_resistor(input_set& to, const std::string& id, const std::string& label, const front_end::resistor* r) {
    if (r == nullptr) return;
    add(to, id + "/deviation", label + ", initial deviation", data_sheet, ratio(0.0), rectangular{r->tolerance.value()});
    add(to, identity::coefficient(id), label + ", temperature coefficient", data_sheet, per_kelvin(),
        rectangular{r->temperature_coefficient.value()});
}

void add_source(input_set& to, const std::string& id, const std::string& label, ratio tolerance,
                per_kelvin temperature_coefficient) {
    add(to, id + "/deviation", label + ", initial deviation", data_sheet, ratio(0.0), rectangular{tolerance.value()});
    add(to, identity::coefficient(id), label + ", temperature coefficient", data_sheet, per_kelvin(),
        rectangular{temperature_coefficient.value()});
}

template <class Quantity, class Drift>
void add_input_error(input_set& to, const std::string& id, const std::string& label, Quantity limit, Drift drift) {
    add(to, id + "/deviation", label + ", initial", data_sheet, Quantity(), rectangular{limit.value()});
    add(to, identity::coefficient(id), label + ", temperature coefficient", data_sheet, Drift(), rectangular{drift.value()});
}

void add_amplifier(input_set& to, const std::string& of_range, const front_end::chain& chain) {
    if (!chain.amplifier) return;
    const front_end::amplifier_stage& a = *chain.amplifier;
    add_resistor(to, identity::part(of_range, identity::amplifier_feedback), "amplifier's feedback resistor",
                 models::feedback(chain));
    add_resistor(to, identity::part(of_range, identity::amplifier_ground), "amplifier's ground resistor", models::ground(chain));
    add_input_error(to, identity::part(of_range, identity::amplifier_offset), "amplifier, offset", a.offset_limit,
                    a.offset_drift);
    add_input_error(to, identity::part(of_range, identity::amplifier_into_plus), "amplifier, current into its plus input",
                    a.bias_current, a.bias_current_drift);
    add_input_error(to, identity::part(of_range, identity::amplifier_into_minus), "amplifier, current into its minus input",
                    a.bias_current, a.bias_current_drift);
    const ratio middle = front_end::nominal_one_over_a(a);
    add(to, identity::part(of_range, "amplifier") + "/one over open-loop gain", "amplifier, one over its open-loop gain",
        data_sheet, middle, rectangular{middle.value()});
}

/// An error in units of its limits.
uncertainty::distribution of_limits(bool at_limit) {
    if (at_limit) return uncertainty::two_point{1.0};
    return rectangular{1.0};
}

/// A reference's error in units of its limits or of its u.
uncertainty::distribution unit_error(const stated_voltage& s) {
    const auto* within = std::get_if<limits>(&s.spread);
    if (within == nullptr) return normal{1.0};
    return of_limits(within->at_limit);
}

void add_error(input_set& to, const reference& of, const stated_voltage& s, const std::string& where) {
    const bool with_limits = std::holds_alternative<limits>(s.spread);
    const std::string id = identity::reference(of.id) + "/error";
    const uncertainty::distribution spread = unit_error(s);
    const uncertainty::input* there = to.find(id);
    if (there != nullptr && there->spread != spread) {
        throw bad_input(where, "reference \"" + of.id + "\" stated with U and k in one place and with limits in another",
                        "one form for all uses, since its error is one", "state all its voltages in the same form");
    }
    add(to, id, "error of " + of.description + (with_limits ? ", in units of its limits" : ", in units of its u"),
        of.traceability.empty() ? "stated, no traceability claimed" : of.traceability, ratio(0.0), spread);
}

std::string traceability_of(const reference& of) {
    return of.traceability.empty() ? "stated, no traceability claimed" : of.traceability;
}

void add_meter(input_set& to, const reference& of, const applied& a, const moment& at) {
    const meter& m = *of.meter;
    if (!a.indicated) return;  // applied_voltage says what is missing
    if (!(std::abs(a.indicated->value()) <= m.range.value())) {
        throw bad_input(at.where, fmt::format("a reading of {} V on a range of {} V", a.indicated->value(), m.range.value()),
                        "a reading within the range that the specification holds for",
                        "correct the reading, or give the specification of the range that was used");
    }
    const std::string id = identity::reference(of.id);
    add(to, id + "/error of reading", of.description + ": part of reading, in units of its limits", traceability_of(of),
        ratio(0.0), of_limits(m.at_limit));
    add(to, id + "/error of counts", of.description + ": counts, in units of their limits", traceability_of(of), ratio(0.0),
        of_limits(m.at_limit));
    add(to, at.id + "/resolution of " + id, of.description + ": last digit, " + at.label, "half a count", 0.0 * volt,
        rectangular{0.5 * m.count.value()});
}

void add_part(input_set& to, const reference& of, const moment& at) {
    const reference_part& p = *of.part;
    const std::string id = identity::reference(of.id);
    const auto limits_of = [&](const char* name, const char* label, ratio half_width) {
        add(to, id + name, of.description + label, data_sheet, ratio(0.0), rectangular{half_width.value()});
    };
    limits_of("/initial deviation", ", initial deviation", p.initial_tolerance);
    limits_of("/ageing", ", ageing", p.ageing);
    limits_of("/regulation", ", line and load regulation", p.regulation);
    add(to, identity::coefficient(id), of.description + ", temperature coefficient", data_sheet, per_kelvin(),
        rectangular{p.temperature_coefficient.value()});
    to.add(models::temperature_effect(*to.at(identity::coefficient(id)), id, at.id, at.label, at.ambient - p.nominal_temperature,
                                      at.temperature_half_width, "ambient difference from " + id));
    add(to, at.id + "/noise of " + id, of.description + ", noise, " + at.label, data_sheet, 0.0 * volt, normal{p.noise.value()});
}

void add_own_voltage(input_set& to, const reference& of, const moment& at) {
    if (of.output) return add_error(to, of, *of.output, at.where);
    if (of.part) add_part(to, of, at);
}

}  // namespace

void add_captured_code(input_set& to, const std::string& of_range, const moment& at, const step& s, const front_end::chain& chain,
                       const std::optional<scatter_of_turns>& turns, const std::optional<capture::slow_noise>& slow_beside) {
    const captured_mean m = mean_of(s.seen);
    if (turns) {
        add(to, at.id + "/mean", fmt::format("mean code, {}, {} captures in turn", at.label, turns->captures),
            "repetitions in turn", s.seen.mean, repeated{turns->u.value(), turns->degrees_of_freedom});
    } else {
        add(to, at.id + "/mean", "mean code, " + at.label, source_of(s), s.seen.mean,
            repeated{m.u.value(), m.degrees_of_freedom});
    }
    add(to, at.id + "/quantisation", "quantisation, " + at.label, source_of(s), m.to_position,
        rectangular{turns ? std::min(m.half_width, turns->half_width).value() : m.half_width.value()});
    if (s.seen.removed && !turns) {  // what hum does to each of the turns is part of their scatter
        add(to, identity::hum(at.id), "hum in a part of a period, " + at.label, source_of(s), -1.0 * s.seen.removed->shift,
            normal{s.seen.removed->u.value()});
    }
    if (const auto unseen = unseen_hum_of(s, at.lines.hum)) {
        to.add(capture::slow_disturbance(identity::unseen_hum(at.id), at.label,
                                         at.lines.hum ? "hum, stated for the place" : "hum, by the scatter of " + source_of(s),
                                         unseen->largest_shift));
    }
    if (const codes shift = shift_by_slow(at.lines, s.seen.n, s.evidence.sample_rate); shift > codes()) {
        to.add(capture::slow_disturbance(identity::slow_disturbance(at.id), at.label, stated_for_the_place, shift));
    }
    if (const auto& slow = s.seen.slow ? s.seen.slow : slow_beside) {
        add(to, identity::slow_noise(at.id), "slow noise over " + time_text(at.longest_time) + ", " + at.label,
            s.seen.slow ? source_of(s) : "other captures of the range, within the scatter of " + source_of(s), 0.0 * code,
            repeated{wandered(*slow, s, at.longest_time).value(), slow->degrees_of_freedom});
    }
    add_nonlinearity(to, at.id, at.label, chain.adc);
    for (const char* name :
         {"top", "bottom", "bias", "bias supply", "converter reference", identity::amplifier_feedback, identity::amplifier_ground,
          identity::amplifier_offset, identity::amplifier_into_plus, identity::amplifier_into_minus}) {
        const std::string part = identity::part(of_range, name);
        const uncertainty::input* coefficient = to.find(identity::coefficient(part));
        if (coefficient == nullptr) continue;  // the chain has no such part
        to.add(models::temperature_effect(*coefficient, part, at.id, at.label, 0.0 * kelvin, at.temperature_half_width,
                                          models::instrument_difference));
    }
    if (const uncertainty::input* leakage = to.find(identity::leakage(of_range)))
        to.add(models::growth_of_leakage(*leakage, at.id, at.label, 0.0 * kelvin, at.temperature_half_width));
}

namespace {

/// What leaks, samples and makes noise at the converter's pin, where the chain states it. A data sheet's noise is measured from a source without
/// resistance and has kT/C of the sampling capacitor in it (common practice, no source): besides there is what a capacitor at the pin keeps of the
/// resistors' thermal noise. An amplifier keeps all of that from the network.
void add_pin(input_set& to, const std::string& of_range, const front_end::chain& chain) {
    if (!chain.pin || chain.amplifier) return;
    to.add(models::sampling_capacitor(of_range));
    if (chain.pin->leakage > current()) {
        add(to, identity::leakage(of_range), "leakage of the converter's pin, in units of its limits", data_sheet, ratio(0.0),
            rectangular{1.0});
    }
    if (chain.pin->at_pin > capacitance()) {
        const resistance r = front_end::nominal_pin_resistance(chain);
        const voltage rms =
            front_end::thermal_noise(r, {25.0}, front_end::noise_bandwidth(front_end::pole(r, chain.pin->at_pin)));
        add(to, identity::thermal_noise(of_range), "thermal noise of the resistors, of one sample", "Nyquist's formula",
            0.0 * code, normal{std::ldexp((rms / chain.adc.reference).value(), chain.adc.bits)});
    }
}

}  // namespace

void add_applied_voltage(input_set& to, const applied& a, const std::vector<reference>& references, const moment& at) {
    if (a.carried) return;  // its inputs are those of the range that read it
    const reference& r = models::find(references, a.reference, at.where);
    if (a.source) {
        if (r.divider && !a.stated) {
            throw bad_input(at.where, "a source resistance beside the divider \"" + r.id + '"',
                            "the divider alone, whose resistors are its source",
                            "leave the source resistance out, or make it part of the divider");
        }
        if (r.meter && !(r.meter->input_resistance > 0.0 * ohm)) {
            throw bad_input(at.where,
                            fmt::format("a source measured by \"{}\" with an input resistance of {} ohm", r.id,
                                        r.meter->input_resistance.value()),
                            "more than 0 ohm, since the meter loads the source", "give the meter's input resistance");
        }
        // With the nominal value, so that one name for two resistors is refused.
        const std::string which = a.source_id.empty() ? at.label : a.source_id + " of " + shown(a.source->nominal, "ohm");
        add(to, identity::source(at.id, a.source_id) + "/deviation", "resistance of the source, " + which, "stated", ratio(0.0),
            rectangular{a.source->tolerance.value()});
    }
    if (a.stated) return add_error(to, r, *a.stated, at.where);
    if (r.meter) return add_meter(to, r, a, at);
    if (!r.divider) return add_own_voltage(to, r, at);  // applied_voltage says what is missing
    add_own_voltage(to, models::find(references, r.divider->from, at.where), at);
    const auto add_arm = [&](const char* name, const front_end::resistor& arm) {
        const std::string id = identity::reference(r.id) + "/" + name;
        const std::string label = r.description + ", " + name + " resistor";
        add(to, id + "/deviation", label + ", deviation", data_sheet, ratio(0.0), rectangular{arm.tolerance.value()});
        add(to, identity::coefficient(id), label + ", temperature coefficient", data_sheet, per_kelvin(),
            rectangular{arm.temperature_coefficient.value()});
        const std::optional<celsius>& nominal = r.divider->nominal_temperature;
        to.add(models::temperature_effect(
            *to.at(identity::coefficient(id)), id, at.id, at.label, nominal ? at.ambient - *nominal : 0.0 * kelvin,
            at.temperature_half_width,
            nominal ? "ambient difference from " + identity::reference(r.id) : models::instrument_difference));
    };
    add_arm("top", r.divider->top);
    add_arm("bottom", r.divider->bottom);
}

void add_front_end(input_set& to, const std::string& of_range, const front_end::chain& chain) {
    const front_end::converter& adc = chain.adc;
    add_resistor(to, identity::part(of_range, "top"), "top resistor", models::top(chain));
    add_resistor(to, identity::part(of_range, "bottom"), "bottom resistor", models::bottom(chain));
    add_resistor(to, identity::part(of_range, "bias"), "bias resistor", models::bias(chain));
    if (chain.input.bias && !chain.input.bias->from_converter_reference) {
        add_source(to, identity::part(of_range, "bias supply"), "bias supply", chain.input.bias->supply_tolerance,
                   chain.input.bias->supply_temperature_coefficient);
    }
    add_source(to, identity::part(of_range, "converter reference"), "converter's reference", adc.reference_tolerance,
               adc.reference_temperature_coefficient);
    add_amplifier(to, of_range, chain);
    const std::string id = identity::part(of_range, "converter");
    add(to, id + "/offset", "converter, offset", data_sheet, 0.0 * code, rectangular{adc.offset_limit.value()});
    add(to, id + "/gain error", "converter, gain error", data_sheet, ratio(0.0), rectangular{adc.gain_error_limit.value()});
    add(to, id + "/noise", "converter, noise of one sample", data_sheet, 0.0 * code, normal{adc.noise.value()});
    add(to, id + "/quantisation", "converter, quantisation of one sample", "half a code", 0.0 * code, rectangular{0.5});
    add_pin(to, of_range, chain);
    if (adc.shape == front_end::converter::inl_shape::smooth) {
        add(to, id + "/bow", "integral non-linearity (one bow)", data_sheet, 0.0 * code,
            rectangular{adc.integral_nonlinearity.value()});
    }
}

void add_reading(input_set& to, const std::string& of_range, const std::vector<step>& seen, const front_end::converter& adc,
                 duration longest_time, const stated_lines& lines, const std::vector<repeated_capture>& turns) {
    const std::string id = identity::reading(of_range);
    std::string source;
    for (const step& s : seen) source += (source.empty() ? "" : "; ") + source_of(s);
    const sampled_noise noise = noise_of(seen, longest_time, lines, turns);
    add(to, id + "/noise", "noise of one sample", source, 0.0 * code, repeated{noise.u.value(), noise.degrees_of_freedom});
    add(to, id + "/quantisation", "quantisation of the reading", source, 0.0 * code, rectangular{noise.half_width.value()});
    if (noise.hum > 0.0 * code) {
        add(to, identity::hum(id), "hum in one sample", source, 0.0 * code, uncertainty::arcsine{noise.hum.value()});
    }
    if (noise.wandered > 0.0 * code) {
        add(to, identity::slow_noise(id), "slow noise over " + time_text(longest_time) + ", reading", source, 0.0 * code,
            repeated{noise.wandered.value(), noise.degrees_of_wandering});
    }
    if (noise.slow > 0.0 * code) {
        to.add(capture::slow_disturbance(identity::slow_disturbance(id), "reading", stated_for_the_place, noise.slow));
    }
    add_nonlinearity(to, id, "reading", adc);
}

}  // namespace plumbline::inline v0::calibration
