#include <plumbline/calibration/advice.hpp>

#include "../units/figures.hpp"
#include "identity.hpp"
#include "models.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::calibration {

namespace {

std::vector<voltage> stated_U(const range_calibration& of, const std::vector<reference>& references,
                              const uncertainty::input_set& inputs, double probability) {
    std::vector<voltage> all;
    for (const voltage& v : stated_voltages(of.chain)) {
        const auto r = reading(inputs, references, of, code_at(of, v), at_calibration(of));
        all.push_back(make_convolved_budget(r, probability).U * volt);
    }
    return all;
}

range_setup setup_of(const range_calibration& of) {
    range_setup s;
    s.channel = of.channel;
    s.range = of.range;
    s.mode = of.mode;
    s.chain = of.chain;
    s.ambient = of.ambient;
    s.temperature_half_width = of.temperature_half_width;
    s.longest_time = of.longest_time;
    return s;
}

/// A step as it would be seen at another voltage: the same capture, moved.
step moved_to(const range_calibration& of, const step& like, const std::string& by, stated_voltage v) {
    step s = like;
    const codes shift = code_at(of, v.value) - like.seen.mean;
    s.source = {by, v};
    s.seen.mean += shift;
    const auto whole = static_cast<std::int32_t>(std::lround(shift.value()));
    s.seen.min += whole;
    s.seen.max += whole;
    return s;
}

/// With a '/', which no name of a session has.
constexpr const char* candidate_id = "candidate/reference";

std::string part_less(voltage now, voltage then) { return fmt::format("{:.0f} %", 100.0 * (1.0 - (then / now).value())); }

}  // namespace

std::vector<candidate> candidates_within(const range_calibration& of, ratio within, int n) {
    const voltage end = std::abs(of.chain.low.value()) > std::abs(of.chain.high.value()) ? of.chain.low : of.chain.high;
    std::vector<candidate> all;
    for (int i = 0; i < n; ++i) {
        const voltage v = end * (n == 1 ? 1.0 : 0.1 + 0.9 * i / (n - 1));
        all.push_back({{v, limits{std::abs(v.value()) * within * volt}}, shown(v, "V", 4)});
    }
    return all;
}

advice_on_reference best_reference(const range_calibration& of, const std::vector<reference>& references,
                                   const uncertainty::input_set& inputs, const std::vector<candidate>& candidates,
                                   double probability) {
    advice_on_reference a;
    for (const candidate& c : candidates) {
        std::vector<reference> with = references;
        with.emplace_back();
        with.back().id = candidate_id;
        with.back().description = c.name;
        try {
            steps seen{of.zero, moved_to(of, of.reference, candidate_id, c.voltage), {}};
            if (of.negative) seen.negative = moved_to(of, *of.negative, candidate_id, {-1.0 * c.voltage.value, c.voltage.spread});
            uncertainty::input_set own;
            const range_calibration as_if = solve(setup_of(of), seen, with, own);
            judged_candidate j{c, stated_voltages(of.chain), stated_U(as_if, with, own, probability), {}};
            j.largest = *std::max_element(j.U.begin(), j.U.end());
            a.all.push_back(std::move(j));
        } catch (const bad_step&) {
            continue;  // beyond the range, too near the zero step: no reference for this range
        }
    }
    if (a.all.empty()) {
        throw bad_input("best reference, " + of.channel + "/" + of.range,
                        fmt::format("none of {} candidates within the range", candidates.size()),
                        "one that the range can be calibrated by", "give voltages inside the range, far from the zero step");
    }
    std::stable_sort(a.all.begin(), a.all.end(),
                     [](const judged_candidate& x, const judged_candidate& y) { return x.largest < y.largest; });
    const std::vector<voltage> now = stated_U(of, references, inputs, probability);
    a.largest_now = *std::max_element(now.begin(), now.end());
    const judged_candidate& best = a.all.front();
    const voltage used = of.result.offset + of.result.gain * of.reference.seen.mean;
    constexpr int digits = 4;
    const std::string volts = shown(best.by.voltage.value, "V", digits);
    const std::string named = best.by.name == volts ? volts : volts + " (" + best.by.name + ")";
    const std::string where = fmt::format("Channel {}, range {}: ", of.channel, of.range);
    constexpr double worth_it = 0.05;  // below, another capture brings as much
    if (best.largest < (1.0 - worth_it) * a.largest_now) {
        a.text =
            where + fmt::format("with a reference of {} in place of {} the largest U over the range falls from {} to {}, by {}.",
                                named, shown(used, "V", digits), shown(a.largest_now, "V"), shown(best.largest, "V"),
                                part_less(a.largest_now, best.largest));
    } else {
        a.text = where + fmt::format(
                             "the reference of {} is good for it: the best of {} others would bring the largest U over the "
                             "range from {} to {}.",
                             shown(used, "V", digits), a.all.size(), shown(a.largest_now, "V"), shown(best.largest, "V"));
    }
    return a;
}

std::vector<improvement> what_to_improve(const uncertainty::uncertain<voltage>& result, double probability) {
    const uncertainty::budget whole = make_convolved_budget(result, probability);
    std::vector<improvement> all;
    for (const uncertainty::budget_row& row : whole.rows) {
        const auto with = [&](double part) {
            uncertainty::uncertain<voltage> changed = result;
            for (uncertainty::dependence& d : changed.dependences) {
                if (d.on->id == row.in->id) d.sensitivity *= part;
            }
            return make_convolved_budget(changed, probability).U * volt;
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
                                const uncertainty::input_set& inputs, double probability) {
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
        solve_points(with, checks, references, own);
        all.push_back(sentences_of_points(with).front());
    }
    const std::size_t said = all.size();

    const std::vector<voltage> U = stated_U(of, references, inputs, probability);
    const auto worst = static_cast<std::size_t>(std::max_element(U.begin(), U.end()) - U.begin());
    const auto there = reading(inputs, references, of, code_at(of, stated_voltages(of.chain)[worst]), at_calibration(of));
    constexpr std::size_t most = 3;
    for (const improvement& i : what_to_improve(there, probability)) {
        if (all.size() == most + said) break;
        all.push_back(i.text);
    }

    const std::string id = identity::range(of.channel, of.range);
    const moment then{identity::reference_step(id), {}, {}, of.ambient, of.temperature_half_width};
    const auto applied_there =
        models::applied_voltage(uncertainty::with_sensitivities{inputs}, id, of.chain, references, of.reference.source, then);
    if (applied_there.value == voltage()) return all;  // 0 V is known to no part of itself
    const double u = std::sqrt(covariance(applied_there.dependences, applied_there.dependences));
    const auto within = ratio(std::sqrt(3.0) * u / std::abs(applied_there.value.value()));
    all.push_back(best_reference(of, references, inputs, candidates_within(of, within), probability).text);
    return all;
}

}  // namespace plumbline::inline v0::calibration
