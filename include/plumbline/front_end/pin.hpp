#pragma once
// What the chain makes of its converter's pin: settling, loading, leakage, bandwidth, noise, in figures at the connector.

#include <plumbline/export.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/front_end/ratings.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::front_end {

/// Relative and absolute errors are those of a reading at the connector, before calibration: what does not change between calibration and
/// use, the calibration takes off.
struct pin_figures {
    resistance at_pin;          ///< that the pin sees
    ratio missing;              ///< part of a change from sample to sample, or from channel to channel, that a sample misses
    ratio gain_by_sampling;     ///< lost where the capacitor is emptied before each sample
    voltage offset_by_leakage;  ///< limits
    frequency bandwidth;        ///< -3 dB of network and capacitor at the pin, or of an amplifier; 0 without
    duration rise_time;         ///< 10 % to 90 %, 0 without a capacitor
    voltage
        thermal_noise;  ///< rms at the connector, within the bandwidth of the pin (with the sampling capacitor where there is no other)
    codes noise;        ///< rms: thermal and the converter's own
    double noise_free_bits = 0.0;
    double effective_bits = 0.0;
    std::vector<std::string> text;  ///< what is worth saying
};

/// @param source  of what drives the connector: errors and noise are then those of its voltage without a load
/// A capacitor at the pin larger than a hundred times the sampling capacitor is taken to feed it by sharing charge; a smaller one to settle with it.
/// Behind an amplifier, whose output is taken to have no resistance: bandwidth and thermal noise by its gain-bandwidth product, 0 where that is
/// not stated; its own noise is not known.
/// @throws bad_input  as expect_sound; a figure not finite or below 0; no sampling capacitor, sampling time or sample rate
[[nodiscard]] PLUMBLINE_EXPORT pin_figures figures_of_pin(const chain& c, const mode& m, const pin_details& pin,
                                                          resistance source = {}, celsius temperature = {25.0});

/// Reading over true value, less 1, of the pin's voltage where the sampling capacitor is emptied before each sample: what it loads, or has
/// no time to take (sampling.hpp, missed_when_emptied). Proportional to the pin's voltage, so about the connector's voltage at code 0.
/// @throws bad_input  as figures_of_pin
[[nodiscard]] PLUMBLINE_EXPORT ratio gain_by_sampling(const chain& c, const mode& m, const pin_details& pin,
                                                      resistance source = {});

/// What that does to a reading at another sample rate, from a source with resistance, or both: its pin's voltage over what a calibration at
/// the mode's own rate, from sources without resistance, takes it for, less 1. Grows with the capacitance.
/// @throws bad_input  as figures_of_pin
[[nodiscard]] PLUMBLINE_EXPORT ratio gain_away_from(const chain& c, const mode& calibrated, const pin_details& pin,
                                                    frequency sample_rate, resistance source);

}  // namespace plumbline::inline v0::front_end
