#include "../message.hpp"

#include <plumbline/uncertainty/second_order.hpp>

#include "../benchmark/reference_problem.hpp"
#include "../reference/published.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <string>
#include <tuple>
#include <vector>

namespace second_order_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using published::check_printed;
using published::check_recomputed;
using published::entry;
using refused::message;

namespace {

template <class Quantity>
uncertain<Quantity> add(input_set& to, const std::string& id, double estimate, distribution d) {
    return from_input<Quantity>(to.add({id, id, "test", unit_symbol<Quantity>, estimate, std::move(d)}));
}

constexpr auto product = [](const auto& a, const auto& b) { return a * b; };

/// The one of these two inputs, in either order.
double variance_of(const budget& b, const std::string& one, const std::string& other) {
    for (const second_order_row& r : b.second_order) {
        if ((r.first->id == one && r.second->id == other) || (r.first->id == other && r.second->id == one)) return r.variance;
    }
    return std::nan("");
}

/// The composition of the reference problem, over any evaluation.
constexpr auto reference_problem = [](const auto& e) {
    return e.apply(benchmarks::reading_model{}, e.template input<codes>("c0"), e.template input<codes>("q0"),
                   e.template input<codes>("c1"), e.template input<codes>("q1"), e.template input<codes>("c"),
                   e.template input<codes>("q"), e.template input<voltage>("Vref"), e.template input<ratio>("dlin"),
                   e.template input<per_kelvin>("alpha"), e.template input<kelvins>("dT"), e.template input<ratio>("drift"),
                   e.template input<resistance>("Rs"), e.template input<resistance>("Rin"));
};

input_set inputs_of_reference_problem() {
    const benchmarks::reading_problem& p = benchmarks::first_numbers;
    input_set set;
    add<codes>(set, "c0", p.c0, normal{p.u_c0, 63.0});
    add<codes>(set, "q0", 0.0, rectangular{p.half_code});
    add<codes>(set, "c1", p.c1, normal{p.u_c1, 63.0});
    add<codes>(set, "q1", 0.0, rectangular{p.half_code});
    add<codes>(set, "c", p.c, normal{p.u_c, 63.0});
    add<codes>(set, "q", 0.0, rectangular{p.half_code});
    add<voltage>(set, "Vref", p.reference, rectangular{p.reference_half_width});
    add<ratio>(set, "dlin", 0.0, rectangular{p.linearity_half_width});
    add<per_kelvin>(set, "alpha", 0.0, rectangular{p.alpha_half_width});
    add<kelvins>(set, "dT", 0.0, rectangular{p.warmer_half_width});
    add<ratio>(set, "drift", 0.0, rectangular{p.drift_half_width});
    add<resistance>(set, "Rs", p.source, triangular{p.source_half_width});
    add<resistance>(set, "Rin", p.input, normal{p.u_input, 50.0});
    return set;
}

}  // namespace

TEST_CASE("the end gauge of GUM H.1 has the two second-order terms and the u of H.1.7") {
    const auto first = entry("gum", "gum-h1-end-gauge")["inputs"];
    const auto e = entry("gum", "gum-h1-second-order");
    const auto u_box = [](double half_width) { return normal{standard_uncertainty(rectangular{half_width})}; };
    input_set set;  // nanometres stand as volts
    add<voltage>(set, "ls", 1e6 * first["ls_mm"].get<double>(),
                 normal{first["U_ls_nm"].get<double>() / first["k_ls"].get<double>()});
    add<voltage>(set, "d", first["d_mean_nm"], normal{9.7});  // its u is that of the first-order test; nothing here hangs on it
    add<per_kelvin>(set, "dalpha", 0.0, u_box(first["dalpha_halfwidth_per_C"]));
    add<kelvins>(set, "theta", first["theta_mean_C"], normal{e["inputs"]["u_theta_C"]});
    add<per_kelvin>(set, "alpha_s", first["alpha_s_per_C"], rectangular{first["alpha_s_halfwidth"]});
    add<kelvins>(set, "dtheta", 0.0, u_box(first["dtheta_halfwidth_C"]));
    const auto r = second_order(set, [](const auto& at) {
        return at.apply([](const auto& ls, const auto& d, const auto& dalpha, const auto& theta, const auto& alpha_s,
                           const auto& dtheta) { return ls + d - ls * (dalpha * theta + alpha_s * dtheta); },
                        at.template input<voltage>("ls"), at.template input<voltage>("d"),
                        at.template input<per_kelvin>("dalpha"), at.template input<kelvins>("theta"),
                        at.template input<per_kelvin>("alpha_s"), at.template input<kelvins>("dtheta"));
    });
    const budget b = make_budget(r);
    check_printed(e, "term1_nm", std::sqrt(variance_of(b, "dalpha", "theta")));
    check_printed(e, "term2_nm", std::sqrt(variance_of(b, "alpha_s", "dtheta")));
    check_printed(e, "uc_nm", b.u);
    // H.1 takes 50 mm for 50.000623 mm, and 0.41 for u(theta)
    check_recomputed(e, "term2_nm", std::sqrt(variance_of(b, "alpha_s", "dtheta")), 3e-5);
    const std::vector<std::string> unseen = unseen_by_first_order(b);
    REQUIRE(unseen.size() == 1);  // the other holds 0.2 % of u^2
    CHECK(
        unseen[0] ==
        "first order does not see the product of dalpha and theta: a sensitivity vanishes at the estimates, 12.2 % of u^2; take "
        "second-order terms or Monte Carlo, or enter the product as one input with u = u(dalpha) u(theta)");
    CHECK(unseen_by_first_order(b, 1e-3).size() == 2);
}

