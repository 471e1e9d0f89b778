#include "trials.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <plumbline/uncertainty/coverage.hpp>
#include <utility>

namespace plumbline::inline v0::certificate {
namespace {

const char* reason(calibration::first_order_is found) {
    switch (found) {
        case calibration::first_order_is::validated:
            return "validated";
        case calibration::first_order_is::short_of_readings:
            return "few degrees of freedom: the scatter itself is known from few samples";
        case calibration::first_order_is::short_of_order:
            return "second-order terms count: the model is curved, or a sensitivity vanishes";
        case calibration::first_order_is::of_another_shape:
            return "the distribution has another shape than its linear terms, a bounded one rules";
    }
    return "";
}

/// Farther of the two ends from those of value ± U, as a fraction of U.
double off(const compared_result& r) {
    const voltage low = r.by_trials.low - (r.value - r.U);
    const voltage high = r.by_trials.high - (r.value + r.U);
    return std::max(std::abs(low.value()), std::abs(high.value())) / r.U.value();
}

table not_validated() {
    return {"First order is not validated here: take the interval by Monte Carlo",
            {"at", "interval by Monte Carlo", "why"},
            {},
            true,
            true};
}

/// How far the ends of these are off at most, and a row to `left` for each that is not validated.
double look_at(const std::vector<compared_result>& all, rounding how, table& left) {
    double farthest = 0.0;
    for (const compared_result& r : all) {
        farthest = std::max(farthest, off(r));
        if (r.by_trials.first_order != calibration::first_order_is::validated) {
            left.rows.push_back({r.name, interval_text(r, how), reason(r.by_trials.first_order)});
        }
    }
    return farthest;
}

/// "all 7 readings", "5 of 7 readings"
std::string how_many(std::size_t good, std::size_t of, const std::string& those) {
    return (good == of ? "all " : std::to_string(good) + " of ") + std::to_string(of) + ' ' + those;
}

std::string at_most(double part_of_U) { return together(significant(part_of_U, 2, "1", rounding::up)); }

/// Standard deviation of an end from so many trials, as a fraction of U, where the result is about normal: that of a sample's quantile,
/// sqrt(q (1 - q) / n) / density.
double scatter_of_an_end(double trials, double probability) {
    const double q = 0.5 * (1.0 - probability);
    const double k = uncertainty::coverage_factor(probability, uncertainty::infinite);
    const double density = std::exp(-0.5 * k * k) / std::sqrt(2.0 * std::numbers::pi);
    return std::sqrt(q * (1.0 - q) / trials) / density / k;
}

}  // namespace

std::string interval_text(const compared_result& r, rounding how) {
    const auto end = [&](voltage v) { return together(round_with_prefix(v, r.U, how).value_with_unit()); };
    return end(r.by_trials.low) + " to " + end(r.by_trials.high);
}

std::vector<block> compared_with_trials(const std::string& what, const std::string& those,
                                        const std::vector<compared_result>& all, const calibration::validation& run,
                                        double probability, rounding how) {
    table left = not_validated();
    const double farthest = look_at(all, how, left);
    const std::size_t good = all.size() - left.rows.size();
    std::string text = "By Monte Carlo, " + together(std::to_string(run.trials) + " trials") + ", " +
                       together("seed " + std::to_string(run.seed)) + ", to " +
                       together(std::to_string(run.significant_digits) +
                                (run.significant_digits == 1 ? " significant digit" : " significant digits")) +
                       " of u: first order is validated for " + how_many(good, all.size(), those);
    text += ". The ends of its interval are off those of " + what + " ± U by " + at_most(farthest) +
            " of U or less; chance alone has a standard deviation of " +
            together(significant(scatter_of_an_end(static_cast<double>(run.trials), probability), 1, "1")) + " there.";
    std::vector<block> out{paragraph{std::move(text)}};
    if (!left.rows.empty()) out.emplace_back(std::move(left));
    return out;
}

std::vector<block> likewise_compared(const std::vector<compared_group>& groups, rounding how) {
    table left = not_validated();
    std::string text;
    for (const compared_group& g : groups) {
        if (g.all.empty()) continue;
        const std::size_t before = left.rows.size();
        const double farthest = look_at(g.all, how, left);
        text += text.empty() ? "By as many trials it is validated for " : "; for ";
        text += how_many(g.all.size() - (left.rows.size() - before), g.all.size(), g.those) + ", ends off by " +
                at_most(farthest) + " of U or less";
    }
    std::vector<block> out;
    if (!text.empty()) out.emplace_back(paragraph{text + '.'});
    if (!left.rows.empty()) out.emplace_back(std::move(left));
    return out;
}

}  // namespace plumbline::inline v0::certificate
