#pragma once
// Decision rules: from a result and its expanded uncertainty to a verdict.

#include <plumbline/conformity/tolerance.hpp>
#include <plumbline/export.hpp>
#include <string>
#include <string_view>

namespace plumbline::inline v0::conformity {

enum class verdict { pass, conditional_pass, conditional_fail, fail };

/// "pass", "conditional pass", "conditional fail" or "fail".
[[nodiscard]] PLUMBLINE_EXPORT std::string_view word(verdict v);

/// Which verdicts a rule may give.
enum class wording {
    two,   ///< pass and fail
    four,  ///< with "conditional pass" and "conditional fail" within the guard band on either side of a limit
};

/// A guard band w = times_U U + absolute at each limit, and the words.
///
/// w = 0 is simple acceptance (JCGM 106:2012, 8.2), w > 0 guarded acceptance (8.3.2), w < 0 guarded rejection (8.3.3).
template <class Number>
struct decision_rule {
    double times_U = 0.0;  ///< finite
    Number absolute{};     ///< finite, in the unit of what is judged
    wording words = wording::two;

    [[nodiscard]] static decision_rule simple() { return {}; }
    [[nodiscard]] static decision_rule guarded(double times_U = 1.0) { return {times_U, Number{}, wording::two}; }
    [[nodiscard]] static decision_rule guarded_by(Number absolute) { return {0.0, absolute, wording::two}; }
    /// Non-binary statement with guard band (ILAC-G8:09/2019, 4.2).
    [[nodiscard]] static decision_rule four_words(double times_U = 1.0) { return {times_U, Number{}, wording::four}; }
    [[nodiscard]] static decision_rule four_words_by(Number absolute) { return {0.0, absolute, wording::four}; }
    friend bool operator==(const decision_rule&, const decision_rule&) = default;
};

/// The rule in a sentence, with document and clause, to print beside its verdicts.
/// @throws bad_input  as guard_band, except for U
[[nodiscard]] PLUMBLINE_EXPORT std::string statement(const decision_rule<double>& rule, const char* unit = "1");

/// w in the unit of U.
/// @param U  expanded uncertainty; read only if times_U is not 0, and then > 0 and finite
/// @throws bad_input  U or the rule is out of range, or four words are asked for and w is not positive
[[nodiscard]] PLUMBLINE_EXPORT double guard_band(const decision_rule<double>& rule, double U, const char* unit = "1");

/// Verdict on a result y:
///
///     pass              TL + w <= y <= TU - w
///     conditional pass  else, TL <= y <= TU
///     conditional fail  else, TL - w <= y <= TU + w
///     fail              else
///
/// With two words all that does not pass fails. Figures are judged as they are: round afterwards.
///
/// @param y  finite
/// @param U  expanded uncertainty of y, see guard_band
/// @throws bad_input  also if no result at all could pass: TL + w > TU - w
/// Source: JCGM 106:2012, 8.2, 8.3; ILAC-G8:09/2019, 4.2.
[[nodiscard]] PLUMBLINE_EXPORT verdict judge(const decision_rule<double>& rule, const tolerance<double>& limits, double y,
                                             double U, const char* unit = "1");

/// The same rule in the coherent unit.
template <judged_quantity Quantity>
[[nodiscard]] decision_rule<double> plain(const decision_rule<Quantity>& rule) {
    return {rule.times_U, rule.absolute.value(), rule.words};
}

template <judged_quantity Quantity>
[[nodiscard]] std::string statement(const decision_rule<Quantity>& rule) {
    return statement(plain(rule), unit_symbol<Quantity>);
}

template <judged_quantity Quantity>
[[nodiscard]] Quantity guard_band(const decision_rule<Quantity>& rule, like<Quantity> U) {
    return Quantity::from_value(guard_band(plain(rule), U.value(), unit_symbol<Quantity>));
}

template <judged_quantity Quantity>
[[nodiscard]] verdict judge(const decision_rule<Quantity>& rule, const tolerance<Quantity>& limits, like<Quantity> y,
                            like<Quantity> U) {
    return judge(plain(rule), limits.plain(), y.value(), U.value(), unit_symbol<Quantity>);
}

}  // namespace plumbline::inline v0::conformity