TEST_CASE("the reference problem has the u of its second-order term, which is that of Monte Carlo within its scatter") {
    const input_set set = inputs_of_reference_problem();
    const auto y = reference_problem(with_sensitivities{set});
    CHECK(std::abs(y.value.value() - 3.4099139) <= 5e-8);
    CHECK(std::abs(make_budget(y).u - 1.906216e-3) <= 5e-10);
    const budget b = make_budget(second_order(set, reference_problem));
    // computed independently for alpha dT alone, and by 3e8 trials for all
    const double first = make_budget(y).u;
    CHECK(std::abs(std::sqrt(first * first + variance_of(b, "alpha", "dT")) - 1.92724e-3) <= 5e-9);
    CHECK(std::abs(b.u - 1.92722e-3) <= 3.0 * 1.92722e-3 / std::sqrt(2.0 * 3e8));
    CHECK(b.second_order.front().first->id == "alpha");
    CHECK(b.second_order.front().second->id == "dT");
    double shares = 0.0;
    for (const budget_row& row : b.rows) shares += row.share;
    for (const second_order_row& row : b.second_order) shares += row.share;
    CHECK(std::abs(shares - 1.0) <= 1e-12);
    const std::vector<std::string> unseen = unseen_by_first_order(b);
    REQUIRE(unseen.size() == 1);
    CHECK(unseen[0].starts_with(
        "first order does not see the product of alpha and dT: a sensitivity vanishes at the estimates, 2.2 % "));

    monte_carlo_settings s;
    s.trials = 1'000'000;
    const double by_trials = monte_carlo(s, set, reference_problem).outputs[0].standard_deviation;
    CHECK(std::abs(b.u - by_trials) <= 5.0 * b.u / std::sqrt(2.0 * 1e6));
}

TEST_CASE("one callable gives its terms alone as in a composition over a set") {
    input_set set;
    const auto a = add<per_kelvin>(set, "alpha", 0.0, normal{2e-5});
    const auto d = add<kelvins>(set, "dT", 3.0, normal{4.0});
    const auto alone = second_order(product, a, d);
    const auto composed = second_order(set, [](const auto& e) {
        return e.apply(product, e.template input<per_kelvin>("alpha"), e.template input<kelvins>("dT"));
    });
    REQUIRE(alone.terms.size() == 1);
    REQUIRE(composed.terms.size() == 1);
    CHECK(alone.terms[0].variance == composed.terms[0].variance);
    CHECK(std::abs(alone.terms[0].variance - 4e-10 * 16.0) <= 1e-22);
    CHECK(std::abs(make_budget(alone).u - 2e-5 * 5.0) <= 1e-17);  // E[alpha^2 dT^2] = u^2 (3^2 + 4^2)
}

