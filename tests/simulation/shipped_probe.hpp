#pragma once
// The invented probe of the shipped session: its captures on channel A of the pocket scope, and the truth behind them.

#include <map>
#include <string>

namespace plumbline::simulation {

/// Truth of the shipped probe.
struct shipped_probe_truth {
    double mismatch;
    double factor;  ///< voltage at the tip over voltage at the connector
};
[[nodiscard]] shipped_probe_truth shipped_probe();

/// Every file of it, by its path below examples/sessions. The same bytes each time.
///
/// captures/probe-step.csv       through the probe, 1 kHz at 1 MS/s
/// captures/probe-direct.csv     the same generator without it, 100 Hz at 10 kS/s
/// captures/probe-divided.csv    and with it
[[nodiscard]] std::map<std::string, std::string> shipped_probe_files();

}  // namespace plumbline::simulation
