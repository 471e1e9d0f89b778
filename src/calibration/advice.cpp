#include <plumbline/calibration/advice.hpp>

#include "../units/figures.hpp"
#include "identity.hpp"
#include "models.hpp"
#include "range_inputs.hpp"
#include "step_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::calibration {

namespace {

using uncertainty::correlation;
using stated_readings = std::vector<uncertainty::uncertain<voltage>>;

/// Those stated, and those of the range's repetitions in turn where they are not among them.
std::vector<correlation> with_those_of(const range_calibration& of, std::span<const correlation> stated) {
    std::vector<correlation> all(stated.begin(), stated.end());
    for (const correlation& own : correlations_of(of)) {
        const auto same = [&](const correlation& c) {
            return (c.first == own.first && c.second == own.second) || (c.first == own.second && c.second == own.first);
        };
        if (std::none_of(all.begin(), all.end(), same)) all.push_back(own);
    }
    return all;
}

/// A range as it is, and by what it is judged.
struct present {
    const range_calibration& of;
    const std::vector<reference>& references;
    const uncertainty::input_set& inputs;
    double probability;
    std::vector<correlation> correlations;

    [[nodiscard]] voltage U_of(const uncertainty::uncertain<voltage>& y) const {
        return make_convolved_budget(y, probability, correlations).U * volt;
    }
    [[nodiscard]] const uncertainty::uncertain<voltage>& least_known(const stated_readings& all) const {
        return *std::max_element(all.begin(), all.end(), [&](const auto& x, const auto& y) { return U_of(x) < U_of(y); });
    }
    /// A voltage that is so many times another, known within the same part of itself.
    [[nodiscard]] stated_voltage in_proportion(const uncertainty::uncertain<voltage>& to, double factor) const {
        constexpr double k = 2.0;
        const double u = std::sqrt(covariance(to.dependences, to.dependences, correlations));
        return {factor * to.value, expanded{k * u * std::abs(factor) * volt, k}};
    }
    [[nodiscard]] uncertainty::uncertain<voltage> applied_at(const step& s, const std::string& id) const {
        const moment then{id, {}, {}, of.ambient, of.temperature_half_width};
        return models::applied_voltage(uncertainty::with_sensitivities{inputs}, identity::range(of.channel, of.range), of.chain,
                                       references, s.source, then);
    }
};

/// One sample at calibration, at the stated voltages of a range. `solved` is the range, or as it would be with its steps at other voltages.
stated_readings one_sample(const range_calibration& of, const range_calibration& solved, const std::vector<reference>& references,
                           const uncertainty::input_set& inputs) {
    stated_readings all;
    for (const voltage& v : stated_voltages(of.chain)) {
        all.push_back(reading(inputs, references, solved, code_at(of, v), at_calibration(of)));
    }
    return all;
}

judged_candidate judged(const present& now, const candidate& by, const stated_readings& all) {
    judged_candidate j{by, stated_voltages(now.of.chain), {}, {}};
    for (const auto& r : all) j.U.push_back(now.U_of(r));
    j.largest = *std::max_element(j.U.begin(), j.U.end());
    return j;
}

/// What would stand at a step in place of what does.
struct replaced {
    step* where;
    std::string id;
    voltage now;
    voltage then;
    applied source;
};

/// Takes a step at another voltage: its capture moves along the line with its noise and its distance from the line.
/// @return false where that would be beyond the range, or too near the zero step
bool take(const range_calibration& of, const replaced& r, uncertainty::input_set& inputs) {
    capture::statistics& seen = r.where->seen;
    const codes shift = code_at(of, r.then) - code_at(of, r.now);
    const bool inside =
        seen.min + shift.value() > of.chain.adc.bottom_code() && seen.max + shift.value() < of.chain.adc.top_code();
    seen.mean += shift;
    const double span = std::abs((seen.mean - of.zero.seen.mean).value());
    if (!inside || span < smallest_span * (static_cast<double>(of.chain.adc.top_code()) + 1.0)) return false;
    r.where->source = r.source;
    uncertainty::input_set moved;
    for (const uncertainty::shared_input& in : inputs.all()) {
        uncertainty::input same = *in;
        if (same.id == r.id + "/mean") same.estimate = seen.mean.value();
        moved.add(std::move(same));
    }
    inputs = std::move(moved);
    return true;
}

/// With a '/', which no name of a session has.
constexpr const char* candidate_id = "candidate/reference";

/// The range with its reference step, and its negative one, at other voltages: all else as it is. None where it cannot take them.
std::optional<judged_candidate> judged_with(const present& now, const candidate& by, applied at_reference, voltage negative,
                                            applied at_negative) {
    const std::string id = identity::range(now.of.channel, now.of.range);
    range_calibration as_if = now.of;
    std::vector<reference> references = now.references;
    references.emplace_back();
    references.back().id = candidate_id;
    references.back().description = by.name;
    at_reference.reference = candidate_id;
    at_negative.reference = candidate_id;
    uncertainty::input_set inputs = now.inputs;
    std::vector<replaced> steps{{&as_if.reference, identity::reference_step(id),
                                 now.applied_at(now.of.reference, identity::reference_step(id)).value, by.voltage.value,
                                 std::move(at_reference)}};
    if (as_if.negative) {
        steps.push_back({&*as_if.negative, identity::negative_step(id),
                         now.applied_at(*now.of.negative, identity::negative_step(id)).value, negative, std::move(at_negative)});
    }
    for (const replaced& r : steps) {
        if (!take(now.of, r, inputs)) return std::nullopt;
        add_applied_voltage(inputs, r.source, references, {r.id, {}, {}, as_if.ambient, as_if.temperature_half_width});
    }
    const codes knee = as_if.zero.seen.mean;
    if (as_if.negative && (as_if.reference.seen.mean > knee) == (as_if.negative->seen.mean > knee)) return std::nullopt;
    if (as_if.points) {
        const std::vector<named_step> more = as_if.points->more;
        solve_points(as_if, more, references, inputs, now.correlations);
        // the step's distance from the line, at another code, would say something else of non-linearity: as found
        as_if.points->nonlinearity = now.of.points->nonlinearity;
    }
    return judged(now, by, one_sample(now.of, as_if, references, inputs));
}

std::string part_less(voltage now, voltage then) { return fmt::format("{:.0f} %", 100.0 * (1.0 - (then / now).value())); }

constexpr int digits_of_a_voltage = 4;

std::string place_of_advice(const range_calibration& of) { return "best reference, " + identity::range(of.channel, of.range); }

advice_on_reference told(const present& now, std::vector<judged_candidate> judged_ones, std::size_t candidates) {
    const range_calibration& of = now.of;
    if (judged_ones.empty()) {
        throw bad_input(place_of_advice(of), fmt::format("none of {} candidates within the range", candidates),
                        "one that the range can be calibrated by", "give voltages inside the range, far from the zero step");
    }
    std::stable_sort(judged_ones.begin(), judged_ones.end(),
                     [](const judged_candidate& x, const judged_candidate& y) { return x.largest < y.largest; });
    const auto used = now.applied_at(of.reference, identity::reference_step(identity::range(of.channel, of.range)));
    const std::string used_volts = shown(used.value, "V", digits_of_a_voltage);
    advice_on_reference a{std::move(judged_ones),
                          judged(now, {now.in_proportion(used, 1.0), used_volts}, one_sample(of, of, now.references, now.inputs)),
                          {}};
    const judged_candidate& best = a.all.front();
    const std::string volts = shown(best.by.voltage.value, "V", digits_of_a_voltage);
    const std::string named = best.by.name == volts ? volts : volts + " (" + best.by.name + ")";
    const std::string where = fmt::format("Channel {}, range {}: ", of.channel, of.range);
    constexpr double worth_it = 0.05;  // below, another capture brings as much
    if (best.largest < (1.0 - worth_it) * a.now.largest) {
        a.text =
            where + fmt::format("with a reference of {} in place of {} the largest U over the range falls from {} to {}, by {}.",
                                named, used_volts, shown(a.now.largest, "V"), shown(best.largest, "V"),
                                part_less(a.now.largest, best.largest));
    } else {
        a.text = where + fmt::format(
                             "the reference of {} is good for it: the best of {} others would bring the largest U over the "
                             "range from {} to {}.",
                             used_volts, a.all.size(), shown(a.now.largest, "V"), shown(best.largest, "V"));
    }
    if (of.points) a.text += " The range's further steps count as they are.";
    return a;
}

/// U at the ends and in the middle of the range by reference voltage, a line each.
std::vector<std::string> table_of(const advice_on_reference& a) {
    std::vector<const judged_candidate*> rows{&a.now};
    for (const judged_candidate& j : a.all) rows.push_back(&j);
    std::stable_sort(rows.begin(), rows.end(), [](const judged_candidate* x, const judged_candidate* y) {
        return x->by.voltage.value < y->by.voltage.value;
    });
    const std::vector<std::size_t> columns{0, a.now.at.size() / 2, a.now.at.size() - 1};
    const auto line = [](const std::vector<std::string>& cells) {
        std::string text = fmt::format("{:<17}", cells.front());
        for (std::size_t i = 1; i < cells.size(); ++i) text += fmt::format("{:>14}", cells[i]);
        return text;
    };
    std::vector<std::string> head{"reference"};
    for (const std::size_t c : columns) head.push_back(a.now.at[c] == voltage() ? "U at 0 V" : "U at " + shown(a.now.at[c], "V"));
    head.emplace_back("largest U");
    std::vector<std::string> lines{line(head)};
    for (const judged_candidate* j : rows) {
        std::vector<std::string> cells{j->by.name + (j == &a.now ? ", as now" : "")};
        for (const std::size_t c : columns) cells.push_back(shown(j->U[c], "V"));
        cells.push_back(shown(j->largest, "V"));
        lines.push_back(line(cells));
    }
    return lines;
}

}  // namespace

