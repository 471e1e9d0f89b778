#include <plumbline/calibration/many_points.hpp>

#include "../uncertainty/quantiles.hpp"
#include "../units/figures.hpp"
#include "captured_mean.hpp"
#include "findings.hpp"
#include "models.hpp"
#include "range_inputs.hpp"
#include "step_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::calibration {

namespace {

using uncertainty::dependence;
using sensitive_line = uncertainty::with_sensitivities;
using numbers = std::vector<double>;

bool any(std::span<const codes> list) {
    return std::any_of(list.begin(), list.end(), [](codes q) { return q != codes(); });
}

/// Cholesky factor of a symmetric positive definite matrix, in place, and the solution of V x = y by it.
class factored {
public:
    explicit factored(numbers v)
        : n_(static_cast<std::size_t>(std::llround(std::sqrt(static_cast<double>(v.size()))))), l_(std::move(v)) {
        for (std::size_t j = 0; j < n_; ++j) {
            for (std::size_t i = j; i < n_; ++i) {
                double sum = l_[i * n_ + j];
                for (std::size_t k = 0; k < j; ++k) sum -= l_[i * n_ + k] * l_[j * n_ + k];
                l_[i * n_ + j] = i == j ? std::sqrt(sum) : sum / l_[j * n_ + j];
            }
        }
    }
    [[nodiscard]] numbers solve(numbers y) const {
        for (std::size_t i = 0; i < n_; ++i) {
            for (std::size_t k = 0; k < i; ++k) y[i] -= l_[i * n_ + k] * y[k];
            y[i] /= l_[i * n_ + i];
        }
        for (std::size_t i = n_; i-- > 0;) {
            for (std::size_t k = i + 1; k < n_; ++k) y[i] -= l_[k * n_ + i] * y[k];
            y[i] /= l_[i * n_ + i];
        }
        return y;
    }

private:
    std::size_t n_;
    numbers l_;
};

double dot(const numbers& a, const numbers& b) {
    double sum = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
    return sum;
}

/// A step with the names of its inputs.
struct step_with_inputs {
    const step* seen;
    moment when;
};

std::vector<step_with_inputs> points_of(const range_calibration& of, const std::vector<named_step>& more) {
    const std::string id = identity::range(of.channel, of.range);
    const auto at = [&](const step& s, const std::string& of_step, const std::string& label) -> step_with_inputs {
        return {&s,
                {of_step, label, place(label, of.channel, of.range), of.ambient, of.temperature_half_width, longest_time_of(of),
                 lines_of(of)}};
    };
    std::vector<step_with_inputs> all{at(of.zero, identity::zero(id), "zero step"),
                                      at(of.reference, identity::reference_step(id), "reference step")};
    if (of.negative) all.push_back(at(*of.negative, identity::negative_step(id), "negative step"));
    for (const named_step& s : more) all.push_back(at(s.seen, identity::further_step(id, s.name), "step " + s.name));
    return all;
}

using ends = std::vector<models::end_of_line<sensitive_line>>;

ends evaluated(const sensitive_line& e, const range_calibration& of, const std::vector<reference>& references,
               const std::vector<step_with_inputs>& points) {
    ends all;
    const std::size_t steps = points.size() - of.points->more.size();
    for (std::size_t i = 0; i < steps; ++i) all.emplace_back(e, of, references, *points[i].seen, points[i].when.id);
    for (const named_step& s : of.points->more) all.push_back(models::further_end(e, of, references, s));
    return all;
}

/// Variance of what a mean code may be off by what its capture shows, and by what it is too short to show.
double variance_of_mean(const uncertainty::input_set& inputs, const std::string& at) {
    double variance = 0.0;
    for (const std::string& id : {at + "/mean", at + "/quantisation", identity::hum(at), identity::unseen_hum(at),
                                  identity::slow_disturbance(at), identity::slow_noise(at)}) {
        const auto input = inputs.find(id);
        if (input == nullptr) continue;
        const double u = uncertainty::standard_uncertainty(input->spread);
        variance += u * u;
    }
    return variance;
}

/// The further steps stand at moments of the drift that nobody knows: all may be off to one side, so they share one input.
void add_drift(line_of_points& p, const range_calibration& of, uncertainty::input_set& to) {
    if (of.turns.empty()) return;
    const std::optional<codes> drift = drift_seen(of.turns);
    if (!drift) return;
    const std::string id = identity::drift_of_points(identity::range(of.channel, of.range));
    // A range that is solved anew among the inputs of its record keeps the figure that stands there: its gain is then another.
    for (const uncertainty::shared_input& in : to.all()) {
        if (in->id != id) continue;
        p.drift = voltage::from_value(std::get<uncertainty::rectangular>(in->spread).half_width);
        return;
    }
    p.drift = voltage::from_value(std::abs((*drift * of.result.gain).value()));
    to.add({id, "drift, all further steps", "repetitions in turn", unit_symbol<voltage>, 0.0,
            uncertainty::rectangular{p.drift->value()}});
}

/// A sum of the points' figures, each with a coefficient: applied voltages, and where the data sheet's non-linearity is used, mean codes.
std::vector<dependence> of_points(const line_of_points& by, const ends& points, const numbers& d) {
    numbers outer;
    std::vector<const std::vector<dependence>*> inner;
    for (std::size_t i = 0; i < points.size(); ++i) {
        outer.push_back(d[i]);
        inner.push_back(&points[i].v.dependences);
        if (by.measured) continue;
        outer.push_back(-d[i] * by.slope.value());
        inner.push_back(&points[i].m.dependences);
    }
    return uncertainty::chain(outer, inner);
}

}  // namespace

