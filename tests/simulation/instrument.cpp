#include <algorithm>
#include <array>
#include <cmath>
#include <simulation/instrument.hpp>
#include <utility>

namespace plumbline::simulation {

namespace {

/// A x = b by elimination, rows swapped so that the larger pivot comes first.
std::array<double, 2> solved(std::array<std::array<double, 2>, 2> a, std::array<double, 2> b) {
    if (std::abs(a[1][0]) > std::abs(a[0][0])) {
        std::swap(a[0], a[1]);
        std::swap(b[0], b[1]);
    }
    const double factor = a[1][0] / a[0][0];
    const double second = (b[1] - factor * b[0]) / (a[1][1] - factor * a[0][1]);
    return {(b[0] - a[0][1] * second) / a[0][0], second};
}

/// Noise of one standard deviation with an exponential memory: AR(1), begun in its steady state.
class remembering {
public:
    remembering(double memory, generator& random)
        : memory_(memory), fresh_(std::sqrt(1.0 - memory * memory)), now_(random.normal()) {}
    double next(generator& random) { return std::exchange(now_, memory_ * now_ + fresh_ * random.normal()); }

private:
    double memory_;
    double fresh_;
    double now_;
};

/// What a capture has beside white noise, sample by sample, in codes.
class companion {
public:
    companion(const disturbance& d, double noise, generator& random) : of_(d), noise_(noise) {
        if (d.noise_memory > 0.0) noises_.emplace_back(d.noise_memory, random);
        if (d.flicker > 0.0) {
            for (double samples = d.quickest; samples <= d.slowest; samples *= 4.0)
                flickers_.emplace_back(std::exp(-1.0 / samples), random);
        }
        if (d.hum > 0.0) phase_ = 2.0 * pi * random.uniform();
    }
    double next(generator& random) {
        double sum = 0.0;
        for (remembering& r : noises_) sum += noise_ * r.next(random);
        for (remembering& r : flickers_) sum += of_.flicker / std::sqrt(static_cast<double>(flickers_.size())) * r.next(random);
        if (of_.hum > 0.0) sum += of_.hum * std::sin(phase_);
        phase_ += 2.0 * pi * of_.hum_frequency / of_.sample_rate;
        return sum;
    }

private:
    static constexpr double pi = 3.141592653589793;
    const disturbance& of_;
    double noise_;
    std::vector<remembering> noises_;
    std::vector<remembering> flickers_;
    double phase_ = 0.0;
};

}  // namespace

actual_part draw(const part& sheet, generator& random) {
    actual_part made;
    made.value = sheet.nominal * (1.0 + random.within(sheet.tolerance));
    made.coefficient = random.within(sheet.temperature_coefficient);
    return made;
}

actual_network draw(const network_sheet& sheet, generator& random) {
    actual_network made;
    made.top = draw(sheet.top, random);
    if (sheet.bottom) made.bottom = draw(*sheet.bottom, random);
    if (sheet.bias) made.bias = draw(*sheet.bias, random);
    if (sheet.bias_supply) made.bias_supply = draw(*sheet.bias_supply, random);
    return made;
}

actual_amplifier draw(const amplifier_sheet& sheet, generator& random) {
    actual_amplifier made;
    if (sheet.feedback) made.feedback = draw(*sheet.feedback, random);
    if (sheet.ground) made.ground = draw(*sheet.ground, random);
    const auto within = [&](double limit, double drift) {
        const double value = random.within(limit);
        return drifting{value, random.within(drift)};
    };
    made.offset = within(sheet.offset_limit, sheet.offset_drift);
    made.into_plus = within(sheet.current_limit, sheet.current_drift);
    made.into_minus = within(sheet.current_limit, sheet.current_drift);
    made.open_loop = sheet.least_gain / std::max(1e-9, random.uniform());
    return made;
}

double actual_amplifier::output(double plus, double temperature) const {
    // Minus input: through the feedback comes what leaves through the ground resistor and into the amplifier, (out - minus) / Rf = minus / Rg + I.
    // Out = A (plus - minus - offset). As A x = b for {minus, out}.
    std::array<std::array<double, 2>, 2> law{};
    std::array<double, 2> known{};
    if (feedback) {
        const double back = 1.0 / feedback->at(temperature);
        law[0] = {back + 1.0 / ground->at(temperature), -back};
        known[0] = -into_minus.at(temperature);
    } else {
        law[0] = {1.0, -1.0};
    }
    law[1] = {1.0, 1.0 / open_loop};
    known[1] = plus - offset.at(temperature);
    return solved(law, known)[1];
}

actual_converter draw(const converter_sheet& sheet, generator& random) {
    actual_converter made;
    made.bits = sheet.bits;
    made.reference = draw(sheet.reference, random);
    made.offset = random.within(sheet.offset_limit);
    made.gain_error = random.within(sheet.gain_error_limit);
    made.inl_step = sheet.inl_step;
    made.noise_ahead = sheet.noise_ahead;
    made.noise = sheet.noise;
    const std::int64_t codes = std::int64_t{1} << sheet.bits;
    made.inl.resize(static_cast<std::size_t>((codes + sheet.inl_step - 1) / sheet.inl_step));
    made.slope_below = sheet.slope_limit > 0.0 ? random.within(sheet.slope_limit) : 0.0;
    for (double& group : made.inl) group = random.within(sheet.inl_limit);
    if (sheet.least_noise >= 0.0) made.noise = sheet.least_noise + random.uniform() * (sheet.noise - sheet.least_noise);
    made.besides = sheet.besides;
    if (sheet.noise_factor > 1.0) {
        const double factor = std::pow(sheet.noise_factor, 2.0 * random.uniform() - 1.0);
        made.noise *= factor;
        made.besides.flicker *= factor;
    }
    if (sheet.bow_limit > 0.0) made.bow = random.within(sheet.bow_limit);
    if (sheet.sampling_limit > 0.0) made.sampling = sheet.sampling_limit * random.uniform();
    if (sheet.leakage_limit > 0.0) made.leakage = random.within(sheet.leakage_limit);
    made.leakage_temperature = sheet.leakage_temperature;
    return made;
}

node_voltages instrument::nodes(const source& from, double temperature) const {
    const double top = 1.0 / network.top.at(temperature);
    // Currents out of the connector and out of the pin sum to zero; first row and column: connector, second: pin.
    std::array<std::array<double, 2>, 2> conductance{};
    std::array<double, 2> injected{};
    conductance[1] = {-top, top + converter.sampling * converter.besides.sample_rate};
    injected[1] += converter.leakage * std::exp2((temperature - converter.leakage_temperature) / 10.0);
    if (network.bottom) conductance[1][1] += 1.0 / network.bottom->at(temperature);
    if (network.bias) {
        const double branch = 1.0 / network.bias->at(temperature);
        conductance[1][1] += branch;
        injected[1] += branch * (network.bias_supply ? *network.bias_supply : converter.reference).at(temperature);
    }
    if (amplifier) injected[1] -= amplifier->into_plus.at(temperature);
    if (from.resistance > 0.0) {
        conductance[0] = {top + 1.0 / from.resistance, -top};
        injected[0] = from.open / from.resistance;
    } else {
        conductance[0] = {1.0, 0.0};  // an ideal source fixes the connector
        injected[0] = from.open;
    }
    const std::array<double, 2> v = solved(conductance, injected);
    return {v[0], v[1]};
}

double instrument::position(const source& from, double temperature) const {
    const double full_scale = std::ldexp(1.0, converter.bits);
    const double pin = nodes(from, temperature).pin;
    const double own = amplifier ? amplifier->output(pin, temperature) : pin;
    return (own + memory * (pin_before - own)) / converter.reference.at(temperature) * full_scale * (1.0 + converter.gain_error) +
           converter.offset;
}

double instrument::bent_position(const source& from, double temperature) const {
    const double straight = position(from, temperature);
    if (converter.slope_below == 0.0) return straight;
    const double knee = position({0.0, 0.0}, temperature);
    return straight < knee ? knee + (straight - knee) * (1.0 + converter.slope_below) : straight;
}

std::vector<std::int32_t> instrument::capture(const source& from, std::size_t n, double temperature, generator& random) const {
    const double straight = bent_position(from, temperature);
    const double along = straight / std::ldexp(1.0, converter.bits);
    const double undisturbed = straight + converter.bow * 4.0 * along * (1.0 - along);
    const double white = converter.besides.noise_memory > 0.0 ? 0.0 : converter.noise;
    companion besides(converter.besides, converter.noise, random);
    const double last_group = static_cast<double>(converter.inl.size() - 1);
    const double last_code = std::ldexp(1.0, converter.bits) - 1.0;
    std::vector<std::int32_t> codes(n);
    for (std::int32_t& code : codes) {
        const double x = undisturbed + (white > 0.0 ? white * random.normal() : 0.0) + besides.next(random);
        const double bends_at = converter.noise_ahead ? x : undisturbed;
        const double group = std::clamp(std::floor((bends_at + 0.5) / converter.inl_step), 0.0, last_group);
        const double bent = x + converter.inl[static_cast<std::size_t>(group)];
        code = static_cast<std::int32_t>(std::clamp(std::floor(bent + 0.5), 0.0, last_code));
    }
    return codes;
}

double instrument::volts_per_code(double temperature) const {
    return 1.0 / (position({1.0, 0.0}, temperature) - position({0.0, 0.0}, temperature));
}

double instrument::volts_at_code_zero(double temperature) const {
    return -volts_per_code(temperature) * position({0.0, 0.0}, temperature);
}

}  // namespace plumbline::simulation
