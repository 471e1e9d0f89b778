#pragma once
// What is known of an input besides its estimate.

#include <limits>
#include <plumbline/export.hpp>
#include <plumbline/units/compiler.hpp>
#include <string>
#include <variant>

namespace plumbline::inline v0::uncertainty {

inline constexpr double infinite = std::numeric_limits<double>::infinity();

// All figures are in the coherent unit of the input that carries the distribution; half-widths and u are >= 0 and finite.

/// Normal, from a stated U and k (JCGM 100:2008, 4.3.3) or u itself. Degrees of freedom infinite unless u is known to be doubtful (G.4.2).
struct normal {
    double u = 0.0;
    double degrees_of_freedom = infinite;
    friend bool operator==(const normal&, const normal&) = default;
};

/// Anywhere within +-half_width with equal probability: u = half_width / sqrt(3) (JCGM 100:2008, 4.3.7).
struct rectangular {
    double half_width = 0.0;
    friend bool operator==(const rectangular&, const rectangular&) = default;
};

/// Within +-half_width, the middle likeliest: u = half_width / sqrt(6) (JCGM 100:2008, 4.3.9).
struct triangular {
    double half_width = 0.0;
    friend bool operator==(const triangular&, const triangular&) = default;
};

/// Within +-half_width, equally likely within +-top_half_width and falling to nothing at the ends: the sum of two rectangular terms.
/// u = sqrt((half_width^2 + top_half_width^2) / 6) (JCGM 100:2008, 4.3.9).
/// @pre 0 <= top_half_width <= half_width
struct trapezoidal {
    double half_width = 0.0;
    double top_half_width = 0.0;
    friend bool operator==(const trapezoidal&, const trapezoidal&) = default;
};

/// A sine of unknown phase, hum for instance: within +-half_width, the ends likeliest. u = half_width / sqrt(2) (JCGM 101:2008, 6.4.6).
struct arcsine {
    double half_width = 0.0;
    friend bool operator==(const arcsine&, const arcsine&) = default;
};

/// At +half_width or at -half_width with equal probability and nowhere between, u = half_width: an error that stands at a limit whose sign
/// is not known. No distribution within +-half_width has a larger u. JCGM 100:2008, 4.3.7, takes limits for rectangular where nothing says where
/// between them a value lies; where it is known to lie at one of them, an instrument adjusted until it just passes for one, that u would be
/// too small by sqrt 3. (Variance at most half_width^2: T. Popoviciu, 1935, from memory.)
struct two_point {
    double half_width = 0.0;
    friend bool operator==(const two_point&, const two_point&) = default;
};

/// Type A: a mean of repeated readings, u = s / sqrt(n) with n - 1 degrees of freedom (JCGM 100:2008, 4.2.3).
struct repeated {
    double u = 0.0;
    double degrees_of_freedom = infinite;
    friend bool operator==(const repeated&, const repeated&) = default;
};

/// A coefficient known as zero within +-coefficient (rectangular) times a difference known as difference +- half_width (rectangular), the
/// temperature effect of a part for instance. Both may be estimated as zero, where first order sees nothing; as one input it has
///
///     u = coefficient / sqrt(3) * sqrt(difference^2 + half_width^2 / 3)
///
/// Inputs that name the same coefficient share it, one part at two temperatures for instance; inputs that name the same factor share the
/// difference, two parts at one temperature. Covariance and coverage take both into account. "" names nothing: not shared.
/// Source: variance of a product of independent quantities, JCGM 100:2008, note to 5.1.2.
struct coefficient_times_difference {
    double coefficient = 0.0;
    double difference = 0.0;
    double half_width = 0.0;
    std::string coefficient_of;
    std::string factor;
    friend bool operator==(const coefficient_times_difference&, const coefficient_times_difference&) = default;
};

using distribution =
    std::variant<normal, rectangular, triangular, repeated, coefficient_times_difference, trapezoidal, arcsine, two_point>;

[[nodiscard]] PLUMBLINE_EXPORT double standard_uncertainty(const distribution& d);
[[nodiscard]] PLUMBLINE_EXPORT double degrees_of_freedom(const distribution& d);

}  // namespace plumbline::inline v0::uncertainty
