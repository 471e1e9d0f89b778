#pragma once
// Inputs as Monte Carlo draws them: those of the budget, and distributions that first order knows by their u alone.

#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <variant>
#include <vector>

namespace plumbline::inline v0::uncertainty {

/// Rectangular within limits that are themselves known within +-limits_half_width (rectangular, both ends moving oppositely):
/// u^2 = half_width^2 / 3 + limits_half_width^2 / 9. Source: JCGM 101:2008, 6.4.3.
/// @pre 0 <= limits_half_width <= half_width, finite
struct curvilinear_trapezoid {
    double half_width = 0.0;
    double limits_half_width = 0.0;
    friend bool operator==(const curvilinear_trapezoid&, const curvilinear_trapezoid&) = default;
};

/// Deviations from the estimate that were seen, each as likely as the other: the empirical distribution.
/// @pre at least one, all finite
struct seen_deviations {
    std::vector<double> values;
    friend bool operator==(const seen_deviations&, const seen_deviations&) = default;
};

using sampled_distribution = std::variant<distribution, curvilinear_trapezoid, seen_deviations>;

/// What Monte Carlo needs of an input.
///
/// How the distributions of a budget are drawn: `normal` as normal, whatever its degrees of freedom (JCGM 101:2008, 6.4.7); `repeated` as
/// t scaled by u, so that with few readings the standard deviation drawn is u sqrt(nu / (nu - 2)) (6.4.9); one with infinite degrees of
/// freedom as normal; `coefficient_times_difference` as the product it is, sharing what it names.
struct sampled_input {
    std::string id;    ///< inputs of one id are drawn once
    std::string unit;  ///< coherent unit
    double estimate = 0.0;
    sampled_distribution spread;

    sampled_input(std::string id_, std::string unit_, double estimate_, sampled_distribution spread_)
        : id(std::move(id_)), unit(std::move(unit_)), estimate(estimate_), spread(std::move(spread_)) {}
    sampled_input(const input& in) : sampled_input(in.id, in.unit, in.estimate, in.spread) {}
    sampled_input(const shared_input& in) : sampled_input(*in) {}

    friend bool operator==(const sampled_input&, const sampled_input&) = default;
};

}  // namespace plumbline::inline v0::uncertainty
