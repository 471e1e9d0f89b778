#include <plumbline/calibration/solve.hpp>

#include "models.hpp"
#include "range_inputs.hpp"

#include <fmt/format.h>

namespace plumbline::calibration {

namespace {

constexpr double most_on_an_end_code = 1e-3;  // share of samples; noise alone seldom reaches an end code that the signal does not
constexpr double smallest_span = 0.05;        // of the converter's codes; below, the line is mostly extrapolated
constexpr double undocumented_gain = 0.05;    // what data sheets do not say: sampling capacitor, leakage
constexpr double tolerance_reach = 4.0;       // standard uncertainties by the data sheets

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
    const auto refuse = [&](std::size_t count, std::int32_t end, const std::string& remedy) {
        if (static_cast<double>(count) <= most_on_an_end_code * static_cast<double>(s.seen.n)) return;
        throw bad_step(bad_step::reason::clipped, where, fmt::format("{} of {} samples on code {}", count, s.seen.n, end),
                       "at most 1 in 1000 on an end code", remedy);
    };
    refuse(s.seen.at_bottom, adc.bottom_code(), at_bottom);
    refuse(s.seen.at_top, adc.top_code(), at_top);
}

void expect_stated(const voltage v, const std::string& where) {
    if (!std::isfinite(v.value())) {
        throw bad_step(bad_step::reason::not_finite, where, fmt::format("an applied voltage of {} V", v.value()),
                       "a finite voltage", "correct the session");
    }
}

void expect_span(const step& zero, const step& reference, voltage v0, voltage v1, const range_setup& setup,
                 const std::string& where) {
    const codes m0 = zero.seen.mean;
    const codes m1 = reference.seen.mean;
    if (v0 == v1 || m0 == m1) {
        throw bad_step(bad_step::reason::no_span, where,
                       fmt::format("mean code {:.2f} at {} V and {:.2f} at {} V", m0.value(), v0.value(), m1.value(), v1.value()),
                       "two voltages on two codes",
                       "check that the reference was connected during its step and the input shorted during the other");
    }
    if ((m1 > m0) != (v1 > v0)) {
        throw bad_step(bad_step::reason::swapped, where,
                       fmt::format("mean code {:.2f} at {} V and {:.2f} at {} V", m0.value(), v0.value(), m1.value(), v1.value()),
                       "codes that rise with the voltage", "the captures are swapped or the leads reversed: put them right");
    }
    const double full = static_cast<double>(setup.chain.adc.top_code()) + 1.0;
    const double span = std::abs((m1 - m0).value());
    if (span < smallest_span * full) {
        throw bad_step(bad_step::reason::span_too_small, where, fmt::format("a span of {:.1f} codes between the steps", span),
                       fmt::format("at least {:.0f}, a twentieth of the converter's", smallest_span * full),
                       fmt::format("apply a larger reference voltage (the range reaches {} V)", setup.chain.high.value()));
    }
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
            [&](const std::string& part_id, const front_end::resistor* r) { return models::part(e, part_id, r); });
    };
    const double full = static_cast<double>(of.chain.adc.top_code());
    const auto span = e.apply(models::difference{}, at(full * code), at(0.0 * code));
    return make_budget(span).u / span.value.value();
}

void expect_nominal_gain(const range_calibration& of, const uncertainty::input_set& inputs, const std::string& where) {
    const double off = of.result.gain.value() / of.nominal_gain - 1.0;
    const double allowed = undocumented_gain + tolerance_reach * nominal_gain_u(of, inputs) +
                           tolerance_reach * of.result.u_gain.value() / std::abs(of.result.gain.value());
    if (std::abs(off) <= allowed) return;
    throw bad_step(
        bad_step::reason::gain_off_nominal, where,
        fmt::format("a gain of {:.6g} V/code, {:+.1f} % off nominal", of.result.gain.value(), 100.0 * off),
        fmt::format("{:.6g} V/code within {:.1f} % by resistors and converter", of.nominal_gain, 100.0 * allowed),
        "check the range switch, the probe's factor, the reference voltage (volts, not millivolts) and the front end's values");
}

correction solved(const range_calibration& of, const std::vector<reference>& references, const uncertainty::input_set& inputs) {
    const uncertainty::with_sensitivities e{inputs};
    const models::line steps(e, of, references);
    const auto gain = steps.gain(e);
    const auto offset = steps.at(e, e.constant(0.0 * code));
    const double var_gain = covariance(gain.dependences, gain.dependences);
    const double var_offset = covariance(offset.dependences, offset.dependences);
    return {gain.value, volts_per_code::from_value(std::sqrt(var_gain)), offset.value, voltage::from_value(std::sqrt(var_offset)),
            covariance(gain.dependences, offset.dependences)};
}

void find_limits(range_calibration& of) {
    const std::string where = "channel " + of.channel + ", range " + of.range;
    const auto note_quantisation = [&](const step& s, const char* name) {
        if (s.seen.min == s.seen.max) {
            of.findings.push_back(
                {201, fmt::format("{} step, {}", name, where),
                 fmt::format("all {} samples on code {}: quantisation hides the noise and half a code either way is "
                             "kept as uncertainty; a little noise and averaging would lower it",
                             s.seen.n, s.seen.min)});
        }
        if (s.seen.n_eff < 0.5 * static_cast<double>(s.seen.n)) {
            of.findings.push_back(
                {202, fmt::format("{} step, {}", name, where),
                 fmt::format("the {} samples hang together and count as {:.0f} independent ones; look for hum or drift, "
                             "or sample more slowly",
                             s.seen.n, s.seen.n_eff)});
        }
    };
    note_quantisation(of.zero, "zero");
    note_quantisation(of.reference, "reference");
}