fitted_line fit(const line_points& p) {
    namespace un = uncertainty;
    fitted_line f;
    if (!p.U_v.empty()) {
        if (p.u_m.empty() || !any(p.u_m)) {
            f.line = un::fit_line(un::correlated_points<codes, voltage>{p.m, p.v, p.U_v});
        } else {
            const std::size_t n = p.m.size();
            std::vector<un::product_of<codes, codes>> U_m(n * n);
            const std::vector<un::product_of<codes, voltage>> U_mv(n * n);
            for (std::size_t i = 0; i < std::min(n, p.u_m.size()); ++i) U_m[i * n + i] = p.u_m[i] * p.u_m[i];
            f.line = un::fit_line(un::all_correlated_points<codes, voltage>{p.m, p.v, U_m, p.U_v, U_mv});
        }
    } else if (p.u_v.empty() && (p.u_m.empty() || !any(p.u_m))) {
        f.line = un::fit_line(un::unweighted_points<codes, voltage>{p.m, p.v});
    } else if (p.u_m.empty() || !any(p.u_m)) {
        f.line = un::fit_line(un::weighted_points<codes, voltage>{p.m, p.v, p.u_v});
    } else {
        const std::vector<voltage> exact(p.u_v.empty() ? p.m.size() : 0);
        f.line = un::fit_line(un::both_uncertain_points<codes, voltage>{
            p.m, p.v, p.u_m, p.u_v.empty() ? std::span<const voltage>(exact) : p.u_v, p.covariance});
    }
    for (std::size_t i = 0; i < p.m.size(); ++i) {
        f.residuals.push_back(p.v[i] - (f.line.height + f.line.slope * (p.m[i] - f.line.centre)));
    }
    const bool stated = f.line.residual_deviation == voltage() && std::isinf(f.line.degrees_of_freedom_of_u);
    if (stated && f.line.degrees_of_freedom > 0) f.fit = un::verdict(f.line);
    return f;
}

