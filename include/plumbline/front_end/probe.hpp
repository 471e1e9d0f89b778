#pragma once
// A probe as its description gives it: what stands between the point that is measured and the instrument's connector.

#include <optional>
#include <plumbline/units/quantities.hpp>
#include <string>

namespace plumbline::inline v0::front_end {

/// Voltage at the tip over voltage at the connector, measured on the very input that it is used on.
struct measured_factor {
    ratio value;  ///< > 1
    ratio u;      ///< standard uncertainty
    friend bool operator==(const measured_factor&, const measured_factor&) = default;
};

/// Its factor is not stated: it is 1 + series / input resistance of the instrument (node.hpp, unloaded), unless it was measured.
struct probe {
    std::string name;
    resistance series;  ///< from tip to connector, at 0 Hz: 9 Mohm of a "x10" made for 1 Mohm
    ratio tolerance;    ///< limits of series
    std::optional<plumbline::capacitance> tip_capacitance{};  ///< between tip and ground, with the instrument
    std::optional<frequency> bandwidth{};                     ///< -3 dB, of the probe alone
    std::optional<voltage> rating{};                          ///< highest voltage at the tip, either sign
    std::optional<ratio> mismatch{};   ///< limits of its time constant's deviation from that of the input, by a square wave
    bool calibrated_together = false;  ///< the instrument was calibrated at this probe's tip
    std::optional<measured_factor> factor{};  ///< where there is one, series is what follows from it and tolerance does not count
    friend bool operator==(const probe&, const probe&) = default;
};

/// Gain at high frequencies over gain at 0 Hz of a probe R, C into an input R_in, C_in, where R C = (1 + m) R_in C_in:
///
///     (1 + m) (R_in + R) / ((1 + m) R_in + R)        1 when compensated, above 1 when over-compensated
///
/// Source: capacitive over resistive divider.
struct compensation_step {
    template <class Mismatch, class Series, class InputResistance>
    [[nodiscard]] constexpr auto operator()(const Mismatch& m, const Series& r, const InputResistance& r_in) const {
        return (1.0 + m) * (r_in + r) / ((1.0 + m) * r_in + r);
    }
};

}  // namespace plumbline::inline v0::front_end