std::vector<voltage> voltages_within(const range_calibration& of, int n) {
    const voltage end = std::abs(of.chain.low.value()) > std::abs(of.chain.high.value()) ? of.chain.low : of.chain.high;
    std::vector<voltage> all;
    all.reserve(static_cast<std::size_t>(std::max(n, 0)));
    for (int i = 0; i < n; ++i) all.push_back(end * (n == 1 ? 1.0 : 0.1 + 0.9 * i / (n - 1)));
    return all;
}

std::vector<candidate> candidates_within(const range_calibration& of, ratio within, int n) {
    std::vector<candidate> all;
    for (const voltage& v : voltages_within(of, n)) {
        all.push_back({{v, limits{std::abs(v.value()) * within * volt}}, shown(v, "V", digits_of_a_voltage)});
    }
    return all;
}

advice_on_reference best_reference(const range_calibration& of, const std::vector<reference>& references,
                                   const uncertainty::input_set& inputs, const std::vector<candidate>& candidates,
                                   double probability, std::span<const correlation> correlations) {
    const present now{of, references, inputs, probability, with_those_of(of, correlations)};
    std::vector<judged_candidate> all;
    for (const candidate& c : candidates) {
        const stated_voltage reversed{-1.0 * c.voltage.value, c.voltage.spread};
        const auto j = judged_with(now, c, {candidate_id, c.voltage}, reversed.value, {candidate_id, reversed});
        if (j) all.push_back(*j);
    }
    return told(now, std::move(all), candidates.size());
}

