#pragma once
// Where the signal stands between the codes: position and noise before the quantiser, by maximum likelihood from the histogram.

#include <plumbline/capture/statistics.hpp>
#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::capture {

/// Position mu and noise sigma, in codes: a sample is the code nearest to mu + sigma times a standard normal quantity.
struct position {
    codes estimate{};  ///< of mu: the middle of its interval
    codes low{};       ///< interval of mu, 95.45 %
    codes high{};
    codes
        u{};  ///< of the estimate: half the interval over 2 where sigma is known, over sqrt 3 where the interval is one of limits
    codes sigma{};      ///< most likely; 0 where any small one is as likely
    codes sigma_low{};  ///< interval of sigma, 95.45 %; 0 where it cannot be known from below
    codes sigma_high{};
    bool sigma_known = false;  ///< sigma_low is above 0
    friend bool operator==(const position&, const position&) = default;
};

/// Interval-censored maximum likelihood: a sample on code c says that mu + noise lay between c - 1/2 and c + 1/2, so that
///
///     log L(mu, sigma) = sum over codes of count(c) log(Phi((c + 1/2 - mu) / sigma) - Phi((c - 1/2 - mu) / sigma))
///
/// Any noise is allowed, from none (all samples on one code: mu lies anywhere on it, sigma is known from above alone) over two codes (their
/// shares fix (edge - mu) / sigma and not both: mu is narrowed to a part of the code) to many (mu and sigma as for numbers that are not
/// rounded). Intervals hold the values whose profile likelihood is not below its maximum by more than
///
///     n_eff log(1 + t^2 / (n_eff - 1)) / 2,   t of n_eff - 1 degrees of freedom at 95.45 %
///
/// which is Student's interval where there are many codes. Above 1 code of scatter it is computed as that, with sigma^2 = s^2 - 1/12: the
/// difference is below 1e-8 code. Widths of codes are ideal: add the converter's DNL.
///
/// Beside of_mean (quantisation.hpp), which keeps half a code until noise is proved, this narrows mu wherever two codes come up. A calibration
/// takes the same likelihood by position_by_codes.
///
/// @param counts  samples on bottom_code + i, at least one
/// @param n_eff   of them that are independent, from 1 to their number
/// @throws bad_input  no samples, or n_eff outside
/// Sources: likelihood of grouped observations, profile likelihood: common practice, no source; the limit by t derived here so that it is
/// exact for normal observations. Coverage in simulation: tests/capture/position_test.cpp.
[[nodiscard]] PLUMBLINE_EXPORT position position_of(const std::vector<std::uint64_t>& counts, std::int32_t bottom_code,
                                                    double n_eff);

/// A histogram of few codes, and how many of its samples are independent.
struct seen_codes {
    std::vector<code_count> codes;  ///< in order, none without samples
    double n_eff = 1.0;
};

/// What a calibration takes for the position of a capture in which noise is not proved to dither: mean and standard deviation of mu by the
/// likelihood of position_of, all mu and all sigma equally likely beforehand. Where two codes come up sigma stays unknown from below, and mu
/// lies the farther from the edge between them the larger sigma is: that spread is part of u. With all samples on one code nothing is taken
/// from what noise there might be: mu lies anywhere on the code, u = 1 / sqrt(12).
///
/// Averaged over positions, u is the rms of the error to 15 % at any one sigma where sigma is seen, and up to twice that below 0.15 code,
/// where it is not (tests/capture/position_test.cpp).
struct expected_position {
    codes estimate{};
    codes u{};
};
/// @throws bad_input  no samples, or n_eff below fewest_for_position or above their number
[[nodiscard]] PLUMBLINE_EXPORT expected_position position_by_codes(const seen_codes& seen);
inline constexpr double fewest_for_position = 8.0;

/// Noise before the quantiser that several captures have in common, whatever their positions: the root of the mean of sigma^2 by the product
/// of their likelihoods over sigma, all values of sigma equally likely beforehand, which is the safe side where none shows more than one code.
/// Degrees of freedom are those of the t distribution with the kurtosis that the spread of sigma^2 makes.
struct common_noise {
    codes sigma{};
    double degrees_of_freedom = 0.0;
};
/// @throws bad_input  as position_by_codes; no capture
[[nodiscard]] PLUMBLINE_EXPORT common_noise noise_by_codes(std::span<const seen_codes> captures);

/// The result in a sentence, that about sigma included: known, or only from above.
[[nodiscard]] PLUMBLINE_EXPORT std::string statement(const position& p);

}  // namespace plumbline::inline v0::capture
