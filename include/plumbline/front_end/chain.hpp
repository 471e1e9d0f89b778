#pragma once
// The input chain as its builder knows it: resistors, bias, amplifier, converter, with the tolerances of their data sheets.

#include <cstdint>
#include <optional>
#include <plumbline/front_end/ratings.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>

namespace plumbline::inline v0::front_end {

/// A resistor: nominal value, limits of the initial deviation, limits of the temperature coefficient. For resistors of one batch give the
/// *tracking* coefficient: what they share cancels in every ratio.
struct resistor {
    resistance nominal;
    ratio tolerance;
    per_kelvin temperature_coefficient;
    friend bool operator==(const resistor&, const resistor&) = default;
};

/// The branch that lifts a bipolar input into the converter's range: a resistor to a supply.
struct bias_branch {
    resistor branch;
    voltage supply;
    bool from_converter_reference =
        false;               ///< the supply is the converter's reference: its deviations cancel in part. Then supply equals it
    ratio supply_tolerance;  ///< 0 where from_converter_reference
    per_kelvin supply_temperature_coefficient;
    friend bool operator==(const bias_branch&, const bias_branch&) = default;
};

/// Top resistor from the connector to the converter's node; bottom resistor from the node to ground; bias branch from the node to a supply.
struct network {
    resistor top;
    std::optional<resistor> bottom;
    std::optional<bias_branch> bias;
    friend bool operator==(const network&, const network&) = default;
};

/// The resistors that set an amplifier's gain, 1 + feedback / ground: from output to minus input, and from there to ground.
struct gain_resistors {
    resistor feedback;
    resistor ground;
    friend bool operator==(const gain_resistors&, const gain_resistors&) = default;
};

/// A non-inverting amplifier between the network's node and the converter. By its data sheet, as limits that hold for either sign; of common-mode
/// and supply rejection nothing is counted. Its output is taken to feed the converter without resistance.
struct amplifier_stage {
    std::optional<gain_resistors> gain{};  ///< none: a follower, its output is its minus input
    voltage offset_limit;                  ///< input offset voltage
    volts_per_kelvin offset_drift;         ///< its temperature coefficient
    current bias_current;                  ///< into either input, independent of each other. 0: none to speak of
    amperes_per_kelvin
        bias_current_drift;  ///< where it doubles every so many kelvins: (largest - that at the calibration) / kelvins between
    double open_loop_gain = 0.0;                ///< at least, as a ratio, > 1: 1e5 for 100 dB
    std::optional<frequency> gain_bandwidth{};  ///< > 0
    std::optional<voltage> lowest_output{};     ///< that it reaches; none: 0 V
    std::optional<voltage> highest_output{};    ///< none: the converter's reference
    friend bool operator==(const amplifier_stage&, const amplifier_stage&) = default;
};

/// An analogue-to-digital converter with rounding transfer: code c stands for node voltages around c / 2^bits of the reference.
struct converter {
    int bits = 12;  ///< 1 to 24
    voltage reference;
    ratio reference_tolerance;
    per_kelvin reference_temperature_coefficient;
    codes offset_limit;           ///< of the untrimmed zero
    ratio gain_error_limit;       ///< besides the reference's tolerance
    codes integral_nonlinearity;  ///< limits of INL
    codes noise;                  ///< rms, data sheet
    /// How INL hangs together. stepped: independent from code to code beyond a few codes. smooth: one bow over all codes, of unknown height
    /// and sign, zero at the end codes.
    enum class inl_shape { stepped, smooth } shape = inl_shape::stepped;
    /// Where the reference is a supply rail, or comes from one through a resistor: limits of how far it may be, relative to its value at the
    /// calibration, when the instrument is used, by line and load regulation and the state of a battery; warmth has its own coefficient above.
    /// A row of readings in use. use_conditions::gain_by_supply is all that the supply does to the gain, this included, so the larger of the
    /// two counts; and where other supplies were measured, what they show counts alone.
    std::optional<ratio> reference_by_supply{};
    // NOLINTNEXTLINE(readability-convert-member-functions-to-static): as top_code
    [[nodiscard]] std::int32_t bottom_code() const { return 0; }
    [[nodiscard]] std::int32_t top_code() const { return static_cast<std::int32_t>((std::int64_t{1} << bits) - 1); }
    friend bool operator==(const converter&, const converter&) = default;
};

/// One range of one channel. Low and high are the voltages at the connector that it is meant to read.
struct chain {
    network input;
    converter adc;
    voltage low;
    voltage high;
    std::optional<amplifier_stage> amplifier{};
    // What has no part in reading volts. Chains of one converter repeat it.
    std::optional<protection> limits{};  ///< what an overvoltage may do: overvoltage.hpp
    std::optional<pin_details> pin{};    ///< pin.hpp; U hangs on it
    friend bool operator==(const chain&, const chain&) = default;
};

/// How the converter is run. Gain depends on it through the sampling capacitor and the supply: a correction belongs to one mode.
struct mode {
    frequency sample_rate;
    int oversampling = 1;  ///< conversions summed or averaged by the firmware for one code
    std::string coupling = "DC";
    std::string supply;    ///< "battery", "charger attached" ...
    std::string sampling;  ///< anything else that matters: sampling time, channel sequence, gain stage
    friend bool operator==(const mode&, const mode&) = default;
};

}  // namespace plumbline::inline v0::front_end
