#include "range_sections.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "../calibration/reference_by_supply.hpp"
#include "budget_section.hpp"
#include "figures.hpp"
#include "further_evidence.hpp"
#include "overloaded.hpp"
#include "plots.hpp"
#include "trials.hpp"

namespace plumbline::inline v0::certificate {
namespace {

constexpr int figures_in_full = 6;  // for those who compute with them

section mode_section(const calibration::range_calibration& range) {
    const front_end::mode& mode = range.mode;
    fields run{"Mode that all of this holds in", {}};
    run.all = {{"Range", together(as_stated(range.chain.low)) + " to " + together(as_stated(range.chain.high))},
               {"Sample rate", together(as_stated(mode.sample_rate))},
               {"Oversampling", std::to_string(mode.oversampling)},
               {"Coupling", stated(mode.coupling)},
               {"Supply", stated(mode.supply)},
               {"Sampling", stated(mode.sampling)},
               {"Temperature held within", within(range.temperature_half_width) + " from step to step"}};
    return {"Channel " + range.channel + ", range " + range.range, false, {run}};
}

void add_amplifier_rows(fields& to, const front_end::amplifier_stage& a) {
    to.all.push_back(
        {"Amplifier",
         a.gain ? "feedback " + resistor_text(a.gain->feedback) + ", to ground " + resistor_text(a.gain->ground) : "follower"});
    std::string limits = "offset " + within(a.offset_limit) + ", " + within(a.offset_drift) + "; current into each input " +
                         within(a.bias_current) + ", " + within(a.bias_current_drift) + "; open-loop gain at least " +
                         significant(a.open_loop_gain, figures_in_full, "");
    if (a.lowest_output) limits += "; output from " + together(as_stated(*a.lowest_output));
    if (a.highest_output) limits += "; output up to " + together(as_stated(*a.highest_output));
    to.all.push_back({"Amplifier limits", limits});
}

section front_end_section(const calibration::range_calibration& range) {
    const front_end::network& network = range.chain.input;
    const front_end::converter& adc = range.chain.adc;
    fields parts{"", {}};
    parts.all.push_back({"Top resistor", resistor_text(network.top)});
    parts.all.push_back({"Bottom resistor", network.bottom ? resistor_text(*network.bottom) : "none"});
    if (network.bias) {
        const front_end::bias_branch& bias = *network.bias;
        std::string to = resistor_text(bias.branch) + ", to " + together(as_stated(bias.supply));
        to += bias.from_converter_reference
                  ? " (the converter's reference)"
                  : ' ' + within(bias.supply_tolerance) + ", " + within(bias.supply_temperature_coefficient);
        parts.all.push_back({"Bias branch", to});
    } else {
        parts.all.push_back({"Bias branch", "none"});
    }
    if (range.chain.amplifier) add_amplifier_rows(parts, *range.chain.amplifier);
    parts.all.push_back({"Converter", std::to_string(adc.bits) + " bits, reference " + together(as_stated(adc.reference)) + ' ' +
                                          within(adc.reference_tolerance) + ", " +
                                          within(adc.reference_temperature_coefficient)});
    parts.all.push_back(
        {"Converter limits", "offset " + within(adc.offset_limit) + ", gain " + within(adc.gain_error_limit) +
                                 ", integral non-linearity " + within(adc.integral_nonlinearity) +
                                 (adc.shape == front_end::converter::inl_shape::smooth ? " (one bow)" : " (stepped)") +
                                 ", noise " + together(as_stated(adc.noise) + " rms")});
    if (adc.reference_by_supply) {
        parts.all.push_back({"Converter's reference",
                             "a supply, which may move it by " + within(*adc.reference_by_supply) + " after the calibration"});
    }
    return {"Front end, nominal values", true, {parts}};
}

/// Near 1 a correlation coefficient needs more digits: two of its distance from 1 (JCGM 100:2008, 7.2.6).
std::string correlation_text(double r) {
    const double distance = 1.0 - std::abs(r);
    const int decimals = distance > 0.0 && distance < 0.01 ? static_cast<int>(std::ceil(-std::log10(distance))) + 1 : 3;
    return fixed(r, decimals);
}

fields line_fields(const std::string& caption, const calibration::correction& line) {
    const rounded gain = round_with_prefix(line.gain, line.u_gain);
    const rounded offset = round_with_prefix(line.offset, line.u_offset);
    return {caption,
            {{"Gain", together(gain.value_with_unit()) + ", standard uncertainty " + together(gain.U_with_unit())},
             {"Offset (voltage at code 0)",
              together(offset.value_with_unit()) + ", standard uncertainty " + together(offset.U_with_unit())},
             {"Covariance of gain and offset", together(power_of_ten(line.covariance, figures_in_full) + " V²/code")},
             {"Correlation coefficient", correlation_text(line.covariance / (line.u_gain.value() * line.u_offset.value()))}}};
}

section correction_section(const calibration::range_calibration& range) {
    const bool two_sided = range.negative_result.has_value() && !range.points;
    const std::string knee = together("code " + fixed(range.zero.seen.mean.value(), 2));
    const bool other_below = range.reference.seen.mean > range.zero.seen.mean;
    fields result = line_fields(two_sided ? std::string(other_below ? "Above " : "Below ") + knee : "", range.result);
    result.all.push_back({"Gain by nominal values", together(significant(range.nominal_gain, 6, unit_symbol<volts_per_code>))});
    const paragraph correlated{
        std::string("Voltage = offset + gain × code. Gain and offset come from the same ") +
        (range.points ? "points" : "two steps") +
        " and are correlated: their uncertainties must not be combined as if they were independent. Take U of a reading from the "
        "table of readings or from the compact form."};
    fields other;
    if (two_sided) other = line_fields(std::string(other_below ? "Below " : "Above ") + knee, *range.negative_result);
    fields earlier{"In force before, for results as found", {}};
    if (range.before) {
        earlier.all = {{"Gain", together(significant(range.before->gain.value(), figures_in_full, unit_symbol<volts_per_code>))},
                       {"Offset", together(significant(range.before->offset.value(), figures_in_full, unit_symbol<voltage>))}};
    } else {
        earlier.all = {{"Correction", "not stated"}};
    }
    const calibration::compact_uncertainty& form = range.compact;
    fields compact{"Compact form of U, never below it within the range: U² = A + C (V - Vc)²", {}};
    compact.all = {{"A", together(power_of_ten(form.a, figures_in_full, rounding::up) + " V²")},
                   {"C", together(power_of_ten(form.c, figures_in_full, rounding::up))},
                   {"Vc", together(as_stated(form.centre))},
                   {"Largest excess over U", together(significant(form.largest_excess, 2, "1", rounding::up))}};
    section out{"Correction", true, {result}};
    if (two_sided) out.blocks.push_back(other);
    for (block& one : points_of_line(range)) out.blocks.push_back(std::move(one));
    for (const block& one : {block(correlated), block(compact), block(earlier)}) out.blocks.push_back(one);
    return out;
}

class budgets {
public:
    budgets(const record::record& of, const calibration::range_calibration& range)
        : of_(of), range_(range), when_(calibration::at_calibration(range)) {}

