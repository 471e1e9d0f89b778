#include <plumbline/calibration/validation.hpp>

#include "through_probe.hpp"

#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <plumbline/uncertainty/numerical_tolerance.hpp>
#include <type_traits>

namespace plumbline::inline v0::calibration {

namespace {

/// All that is stated of a range at its calibration, over any evaluation: readings, the same uncalibrated, other kinds of reading, and the
/// errors at check points.
struct stated_results {
    const range_calibration& of;
    const std::vector<reference>& references;

    template <class Evaluation>
    [[nodiscard]] auto operator()(const Evaluation& e) const {
        const models::line<Evaluation> steps(e, of, references);
        const std::string id = identity::range(of.channel, of.range);
        const reading_conditions then = at_calibration(of);
        std::vector<decltype(e.constant(voltage()))> all;
        for (const voltage& v : stated_voltages(of.chain)) all.push_back(models::reading(e, of, steps, code_at(of, v), then));
        for (const voltage& v : stated_voltages(of.chain)) {
            all.push_back(models::uncalibrated(e, of, code_at(of, v), then));
        }
        for (const stated_kind& k : stated_kinds(of.chain)) {
            reading_conditions when = then;
            when.samples = k.samples;
            const codes first = code_at(of, k.at);
            all.push_back(k.to ? models::difference_of_readings(e, of, steps, first, code_at(of, *k.to), when)
                               : models::reading(e, of, steps, first, when));
        }
        for (const check_point& c : of.checks) {
            const moment now{identity::check(id, c.name), {}, {}, of.ambient, of.temperature_half_width};
            all.push_back(e.apply(models::difference{}, models::checked(e, of, steps, c.observed, c.as_found, now.id),
                                  models::applied_as_read(e, of, references, c.observed.source, now)));
        }
        return all;
    }
};

/// The stated readings in use. @pre  the range has conditions of use
struct stated_in_use {
    const range_calibration& of;
    const std::vector<reference>& references;

    template <class Evaluation>
    [[nodiscard]] auto operator()(const Evaluation& e) const {
        const models::line<Evaluation> steps(e, of, references);
        const use_conditions& use = *of.in_use;
        const reading_conditions when{1.0, kelvins(), use.temperature_half_width};
        std::vector<decltype(e.constant(voltage()))> all;
        for (const voltage& v : stated_voltages(of.chain)) {
            all.push_back(models::in_use(e, of, models::reading(e, of, steps, code_at(of, v), when), use, true));
        }
        return all;
    }
};

/// The standard deviation that trials of the linear model have: a repeated input scatters by t (JCGM 101:2008, 6.4.9.4).
double scatter_by_trials(const uncertainty::budget& b) {
    double more = 0.0;
    for (const uncertainty::budget_row& row : b.rows) {
        const auto* d = std::get_if<uncertainty::repeated>(&row.in->spread);
        if (d == nullptr || !std::isfinite(d->degrees_of_freedom)) continue;
        if (d->degrees_of_freedom <= 2.0) return uncertainty::infinite;
        more += row.contribution * row.contribution * 2.0 / (d->degrees_of_freedom - 2.0);
    }
    return std::sqrt(b.u * b.u + more);
}

first_order_is judged(const uncertainty::budget& b, const uncertainty::monte_carlo_result& trials, std::size_t i,
                      int significant_digits) {
    const uncertainty::validation v = uncertainty::validate(b, trials, i, significant_digits, false);
    if (v.validated) return first_order_is::validated;
    const uncertainty::sampled_output& y = trials.outputs[i];
    const double scatter = scatter_by_trials(b);
    if (!(scatter - b.u <= v.delta)) return first_order_is::short_of_readings;
    // Every input is symmetric about its estimate, and so is a linear model's result: what shifts both ends is a curve.
    const double low = y.symmetric.low - (b.value - b.U);
    const double high = y.symmetric.high - (b.value + b.U);
    const bool curved = std::abs(low + high) > std::abs(low - high) || std::abs(y.mean - b.value) > v.delta ||
                        std::abs(y.standard_deviation - scatter) > v.delta;
    return curved ? first_order_is::short_of_order : first_order_is::of_another_shape;
}

/// The probe that a budget's readings are taken through. @pre not uncalibrated
const std::optional<front_end::probe>& probe_of(const budget_of_reading& budget) {
    if (const auto* in_use = std::get_if<read_in_use>(&budget)) return in_use->probe;
    return std::get<read_at_calibration>(budget).probe;
}

/// @pre not uncalibrated
reading_conditions conditions_of(const budget_of_reading& budget) {
    if (const auto* in_use = std::get_if<read_in_use>(&budget)) {
        return {in_use->samples, in_use->temperature_difference, in_use->use.temperature_half_width, in_use->sample_rate};
    }
    return std::get<read_at_calibration>(budget).when;
}

/// Readings of one budget over any evaluation. What the composition is asked for has been looked at by first_order_of.
struct readings_of_budget {
    const range_calibration& of;
    const std::vector<reference>& references;
    std::span<const kind_of_reading> readings;
    const budget_of_reading& budget;

