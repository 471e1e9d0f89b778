#include "figures.hpp"

#include <plumbline/uncertainty/distribution.hpp>

namespace plumbline::inline v0::certificate {

std::string degrees_text(double degrees_of_freedom) {
    if (degrees_of_freedom == uncertainty::infinite) return "infinite";
    if (degrees_of_freedom > 1000.0) return together("over 1000");
    return fixed(degrees_of_freedom, degrees_of_freedom < 100.0 ? 1 : 0);
}

std::string k_text(const uncertainty::coverage& c) {
    return fixed(c.k, 2) + (c.how == uncertainty::coverage::method::student_t ? "*" : "");
}

}  // namespace plumbline::inline v0::certificate
