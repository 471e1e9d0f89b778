#include <plumbline/uncertainty/second_order.hpp>

#include "monte_carlo/draws.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

constexpr double vanishing_below = 0.1;

using movement = std::vector<sensitivity_to>;

std::string names_of(const movement& first, const movement& second) {
    std::string names;
    for (const sensitivity_to& s : first) names += (names.empty() ? "" : ", ") + s.id;
    if (&first == &second) return names + " twice";
    for (const sensitivity_to& s : second) names += " and " + s.id;
    return names;
}

/// Of one result, along directions whose step is one standard uncertainty; or along one direction, with x for y.
struct derivatives_of_pair {
    bool same;
    double by_x, by_y, by_xy, by_xyy, by_xxy;

    derivatives_of_pair(const taylor<plumbline::detail::bare_number>& p, bool one_direction)
        : same(one_direction),
          by_x(p.derivative(1, 0)),
          by_y(same ? by_x : p.derivative(0, 1)),
          by_xy(same ? p.derivative(2, 0) : p.derivative(1, 1)),
          by_xyy(same ? p.derivative(3, 0) : p.derivative(1, 2)),
          by_xxy(same ? by_xyy : p.derivative(2, 1)) {}
    [[nodiscard]] bool finite() const { return std::isfinite(covariance(*this)) && std::isfinite(by_xy); }
    /// What the pair adds, in both orders if it is two.
    [[nodiscard]] double covariance(const derivatives_of_pair& g) const {
        const double once = 0.5 * (by_x * g.by_xyy + g.by_x * by_xyy);
        if (same) return 0.5 * by_xy * g.by_xy + once;
        return by_xy * g.by_xy + once + 0.5 * (by_y * g.by_xxy + g.by_y * by_xxy);
    }
    /// Standard deviation of the term of second degree.
    [[nodiscard]] double product() const { return same ? 0.5 * by_xy : by_xy; }
};

/// Those that have an uncertainty, ordered by id.
std::vector<shared_input> inputs_of(std::span<const std::vector<dependence>* const> results) {
    std::vector<shared_input> inputs;
    for (const auto* dependences : results) {
        for (const dependence& d : *dependences) {
            const auto place = std::lower_bound(inputs.begin(), inputs.end(), d.on->id,
                                                [](const shared_input& in, const std::string& id) { return in->id < id; });
            if (place != inputs.end() && (*place)->id == d.on->id) continue;
            if (standard_uncertainty(d.on->spread) > 0.0) inputs.insert(place, d.on);
        }
    }
    return inputs;
}

std::size_t index_of(const std::vector<shared_input>& inputs, const std::string& id) {
    return static_cast<std::size_t>(
        std::find_if(inputs.begin(), inputs.end(), [&](const shared_input& in) { return in->id == id; }) - inputs.begin());
}

std::vector<correlation> among(const std::vector<shared_input>& inputs, std::span<const correlation> correlations) {
    std::vector<correlation> stated;
    std::copy_if(correlations.begin(), correlations.end(), std::back_inserter(stated), [&](const correlation& r) {
        return r.coefficient != 0.0 && index_of(inputs, r.first) < inputs.size() && index_of(inputs, r.second) < inputs.size();
    });
    return stated;
}

/// Independent quantities of standard uncertainty 1 that the inputs are linear functions of, each as the way that the inputs go with it.
std::vector<movement> independent_directions(const std::vector<shared_input>& inputs, const std::vector<correlation>& stated) {
    const std::size_t n = inputs.size();
    std::vector<double> matrix(n * n, 0.0);
    for (std::size_t i = 0; i < n; ++i) matrix[i * n + i] = 1.0;
    std::string names;
    for (const correlation& r : stated) {
        const std::size_t i = index_of(inputs, r.first);
        const std::size_t j = index_of(inputs, r.second);
        // what may be stated, and between what, first order decides
        const std::vector<dependence> ends{{inputs[std::min(i, j)], 1.0}, {inputs[std::max(i, j)], 1.0}};
        (void)covariance(ends, ends, {{r}});
        matrix[i * n + j] += r.coefficient;
        matrix[j * n + i] += r.coefficient;
        names += (names.empty() ? "" : ", ") + r.first + " and " + r.second;
    }
    const std::vector<double> factor = monte_carlo_detail::cholesky(std::move(matrix), n, "correlations of " + names);
    std::vector<movement> directions(n);
    for (std::size_t k = 0; k < n; ++k) {
        for (std::size_t i = k; i < n; ++i) {
            if (factor[i * n + k] == 0.0) continue;
            directions[k].push_back({inputs[i]->id, factor[i * n + k] * standard_uncertainty(inputs[i]->spread)});
        }
    }
    return directions;
}

double degrees_of_freedom_of(const second_order_row& r) {
    const double first = degrees_of_freedom(r.first->spread);
    if (r.first == r.second) return first / 4.0;
    return 1.0 / (1.0 / first + 1.0 / degrees_of_freedom(r.second->spread));
}

}  // namespace

