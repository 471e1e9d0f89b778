#include "../message.hpp"

#include <plumbline/uncertainty/budget.hpp>

#include <doctest/doctest.h>
#include <rapidcheck.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/observations.hpp>
#include <string>
#include <vector>

namespace budget_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using refused::message;

namespace {

uncertain<voltage> volts(input_set& set, const std::string& id, double estimate, distribution d) {
    return from_input<voltage>(set.add({id, id, "test", "V", estimate, std::move(d)}));
}

distribution any_distribution(int kind, double size) {
    switch (kind) {
        case 0:
            return normal{size};
        case 1:
            return rectangular{size};
        case 2:
            return triangular{size};
        case 3:
            return repeated{size, 7.0};
        default:
            return coefficient_times_difference{size, 2.0, 1.0, "", "t"};
    }
}

}  // namespace

TEST_CASE("x - x is zero with no uncertainty, and x + x has twice that of x") {
    input_set set;
    const auto x = volts(set, "x", 5.0, normal{0.01});
    const auto difference = first_order([](const auto& a, const auto& b) { return a - b; }, x, x);
    CHECK(difference.value.value() == 0.0);
    CHECK(make_budget(difference).u == 0.0);
    CHECK(std::isfinite(make_budget(difference).U));  // no 0/0 on the way
    const auto sum = first_order([](const auto& a, const auto& b) { return a + b; }, x, x);
    CHECK(std::abs(make_budget(sum).u - 0.02) <= 1e-17);
}

TEST_CASE("two results that share an input are correlated by it") {
    input_set set;
    const auto shared = volts(set, "shared", 1.0, normal{3.0});
    const auto own = volts(set, "own", 1.0, normal{4.0});
    const auto both = first_order([](const auto& a, const auto& b) { return a + b; }, shared, own);
    CHECK(std::abs(covariance(both.dependences, shared.dependences) - 9.0) <= 1e-12);
    CHECK(std::abs(make_budget(both).u - 5.0) <= 1e-12);
}

TEST_CASE("few degrees of freedom are flagged below four") {
    input_set set;
    CHECK(make_budget(volts(set, "three", 1.0, repeated{1.0, 3.0})).few_degrees_of_freedom);
    CHECK_FALSE(make_budget(volts(set, "four", 1.0, repeated{1.0, 4.0})).few_degrees_of_freedom);
}

TEST_CASE("degrees of freedom are by Welch-Satterthwaite between independent inputs, n - 1 among those observed together") {
    input_set set;
    const auto x = volts(set, "x", 1.0, repeated{1.0, 5.0});
    const auto y = volts(set, "y", 1.0, repeated{1.0, 5.0});
    const auto z = volts(set, "z", 1.0, repeated{1.0, 20.0});
    const auto sum = first_order([](const auto& a, const auto& b, const auto& c) { return a + b + c; }, x, y, z);
    // JCGM 100:2008, eq. (G.2b): 3^2 / (1/5 + 1/5 + 1/20)
    CHECK(std::abs(make_budget(sum).degrees_of_freedom - 9.0 / 0.45) <= 1e-12);
    // x and y observed together are one source of doubt, with variance 2 + 2 * 0.5 = 3: 4^2 / (3^2/5 + 1/20)
    const std::vector<correlation> together{{"x", "y", 0.5}};
    CHECK(std::abs(make_budget(sum, 0.95, together).degrees_of_freedom - 16.0 / 1.85) <= 1e-12);
    // of different degrees of freedom they were not observed together
    const std::vector<correlation> stated{{"x", "z", 0.5}};
    CHECK(std::abs(make_budget(sum, 0.95, stated).degrees_of_freedom - 16.0 / 0.45) <= 1e-12);
    const auto both = first_order([](const auto& a, const auto& b) { return a + b; }, x, y);
    CHECK(std::abs(make_budget(both, 0.95, together).degrees_of_freedom - 5.0) <= 1e-12);
}

TEST_CASE("a result without uncertainty has zeros and no NaN, by either rule for k, with correlations or not") {
    input_set set;
    const auto exact = volts(set, "exact", 1.0, normal{0.0});
    const auto none = volts(set, "none", 1.0, repeated{0.0, 5.0});
    const auto flat = volts(set, "flat", 1.0, rectangular{0.0});
    const auto x = volts(set, "x", 1.0, repeated{1.0, 5.0});
    const auto y = volts(set, "y", 1.0, repeated{1.0, 5.0});
    const auto sum = [](const auto& a, const auto& b, const auto& c) { return a + b + c; };
    const auto cancelled = [](const auto& a, const auto& b, const auto& c) { return a - b + c; };
    const std::vector<correlation> whole{{"x", "y", 1.0}};
    for (const auto& result : {first_order(sum, exact, none, flat), first_order(cancelled, x, y, exact)}) {
        for (const auto& b : {make_budget(result, 0.95, whole), make_convolved_budget(result, 0.95, whole)}) {
            CHECK(b.u == 0.0);
            CHECK(b.U == 0.0);
            CHECK(b.degrees_of_freedom == infinite);
            CHECK_FALSE(b.few_degrees_of_freedom);
            CHECK(std::isfinite(b.covered.k));
            for (const budget_row& row : b.rows) CHECK(row.share == 0.0);
        }
    }
    CHECK(make_budget(exactly(1.0 * volt)).u == 0.0);
}

