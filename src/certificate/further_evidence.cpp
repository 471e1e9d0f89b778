#include "further_evidence.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/calibration/sample_rate.hpp>
#include <plumbline/calibration/surroundings.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <utility>

#include "../units/figures.hpp"
#include "figures.hpp"

namespace plumbline::inline v0::certificate {
namespace {

std::string codes_text(const capture::statistics& seen) {
    return "mean " + fixed(seen.mean.value(), 3) + ", standard deviation " + fixed(seen.s.value(), 3);
}

std::string samples_text(const capture::statistics& seen) {
    return std::to_string(seen.n) + ", of them independent " + fixed(seen.n_eff, 0);
}

void add_turns(std::vector<block>& to, const calibration::range_calibration& range) {
    if (range.turns.empty()) return;
    table shown{"Zero and reference step in turn, each connected anew",
                {"step", "since the first", "codes", "samples", "capture"},
                {},
                true,
                true};
    for (std::size_t i = 0; i < range.turns.size(); ++i) {
        const calibration::repeated_capture& c = range.turns[i];
        shown.rows.push_back({i % 2 == 0 ? "zero" : "reference", together(as_stated(c.at)), codes_text(c.seen),
                              samples_text(c.seen), capture_text(c.evidence)});
    }
    to.emplace_back(std::move(shown));
    const calibration::drift_free f = calibration::without_drift(range.turns);
    const bool by_residuals = range.points && range.points->measured;
    to.emplace_back(paragraph{f.text +
                              " Above, the two steps stand with all their captures together and the mean codes at the middle of "
                              "the series; " +
                              (by_residuals ? "how these scatter is part of the residuals of the line's points."
                                            : "how these scatter is an input of the budget.")});
}

void add_crosstalk(std::vector<block>& to, const calibration::range_calibration& range) {
    for (const calibration::seen_crosstalk& c : range.crosstalk) {
        table shown{"The input held, with channel " + c.channel + ", range " + c.range + " at two voltages",
                    {"voltage there", "codes", "samples", "capture"},
                    {},
                    true,
                    true};
        shown.rows = {
            {together(as_stated(c.low)), codes_text(c.low_seen), samples_text(c.low_seen), capture_text(c.low_evidence)},
            {together(as_stated(c.high)), codes_text(c.high_seen), samples_text(c.high_seen), capture_text(c.high_evidence)}};
        to.emplace_back(std::move(shown));
        to.emplace_back(paragraph{calibration::sentence_of(range, c)});
    }
}

void add_warm_up(std::vector<block>& to, const calibration::range_calibration& range) {
    if (!range.warm_up) return;
    table shown{"One constant input from switching on", {"since switching on", "codes", "samples", "capture"}, {}, true, true};
    for (const calibration::repeated_capture& c : range.warm_up->curve) {
        shown.rows.push_back({together(as_stated(c.at)), codes_text(c.seen), samples_text(c.seen), capture_text(c.evidence)});
    }
    to.emplace_back(std::move(shown));
    calibration::seen_warm_up again = *range.warm_up;
    to.emplace_back(paragraph{
        calibration::warm_up_of(range, again) +
        (range.warm_up->used_from ? " That is part of U in use." : " Readings before it is warm are not part of U in use.")});
}

void add_supplies(std::vector<block>& to, const calibration::range_calibration& range) {
    if (range.supplies.empty()) return;
    table shown{"Zero and reference step at other supplies", {"supply", "step", "codes", "samples", "capture"}, {}, true, true};
    for (const calibration::seen_at_supply& s : range.supplies) {
        shown.rows.push_back({s.name, "zero", codes_text(s.zero_seen), samples_text(s.zero_seen), capture_text(s.zero_evidence)});
        shown.rows.push_back({s.name, "reference", codes_text(s.reference_seen), samples_text(s.reference_seen),
                              capture_text(s.reference_evidence)});
    }
    to.emplace_back(std::move(shown));
    to.emplace_back(paragraph{calibration::by_supply(range).text + " These are the limits of U in use."});
}

void add_temperatures(std::vector<block>& to, const calibration::range_calibration& range) {
    if (!range.temperatures) return;
    const calibration::seen_at_two_temperatures& t = *range.temperatures;
    const auto with_U = [](double value, double U, const char* unit) {
        return together(round_with_prefix(value, U, unit).plus_minus());
    };
    fields shown{"Temperature coefficients by two calibrations, in place of those of data sheets for readings",
                 {{"Earlier calibration", "record " + t.record + ", " + t.date + ", at " +
                                              together(as_stated(t.ambient.degrees, "") + " °C") + ' ' +
                                              within(t.temperature_half_width) + ", digest " + t.sha256},
                  {"This calibration",
                   "at " + together(as_stated(range.ambient.degrees, "") + " °C") + ' ' + within(range.temperature_half_width)},
                  {"Gain", with_U(t.gain.value(), t.U_gain.value(), unit_symbol<per_kelvin>)},
                  {"Offset", with_U(t.offset.value(), t.U_offset.value(), "V/K")}}};
    if (t.middle) {
        shown.all.push_back({"At " + together(plumbline::shown(t.middle->centre, "V")),
                             with_U(t.middle->change.value(), t.middle->U.value(), "V/K")});
    }
    shown.all.push_back(
        {"Use",
         t.middle
             ? "not corrected for: gain and the change at that voltage count as an error of their size, times the temperature "
               "difference, and their U beside it"
             : "not corrected for: each counts with its size and U together, times the temperature difference"});
    to.emplace_back(std::move(shown));
}

/// What the clock's data sheet says of each sample rate that the record has.
std::vector<block> rates_by_data_sheet(const record::record& of, rounding how) {
    const ratio tolerance = *of.clock_tolerance;
    fields all{"By the clock's data sheet", {{"Tolerance", within(tolerance) + ", taken as rectangular"}}};
    std::vector<frequency> said;
    for (const calibration::range_calibration& r : of.ranges) {
        const frequency nominal = r.mode.sample_rate;
        if (std::find(said.begin(), said.end(), nominal) != said.end()) continue;
        said.push_back(nominal);
        const uncertainty::budget b = uncertainty::make_convolved_budget(
            uncertainty::from_input<frequency>(uncertainty::shared_input(calibration::rate_input(nominal, tolerance))),
            of.coverage_probability);
        all.all.push_back({"Sample rate ± U", together(round_with_prefix(nominal, frequency::from_value(b.U), how).plus_minus()) +
                                                  ", k = " + fixed(b.covered.k, 2)});
    }
    std::string text = "The clock was not compared with a known frequency.";
    if (of.clock) {
        const double deviation = (of.clock->rate / of.clock->nominal).value() - 1.0;
        const double U = (of.clock->U / of.clock->nominal).value();
        text = "What was measured takes its place.";
        if (std::abs(deviation) - U > tolerance.value()) {
            text +=
                " The measured rate is farther from its nominal one than the data sheet allows: look at the clock and at the "
                "known frequency.";
        }
    }
    return {std::move(all), paragraph{std::move(text)}};
}

/// What a signal of known frequency says of the clock.
std::vector<block> measured_rate(const record::record& of, rounding how) {
    const calibration::clock_calibration& c = *of.clock;
    const std::string known = together(as_stated(c.known.value));
    fields all{"", {}};
    all.all = {
        {"Sample rate ± U", together(round_with_prefix(c.rate, c.U, how).plus_minus()) + ", k = " + fixed(c.k, 2)},
        {"Nominal", together(as_stated(c.nominal))},
        {"Deviation from nominal",
         together(round_with_prefix((c.rate / c.nominal).value() - 1.0, (c.U / c.nominal).value(), "1", how).plus_minus())},
        {"By a signal of",
         known + ' ' +
             (c.known.limits ? within(*c.known.limits)
                             : together(plus_or_minus(as_stated(c.known.U))) + ", k = " + as_stated(c.known.k, "")) +
             ": " + stated(c.source)},
        {"Traceability", stated(c.traceability, "no traceability claimed")},
        {"At", together(as_stated(c.ambient.degrees, "") + " °C")},
        {"Capture", "channel " + c.channel + ", range " + c.range + ", " + capture_text(c.evidence)}};
    return {std::move(all),
            paragraph{"The instrument divides one clock, so the deviation holds for all its sample rates. The clock's drift with "
                      "temperature and age is not part of U."}};
}

}  // namespace

std::vector<block> points_of_line(const calibration::range_calibration& range) {
    if (!range.points) return {};
    const calibration::line_of_points& p = *range.points;
    table shown{"Points of the line", {"step", "applied", "mean code", "residual in codes"}, {}, true};
    std::vector<codes> means{range.zero.seen.mean, range.reference.seen.mean};
    if (range.negative) means.push_back(range.negative->seen.mean);
    for (const calibration::named_step& s : p.more) means.push_back(s.seen.seen.mean);
    for (std::size_t i = 0; i < p.points.size(); ++i) {
        shown.rows.push_back({p.points[i].name, together(significant(p.points[i].applied.value(), 6, unit_symbol<voltage>)),
                              fixed(means[i].value(), 3), fixed(p.points[i].residual.value(), 3)});
    }
    std::string text;
    for (const std::string& s : calibration::sentences_of_points(range)) text += (text.empty() ? "" : " ") + s;
    return {std::move(shown), paragraph{text}};
}

section clock_section(const record::record& of, rounding how) {
    section all{"Sample rate", false, {}};
    if (of.clock) all.blocks = measured_rate(of, how);
    if (!of.clock_tolerance) return all;
    for (block& one : rates_by_data_sheet(of, how)) all.blocks.push_back(std::move(one));
    return all;
}

std::string capture_text(const calibration::capture_evidence& e) {
    constexpr std::array written{"", ", 16 bits a sample, signed, lower byte first",
                                 ", 16 bits a sample, unsigned, lower byte first"};
    return stated(e.file) + (e.column.empty() ? "" : ", column " + e.column) + written[static_cast<std::size_t>(e.format)] +
           ", " + together(as_stated(e.sample_rate)) + ", SHA-256 " + stated(e.sha256);
}

std::vector<block> further_evidence(const calibration::range_calibration& range) {
    std::vector<block> all;
    add_turns(all, range);
    add_crosstalk(all, range);
    add_warm_up(all, range);
    add_supplies(all, range);
    add_temperatures(all, range);
    return all;
}

}  // namespace plumbline::inline v0::certificate
