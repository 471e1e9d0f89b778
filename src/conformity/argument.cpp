#include "argument.hpp"

#include <fmt/format.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <string_view>

namespace plumbline::inline v0::conformity {

std::string with_unit(double x, const char* unit) {
    return std::string_view(unit) == "1" ? fmt::format("{}", x) : fmt::format("{} {}", x, unit);
}

void expect_finite(const char* where, const char* what, double x, const char* unit) {
    if (std::isfinite(x)) return;
    throw bad_input(where, fmt::format("{} is {}", what, with_unit(x, unit)), "a finite figure",
                    "look at where it was computed from");
}

void expect_positive(const char* where, const char* what, double x, const char* unit) {
    expect_finite(where, what, x, unit);
    if (x > 0.0) return;
    throw bad_input(where, fmt::format("{} is {}", what, with_unit(x, unit)), "more than 0",
                    "look at where it was computed from");
}

}  // namespace plumbline::inline v0::conformity
