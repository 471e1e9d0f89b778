#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/calibration/transfer.hpp>

#include "captured_mean.hpp"
#include "findings.hpp"
#include "models.hpp"
#include "range_inputs.hpp"
#include "step_checks.hpp"

#include <fmt/format.h>

#include <plumbline/capture/quantisation.hpp>
#include <plumbline/conformity/conformance.hpp>

namespace plumbline::inline v0::calibration {

std::string place(const std::string& step_name, const std::string& channel, const std::string& range) {
    return step_name + ", channel " + channel + ", range " + range;
}

void expect_samples(const step& s, const std::string& where) {
    if (s.seen.n < 2) {
        throw bad_step(bad_step::reason::too_few_samples, where, fmt::format("{} sample", s.seen.n), "at least 2",
                       "capture more: one sample shows no scatter");
    }
    if (!std::isfinite(s.seen.mean.value()) || !std::isfinite(s.seen.s.value()) || !(s.seen.n_eff >= 1.0)) {
        throw bad_step(bad_step::reason::not_finite, where,
                       fmt::format("a mean code of {} with a scatter of {}", s.seen.mean.value(), s.seen.s.value()),
                       "finite figures", "look at the capture");
    }
}

void expect_unclipped(const step& s, const front_end::converter& adc, const std::string& where, const std::string& at_bottom,
                      const std::string& at_top) {
    constexpr double most_on_an_end_code =
        1e-3;  // of the samples; noise alone seldom reaches an end code that the signal does not
    const auto refuse = [&](std::size_t count, std::int32_t end, const std::string& remedy) {
        if (static_cast<double>(count) <= most_on_an_end_code * static_cast<double>(s.seen.n)) return;
        throw bad_step(bad_step::reason::clipped, where, fmt::format("{} of {} samples on code {}", count, s.seen.n, end),
                       "at most 1 in 1000 on an end code", remedy);
    };
    refuse(s.seen.at_bottom, adc.bottom_code(), at_bottom);
    refuse(s.seen.at_top, adc.top_code(), at_top);
}

namespace {

constexpr double undocumented_gain = 0.05;  // what data sheets do not say: sampling capacitor, leakage
constexpr double tolerance_reach = 4.0;     // standard uncertainties by the data sheets

void expect_stated(const voltage v, const std::string& where) {
    if (!std::isfinite(v.value())) {
        throw bad_step(bad_step::reason::not_finite, where, fmt::format("an applied voltage of {} V", v.value()),
                       "a finite voltage", "correct the session");
    }
}

void expect_span(const step& zero, const step& second, voltage v0, voltage v1, const range_setup& setup,
                 const std::string& where) {
    const codes m0 = zero.seen.mean;
    const codes m1 = second.seen.mean;
    if (v0 == v1 || m0 == m1) {
        throw bad_step(bad_step::reason::no_span, where,
                       fmt::format("mean code {:.2f} at {} V and {:.2f} at {} V", m0.value(), v0.value(), m1.value(), v1.value()),
                       "two voltages on two codes",
                       "check that the reference was connected during its step and the input shorted during the other");
    }
    constexpr double near = 0.1;
    const auto cause = likely_cause(setup.chain, m0, m1, v0, v1, near);
    if ((m1 > m0) != (v1 > v0)) {
        throw bad_step(bad_step::reason::swapped, where,
                       fmt::format("mean code {:.2f} at {} V and {:.2f} at {} V", m0.value(), v0.value(), m1.value(), v1.value()),
                       "codes that rise with the voltage",
                       cause.value_or("the captures are swapped or the leads reversed: put them right"));
    }
    const double full = static_cast<double>(setup.chain.adc.top_code()) + 1.0;
    const double span = std::abs((m1 - m0).value());
    if (span < smallest_span * full) {
        throw bad_step(bad_step::reason::span_too_small, where, fmt::format("a span of {:.1f} codes between the steps", span),
                       fmt::format("at least {:.0f}, a twentieth of the converter's", smallest_span * full),
                       cause.value_or(fmt::format("apply a larger reference voltage (the range reaches {} V)",
                                                  (v1 < v0 ? setup.chain.low : setup.chain.high).value())));
    }
}

/// The third step lies on the other side of the zero step.
void expect_other_side(voltage v0, voltage v1, voltage v_negative, const std::string& where) {
    if ((v_negative < v0) != (v1 < v0)) return;
    throw bad_step(bad_step::reason::no_span, where,
                   fmt::format("{} V, on the same side of {} V as {} V", v_negative.value(), v0.value(), v1.value()),
                   "a voltage on the other side of the zero step", "apply the reference with its leads reversed");
}

/// The nominal gain's relative standard uncertainty by the data sheets: gain at nominal values from two codes, their parts shared.
double nominal_gain_u(const range_calibration& of, const uncertainty::input_set& inputs) {
    const uncertainty::with_sensitivities e{inputs};
    const std::string id = identity::range(of.channel, of.range);
    const auto at = [&](codes c) {
        const std::string adc = identity::part(id, "converter");
        return models::nominal(
            e, id, of.chain, e.constant(c), e.input<codes>(adc + "/offset"), e.input<ratio>(adc + "/gain error"),
            models::converter_reference(e, id, of.chain), models::supply(e, id, of.chain),
            [&](const std::string& part_id, const front_end::resistor* r) { return models::part(e, part_id, r); },
            models::initial_errors(e, id, of.chain));
    };
    const double full = static_cast<double>(of.chain.adc.top_code());
    const auto span = e.apply(models::difference{}, at(full * code), at(0.0 * code));
    return make_budget(span).u / span.value.value();
}

void expect_nominal_gain(const range_calibration& of, const step& second, const correction& result,
                         const uncertainty::input_set& inputs, const std::string& where) {
    const double off = result.gain.value() / of.nominal_gain - 1.0;
    const double allowed = undocumented_gain + tolerance_reach * nominal_gain_u(of, inputs) +
                           tolerance_reach * result.u_gain.value() / std::abs(result.gain.value());
    if (std::abs(off) <= allowed) return;
    const codes m0 = of.zero.seen.mean;
    const codes m1 = second.seen.mean;
    const auto cause =
        likely_cause(of.chain, m0, m1, result.offset + result.gain * m0, result.offset + result.gain * m1, allowed);
    throw bad_step(bad_step::reason::gain_off_nominal, where,
                   fmt::format("a gain of {:.6g} V/code, {:+.1f} % off nominal", result.gain.value(), 100.0 * off),
                   fmt::format("{:.6g} V/code within {:.1f} % by resistors and converter", of.nominal_gain, 100.0 * allowed),
                   cause.value_or("check the range switch, the probe's factor, the reference voltage (volts, not millivolts) and "
                                  "the front end's values"));
}

using sensitive = uncertainty::with_sensitivities;

correction solved(const sensitive& e, const models::line<sensitive>& steps, const models::end_of_line<sensitive>& second,
                  const std::vector<uncertainty::correlation>& correlations) {
    const auto gain = steps.gain(e, second);
    const auto offset = steps.through(e, e.constant(0.0 * code), second);
    const double var_gain = covariance(gain.dependences, gain.dependences, correlations);
    const double var_offset = covariance(offset.dependences, offset.dependences, correlations);
    return {gain.value, volts_per_code::from_value(std::sqrt(var_gain)), offset.value, voltage::from_value(std::sqrt(var_offset)),
            covariance(gain.dependences, offset.dependences, correlations)};
}

std::optional<finding> compared(const range_calibration& of, const sensitive& e, const models::line<sensitive>& steps,
                                double chance) {
    const auto difference = e.apply(models::difference{}, steps.gain(e, *steps.negative), steps.gain(e, steps.reference));
    const double gain = of.result.gain.value();
    const uncertainty::budget b = uncertainty::make_convolved_budget(difference.value.value(), unit_symbol<volts_per_code>,
                                                                     difference.dependences, 1.0 - chance);
    if (std::abs(b.value) <= b.U) return {};
    return finding{static_cast<int>(notice::slopes_differ),
                   fmt::format("negative step, channel {}, range {}", of.channel, of.range),
                   fmt::format("the slope below the zero step differs from that above it by {:+.2f} %, more than "
                               "its uncertainty of {:.2f} %; each side is corrected by its own, readings that span both "
                               "carry both",
                               100.0 * b.value / gain, 100.0 * b.U / std::abs(gain))};
}

bool shares_reference(const std::vector<uncertainty::dependence>& a, const std::vector<uncertainty::dependence>& b) {
    const std::string prefix = identity::reference("");
    return std::any_of(a.begin(), a.end(), [&](const uncertainty::dependence& x) {
        return x.on->id.starts_with(prefix) && std::any_of(b.begin(), b.end(), [&](const uncertainty::dependence& y) {
                   return x.on->id == y.on->id && x.sensitivity != 0.0 && y.sensitivity != 0.0;
               });
    });
}

/// Steps repeated in turn become one each: their captures together, with the mean at the middle of the series.
std::optional<drift_free> repeated_in_turn(steps& seen, const range_setup& setup) {
    if (seen.turns.empty()) return std::nullopt;
    const std::string where = place("zero and reference in turn", setup.channel, setup.range);
    if (seen.negative) {
        throw bad_input(where, "a negative step beside them", "zero and reference alone",
                        "leave the negative step out, or the repetitions: it would stand at one moment of a drift");
    }
    for (std::size_t i = 0; i < seen.turns.size(); ++i) {
        step one = i % 2 == 0 ? seen.zero : seen.reference;
        one.seen = seen.turns[i].seen;
        const std::string at = place(fmt::format("capture {} in turn", i + 1), setup.channel, setup.range);
        expect_samples(one, at);
        expect_unclipped(one, setup.chain.adc, at, "look at this capture, and leave it out with its neighbour",
                         "look at this capture, and leave it out with its neighbour");
    }
    const drift_free f = without_drift(seen.turns);
    seen.zero.evidence = seen.turns[0].evidence;
    seen.reference.evidence = seen.turns[1].evidence;
    seen.zero.seen = of_all_turns(seen.turns, f, false);
    seen.reference.seen = of_all_turns(seen.turns, f, true);
    return f;
}

std::optional<scatter_of_turns> scatter_in(const std::optional<drift_free>& in_turn, const steps& seen, bool of_reference) {
    if (!in_turn) return std::nullopt;
    const std::size_t n = seen.turns.size();
    capture::statistics of_means{};
    of_means.s = in_turn->scatter;
    of_means.n_eff = in_turn->degrees_of_freedom + 1.0;
    return scatter_of_turns{of_reference ? in_turn->u_reference : in_turn->u_zero, in_turn->degrees_of_freedom,
                            of_reference ? n / 2 : (n + 1) / 2, capture::of_mean(of_means).half_width};
}

}  // namespace

range_calibration solve(const range_setup& setup, const steps& captured_steps,
                        const std::vector<calibration::reference>& references, uncertainty::input_set& inputs) {
    steps seen = captured_steps;
    const std::optional<drift_free> in_turn = repeated_in_turn(seen, setup);
    struct placed {
        const step* seen;
        moment when;
    };
    const std::string id = identity::range(setup.channel, setup.range);
    const duration longest_time = longest_time_of(setup.longest_time, setup.begun, setup.ended);
    front_end::expect_sound(setup.chain, "front end, channel " + setup.channel + ", range " + setup.range);
    if (setup.chain.pin)
        (void)front_end::gain_by_sampling(setup.chain, setup.mode, *setup.chain.pin);  // refuses a pin that cannot be one
    const stated_lines lines = lines_of(setup);
    const stated_lines of_steps = in_turn ? lines_of_turns(lines, seen.turns) : lines;
    const auto at = [&](const step& s, const std::string& of_step, const std::string& label) -> placed {
        return {&s,
                {of_step, label, place(label, setup.channel, setup.range), setup.ambient, setup.temperature_half_width,
                 longest_time, of_steps}};
    };
    std::vector<placed> all{at(seen.zero, identity::zero(id), "zero step"),
                            at(seen.reference, identity::reference_step(id), "reference step")};
    if (seen.negative) all.push_back(at(*seen.negative, identity::negative_step(id), "negative step"));
    for (const placed& p : all) expect_samples(*p.seen, p.when.where);
    for (const placed& p : all) {
        const bool is_zero = p.seen == &seen.zero;
        expect_unclipped(*p.seen, setup.chain.adc, p.when.where,
                         is_zero ? "the true zero lies below it: calibrate at two voltages above zero instead"
                                 : "connect the reference the right way round, or use a bipolar range",
                         is_zero ? "disconnect what drives the input, and short it"
                                 : "apply a lower reference voltage, or choose a higher range");
    }

    range_calibration of;
    of.channel = setup.channel;
    of.range = setup.range;
    of.mode = setup.mode;
    of.chain = setup.chain;
    of.ambient = setup.ambient;
    of.temperature_half_width = setup.temperature_half_width;
    of.zero = seen.zero;
    of.reference = seen.reference;
    of.negative = seen.negative;
    of.nominal_gain = front_end::nominal_gain(setup.chain).value();
    of.before = setup.before;
    of.in_use = setup.in_use;
    of.limit = setup.limit;
    const auto wanders = [](const step& s) { return s.seen.slow.has_value(); };
    if (setup.longest_time || wanders(seen.zero) || wanders(seen.reference) || (seen.negative && wanders(*seen.negative))) {
        of.longest_time = longest_time;
    }
    of.largest_hum = setup.largest_hum;
    of.slow = setup.slow;
    of.turns = seen.turns;

    uncertainty::input_set next = inputs;
    add_front_end(next, id, setup.chain);
    std::vector<voltage> applied_there;
    for (const placed& p : all) {
        add_applied_voltage(next, p.seen->source, references, p.when);
        const uncertainty::at_estimates e{next};
        applied_there.push_back(models::applied_voltage(e, id, setup.chain, references, p.seen->source, p.when));
        expect_stated(applied_there.back(), p.when.where);
    }
    expect_span(seen.zero, seen.reference, applied_there[0], applied_there[1], setup,
                place("zero and reference step", setup.channel, setup.range));
    if (seen.negative) {
        const std::string where = place("zero and negative step", setup.channel, setup.range);
        expect_other_side(applied_there[0], applied_there[1], applied_there[2], all[2].when.where);
        expect_span(seen.zero, *seen.negative, applied_there[0], applied_there[2], setup, where);
    }

    std::vector<step> captured;
    captured.reserve(all.size());
    for (const placed& p : all) captured.push_back(*p.seen);
    for (const placed& p : all) {
        const auto turns = scatter_in(in_turn, seen, p.seen == &seen.reference);
        // Noise that goes as 1/f is the instrument's, and a few captures in a hundred do not show it.
        const auto slow_beside = turns ? std::nullopt : slow_noise_beside(*p.seen, captured);
        add_captured_code(next, id, p.when, *p.seen, setup.chain, turns, slow_beside);
    }
    add_reading(next, id, captured, setup.chain.adc, longest_time, lines, seen.turns);
    const sensitive e{next};
    const models::line steps(e, of, references);
    const std::vector<uncertainty::correlation> correlations = correlations_of(of);
    of.result = solved(e, steps, steps.reference, correlations);
    expect_nominal_gain(of, of.reference, of.result, next, all[1].when.where);
    if (steps.negative) {
        of.negative_result = solved(e, steps, *steps.negative, correlations);
        expect_nominal_gain(of, *of.negative, *of.negative_result, next, all[2].when.where);
        if (auto differ = compared(of, e, steps, alarm_of_slopes)) of.findings.push_back(std::move(*differ));
    }
    const std::vector<finding> noticed = findings_of(of, references, {setup.begun, setup.ended});
    of.findings.insert(of.findings.end(), noticed.begin(), noticed.end());
    inputs = std::move(next);
    return of;
}

std::optional<finding> slopes_differ(const range_calibration& of, const std::vector<reference>& references,
                                     const uncertainty::input_set& inputs, double chance) {
    if (!of.negative || of.points) return {};
    const sensitive e{inputs};
    return compared(of, e, models::line(e, of, references), chance);
}

check_point check(const range_calibration& of, const std::string& name, bool as_found, const step& observed,
                  const std::vector<reference>& references, uncertainty::input_set& inputs, double probability) {
    const std::string where = place("check point " + name, of.channel, of.range);
    expect_samples(observed, where);
    expect_unclipped(observed, of.chain.adc, where, "check at a voltage inside the range", "check at a voltage inside the range");
    if (as_found && !of.before) {
        throw bad_input(where, "a check as found without the correction that was in force before", "its gain and offset",
                        "state it with the range, or check as left");
    }
    const std::string id = identity::range(of.channel, of.range);
    const moment now{identity::check(id, name), "check point " + name, where,       of.ambient,
                     of.temperature_half_width, longest_time_of(of),   lines_of(of)};
    uncertainty::input_set next = inputs;
    add_applied_voltage(next, observed.source, references, now);
    add_captured_code(next, id, now, observed, of.chain);

    const sensitive e{next};
    const models::line steps(e, of, references);
    const auto applied_there = models::applied_as_read(e, of, references, observed.source, now);
    expect_stated(applied_there.value, where);
    const auto indication = models::checked(e, of, steps, observed, as_found, now.id);
    const auto error = e.apply(models::difference{}, indication, applied_there);
    const uncertainty::budget b = make_convolved_budget(error, probability);

    check_point point;
    point.name = name;
    point.as_found = as_found;
    point.observed = observed;
    point.applied_value = applied_there.value;
    point.indication = indication.value;
    point.error = error.value;
    point.U = voltage::from_value(b.U);
    point.k = b.covered.k;
    point.convolved = b.covered.how == uncertainty::coverage::method::convolution;
    point.degrees_of_freedom = b.degrees_of_freedom;
    point.permissible = of.limit.absolute + of.limit.relative * voltage::from_value(std::abs(applied_there.value.value()));
    if (point.permissible > voltage()) {
        const auto limits = conformity::tolerance<voltage>::within(point.permissible);
        try {
            point.verdict = conformity::judge(of.limit.rule, limits, point.error, point.U);
        } catch (const bad_input& refused) {
            throw bad_input(where, refused);
        }
        point.conformance_probability = conformity::conformance_probability(limits, point.error, voltage::from_value(b.u));
    }
    // what was adjusted before had its own reference, not named here
    point.tests_reference =
        as_found || !(shares_reference(applied_there.dependences, steps.reference.v.dependences) ||
                      shares_reference(applied_there.dependences, steps.zero.v.dependences) ||
                      (steps.negative && shares_reference(applied_there.dependences, steps.negative->v.dependences)) ||
                      std::any_of(steps.further.begin(), steps.further.end(),
                                  [&](const auto& p) { return shares_reference(applied_there.dependences, p.v.dependences); }));
    inputs = std::move(next);
    return point;
}

applied transferred(const range_calibration& from, const std::string& reference, const std::string& name,
                    const capture_evidence& evidence, const capture::statistics& seen,
                    const std::vector<calibration::reference>& references, uncertainty::input_set& inputs) {
    const step observed{{reference, {}}, evidence, seen};
    const std::string where = place("transfer " + name, from.channel, from.range);
    expect_samples(observed, where);
    expect_unclipped(observed, from.chain.adc, where, "use a voltage inside the range", "use a voltage inside the range");
    const std::string id = identity::range(from.channel, from.range);
    const moment now{identity::transfer(id, name), "transfer " + name,    where,         from.ambient,
                     from.temperature_half_width,  longest_time_of(from), lines_of(from)};
    uncertainty::input_set next = inputs;
    add_captured_code(next, id, now, observed, from.chain);
    const sensitive e{next};
    const auto read =
        models::corrected(e, from, models::line(e, from, references), models::code_to_correct(e, from, now.id, seen.mean),
                          seen.mean, models::effects_of_step<sensitive>{e, now.id});
    carried_voltage carried{from.channel, from.range, evidence, seen, read.value, {}};
    for (const uncertainty::dependence& d : read.dependences) {
        if (d.sensitivity != 0.0) carried.by.push_back({d.on->id, d.sensitivity});
    }
    inputs = std::move(next);
    applied voltage_there;
    voltage_there.reference = reference;
    voltage_there.carried = std::move(carried);
    return voltage_there;
}

}  // namespace plumbline::inline v0::calibration