TEST_CASE("a budget does not depend on the order of its inputs, and scales with the unit") {
    const auto holds = [](bool good) { CHECK(good); };
    holds(rc::check("order and scale", [] {
        const auto kinds = *rc::gen::container<std::vector<int>>(*rc::gen::inRange<std::size_t>(1, 6), rc::gen::inRange(0, 5));
        std::vector<double> sizes;
        for (std::size_t i = 0; i < kinds.size(); ++i) sizes.push_back(1e-3 * *rc::gen::inRange(1, 1000));
        const auto budget_of = [&](bool reversed, double scale) {
            std::vector<dependence> all;
            for (std::size_t i = 0; i < kinds.size(); ++i) {
                const input in{"x" + std::to_string(i), "", "", "V", 0.0, any_distribution(kinds[i], scale * sizes[i])};
                all.push_back({shared_input(in), 1.0});
            }
            if (reversed) std::reverse(all.begin(), all.end());
            const std::vector<double> outer(1, 1.0);
            const std::vector<const std::vector<dependence>*> arguments(1, &all);
            return make_budget(0.0, "V", chain(outer, arguments));
        };
        const budget b = budget_of(false, 1.0);
        const budget other_way = budget_of(true, 1.0);
        const budget scaled = budget_of(false, 1e-6);
        RC_ASSERT(b.U == other_way.U);
        RC_ASSERT(b.rows.size() == other_way.rows.size());
        RC_ASSERT(std::abs(scaled.u - 1e-6 * b.u) <= 1e-14 * b.u);
        RC_ASSERT(std::abs(scaled.covered.k - b.covered.k) <= 1e-9 * b.covered.k);
        double shares = 0.0;
        for (const budget_row& row : b.rows) shares += row.share;
        RC_ASSERT(std::abs(shares - 1.0) <= 1e-12);
    }));
}

TEST_CASE("inputs that cannot be are refused with what to do") {
    input_set set;
    set.add({"x", "", "", "V", 1.0, normal{0.1}});
    set.add({"x", "", "", "V", 1.0, normal{0.1}});  // the same again changes nothing
    CHECK(set.all().size() == 1);
    CHECK(message([&] {
              set.add({"x", "", "", "V", 1.0, normal{0.2}});
          }) ==
          "input x: two inputs of this id that differ, expected one input for each id; give each source of error its own "
          "identity, and one "
          "source the same figures everywhere");
    CHECK(message([&] {
              set.add({"n", "", "", "V", std::nan(""), normal{0.1}});
          }) ==
          "input n: estimate nan with standard uncertainty 0.1, expected a finite estimate and a finite standard uncertainty of "
          "0 or more; "
          "correct the figures of this input");
    CHECK(message([&] {
              set.add({"m", "", "", "V", 1.0, rectangular{-1.0}});
          }).starts_with("input m: estimate 1 with standard uncertainty -0.57"));
    CHECK(message([&] { (void)set.at("y"); }) ==
          "inputs: no input y, expected one, since the model needs it; use the record as it was written");
    CHECK(message([&] { (void)from_input<codes>(set.at("x")); }) ==
          "input x: unit V, expected unit code; use the record as it was written");
}

TEST_CASE("a correlation is refused outside -1 to 1 and between limits") {
    input_set set;
    const auto a = volts(set, "a", 1.0, normal{0.1});
    const auto b = volts(set, "b", 1.0, rectangular{0.1});
    const auto sum = first_order([](const auto& x, const auto& y) { return x + y; }, a, b);
    const std::vector<correlation> half{{"a", "b", 0.5}};
    CHECK(message([&] { (void)make_budget(sum, default_coverage_probability, half); }) ==
          "correlation of a and b: b with limits for its distribution, expected inputs that are normal or from repeated "
          "readings; let both "
          "depend on one shared input instead");
    const std::vector<correlation> wild{{"a", "b", 1.5}};
    CHECK(message([&] { (void)make_budget(sum, default_coverage_probability, wild); }) ==
          "correlation of a and b: coefficient 1.5, expected -1 to 1; correct the coefficient");
}

TEST_CASE("repeated readings need two, and finite ones") {
    const std::vector<double> one_reading{1.0};
    CHECK(message([&] { (void)observed("x", "", "", "V", one_reading); }) ==
          "input x: 1 readings, expected at least 2; take more readings: one shows no scatter");
    const std::vector<double> with_nan{1.0, std::nan("")};
    CHECK(message([&] { (void)observed("x", "", "", "V", with_nan); }) ==
          "input x: a reading that is not finite, expected finite readings; look at the data before it is averaged");
}

TEST_CASE("one coefficient at two known differences is fully correlated, and cancels where they are equal") {
    input_set set;
    const auto warm = [&](const char* id, double difference, double half_width, const char* coefficient_of) {
        return volts(set, id, 0.0, coefficient_times_difference{1e-3, difference, half_width, coefficient_of, id});
    };
    const auto minus = [](const auto& x, const auto& y) { return x - y; };
    const auto plus = [](const auto& x, const auto& y) { return x + y; };
    const auto first = warm("a", 10.0, 0.0, "part");
    const auto second = warm("b", 10.0, 0.0, "part");
    const double one = make_budget(first).u;
    CHECK(std::abs(one - 1e-2 / std::sqrt(3.0)) <= 1e-15);
    CHECK(make_budget(first_order(minus, first, second)).u <= 1e-7 * one);  // the variances cancel to rounding
    CHECK(std::abs(make_budget(first_order(plus, first, second)).u - 2.0 * one) <= 1e-12 * one);
    // another part does not cancel, and neither does a difference estimated as zero
    const auto other = warm("c", 10.0, 0.0, "other part");
    CHECK(std::abs(make_budget(first_order(minus, first, other)).u - std::sqrt(2.0) * one) <= 1e-12 * one);
    const auto unknown = warm("d", 0.0, 10.0, "part");
    const double apart = std::hypot(one, make_budget(unknown).u);
    CHECK(std::abs(make_budget(first_order(minus, first, unknown)).u - apart) <= 1e-12 * one);
}

}  // namespace budget_test
