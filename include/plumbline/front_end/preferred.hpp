#pragma once
// Resistors as they are sold: preferred values, tolerance and temperature codes, and which of them make a wanted range.

#include <cstddef>
#include <optional>
#include <plumbline/export.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/units/quantities.hpp>
#include <string_view>
#include <vector>

namespace plumbline::inline v0::front_end {

/// Series of preferred values, named by how many there are to a decade. Source: IEC 60063.
enum class series { e3 = 3, e6 = 6, e12 = 12, e24 = 24, e48 = 48, e96 = 96, e192 = 192 };

/// Its values from 1 to below 10. E3 to E24 are a table and no formula: 2.7 to 4.7 and 8.2 are not the rounded powers; the others are
/// 10^(i/n) to two decimals, but for 9.20 of E192. Source: IEC 60063; E48, E192 and that exception from memory.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<double> preferred_values(series s);

/// The preferred value next below or at r, next above or at it, and the one that is nearest in proportion.
/// @throws bad_input  r not above 0 and finite
[[nodiscard]] PLUMBLINE_EXPORT resistance preferred_below(resistance r, series s);
[[nodiscard]] PLUMBLINE_EXPORT resistance preferred_above(resistance r, series s);
[[nodiscard]] PLUMBLINE_EXPORT resistance nearest_preferred(resistance r, series s);

/// Limits of the initial deviation by the letter behind the value (B, C, D, F, G, J, K, M) or the colour of the tolerance band; "none" is
/// the fourth band missing. Letters and colours on which editions differ are refused.
/// @throws bad_input  another letter or colour
/// Source: IEC 60062.
[[nodiscard]] PLUMBLINE_EXPORT ratio tolerance_by_letter(char letter);
[[nodiscard]] PLUMBLINE_EXPORT ratio tolerance_by_colour(std::string_view colour);

/// Limits of the temperature coefficient by letter (U, S, R, P, Q, M, K) or colour of the last band. @throws bad_input. Source: IEC 60062.
[[nodiscard]] PLUMBLINE_EXPORT per_kelvin coefficient_by_letter(char letter);
[[nodiscard]] PLUMBLINE_EXPORT per_kelvin coefficient_by_colour(std::string_view colour);

/// A range to be made of preferred values.
struct wanted_range {
    voltage low;        ///< at the connector
    voltage high;       ///< above low
    voltage node_low;   ///< of the converter's node at low, >= 0
    voltage node_high;  ///< at high, above node_low: leave what converter and reference may be off
    std::optional<voltage>
        supply{};            ///< > 0, for a bias branch where a divider alone does not do; its deviations are not looked at
    resistance least_input;  ///< limits of the input resistance
    resistance most_input;
    ratio tolerance;                     ///< of every resistor
    per_kelvin temperature_coefficient;  ///< of every resistor
};

/// A network of preferred values and what it leaves. Without a bias branch only the high end is aimed at.
struct proposal {
    network parts;
    voltage low;     ///< at the connector where the node is at node_low
    voltage high;    ///< where it is at node_high
    ratio off_low;   ///< (low - wanted low) / wanted span: above 0 the wanted range is not covered
    ratio off_high;  ///< (high - wanted high) / wanted span: below 0 the wanted range is not covered
    ratio
        gain_by_tolerance;  ///< most that the gain is off with every resistor at a limit of its tolerance, until it is calibrated
    resistance input_resistance;
    [[nodiscard]] bool covers() const { return off_low.value() <= 0.0 && off_high.value() >= 0.0; }
};

/// The best networks for a range, least error first: the larger of |off_low| and |off_high|; where no bias branch is asked for, |off_high|.
/// @param most     how many
/// @param covering only those that cover the wanted range
/// @return         none where no value of the series keeps within the input resistance
/// @throws bad_input  names the part of `wanted` that cannot be; a bipolar range without a supply; a supply too low to lift the range
/// Source: node.hpp, solved for the bias and the bottom resistor, these rounded to preferred values; all top resistors of the series.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<proposal> proposals(const wanted_range& wanted, series s, std::size_t most = 5,
                                                               bool covering = false);

}  // namespace plumbline::inline v0::front_end
