#include <plumbline/uncertainty/by_source.hpp>

#include <doctest/doctest.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/second_order.hpp>
#include <string>
#include <vector>

namespace by_source_test {

using namespace plumbline;
using namespace plumbline::uncertainty;

namespace {

uncertain<ratio> add(input_set& to, const std::string& id, const std::string& source, double estimate, distribution d) {
    return from_input<ratio>(to.add({id, id, source, "1", estimate, std::move(d)}));
}

constexpr auto sum_of = [](const auto& a, const auto&... rest) { return (a + ... + rest); };

double sum_of_shares(const std::vector<source_row>& rows) {
    double sum = 0.0;
    for (const source_row& row : rows) sum += row.share;
    return sum;
}

}  // namespace

TEST_CASE("inputs of one source add in squares to one row, and the shares of all sources to 1") {
    input_set set;
    const auto y = first_order(
        sum_of, add(set, "a", "data sheet", 1.0, normal{3.0}), add(set, "b", "capture", 1.0, repeated{2.0, 9.0}),
        add(set, "c", "data sheet", 1.0, rectangular{4.0 * std::sqrt(3.0)}), add(set, "d", "capture", 1.0, normal{0.0}));
    const auto rows = by_source(make_budget(y));
    REQUIRE(rows.size() == 2);
    CHECK(rows[0].source == "data sheet");
    CHECK(rows[0].inputs == 2);
    CHECK(std::abs(rows[0].contribution - 5.0) <= 1e-14);
    CHECK(std::abs(rows[0].share - 25.0 / 29.0) <= 1e-15);
    CHECK(rows[1].source == "capture");
    CHECK(rows[1].inputs == 1);  // the exact one has no effect
    CHECK(std::abs(sum_of_shares(rows) - 1.0) <= 1e-15);
}

TEST_CASE("a correlation within a source counts in its row, one between two sources in neither") {
    input_set set;
    const auto y = first_order(sum_of, add(set, "b", "meter", 1.0, normal{3.0}), add(set, "a", "meter", 1.0, normal{4.0}),
                               add(set, "c", "plug", 1.0, normal{2.0}));
    const std::vector<correlation> within{{"a", "b", 0.5}};
    const auto rows = by_source(make_budget(y, 0.95, within), within);
    REQUIRE(rows.size() == 2);
    CHECK(std::abs(rows[0].contribution - std::sqrt(25.0 + 12.0)) <= 1e-14);
    CHECK(std::abs(sum_of_shares(rows) - 1.0) <= 1e-15);

    const std::vector<correlation> between{{"a", "c", 0.5}};
    const budget b = make_budget(y, 0.95, between);
    const auto apart = by_source(b, between);
    CHECK(std::abs(apart[0].contribution - 5.0) <= 1e-14);
    CHECK(std::abs(sum_of_shares(apart) - (1.0 - 8.0 / (b.u * b.u))) <= 1e-15);
}

TEST_CASE("parts that share a coefficient cancel within their source") {
    input_set set;
    const auto at = [&](const char* id) {
        return add(set, id, "data sheet", 0.0, coefficient_times_difference{1e-3, 10.0, 0.0, "part", id});
    };
    const auto difference = first_order([](const auto& a, const auto& b, const auto& c) { return a - b + c; }, at("a"), at("b"),
                                        add(set, "c", "plug", 0.0, normal{1.0}));
    const auto rows = by_source(make_budget(difference));
    REQUIRE(rows.size() == 2);
    CHECK(rows[1].source == "data sheet");
    CHECK(rows[1].contribution <= 1e-9);
}

TEST_CASE("second-order terms stand with their source, or between two in a row of their own") {
    input_set set;
    const auto a = add(set, "a", "data sheet", 0.0, normal{1.0});
    const auto b = add(set, "b", "data sheet", 0.0, normal{2.0});
    const auto c = add(set, "c", "conditions of use", 0.0, normal{3.0});
    const auto product = [](const auto& x, const auto& y, const auto& z) { return x + x * y + y * z; };
    const auto rows = by_source(make_budget(second_order(product, a, b, c)));
    REQUIRE(rows.size() == 2);
    CHECK(rows[0].source == "conditions of use; data sheet");
    CHECK(rows[0].inputs == 0);
    CHECK(std::abs(rows[0].contribution - 6.0) <= 1e-14);
    CHECK(rows[1].source == "data sheet");
    CHECK(std::abs(rows[1].contribution - std::sqrt(1.0 + 4.0)) <= 1e-14);
    CHECK(std::abs(sum_of_shares(rows) - 1.0) <= 1e-15);
}

TEST_CASE("a budget of nothing has no sources") {
    CHECK(by_source(make_budget(exactly(ratio(1.0)))).empty());
    input_set set;
    const auto x = add(set, "x", "data sheet", 1.0, normal{1.0});
    CHECK(by_source(make_budget(first_order([](const auto& a, const auto& b) { return a - b; }, x, x))).empty());
}

}  // namespace by_source_test
