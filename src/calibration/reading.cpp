#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/surroundings.hpp>

#include "../uncertainty/quantiles.hpp"
#include "models.hpp"

#include <fmt/format.h>
#include <utility>

namespace plumbline::inline v0::calibration {

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
    if (!models::at_another_rate(of, when)) return;
    const double rate = when.sample_rate->value();
    if (!(rate > 0.0) || !std::isfinite(rate)) {
        throw bad_input(where, fmt::format("a sample rate of {} Hz", rate), "a finite one of more than 0 Hz", "correct it");
    }
    if (!of.chain.pin) {
        throw bad_input(where, fmt::format("a sample rate of {} Hz", rate),
                        fmt::format("{} Hz as in the calibration, since the chain does not state its converter's pin",
                                    of.mode.sample_rate.value()),
                        "calibrate at this rate, or state \"pin\" with the chain");
    }
}

void expect_usable(const range_calibration& of, const use_conditions& use) {
    const auto expect = [&](double x, const std::string& found) {
        if (std::isfinite(x) && x >= 0.0) return;
        throw bad_input("reading in use, channel " + of.channel + ", range " + of.range, found, "a finite figure, 0 or more",
                        "correct the conditions of use");
    };
    expect(use.years, fmt::format("{} years since the calibration", use.years));
    expect(use.gain_per_year.value(), fmt::format("a drift of gain of {} a year", use.gain_per_year.value()));
    expect(use.offset_per_year.value(), fmt::format("a drift of offset of {} V a year", use.offset_per_year.value()));
    expect(use.gain_by_supply.value(), fmt::format("a change of gain by the supply of {}", use.gain_by_supply.value()));
    expect(use.offset_by_supply.value(), fmt::format("a change of offset by the supply of {} V", use.offset_by_supply.value()));
}

}  // namespace

using sensitive = uncertainty::with_sensitivities;

double models::widest_by_noise(double u, double samples) {
    // (n - 3/8) / (n + 1/4) = 1 - (5/8) / (n + 1/4)
    return uncertainty::normal_exceeded_by(0.625 / (samples + 0.25)) * u;
}

uncertainty::uncertain<voltage> reading(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                                        const range_calibration& of, codes c, const reading_conditions& when) {
    expect_readable(of, c, when);
    const sensitive e{inputs};
    return models::reading(e, of, models::line(e, of, references), c, when);
}

uncertainty::uncertain<voltage> uncalibrated_reading(const uncertainty::input_set& inputs, const range_calibration& of, codes c,
                                                     const reading_conditions& when) {
    expect_readable(of, c, when);
    return models::uncalibrated(sensitive{inputs}, of, c, when);
}

uncertainty::uncertain<voltage> reading_in_use(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                                               const range_calibration& of, codes c, double samples, const use_conditions& use,
                                               kelvins temperature_difference, std::optional<frequency> sample_rate) {
    expect_usable(of, use);
    return models::in_use(
        sensitive{inputs}, of,
        reading(inputs, references, of, c, {samples, temperature_difference, use.temperature_half_width, std::move(sample_rate)}),
        use, true);
}

uncertainty::uncertain<voltage> difference_in_use(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                                                  const range_calibration& of, codes first, codes second, double samples,
                                                  const use_conditions& use, kelvins temperature_difference,
                                                  std::optional<frequency> sample_rate) {
    expect_usable(of, use);
    return models::in_use(sensitive{inputs}, of,
                          difference(inputs, references, of, first, second,
                                     {samples, temperature_difference, use.temperature_half_width, std::move(sample_rate)}),
                          use, false);
}

uncertainty::uncertain<voltage> peak_to_peak_in_use(const uncertainty::input_set& inputs,
                                                    const std::vector<reference>& references, const range_calibration& of,
                                                    codes lowest, codes highest, double samples, const use_conditions& use,
                                                    kelvins temperature_difference, std::optional<frequency> sample_rate) {
    expect_usable(of, use);
    // One sample at each end, whatever the length of the capture.
    return models::in_use(sensitive{inputs}, of,
                          peak_to_peak(inputs, references, of, lowest, highest, samples,
                                       {1.0, temperature_difference, use.temperature_half_width, std::move(sample_rate)}),
                          use, false);
}

uncertainty::uncertain<voltage> difference(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                                           const range_calibration& of, codes first, codes second,
                                           const reading_conditions& when) {
    expect_readable(of, first, when);
    expect_readable(of, second, when);
    const sensitive e{inputs};
    return models::difference_of_readings(e, of, models::line(e, of, references), first, second, when);
}

uncertainty::uncertain<voltage> peak_to_peak(const uncertainty::input_set& inputs, const std::vector<reference>& references,
                                             const range_calibration& of, codes lowest, codes highest, double samples,
                                             const reading_conditions& when) {
    if (!(samples >= 2.0)) {
        throw bad_input("peak to peak, channel " + of.channel + ", range " + of.range,
                        fmt::format("a capture of {} samples", samples), "2 or more", "capture longer");
    }
    if (!std::isfinite(samples)) {
        throw bad_input("peak to peak, channel " + of.channel + ", range " + of.range,
                        fmt::format("a capture of {} samples", samples), "a finite number",
                        "state how many samples were captured");
    }
    if (lowest > highest) {
        throw bad_input("peak to peak, channel " + of.channel + ", range " + of.range,
                        fmt::format("lowest code {} above highest code {}", lowest.value(), highest.value()),
                        "the lowest code first", "exchange the two");
    }
    expect_readable(of, lowest, when);
    expect_readable(of, highest, when);
    const sensitive e{inputs};
    return models::peak_to_peak(e, of, models::line(e, of, references), lowest, highest, samples, when);
}

void expect_mode(const range_calibration& of, const front_end::mode& now) {
    const auto expect = [&](bool same, const char* what, const std::string& found, const std::string& expected) {
        if (same) return;
        throw bad_input("channel " + of.channel + ", range " + of.range, fmt::format("{} {}", what, found),
                        expected + " as in the calibration",
                        "a correction belongs to one mode: change it, or calibrate in this mode");
    };
    const front_end::mode& then = of.mode;
    expect(now.sample_rate == then.sample_rate || of.chain.pin, "sample rate", fmt::format("{} Hz", now.sample_rate.value()),
           fmt::format("{} Hz", then.sample_rate.value()));
    expect(now.oversampling == then.oversampling, "oversampling", std::to_string(now.oversampling),
           std::to_string(then.oversampling));
    expect(now.coupling == then.coupling, "coupling", '"' + now.coupling + '"', '"' + then.coupling + '"');
    expect(now.supply == then.supply, "supply", '"' + now.supply + '"', '"' + then.supply + '"');
    expect(now.sampling == then.sampling, "sampling", '"' + now.sampling + '"', '"' + then.sampling + '"');
}

codes code_at(const range_calibration& of, voltage v) {
    // both lines pass through the zero step
    const voltage at_knee = of.result.offset + of.result.gain * of.zero.seen.mean;
    const bool negative_is_below = of.reference.seen.mean > of.zero.seen.mean;
    const bool other_side = of.negative_result && (v < at_knee) == negative_is_below;
    const correction& line = other_side ? *of.negative_result : of.result;
    return (v - line.offset) / line.gain;
}

reading_conditions at_calibration(const range_calibration& of) { return {1.0, 0.0 * kelvin, of.temperature_half_width}; }

}  // namespace plumbline::inline v0::calibration
