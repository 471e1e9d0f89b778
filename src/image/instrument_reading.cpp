#include <plumbline/image/instrument_reading.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <plumbline/calibration/reading.hpp>
#include <utility>

namespace plumbline::inline v0::image {

namespace {

using uncertainty::dependence;

/// Another input of this one evaluation.
void add(uncertainty::uncertain<voltage>& y, const calibration::range_calibration& of, const char* label, const char* source,
         uncertainty::distribution spread) {
    const std::string id = of.channel + "/" + of.range + "/image/" + label;
    y.dependences.push_back({uncertainty::shared_input({id, label, source, unit_symbol<voltage>, 0.0, std::move(spread)}), 1.0});
}

bool by_id(const dependence& a, const dependence& b) { return a.on->id < b.on->id; }

}  // namespace

voltage fixed_point_error(const embedded::correction& line) {
    const double gain = std::abs(static_cast<double>(line.gain)) + 1.0;  // of the whole microvolts below
    return std::ldexp(65536.0 + line.last_code + 2.0 + gain, -17) * 1e-6 * volt;
}

voltage on_line(const embedded::correction& line, codes c) {
    const double gain = line.gain + std::ldexp(line.gain_fraction, -16);
    const double offset = line.offset + std::ldexp(line.offset_fraction, -16);
    return (offset + gain * c.value()) * 1e-6 * volt;
}

uncertainty::uncertain<voltage> instrument_reading(const record::record& r, const calibration::range_calibration& of,
                                                   const embedded::correction& line, const calibration::use_conditions& use,
                                                   codes c, const reading_state& when) {
    calibration::use_conditions away = use;
    away.years = when.years;
    away.temperature_half_width = of.temperature_half_width;
    uncertainty::uncertain<voltage> y = calibration::reading(
        r.inputs, r.references, of, c, {when.samples, when.temperature_difference, of.temperature_half_width});
    // what the conditions of use add does not hang on samples and temperature
    const auto in_use = calibration::reading_in_use(r.inputs, r.references, of, c, when.samples, away);
    const std::vector<dependence> at_calibration = y.dependences;
    std::copy_if(
        in_use.dependences.begin(), in_use.dependences.end(), std::back_inserter(y.dependences),
        [&](const dependence& d) { return !std::binary_search(at_calibration.begin(), at_calibration.end(), d, by_id); });
    const double off = std::abs((on_line(line, c) - y.value).value());
    add(y, of, "fixed-point arithmetic of the instrument", "bound of the arithmetic",
        uncertainty::rectangular{fixed_point_error(line).value()});
    if (of.negative_result)
        add(y, of, "one line for two slopes", "difference from the record's line",
            uncertainty::normal{off, uncertainty::infinite});
    std::sort(y.dependences.begin(), y.dependences.end(), by_id);
    y.value = on_line(line, c);
    return y;
}

}  // namespace plumbline::inline v0::image
