#include <plumbline/conformity/prior.hpp>

#include "argument.hpp"

#include <cmath>

namespace plumbline::inline v0::conformity {

knowledge<double> posterior(const knowledge<double>& prior, double reading, double u_reading, const char* unit) {
    constexpr const char* where = "posterior";
    expect_finite(where, "the prior estimate", prior.estimate, unit);
    expect_positive(where, "the prior standard uncertainty", prior.u, unit);
    expect_finite(where, "the reading", reading, unit);
    expect_positive(where, "the standard uncertainty of the reading", u_reading, unit);
    const double both = std::hypot(prior.u, u_reading);
    const double to_prior = u_reading / both;  // weights as squares of these: they add up to 1
    const double to_reading = prior.u / both;
    return {prior.estimate * to_prior * to_prior + reading * to_reading * to_reading, prior.u * to_prior};
}

}  // namespace plumbline::inline v0::conformity
