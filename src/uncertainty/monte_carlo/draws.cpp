#include "draws.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <map>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

namespace {

double* at(double* columns, std::size_t place) { return columns + place * column_length; }

/// Draws a column and nothing else.
using simple_draw = std::function<void(const kernels&, std::uint64_t*, double*)>;

simple_draw t_draw(double centre, double scale, double nu) {
    // Beyond this t and normal differ by less than 1e-9 of their spread, and u^(-2/nu) - 1 loses its digits.
    constexpr double as_good_as_normal = 1e9;
    if (!(nu < as_good_as_normal)) {
        return [=](const kernels& k, std::uint64_t* state, double* out) { k.normal(state, out, centre, scale); };
    }
    return [=](const kernels& k, std::uint64_t* state, double* out) { k.student_t(state, out, centre, scale, nu); };
}

/// The draw of an input that needs no column but its own; a new alternative does not compile until it is handled.
struct draw_alone {
    double centre;
    simple_draw operator()(const distribution& d) const { return std::visit(*this, d); }
    simple_draw operator()(const coefficient_times_difference&) const { return {}; }  // of columns it may share: add_alone
    simple_draw operator()(const normal& d) const { return t_draw(centre, d.u, infinite); }
    simple_draw operator()(const repeated& d) const { return t_draw(centre, d.u, d.degrees_of_freedom); }
    simple_draw operator()(const rectangular& d) const {
        return [c = centre, a = d.half_width](const kernels& k, std::uint64_t* state, double* out) {
            k.rectangular(state, out, c, a);
        };
    }
    simple_draw operator()(const triangular& d) const { return two_rectangles(0.5 * d.half_width, 0.5 * d.half_width); }
    simple_draw operator()(const trapezoidal& d) const {
        return two_rectangles(0.5 * (d.half_width + d.top_half_width), 0.5 * (d.half_width - d.top_half_width));
    }
    simple_draw operator()(const arcsine& d) const {
        return
            [c = centre, a = d.half_width](const kernels& k, std::uint64_t* state, double* out) { k.arcsine(state, out, c, a); };
    }
    simple_draw operator()(const two_point& d) const {
        return [c = centre, a = d.half_width](const kernels& k, std::uint64_t* state, double* out) {
            k.rectangular(state, out, 0.0, 1.0);
            for (std::size_t i = 0; i < column_length; ++i) out[i] = c + std::copysign(a, out[i]);
        };
    }
    simple_draw operator()(const curvilinear_trapezoid& d) const {
        return [c = centre, a = d.half_width, w = d.limits_half_width](const kernels& k, std::uint64_t* state, double* out) {
            k.curvilinear_trapezoid(state, out, c, a, w);
        };
    }
    simple_draw operator()(const seen_deviations& d) const {
        return [c = centre, seen = d.values](const kernels& k, std::uint64_t* state, double* out) {
            const auto n = static_cast<double>(seen.size());
            k.rectangular(state, out, 0.5 * n, 0.5 * n);
            for (std::size_t i = 0; i < column_length; ++i) {
                // 0 to n; n itself comes up only by rounding
                out[i] = c + seen[std::min(static_cast<std::size_t>(std::max(out[i], 0.0)), seen.size() - 1)];
            }
        };
    }

private:
    simple_draw two_rectangles(double first, double second) const {
        return [c = centre, first, second](const kernels& k, std::uint64_t* state, double* out) {
            k.two_rectangles(state, out, c, first, second);
        };
    }
};

/// Degrees of freedom of a normal or repeated input as it is drawn; nothing for others.
const double* joint_degrees_of_freedom(const sampled_distribution& spread) {
    static constexpr double of_normal = infinite;
    const auto* d = std::get_if<distribution>(&spread);
    if (d == nullptr) return nullptr;
    if (std::holds_alternative<normal>(*d)) return &of_normal;
    const auto* t = std::get_if<repeated>(d);
    return t == nullptr ? nullptr : &t->degrees_of_freedom;
}

std::string name_of(const correlation& r) { return "correlation of " + r.first + " and " + r.second; }

void expect_sound(const correlation& r) {
    if (!(std::abs(r.coefficient) <= 1.0) || r.first == r.second) {
        throw bad_input(name_of(r), fmt::format("coefficient {}", r.coefficient), "-1 to 1, between two inputs", "correct it");
    }
}

void expect_joint(const trial_program::drawn_input& a, const trial_program::drawn_input& b, const correlation& r) {
    for (const auto* in : {&a, &b}) {
        if (joint_degrees_of_freedom(in->in.spread) == nullptr) {
            throw bad_input(name_of(r), in->in.id + ", whose distribution is neither normal nor of repeated readings",
                            "inputs that are normal or from repeated readings", "let both depend on one shared input instead");
        }
    }
    const double x = *joint_degrees_of_freedom(a.in.spread);
    const double y = *joint_degrees_of_freedom(b.in.spread);
    if (x != y) {
        throw bad_input(name_of(r), fmt::format("{} and {} degrees of freedom", x, y),
                        "the same for both: a joint normal or a joint t distribution",
                        "state both alike, or let both depend on one shared input instead");
    }
}

}  // namespace

