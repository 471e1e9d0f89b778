#pragma once
// What a capture is: the raw codes of one converter channel in the order in which they were sampled.

#include <plumbline/units/quantities.hpp>

#include <cstdint>
#include <optional>
#include <vector>

namespace plumbline::inline v0::capture {

/// One capture. A code is whatever the converter delivered; a signed converter delivers negative ones.
struct run {
    std::vector<std::int32_t> codes;       ///< in order of sampling, not yet compared with the converter's range
    std::optional<frequency> sample_rate;  ///< Hz, above 0 and finite; absent when the file does not state it
};

}  // namespace plumbline::inline v0::capture
