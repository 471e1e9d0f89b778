#pragma once
// Acceptance limits: the readings that a decision rule passes, to use while measuring.

#include <plumbline/conformity/decision.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/function.hpp>
#include <string>

namespace plumbline::inline v0::conformity {

/// Readings that pass: TL + w to TU - w, infinite where there is no limit.
/// @param U  expanded uncertainty of every reading, see guard_band
/// @throws bad_input  as judge
/// Source: JCGM 106:2012, 8.3.2 and 8.3.3.
[[nodiscard]] PLUMBLINE_EXPORT interval<double> acceptance_limits(const decision_rule<double>& rule,
                                                                  const tolerance<double>& limits, double U,
                                                                  const char* unit = "1");

/// The same where U depends on the reading: the limits solve y - w(U(y)) = TL and y + w(U(y)) = TU. Readings at the limits pass.
/// @param U  expanded uncertainty of a reading y. w must grow by less than y does, or there is more than one solution or none
/// @throws bad_input  no solution is found, or what judge refuses
/// Source: JCGM 106:2012, 8.3.3, example 1 (uncertainty proportional to the reading).
[[nodiscard]] PLUMBLINE_EXPORT interval<double> acceptance_limits(const decision_rule<double>& rule,
                                                                  const tolerance<double>& limits,
                                                                  const uncertainty::function<double(double)>& U,
                                                                  const char* unit = "1");

/// "accept between 1.004 V and 1.096 V", "accept 1.004 V or more", "accept 1.096 V or less".
///
/// Limits are rounded inwards, so that what is read never accepts more than the rule does; a limit that misses a printed figure by less
/// than 1e-6 of the last place counts as that figure.
///
/// @param decimals  places after the point, 0 to 15
/// @throws bad_input  no interval is left between the rounded limits, there is no limit at all, or decimals are out of range
[[nodiscard]] PLUMBLINE_EXPORT std::string acceptance_sentence(const interval<double>& accepted, int decimals,
                                                               const char* unit = "1");

template <judged_quantity Quantity>
[[nodiscard]] interval<Quantity> acceptance_limits(const decision_rule<Quantity>& rule, const tolerance<Quantity>& limits,
                                                   like<Quantity> U) {
    const auto found = acceptance_limits(plain(rule), limits.plain(), U.value(), unit_symbol<Quantity>);
    return {Quantity::from_value(found.lower), Quantity::from_value(found.upper)};
}

template <judged_quantity Quantity, std::invocable<Quantity> Uncertainty>
[[nodiscard]] interval<Quantity> acceptance_limits(const decision_rule<Quantity>& rule, const tolerance<Quantity>& limits,
                                                   const Uncertainty& U) {
    const uncertainty::function<double(double)> plain_U = [&U](double y) {
        const Quantity at_y = U(Quantity::from_value(y));
        return at_y.value();
    };
    const auto found = acceptance_limits(plain(rule), limits.plain(), plain_U, unit_symbol<Quantity>);
    return {Quantity::from_value(found.lower), Quantity::from_value(found.upper)};
}

template <judged_quantity Quantity>
[[nodiscard]] std::string acceptance_sentence(const interval<Quantity>& accepted, int decimals) {
    return acceptance_sentence({accepted.lower.value(), accepted.upper.value()}, decimals, unit_symbol<Quantity>);
}

}  // namespace plumbline::inline v0::conformity
