#pragma once
// Risks of a wrong decision: of one that was taken (specific), and on average over what comes to be measured (global).

#include <plumbline/conformity/prior.hpp>
#include <plumbline/export.hpp>

namespace plumbline::inline v0::conformity {

/// Specific risks. Which of the two is run depends on the decision.
struct specific_risks {
    double consumers = 0.0;  ///< if accepted: the true value does not conform
    double producers = 0.0;  ///< if rejected: the true value conforms
};

/// After one result: R*_C = 1 - p_c, R*_P = p_c. With a prior, give estimate and u of the posterior.
/// @param y, u  estimate, finite, and standard uncertainty, > 0 and finite
/// @throws bad_input outside these
/// Source: JCGM 106:2012, 9.3.
[[nodiscard]] PLUMBLINE_EXPORT specific_risks risks_of_result(const tolerance<double>& limits, double y, double u,
                                                              const char* unit = "1");

/// Before any result: the bounds that a guard band w = r U with U = k u sets, from one limit.
///
///     consumer's  Phi(-r k), at the acceptance limit        producer's  Phi(r k), just beyond it
///
/// A second limit adds its tail: where that counts, ask risks_of_result at both acceptance limits. Of the four words only "fail" carries
/// a smaller producer's risk, Phi(-r k): that of -r.
///
/// @param times_U  r, finite; negative is guarded rejection
/// @param k        coverage factor of U: > 0, finite. Published bounds depend on it: 5 % at r = 0.83 holds with k = 2 (4.85 %), not with
///                 1.96 (5.19 %)
/// @throws bad_input outside these
/// Source: JCGM 106:2012, 8.3.2.3; ILAC-G8:09/2019, table 1.
[[nodiscard]] PLUMBLINE_EXPORT specific_risks largest_risks(double times_U, double k = 2.0);

/// Global risks and the probabilities they are parts of; accepted = conforming + consumers - producers.
struct global_risks {
    double consumers = 0.0;   ///< R_C: accepted, and does not conform
    double producers = 0.0;   ///< R_P: rejected, and conforms
    double conforming = 0.0;  ///< conforms, whatever is decided
    double accepted = 0.0;    ///< accepted, rightly or wrongly

    /// Of what is accepted, the part that does not conform; NaN if nothing is accepted.
    [[nodiscard]] double false_part_of_accepted() const { return consumers / accepted; }
};

/// Normal prior g0, normal measurement with standard uncertainty um, accepted from AL to AU:
///
///     F(eta) = Phi((AU - eta)/um) - Phi((AL - eta)/um)        probability of accepting a true value eta
///     R_C    = integral outside [TL, TU] of F g0              R_P = integral over [TL, TU] of (1 - F) g0
///
/// By Gauss-Legendre quadrature in pieces on the scales of both u0 and um. Within 1e-12 of each risk, however small: compared with 40
/// digits down to 1e-59 and for um from u0/8000 to 16 u0. Takes some 0.2 ms.
///
/// @param accepted   acceptance limits, lower <= upper, infinite where there is none; four words: those of "pass"
/// @param prior      what comes to be measured
/// @param u_reading  um: > 0, finite, the same for every reading
/// @throws bad_input outside these
/// Source: JCGM 106:2012, 9.5, eqs. (A.15) to (A.17).
[[nodiscard]] PLUMBLINE_EXPORT global_risks risks_of_rule(const tolerance<double>& limits, const interval<double>& accepted,
                                                          const knowledge<double>& prior, double u_reading,
                                                          const char* unit = "1");

template <judged_quantity Quantity>
[[nodiscard]] specific_risks risks_of_result(const tolerance<Quantity>& limits, like<Quantity> y, like<Quantity> u) {
    return risks_of_result(limits.plain(), y.value(), u.value(), unit_symbol<Quantity>);
}

template <judged_quantity Quantity>
[[nodiscard]] global_risks risks_of_rule(const tolerance<Quantity>& limits, const interval<like<Quantity>>& accepted,
                                         const knowledge<like<Quantity>>& prior, like<Quantity> u_reading) {
    return risks_of_rule(limits.plain(), {accepted.lower.value(), accepted.upper.value()}, plain(prior), u_reading.value(),
                         unit_symbol<Quantity>);
}

}  // namespace plumbline::inline v0::conformity
