#pragma once
// A reading: from a code to a voltage that carries its plus or minus.

#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/export.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <vector>

namespace plumbline::inline v0::calibration {

/// The straight line through the zero step and the reference step.
///
///     V = V0 + (V1 - V0) (c - m0) / (m1 - m0)
///
/// @param c       mean code of the reading; beyond m1 or below m0 this extrapolates and u(V) grows
/// @param m0, m1  mean codes of the two steps
/// @param v0, v1  voltages at the connector during those steps
/// @pre           m0 != m1, which solve() has checked
/// Source: line through two points; sensitivities after JCGM 100:2008, 5.1.3.
struct two_point_reading {
    template <class C, class M0, class M1, class V0, class V1>
    [[nodiscard]] constexpr auto operator()(const C& c, const M0& m0, const M1& m1, const V0& v0, const V1& v1) const {
        return v0 + (v1 - v0) / (m1 - m0) * (c - m0);
    }
};

/// The same line as gain and offset: V = offset + gain * c.
struct two_point_gain {
    template <class M0, class M1, class V0, class V1>
    [[nodiscard]] constexpr auto operator()(const M0& m0, const M1& m1, const V0& v0, const V1& v1) const {
        return (v1 - v0) / (m1 - m0);
    }
};

/// Name and version of the model that turns a record's inputs into readings.
inline constexpr const char* model_name = "lines through steps";
inline constexpr int model_version = 7;
/// Records of this version and newer give the numbers that they were made with: what was added since are inputs that they do not have.
inline constexpr int oldest_model_version = 3;

/// What a reading is and how far from the calibration it is taken.
struct reading_conditions {
    double samples = 1.0;                    ///< independent samples averaged, >= 1
    kelvins temperature_difference;          ///< instrument now minus instrument at calibration
    kelvins temperature_half_width;          ///< how well that difference is known
    std::optional<frequency> sample_rate{};  ///< where it is not that of the calibration: then the chain has to state the pin
};

/// The corrected reading at mean code c with every input it depends on: steps, applied voltages, noise, quantisation, non-linearity,
/// temperature. This is the budget *at calibration* when the conditions are those of the calibration.
///
/// @param inputs      the record's inputs
/// @param references  the record's references
/// At another sample rate the converter's sampling capacitor takes another part of the signal: a row of limits, by the data sheet of the pin
/// (front_end::gain_away_from). All other figures of the mode are those of the calibration.
/// @throws bad_input  an input is missing or has another unit; c not finite; samples below 1; another sample rate, and a chain without `pin`
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> reading(const uncertainty::input_set& inputs,
                                                                       const std::vector<reference>& references,
                                                                       const range_calibration& of, codes c,
                                                                       const reading_conditions& when);

/// The same without a calibration: from the data sheets of resistors and converter. The *uncalibrated* budget.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> uncalibrated_reading(const uncertainty::input_set& inputs,
                                                                                    const range_calibration& of, codes c,
                                                                                    const reading_conditions& when);

/// The corrected reading as it is in use: with age, temperature and supply. The *in use* budget.
/// @param temperature_difference  instrument now minus instrument at calibration, where that is known: use's half-width lies about it
/// @param sample_rate             as in reading_conditions
/// @throws bad_input  as reading; a figure of the conditions is negative or not finite
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> reading_in_use(const uncertainty::input_set& inputs,
                                                                              const std::vector<reference>& references,
                                                                              const range_calibration& of, codes c,
                                                                              double samples, const use_conditions& use,
                                                                              kelvins temperature_difference = kelvins(),
                                                                              std::optional<frequency> sample_rate = {});

/// Difference of two readings, second minus first, taken under the same conditions: what both share, offset above all, cancels in U. Noise,
/// quantisation and stepped non-linearity are those of two readings; steps of non-linearity that both readings lie on count twice although
/// they cancel (the safe side).
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> difference(const uncertainty::input_set& inputs,
                                                                          const std::vector<reference>& references,
                                                                          const range_calibration& of, codes first, codes second,
                                                                          const reading_conditions& when);

/// Peak to peak from the lowest and highest code of a capture. Noise widens it, at each end by 0 (one sample near the peak) to the mean of
/// the largest of n noisy samples (all near the peak): half of that is taken off, and the rest kept as limits of one error for both ends,
/// since a square wave is widened by all of it at both.
/// @param samples  of the capture, 2 or more, finite
/// Source: mean of the largest of n normal values by G. Blom (1958), Phi^-1((n - 3/8) / (n + 1/4)), from memory.
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> peak_to_peak(const uncertainty::input_set& inputs,
                                                                            const std::vector<reference>& references,
                                                                            const range_calibration& of, codes lowest,
                                                                            codes highest, double samples,
                                                                            const reading_conditions& when);

/// Difference and peak to peak as they are in use: the gain has moved by age and supply; the offset has moved for both ends alike.
/// @throws bad_input  as reading_in_use and as difference or peak_to_peak
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> difference_in_use(
    const uncertainty::input_set& inputs, const std::vector<reference>& references, const range_calibration& of, codes first,
    codes second, double samples, const use_conditions& use, kelvins temperature_difference = kelvins(),
    std::optional<frequency> sample_rate = {});
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> peak_to_peak_in_use(
    const uncertainty::input_set& inputs, const std::vector<reference>& references, const range_calibration& of, codes lowest,
    codes highest, double samples, const use_conditions& use, kelvins temperature_difference = kelvins(),
    std::optional<frequency> sample_rate = {});

/// Refuses a reading in another mode than that of the calibration; another sample rate, which readings have a row for, only where the chain
/// does not state the pin. @throws bad_input  names the first difference
PLUMBLINE_EXPORT void expect_mode(const range_calibration& of, const front_end::mode& now);

/// The mean code that the correction turns into a voltage: the inverse of the line, for "what is U at 5 V?".
[[nodiscard]] PLUMBLINE_EXPORT codes code_at(const range_calibration& of, voltage v);

/// Conditions of one sample read during the calibration itself.
[[nodiscard]] PLUMBLINE_EXPORT reading_conditions at_calibration(const range_calibration& of);

}  // namespace plumbline::inline v0::calibration
