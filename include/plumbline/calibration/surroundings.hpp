#pragma once
// What stands about a channel and moves its readings: the other channel, warming up, the supply. Each measured, each an input.

#include <optional>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/export.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

// A capture's level counts here as a step's does: hum's shift is taken off, and noise, quantisation, slow noise and hum that the capture is too
// short to show are in its u. Captures are in the mode of the range.

/// A result with one more input that adds to it: a row of its budget.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> with_row(const uncertainty::uncertain<voltage>& result,
                                                                        const uncertainty::input& row);

// --- The other channel: crosstalk, and what the multiplexer's capacitor remembers of the channel before.

struct coupling {
    ratio value;   ///< volts read here per volt at the other channel
    ratio U;       ///< of it, k = 2: what the two captures leave of their levels
    voltage most;  ///< limits: (|value| + U) times what the other channel may be away from 0 V
    std::string text;
};

/// From two captures of this channel, shorted, with the other at one end of its range and at the other, in the mode in which both are used.
/// @param low, high  voltages at the other channel, low below high
/// @param other      its chain: how far its range reaches
/// @throws bad_input  low not below high; not finite
[[nodiscard]] PLUMBLINE_EXPORT coupling between_channels(const range_calibration& of, const capture::statistics& other_low,
                                                         const capture::statistics& other_high, voltage low, voltage high,
                                                         const front_end::chain& other);

/// The row: within +-most, since what the other channel will hold is not known. The calibration is taken to have had it at 0 V.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input row_of(const range_calibration& of, const std::string& other_channel,
                                                         const coupling& by);

/// The same of captures as the record keeps them, which it completes; the row becomes one of the record's inputs, and of.crosstalk brings it into
/// readings.
PLUMBLINE_EXPORT void add_crosstalk(range_calibration& of, seen_crosstalk seen, const front_end::chain& other,
                                    uncertainty::input_set& inputs);
[[nodiscard]] PLUMBLINE_EXPORT std::string sentence_of(const range_calibration& of, const seen_crosstalk& by);

// --- Warming up.

struct warm_up_point {
    duration since_on;  ///< rising
    codes mean;         ///< of one constant input
    codes u;            ///< of the mean, > 0
};

using volts_per_second = decltype(voltage() / duration());

struct warm_up {
    std::optional<duration>
        warm_after;  ///< from when on no slope exceeds the limit, its U included; none: not shown by this curve
    voltage span;    ///< most that a reading earlier than that is away from those after it
    volts_per_second last_slope;
    std::string text;
};

/// Slopes are those of straight lines through all points within a window; each has U = 2 u.
/// @param limit   of the slope, > 0
/// @param window  > 0, with 3 points or more in it everywhere
/// @param used_from  since when on the instrument is read although it is cold
/// @throws bad_input  fewer than 3 points in a window; times not rising; figures not above 0
[[nodiscard]] PLUMBLINE_EXPORT warm_up warming_up(const range_calibration& of, std::span<const warm_up_point> curve,
                                                  volts_per_second limit, duration window, duration used_from = {});

/// The same of a curve and limits as the record keeps them: fills warm_after and span.
PLUMBLINE_EXPORT std::string warm_up_of(const range_calibration& of, seen_warm_up& by);

/// The row for readings before it is warm: within +-span.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input row_of(const range_calibration& of, const seen_warm_up& by);
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::input row_of(const range_calibration& of, const warm_up& by);

// --- The supply: charger attached or not, battery high and low.

struct at_supply {
    std::string name;  ///< "battery low"
    codes zero;        ///< mean codes of zero and reference step, repeated
    codes reference;
    codes u;  ///< of each mean
};

struct supply_effect {
    ratio gain;      ///< limits of the relative change of a reading, U (k = 2) included
    voltage offset;  ///< limits of its shift
    std::string text;
};

/// Zero and reference repeated at other supplies, against that of the calibration, which comes first. The result is what use_conditions and
/// a session's "in_use" take as gain_by_supply and offset_by_supply.
/// @throws bad_input  fewer than two supplies; no span between zero and reference
[[nodiscard]] PLUMBLINE_EXPORT supply_effect by_supply(const range_calibration& of, std::span<const at_supply> supplies);

/// The same of of.supplies, against the range's own steps.
[[nodiscard]] PLUMBLINE_EXPORT supply_effect by_supply(const range_calibration& of);

}  // namespace plumbline::inline v0::calibration
