#pragma once
// Code density: differential and integral non-linearity, missing codes and stuck bits from how often each code comes up while a ramp or
// a sine goes through them.

#include <plumbline/export.hpp>
#include <plumbline/units/compiler.hpp>

#include <cstdint>
#include <string>
#include <vector>

namespace plumbline::inline v0::capture {

enum class stimulus {
    ramp,  ///< each voltage as long as any other; several ramps, triangles too
    sine,  ///< of constant amplitude, its frequency no simple fraction of the sample rate
};

struct code_density_test {
    std::string not_testable;     ///< empty: tested. Else what was found, what is expected and what to do; the rest is then empty
    std::int32_t first_code = 0;  ///< that figures [0] belong to
    std::vector<double> dnl;      ///< codes: width of each code less 1
    std::vector<double> u_dnl;    ///< standard uncertainty, of the counts alone
    std::vector<double> inl;      ///< codes: lower edge of each code, less the line through the first and the last edge
    std::vector<double> u_inl;
    std::vector<std::int32_t> missing;  ///< codes narrower than a tenth of one
    friend bool operator==(const code_density_test&, const code_density_test&) = default;
};

/// Tests a converter by a histogram.
///
/// With N samples, CH(k) of them below code k and p = CH / N, the lower edge of code k is in proportion to p for a ramp, and to
///
///     -cos(pi p)
///
/// for a sine, whatever its amplitude and offset. The lowest and the highest code that came up are left out: what lies beyond them is
/// not known, and an overdriven stimulus ends there. Edges between them are stated against the line through the first and the last of
/// them, so gain and offset do not matter.
///
/// Uncertainty is that of counts of independent samples (multinomial): an edge's is propagated from p at that edge and at both ends, a
/// width's is sqrt(count) over the count of one code. A ramp so slow that it takes many samples to pass through its own noise scatters
/// less: then stated too large. Noise before the quantiser blurs edges by itself: a code's width is seen through it, and widths below
/// it are evened out. What the stimulus is off from its form by shows as non-linearity.
///
/// Not testable: fewer than 4 codes between the outer ones; fewer than 25 samples for a code where they are scarcest; codes that pile
/// up as noise about a steady voltage does (kurtosis above 2.1: 1.8 for a ramp, 1.5 for a sine, 3 for noise).
///
/// @param counts      samples on bottom_code + i, as one_pass_statistics::counts Sources: IEEE Std 1241, code density by sine and by
/// ramp, terms and formulas as in tests/reference/converters.json; propagation through the ends derived here. Missing below a tenth of
/// a code: from memory of that standard. 25 samples, and 2.1: common practice, no source.
[[nodiscard]] PLUMBLINE_EXPORT code_density_test test_code_density(const std::vector<std::uint64_t>& counts,
                                                                   std::int32_t bottom_code, stimulus by);

/// How many samples of a full-scale sine make the standard uncertainty of every width this many codes: pi 2^(bits - 1) / u^2. With
/// u = beta / Z this is the N of tests/reference/converters.json. @throws bad_input  bits not 1 to 24, or u not above 0 and finite
[[nodiscard]] PLUMBLINE_EXPORT std::uint64_t samples_for_code_density(int bits, double u);

struct stuck_bit {
    int bit = 0;    ///< 0: the lowest
    int value = 0;  ///< that it always has
    friend bool operator==(const stuck_bit&, const stuck_bit&) = default;
};

/// Bits that never change although the codes move far enough that they would: at least 16 samples 2^bit codes or more from the most
/// frequent code, and what is left of the codes is used (3 at least, and three quarters of those between the outer ones). A steady
/// voltage shows only bits that its noise moves; higher ones are not judged.
/// @param counts  as above Thresholds: common practice, no source; seen in simulation.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<stuck_bit> stuck_bits(const std::vector<std::uint64_t>& counts,
                                                                 std::int32_t bottom_code);

}  // namespace plumbline::inline v0::capture
