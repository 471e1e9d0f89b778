#include <plumbline/uncertainty/budget.hpp>

#include "../property.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <string>
#include <utility>
#include <vector>

namespace budget_properties_test {

namespace {

using namespace plumbline::uncertainty;
using property::holds;

/// An input of a linear model: what is known of it, in volts, and its sensitivity.
struct part {
    distribution spread;
    double sensitivity = 0.0;
};

/// From 1e-4 to 10 of either sign.
double any_sensitivity() {
    const double size = std::exp2(0.01 * *rc::gen::inRange(-1328, 333));
    return *rc::gen::arbitrary<bool>() ? size : -size;
}

distribution any_distribution() {
    const double size = 1e-3 * *rc::gen::inRange(1, 10000);
    const double nu = *rc::gen::inRange(1, 60);
    switch (*rc::gen::inRange(0, 7)) {
        case 0:
            return normal{size};
        case 1:
            return normal{size, nu};
        case 2:
            return rectangular{size};
        case 3:
            return triangular{size};
        case 4:
            return trapezoidal{size, 0.3 * size};
        case 5:
            return arcsine{size};
        default:
            return repeated{size, nu};
    }
}

std::vector<part> any_parts() {
    std::vector<part> parts(static_cast<std::size_t>(*rc::gen::inRange(1, 9)));
    for (part& p : parts) p = {any_distribution(), any_sensitivity()};
    return parts;
}

/// The same figures in a unit 1/factor as large.
distribution scaled(const distribution& d, double factor) {
    distribution s = d;
    std::visit(
        [&](auto& spread) {
            using kind = std::remove_reference_t<decltype(spread)>;
            if constexpr (std::is_same_v<kind, trapezoidal>) spread.top_half_width *= factor;
            if constexpr (requires { spread.u; }) spread.u *= factor;
            if constexpr (requires { spread.half_width; }) spread.half_width *= factor;
        },
        s);
    return s;
}

/// The parts under names that put them in the order given: a budget adds by name.
std::vector<dependence> in_order(const std::vector<part>& parts, const std::vector<std::size_t>& order, double factor = 1.0) {
    std::vector<dependence> all;
    for (std::size_t i = 0; i < order.size(); ++i) {
        const part& p = parts[order[i]];
        const input in{std::string(1, static_cast<char>('a' + i)), "", "", "V", 0.0, scaled(p.spread, factor)};
        all.push_back({shared_input(in), p.sensitivity});
    }
    return all;
}

std::vector<std::size_t> first_to_last(std::size_t n) {
    std::vector<std::size_t> order(n);
    for (std::size_t i = 0; i < n; ++i) order[i] = i;
    return order;
}

std::vector<std::size_t> any_order(std::size_t n) {
    std::vector<std::size_t> order = first_to_last(n);
    for (std::size_t i = n; i > 1; --i) std::swap(order[i - 1], order[*rc::gen::inRange<std::size_t>(0, i)]);
    return order;
}

/// Equal but for the roundings of sums over the inputs. 9 terms are 8 additions of at most 2^-53 each, squares and a root some more.
bool close(double x, double y, double units_in_the_last_place = 32.0) {
    return x == y || std::abs(x - y) <= units_in_the_last_place * 0x1p-52 * std::max(std::abs(x), std::abs(y));
}

/// k comes from a quantile that is found by iteration, to about 1e-10 of itself where terms are convolved.
bool close_k(double x, double y) { return std::abs(x - y) <= 1e-9 * y; }

/// Both rules for k.
constexpr auto usual = [](const std::vector<dependence>& d, const std::vector<correlation>& r) {
    return make_budget(1.0, "V", d, default_coverage_probability, r);
};
constexpr auto convolved = [](const std::vector<dependence>& d, const std::vector<correlation>& r) {
    return make_convolved_budget(1.0, "V", d, default_coverage_probability, r);
};

std::vector<double> shares_of(const budget& b) {
    std::vector<double> shares;
    for (const budget_row& row : b.rows) shares.push_back(row.share);
    return shares;
}

void expect_alike(const budget& b, const budget& other, double factor) {
    RC_ASSERT(close(other.u, factor * b.u));
    RC_ASSERT(close(other.degrees_of_freedom, b.degrees_of_freedom, 128.0));  // a ratio of fourth powers
    RC_ASSERT(close_k(other.covered.k, b.covered.k));
    RC_ASSERT(close_k(other.U, factor * b.U));
    const std::vector<double> shares = shares_of(b);
    const std::vector<double> other_shares = shares_of(other);
    RC_ASSERT(shares.size() == other_shares.size());
    for (std::size_t i = 0; i < shares.size(); ++i) RC_ASSERT(close(shares[i], other_shares[i]));
}

/// A correlation between two parts that may have one, by their places; nothing where there are no two.
std::vector<correlation> any_correlation(const std::vector<part>& parts, const std::vector<std::size_t>& order) {
    std::vector<std::string> names;
    for (std::size_t place = 0; place < order.size(); ++place) {
        const distribution& d = parts[order[place]].spread;
        if (std::holds_alternative<normal>(d) || std::holds_alternative<repeated>(d)) {
            names.emplace_back(1, static_cast<char>('a' + place));
        }
    }
    if (names.size() < 2) return {};
    return {{names[0], names[1], 0.01 * *rc::gen::inRange(-100, 101)}};
}

}  // namespace

TEST_CASE("the order of inputs does not matter to u, degrees of freedom, k, U and shares") {
    CHECK(holds("order", [] {
        const std::vector<part> parts = any_parts();
        const std::vector<dependence> forth = in_order(parts, first_to_last(parts.size()));
        const std::vector<dependence> other = in_order(parts, any_order(parts.size()));
        expect_alike(usual(forth, {}), usual(other, {}), 1.0);
        expect_alike(convolved(forth, {}), convolved(other, {}), 1.0);
    }));
}

TEST_CASE("a stated correlation counts the same whichever of its inputs is named first") {
    CHECK(holds("correlation", [] {
        const std::vector<part> parts = any_parts();
        const std::vector<dependence> all = in_order(parts, first_to_last(parts.size()));
        const std::vector<correlation> forth = any_correlation(parts, first_to_last(parts.size()));
        std::vector<correlation> back = forth;
        for (correlation& r : back) std::swap(r.first, r.second);
        const budget b = usual(all, forth);
        // a correlation near -1 leaves little of large terms: their roundings count
        double largest = 0.0;
        for (const budget_row& row : b.rows) largest = std::max(largest, row.contribution);
        RC_ASSERT(std::abs(usual(all, back).u * usual(all, back).u - b.u * b.u) <= 32.0 * 0x1p-52 * largest * largest);
    }));
}

TEST_CASE("u and U are proportional to the size of all inputs, and to that of all sensitivities whatever its sign") {
    CHECK(holds("scale", [] {
        const std::vector<part> parts = any_parts();
        const std::vector<std::size_t> order = first_to_last(parts.size());
        const double factor = any_sensitivity();
        std::vector<part> more = parts;
        for (part& p : more) p.sensitivity *= factor;
        for (const auto& rule : {+usual, +convolved}) {
            const budget b = rule(in_order(parts, order), {});
            expect_alike(b, rule(in_order(more, order), {}), std::abs(factor));
            expect_alike(b, rule(in_order(parts, order, std::abs(factor)), {}), std::abs(factor));
        }
    }));
}

TEST_CASE("millivolts for volts change neither k nor degrees of freedom nor any share") {
    CHECK(holds("unit", [] {
        const std::vector<part> parts = any_parts();
        const std::vector<std::size_t> order = first_to_last(parts.size());
        const double factor = *rc::gen::element(1e3, 1e-3, 1e6, 1e-6, 1e9, 1e-9);
        // What a correlation leaves of terms that cancel is rounding: here they add.
        std::vector<correlation> stated = any_correlation(parts, order);
        for (correlation& r : stated) r.coefficient = std::abs(r.coefficient);
        std::vector<part> of_one_sign = parts;
        for (part& p : of_one_sign) p.sensitivity = std::abs(p.sensitivity);
        for (const auto& rule : {+usual, +convolved}) {
            expect_alike(rule(in_order(parts, order), {}), rule(in_order(parts, order, factor), {}), factor);
            expect_alike(rule(in_order(of_one_sign, order), stated), rule(in_order(of_one_sign, order, factor), stated), factor);
        }
    }));
}

TEST_CASE("a budget is finite whatever its inputs are correlated by, or refused with what to do") {
    CHECK(holds(
        "finite or refused",
        [] {
            const std::vector<part> parts = any_parts();
            const std::vector<std::size_t> order = first_to_last(parts.size());
            const std::vector<correlation> stated = any_correlation(parts, order);
            try {
                const budget b = usual(in_order(parts, order), stated);
                RC_ASSERT(std::isfinite(b.u));
                RC_ASSERT(std::isfinite(b.U));
            } catch (const plumbline::bad_input& refused) {
                // a correlation near -1 that leaves little of terms with few degrees of freedom leaves fewer still
                RC_ASSERT(std::string(refused.what()).starts_with("coverage factor: "));
                RC_ASSERT(std::string(refused.what())
                              .ends_with(" degrees of freedom, expected so many that k is a finite number; take more readings"));
            }
        },
        1000));
}

TEST_CASE("the covariance of two results is symmetric and at most the product of their uncertainties") {
    CHECK(holds("covariance", [] {
        const std::vector<part> parts = any_parts();
        const std::vector<std::size_t> order = first_to_last(parts.size());
        const std::vector<dependence> a = in_order(parts, order);
        std::vector<dependence> b = a;
        for (dependence& d : b) d.sensitivity = *rc::gen::arbitrary<bool>() ? 0.0 : any_sensitivity();
        const std::vector<correlation> stated = any_correlation(parts, order);
        const double both = covariance(a, b, stated);
        const double limit = std::sqrt(covariance(a, a, stated)) * std::sqrt(covariance(b, b, stated));
        double largest = 0.0;  // product of terms, whose roundings count where a correlation cancels them
        for (std::size_t i = 0; i < a.size(); ++i) {
            for (std::size_t k = 0; k < b.size(); ++k) {
                largest = std::max(largest, std::abs(a[i].sensitivity * standard_uncertainty(a[i].on->spread) * b[k].sensitivity *
                                                     standard_uncertainty(b[k].on->spread)));
            }
        }
        RC_ASSERT(std::abs(covariance(b, a, stated) - both) <= 32.0 * 0x1p-52 * largest);
        RC_ASSERT(std::abs(both) <= limit + 1e-12 * largest);
    }));
}

}  // namespace budget_properties_test