TEST_CASE("a curve in one input has the variance of JCGM 100 5.1.2 for a normal input, and an input used twice is one") {
    input_set set;
    const auto x = add<ratio>(set, "x", 1.5, normal{0.1});
    // x^3 of a normal x: 9 m^4 s^2 + 36 m^2 s^4 + 15 s^6; second order has the first two terms
    const double m = 1.5;
    const double s = 0.1;
    const auto cube = [](const auto& a, const auto& b) { return a * b * b; };
    const budget b = make_budget(second_order(cube, x, x));
    REQUIRE(b.second_order.size() == 1);
    CHECK(b.second_order[0].first == b.second_order[0].second);
    CHECK(std::abs(b.u * b.u - (9.0 * std::pow(m, 4) * s * s + 36.0 * m * m * std::pow(s, 4))) <= 1e-12);
    CHECK_FALSE(b.second_order[0].vanishing);
    const auto nothing = second_order([](const auto& a, const auto& c) { return a - c; }, x, x);
    CHECK(nothing.terms.empty());
    CHECK(make_budget(nothing).u == 0.0);
}

TEST_CASE("the third derivatives count: a sine at its steepest is narrower than its line") {
    input_set set;
    const auto x = add<ratio>(set, "x", 0.0, normal{0.2});
    const budget b = make_budget(second_order([](const auto& a) { return sin(a); }, x));
    // Var sin x = (1 - exp(-2 s^2)) / 2 = s^2 - s^4 + ... for a normal x about 0
    REQUIRE(b.second_order.size() == 1);
    CHECK(std::abs(b.second_order[0].variance + std::pow(0.2, 4)) <= 1e-15);
    CHECK(std::abs(b.u * b.u - (1.0 - std::exp(-2.0 * 0.04)) / 2.0) <= 1e-4);
}

TEST_CASE("two inputs estimated as zero and multiplied are named, with all of u^2 in their one row") {
    input_set set;
    const auto x1 = add<ratio>(set, "x1", 0.0, normal{0.005});
    const auto x2 = add<ratio>(set, "x2", 0.0, normal{0.005});
    CHECK(make_budget(first_order(product, x1, x2)).u == 0.0);
    const budget b = make_budget(second_order(product, x1, x2));
    CHECK(std::abs(b.u - 25e-6) <= 1e-19);
    REQUIRE(b.second_order.size() == 1);
    CHECK(b.second_order[0].vanishing);
    CHECK(b.second_order[0].share == 1.0);
    CHECK(unseen_by_first_order(b) ==
          std::vector<std::string>{
              "first order does not see the product of x1 and x2: a sensitivity vanishes at the estimates, 100.0 % of u^2; take "
              "second-order terms or Monte Carlo, or enter the product as one input with u = u(x1) u(x2)"});
    // as x1^2 + x2^2 about zero: each is its own pair
    const auto squares = second_order([](const auto& a, const auto& c) { return a * a + c * c; }, x1, x2);
    const std::vector<std::string> unseen = unseen_by_first_order(make_budget(squares));
    REQUIRE(unseen.size() == 2);
    CHECK(unseen[0] ==
          "first order does not see the square of x1: its sensitivity vanishes at the estimate, 50.0 % of u^2; take second-order "
          "terms "
          "or Monte Carlo");
}

TEST_CASE("nothing is said of an input that the model does not depend on, that is exact, or whose sensitivity does not vanish") {
    input_set set;
    const auto x = add<ratio>(set, "x", 2.0, normal{0.1});
    const auto y = add<ratio>(set, "y", 0.0, normal{0.5});
    const auto exact = add<ratio>(set, "exact", 0.0, normal{0.0});
    const auto says = [](const auto& r) { return unseen_by_first_order(make_budget(r), 0.0); };
    CHECK(says(second_order([](const auto& a, const auto&) { return 3.0 * a; }, x, y)).empty());
    CHECK(says(second_order([](const auto& a, const auto& b) { return a + 0.0 * a * b; }, x, y)).empty());
    CHECK(says(second_order([](const auto& a, const auto& b) { return a + (b - b) * a; }, x, y)).empty());
    CHECK(says(second_order([](const auto& a, const auto& b) { return a + a * b; }, x, exact)).empty());
    // depends on y by rounding alone
    const auto rounded = [](const auto& a, const auto& b) {
        return 2.0 * a + (a * (1.0 / 3.0) * (3.0 + b) - a - a * b * (1.0 / 3.0));
    };
    CHECK(unseen_by_first_order(make_budget(second_order(rounded, x, y)), 1e-9).empty());
    const auto seen = second_order(product, x, add<ratio>(set, "z", 1.0, normal{0.5}));
    CHECK(make_budget(seen).second_order.size() == 1);
    CHECK(says(seen).empty());
}

