#include <plumbline/conformity/capability.hpp>

#include "argument.hpp"

#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::conformity {

namespace {

double width_of(const tolerance<double>& limits, const char* where) {
    if (limits.two_sided()) return limits.width();
    throw bad_input(where, "a tolerance with one limit", "a lower and an upper limit",
                    "a single limit has no width to compare with: ask for the conformance probability instead");
}

}  // namespace

double capability_index(const tolerance<double>& limits, double u, const char* unit) {
    constexpr const char* where = "measurement capability index";
    expect_positive(where, "the standard uncertainty", u, unit);
    return width_of(limits, where) / (4.0 * u);
}

double test_uncertainty_ratio(const tolerance<double>& limits, double U, const char* unit) {
    constexpr const char* where = "test uncertainty ratio";
    expect_positive(where, "the expanded uncertainty U", U, unit);
    return width_of(limits, where) / (2.0 * U);
}

double managed_guard_band(double ratio) {
    expect_positive("managed guard band", "the test uncertainty ratio", ratio, "1");
    return std::max(0.0, 1.04 - std::exp(0.38 * std::log(ratio) - 0.54));
}

}  // namespace plumbline::inline v0::conformity