void solve_points(range_calibration& of, const std::vector<named_step>& more,
                  const std::vector<calibration::reference>& references, uncertainty::input_set& inputs,
                  std::span<const uncertainty::correlation> correlations) {
    const std::string id = identity::range(of.channel, of.range);
    if (more.empty()) {
        throw bad_input("line through points, " + id, "no step besides zero and reference", "one or more",
                        "capture further voltages, or keep the line through two steps");
    }
    for (std::size_t i = 0; i < more.size(); ++i) {
        const std::string where = place("step " + more[i].name, of.channel, of.range);
        for (std::size_t j = 0; j < i; ++j) {
            if (more[j].name == more[i].name) throw bad_input(where, "this name twice", "a name for each step", "rename one");
        }
        expect_samples(more[i].seen, where);
        expect_unclipped(more[i].seen, of.chain.adc, where, "apply a voltage inside the range",
                         "apply a voltage inside the range");
    }

    range_calibration solved = of;
    line_of_points& p = solved.points.emplace();
    p.more = more;
    const std::vector<step_with_inputs> points = points_of(of, more);
    uncertainty::input_set next = inputs;
    for (std::size_t i = points.size() - more.size(); i < points.size(); ++i) {
        add_applied_voltage(next, points[i].seen->source, references, points[i].when);
        add_captured_code(next, id, points[i].when, *points[i].seen, of.chain);
    }
    add_drift(p, of, next);
    const sensitive_line e{next};
    const ends all = evaluated(e, solved, references, points);

    const std::size_t n = points.size();
    std::vector<codes> m;
    std::vector<voltage> v;
    numbers noise;
    for (std::size_t i = 0; i < n; ++i) {
        if (!std::isfinite(all[i].v.value.value())) {
            throw bad_step(bad_step::reason::not_finite, points[i].when.where,
                           fmt::format("an applied voltage of {} V", all[i].v.value.value()), "a finite voltage",
                           "correct the session");
        }
        m.push_back(all[i].m.value);
        v.push_back(all[i].v.value);
        noise.push_back(variance_of_mean(next, points[i].when.id));
    }
    // Least squares of codes without weights: its residuals in codes have n - 2 degrees of freedom.
    const fitted_line plain = fit({m, v});
    const double gain = plain.line.slope.value();
    p.degrees_of_freedom = static_cast<double>(n - 2);
    p.nonlinearity = codes::from_value(std::abs(plain.line.residual_deviation.value() / gain));
    p.measured = n >= points_for_nonlinearity;

    std::vector<squared_volts> U_v(n * n);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            U_v[i * n + j] = squared_volts::from_value(covariance(all[i].v.dependences, all[j].v.dependences));
        }
    }
    // The codes' variances are carried over to volts by the slope: the covariance of the points' distances from the line. A shared error leaves
    // U_v without an inverse, this sum has one.
    const auto distances = [&](double slope, double variance) {
        std::vector<squared_volts> U = U_v;
        for (std::size_t i = 0; i < n; ++i) U[i * n + i] += squared_volts::from_value(slope * slope * (noise[i] + variance));
        return U;
    };
    const auto fitted_with = [&](double variance) {
        fitted_line f = plain;
        for (int again = 0; again < 2; ++again) f = fit({m, v, {}, {}, distances(f.line.slope.value(), variance), {}});
        return f;
    };
    const double data_sheet = of.chain.adc.integral_nonlinearity.value() * of.chain.adc.integral_nonlinearity.value() / 3.0;
    const auto lack = [](const fitted_line& f) { return lack_of_fit{f.fit->observed, f.fit->limit}; };
    p.straight = lack(fitted_with(0.0));
    p.by_data_sheet = lack(fitted_with(data_sheet));
    const double used = p.measured ? p.nonlinearity.value() * p.nonlinearity.value() : data_sheet;
    const fitted_line line = fitted_with(used);
    p.height = line.line.height;
    p.slope = line.line.slope;
    p.centre = line.line.centre;

    // Height and slope as sums of the points' voltages, by the covariance of their distances from the line.
    numbers V;
    for (const squared_volts& q : distances(p.slope.value(), used)) V.push_back(q.value());
    numbers from_centre;
    for (const codes& each : m) from_centre.push_back((each - p.centre).value());
    const factored by(V);
    numbers of_height = by.solve(numbers(n, 1.0));
    numbers of_slope = by.solve(from_centre);
    // Two conditions, that a straight line comes out as itself, whatever is left of the centre's rounding.
    const numbers one(n, 1.0);
    const double a = dot(of_height, one);
    const double b = dot(of_slope, one);
    const double c = dot(of_height, from_centre);
    const double d = dot(of_slope, from_centre);
    const double det = a * d - b * c;
    for (std::size_t i = 0; i < n; ++i) {
        const double h = (d * of_height[i] - b * of_slope[i]) / det;
        const double s = (a * of_slope[i] - c * of_height[i]) / det;
        p.points.push_back({points[i].when.label, v[i], -1.0 * line.residuals[i] / p.slope, h, s});
        of_height[i] = h;
        of_slope[i] = s;
    }

    // Gain and offset with their covariance, the scatter of the points included.
    numbers at_zero(n);
    for (std::size_t i = 0; i < n; ++i) at_zero[i] = of_height[i] - of_slope[i] * p.centre.value();
    const std::vector<dependence> gain_by = of_points(p, all, of_slope);
    const std::vector<dependence> offset_by = of_points(p, all, at_zero);
    const double scatter = p.measured ? p.slope.value() * p.slope.value() * used : 0.0;
    const auto varies = [&](const std::vector<dependence>& x, const std::vector<dependence>& y, const numbers& i,
                            const numbers& j) { return covariance(x, y, correlations) + scatter * dot(i, j); };
    solved.result.gain = p.slope;
    solved.result.offset = line.line.intercept;
    solved.result.u_gain = volts_per_code::from_value(std::sqrt(varies(gain_by, gain_by, of_slope, of_slope)));
    solved.result.u_offset = voltage::from_value(std::sqrt(varies(offset_by, offset_by, at_zero, at_zero)));
    solved.result.covariance = varies(gain_by, offset_by, of_slope, at_zero);
    if (solved.negative_result) solved.negative_result = solved.result;
    // one line: what was said of two slopes no longer holds
    std::erase_if(solved.findings, [](const finding& f) { return f.number == static_cast<int>(notice::slopes_differ); });
    if (auto bent = not_straight(solved, alarm_of_a_test)) solved.findings.push_back(std::move(*bent));
    of = std::move(solved);
    inputs = std::move(next);
}

