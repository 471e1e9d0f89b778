#pragma once
// Which kernels this machine can run, and which are to be used.

#include "kernels.hpp"

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

/// The best that this machine can run, or the one named by PLUMBLINE_INSTRUCTION_SET. @throws bad_input  it names none, or one too high
[[nodiscard]] const kernels& chosen_kernels();

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