bool shares_reference(const std::vector<uncertainty::dependence>& a, const std::vector<uncertainty::dependence>& b) {
    const std::string prefix = identity::reference("");
    return std::any_of(a.begin(), a.end(), [&](const uncertainty::dependence& x) {
        return x.on->id.starts_with(prefix) && std::any_of(b.begin(), b.end(), [&](const uncertainty::dependence& y) {
                   return x.on->id == y.on->id && x.sensitivity != 0.0 && y.sensitivity != 0.0;
               });
    });
}

}  // namespace

range_calibration solve(const range_setup& setup, const step& zero, const step& reference,
                        const std::vector<calibration::reference>& references, uncertainty::input_set& inputs) {
    const std::string id = identity::range(setup.channel, setup.range);
    const std::string at_zero = place("zero step", setup.channel, setup.range);
    const std::string at_reference = place("reference step", setup.channel, setup.range);
    front_end::expect_sound(setup.chain, "front end, channel " + setup.channel + ", range " + setup.range);
    expect_samples(zero, at_zero);
    expect_samples(reference, at_reference);
    expect_unclipped(zero, setup.chain.adc, at_zero, "the true zero lies below it: calibrate at two voltages above zero instead",
                     "disconnect what drives the input, and short it");
    expect_unclipped(reference, setup.chain.adc, at_reference,
                     "connect the reference the right way round, or use a bipolar range",
                     "apply a lower reference voltage, or choose a higher range");

    range_calibration of{setup.channel,
                         setup.range,
                         setup.mode,
                         setup.chain,
                         setup.temperature_half_width,
                         zero,
                         reference,
                         front_end::nominal_gain(setup.chain).value(),
                         {},
                         {},
                         setup.limit,
                         {},
                         {}};
    uncertainty::input_set next = inputs;
    add_front_end(next, id, setup.chain);
    const moment first{identity::zero(id), "zero step", at_zero, setup.temperature_half_width};
    const moment second{identity::reference_step(id), "reference step", at_reference, setup.temperature_half_width};
    add_applied_voltage(next, zero.source, references, first);
    add_applied_voltage(next, reference.source, references, second);
    const uncertainty::at_estimates e{next};
    const voltage v0 = models::applied_voltage(e, id, setup.chain, references, zero.source, first.id);
    const voltage v1 = models::applied_voltage(e, id, setup.chain, references, reference.source, second.id);
    expect_stated(v0, at_zero);
    expect_stated(v1, at_reference);
    expect_span(zero, reference, v0, v1, setup, place("zero and reference step", setup.channel, setup.range));

    add_captured_code(next, id, first, zero, setup.chain);
    add_captured_code(next, id, second, reference, setup.chain);
    add_reading(next, id, zero, reference, setup.chain.adc);
    of.result = solved(of, references, next);
    expect_nominal_gain(of, next, at_reference);
    find_limits(of);
    inputs = std::move(next);
    return of;
}

check_point check(const range_calibration& of, const std::string& name, const step& observed,
                  const std::vector<reference>& references, uncertainty::input_set& inputs, double probability) {
    const std::string where = place("check point " + name, of.channel, of.range);
    expect_samples(observed, where);
    expect_unclipped(observed, of.chain.adc, where, "check at a voltage inside the range", "check at a voltage inside the range");
    const std::string id = identity::range(of.channel, of.range);
    uncertainty::input_set next = inputs;
    const moment now{identity::check(id, name), "check point " + name, where, of.temperature_half_width};
    add_applied_voltage(next, observed.source, references, now);
    add_captured_code(next, id, now, observed, of.chain);

    const uncertainty::with_sensitivities e{next};
    const models::line steps(e, of, references);
    const auto applied_there = models::applied_voltage(e, id, of.chain, references, observed.source, now.id);
    expect_stated(applied_there.value, where);
    const auto indication = models::corrected(e, of, steps, models::captured_code(e, now.id), observed.seen.mean,
                                              models::effects_of_step<uncertainty::with_sensitivities>{e, now.id});
    const auto error = e.apply(models::difference{}, indication, applied_there);
    const uncertainty::budget b = make_convolved_budget(error, probability);
    const voltage permissible =
        of.limit.absolute + of.limit.relative * voltage::from_value(std::abs(applied_there.value.value()));
    const bool shared = shares_reference(applied_there.dependences, steps.v0.dependences) ||
                        shares_reference(applied_there.dependences, steps.v1.dependences);
    inputs = std::move(next);
    return {observed,
            applied_there.value,
            indication.value,
            error.value,
            voltage::from_value(b.U),
            b.covered.k,
            b.covered.how == uncertainty::coverage::method::convolution,
            b.degrees_of_freedom,
            permissible,
            std::abs(error.value.value()) <= permissible.value(),
            !shared};
}

}  // namespace plumbline::calibration
