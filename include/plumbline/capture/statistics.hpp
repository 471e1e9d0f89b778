#pragma once
// What a run of codes says as a whole: mean, scatter, how many of its samples are independent, end codes, drift.

#include <plumbline/capture/run.hpp>

#include <cstddef>
#include <cstdint>

namespace plumbline::capture {

struct statistics {
    std::size_t n;     ///< samples
    codes mean;        ///< arithmetic mean (JCGM 100:2008, 4.2.1)
    codes s;           ///< experimental standard deviation of one sample, divisor n - 1 (JCGM 100:2008, 4.2.2); 0 when n is 1
    double n_eff;      ///< the mean scatters as s / sqrt(n_eff); 1 <= n_eff <= n. See summarise
    std::int32_t min;  ///< lowest code
    std::int32_t max;  ///< highest code
    std::size_t at_bottom;  ///< samples on the bottom code of the converter or below
    std::size_t at_top;     ///< samples on the top code of the converter or above
    codes drift;            ///< mean of the last quarter (n / 4 rounded down, at least 1 sample) minus mean of the first

    friend bool operator==(const statistics&, const statistics&) = default;
};

/// Statistics of a run.
///
/// Sums are of whole numbers or of deviations from the mean: an offset of the codes costs no digits (JCGM GUM-6:2020, 8.6.5).
///
/// n_eff is n unless the samples are visibly correlated. Seen are lags 1 to min(10, n/5), by the statistic of Ljung and Box
/// against the 99.9 % quantile of chi-squared: of captures of white noise 1 to 3 in 1000 are taken for correlated (measured; up
/// to 8 where nearly all samples lie on one code, none below 12 samples). Then
///
///     n_eff = n / (1 + 2 sum rho_k),  within [1, n]
///
/// with the sum ended by Geyer's initial positive sequence: before the first pair rho_2j + rho_2j+1 that is not above 0. Lags go
/// to n/4 and at most 256; where the sequence has not ended there, neighbours are averaged two by two and it is tried again, so
/// slow noise is seen to a quarter of the capture however long it is. Cost: at most 512 n multiplications.
///
/// Limits: correlation is not seen in fewer than 9 samples, and weak correlation not in few (phi = 0.3 in 200 samples: every
/// other time); noise slower than the capture is not seen at all; hum counts as noise although it averages out over whole periods
/// (n_eff is then too small, the safe side); samples that alternate have n_eff = n, never more.
///
/// @param r            the run
/// @param bottom_code  lowest code of the converter, below top_code
/// @param top_code     highest code of the converter
/// @pre   1 <= number of samples < 2^31
/// Sources (from memory): G. M. Ljung, G. E. P. Box, Biometrika 65 (1978) 297-303; C. J. Geyer, Practical Markov chain Monte
/// Carlo, Statistical Science 7 (1992) 473-483, section 3.3.
[[nodiscard]] statistics summarise(const run& r, std::int32_t bottom_code, std::int32_t top_code);

}  // namespace plumbline::capture