advice_on_reference best_voltage(const range_calibration& of, const std::vector<reference>& references,
                                 const uncertainty::input_set& inputs, const std::vector<voltage>& voltages, double probability,
                                 std::span<const correlation> correlations) {
    const present now{of, references, inputs, probability, with_those_of(of, correlations)};
    const std::string id = identity::range(of.channel, of.range);
    const auto used = now.applied_at(of.reference, identity::reference_step(id));
    if (used.value == voltage()) {
        throw bad_input(place_of_advice(of), "a reference step at 0 V", "another voltage",
                        "state the candidates' uncertainties: what is known of 0 V is known to no part of itself");
    }
    const auto carried = [&](const uncertainty::uncertain<voltage>& to, double factor) {
        applied a;
        a.carried = carried_voltage{of.channel, of.range, {}, {}, factor * to.value, {}};
        for (const auto& d : to.dependences) a.carried->by.push_back({d.on->id, factor * d.sensitivity});
        return a;
    };
    std::vector<judged_candidate> all;
    for (const voltage& v : voltages) {
        const double factor = (v / used.value).value();
        const candidate c{now.in_proportion(used, factor), shown(v, "V", digits_of_a_voltage)};
        uncertainty::uncertain<voltage> negative{};
        if (of.negative) negative = now.applied_at(*of.negative, identity::negative_step(id));
        const auto j = judged_with(now, c, carried(used, factor), factor * negative.value, carried(negative, factor));
        if (j) all.push_back(*j);
    }
    return told(now, std::move(all), voltages.size());
}

