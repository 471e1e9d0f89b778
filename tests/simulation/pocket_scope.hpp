#pragma once
// The invented instrument of the shipped session: a two-channel pocket scope, its captures, and the truth behind them.

#include <map>
#include <string>

namespace plumbline::simulation {

/// Every file that the simulation ships, by its path below examples/sessions. The same bytes each time.
///
/// captures/*.csv             codes, 2048 samples at 10 kHz each
/// pocket-scope-truth.json    actual gains, offsets and voltages, and what the bench meter showed. Nothing of the library reads it
[[nodiscard]] std::map<std::string, std::string> pocket_scope_files();

}  // namespace plumbline::simulation