namespace {

std::string largest_residual(const line_of_points& p) {
    const auto farther = [](const weighted_point& x, const weighted_point& y) {
        return std::abs(x.residual.value()) < std::abs(y.residual.value());
    };
    const weighted_point& worst = *std::max_element(p.points.begin(), p.points.end(), farther);
    return fmt::format("the largest residual is {} codes, at the {}", shown(worst.residual.value(), "1", 2), worst.name);
}

}  // namespace

std::optional<finding> not_straight(const range_calibration& of, double chance) {
    if (!of.points) return {};
    const line_of_points& p = *of.points;
    const double limit = uncertainty::chi_squared_exceeded_by(chance, p.degrees_of_freedom);
    if (!(p.by_data_sheet.observed > limit)) return {};
    return finding{
        static_cast<int>(notice::not_straight),
        place("line through " + std::to_string(p.points.size()) + " points", of.channel, of.range),
        fmt::format("the points are further from a straight line than noise, applied voltages and the data sheet's "
                    "non-linearity of {} codes explain: chi-squared is {}, expected at most {}; {}; look for a voltage "
                    "entered wrongly, a clamp that conducts, or an input that had not settled",
                    shown(of.chain.adc.integral_nonlinearity.value(), "1"), shown(p.by_data_sheet.observed, "1"),
                    shown(limit, "1"), largest_residual(p))};
}

std::vector<std::string> sentences_of_points(const range_calibration& of) {
    if (!of.points) return {};
    const line_of_points& p = *of.points;
    const std::size_t n = p.points.size();
    std::vector<std::string> text;
    const std::string largest = largest_residual(p);
    const bool blamed = std::any_of(of.findings.begin(), of.findings.end(),
                                    [](const finding& f) { return f.number == static_cast<int>(notice::not_straight); });
    if (blamed) {
        text.push_back(
            fmt::format("{} points are further from a straight line than the data sheet's non-linearity of {} codes: "
                        "chi-squared is {}, its limit {}; {}. Look for a voltage entered wrongly, a clamp that conducts, or "
                        "an input that had not settled.",
                        n, shown(of.chain.adc.integral_nonlinearity.value(), "1"), shown(p.by_data_sheet.observed, "1"),
                        shown(p.by_data_sheet.limit, "1"), largest));
    } else if (p.straight.observed <= p.straight.limit) {
        text.push_back(
            fmt::format("{} points lie on a straight line within noise and applied voltages: chi-squared is {}, its limit {}; "
                        "{}.",
                        n, shown(p.straight.observed, "1"), shown(p.straight.limit, "1"), largest));
    } else if (p.by_data_sheet.observed <= p.by_data_sheet.limit) {
        text.push_back(
            fmt::format("{} points do not lie on a straight line: chi-squared is {}, its limit {}; {}. The converter's "
                        "data sheet allows for it.",
                        n, shown(p.straight.observed, "1"), shown(p.straight.limit, "1"), largest));
    } else {
        text.push_back(
            fmt::format("{} points do not lie on a straight line: with the data sheet's non-linearity of {} codes chi-squared is "
                        "{}, its limit of 95 % {}; {}. By chance one straight line in twenty exceeds it: no fault is shown.",
                        n, shown(of.chain.adc.integral_nonlinearity.value(), "1"), shown(p.by_data_sheet.observed, "1"),
                        shown(p.by_data_sheet.limit, "1"), largest));
    }
    if (p.drift) {
        text.push_back(fmt::format(
            "The further steps stand each at one moment of the drift that is taken off the zero and the reference step: "
            "it may have moved them by {}, as much as from the first turn to the last. That is part of U, as "
            "limits that hold for all of them together.",
            shown(p.drift->value(), "V", 2)));
    }
    text.push_back(
        p.measured ? fmt::format("Their residuals scatter by {} codes; that is used in place of the data sheet's non-linearity, "
                                 "with {} degrees of freedom. Between the points nothing was seen.",
                                 shown(p.nonlinearity.value(), "1", 2), p.degrees_of_freedom)
                   : fmt::format("{} points are too few to take their residuals for the non-linearity, {} would do: the data "
                                 "sheet's is used.",
                                 n, points_for_nonlinearity));
    return text;
}

}  // namespace plumbline::inline v0::calibration
