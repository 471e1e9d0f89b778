#include "probe_sections.hpp"

#include <cmath>
#include <string>
#include <utility>

#include "figures.hpp"
#include "further_evidence.hpp"

namespace plumbline::inline v0::certificate {
namespace {

std::string in_words(const calibration::compensation& c) {
    if (std::abs(c.mismatch.value()) <= c.U_mismatch.value()) return "compensated, as far as U tells";
    return c.mismatch.value() > 0.0 ? "over-compensated" : "under-compensated";
}

std::string mismatch_text(const calibration::compensation& c, rounding how) {
    return together(round_with_prefix(c.mismatch, c.U_mismatch, how).plus_minus());
}

std::string factor_text(const calibration::division& d, rounding how) {
    return together(round_result(d.factor.value(), d.U.value(), "", how).plus_minus());
}

/// What one sample of rise time cannot tell from none is a bound.
std::string rise_text(const calibration::compensation& c, rounding how) {
    if (c.rise_time <= c.U_rise_time) {
        return together("below " + significant((c.rise_time + c.U_rise_time).value(), 2, "s", rounding::up));
    }
    return together(round_with_prefix(c.rise_time, c.U_rise_time, how).plus_minus());
}

std::string overshoot_text(const calibration::compensation& c, rounding how) {
    if (c.overshoot == ratio()) return together("none above " + significant(c.U_overshoot.value(), 2, "1", rounding::up));
    return together(round_with_prefix(c.overshoot, c.U_overshoot, how).plus_minus());
}

std::string wave_text(const calibration::wave& w) {
    return together(as_stated(w.at)) + ", rise time " + together(as_stated(w.rise_time)) + ", droop within " +
           together(as_stated(w.droop)) + " over half a period";
}

section compensation_section(const record::record& of, rounding how) {
    const calibration::compensation& c = of.probe->compensation;
    table shown{"By a square wave through the probe", {"result", "result", "k"}, {}, true};
    shown.rows = {{"mismatch of the time constants, R C over R_in C_in less 1", mismatch_text(c, how), "2"},
                  {"rise time of probe and instrument, 10 % to 90 %", rise_text(c, how), "2"},
                  {"overshoot beyond the settled step", overshoot_text(c, how), "2"}};
    fields with{"", {}};
    with.all = {
        {"In words", in_words(c)},
        {"Time constant of the settling",
         c.time_constant == duration() ? "none seen"
                                       : together(significant(c.time_constant.value(), 2, "s")) + ", for orientation, without U"},
        {"Square wave", wave_text(c.fed)},
        {"Step seen", together(fixed(c.step.value(), 0) + " codes") + ", " + std::to_string(c.periods) + " periods"},
        {"Capture", capture_text(c.evidence)}};
    return {"Compensation", false, {std::move(shown), std::move(with)}};
}

section ratio_section(const record::record& of, rounding how) {
    section out{"Factor", false, {}};
    if (!of.probe->division) {
        out.blocks.push_back(paragraph{"Not measured. By the data sheet it is 1 + series resistance over input resistance."});
        return out;
    }
    const calibration::division& d = *of.probe->division;
    table shown{"Ratio of the steps of one square wave, direct and through the probe", {"result", "result", "k"}, {}, true};
    shown.rows = {{"voltage at the tip over voltage at the connector, at 0 Hz", factor_text(d, how), "2"}};
    fields with{"", {}};
    with.all = {{"Changes with temperature by", within(d.temperature_coefficient) + " (limits, by data sheet; not in U)"},
                {"Square wave", wave_text(d.fed)},
                {"Capture, direct", capture_text(d.direct)},
                {"Capture, through the probe", capture_text(d.divided)}};
    out.blocks = {std::move(shown), std::move(with)};
    return out;
}

section input_section(const record::record& of) {
    const calibration::probe_calibration& p = *of.probe;
    const auto maybe = [](const auto& value) { return value ? together(as_stated(*value)) : std::string("not stated"); };
    fields probe{"By the data sheet", {}};
    probe.all = {{"Series resistance", together(as_stated(p.described.series)) + ' ' + within(p.described.tolerance)},
                 {"Capacitance at the tip", maybe(p.described.tip_capacitance)},
                 {"Bandwidth", maybe(p.described.bandwidth)},
                 {"Highest voltage at the tip", maybe(p.described.rating)}};
    fields input{"Calibrated on", {}};
    input.all = {{"Input", input_text(p.on)},
                 {"Its resistance", together(as_stated(p.on.resistance, 4)) + " (nominal)"},
                 {"Record of the instrument", p.on.record},
                 {"SHA-256 of its device, correction and budget", p.on.sha256}};
    return {"Probe and input",
            false,
            {std::move(probe), std::move(input),
             paragraph{"The results hold for this probe on this input. On another input factor and compensation are others."}}};
}

}  // namespace

std::string input_text(const calibration::probed_input& on) {
    return on.model + ", serial number " + on.serial + ", channel " + on.channel + ", range " + on.range;
}

section probe_summary(const record::record& of, rounding how) {
    const calibration::probe_calibration& p = *of.probe;
    fields all{"", {}};
    all.all = {{"Compensation", in_words(p.compensation) + ": mismatch " + mismatch_text(p.compensation, how)},
               {"Factor", p.division ? factor_text(*p.division, how) : "not measured"},
               {"On the input", input_text(p.on)}};
    return {"Results in short", false, {std::move(all)}};
}

std::vector<section> probe_sections(const record::record& of, rounding how) {
    return {input_section(of), compensation_section(of, how), ratio_section(of, how)};
}

section later_checks(const record::record& of, rounding how) {
    section out{"Checks after the calibration", false, {}};
    const auto point = [&](const record::checked_point& p) {
        return together(round_with_prefix(p.reading, p.U, how).plus_minus()) + " where " +
               together(round_with_prefix(p.applied, p.U_applied, how).plus_minus()) + " was applied, E_n " + fixed(p.e_n, 2);
    };
    if (!of.intermediate.empty()) {
        out.blocks.push_back(
            paragraph{"On site (ISO/IEC 17025:2017, 6.4.10): reading and its U in use against what was applied. E_n is the "
                      "difference over the root sum square of both U; above 1 they disagree. Not part of the calibration."});
    }
    for (const record::intermediate_check& c : of.intermediate) {
        fields one{c.date + ", " + c.occasion + ": channel " + c.channel + ", range " + c.range, {}};
        one.all = {{"Input shorted", point(c.zero)},
                   {"Pocket reference", point(c.reference)},
                   {"Temperature", together(as_stated(c.ambient.degrees, "") + " °C")},
                   {"Verdict", c.result}};
        out.blocks.push_back(std::move(one));
    }
    if (of.stored.empty()) return out;
    fields read_back{"The adjustment stored in the instrument, read back", {}};
    for (const record::stored_check& c : of.stored) read_back.all.push_back({"Read back", c.date + ": " + c.result});
    out.blocks.push_back(std::move(read_back));
    return out;
}

}  // namespace plumbline::inline v0::certificate
