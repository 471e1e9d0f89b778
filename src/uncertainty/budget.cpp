#include <plumbline/uncertainty/budget.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

bool may_correlate(const distribution& d) { return std::holds_alternative<normal>(d) || std::holds_alternative<repeated>(d); }

void expect_sound(const correlation& r) {
    if (!(std::abs(r.coefficient) <= 1.0)) {
        throw bad_input("correlation of " + r.first + " and " + r.second, fmt::format("coefficient {}", r.coefficient), "-1 to 1",
                        "correct the coefficient");
    }
}

void expect_correlatable(const input& in, const correlation& r) {
    if (!may_correlate(in.spread)) {
        throw bad_input("correlation of " + r.first + " and " + r.second, in.id + " with limits for its distribution",
                        "inputs that are normal or from repeated readings", "let both depend on one shared input instead");
    }
}

const dependence* find(std::span<const dependence> in, const std::string& id) {
    const auto at =
        std::lower_bound(in.begin(), in.end(), id, [](const dependence& d, const std::string& key) { return d.on->id < key; });
    return at != in.end() && at->on->id == id ? &*at : nullptr;
}

/// Sum over the stated correlations of a_i b_j u_i u_j r_ij, both ways round.
double stated_part(std::span<const dependence> a, std::span<const dependence> b, std::span<const correlation> correlations) {
    double sum = 0.0;
    for (const correlation& r : correlations) {
        expect_sound(r);
        const auto add = [&](const std::string& left, const std::string& right) {
            const dependence* x = find(a, left);
            const dependence* y = find(b, right);
            if (x == nullptr || y == nullptr) return;
            expect_correlatable(*x->on, r);
            expect_correlatable(*y->on, r);
            sum += r.coefficient * x->sensitivity * standard_uncertainty(x->on->spread) * y->sensitivity *
                   standard_uncertainty(y->on->spread);
        };
        add(r.first, r.second);
        add(r.second, r.first);
    }
    return sum;
}

/// Products of one coefficient with two known differences: E[alpha^2] d_1 d_2. With a difference estimated as zero there is no covariance.
double shared_coefficients(std::span<const dependence> a, std::span<const dependence> b) {
    double sum = 0.0;
    for (const dependence& x : a) {
        const auto* p = std::get_if<coefficient_times_difference>(&x.on->spread);
        if (p == nullptr || p->coefficient_of.empty() || p->difference == 0.0) continue;
        for (const dependence& y : b) {
            const auto* q = std::get_if<coefficient_times_difference>(&y.on->spread);
            if (q == nullptr || q->coefficient_of != p->coefficient_of || x.on->id == y.on->id) continue;
            sum += x.sensitivity * y.sensitivity * p->coefficient * q->coefficient / 3.0 * p->difference * q->difference;
        }
    }
    return sum;
}

/// The correlations with both ends among the dependences.
std::vector<correlation> touching(std::span<const dependence> dependences, std::span<const correlation> correlations) {
    std::vector<correlation> both;
    std::copy_if(correlations.begin(), correlations.end(), std::back_inserter(both), [&](const correlation& r) {
        return find(dependences, r.first) != nullptr && find(dependences, r.second) != nullptr;
    });
    return both;
}

/// Splits the dependences so that inputs observed together, tied by a correlation and with the same degrees of freedom, stand together.
std::vector<std::vector<dependence>> jointly_observed(std::span<const dependence> dependences,
                                                      std::span<const correlation> correlations) {
    std::vector<std::vector<dependence>> groups;
    for (const dependence& d : dependences) groups.push_back({d});
    const auto group_of = [&](const std::string& id) {
        return std::find_if(groups.begin(), groups.end(), [&](const auto& g) { return find(g, id) != nullptr; });
    };
    for (const correlation& r : correlations) {
        const auto x = group_of(r.first);
        const auto y = group_of(r.second);
        if (x == y || degrees_of_freedom(x->front().on->spread) != degrees_of_freedom(y->front().on->spread)) continue;
        std::vector<dependence> joined;
        std::merge(x->begin(), x->end(), y->begin(), y->end(), std::back_inserter(joined),
                   [](const dependence& p, const dependence& q) { return p.on->id < q.on->id; });
        *x = std::move(joined);
        groups.erase(y);
    }
    return groups;
}

}  // namespace

double covariance(std::span<const dependence> a, std::span<const dependence> b, std::span<const correlation> correlations) {
    double sum = 0.0;
    for (const dependence& d : a) {
        if (const dependence* same = find(b, d.on->id)) {
            const double u = standard_uncertainty(d.on->spread);
            sum += d.sensitivity * same->sensitivity * u * u;
        }
    }
    return sum + shared_coefficients(a, b) + stated_part(a, b, correlations);
}

namespace {

using coverage_rule = coverage (*)(std::span<const term>, double, double, double);

budget make(double value, const std::string& unit, std::span<const dependence> dependences, double probability,
            std::span<const correlation> correlations, coverage_rule rule) {
    budget b;
    b.unit = unit;
    b.value = value;
    const std::vector<correlation> stated = touching(dependences, correlations);
    const double variance = std::max(0.0, covariance(dependences, dependences, stated));
    b.u = std::sqrt(variance);
    std::vector<term> terms;
    for (const dependence& d : dependences) {
        budget_row row{d.on, standard_uncertainty(d.on->spread), degrees_of_freedom(d.on->spread), d.sensitivity, 0.0, 0.0};
        row.contribution = std::abs(row.sensitivity) * row.u;
        if (row.contribution == 0.0) continue;
        row.share = variance > 0.0 ? row.contribution * row.contribution / variance : 0.0;
        terms.push_back({&d.on->spread, d.sensitivity});
        b.rows.push_back(std::move(row));
    }
    std::stable_sort(b.rows.begin(), b.rows.end(),
                     [](const budget_row& x, const budget_row& y) { return x.contribution > y.contribution; });
    double sum = 0.0;
    for (const std::vector<dependence>& group : jointly_observed(dependences, stated)) {
        const double nu = degrees_of_freedom(group.front().on->spread);
        const double part = covariance(group, group, stated);
        if (std::isfinite(nu)) sum += part * part / nu;
    }
    if (sum > 0.0) b.degrees_of_freedom = variance * variance / sum;
    b.few_degrees_of_freedom = b.degrees_of_freedom < 4.0;
    b.covered = stated.empty() ? rule(terms, b.u, b.degrees_of_freedom, probability)
                               : coverage{probability, coverage_factor(probability, b.degrees_of_freedom)};
    b.U = b.covered.k * b.u;
    return b;
}

}  // namespace

budget make_budget(double value, const std::string& unit, std::span<const dependence> dependences, double probability,
                   std::span<const correlation> correlations) {
    return make(value, unit, dependences, probability, correlations, usual_coverage);
}

budget make_convolved_budget(double value, const std::string& unit, std::span<const dependence> dependences, double probability,
                             std::span<const correlation> correlations) {
    return make(value, unit, dependences, probability, correlations, convolved_coverage);
}

}  // namespace plumbline::inline v0::uncertainty
