#include <plumbline/conformity/tolerance.hpp>

#include "argument.hpp"

#include <fmt/format.h>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::conformity {

void expect_tolerance(const interval<double>& limits, const char* unit) {
    if (limits.lower < limits.upper && (std::isfinite(limits.lower) || std::isfinite(limits.upper))) return;
    throw bad_input("tolerance", fmt::format("from {} to {}", with_unit(limits.lower, unit), with_unit(limits.upper, unit)),
                    "a lower limit below the upper one, at least one of them finite", "look at the specification");
}

}  // namespace plumbline::inline v0::conformity