    [[nodiscard]] uncertainty::budget calibrated(voltage at) const {
        return made_of(calibration::reading(of_.inputs, of_.references, range_, code_at(at), when_));
    }
    [[nodiscard]] uncertainty::budget uncalibrated(voltage at) const {
        return made_of(calibration::uncalibrated_reading(of_.inputs, range_, code_at(at), when_));
    }

    [[nodiscard]] uncertainty::budget in_use(voltage at) const {
        return made_of(
            calibration::reading_in_use(of_.inputs, of_.references, range_, code_at(at), when_.samples, *range_.in_use));
    }
    [[nodiscard]] uncertainty::budget kind(const calibration::stated_kind& k) const {
        const calibration::reading_conditions when{k.samples, when_.temperature_difference, when_.temperature_half_width};
        return made_of(k.to ? calibration::difference(of_.inputs, of_.references, range_, code_at(k.at), code_at(*k.to), when)
                            : calibration::reading(of_.inputs, of_.references, range_, code_at(k.at), when));
    }

    [[nodiscard]] double probability() const { return of_.coverage_probability; }

private:
    [[nodiscard]] codes code_at(voltage v) const { return calibration::code_at(range_, v); }
    [[nodiscard]] uncertainty::budget made_of(const uncertainty::uncertain<voltage>& y) const {
        return uncertainty::make_convolved_budget(y, of_.coverage_probability, of_.correlations);
    }