std::vector<improvement> what_to_improve(const uncertainty::uncertain<voltage>& result, double probability,
                                         std::span<const correlation> correlations) {
    const uncertainty::budget whole = make_convolved_budget(result, probability, correlations);
    std::vector<improvement> all;
    for (const uncertainty::budget_row& row : whole.rows) {
        const auto with = [&](double part) {
            uncertainty::uncertain<voltage> changed = result;
            for (uncertainty::dependence& d : changed.dependences) {
                if (d.on->id == row.in->id) d.sensitivity *= part;
            }
            return make_convolved_budget(changed, probability, correlations).U * volt;
        };
        improvement i{row.in->label, whole.U * volt, with(0.5), with(0.0), {}};
        constexpr double worth_saying = 0.01;
        if (i.removed > (1.0 - worth_saying) * i.now) continue;
        i.text = fmt::format("Half of \"{}\" would bring U at {} from {} to {} ({} less), none of it to {} ({} less).", i.label,
                             shown(result.value, "V"), shown(i.now, "V"), shown(i.halved, "V"), part_less(i.now, i.halved),
                             shown(i.removed, "V"), part_less(i.now, i.removed));
        all.push_back(std::move(i));
    }
    std::stable_sort(all.begin(), all.end(), [](const improvement& x, const improvement& y) { return x.removed < y.removed; });
    return all;
}

std::vector<std::string> advice(const range_calibration& of, const std::vector<reference>& references,
                                const uncertainty::input_set& inputs, double probability,
                                std::span<const correlation> correlations) {
    const present now{of, references, inputs, probability, with_those_of(of, correlations)};
    std::vector<std::string> all;
    std::vector<named_step> checks;
    for (const check_point& c : of.checks) {
        if (!c.as_found) checks.push_back({c.name, c.observed});
    }
    if (of.points) {
        all.push_back(sentences_of_points(of).front());
    } else if (!checks.empty()) {
        uncertainty::input_set own = inputs;
        range_calibration with = of;
        solve_points(with, checks, references, own, now.correlations);
        all.push_back(sentences_of_points(with).front());
    }

    const auto improve = [&](const stated_readings& stated, const std::string& when) {
        constexpr std::size_t most = 3;
        const auto rows = what_to_improve(now.least_known(stated), probability, now.correlations);
        for (std::size_t i = 0; i < std::min(most, rows.size()); ++i) all.push_back(when + rows[i].text);
    };
    improve(one_sample(of, of, references, inputs), "");
    if (of.in_use) {
        stated_readings later;
        for (const voltage& v : stated_voltages(of.chain)) {
            later.push_back(reading_in_use(inputs, references, of, code_at(of, v), 1.0, *of.in_use));
        }
        improve(later, "In use: ");
    }

    try {
        const advice_on_reference a = best_voltage(of, references, inputs, voltages_within(of), probability, correlations);
        all.push_back(a.text);
        all.emplace_back("By reference voltage, known to the same part of itself as now, U of one sample at calibration:");
        for (std::string& line : table_of(a)) all.push_back(std::move(line));
    } catch (const bad_input& reason) {
        all.push_back(fmt::format("Channel {}, range {}: other reference voltages are not judged: {}", of.channel, of.range,
                                  reason.what()));
    }
    return all;
}

}  // namespace plumbline::inline v0::calibration
