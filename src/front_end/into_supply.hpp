#pragma once
// What an overvoltage brings into the supply, and by which way, in words for sentences and lines of an audit.

#include "../units/figures.hpp"

#include <fmt/format.h>

#include <plumbline/front_end/overvoltage.hpp>
#include <string>

namespace plumbline::inline v0::front_end {

/// "clamp and bias branch bring 67 µA into the supply"
inline std::string brought_into_supply(const overvoltage& o) {
    const char* const by = o.through_clamp <= current()      ? "the bias branch brings"
                           : o.into_supply > o.through_clamp ? "clamp and bias branch bring"
                                                             : "the clamp brings";
    return fmt::format("{} {} into the supply", by, shown(o.into_supply, "A"));
}

}  // namespace plumbline::inline v0::front_end