TEST_CASE("a small estimate does not hide that a sensitivity all but vanishes") {
    input_set set;
    const auto alpha = add<per_kelvin>(set, "alpha", 1e-7, normal{2e-5});
    const auto near = add<kelvins>(set, "near", 0.01, normal{4.0});
    const auto far = add<kelvins>(set, "far", 100.0, normal{4.0});
    CHECK(unseen_by_first_order(make_budget(second_order(product, alpha, near))).size() == 1);
    // known to be far from zero, first order sees all but 0.2 % of u^2
    CHECK(unseen_by_first_order(make_budget(second_order(product, alpha, far))).empty());
}

TEST_CASE("degrees of freedom of a product and of a square follow from their factors") {
    input_set set;
    const auto a = add<ratio>(set, "a", 0.0, repeated{1.0, 6.0});
    const auto b = add<ratio>(set, "b", 0.0, repeated{1.0, 12.0});
    const auto c = add<ratio>(set, "c", 0.0, normal{1.0});
    CHECK(std::abs(make_budget(second_order(product, a, b)).degrees_of_freedom - 4.0) <= 1e-12);
    CHECK(std::abs(make_budget(second_order(product, a, c)).degrees_of_freedom - 6.0) <= 1e-12);
    const budget square = make_budget(second_order(product, a, a));
    CHECK(std::abs(square.degrees_of_freedom - 1.5) <= 1e-12);
    CHECK(square.few_degrees_of_freedom);
    CHECK(make_budget(second_order(product, c, c)).degrees_of_freedom == infinite);
}

TEST_CASE("a product of two correlated normal inputs has its exact variance") {
    input_set set;
    const double m_x = 2.0, u_x = 0.3, m_y = -0.5, u_y = 0.4;
    add<ratio>(set, "x", m_x, normal{u_x});
    add<ratio>(set, "y", m_y, normal{u_y});
    const auto xy = [](const auto& e) { return e.apply(product, e.template input<ratio>("x"), e.template input<ratio>("y")); };
    for (const double rho : {-1.0, -0.7, 0.2, 0.95, 1.0}) {
        CAPTURE(rho);
        const std::vector<correlation> stated{{"y", "x", rho}, {"x", "elsewhere", 0.5}};
        const auto r = second_order(set, xy, stated);
        const double c = rho * u_x * u_y;
        // fourth moments of a joint normal distribution: L. A. Goodman, J. Am. Stat. Assoc. 55 (1960) 708 (from memory); a product has no
        // derivatives beyond the second, so that nothing is left out
        const double exact = m_x * m_x * u_y * u_y + m_y * m_y * u_x * u_x + 2.0 * m_x * m_y * c + u_x * u_x * u_y * u_y + c * c;
        CHECK(std::abs(r.added - (u_x * u_x * u_y * u_y + c * c)) <= 1e-15);
        const budget b = make_budget(r);
        CHECK(std::abs(b.u * b.u - exact) <= 1e-14);
        REQUIRE(b.second_order.size() == 1);  // its row is that of independent inputs, as first order's are
        CHECK(std::abs(b.second_order[0].variance - u_x * u_x * u_y * u_y) <= 1e-15);
        CHECK(std::abs(b.second_order[0].share - u_x * u_x * u_y * u_y / exact) <= 1e-12 / exact);
    }
    CHECK(second_order(set, xy).added == second_order(set, xy, std::vector<correlation>{{"x", "elsewhere", 0.5}}).added);
}