    const record::record& of_;
    const calibration::range_calibration& range_;
    calibration::reading_conditions when_;
};

/// U alone, with the prefix that suits it.
std::string U_alone(const uncertainty::budget& b, rounding how) {
    return together(round_with_prefix(0.0, b.U, b.unit, how).U_with_unit());
}

fields use_fields(const calibration::range_calibration& range) {
    const calibration::use_conditions& u = *range.in_use;
    // stated by a person, or computed from captures at other supplies
    const auto by_supply = [&](double limit, const char* unit) {
        return together(
                   plus_or_minus(range.supplies.empty() ? as_stated(limit, unit) : significant(limit, 2, unit, rounding::up))) +
               (range.supplies.empty() ? "" : ", measured");
    };
    const ratio by_reference = calibration::moved_by_its_supply(range, u);
    return {"In use means, as limits",
            {{"Age of the calibration", "up to " + together(as_stated(u.years, "") + (u.years == 1.0 ? " year" : " years"))},
             {"Temperature", within(u.temperature_half_width) + " about that of the calibration"},
             {"Drift of gain", within(u.gain_per_year) + " a year"},
             {"Drift of offset", within(u.offset_per_year) + " a year"},
             {"Gain, by the supply", by_reference > ratio(0.0) ? within(by_reference) + ", of the converter's reference"
                                                               : by_supply(u.gain_by_supply.value(), unit_symbol<ratio>)},
             {"Offset, by the supply", by_supply(u.offset_by_supply.value(), unit_symbol<voltage>)},
             {"Mode", "that of the calibration: in another the correction does not hold"}}};
}

/// U over the range at evenly spaced voltages, the ends and, in a bipolar range of equal ends, zero among them.
picture curves(const budgets& of, const calibration::range_calibration& range) {
    constexpr int parts = 20;
    std::vector<voltage> at;
    curve calibrated{"at calibration", curve::line::whole, {}};
    curve used{"in use", curve::line::dashed, {}};
    curve uncalibrated{"uncalibrated", curve::line::dotted, {}};
    for (int i = 0; i <= parts; ++i) {
        const double part = static_cast<double>(i) / parts;
        at.push_back((1.0 - part) * range.chain.low + part * range.chain.high);
        calibrated.U.push_back(of.calibrated(at.back()).U);
        if (range.in_use) used.U.push_back(of.in_use(at.back()).U);
        uncalibrated.U.push_back(of.uncalibrated(at.back()).U);
    }
    std::vector<curve> all{std::move(calibrated)};
    if (range.in_use) all.push_back(std::move(used));
    all.push_back(std::move(uncalibrated));
    return U_picture(at, all);
}

compared_result beside_trials(std::string name, const uncertainty::budget& b, const calibration::interval_by_trials& by_trials) {
    return {std::move(name), voltage::from_value(b.value), voltage::from_value(b.U), by_trials};
}

std::string kind_text(const calibration::stated_kind& k) {
    const std::string n = k.samples == 1.0 ? "" : as_stated(k.samples, "");
    const std::string at = together(as_stated(k.at));
    if (!k.to) return "mean of " + n + " independent samples at " + at;
    return "difference of two " + (n.empty() ? "samples, " : "means of " + n + ", ") + at + " to " + together(as_stated(*k.to));
}

section reading_section(const budgets& of, const calibration::range_calibration& range, rounding how) {
    const bool used = range.in_use.has_value();
    table shown{used ? "One sample: at calibration, in use, and uncalibrated (by data sheets)"
                     : "One sample: at calibration, and uncalibrated (by data sheets)",
                {"reading", "U", "k", "degrees of freedom"},
                {}};
    if (used) shown.columns.insert(shown.columns.end(), {"U in use", "k in use"});
    shown.columns.insert(shown.columns.end(), {"U uncalibrated", "k uncalibrated"});
    bool few = false;
    for (const voltage& v : calibration::stated_voltages(range.chain)) {
        const uncertainty::budget after = of.calibrated(v);
        const uncertainty::budget before = of.uncalibrated(v);
        few = few || after.few_degrees_of_freedom;
        std::vector<std::string> row{together(as_stated(v)), U_alone(after, how), k_text(after.covered),
                                     degrees_text(after.degrees_of_freedom)};
        if (used) {
            const uncertainty::budget later = of.in_use(v);
            row.insert(row.end(), {U_alone(later, how), k_text(later.covered)});
        }
        row.insert(row.end(), {U_alone(before, how), k_text(before.covered)});
        shown.rows.push_back(std::move(row));
    }
    section out{"Uncertainty of readings", true, {std::move(shown), curves(of, range)}};
    if (range.by_trials) {
        std::vector<compared_result> all;
        for (const calibration::reading_by_trials& r : range.by_trials->readings) {
            const uncertainty::budget b = of.calibrated(r.at);
            all.push_back(beside_trials(together(as_stated(r.at)), b, r.interval));
        }
        for (block& one :
             compared_with_trials("reading", "readings at calibration", all, *range.by_trials, of.probability(), how))
            out.blocks.push_back(std::move(one));
        compared_group later{"readings in use", {}};
        for (const calibration::reading_by_trials& r : range.by_trials->in_use) {
            if (used) later.all.push_back(beside_trials(together(as_stated(r.at)) + ", in use", of.in_use(r.at), r.interval));
        }
        compared_group earlier{"uncalibrated readings", {}};
        for (const calibration::reading_by_trials& r : range.by_trials->uncalibrated) {
            earlier.all.push_back(beside_trials(together(as_stated(r.at)) + ", uncalibrated", of.uncalibrated(r.at), r.interval));
        }
        std::string left_out;
        if (used && later.all.empty()) left_out = "Readings in use";
        if (earlier.all.empty()) left_out += left_out.empty() ? "Uncalibrated readings" : " and uncalibrated ones";
        for (block& one : likewise_compared({std::move(later), std::move(earlier)}, how)) out.blocks.push_back(std::move(one));
        if (!left_out.empty()) out.blocks.push_back(paragraph{left_out + " were not compared with Monte Carlo."});
    } else {
        out.blocks.push_back(paragraph{"First order was not compared with Monte Carlo."});
    }
    if (used) {
        out.blocks.push_back(use_fields(range));
    } else {
        out.blocks.push_back(
            paragraph{"In use: no conditions were stated, so drift, temperature and supply after the "
                      "calibration are in none of these figures."});
    }
    if (few)
        out.blocks.push_back(paragraph{"Fewer than 4 degrees of freedom: k is doubtful there; calibrate with more samples."});

    table kinds{"Other kinds of reading, at calibration", {"reading", "U", "k"}, {}, true};
    const auto add = [&](const std::string& what, const uncertainty::budget& b) {
        kinds.rows.push_back({what, U_alone(b, how), k_text(b.covered)});
    };
    const std::vector<calibration::stated_kind> all_kinds = calibration::stated_kinds(range.chain);
    const voltage middle = all_kinds.front().at;
    add("one sample at " + together(as_stated(middle)), of.calibrated(middle));
    compared_group others{"of these kinds", {}};
    for (const calibration::stated_kind& kind : all_kinds) {
        const uncertainty::budget b = of.kind(kind);
        add(kind_text(kind), b);
        if (!range.by_trials) continue;
        for (const calibration::kind_by_trials& k : range.by_trials->kinds) {
            if (k.what == kind) others.all.push_back(beside_trials(kind_text(kind), b, k.interval));
        }
    }
    out.blocks.push_back(std::move(kinds));
    for (block& one : likewise_compared({std::move(others)}, how)) out.blocks.push_back(std::move(one));
    return out;
}

std::string reference_name(const record::record& of, const std::string& id) {
    const auto found = std::find_if(of.references.begin(), of.references.end(), [&](const auto& r) { return r.id == id; });
    if (found == of.references.end()) return id + " (not described in this record)";
    return stated(found->description, "reference") + " [" + id + ']';
}

/// What was applied by what, and what the converter made of it.
std::vector<std::string> evidence(const record::record& of, const std::string& name, const calibration::step& step,
                                  voltage applied) {
    std::string by = reference_name(of, step.source.reference);
    if (step.source.stated) by += ": " + stated_voltage_text(*step.source.stated);
    if (step.source.indicated) by += ": reading " + together(as_stated(*step.source.indicated));
    if (step.source.reversed) by += ", leads reversed";
    if (step.source.carried) {
        by += ": read by channel " + step.source.carried->channel + ", range " + step.source.carried->range + ", capture " +
              stated(step.source.carried->evidence.file) + ", SHA-256 " + stated(step.source.carried->evidence.sha256);
    }
    const std::string& source_id = step.source.source_id;
    by += step.source.source ? "; not measured while connected, source resistance " +
                                   (source_id.empty() ? "" : source_id + ", ") + resistor_text(*step.source.source)
                             : "; at the connector while connected";
    const capture::statistics& seen = step.seen;
    return {name,
            by,
            together(significant(applied.value(), 6, unit_symbol<voltage>)) + ", loading included",
            "mean " + fixed(seen.mean.value(), 3) + ", standard deviation " + fixed(seen.s.value(), 3) + ", lowest " +
                std::to_string(seen.min) + ", highest " + std::to_string(seen.max),
            std::to_string(seen.n) + ", of them independent " + fixed(seen.n_eff, 0),
            capture_text(step.evidence)};
}

section evidence_section(const record::record& of, const calibration::range_calibration& range) {
    // The corrected reading of a step's own mean code is the voltage applied there, but for a line through more points.
    const auto applied = [&](const calibration::step& step) {
        if (range.points) return range.points->points[&step == &range.zero ? 0 : &step == &range.reference ? 1 : 2].applied;
        return calibration::reading(of.inputs, of.references, range, step.seen.mean, calibration::at_calibration(range)).value;
    };
    table shown{"Steps that the correction was made from, and check points",
                {"step", "applied by", "voltage at the connector", "codes", "samples", "capture"},
                {},
                true,
                true};
    shown.rows = {evidence(of, "zero step", range.zero, applied(range.zero)),
                  evidence(of, "reference step", range.reference, applied(range.reference))};
    if (range.negative) shown.rows.push_back(evidence(of, "negative step", *range.negative, applied(*range.negative)));
    if (range.points) {
        const std::size_t first = range.points->points.size() - range.points->more.size();
        for (std::size_t i = 0; i < range.points->more.size(); ++i) {
            const calibration::named_step& s = range.points->more[i];
            shown.rows.push_back(evidence(of, "step " + s.name, s.seen, range.points->points[first + i].applied));
        }
    }
    for (const calibration::check_point& c : range.checks) {
        shown.rows.push_back(
            evidence(of, "check point " + c.name + (c.as_found ? ", as found" : ", as left"), c.observed, c.applied_value));
    }
    section out{"Evidence", true, {std::move(shown)}};
    for (block& one : further_evidence(range)) out.blocks.push_back(std::move(one));
    return out;
}

bool has_limit(const calibration::acceptance& limit) { return limit.absolute > voltage() || limit.relative > ratio(); }

std::string limit_text(const calibration::acceptance& limit) {
    std::string text;
    if (limit.absolute > voltage()) text = together(as_stated(limit.absolute));
    if (limit.relative > ratio()) text += (text.empty() ? "" : " + ") + together(as_stated(limit.relative)) + " of the voltage";
    return plus_or_minus(limit.absolute > voltage() && limit.relative > ratio() ? '(' + text + ')' : text);
}

std::string probability_text(double p) {
    if (p > 0.9995) return together("over 99.9 %");
    if (p < 0.0005) return together("below 0.1 %");
    return together(fixed(100.0 * p, 1) + " %");
}

section check_section(const record::record& of, const calibration::range_calibration& range, rounding how) {
    section out{"Check points", true, {}};
    if (range.checks.empty()) {
        out.blocks.push_back(paragraph{
            range.points ? "None: the correction was not tested by points that did not make it. No statement of conformity."
                         : "None. Two points cannot show non-linearity: the correction was not tested between or beyond "
                           "them. No statement of conformity."});
        return out;
    }
    const bool limited = has_limit(range.limit);
    std::string untested;
    for (const bool as_found : {true, false}) {
        table shown{
            as_found ? "As found, by the correction that was in force before" : "As left, by the correction of this calibration",
            {"point", "applied", "indication", "error ± U", "k", "degrees of freedom"},
            {},
            true};
        if (limited) shown.columns.insert(shown.columns.end(), {"limit of error", "verdict", "probability of conformity"});
        shown.columns.emplace_back("tests the reference");
        for (const calibration::check_point& c : range.checks) {
            if (c.as_found != as_found) continue;
            const auto rounded_to_U = [&](voltage v) { return together(round_with_prefix(v, c.U, how).value_with_unit()); };
            std::vector<std::string> row{
                c.name,
                rounded_to_U(c.applied_value),
                rounded_to_U(c.indication),
                together(round_with_prefix(c.error, c.U, how).plus_minus()),
                k_text({of.coverage_probability, c.k,
                        c.convolved ? uncertainty::coverage::method::convolution : uncertainty::coverage::method::student_t}),
                degrees_text(c.degrees_of_freedom)};
            if (limited) {
                row.push_back(together(plus_or_minus(as_stated(c.permissible, 4))));
                row.push_back(c.verdict ? std::string(conformity::word(*c.verdict)) : "none");
                row.push_back(c.verdict ? probability_text(c.conformance_probability) : "none");
            }
            row.emplace_back(c.tests_reference ? "yes" : "no");
            shown.rows.push_back(std::move(row));
            if (!c.tests_reference) {
                untested += (untested.empty() ? "" : ", ") + rounded_to_U(c.applied_value) + (as_found ? " as found" : "");
            }
        }
        if (!shown.rows.empty()) {
            out.blocks.push_back(std::move(shown));
        } else if (as_found) {
            out.blocks.push_back(paragraph{"As found, before this correction: no check points were recorded."});
        } else {
            out.blocks.push_back(paragraph{"As left: no check points. The new correction was not tested."});
        }
    }
    out.blocks.push_back(error_picture(range));
    std::vector<compared_result> by_trials;
    for (const calibration::check_point& c : range.checks) {
        if (c.by_trials) by_trials.push_back({c.name + (c.as_found ? ", as found" : ", as left"), c.error, c.U, *c.by_trials});
    }
    if (range.by_trials && !by_trials.empty()) {
        for (block& one :
             compared_with_trials("error", "errors at check points", by_trials, *range.by_trials, of.coverage_probability, how))
            out.blocks.push_back(std::move(one));
    }
    if (!untested.empty()) {
        out.blocks.push_back(
            paragraph{"Not a test of the reference, at " + untested +
                      ": the voltage applied there shares an error with those that calibrated. An error of that reference "
                      "would show in none of these points."});
    }
    if (limited) {
        out.blocks.push_back(
            paragraph{"Statement of conformity, for the check points above only. Specification: error within " +
                      limit_text(range.limit) + ". Decision rule: " + conformity::statement(range.limit.rule) +
                      ". Judged on unrounded figures. The probability of conformity takes the error as normal with u = U/k "
                      "(JCGM 106:2012, 7.4)."});
    } else {
        out.blocks.push_back(paragraph{"No specification was stated, so there is no statement of conformity."});
    }
    return out;
}

section findings_section(const calibration::range_calibration& range) {
    section out{"Findings", true, {}};
    if (range.findings.empty()) {
        out.blocks.push_back(paragraph{"None."});
        return out;
    }
    out.blocks.push_back(paragraph{"Noticed while calibrating. What is advised is an opinion, not a result."});
    items all;
    for (const calibration::finding& f : range.findings) {
        all.texts.push_back("Finding " + std::to_string(f.number) + ", " + stated(f.where) + ": " + f.text);
    }
    out.blocks.push_back(std::move(all));
    return out;
}

}  // namespace

std::string resistor_text(const front_end::resistor& r) {
    return together(as_stated(r.nominal) + ' ' + within(r.tolerance)) + ", " + together(within(r.temperature_coefficient));
}

std::string stated_voltage_text(const calibration::stated_voltage& v) {
    const std::string value = as_stated(v.value);
    return std::visit(
        overloaded{[&](const calibration::expanded& e) {
                       return together(value + " ± " + as_stated(e.U)) + ", k = " + as_stated(e.k, "");
                   },
                   [&](const calibration::limits& l) {
                       return together(value + (l.at_limit ? " at the limits of " : " within ") + within(l.half_width));
                   }},
        v.spread);
}

section summary(const record::record& of, rounding how) {
    section out{"Results in short", false, {}};
    if (of.ranges.empty()) {
        out.blocks.push_back(paragraph{"None: no range was calibrated."});
        return out;
    }
    const auto any_range = [&](const auto& holds) { return std::any_of(of.ranges.begin(), of.ranges.end(), holds); };
    const bool used = any_range([](const calibration::range_calibration& r) { return r.in_use.has_value(); });
    const bool found = any_range([](const calibration::range_calibration& r) {
        return std::any_of(r.checks.begin(), r.checks.end(), [](const calibration::check_point& c) { return c.as_found; });
    });
    table shown{"U of one sample at calibration, and verdicts",
                {"range", "U at the low end", "U in the middle", "U at the high end"},
                {},
                true};
    if (used) shown.columns.emplace_back("U in use, at the worse end");
    if (found) shown.columns.emplace_back("check points as found");
    shown.columns.emplace_back("check points as left");
    for (const calibration::range_calibration& range : of.ranges) {
        const budgets uncertainty(of, range);
        const std::vector<voltage> at = calibration::stated_voltages(range.chain);
        const auto U = [&](voltage v) { return U_alone(uncertainty.calibrated(v), how); };
        const auto verdicts = [&](bool as_found) {
            const auto count = [&](const auto& holds) {
                return std::count_if(range.checks.begin(), range.checks.end(), [&](const calibration::check_point& c) {
                    return c.as_found == as_found && holds(c.verdict);
                });
            };
            const auto judged = count([](const auto& verdict) { return verdict.has_value(); });
            if (judged == 0) return together("not judged");
            using conformity::verdict;
            std::string text;
            for (const verdict one : {verdict::pass, verdict::conditional_pass, verdict::conditional_fail, verdict::fail}) {
                const auto n = count([&](const auto& given) { return given == one; });
                if (n == 0 && one != verdict::pass) continue;
                if (!text.empty()) text += ", ";
                text += together(std::string(conformity::word(one)) + ' ' + std::to_string(n) +
                                 (one == verdict::pass ? " of " + std::to_string(judged) : ""));
            }
            return text;
        };
        std::vector<std::string> row{"channel " + range.channel + ", " + together(range.range), U(at.front()),
                                     U(at[at.size() / 2]), U(at.back())};
        if (used && range.in_use) {
            const uncertainty::budget low = uncertainty.in_use(at.front());
            const uncertainty::budget high = uncertainty.in_use(at.back());
            row.push_back(U_alone(low.U > high.U ? low : high, how));
        } else if (used) {
            row.emplace_back("not stated");
        }
        if (found) row.push_back(verdicts(true));
        row.push_back(verdicts(false));
        shown.rows.push_back(std::move(row));
    }
    out.blocks.push_back(std::move(shown));
    return out;
}

std::vector<section> range_sections(const record::record& of, const calibration::range_calibration& range, rounding how) {
    const budgets uncertainty(of, range);
    std::vector<section> all;
    all.push_back(mode_section(range));
    all.push_back(reading_section(uncertainty, range, how));
    all.push_back(check_section(of, range, how));
    all.push_back(findings_section(range));
    all.push_back(correction_section(range));
    all.push_back(budget_section(of, range, how));
    all.push_back(front_end_section(range));
    all.push_back(evidence_section(of, range));
    return all;
}

}  // namespace plumbline::inline v0::certificate
