#include "range_inputs.hpp"

#include "models.hpp"

namespace plumbline::calibration {

namespace {

using uncertainty::input_set;
using uncertainty::normal;
using uncertainty::rectangular;
using uncertainty::repeated;

constexpr const char* data_sheet = "data sheet";

template <class Quantity>
void add(input_set& to, std::string id, std::string label, std::string source, Quantity estimate, uncertainty::distribution d) {
    to.add({std::move(id), std::move(label), std::move(source), unit_symbol<Quantity>, estimate.value(), std::move(d)});
}

std::string source_of(const step& s) {
    return "capture " + s.evidence.file + (s.evidence.column.empty() ? "" : ", column " + s.evidence.column);
}

void add_nonlinearity(input_set& to, const std::string& at, const std::string& label, const front_end::converter& adc) {
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

/// A reference's error in units of its limits or of its u.
uncertainty::distribution unit_error(const stated_voltage& s) {
    if (std::holds_alternative<limits>(s.spread)) return rectangular{1.0};
    return normal{1.0};
}

void add_error(input_set& to, const reference& of, const stated_voltage& s, const std::string& where) {
    const bool with_limits = std::holds_alternative<limits>(s.spread);
    const std::string id = identity::reference(of.id) + "/error";
    const uncertainty::distribution spread = unit_error(s);
    const auto there = to.all().find(id);
    if (there != to.all().end() && there->second->spread != spread) {
        throw bad_input(where, "reference \"" + of.id + "\" stated with U and k in one place and with limits in another",
                        "one form for all uses, since its error is one", "state all its voltages in the same form");
    }
    add(to, id, "error of " + of.description + (with_limits ? ", in units of its limits" : ", in units of its u"),
        of.traceability.empty() ? "stated, no traceability claimed" : of.traceability, ratio(0.0), spread);
}

}  // namespace

void add_captured_code(input_set& to, const std::string& of_range, const moment& at, const step& s,
                       const front_end::chain& chain) {
    const capture::quantisation q = capture::of_mean(s.seen);
    add(to, at.id + "/mean", "mean code, " + at.label, source_of(s), s.seen.mean,
        repeated{s.seen.s.value() / std::sqrt(s.seen.n_eff), std::max(1.0, s.seen.n_eff - 1.0)});
    add(to, at.id + "/quantisation", "quantisation, " + at.label, source_of(s), 0.0 * code, rectangular{q.half_width.value()});
    add_nonlinearity(to, at.id, at.label, chain.adc);
    for (const char* name : {"top", "bottom", "bias", "bias supply", "converter reference"}) {
        const std::string part = identity::part(of_range, name);
        const auto coefficient = to.all().find(identity::coefficient(part));
        if (coefficient == to.all().end()) continue;  // the chain has no such part
        to.add(models::temperature_effect(*coefficient->second, part, at.id, at.label, 0.0 * kelvin, at.temperature_half_width));
    }
}

void add_applied_voltage(input_set& to, const applied& a, const std::vector<reference>& references, const moment& at) {
    const reference& r = models::find(references, a.reference, at.where);
    if (a.stated) return add_error(to, r, *a.stated, at.where);
    if (r.output) return add_error(to, r, *r.output, at.where);
    if (!r.divider) return;  // applied_voltage says what is missing
    const reference& from = models::find(references, r.divider->from, at.where);
    if (from.output) add_error(to, from, *from.output, at.where);
    const auto add_arm = [&](const char* name, const front_end::resistor& arm) {
        const std::string id = identity::reference(r.id) + "/" + name;
        const std::string label = r.description + ", " + name + " resistor";
        add(to, id + "/deviation", label + ", deviation", data_sheet, ratio(0.0), rectangular{arm.tolerance.value()});
        add(to, identity::coefficient(id), label + ", temperature coefficient", data_sheet, per_kelvin(),
            rectangular{arm.temperature_coefficient.value()});
        to.add(models::temperature_effect(*to.at(identity::coefficient(id)), id, at.id, at.label, 0.0 * kelvin,
                                          at.temperature_half_width));
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
    const std::string id = identity::part(of_range, "converter");
    add(to, id + "/offset", "converter, offset", data_sheet, 0.0 * code, rectangular{adc.offset_limit.value()});
    add(to, id + "/gain error", "converter, gain error", data_sheet, ratio(0.0), rectangular{adc.gain_error_limit.value()});
    add(to, id + "/noise", "converter, noise of one sample", data_sheet, 0.0 * code, normal{adc.noise.value()});
    add(to, id + "/quantisation", "converter, quantisation of one sample", "half a code", 0.0 * code, rectangular{0.5});
}

void add_reading(input_set& to, const std::string& of_range, const step& zero, const step& reference,
                 const front_end::converter& adc) {
    const std::string id = identity::reading(of_range);
    const double nu0 = std::max(1.0, zero.seen.n_eff - 1.0);
    const double nu1 = std::max(1.0, reference.seen.n_eff - 1.0);
    const double s0 = zero.seen.s.value();
    const double s1 = reference.seen.s.value();
    // pooled over both steps (JCGM 100:2008, 4.2.4)
    const double pooled = std::sqrt((nu0 * s0 * s0 + nu1 * s1 * s1) / (nu0 + nu1));
    const std::string source = source_of(zero) + "; " + source_of(reference);
    add(to, id + "/noise", "noise of one sample", source, 0.0 * code, repeated{pooled, nu0 + nu1});
    const codes q0 = capture::of_mean(zero.seen).half_width;
    const codes q1 = capture::of_mean(reference.seen).half_width;
    add(to, id + "/quantisation", "quantisation of the reading", source, 0.0 * code, rectangular{std::max(q0, q1).value()});
    add_nonlinearity(to, id, "reading", adc);
}

}  // namespace plumbline::calibration
