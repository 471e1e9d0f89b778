#pragma once
// A reading as the instrument shows it: a voltage with its plus-or-minus, or the reason why there is none.

#include "correction.hpp"
#include "uncertainty.hpp"

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// Numbers never change meaning.
enum class status : uint8_t {
    ok = 0,
    over_range = 1,        ///< a sample lies on an end code or beyond the calibrated range
    not_calibrated = 2,    ///< no image, or none for this channel and range
    outside_validity = 3,  ///< too warm, too cold, too old, or no uncertainty can be stated
    other_mode = 4,        ///< adjusted in another mode of sampling
    no_samples = 5,        ///< nothing has been sampled yet
};

/// The adjustment of one range of one channel in one mode.
struct range {
    uint8_t channel;  ///< 0 is the first
    uint8_t number;   ///< of the range, 0 is the first
    uint16_t mode;    ///< the firmware's own number of the way it samples: rate, oversampling, coupling, supply ...
    char name[10];    ///< UTF-8, for the display, filled up with zeros: "A 10 V"
    correction line;
    uncertainty_form uncertainty;
};

/// When and where the adjustment holds. Days are counted from 2000-01-01, which is day 0; temperatures in 0.01 degree Celsius.
struct validity {
    uint16_t first_day;           ///< of the calibration
    uint16_t last_day;            ///< the last on which it holds
    int16_t temperature;          ///< of the instrument at calibration
    int16_t lowest_temperature;   ///< at which it holds
    int16_t highest_temperature;  ///< at which it holds
};

/// What an instrument without thermometer or clock states: then the farthest allowed distance is taken.
constexpr int16_t unknown_temperature = -0x7FFF - 1;
constexpr uint16_t unknown_day = 0xFFFF;

/// In what state the instrument samples.
struct conditions {
    uint16_t mode;
    int16_t temperature;  ///< 0.01 degree Celsius, or unknown_temperature
    uint16_t day;         ///< since 2000-01-01, or unknown_day
};

/// Sum of samples. At most 65535 count, further ones are left out.
class samples {
public:
    samples() = default;
    samples(uint32_t sum, uint16_t size, bool outside) : sum_(sum), size_(size), outside_(outside) {}
    void add(const correction& by, uint16_t code) {
        if (size_ == 0xFFFF) return;
        ++size_;
        sum_ += code;
        if (!in_range(by, code)) outside_ = true;
    }
    uint32_t sum() const { return sum_; }
    uint16_t size() const { return size_; }
    bool outside() const { return outside_; }

private:
    uint32_t sum_ = 0;
    uint16_t size_ = 0;
    bool outside_ = false;
};

struct reading {
    int32_t microvolts;      ///< 0 unless what is ok
    uint32_t plus_or_minus;  ///< expanded uncertainty, microvolts; 0 unless what is ok
    status what;
};

inline reading without_value(status what) { return {0, 0, what}; }

inline bool is_within(const validity& of, const conditions& now) {
    if (now.temperature != unknown_temperature &&
        (now.temperature < of.lowest_temperature || now.temperature > of.highest_temperature))
        return false;
    return now.day == unknown_day || (now.day >= of.first_day && now.day <= of.last_day);
}

/// |dT| in 0.01 K; of an unknown temperature the farthest one within validity.
inline uint16_t temperature_distance(const validity& of, const conditions& now) {
    const int32_t up = static_cast<int32_t>(of.highest_temperature) - of.temperature;
    const int32_t down = static_cast<int32_t>(of.temperature) - of.lowest_temperature;
    if (now.temperature == unknown_temperature) return static_cast<uint16_t>(up > down ? up : down);
    const int32_t away = static_cast<int32_t>(now.temperature) - of.temperature;
    return static_cast<uint16_t>(away < 0 ? -away : away);
}

/// The mean of one sample or more, with its uncertainty (uncertainty.hpp) or the first reason against it: no samples, other mode,
/// over range, outside validity.
inline reading read(const range& by, const validity& holds, const conditions& now, const samples& of) {
    if (of.size() == 0) return without_value(status::no_samples);
    if (now.mode != by.mode) return without_value(status::other_mode);
    if (of.outside()) return without_value(status::over_range);
    if (!is_within(holds, now)) return without_value(status::outside_validity);
    const uint16_t days = static_cast<uint16_t>((now.day == unknown_day ? holds.last_day : now.day) - holds.first_day);
    const int32_t microvolts = correct_mean(by.line, of.sum(), of.size());
    const uint32_t U = plus_or_minus(by.uncertainty, microvolts, of.size(), temperature_distance(holds, now), days);
    if (U == unstated) return without_value(status::outside_validity);
    return {microvolts, U, status::ok};
}

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
