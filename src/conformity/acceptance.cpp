#include <plumbline/conformity/acceptance.hpp>

#include "argument.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
#include <plumbline/error.hpp>
#include <string>
#include <string_view>

namespace plumbline::inline v0::conformity {

namespace {

constexpr const char* in_acceptance_limits = "acceptance limits";

[[noreturn]] void refuse_empty(const std::string& guard_band, const tolerance<double>& limits, const char* unit) {
    throw bad_input(in_acceptance_limits,
                    fmt::format("{} at each limit of a tolerance {} wide", guard_band, with_unit(limits.width(), unit)),
                    "at most half of that width",
                    "no result could pass: measure with less uncertainty, widen the tolerance or choose a smaller guard band");
}

/// The smallest y with y >= limit + w(y); furthest is where the search upwards ends, infinite if nowhere.
double lower_acceptance_limit(double limit, double furthest, const uncertainty::function<double(double)>& w,
                              const tolerance<double>& limits, const char* unit) {
    // Written as judge compares, so that a reading on the limit found here passes there: the sign of a difference is exact.
    const auto inside_by = [&](double y) { return y - (limit + w(y)); };
    const double at_limit = inside_by(limit);
    if (at_limit == 0.0) return limit;
    const double direction = at_limit < 0.0 ? 1.0 : -1.0;
    double near = limit;
    double far = limit;
    double step = std::abs(at_limit);
    do {  // outwards in growing steps until the sign changes
        near = far;
        far = direction > 0.0 ? std::min(limit + step, furthest) : limit - step;
        step *= 2.0;
        if (far == near) refuse_empty("a guard band of " + with_unit(w(far), unit), limits, unit);
        if (std::abs(far) > 1e9 * (std::abs(limit) + std::abs(at_limit))) {
            throw bad_input(in_acceptance_limits,
                            fmt::format("no acceptance limit beside the tolerance limit {}", with_unit(limit, unit)),
                            "a guard band that grows by less than the reading does", "look at the uncertainty over the readings");
        }
    } while (inside_by(far) * direction < 0.0);
    std::uintmax_t iterations = 200;
    const auto bracket = boost::math::tools::toms748_solve(inside_by, std::min(near, far), std::max(near, far),
                                                           boost::math::tools::eps_tolerance<double>(), iterations);
    return bracket.second;  // inside_by rises: this end is the one not below 0
}

}  // namespace

interval<double> acceptance_limits(const decision_rule<double>& rule, const tolerance<double>& limits, double U,
                                   const char* unit) {
    const double w = guard_band(rule, U, unit);
    const interval<double> accepted{limits.lower() + w, limits.upper() - w};
    if (accepted.lower > accepted.upper) refuse_empty("a guard band of " + with_unit(w, unit), limits, unit);
    return accepted;
}

interval<double> acceptance_limits(const decision_rule<double>& rule, const tolerance<double>& limits,
                                   const uncertainty::function<double(double)>& U, const char* unit) {
    const auto w = [&](double y) { return guard_band(rule, U(y), unit); };
    const auto mirrored = [&](double y) { return w(-y); };
    interval<double> accepted{-no_limit, no_limit};
    if (limits.has_lower()) accepted.lower = lower_acceptance_limit(limits.lower(), limits.upper(), w, limits, unit);
    if (limits.has_upper()) accepted.upper = -lower_acceptance_limit(-limits.upper(), -limits.lower(), mirrored, limits, unit);
    if (accepted.lower > accepted.upper) {
        refuse_empty(
            fmt::format("guard bands that end at {} and {}", with_unit(accepted.lower, unit), with_unit(accepted.upper, unit)),
            limits, unit);
    }
    return accepted;
}

std::string acceptance_sentence(const interval<double>& accepted, int decimals, const char* unit) {
    constexpr const char* sentence = "acceptance sentence";
    if (decimals < 0 || decimals > 15) {
        throw bad_input(sentence, fmt::format("{} decimals", decimals), "0 to 15", "choose as many as the display shows");
    }
    const bool has_lower = accepted.lower > -no_limit;
    const bool has_upper = accepted.upper < no_limit;
    if (!(accepted.lower <= accepted.upper) || !(has_lower || has_upper)) {
        throw bad_input(sentence, fmt::format("from {} to {}", with_unit(accepted.lower, unit), with_unit(accepted.upper, unit)),
                        "a lower limit not above the upper one, at least one of them finite", "take them from acceptance_limits");
    }
    constexpr double slack = 1e-6;  // of the last place: what a sum of decimal figures misses in binary
    const double places = std::pow(10.0, decimals);
    const double lower = std::ceil(accepted.lower * places - slack) / places + 0.0;
    const double upper = std::floor(accepted.upper * places + slack) / places + 0.0;
    if (lower > upper) {
        throw bad_input(sentence,
                        fmt::format("nothing between {} and {} at {} decimals", with_unit(accepted.lower, unit),
                                    with_unit(accepted.upper, unit), decimals),
                        "a printed figure within the limits", "print more decimals");
    }
    const std::string suffix = std::string_view(unit) == "1" ? "" : fmt::format(" {}", unit);
    const auto printed = [&](double x) { return fmt::format("{:.{}f}{}", x, decimals, suffix); };
    if (!has_upper) return fmt::format("accept {} or more", printed(lower));
    if (!has_lower) return fmt::format("accept {} or less", printed(upper));
    return fmt::format("accept between {} and {}", printed(lower), printed(upper));
}

}  // namespace plumbline::inline v0::conformity
