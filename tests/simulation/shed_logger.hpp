#pragma once
// The invented two-channel logger of a solar shed: captures of a calibration that goes beyond one capture per step.

#include <map>
#include <string>

namespace plumbline::simulation {

/// The captures of examples/sessions/shed-logger.json, by their path below examples/sessions: 256 samples a column at 1 kHz, 2000 of the clock's
/// signal. The same bytes each time.
[[nodiscard]] std::map<std::string, std::string> shed_logger_files();

}  // namespace plumbline::simulation
