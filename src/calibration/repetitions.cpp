#include <plumbline/calibration/repetitions.hpp>

#include "../units/figures.hpp"
#include "identity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/coverage.hpp>

namespace plumbline::inline v0::calibration {

namespace {

void expect_turns(std::span<const turn> turns) {
    const std::string where = "zero and reference in turn";
    constexpr std::size_t fewest = 5;
    if (turns.size() < fewest) {
        throw bad_input(where, fmt::format("{} captures", turns.size()), "5 or more: 0-R-0-R-0",
                        "repeat the zero and the reference step, each connected anew");
    }
    for (std::size_t i = 0; i < turns.size(); ++i) {
        if (!std::isfinite(turns[i].mean.value()) || !std::isfinite(turns[i].at.value())) {
            throw bad_input(
                where, fmt::format("capture {} with a mean of {} at {} s", i + 1, turns[i].mean.value(), turns[i].at.value()),
                "finite figures", "look at the capture");
        }
        if (i == 0) continue;
        if (!(turns[i].at > turns[i - 1].at)) {
            throw bad_input(where, fmt::format("capture {} not later than the one before", i + 1), "times that rise",
                            "put the captures in their order");
        }
        if (turns[i].is_reference == turns[i - 1].is_reference) {
            throw bad_input(where, fmt::format("captures {} and {} of one kind", i, i + 1), "zero and reference in turn",
                            "take one out, or put them in their order");
        }
    }
}

/// U of the drift, 95.45 %.
codes_per_second limit_of(const drift_free& f) {
    return uncertainty::coverage_factor(uncertainty::default_coverage_probability, f.degrees_of_freedom) * f.u_drift;
}

}  // namespace

drift_free without_drift(std::span<const turn> turns) {
    expect_turns(turns);
    const double n = static_cast<double>(turns.size());
    double middle = 0.0;
    double start = 0.0;
    for (const turn& t : turns) {
        middle += t.at.value() / n;
        start += t.mean.value() / n;
    }
    // Sums by kind: two levels and one slope. The slope is that of the deviations from each kind's own mean time.
    std::array<double, 2> count{};
    std::array<double, 2> time{};
    std::array<double, 2> level{};
    for (const turn& t : turns) {
        const std::size_t k = t.is_reference ? 1 : 0;
        count[k] += 1.0;
        time[k] += t.at.value() - middle;
        level[k] += t.mean.value() - start;
    }
    for (std::size_t k : {0U, 1U}) {
        time[k] /= count[k];
        level[k] /= count[k];
    }
    double s_tt = 0.0;
    double s_tm = 0.0;
    for (const turn& t : turns) {
        const std::size_t k = t.is_reference ? 1 : 0;
        const double dt = t.at.value() - middle - time[k];
        s_tt += dt * dt;
        s_tm += dt * (t.mean.value() - start - level[k]);
    }
    const double drift = s_tm / s_tt;
    double squares = 0.0;
    for (const turn& t : turns) {
        const std::size_t k = t.is_reference ? 1 : 0;
        const double r = t.mean.value() - start - level[k] - drift * (t.at.value() - middle - time[k]);
        squares += r * r;
    }
    drift_free f;
    f.degrees_of_freedom = n - 3.0;
    const double variance = squares / f.degrees_of_freedom;
    // Each level at the middle: its mean less drift times its own mean time.
    const auto at_middle = [&](std::size_t k) { return codes::from_value(start + level[k] - drift * time[k]); };
    const auto u_of = [&](std::size_t k) { return std::sqrt(variance * (1.0 / count[k] + time[k] * time[k] / s_tt)); };
    f.zero = at_middle(0);
    f.reference = at_middle(1);
    f.u_zero = codes::from_value(u_of(0));
    f.u_reference = codes::from_value(u_of(1));
    const double product = u_of(0) * u_of(1);
    f.correlation = product > 0.0 ? variance * time[0] * time[1] / s_tt / product : 0.0;
    if (std::abs(f.correlation) < 1e-12) f.correlation = 0.0;  // rounding
    f.scatter = codes::from_value(std::sqrt(variance));
    f.drift = codes_per_second::from_value(drift);
    f.u_drift = codes_per_second::from_value(std::sqrt(variance / s_tt));
    const double took = (turns.back().at - turns.front().at).value();
    const double limit = limit_of(f).value();
    f.text = fmt::format(
        "Over {} the codes drifted by {} +- {}, which is taken off. Connecting anew scatters by {} codes, with {} degrees of "
        "freedom{}.",
        shown(took, "s"), shown(drift * took, "1", 2), shown(limit * took, "1", 2), shown(f.scatter.value(), "1", 2),
        f.degrees_of_freedom, f.degrees_of_freedom < 4.0 ? ": few; more turns narrow U" : "");
    return f;
}

drift_free without_drift(std::span<const repeated_capture> turns) {
    std::vector<turn> all;
    for (std::size_t i = 0; i < turns.size(); ++i) all.push_back({i % 2 == 1, turns[i].seen.mean, turns[i].at});
    return without_drift(all);
}

std::optional<codes> drift_seen(std::span<const repeated_capture> turns) {
    const drift_free f = without_drift(turns);
    if (!(std::abs(f.drift.value()) > limit_of(f).value())) return {};
    return f.drift * (turns.back().at - turns.front().at);
}

capture::statistics of_all_turns(std::span<const repeated_capture> turns, const drift_free& by, bool of_reference) {
    capture::statistics all{};
    double squares = 0.0;
    double freedom = 0.0;
    for (std::size_t i = of_reference ? 1 : 0; i < turns.size(); i += 2) {
        const capture::statistics& one = turns[i].seen;
        if (all.n == 0) {
            all = one;
        } else {
            all.n += one.n;
            all.n_eff += one.n_eff;
            all.min = std::min(all.min, one.min);
            all.max = std::max(all.max, one.max);
            all.at_bottom += one.at_bottom;
            all.at_top += one.at_top;
        }
        const double nu = std::max(1.0, one.n_eff - 1.0);  // pooled (JCGM 100:2008, 4.2.4)
        squares += nu * one.s.value() * one.s.value();
        freedom += nu;
    }
    all.s = codes::from_value(std::sqrt(squares / freedom));
    all.mean = of_reference ? by.reference : by.zero;
    all.few_codes.clear();  // those of one capture say nothing of where the mean of all stands
    return all;
}

std::vector<uncertainty::correlation> correlations_of(const range_calibration& of) {
    if (of.turns.empty()) return {};
    const double r = without_drift(of.turns).correlation;
    if (r == 0.0) return {};
    const std::string id = identity::range(of.channel, of.range);
    return {{identity::zero(id) + "/mean", identity::reference_step(id) + "/mean", r}};
}

}  // namespace plumbline::inline v0::calibration
