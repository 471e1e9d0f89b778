#pragma once
// Many codes to volts at once, and to the plus-or-minus of each: for waveforms, into the caller's memory.

#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>

#include <cstdint>
#include <optional>
#include <span>

namespace plumbline::inline v0::capture {

/// V = offset + gain c. As calibration::correction has it.
struct code_line {
    volts_per_code gain;
    voltage offset;
};

/// U^2 = a + c (V - centre)^2, as calibration::compact_uncertainty has it: a in V^2, c without unit, both finite and not negative.
struct compact_form {
    double a = 0.0;
    double c = 0.0;
    voltage centre;
};

struct code_to_volts {
    code_line line;
    std::optional<code_line> below{};  ///< for codes below the knee, where that side has a line of its own
    codes knee{};                      ///< of the two lines
    compact_form u{};                  ///< read only where U is asked for
};

// Computed in float, one rounding an operation: within 2 parts in 10^7 of |gain c| + |offset| of what double gives, for codes of at
// most 24 bits. The same bits for each instruction set and any number of threads. Results that do not fit into the caches are written
// past them.

/// @param volts  as many as codes
/// @throws bad_input  the sizes differ; a figure is not finite, a or c negative; nothing is written
PLUMBLINE_EXPORT void to_volts(std::span<const std::uint16_t> of, const code_to_volts& by, std::span<float> volts);
PLUMBLINE_EXPORT void to_volts(std::span<const std::int16_t> of, const code_to_volts& by, std::span<float> volts);
PLUMBLINE_EXPORT void to_volts(std::span<const std::int32_t> of, const code_to_volts& by, std::span<float> volts);

/// The same with U of each sample, in V.
PLUMBLINE_EXPORT void to_volts(std::span<const std::uint16_t> of, const code_to_volts& by, std::span<float> volts,
                               std::span<float> U);
PLUMBLINE_EXPORT void to_volts(std::span<const std::int16_t> of, const code_to_volts& by, std::span<float> volts,
                               std::span<float> U);
PLUMBLINE_EXPORT void to_volts(std::span<const std::int32_t> of, const code_to_volts& by, std::span<float> volts,
                               std::span<float> U);

}  // namespace plumbline::inline v0::capture
