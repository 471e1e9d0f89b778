#include <plumbline/calibration/reading.hpp>

#include "models.hpp"

#include <fmt/format.h>

namespace plumbline::calibration {

namespace {

void expect_readable(const range_calibration& of, codes c, const reading_conditions& when) {
    const std::string where = "reading, channel " + of.channel + ", range " + of.range;
    if (!std::isfinite(c.value())) {
        throw bad_input(where, fmt::format("code {}", c.value()), "a finite mean code", "look at the capture it came from");
    }
    if (!(when.samples >= 1.0)) {
        throw bad_input(where, fmt::format("a mean of {} samples", when.samples), "1 or more",
                        "state how many samples were averaged");
    }
    if (!std::isfinite(when.temperature_difference.value()) || !(when.temperature_half_width.value() >= 0.0) ||
        !std::isfinite(when.temperature_half_width.value())) {
        throw bad_input(where,
                        fmt::format("a temperature difference of {} K within {} K", when.temperature_difference.value(),
                                    when.temperature_half_width.value()),
                        "finite figures, the second 0 or more", "state how far the temperature is from that of the calibration");
    }
}

}  // namespace

uncertainty::uncertain<voltage> reading(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                                        const range_calibration& of, codes c, const reading_conditions& when) {
    expect_readable(of, c, when);
    const uncertainty::with_sensitivities e{inputs};
    const std::string id = identity::range(of.channel, of.range);
    return models::corrected(e, of, models::line(e, of, references), models::read_code(e, id, c, when.samples), c,
                             models::effects_of_reading<uncertainty::with_sensitivities>{e, id, when});
}

uncertainty::uncertain<voltage> uncalibrated_reading(const uncertainty::input_set& inputs, const range_calibration& of, codes c,
                                                     const reading_conditions& when) {
    expect_readable(of, c, when);
    return models::uncalibrated(uncertainty::with_sensitivities{inputs}, identity::range(of.channel, of.range), of.chain, c,
                                when);
}

codes code_at(const correction& line, voltage v) { return (v - line.offset) / line.gain; }

reading_conditions at_calibration(const range_calibration& of) { return {1.0, 0.0 * kelvin, of.temperature_half_width}; }

}  // namespace plumbline::calibration
