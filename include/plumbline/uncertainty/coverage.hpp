#pragma once
// From a standard uncertainty to an interval: the coverage factor k.

#include <plumbline/export.hpp>
#include <plumbline/uncertainty/distribution.hpp>
#include <span>

namespace plumbline::inline v0::uncertainty {

/// Two standard deviations of a normal distribution: k = 2.00 there (JCGM 100:2008, table G.1).
inline constexpr double default_coverage_probability = 0.954499736103641585599434725666933;

/// k = t_p(nu), two-sided (JCGM 100:2008, G.3.2).
/// @param probability         0 < p < 1
/// @param degrees_of_freedom  > 0, infinite allowed; not truncated to a whole number
/// @throws bad_input outside these, or with so few degrees of freedom that k is beyond double (some 0.005 at p = 0.95)
[[nodiscard]] PLUMBLINE_EXPORT double coverage_factor(double probability, double degrees_of_freedom);

/// One term of a linearised model: sensitivity times input.
struct term {
    const distribution* spread;
    double sensitivity;
};

/// How an interval was found.
struct coverage {
    enum class method {
        student_t,    ///< k from t at the effective degrees of freedom
        convolution,  ///< k from the numerical convolution of the terms, where their sum is far from normal
    };
    double probability = default_coverage_probability;
    double k = 0.0;  ///< U / u
    method how = method::student_t;
};

/// Coverage factor of a sum of independent terms with combined standard uncertainty u, all terms convolved: rectangular, triangular and
/// product terms as they are, the others as one t with the degrees of freedom that Welch-Satterthwaite gives for them alone. Without bounded
/// terms that is t itself. Good to 1e-4 of U, with several shared differences to 3e-3.
///
/// @param nu  effective degrees of freedom of the whole sum
/// Source: JCGM 101:2008, 5.2 (propagation of distributions).
[[nodiscard]] PLUMBLINE_EXPORT coverage convolved_coverage(std::span<const term> terms, double u, double nu,
                                                           double probability = default_coverage_probability);

/// The same by the usual rule: k is t_p(nu), unless the sum is visibly not normal. The measure is the excess kurtosis of the sum, terms with
/// degrees of freedom counted as normal: below -0.35 (one rectangular term with more than 54 % of the variance, or two with nearly all of
/// it) t would pad U, above +0.1 it would fall short, and the terms are convolved. Between the two t pads U by at most 3 %, which published
/// budgets accept (EA-4/02 S3, at -0.34, states k = 2; convolved it is 1.956).
///
/// @param nu  effective degrees of freedom of the whole sum
/// Source: JCGM 100:2008, G.4.1 and G.6.6; EA-4/02 M:2022, supplement S9 (a dominant rectangular term).
[[nodiscard]] PLUMBLINE_EXPORT coverage usual_coverage(std::span<const term> terms, double u, double nu,
                                                       double probability = default_coverage_probability);

}  // namespace plumbline::inline v0::uncertainty