    template <class Evaluation>
    [[nodiscard]] auto operator()(const Evaluation& e) const {
        std::vector<decltype(e.constant(voltage()))> all;
        if (const auto* by_data_sheet = std::get_if<read_uncalibrated>(&budget)) {
            for (const kind_of_reading& r : readings) {
                all.push_back(models::uncalibrated(e, of, std::get<read_mean>(r).c, by_data_sheet->when));
            }
            return all;
        }
        const models::line<Evaluation> steps(e, of, references);
        const auto* in_use = std::get_if<read_in_use>(&budget);
        reading_conditions when = conditions_of(budget);
        const std::optional<front_end::probe>& probe = probe_of(budget);
        const auto add_reading = [&](const auto& v) {
            const auto y = in_use == nullptr ? v : models::in_use(e, of, v, in_use->use, true);
            all.push_back(probe ? models::reading_at_tip(e, of, y, *probe, when) : y);
        };
        const auto add_difference = [&](const auto& v) {
            const auto y = in_use == nullptr ? v : models::in_use(e, of, v, in_use->use, false);
            all.push_back(probe ? models::difference_at_tip(e, of, y, *probe, when) : y);
        };
        for (const kind_of_reading& r : readings) {
            if (const auto* mean = std::get_if<read_mean>(&r)) {
                add_reading(models::reading(e, of, steps, mean->c, when));
            } else if (const auto* two = std::get_if<read_difference>(&r)) {
                add_difference(models::difference_of_readings(e, of, steps, two->first, two->second, when));
            } else {
                const auto& peaks = std::get<read_peak_to_peak>(r);
                if (in_use != nullptr) when.samples = 1.0;
                add_difference(models::peak_to_peak(e, of, steps, peaks.lowest, peaks.highest, peaks.captured, when));
            }
        }
        return all;
    }
};

/// A reading at the connector as the functions of reading.hpp state it, which refuse what cannot be.
uncertainty::uncertain<voltage> at_connector(const kind_of_reading& what, const budget_of_reading& budget,
                                             const range_calibration& of, const std::vector<reference>& references,
                                             const uncertainty::input_set& inputs) {
    const auto* mean = std::get_if<read_mean>(&what);
    const auto* two = std::get_if<read_difference>(&what);
    const auto* peaks = std::get_if<read_peak_to_peak>(&what);
    if (const auto* b = std::get_if<read_uncalibrated>(&budget)) {
        if (mean != nullptr) return uncalibrated_reading(inputs, of, mean->c, b->when);
        throw bad_input("validation, channel " + of.channel + ", range " + of.range,
                        two != nullptr ? "a difference, uncalibrated" : "peak to peak, uncalibrated",
                        "a single reading: no other has a budget by data sheets", "validate it at calibration or in use");
    }
    if (const auto* b = std::get_if<read_at_calibration>(&budget)) {
        if (mean != nullptr) return reading(inputs, references, of, mean->c, b->when);
        if (two != nullptr) return difference(inputs, references, of, two->first, two->second, b->when);
        return peak_to_peak(inputs, references, of, peaks->lowest, peaks->highest, peaks->captured, b->when);
    }
    const auto& b = std::get<read_in_use>(budget);
    if (mean != nullptr)
        return reading_in_use(inputs, references, of, mean->c, b.samples, b.use, b.temperature_difference, b.sample_rate);
    if (two != nullptr) {
        return difference_in_use(inputs, references, of, two->first, two->second, b.samples, b.use, b.temperature_difference,
                                 b.sample_rate);
    }
    return peak_to_peak_in_use(inputs, references, of, peaks->lowest, peaks->highest, peaks->captured, b.use,
                               b.temperature_difference, b.sample_rate);
}

/// The same at the tip, where it is read through a probe.
uncertainty::uncertain<voltage> first_order_of(const kind_of_reading& what, const budget_of_reading& budget,
                                               const range_calibration& of, const std::vector<reference>& references,
                                               const uncertainty::input_set& inputs) {
    uncertainty::uncertain<voltage> y = at_connector(what, budget, of, references, inputs);
    if (std::holds_alternative<read_uncalibrated>(budget) || !probe_of(budget)) return y;
    const reading_conditions when = conditions_of(budget);
    return std::holds_alternative<read_mean>(what) ? through_probe(inputs, of, y, *probe_of(budget), when)
                                                   : difference_through_probe(inputs, of, y, *probe_of(budget), when);
}

uncertainty::monte_carlo_settings run_of(const validation_settings& settings) {
    uncertainty::monte_carlo_settings run;
    run.trials = settings.trials;
    run.seed = settings.seed;
    run.probability = settings.probability;
    run.correlations = settings.correlations;
    return run;
}

interval_by_trials interval_of(const uncertainty::budget& b, const uncertainty::monte_carlo_result& trials, std::size_t i,
                               int significant_digits) {
    const uncertainty::coverage_interval& found = trials.outputs[i].symmetric;
    return {voltage::from_value(found.low), voltage::from_value(found.high), judged(b, trials, i, significant_digits)};
}

/// Each result of a composition by trials, beside its first order.
template <class Composition>
std::vector<interval_by_trials> compared_with_trials(const Composition& results, const uncertainty::input_set& inputs,
                                                     const validation_settings& settings) {
    const uncertainty::monte_carlo_result trials = uncertainty::monte_carlo(run_of(settings), inputs, results);
    const auto first_order = results(uncertainty::with_sensitivities{inputs});
    std::vector<interval_by_trials> found;
    for (std::size_t i = 0; i < first_order.size(); ++i) {
        const uncertainty::budget b =
            uncertainty::make_convolved_budget(first_order[i], settings.probability, settings.correlations);
        found.push_back(interval_of(b, trials, i, settings.significant_digits));
    }
    return found;
}

}  // namespace

std::vector<voltage> stated_voltages(const front_end::chain& chain) {
    const bool bipolar = chain.low < voltage() && chain.high > voltage();
    if (bipolar) {
        return {chain.low, 0.5 * chain.low, 0.1 * chain.low, voltage(), 0.1 * chain.high, 0.5 * chain.high, chain.high};
    }
    std::vector<voltage> all;
    for (const double part : {0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0}) all.push_back(chain.low + part * (chain.high - chain.low));
    return all;
}

std::vector<stated_kind> stated_kinds(const front_end::chain& chain) {
    constexpr double averaged = 100.0;
    const voltage middle = 0.5 * (chain.low + chain.high);
    const voltage further = middle + 0.1 * (chain.high - chain.low);
    return {{averaged, middle, {}}, {1.0, middle, further}, {averaged, middle, further}};
}

void validate(range_calibration& of, const std::vector<reference>& references, const uncertainty::input_set& inputs,
              const validation_settings& settings) {
    const std::vector<interval_by_trials> found = compared_with_trials(stated_results{of, references}, inputs, settings);
    std::vector<interval_by_trials> in_use;
    if (of.in_use) in_use = compared_with_trials(stated_in_use{of, references}, inputs, settings);

    validation all{settings.trials, settings.seed, settings.significant_digits, {}};
    auto next = found.begin();
    const std::vector<voltage> voltages = stated_voltages(of.chain);
    for (const voltage& v : voltages) all.readings.push_back({v, *next++});
    for (const voltage& v : voltages) all.uncalibrated.push_back({v, *next++});
    for (const stated_kind& k : stated_kinds(of.chain)) all.kinds.push_back({k, *next++});
    for (std::size_t i = 0; i < in_use.size(); ++i) all.in_use.push_back({voltages[i], in_use[i]});
    of.by_trials = std::move(all);
    for (check_point& c : of.checks) c.by_trials = *next++;
}

std::vector<validated_reading> validate_readings(const range_calibration& of, const std::vector<reference>& references,
                                                 const uncertainty::input_set& inputs, std::span<const kind_of_reading> readings,
                                                 const budget_of_reading& budget, const validation_settings& settings) {
    std::vector<validated_reading> all;
    for (const kind_of_reading& r : readings) {
        all.push_back({uncertainty::make_convolved_budget(first_order_of(r, budget, of, references, inputs), settings.probability,
                                                          settings.correlations),
                       {}});
    }
    const uncertainty::monte_carlo_result trials =
        uncertainty::monte_carlo(run_of(settings), inputs, readings_of_budget{of, references, readings, budget});
    for (std::size_t i = 0; i < all.size(); ++i) {
        all[i].by_trials = interval_of(all[i].first_order, trials, i, settings.significant_digits);
    }
    return all;
}

}  // namespace plumbline::inline v0::calibration
