#pragma once
// Findings: what is worth saying of a calibration that stands. One function each; numbers and advice in include/plumbline/NUMBERS.md.

#include "alarms.hpp"
#include "captured_mean.hpp"

#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/capture/run.hpp>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// Numbers never change meaning: add, never renumber.
enum class notice {
    on_one_code = 201,            ///< quantisation hides the noise
    hangs_together = 202,         ///< fewer independent samples than half of those captured
    slopes_differ = 203,          ///< the line below the zero step is not that above it: found by solve()
    drift = 204,                  ///< the code moved during the step
    noisy = 205,                  ///< noise far above the converter's data sheet
    hum = 206,                    ///< mains in the capture
    hum_not_judged = 207,         ///< too short or too slow a capture to see mains
    reference_date = 208,         ///< a reference used before or after its dates of validity
    reference_temperature = 209,  ///< a reference used outside its temperatures
    one_sided = 210,              ///< a bipolar range without a step on its other side
    slow_noise = 211,             ///< no longer capture lowers the uncertainty of the mean
    far_out = 212,                ///< samples where the noise has none
    spectral_line = 213,          ///< a sine other than mains in the capture
    stuck_bits = 214,             ///< bits of the codes that never change
    not_straight = 215,           ///< points farther from a straight line than the data sheet allows
    crosstalk = 216,              ///< another channel moves this one
    not_warm = 217,               ///< the slope at the end of a warm-up curve is above its limit
    supply = 218,                 ///< a step moves with the supply
    few_samples = 219,            ///< fewer samples than make a standard uncertainty reliable
    end_unseen = 220,             ///< no step or check near an end of the range
};

// `chance` is that of one test to blame a clean capture (alarms.hpp); below it where sizes decide. Sizes that a finding must exceed whatever
// its significance: common practice, no source. Steps are as solve() lets them through: n >= 2, finite.

[[nodiscard]] std::optional<finding> on_one_code(const step& s, const std::string& where);
[[nodiscard]] std::optional<finding> hangs_together(const step& s, const std::string& where);

/// Trend by Student's t, above 0.1 code, above the standard uncertainty of the mean code, and above what quantisation makes of none.
[[nodiscard]] std::optional<finding> drift_within(const step& s, volts_per_code gain, const std::string& where,
                                                  double chance = alarm_of_a_test);

/// Noise besides trend and hum by chi-squared, above twice the data sheet's rms after quantisation, whose variance is at most 1/4 code^2.
/// A data sheet's noise of 0 states none: nothing is compared. Below 0.2 code on the data sheet, three times as much can hide in
/// the quantiser.
[[nodiscard]] std::optional<finding> noise_above(const front_end::converter& data_sheet, const step& s, const std::string& where,
                                                 double chance = alarm_of_a_test);

/// The stronger of 50 and 60 Hz by the F distribution, with an amplitude above 0.1 code and above what quantisation makes of none. Within
/// less than 100 ms the two are not told apart.
[[nodiscard]] std::optional<finding> hum_in(const step& s, volts_per_code gain, const std::string& where,
                                            double chance = alarm_of_a_test);

/// Neither hum nor its absence can be shown at 50, 60 Hz or both. Nothing is said of statistics without a fit (summarise makes one).
/// @param kept  what the budget has for it, of captured_mean.hpp
[[nodiscard]] std::optional<finding> hum_not_judged(const step& s, const std::optional<unseen_hum>& kept, volts_per_code gain,
                                                    const std::string& where);

/// Fewer than ten samples: of so few the standard deviation itself is known to a quarter at best.
/// Source: EA-4/02 M:2022, appendix E (ten repeated observations, else the type A's reliability is to be looked at), from memory.
[[nodiscard]] std::optional<finding> few_samples(const step& s, const std::string& where);

/// The findings above for one step; a check point's too.
[[nodiscard]] std::vector<finding> findings_of_step(const step& s, const front_end::converter& adc, volts_per_code gain,
                                                    const std::string& where, const std::optional<unseen_hum>& kept = {},
                                                    double chance = alarm_of_a_test);

/// What the input did while it was captured.
enum class applied_during {
    held,        ///< still
    warming_up,  ///< still, by an instrument that drifts: no finding
    known_sine,  ///< a frequency for the clock: noise, drift and lines cannot be judged beside it
};