TEST_CASE("a derivative by three correlated inputs counts: their product has the moments of Isserlis, term by term") {
    input_set set;
    const std::array<double, 3> m{2.0, -1.5, 0.7};
    const std::array<double, 3> u{0.2, 0.1, 0.3};
    const std::array<std::array<double, 3>, 3> rho{{{1.0, 0.6, -0.3}, {0.6, 1.0, 0.25}, {-0.3, 0.25, 1.0}}};
    const std::array<std::string, 3> names{"a", "b", "c"};
    for (std::size_t i = 0; i < 3; ++i)
        add<ratio>(set, names[i], m[i], i == 1 ? distribution(repeated{u[i], 30.0}) : normal{u[i]});
    std::vector<correlation> stated;
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t j = 0; j < i; ++j) stated.push_back({names[i], names[j], rho[i][j]});
    }
    const auto y = second_order(
        set,
        [](const auto& e) {
            return e.apply([](const auto& a, const auto& b, const auto& c) { return a * b * c; }, e.template input<ratio>("a"),
                           e.template input<ratio>("b"), e.template input<ratio>("c"));
        },
        stated);
    // derivatives of a b c, and the sums over all indices, written out
    const auto s = [&](std::size_t i, std::size_t j) { return rho[i][j] * u[i] * u[j]; };
    const auto by = [&](std::size_t i) { return m[0] * m[1] * m[2] / m[i]; };
    const auto by_two = [&](std::size_t i, std::size_t j) { return i == j ? 0.0 : by(i) / m[j]; };
    double expected = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t j = 0; j < 3; ++j) {
            for (std::size_t k = 0; k < 3; ++k) {
                for (std::size_t l = 0; l < 3; ++l) {
                    expected += 0.5 * by_two(i, j) * s(j, k) * by_two(k, l) * s(l, i);
                    const double third = j != k && k != l && j != l ? 1.0 : 0.0;
                    expected += by(i) * s(i, j) * third * s(k, l);
                }
            }
        }
    }
    CHECK(std::abs(y.added - expected) <= 1e-14);
    CHECK(std::abs(expected) > 1e-3);
}

TEST_CASE("several results have their second-order terms, and the exact covariance of quadratic ones") {
    input_set set;
    const double m_x = 2.0, u_x = 0.3, m_y = -0.5, u_y = 0.4;
    const auto x = add<ratio>(set, "x", m_x, normal{u_x});
    const auto y = add<ratio>(set, "y", m_y, normal{u_y});
    const auto both = [](const auto& a, const auto& b) { return std::tuple{a * b, a * a}; };
    const auto composition = [&](const auto& e) {
        return e.apply(both, e.template input<ratio>("x"), e.template input<ratio>("y"));
    };
    for (const double rho : {0.0, 0.6}) {
        CAPTURE(rho);
        const std::vector<correlation> stated{{"x", "y", rho}};
        const auto r = second_order(set, composition, stated);
        const double c = rho * u_x * u_y;
        const double square = 4.0 * m_x * m_x * u_x * u_x + 2.0 * std::pow(u_x, 4.0);
        const double xy = m_x * m_x * u_y * u_y + m_y * m_y * u_x * u_x + 2.0 * m_x * m_y * c + u_x * u_x * u_y * u_y + c * c;
        const double between = 2.0 * m_x * (m_y * u_x * u_x + m_x * c) + 2.0 * u_x * u_x * c;
        REQUIRE(r.covariances.size() == 4);
        CHECK(std::abs(r.covariances[0] - xy) <= 1e-14);
        CHECK(std::abs(r.covariances[1] - between) <= 1e-14);
        CHECK(r.covariances[2] == r.covariances[1]);
        CHECK(std::abs(r.covariances[3] - square) <= 1e-14);
        const budget product_budget = make_budget(std::get<0>(r.each));
        const budget square_budget = make_budget(std::get<1>(r.each));
        CHECK(std::abs(product_budget.u * product_budget.u - xy) <= 1e-14);
        CHECK(std::abs(square_budget.u * square_budget.u - square) <= 1e-14);
        REQUIRE(square_budget.second_order.size() == 1);
        CHECK(square_budget.second_order[0].first == square_budget.second_order[0].second);
        REQUIRE(product_budget.second_order.size() == 1);
        CHECK(product_budget.second_order[0].first->id == "x");
    }
    const auto alone = second_order(both, x, y);
    CHECK(alone.covariances == second_order(set, composition).covariances);
}

