#pragma once
// Simulated instruments with known truth. Written apart from the library, which they test: nothing of plumbline/ may be included here.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <simulation/random.hpp>
#include <vector>

namespace plumbline::simulation {

/// Temperature at which parts have the value that their tolerance is stated for, degrees Celsius.
inline constexpr double data_sheet_temperature = 23.0;

/// What a data sheet states of a resistor (ohm) or a voltage (V).
struct part {
    double nominal = 0.0;                  ///< ohm or V
    double tolerance = 0.0;                ///< limit of the deviation, fraction of nominal
    double temperature_coefficient = 0.0;  ///< limit, 1/K
};

/// Top from the connector to the converter's pin, bottom from the pin to ground, bias from the pin to bias_supply, or to the converter's
/// reference where no bias_supply is given.
struct network_sheet {
    part top;
    std::optional<part> bottom;
    std::optional<part> bias;
    std::optional<part> bias_supply;
};

/// What samples have in common with their neighbours.
struct disturbance {
    double noise_memory = 0.0;    ///< of the noise: its correlation from one sample to the next, 0 to below 1; its rms stays
    double flicker = 0.0;         ///< codes, rms, of noise whose density goes as 1/f over the capture, besides
    double hum = 0.0;             ///< codes, peak, at hum_frequency and a phase of chance
    double hum_frequency = 50.0;  ///< Hz
    double sample_rate = 10e3;    ///< Hz

    /// Memories of the first-order noises that make up flicker, samples: a factor of four apart up to the slowest.
    static constexpr double quickest = 2.0;
    double slowest = 32768.0;
};

struct converter_sheet {
    int bits = 12;
    part reference;
    double offset_limit = 0.0;      ///< codes
    double gain_error_limit = 0.0;  ///< fraction
    double inl_limit = 0.0;         ///< codes
    int inl_step = 8;               ///< codes that share one value of INL
    double noise = 0.0;             ///< codes, rms, before the quantiser
    bool noise_ahead = true;        ///< of the non-linearity too, whose steps it then smears; else behind it
    double slope_limit = 0.0;       ///< of the relative difference of slope below 0 V at the connector
    double least_noise = -1.0;      ///< codes; not negative: each instrument's noise is drawn between this and `noise`
    /// Each instrument's noise, `noise` and what goes as 1/f alike, is drawn within this factor, its logarithm with equal probability.
    double noise_factor = 1.0;
    double bow_limit = 0.0;       ///< codes, height of a bow over all codes, beside the steps of INL
    disturbance besides{};        ///< what is in a capture beside white noise
    double supply_limit = 0.0;    ///< fraction that the supply moves the reference by between calibration and use, limit
    double sampling_limit = 0.0;  ///< F: the sampling capacitor, emptied before each sample, has up to this
    double leakage_limit =
        0.0;  ///< A, either direction, out of the pin at leakage_temperature; twice as much every ten kelvin above
    double leakage_temperature = 21.0;  ///< degrees Celsius
};

/// A non-inverting amplifier between the network's node and the converter. Without a feedback resistor its output is its minus input.
struct amplifier_sheet {
    std::optional<part> feedback;
    std::optional<part> ground;
    double offset_limit = 0.0;   ///< V, at data_sheet_temperature
    double offset_drift = 0.0;   ///< V/K, limit
    double current_limit = 0.0;  ///< A into each input, at data_sheet_temperature
    double current_drift = 0.0;  ///< A/K, limit
    double least_gain = 1e5;     ///< of the open loop; one over it lies anywhere between 0 and one over this
};

/// One part as it left the factory.
struct actual_part {
    double value = 0.0;        ///< at data_sheet_temperature
    double coefficient = 0.0;  ///< 1/K
    [[nodiscard]] double at(double temperature) const {
        return value * (1.0 + coefficient * (temperature - data_sheet_temperature));
    }
};

/// What moves by so much a kelvin.
struct drifting {
    double value = 0.0;  ///< at data_sheet_temperature
    double drift = 0.0;  ///< 1/K of its unit
    [[nodiscard]] double at(double temperature) const { return value + drift * (temperature - data_sheet_temperature); }
};

struct actual_amplifier {
    std::optional<actual_part> feedback;
    std::optional<actual_part> ground;
    drifting offset;      ///< V, that the plus input has to stand above the minus input
    drifting into_plus;   ///< A
    drifting into_minus;  ///< A
    double open_loop = 1e5;

