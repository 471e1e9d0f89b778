#pragma once
// What a capture says, in sentences; and the row of a budget for what it cannot say.

#include <plumbline/capture/one_pass.hpp>
#include <plumbline/export.hpp>

#include <string>
#include <vector>

namespace plumbline::inline v0::uncertainty {
struct input;
}

namespace plumbline::inline v0::capture {

enum class stimulus;  // code_density.hpp
struct sine_fit;      // sine_fit.hpp

/// Sentences, each with what was found and, where there is something to do, what was expected and what to do: scatter and n_eff,
/// position and noise between the codes, from how many samples on u is to be believed, whether a longer capture helps, end codes, drift,
/// outliers, the strongest line, stuck bits, what the capture is too short to show. Figures in codes.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> sentences(const one_pass_statistics& of);

/// How many samples such as these give U of the mean (samples_for), or why no number does: drift, slow noise, quantisation.
/// @param U  expanded uncertainty (k = 2), codes
/// @throws bad_input  U is not above 0 and finite
[[nodiscard]] PLUMBLINE_EXPORT std::string for_wanted(const one_pass_statistics& of, codes U);

/// A converter by its code density while a ramp or a sine went through its codes: DNL, INL, missing codes, stuck bits, or why it is not
/// testable (code_density.hpp). Figures in codes.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> sentences(const one_pass_statistics& of, stimulus by);

/// The same by the sine fitted to its codes: the sine, noise, SINAD, ENOB, or why it is not testable (sine_fit.hpp).
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> sentences(const sine_fit& of);

/// Of a sine slower than one period in the capture nothing can be judged: it passes for an offset, or for drift. A row for a budget, in
/// codes: its phase is unknown, so that the mean is off by anything up to largest_shift (arcsine).
/// @param id             of the input, unique in its record
/// @param step           in words, "zero step" for one
/// @param source         where its size is from: a longer capture, knowledge of the place
/// @param largest_shift  of the mean by it: its amplitude, or largest_shift_of_mean() where its frequency is known
/// @throws bad_input  it is negative or not finite
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input slow_disturbance(const std::string& id, const std::string& step,
                                                                   const std::string& source, codes largest_shift);

}  // namespace plumbline::inline v0::capture
