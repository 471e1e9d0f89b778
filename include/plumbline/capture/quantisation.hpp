#pragma once
// What an ideal quantiser leaves in the mean of a capture, beside the scatter of the mean.

#include <plumbline/capture/statistics.hpp>
#include <plumbline/export.hpp>

namespace plumbline::inline v0::capture {

struct quantisation {
    enum class regime {
        hidden,    ///< too little noise is proved: the true position may lie anywhere within half a code of the mean
        dithered,  ///< the noise spreads over enough codes for the mean to follow the true position
    };
    regime kind;
    codes half_width;   ///< true position minus expected mean code lies within +- this; 0.5 code when hidden (u = 1 / sqrt(12))
    codes sigma_lower;  ///< one-sided 95 % lower confidence bound of the noise before the quantiser; 0 where none can be given
};

/// The rule that is safe wherever the true position lies between two codes.
///
/// With Gaussian noise sigma (in codes) before an ideal quantiser and the true position mu, E_k = exp(-2 pi^2 k^2 sigma^2):
///
///     bias of the mean     = sum_k (-1)^k / (pi k) E_k sin(2 pi k mu),   at most sum_k E_k / (pi k)
///     variance of a sample = sigma^2 + 1/12 + sum_k (-1)^k (4 sigma^2 + 1 / (pi k)^2) E_k cos(2 pi k mu) - bias^2
///
/// (Fourier series of the quantiser's sawtooth error, averaged over the noise; the covariance of noise and error by Stein's
/// lemma.) A lower bound of the variance follows from s^2 (n_eff - 1) / chi^2_{0.95, n_eff - 1}. It is turned into sigma_lower by
/// the largest variance that any position has, that of mu midway between two codes. To subtract 1/12 for every position instead
/// would find sigma = 0.40 in a long capture that toggles between two codes, whatever its noise, and claim 0.013 code where the
/// bias may be 0.07. dithered is chosen when sigma_lower exceeds 0.4 code; half_width is then the bound of the bias at
/// sigma_lower, below 0.014 code.
///
/// Limits: the code widths are ideal (add the converter's DNL, which is the floor once dithered) and the noise is Gaussian: hum,
/// drift or a square wave in the capture count as noise. With n_eff < 2 nothing is proved: hidden.
///
/// @param of_samples  from summarise; n_eff >= 1, s >= 0 and finite
/// Sources: derived here, checked in the tests by adding up the probabilities of the codes; confidence bound of a variance by
/// chi-squared and the limit of 0.4 code: common practice, no source.
[[nodiscard]] PLUMBLINE_EXPORT quantisation of_mean(const statistics& of_samples);

}  // namespace plumbline::inline v0::capture