    /// Its output for a voltage at its plus input: the current law at its minus input, and the amplification of the difference.
    [[nodiscard]] double output(double plus, double temperature) const;
};

/// A voltage source behind a resistance.
struct source {
    double open = 0.0;        ///< V, without load
    double resistance = 0.0;  ///< ohm, 0 allowed
};

struct actual_network {
    actual_part top;
    std::optional<actual_part> bottom;
    std::optional<actual_part> bias;
    std::optional<actual_part> bias_supply;
};

struct actual_converter {
    int bits = 12;
    actual_part reference;
    double offset = 0.0;      ///< codes
    double gain_error = 0.0;  ///< fraction
    std::vector<double> inl;  ///< codes, one for each group of inl_step codes
    int inl_step = 8;
    double noise = 0.0;  ///< codes, rms
    bool noise_ahead = true;
    double slope_below = 0.0;  ///< relative difference of slope below 0 V at the connector
    double bow = 0.0;          ///< codes, in the middle of the codes
    disturbance besides{};
    double sampling = 0.0;  ///< F, takes its charge from the pin at besides.sample_rate
    double leakage = 0.0;   ///< A, at leakage_temperature
    double leakage_temperature = 21.0;
};

/// Draws a part: deviation and coefficient each with equal probability anywhere within their limits, independent of each other.
[[nodiscard]] actual_part draw(const part& sheet, generator& random);
[[nodiscard]] actual_network draw(const network_sheet& sheet, generator& random);
[[nodiscard]] actual_amplifier draw(const amplifier_sheet& sheet, generator& random);
/// INL is stepped: each group of codes has a value of its own, with equal probability anywhere within the limits.
[[nodiscard]] actual_converter draw(const converter_sheet& sheet, generator& random);

/// Voltages in the network.
struct node_voltages {
    double connector = 0.0;  ///< V
    double pin = 0.0;        ///< V, at the converter, or at the plus input of the amplifier ahead of it
};

/// One range of one channel.
struct instrument {
    actual_network network;
    actual_converter converter;
    double memory = 0.0;      ///< share of the voltage of the channel before that the multiplexer's capacitor keeps
    double pin_before = 0.0;  ///< V, that voltage
    std::optional<actual_amplifier> amplifier{};

    /// Node equations of source and network at a temperature (degrees Celsius).
    [[nodiscard]] node_voltages nodes(const source& from, double temperature) const;

    /// Where the converter stands before noise, INL and rounding, in codes, by the straight line of the parts.
    [[nodiscard]] double position(const source& from, double temperature) const;

    /// The same with the slope below 0 V: what is converted.
    [[nodiscard]] double bent_position(const source& from, double temperature) const;

    /// n samples. A code is round(x + INL), x = position + noise, held on the end codes. INL is that of the group of codes in which x lies,
    /// or the position where the noise enters behind the non-linearity. 1/f noise is a sum of first-order noises whose memories lie a factor
    /// of four apart, from two samples on: within 1 dB of 1/f between (a sum of Lorentzians; common practice, no source).
    [[nodiscard]] std::vector<std::int32_t> capture(const source& from, std::size_t n, double temperature,
                                                    generator& random) const;

    /// The straight line from codes to volts at the connector, without INL: truth for gain and offset at a temperature.
    [[nodiscard]] double volts_per_code(double temperature) const;
    [[nodiscard]] double volts_at_code_zero(double temperature) const;
};

}  // namespace plumbline::simulation
