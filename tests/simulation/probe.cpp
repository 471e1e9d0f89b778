#include <algorithm>
#include <cmath>
#include <simulation/probe.hpp>

namespace plumbline::simulation {

namespace {

/// Voltage at the tip at time t.
double tip(const fed_wave& w, double t) {
    const double period = 1.0 / w.frequency;
    const double half = 0.5 * period;
    const double phase = t - std::floor(t / period) * period;
    const double side = phase < half ? 1.0 : -1.0;
    const double since = phase < half ? phase : phase - half;
    const double edge = std::max(w.rise_time / 0.8, 1e-12);  // 0 % to 100 % of a straight edge
    const double end = w.amplitude * (1.0 - w.droop);
    if (since < edge) return side * (-end + (w.amplitude + end) * since / edge);
    return side * w.amplitude * (1.0 - w.droop * (since - edge) / (half - edge));
}

}  // namespace

std::vector<double> draw_inl(double limits, generator& random) {
    std::vector<double> inl(4096 / 8);
    for (double& group : inl) group = random.within(limits);
    return inl;
}

std::vector<std::int32_t> capture_probe(const probe_circuit& circuit, const fed_wave& wave, double sample_rate,
                                        std::size_t wanted, double full_scale, double noise_codes, generator& random,
                                        const std::vector<double>& inl) {
    constexpr int steps_per_sample = 8;
    const double dt = 1.0 / (sample_rate * steps_per_sample);
    const double g = 1.0 / circuit.r + 1.0 / circuit.r_in;
    const double c = circuit.c + circuit.c_in;
    // (c d/dt + g) v = (C d/dt + 1/R) v_tip, trapezoidal rule.
    double v = 0.0;
    double before = tip(wave, 0.0);
    const double offset = random.uniform() / sample_rate;
    const auto first = static_cast<std::size_t>(3.0 / wave.frequency * sample_rate);
    std::vector<std::int32_t> codes;
    double t = offset;
    before = tip(wave, t);
    for (std::size_t i = 0; i < first + wanted; ++i) {
        for (int k = 0; k < steps_per_sample; ++k) {
            t += dt;
            const double now = tip(wave, t);
            v = ((c / dt - 0.5 * g) * v + circuit.c / dt * (now - before) + 0.5 / circuit.r * (now + before)) /
                (c / dt + 0.5 * g);
            before = now;
        }
        if (i < first) continue;
        double code = 2048.0 + v / full_scale * 2048.0 + noise_codes * random.normal();
        if (!inl.empty()) code += inl[static_cast<std::size_t>(std::clamp(code, 0.0, 4095.0)) / 8];
        codes.push_back(static_cast<std::int32_t>(std::clamp(std::round(code), 0.0, 4095.0)));
    }
    return codes;
}

}  // namespace plumbline::simulation
