#include <plumbline/uncertainty/second_order.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

constexpr double vanishing_below = 0.1;

std::string both(const second_order_row& r) {
    return r.first == r.second ? r.first->id + " twice" : r.first->id + " and " + r.second->id;
}

double degrees_of_freedom_of(const second_order_row& r) {
    const double first = degrees_of_freedom(r.first->spread);
    if (r.first == r.second) return first / 4.0;
    return 1.0 / (1.0 / first + 1.0 / degrees_of_freedom(r.second->spread));
}

}  // namespace

namespace detail {

std::vector<second_order_row> second_order_terms(std::span<const dependence> dependences, const along_pair& derivatives) {
    using at = taylor<plumbline::detail::bare_number>;
    std::vector<const shared_input*> inputs;
    for (const dependence& d : dependences) {
        if (standard_uncertainty(d.on->spread) > 0.0) inputs.push_back(&d.on);
    }
    std::vector<second_order_row> terms;
    const auto add = [&](const shared_input& x, const shared_input& y, double variance, double product, double alone_x,
                         double alone_y) {
        if (!std::isfinite(variance) || !std::isfinite(product)) {
            throw bad_input("second-order terms of " + both({x, y}), "a derivative that is not finite",
                            "a model with three derivatives at the estimates", "use Monte Carlo");
        }
        if (variance == 0.0) return;
        const double seen = vanishing_below * std::abs(product);
        terms.push_back({x, y, variance, 0.0, std::abs(alone_x) < seen || std::abs(alone_y) < seen});
    };
    for (std::size_t j = 0; j < inputs.size(); ++j) {
        for (std::size_t i = j; i < inputs.size(); ++i) {
            const shared_input& x = *inputs[j];
            const shared_input& y = *inputs[i];
            const double u_x = standard_uncertainty(x->spread);
            const double u_y = standard_uncertainty(y->spread);
            if (i == j) {
                const auto p = at(derivatives(x->id, x->id));
                const double half_curve = p.derivative(2, 0) / 2.0 * u_x * u_x;
                const double sensitivity = p.derivative(1, 0) * u_x;
                add(x, x, 2.0 * half_curve * half_curve + sensitivity * p.derivative(3, 0) * u_x * u_x * u_x, half_curve,
                    sensitivity, sensitivity);
                continue;
            }
            const auto p = at(derivatives(x->id, y->id));
            const double product = p.derivative(1, 1) * u_x * u_y;
            const double by_x = p.derivative(1, 0) * u_x;
            const double by_y = p.derivative(0, 1) * u_y;
            add(x, y,
                product * product + by_x * p.derivative(1, 2) * u_x * u_y * u_y + by_y * p.derivative(2, 1) * u_x * u_x * u_y,
                product, by_x, by_y);
        }
    }
    std::stable_sort(terms.begin(), terms.end(), [](const second_order_row& a, const second_order_row& b) {
        return std::abs(a.variance) > std::abs(b.variance);
    });
    return terms;
}

const input* sole_input(std::span<const dependence> argument, std::size_t number) {
    if (argument.empty()) return nullptr;
    if (argument.size() == 1 && argument.front().sensitivity == 1.0) return argument.front().on.get();
    throw bad_input(fmt::format("second-order terms, argument {}", number), "a result of other inputs",
                    "an input, since what was curved before would be lost",
                    "write the whole as one composition over the set of inputs");
}

budget make_second_order_budget(double value, const std::string& unit, std::span<const dependence> dependences,
                                std::vector<second_order_row> terms, double probability,
                                std::span<const correlation> correlations) {
    const auto depends_on = [&](const std::string& id) {
        return std::any_of(dependences.begin(), dependences.end(), [&](const dependence& d) { return d.on->id == id; });
    };
    for (const correlation& r : correlations) {
        if (!depends_on(r.first) || !depends_on(r.second)) continue;
        throw bad_input("second-order terms", "a correlation stated between " + r.first + " and " + r.second,
                        "independent inputs", "use Monte Carlo, or first order alone");
    }
    budget b = make_budget(value, unit, dependences, probability);
    double variance = b.u * b.u;
    double doubt = variance > 0.0 && std::isfinite(b.degrees_of_freedom) ? variance * variance / b.degrees_of_freedom : 0.0;
    for (const second_order_row& r : terms) {
        variance += r.variance;
        if (const double nu = degrees_of_freedom_of(r); std::isfinite(nu)) doubt += r.variance * r.variance / nu;
    }
    if (terms.empty()) return b;
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
