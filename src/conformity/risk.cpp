#include <plumbline/conformity/risk.hpp>

#include "argument.hpp"
#include "normal.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <plumbline/conformity/conformance.hpp>
#include <plumbline/error.hpp>
#include <vector>

namespace plumbline::inline v0::conformity {

namespace {

constexpr int steps = 19;                 // of two standard deviations each
constexpr double furthest = 2.0 * steps;  // a normal distribution holds less than the smallest normal double beyond

/// Everything in units of u0, from y0.
struct standardised {
    interval<double> tolerance;
    interval<double> accepted;
    double u_reading;

    /// Probability of accepting a true value z.
    [[nodiscard]] double accepting(double z) const {
        return normal_between((accepted.lower - z) / u_reading, (accepted.upper - z) / u_reading);
    }
    [[nodiscard]] double rejecting(double z) const {
        return upper_tail((accepted.upper - z) / u_reading) + upper_tail((z - accepted.lower) / u_reading);
    }
};

/// Where the integrand has structure: in steps of the prior, and around each acceptance limit in steps of the measurement. Between two
/// neighbours it is a smooth function of no more than two standard deviations of either.
std::vector<double> pieces(const standardised& s) {
    std::vector<double> at;
    const auto around = [&](double centre, double step) {
        if (!std::isfinite(centre)) return;
        for (int i = -steps; i <= steps; ++i) at.push_back(centre + 2.0 * i * step);
    };
    around(0.0, 1.0);
    around(s.accepted.lower, s.u_reading);
    around(s.accepted.upper, s.u_reading);
    std::sort(at.begin(), at.end());
    return at;
}

/// Integral of decision(z) times the normal density from a to b.
template <class Decision>
double integrate(const Decision& decision, double a, double b, const std::vector<double>& pieces) {
    const auto integrand = [&](double z) { return decision(z) * normal_density(z); };
    const double end = std::min(b, furthest);
    double from = std::max(a, -furthest);
    double sum = 0.0;
    for (auto next = std::upper_bound(pieces.begin(), pieces.end(), from); from < end; ++next) {
        const double to = next == pieces.end() ? end : std::min(*next, end);
        if (to > from) sum += boost::math::quadrature::gauss<double, 30>::integrate(integrand, from, to);
        from = to;
        if (next == pieces.end()) break;
    }
    return sum;
}

}  // namespace

specific_risks risks_of_result(const tolerance<double>& limits, double y, double u, const char* unit) {
    return {nonconformance_probability(limits, y, u, unit), conformance_probability(limits, y, u, unit)};
}

specific_risks largest_risks(double times_U, double k) {
    constexpr const char* where = "largest risks";
    expect_finite(where, "the multiple of U", times_U, "1");
    expect_positive(where, "the coverage factor", k, "1");
    return {upper_tail(times_U * k), upper_tail(-times_U * k)};
}

global_risks risks_of_rule(const tolerance<double>& limits, const interval<double>& accepted, const knowledge<double>& prior,
                           double u_reading, const char* unit) {
    constexpr const char* where = "global risks";
    expect_finite(where, "the prior estimate", prior.estimate, unit);
    expect_positive(where, "the prior standard uncertainty", prior.u, unit);
    expect_positive(where, "the standard uncertainty of a reading", u_reading, unit);
    if (!(accepted.lower <= accepted.upper)) {
        throw bad_input(
            where,
            fmt::format("acceptance limits from {} to {}", with_unit(accepted.lower, unit), with_unit(accepted.upper, unit)),
            "a lower limit not above the upper one", "take them from acceptance_limits");
    }
    const auto in_u0 = [&](double x) { return (x - prior.estimate) / prior.u; };
    const standardised s{
        {in_u0(limits.lower()), in_u0(limits.upper())}, {in_u0(accepted.lower), in_u0(accepted.upper)}, u_reading / prior.u};
    const auto accepting = [&](double z) { return s.accepting(z); };
    const auto rejecting = [&](double z) { return s.rejecting(z); };
    const std::vector<double> between = pieces(s);
    const double u_all = std::hypot(1.0, s.u_reading);
    return {
        integrate(accepting, -no_limit, s.tolerance.lower, between) + integrate(accepting, s.tolerance.upper, no_limit, between),
        integrate(rejecting, s.tolerance.lower, s.tolerance.upper, between), normal_between(s.tolerance.lower, s.tolerance.upper),
        normal_between(s.accepted.lower / u_all, s.accepted.upper / u_all)};
}

}  // namespace plumbline::inline v0::conformity
