#pragma once
// Correct digits: how NIST's StRD measures results (log relative error).

#include <doctest/doctest.h>
#include <algorithm>
#include <cmath>
#include <string>

namespace plumbline::published {

/// -log10 of the relative error, or of the error itself where 0 is certified; 15 at most, as many as are certified.
inline double correct_digits(double found, double certified) {
    const double error = std::abs(found - certified) / (certified == 0.0 ? 1.0 : std::abs(certified));
    return error > 0.0 ? std::clamp(-std::log10(error), 0.0, 15.0) : 15.0;
}

/// Prints the digits of a figure and checks that there are at least so many.
inline void check_digits(const std::string& what, double found, double certified, double at_least) {
    const double digits = correct_digits(found, certified);
    MESSAGE(what, ": ", digits, " correct digits");
    CAPTURE(what);
    CHECK(digits >= at_least);
}

}  // namespace plumbline::published
