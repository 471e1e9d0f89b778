#include <plumbline/uncertainty/line_use.hpp>

#include <fmt/format.h>

namespace plumbline::inline v0::uncertainty::line_detail {

void expect_argument(const char* where, double value, double u) {
    if (!std::isfinite(value)) {
        throw bad_input(where, fmt::format("at {}", value), "a finite figure", "look at where it was computed from");
    }
    if (!(u >= 0.0) || !std::isfinite(u)) {
        throw bad_input(where, fmt::format("a standard uncertainty of {}", u), "0 or more", "look at where it was computed from");
    }
}

void expect_slope(double slope) {
    if (slope != 0.0) return;
    throw bad_input("x on a line", "a slope of 0", "one that rises or falls", "there is no x to this y: exchange x and y");
}

}  // namespace plumbline::inline v0::uncertainty::line_detail