TEST_CASE("second order of correlated inputs comes nearer to Monte Carlo than first order, and within its scatter") {
    input_set set;
    add<ratio>(set, "x", 0.3, normal{0.05});
    add<ratio>(set, "y", 1.1, normal{0.06});
    add<ratio>(set, "z", -0.2, normal{0.04});
    const auto composition = [](const auto& e) {
        return e.apply(
            [](const auto& a, const auto& b, const auto& c) {
                return std::tuple{a * c / b, (a - c) * (a - c) * b, b * c + a * a};
            },
            e.template input<ratio>("x"), e.template input<ratio>("y"), e.template input<ratio>("z"));
    };
    monte_carlo_settings s;
    s.trials = 400'000;
    s.exact_intervals = false;
    s.correlations = {{"x", "y", 0.7}, {"y", "z", -0.4}, {"x", "z", 0.1}};
    const auto r = second_order(set, composition, s.correlations);
    const auto first = covariances(composition(with_sensitivities{set}), s.correlations);
    const monte_carlo_result trials = monte_carlo(s, set, composition);
    const auto distance = [&](const std::vector<double>& of) {
        double largest = 0.0;
        for (std::size_t i = 0; i < 3; ++i) {
            for (std::size_t j = 0; j < 3; ++j) {
                const double scale = trials.outputs[i].standard_deviation * trials.outputs[j].standard_deviation;
                largest = std::max(largest, std::abs(of[3 * i + j] - trials.covariance[3 * i + j]) / scale);
            }
        }
        return largest;
    };
    // a covariance of so many trials scatters by sqrt(2 / 400 000) = 0.0022 of the product of both standard deviations; sixth order is left out
    CHECK(distance(r.covariances) <= 3.0 * 0.0022 + 0.001);
    CHECK(distance(first) > 2.0 * distance(r.covariances));
}

TEST_CASE("second order refuses correlations that cannot be, results for inputs, and derivatives that are not finite") {
    input_set set;
    const auto x = add<ratio>(set, "x", 0.0, normal{0.1});
    const auto y = add<ratio>(set, "y", 1.0, normal{0.1});
    add<ratio>(set, "z", 1.0, normal{0.1});
    add<ratio>(set, "limits", 1.0, rectangular{0.1});
    const auto all = [](const auto& e) {
        return e.apply([](const auto& a, const auto& b, const auto& c, const auto& d) { return a * b * c * d; },
                       e.template input<ratio>("x"), e.template input<ratio>("y"), e.template input<ratio>("z"),
                       e.template input<ratio>("limits"));
    };
    const auto refusal = [&](const std::vector<correlation>& stated) {
        return message([&] { (void)second_order(set, all, stated); });
    };
    CHECK(
        refusal({{"x", "limits", 0.5}}) ==
        "correlation of x and limits: limits with limits for its distribution, expected inputs that are normal or from repeated "
        "readings; let both depend on one shared input instead");
    CHECK(refusal({{"x", "y", 1.5}}) == "correlation of x and y: coefficient 1.5, expected -1 to 1; correct the coefficient");
    CHECK(
        refusal({{"x", "y", 0.9}, {"y", "z", 0.9}, {"x", "z", -0.9}}) ==
        "correlations of x and y, y and z, x and z: coefficients that contradict each other, expected ones that can hold at the "
        "same time; correct the coefficients");
    const auto sum = first_order([](const auto& a, const auto& b) { return a + b; }, x, y);
    CHECK(message([&] { (void)second_order(product, y, sum); }) ==
          "second-order terms, argument 2: a result of other inputs, expected an input, since what was curved before would be "
          "lost; "
          "write the whole as one composition over the set of inputs");
    CHECK(message([&] { (void)second_order([](const auto& a) { return sqrt(a); }, x); }) ==
          "second-order terms of x twice: a derivative that is not finite, expected a model with three derivatives at the "
          "estimates; use "
          "Monte Carlo");
    CHECK(second_order(product, y, exactly(ratio(3.0))).terms.empty());
}

TEST_CASE("a result of before enters a second-order composition by its sensitivities") {
    input_set set;
    add<ratio>(set, "x", 0.0, normal{0.1});
    add<ratio>(set, "y", 0.0, normal{0.1});
    const std::vector<sensitivity_to> by{{"x", 2.0}, {"y", 5.0}};
    const auto r = second_order(set, [&](const auto& e) {
        const auto before = e.template linear<ratio>(ratio(1.0), by);
        return e.apply(product, before, before);
    });
    CHECK(r.y.dependences.size() == 2);
    const budget b = make_budget(r);
    CHECK(std::abs(variance_of(b, "x", "y") - 20.0 * 20.0 * 1e-4) <= 1e-15);  // d2/dxdy (1 + 2x + 5y)^2
}

TEST_CASE("a result without a symbol for its unit has a budget") {
    input_set set;
    const auto v = add<voltage>(set, "v", 2.0, normal{0.1});
    const budget b = make_budget(second_order(product, v, v));
    CHECK(b.unit.empty());
    CHECK(make_budget(first_order(product, v, v)).u > 0.0);
}

}  // namespace second_order_test
