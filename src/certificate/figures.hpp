#pragma once
// Figures as certificates print them: words for what is no plain number.

#include <plumbline/certificate/rounding.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <string>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

[[nodiscard]] inline std::string plus_or_minus(const std::string& half_width) { return "±" + half_width; }

template <class Quantity>
[[nodiscard]] std::string within(Quantity half_width) {
    return together(plus_or_minus(as_stated(half_width)));
}

/// "12.3", "over 1000" or "infinite"
[[nodiscard]] std::string degrees_text(double degrees_of_freedom);

/// "1.97", with a star where it is that of Student's t
[[nodiscard]] std::string k_text(const uncertainty::coverage& c);

}  // namespace plumbline::inline v0::certificate
