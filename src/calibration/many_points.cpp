#include <plumbline/calibration/many_points.hpp>

#include "../units/figures.hpp"
#include "captured_mean.hpp"
#include "models.hpp"
#include "range_inputs.hpp"
#include "step_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::calibration {

namespace {

using uncertainty::dependence;
using uncertainty::uncertain;
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
                {of_step, label, place(label, of.channel, of.range), of.ambient, of.temperature_half_width, longest_time_of(of)}};
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
    for (const step_with_inputs& p : points) all.emplace_back(e, of, references, *p.seen, p.when.id);
    return all;
}

/// Variance of what a capture's mean may be off by noise and quantisation.
double variance_of_mean(const capture::statistics& s) {
    const captured_mean m = mean_of(s);
    const double hum = s.removed ? s.removed->u.value() : 0.0;
    const double slow = s.slow ? s.slow->floor.value() : 0.0;
    return m.u.value() * m.u.value() + m.half_width.value() * m.half_width.value() / 3.0 + hum * hum + slow * slow;
}

/// V at code c from the points: coefficients of each point's voltage.
numbers coefficients(const many_points& by, codes c) {
    numbers d(by.of_height.size());
    const double from_centre = (c - by.line.line.centre).value();
    for (std::size_t i = 0; i < d.size(); ++i) d[i] = by.of_height[i] + by.of_slope[i] * from_centre;
    return d;
}

/// A sum of the points' figures, each with a coefficient: applied voltages, and where the data sheet's non-linearity is used, mean codes.
std::vector<dependence> of_points(const many_points& by, const ends& points, const numbers& d) {
    numbers outer;
    std::vector<const std::vector<dependence>*> inner;
    for (std::size_t i = 0; i < points.size(); ++i) {
        outer.push_back(d[i]);
        inner.push_back(&points[i].v.dependences);
        if (by.measured) continue;
        outer.push_back(-d[i] * by.line.line.slope.value());
        inner.push_back(&points[i].m.dependences);
    }
    return uncertainty::chain(outer, inner);
}

