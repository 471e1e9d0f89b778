#pragma once
// Power spectra, and the line that stands out of one.

#include <cstddef>
#include <vector>

namespace plumbline::inline v0::capture::spectra {

/// |sum of x_i exp(-2 pi i k / N)|^2 for k = 0 ... N/2, x followed by zeros up to N. @pre N a power of two, N >= 4, x.size() <= N
[[nodiscard]] std::vector<double> power(const std::vector<double>& x, std::size_t N);

/// What power() needs of N / 2 points, where it is called often.
[[nodiscard]] std::vector<double> turns(std::size_t half);
[[nodiscard]] std::vector<double> power(const std::vector<double>& x, std::size_t N, const std::vector<double>& turns_of_half);

/// Weights of Hann, 1 - cos, over count samples.
[[nodiscard]] std::vector<double> hann(std::size_t count);

struct peak {
    std::size_t bin = 0;
    double level = 0.0;   ///< of the noise there, as noise_at, without the bins next to it
    double excess = 0.0;  ///< over that level, in units of what one spectrum of noise in 10 000 has; a line is above 1
    double chance = 1.0;  ///< that one spectrum of noise has as high a bin
};

// p: average of `averaged` independent spectra, with `apart` bins for each independent frequency (zeros were appended).

/// The level of noise at a bin in a spectrum without a line there, doubtful as it is: that of a straight line through the logarithms of
/// its neighbours, in log frequency, and two of its standard errors more. So 1/f noise, and noise that falls steeper, is not taken for
/// a line. @pre p.size() >= 16 apart
[[nodiscard]] double noise_at(const std::vector<double>& p, double averaged, std::size_t apart, std::size_t bin);

/// `excess` of a bin that exceeds the level by this factor, in a spectrum of so many bins.
[[nodiscard]] double excess_of(double factor, std::size_t bins, double averaged, std::size_t apart);

/// The chance that noise exceeds its level by this factor in any of so many bins; above 1 where that is sure.
[[nodiscard]] double chance_of(double factor, std::size_t bins, double averaged, std::size_t apart);

/// The bin with the greatest excess. @param first  bins below are not looked at
[[nodiscard]] peak highest(const std::vector<double>& p, double averaged, std::size_t apart, std::size_t first);

}  // namespace plumbline::inline v0::capture::spectra