namespace detail {

second_order_sums second_order_terms(std::span<const std::vector<dependence>* const> results,
                                     std::span<const correlation> correlations, const along_pair& derivatives) {
    using at = taylor<plumbline::detail::bare_number>;
    const std::size_t n = results.size();
    const std::vector<shared_input> inputs = inputs_of(results);
    const std::vector<correlation> stated = among(inputs, correlations);

    second_order_sums sums;
    sums.terms.resize(n);
    /// Goes over all pairs of directions, one step of which is one standard uncertainty, and adds up what they make of the covariances.
    const auto add_up = [&](const std::vector<movement>& directions, const auto& see) {
        sums.added.assign(n * n, 0.0);
        for (std::size_t j = 0; j < directions.size(); ++j) {
            for (std::size_t i = j; i < directions.size(); ++i) {
                const bool same = i == j;
                std::vector<derivatives_of_pair> by_result;
                for (const auto& p : derivatives(directions[j], same ? movement{} : directions[i])) {
                    by_result.emplace_back(at(p), same);
                    if (by_result.back().finite()) continue;
                    throw bad_input("second-order terms of " + names_of(directions[j], directions[i]),
                                    "a derivative that is not finite", "a model with three derivatives at the estimates",
                                    "use Monte Carlo");
                }
                for (std::size_t f = 0; f < n; ++f) {
                    for (std::size_t g = 0; g < n; ++g) sums.added[f * n + g] += by_result[f].covariance(by_result[g]);
                    see(f, j, i, by_result[f]);
                }
            }
        }
    };

    std::vector<movement> alone;
    alone.reserve(inputs.size());
    for (const shared_input& in : inputs) alone.push_back({{in->id, standard_uncertainty(in->spread)}});
    add_up(alone, [&](std::size_t f, std::size_t j, std::size_t i, const derivatives_of_pair& d) {
        const double variance = d.covariance(d);
        if (variance == 0.0) return;
        const double seen = vanishing_below * std::abs(d.product());
        sums.terms[f].push_back({inputs[j], inputs[i], variance, 0.0, std::abs(d.by_x) < seen || std::abs(d.by_y) < seen});
    });
    if (!stated.empty()) add_up(independent_directions(inputs, stated), [](auto&&...) {});
    for (auto& terms : sums.terms) {
        std::stable_sort(terms.begin(), terms.end(), [](const second_order_row& a, const second_order_row& b) {
            return std::abs(a.variance) > std::abs(b.variance);
        });
    }
    return sums;
}

const input* sole_input(std::span<const dependence> argument, std::size_t number) {
    if (argument.empty()) return nullptr;
    if (argument.size() == 1 && argument.front().sensitivity == 1.0) return argument.front().on.get();
    throw bad_input(fmt::format("second-order terms, argument {}", number), "a result of other inputs",
                    "an input, since what was curved before would be lost",
                    "write the whole as one composition over the set of inputs");
}

budget make_second_order_budget(double value, const std::string& unit, std::span<const dependence> dependences,
                                std::vector<second_order_row> terms, double added, double probability,
                                std::span<const correlation> correlations) {
    budget b = make_budget(value, unit, dependences, probability, correlations);
    const double variance = b.u * b.u + added;
    double doubt = b.u > 0.0 && std::isfinite(b.degrees_of_freedom) ? std::pow(b.u, 4.0) / b.degrees_of_freedom : 0.0;
    for (const second_order_row& r : terms) {
        if (const double nu = degrees_of_freedom_of(r); std::isfinite(nu)) doubt += r.variance * r.variance / nu;
    }
    if (terms.empty() && added == 0.0) return b;
    if (!(variance > 0.0)) {
        throw bad_input("second-order terms", fmt::format("a u^2 of {}", variance), "more than 0",
                        "use Monte Carlo: the model is too curved within the inputs' uncertainties");
    }
    for (budget_row& row : b.rows) row.share = row.contribution * row.contribution / variance;
    for (second_order_row& r : terms) r.share = r.variance / variance;
    b.u = std::sqrt(variance);
    b.degrees_of_freedom = doubt > 0.0 ? variance * variance / doubt : infinite;
    b.few_degrees_of_freedom = b.degrees_of_freedom < 4.0;
    b.covered = {probability, coverage_factor(probability, b.degrees_of_freedom), coverage::method::student_t};
    b.U = b.covered.k * b.u;
    b.second_order = std::move(terms);
    return b;
}

}  // namespace detail

std::vector<std::string> unseen_by_first_order(const budget& with_second_order, double least_share) {
    std::vector<std::string> sentences;
    for (const second_order_row& r : with_second_order.second_order) {
        if (!r.vanishing || !(r.share >= least_share)) continue;
        const std::string share = fmt::format("{:.1f} % of u^2", 100.0 * r.share);
        if (r.first == r.second) {
            sentences.push_back(
                fmt::format("first order does not see the square of {}: its sensitivity vanishes at the estimate, "
                            "{}; take second-order terms or Monte Carlo",
                            r.first->id, share));
        } else {
            sentences.push_back(
                fmt::format("first order does not see the product of {} and {}: a sensitivity vanishes at the estimates, {}; "
                            "take second-order "
                            "terms or Monte Carlo, or enter the product as one input with u = u({}) u({})",
                            r.first->id, r.second->id, share, r.first->id, r.second->id));
        }
    }
    return sentences;
}

}  // namespace plumbline::inline v0::uncertainty