/// The columns that products share: coefficients between -1 and 1 by name, differences by name.
struct draw_plan::shared_columns {
    struct difference {
        std::size_t place;
        double centre;
        double half_width;
    };
    std::map<std::string, std::size_t> coefficients;
    std::map<std::string, difference> differences;
};

draw_plan::draw_plan(const trial_program& program, const std::vector<correlation>& correlations) : columns_(program.columns()) {
    std::map<std::string, const trial_program::drawn_input*>
        inputs;                                // by id, so that the order of draws is not the compiler's choice
    std::map<std::string, std::string> group;  // by id, the first id of those it is drawn together with
    for (const auto& in : program.inputs()) {
        inputs.emplace(in.in.id, &in);
        group.emplace(in.in.id, in.in.id);
    }
    for (const correlation& r : correlations) {
        expect_sound(r);
        const auto a = inputs.find(r.first);
        const auto b = inputs.find(r.second);
        if (a == inputs.end() || b == inputs.end()) continue;
        expect_joint(*a->second, *b->second, r);
        const std::string low = std::min(group.at(r.first), group.at(r.second));
        const std::string high = std::max(group.at(r.first), group.at(r.second));
        for (auto& [id, first] : group) {
            if (first == high) first = low;
        }
    }

    shared_columns shared;
    for (const auto& [id, in] : inputs) {
        if (group.at(id) != id) continue;
        std::vector<const trial_program::drawn_input*> together;
        for (const auto& [other, first] : group) {
            if (first == id) together.push_back(inputs.at(other));
        }
        if (together.size() == 1) {
            add_alone(*in, shared);
        } else {
            add_joint(together, correlations);
        }
    }
}

void draw_plan::add_alone(const trial_program::drawn_input& in, shared_columns& shared) {
    const auto add = [this](simple_draw draw, std::size_t place) {
        steps_.emplace_back([draw = std::move(draw), place](const kernels& k, std::uint64_t* state, double* columns) {
            draw(k, state, at(columns, place));
        });
    };
    const auto* of_budget = std::get_if<distribution>(&in.in.spread);
    const auto* p = of_budget == nullptr ? nullptr : std::get_if<coefficient_times_difference>(of_budget);
    if (p == nullptr) return add(std::visit(draw_alone{in.in.estimate}, in.in.spread), in.place);
    auto coefficient = p->coefficient_of.empty() ? shared.coefficients.end() : shared.coefficients.find(p->coefficient_of);
    std::size_t coefficient_place = columns_;
    if (coefficient != shared.coefficients.end()) {
        coefficient_place = coefficient->second;
    } else {
        ++columns_;
        add(draw_alone{0.0}(rectangular{1.0}), coefficient_place);
        if (!p->coefficient_of.empty()) shared.coefficients.emplace(p->coefficient_of, coefficient_place);
    }
    const auto difference = p->factor.empty() ? shared.differences.end() : shared.differences.find(p->factor);
    std::size_t difference_place = columns_;
    if (difference != shared.differences.end()) {
        const shared_columns::difference& d = difference->second;
        if (d.centre != p->difference || d.half_width != p->half_width) {
            throw bad_input("difference \"" + p->factor + '"',
                            fmt::format("{} +- {} in one input and {} +- {} in another", d.centre, d.half_width, p->difference,
                                        p->half_width),
                            "one and the same difference in all inputs that name it", "name them apart, or state them alike");
        }
        difference_place = d.place;
    } else {
        ++columns_;
        add(draw_alone{p->difference}(rectangular{p->half_width}), difference_place);
        if (!p->factor.empty()) {
            shared.differences.emplace(p->factor, shared_columns::difference{difference_place, p->difference, p->half_width});
        }
    }
    steps_.emplace_back([coefficient_place, difference_place, to = in.place, scale = p->coefficient, centre = in.in.estimate](
                            const kernels&, std::uint64_t*, double* columns) {
        const double* a = at(columns, coefficient_place);
        const double* d = at(columns, difference_place);
        double* out = at(columns, to);
        for (std::size_t i = 0; i < column_length; ++i) out[i] = centre + scale * a[i] * d[i];
    });
}

