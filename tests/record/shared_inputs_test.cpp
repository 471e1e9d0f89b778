// What two results have in common is kept with the record.

#include <certificate/example_record.hpp>

#include <doctest/doctest.h>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/uncertainty/budget.hpp>

namespace shared_inputs_test {

using namespace plumbline;

namespace {

uncertainty::uncertain<voltage> read(const record::record& r, voltage at) {
    const calibration::range_calibration& range = r.ranges.front();
    return calibration::reading(r.inputs, r.references, range, calibration::code_at(range, at),
                                calibration::at_calibration(range));
}

constexpr auto minus = [](const auto& a, const auto& b) { return a - b; };

}  // namespace

TEST_CASE("readings of a record that was saved and loaded are correlated as they were") {
    const record::record made = example::complete_scope();
    const record::record loaded = record::from_json(record::to_json(made), "r.json");
    const auto low = read(made, 2.0 * volt);
    const auto high = read(made, 7.0 * volt);
    const double before = uncertainty::covariance(low.dependences, high.dependences);
    CHECK(before > 0.1 * make_budget(low).u * make_budget(high).u);  // the same reference, steps and noise
    CHECK(uncertainty::covariance(read(loaded, 2.0 * volt).dependences, read(loaded, 7.0 * volt).dependences) == before);
    CHECK(make_budget(first_order(minus, high, low)).u < std::hypot(make_budget(low).u, make_budget(high).u));
}

TEST_CASE("a reading less the same reading of the record that was saved and loaded is zero with u = 0") {
    const record::record made = example::complete_scope();
    const record::record loaded = record::from_json(record::to_json(made), "r.json");
    const auto difference = first_order(minus, read(made, 7.0 * volt), read(loaded, 7.0 * volt));
    CHECK(difference.value == 0.0 * volt);
    CHECK(make_budget(read(loaded, 7.0 * volt)).u > 0.0);
    CHECK(make_budget(difference).u == 0.0);
}

TEST_CASE("stated correlations are kept with the record, and count as before") {
    record::record made = example::complete_scope();
    const std::string id = "A/10 V";
    made.correlations = {{id + "/zero/mean", id + "/reference/mean", 0.75}};
    const record::record loaded = record::from_json(record::to_json(made), "r.json");
    const auto u = [](const record::record& r) {
        return make_budget(read(r, 7.0 * volt), r.coverage_probability, r.correlations).u;
    };
    CHECK(u(loaded) == u(made));
    CHECK(u(loaded) < make_budget(read(made, 7.0 * volt)).u);  // beyond the steps the two count with opposite signs
}

}  // namespace shared_inputs_test
