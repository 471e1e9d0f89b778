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

/// Sentences, each with what was found and, where there is something to do, what was expected and what to do: scatter and n_eff,
/// position and noise between the codes, whether a longer capture helps, end codes, drift, outliers, the strongest line, stuck bits,
/// what the capture is too short to show. Figures in codes.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<std::string> sentences(const one_pass_statistics& of);

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
