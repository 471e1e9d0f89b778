#pragma once
// A bipolar range on paper: about +-10 V into 12 bits, for tests that need a calibration and not an instrument.

#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/solve.hpp>
#include <vector>

namespace plumbline::inline v0::calibration::bench {

inline constexpr per_kelvin ppm_per_kelvin = per_kelvin::from_value(1e-6);

/// 1 Mohm from the connector, 150 kohm to ground, 200 kohm to the converter's 3.3 V.
inline range_setup ten_volts() {
    const auto resistor = [](double nominal) { return front_end::resistor{nominal * ohm, 0.5 * percent, 25.0 * ppm_per_kelvin}; };
    front_end::chain chain;
    chain.input.top = resistor(1e6);
    chain.input.bottom = resistor(150e3);
    chain.input.bias = front_end::bias_branch{resistor(200e3), 3.3 * volt, true, {}, {}};
    chain.adc = {12, 3.3 * volt, 1.0 * percent, 50.0 * ppm_per_kelvin, 5.0 * code, 0.2 * percent, 1.0 * code, 0.8 * code};
    chain.low = -8.0 * volt;
    chain.high = 8.0 * volt;
    return {"A",
            "8 V",
            {10e3 * hertz, 1, "DC", "battery", ""},
            chain,
            {23.0},
            1.0 * kelvin,
            {20.0 * 1e-3 * volt, 0.5 * percent},
            {},
            {},
            "",
            ""};
}

inline std::vector<reference> references() {
    std::vector<reference> all(4);
    all[0].id = "short";
    all[0].description = "shorting plug";
    all[0].output = stated_voltage{0.0 * volt, limits{20e-6 * volt}};
    all[1].id = "five";
    all[1].description = "reference part";
    all[1].output = stated_voltage{5.0 * volt, limits{2.5e-3 * volt}};
    all[2].id = "meter";
    all[2].description = "bench meter";
    all[3].id = "one";
    all[3].description = "divider";
    all[3].divider =
        divided{"five", {4e3 * ohm, 0.1 * percent, 10.0 * ppm_per_kelvin}, {1e3 * ohm, 0.1 * percent, 10.0 * ppm_per_kelvin}};
    return all;
}

inline capture::statistics seen(double mean, double s = 0.8, std::size_t n = 1000) {
    const std::int32_t near = std::isfinite(mean) ? static_cast<std::int32_t>(mean) : 0;
    return {n, mean * code, s * code, static_cast<double>(n), near - 3, near + 4, 0, 0, 0.0 * code};
}

inline step stepped(const std::string& by, const capture::statistics& codes_seen) {
    return {{by, {}}, {by + ".csv", "", std::string(64, '0'), 10e3 * hertz}, codes_seen};
}

inline step metered(double volts, const capture::statistics& codes_seen) {
    return {{"meter", stated_voltage{volts * volt, expanded{1e-3 * volt, 2.0}}},
            {"meter.csv", "", std::string(64, '0'), 10e3 * hertz},
            codes_seen};
}

/// Mean code of the chain at a connector voltage, every part nominal but for a gain and a zero a little off.
inline double code_of(double volts) {
    const double conductance = 1.0 / 1e6 + 1.0 / 150e3 + 1.0 / 200e3;
    const double node = (volts / 1e6 + 3.3 / 200e3) / conductance;
    return 4096.0 * node / 3.3 * 1.002 + 2.3;
}

}  // namespace plumbline::inline v0::calibration::bench
