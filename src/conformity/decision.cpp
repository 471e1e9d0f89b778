#include <plumbline/conformity/decision.hpp>

#include "argument.hpp"

#include <fmt/format.h>
#include <cmath>
#include <plumbline/conformity/acceptance.hpp>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::conformity {

namespace {

constexpr const char* in_decision_rule = "decision rule";

void expect_rule(const decision_rule<double>& rule, const char* unit) {
    expect_finite(in_decision_rule, "the multiple of U", rule.times_U, "1");
    expect_finite(in_decision_rule, "the absolute guard band", rule.absolute, unit);
}

[[noreturn]] void refuse_four_words(const std::string& guard_band) {
    throw bad_input(in_decision_rule, "four words with the guard band " + guard_band, "a guard band above 0",
                    "take two words, or a guard band that leaves room for the conditional ones");
}

/// Size of the guard band in symbols: "U", "0.83 U", "0.01 V", "0.5 U + 0.01 V".
std::string symbols(double times_U, double absolute, const char* unit) {
    std::string multiple = times_U == 1.0 ? "U" : fmt::format("{} U", times_U);
    if (absolute == 0.0) return multiple;
    if (times_U == 0.0) return with_unit(absolute, unit);
    return fmt::format("{} {} {}", multiple, absolute < 0.0 ? "-" : "+", with_unit(std::abs(absolute), unit));
}

}  // namespace

std::string_view word(verdict v) {
    switch (v) {
        case verdict::pass:
            return "pass";
        case verdict::conditional_pass:
            return "conditional pass";
        case verdict::conditional_fail:
            return "conditional fail";
        case verdict::fail:
            return "fail";
    }
    return "";
}

std::string statement(const decision_rule<double>& rule, const char* unit) {
    expect_rule(rule, unit);
    const double r = rule.times_U;
    const double a = rule.absolute;
    if (rule.words == wording::four) {
        if (!(r > 0.0 || a > 0.0)) refuse_four_words(r == 0.0 && a == 0.0 ? "0" : symbols(r, a, unit));
        return fmt::format(
            "guarded, four words, guard band w = {}: pass inside the limits by w or more, conditional pass inside by less, "
            "conditional "
            "fail outside by w or less, fail outside by more (ILAC-G8:09/2019, 4.2)",
            symbols(r, a, unit));
    }
    if (r == 0.0 && a == 0.0) {
        return "simple acceptance: pass on or inside the limits, else fail; right at a limit the risk of a wrong verdict is up "
               "to 50 % "
               "(JCGM 106:2012, 8.2)";
    }
    if (r <= 0.0 && a <= 0.0) {
        return fmt::format(
            "guarded rejection, w = {}: pass unless outside the limits by more than w, else fail (JCGM 106:2012, 8.3.3)",
            symbols(-r, -a, unit));
    }
    return fmt::format(
        "guarded acceptance, guard band w = {}: pass inside the limits by w or more, else fail (JCGM 106:2012, 8.3.2)",
        symbols(r, a, unit));
}

double guard_band(const decision_rule<double>& rule, double U, const char* unit) {
    expect_rule(rule, unit);
    double w = rule.absolute;
    if (rule.times_U != 0.0) {
        expect_positive(in_decision_rule, "the expanded uncertainty U", U, unit);
        w += rule.times_U * U;
    }
    if (rule.words == wording::four && !(w > 0.0)) refuse_four_words(with_unit(w, unit));
    return w;
}

verdict judge(const decision_rule<double>& rule, const tolerance<double>& limits, double y, double U, const char* unit) {
    expect_finite(in_decision_rule, "the result", y, unit);
    if (acceptance_limits(rule, limits, U, unit).contains(y)) return verdict::pass;
    if (rule.words == wording::two) return verdict::fail;
    if (limits.contains(y)) return verdict::conditional_pass;
    const double w = guard_band(rule, U, unit);
    const interval<double> outer{limits.lower() - w, limits.upper() + w};
    return outer.contains(y) ? verdict::conditional_fail : verdict::fail;
}

}  // namespace plumbline::inline v0::conformity
