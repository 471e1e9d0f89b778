#include <plumbline/conformity/conformance.hpp>

#include "argument.hpp"
#include "normal.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::conformity {

namespace {

constexpr const char* in_conformance = "conformance probability";

}  // namespace

double conformance_probability(const tolerance<double>& limits, double y, double u, const char* unit) {
    expect_finite(in_conformance, "the estimate", y, unit);
    expect_positive(in_conformance, "the standard uncertainty", u, unit);
    return normal_between((limits.lower() - y) / u, (limits.upper() - y) / u);
}

double nonconformance_probability(const tolerance<double>& limits, double y, double u, const char* unit) {
    expect_finite(in_conformance, "the estimate", y, unit);
    expect_positive(in_conformance, "the standard uncertainty", u, unit);
    return upper_tail((limits.upper() - y) / u) + upper_tail((y - limits.lower()) / u);
}

double conformance_probability_between(double at_lower, double at_upper) {
    if (0.0 <= at_lower && at_lower <= at_upper && at_upper <= 1.0) return at_upper - at_lower;
    throw bad_input(in_conformance,
                    fmt::format("a distribution function that is {} at the lower and {} at the upper limit", at_lower, at_upper),
                    "0 to 1, not falling", "look at the distribution function");
}

interval<double> readings_conforming_with(double p, const tolerance<double>& limits, double u, const char* unit) {
    if (!(p > 0.0 && p < 1.0)) {
        throw bad_input(in_conformance, fmt::format("conformance probability {}", p), "more than 0 and less than 1",
                        "state it as a fraction, 0.95 for instance");
    }
    expect_positive(in_conformance, "the standard uncertainty", u, unit);
    if (!limits.has_upper()) return {limits.lower() - u * upper_quantile(p), no_limit};  // -Q^-1(p) = Phi^-1(p)
    if (!limits.has_lower()) return {-no_limit, limits.upper() + u * upper_quantile(p)};
    // From the centre, the likeliest reading, outwards; p_c is symmetric about it and falls.
    const double half = 0.5 * limits.width();
    const double centre = limits.lower() + half;
    const auto excess = [&](double distance) { return normal_between((-half - distance) / u, (half - distance) / u) - p; };
    const double best = excess(0.0);
    if (best < 0.0) {
        throw bad_input(in_conformance,
                        fmt::format("{} at best, in the middle of a tolerance {} wide with u = {}", best + p,
                                    with_unit(limits.width(), unit), with_unit(u, unit)),
                        fmt::format("{}", p), "measure with less uncertainty or ask for less");
    }
    if (best == 0.0) return {centre, centre};
    // One tail alone: with both, p_c reaches p nearer to the centre.
    const double beyond = half + u * std::max(0.0, upper_quantile(p)) + u;
    std::uintmax_t iterations = 200;
    const auto bracket =
        boost::math::tools::toms748_solve(excess, 0.0, beyond, boost::math::tools::eps_tolerance<double>(), iterations);
    return {centre - bracket.first, centre + bracket.first};
}

}  // namespace plumbline::inline v0::conformity