/// All that one capture says: findings_of_step, and what the order of the samples says beside, from capture::one_pass: slow noise, samples
/// far out, the strongest line anywhere, stuck bits.
///
/// Slow noise is told of where its floor is above 0.1 code and above the quantisation's u, and neither drift nor a line explains it. A
/// line is told of above 0.1 code and above what quantisation makes of none, where hum_in does not tell of it already. That samples hang
/// together is told where both looks see it. Converters of more than 20 bits have findings_of_step alone.
/// @param run   the capture that s.seen was made of
/// @param kept  what the budget has for hum that cannot be judged
[[nodiscard]] std::vector<finding> findings_of_capture(const capture::run& run, const step& s, const front_end::converter& adc,
                                                       volts_per_code gain, const std::string& where,
                                                       const std::optional<unseen_hum>& kept = {},
                                                       applied_during during = applied_during::held,
                                                       double chance = alarm_of_a_test);

/// A capture of a range, whatever it was captured for.
struct seen_capture {
    std::string what;  ///< "check point 2 V"
    step seen;         ///< its source is not looked at
    capture::run run;
    bool hum_has_a_row = true;  ///< false: captured in turn, what hum does is part of the scatter
    applied_during during = applied_during::held;
};

/// What captures of a solved range say is added to its findings: one finding of a kind for a capture. What solve() said of a step by its
/// statistics alone goes where its samples do not bear it out. A file and column that is used twice is looked at once.
void add_findings(range_calibration& of, std::span<const seen_capture> captures, double chance);

// What several captures say together. For programs without sessions solve() tells of the first at alarm_of_slopes, solve_points() and
// add_crosstalk() of the next two at alarm_of_a_test.

/// The slopes of both sides of the zero step against the U of their difference, with 1 - chance. Nothing where one line runs through all.
/// @pre of is solved
[[nodiscard]] std::optional<finding> slopes_differ(const range_calibration& of, const std::vector<reference>& references,
                                                   const uncertainty::input_set& inputs, double chance);

/// chi-squared of of.points, the data sheet's non-linearity included, against its quantile of 1 - chance. The 95 % limit that ISO/TS
/// 28037:2010 has, and the record, is stated beside it and blames nobody: one clean line in twenty is above.
[[nodiscard]] std::optional<finding> not_straight(const range_calibration& of, double chance);

/// Levels of two captures by Student's t, and 0.1 code.
[[nodiscard]] std::optional<finding> crosstalk_in(const range_calibration& of, const seen_crosstalk& by, double chance);

/// The slope of the last window is above the limit by Student's t.
[[nodiscard]] std::optional<finding> not_warm(const range_calibration& of, const seen_warm_up& by, double chance);

/// Zero and reference step against those of the calibration, each as crosstalk.
[[nodiscard]] std::optional<finding> moved_by_supply(const range_calibration& of, const seen_at_supply& by, double chance);

/// No step, further point or check, as left, in the outer third of the range at one of its ends; in a bipolar range of each polarity. Not
/// told of the side that one_sided names.
/// Source: EURAMET cg-15, version 3.0 (2015-02): points near both ends and of both polarities. An outer third: common practice, no source.
[[nodiscard]] std::optional<finding> end_unseen(const range_calibration& of);

/// All of these in of.findings, in place of what was said there at another chance.
/// @param of_slopes  chance of the first
void judge_together(range_calibration& of, const std::vector<reference>& references, const uncertainty::input_set& inputs,
                    double chance, double of_slopes);

/// First and last day of the work as YYYY-MM-DD, from the record and never from the clock; "" where unknown: no day is then compared.
struct working_days {
    std::string begun;
    std::string ended;
};

[[nodiscard]] std::optional<finding> reference_out_of_date(const reference& r, const working_days& days,
                                                           const std::string& where);

/// The ambient temperature, or what lies within its half-width, is outside the reference's band.
[[nodiscard]] std::optional<finding> reference_too_warm_or_cold(const reference& r, celsius ambient, kelvins half_width,
                                                                const std::string& where);

/// The range reaches to both sides of 0 V and no step lies on the side away from the reference: all readings there are extrapolated.
[[nodiscard]] std::optional<finding> one_sided(const range_calibration& of, const std::string& where);

/// All findings of a solved range: its steps first, then each reference used in them, a divider's too.
[[nodiscard]] std::vector<finding> findings_of(const range_calibration& of, const std::vector<reference>& references,
                                               const working_days& days);

/// The likely cause of a gain that is far from nominal, as the remedy of a refusal: a x10 probe (9 Mohm) into this input, millivolts entered
/// as volts or the reverse, leads reversed, captures swapped.
///
/// @param m0, m1     mean codes of the zero and of the other step, m0 != m1
/// @param v0, v1     voltages stated for them, v0 != v1
/// @param tolerance  of the gain, as a fraction
/// @return           nothing where no factor matches
[[nodiscard]] std::optional<std::string> likely_cause(const front_end::chain& chain, codes m0, codes m1, voltage v0, voltage v1,
                                                      double tolerance);

}  // namespace plumbline::inline v0::calibration
