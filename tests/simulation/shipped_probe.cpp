#include <fmt/format.h>
#include <simulation/probe.hpp>
#include <simulation/shipped_probe.hpp>

namespace plumbline::simulation {

namespace {

constexpr double full_scale = 11.1;  // V at the connector, as the 10 V range of the pocket scope has it
constexpr double noise = 0.9;        // codes
constexpr double inl = 1.0;          // codes, limits

/// 9 Mohm and 1.1767 Mohm by the data sheets; over-compensated by 6 %.
constexpr probe_circuit circuit{9.031e6, 1.06 * 1.1731e6 * 25e-12 / 9.031e6, 1.1731e6, 25e-12};

/// A generator of the workshop, either side of 0 V.
constexpr fed_wave generator_at(double frequency) { return {frequency, 8.0, 1e-6, 0.001}; }

std::string as_csv(const std::string& what, double sample_rate, const std::vector<std::int32_t>& codes) {
    std::string text = "# probe PP-1, serial 0021, on pocket scope PS-2, serial 0007, channel A, range 10 V, " + what + "\n";
    text += fmt::format("# sample rate: {} Hz\n", sample_rate);
    text += "# invented data: simulated by tests/simulation; no such instrument, person or reference exists\n";
    for (const std::int32_t c : codes) text += fmt::format("{}\n", c);
    return text;
}

}  // namespace

shipped_probe_truth shipped_probe() {
    return {circuit.r * circuit.c / (circuit.r_in * circuit.c_in) - 1.0, 1.0 + circuit.r / circuit.r_in};
}

std::map<std::string, std::string> shipped_probe_files() {
    generator random(20250322);
    // A wire: 1 ohm, and capacitances that leave nothing to settle, which the integration could not follow.
    constexpr probe_circuit direct{1.0, circuit.r_in * circuit.c_in, circuit.r_in, circuit.c_in};
    const auto capture = [&](const probe_circuit& through, double frequency, double rate, std::size_t count) {
        generator unit(20250314);  // one converter: the same non-linearity in each capture
        const std::vector<double> steps = draw_inl(inl, unit);
        return capture_probe(through, generator_at(frequency), rate, count, full_scale, noise, random, steps);
    };
    return {
        {"captures/probe-step.csv", as_csv("square wave of 1 kHz", 1e6, capture(circuit, 1e3, 1e6, 8192))},
        {"captures/probe-direct.csv", as_csv("square wave of 100 Hz without the probe", 1e4, capture(direct, 100.0, 1e4, 2048))},
        {"captures/probe-divided.csv", as_csv("square wave of 100 Hz", 1e4, capture(circuit, 100.0, 1e4, 2048))}};
}

}  // namespace plumbline::simulation