// Joint normal: estimate + u L z. Joint t: the same with t_1, t_2 ... in place of z, which are drawn one after the other, each by its
// distribution given those before, t_k = tau_k sqrt((nu + t_1^2 + ... + t_(k-1)^2) / (nu + k - 1)), tau_k a t with nu + k - 1 degrees
// of freedom. Source: JCGM 101:2008, 6.4.8.4; JCGM 102:2011, 5.3.2; conditional distributions of the multivariate t.
void draw_plan::add_joint(const std::vector<const trial_program::drawn_input*>& group,
                          const std::vector<correlation>& correlations) {
    const std::size_t n = group.size();
    std::vector<double> matrix(n * n, 0.0);
    std::string names;
    for (std::size_t i = 0; i < n; ++i) {
        matrix[i * n + i] = 1.0;
        names += (i == 0 ? "" : i + 1 == n ? " and " : ", ") + group[i]->in.id;
    }
    const auto index = [&](const std::string& id) {
        return static_cast<std::size_t>(
            std::find_if(group.begin(), group.end(), [&](const auto* in) { return in->in.id == id; }) - group.begin());
    };
    for (const correlation& r : correlations) {
        const std::size_t i = index(r.first);
        const std::size_t j = index(r.second);
        if (i == n || j == n) continue;
        matrix[i * n + j] += r.coefficient;
        matrix[j * n + i] += r.coefficient;
    }
    struct member {
        std::size_t place;
        double estimate;
        double u;
    };
    std::vector<member> members;
    members.reserve(group.size());
    for (const auto* in : group) {
        members.push_back({in->place, in->in.estimate, standard_uncertainty(std::get<distribution>(in->in.spread))});
    }
    const double nu = *joint_degrees_of_freedom(group.front()->in.spread);
    std::vector<simple_draw> draws;
    for (std::size_t i = 0; i < n; ++i) draws.push_back(t_draw(0.0, 1.0, nu + static_cast<double>(i)));
    const std::size_t first = columns_;
    columns_ += n;
    steps_.emplace_back([factor = cholesky(std::move(matrix), n, "correlations of " + names), members = std::move(members),
                         draws = std::move(draws), nu, first](const kernels& k, std::uint64_t* state, double* columns) {
        const std::size_t count = members.size();
        for (std::size_t i = 0; i < count; ++i) draws[i](k, state, at(columns, first + i));
        for (std::size_t trial = 0; trial < column_length; ++trial) {
            double* z = columns + first * column_length + trial;
            if (std::isfinite(nu)) {
                double before = nu;
                for (std::size_t i = 0; i < count; ++i) {
                    double& t = z[i * column_length];
                    t *= std::sqrt(before / (nu + static_cast<double>(i)));
                    before += t * t;
                }
            }
            for (std::size_t i = 0; i < count; ++i) {
                double sum = 0.0;
                for (std::size_t j = 0; j <= i; ++j) sum += factor[i * count + j] * z[j * column_length];
                at(columns, members[i].place)[trial] = members[i].estimate + members[i].u * sum;
            }
        }
    });
}

std::vector<double> cholesky(std::vector<double> matrix, std::size_t n, const std::string& where) {
    constexpr double rounding = 1e-10;
    const auto refuse = [&] {
        throw bad_input(where, "coefficients that contradict each other", "ones that can hold at the same time",
                        "correct the coefficients");
    };
    std::vector<double> factor(n * n, 0.0);
    for (std::size_t j = 0; j < n; ++j) {
        for (std::size_t i = j; i < n; ++i) {
            double rest = matrix[i * n + j];
            for (std::size_t k = 0; k < j; ++k) rest -= factor[i * n + k] * factor[j * n + k];
            if (i == j) {
                if (rest < -rounding) refuse();
                factor[j * n + j] = rest < rounding ? 0.0 : std::sqrt(rest);
            } else if (factor[j * n + j] > 0.0) {
                factor[i * n + j] = rest / factor[j * n + j];
            } else if (std::abs(rest) > 1e-5) {  // the square root of the rounding allowed on the diagonal
                refuse();
            }
        }
    }
    return factor;
}

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