std::vector<std::string> sentences(const many_points& p, const std::vector<step_with_inputs>& points,
                                   const front_end::converter& adc) {
    std::vector<std::string> text;
    std::size_t worst = 0;
    for (std::size_t i = 0; i < p.residuals.size(); ++i) {
        if (std::abs(p.residuals[i].value()) > std::abs(p.residuals[worst].value())) worst = i;
    }
    const std::string largest = fmt::format("the largest residual is {} codes, at the {}",
                                            shown(p.residuals[worst].value(), "1", 2), points[worst].when.label);
    if (p.straight.consistent) {
        text.push_back(
            fmt::format("{} points lie on a straight line within noise and applied voltages: chi-squared is {}, its limit {}; "
                        "{}.",
                        points.size(), shown(p.straight.observed, "1"), shown(p.straight.limit, "1"), largest));
    } else if (p.by_data_sheet.consistent) {
        text.push_back(
            fmt::format("{} points do not lie on a straight line: chi-squared is {}, its limit {}; {}. The converter's "
                        "data sheet allows for it.",
                        points.size(), shown(p.straight.observed, "1"), shown(p.straight.limit, "1"), largest));
    } else {
        text.push_back(
            fmt::format("{} points are further from a straight line than the data sheet's non-linearity of {} codes: "
                        "chi-squared is {}, its limit {}; {}. Look for a voltage entered wrongly, a clamp that conducts, or "
                        "an input that had not settled.",
                        points.size(), shown(adc.integral_nonlinearity.value(), "1"), shown(p.by_data_sheet.observed, "1"),
                        shown(p.by_data_sheet.limit, "1"), largest));
    }
    text.push_back(
        p.measured ? fmt::format("Their residuals scatter by {} codes; that is used in place of the data sheet's non-linearity, "
                                 "with {} degrees of freedom. Between the points nothing was seen.",
                                 shown(p.nonlinearity.value(), "1", 2), p.degrees_of_freedom)
                   : fmt::format("{} points are too few to take their residuals for the non-linearity, {} would do: the data "
                                 "sheet's is used.",
                                 points.size(), points_for_nonlinearity));
    return text;
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

many_points solve_points(const range_calibration& of, const std::vector<named_step>& more,
                         const std::vector<calibration::reference>& references, uncertainty::input_set& inputs) {
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

    many_points p;
    p.more = more;
    const std::vector<step_with_inputs> points = points_of(of, more);
    uncertainty::input_set next = inputs;
    for (std::size_t i = points.size() - more.size(); i < points.size(); ++i) {
        add_applied_voltage(next, points[i].seen->source, references, points[i].when);
        add_captured_code(next, id, points[i].when, *points[i].seen, of.chain);
    }
    const sensitive_line e{next};
    const ends all = evaluated(e, of, references, points);

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
        noise.push_back(variance_of_mean(points[i].seen->seen));
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
    p.straight = *fitted_with(0.0).fit;
    p.by_data_sheet = *fitted_with(data_sheet).fit;
    const double used = p.measured ? p.nonlinearity.value() * p.nonlinearity.value() : data_sheet;
    p.line = fitted_with(used);
    for (const voltage& r : p.line.residuals) p.residuals.push_back(-1.0 * r / p.line.line.slope);

    // Height and slope as sums of the points' voltages, by the covariance of their distances from the line.
    const double slope = p.line.line.slope.value();
    numbers V;
    for (const squared_volts& q : distances(slope, used)) V.push_back(q.value());
    numbers from_centre;
    for (const codes& each : m) from_centre.push_back((each - p.line.line.centre).value());
    const factored by(V);
    p.of_height = by.solve(numbers(n, 1.0));
    p.of_slope = by.solve(from_centre);
    // Two conditions, that a straight line comes out as itself, whatever is left of the centre's rounding.
    const numbers one(n, 1.0);
    const double a = dot(p.of_height, one), b = dot(p.of_slope, one), c = dot(p.of_height, from_centre),
                 d = dot(p.of_slope, from_centre), det = a * d - b * c;
    for (std::size_t i = 0; i < n; ++i) {
        const double h = p.of_height[i], s = p.of_slope[i];
        p.of_height[i] = (d * h - b * s) / det;
        p.of_slope[i] = (a * s - c * h) / det;
    }

    // Gain and offset with their covariance, the scatter of the points included.
    const numbers at_zero = coefficients(p, 0.0 * code);
    const std::vector<dependence> gain_by = of_points(p, all, p.of_slope);
    const std::vector<dependence> offset_by = of_points(p, all, at_zero);
    const double scatter = p.measured ? slope * slope * used : 0.0;
    p.result.gain = p.line.line.slope;
    p.result.offset = p.line.line.intercept;
    p.result.u_gain = volts_per_code::from_value(std::sqrt(covariance(gain_by, gain_by) + scatter * dot(p.of_slope, p.of_slope)));
    p.result.u_offset = voltage::from_value(std::sqrt(covariance(offset_by, offset_by) + scatter * dot(at_zero, at_zero)));
    p.result.covariance = covariance(gain_by, offset_by) + scatter * dot(p.of_slope, at_zero);
    p.text = sentences(p, points, of.chain.adc);
    inputs = std::move(next);
    return p;
}

uncertain<voltage> reading(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                           const range_calibration& of, const many_points& by, codes c, const reading_conditions& when) {
    const std::string id = identity::range(of.channel, of.range);
    if (!std::isfinite(c.value()) || !(when.samples >= 1.0)) {
        throw bad_input("reading, " + id, fmt::format("a mean code of {} from {} samples", c.value(), when.samples),
                        "a finite code and 1 sample or more", "correct the reading");
    }
    const sensitive_line e{inputs};
    const ends points = evaluated(e, of, references, points_of(of, by.more));
    const numbers d = coefficients(by, c);
    const uncertain<voltage> line{by.line.line.height + by.line.line.slope * (c - by.line.line.centre), of_points(by, points, d)};

    const uncertain<codes> read = [&] {
        if (!by.measured) return models::read_code(e, id, of.chain.adc, c, when.samples);
        const std::string at = identity::reading(id);
        const double u = by.nonlinearity.value() * std::sqrt(1.0 + dot(d, d));
        return models::read_code_by(
            e, id, c, when.samples, [&](const std::string& own) { return e.input<codes>(own); },
            e.given<codes>({at + "/nonlinearity measured", "non-linearity of the reading and scatter of the points",
                            fmt::format("residuals of {} points", points.size()), unit_symbol<codes>, 0.0,
                            uncertainty::repeated{u, by.degrees_of_freedom}}));
    }();
    const std::array<double, 2> outer{1.0, by.line.line.slope.value()};
    const std::array<const std::vector<dependence>*, 2> inner{&line.dependences, &read.dependences};
    const uncertain<voltage> seen{line.value, uncertainty::chain(outer, inner)};
    return e.apply(models::sum{}, seen,
                   models::temperature_shift(e, id, of.chain, c, models::effects_of_reading<sensitive_line>{e, id, when}));
}

}  // namespace plumbline::inline v0::calibration
