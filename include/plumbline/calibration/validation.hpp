#pragma once
// First order beside Monte Carlo, for what a certificate states of a range and for any reading: JCGM 101:2008, clause 8.

#include <cstdint>
#include <optional>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/export.hpp>
#include <plumbline/front_end/probe.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <span>
#include <variant>
#include <vector>

namespace plumbline::inline v0::calibration {

/// The voltages at which a range's U is stated, from its low to its high end.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<voltage> stated_voltages(const front_end::chain& chain);

/// The kinds of reading other than one sample whose U is stated too: a mean of 100 in the middle of the range, and the differences of two
/// samples and of two such means, from there to a tenth of the range above.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<stated_kind> stated_kinds(const front_end::chain& chain);

struct validation_settings {
    std::uint64_t trials = 100'000;
    std::uint64_t seed = 1;
    int significant_digits = 1;  ///< of u: the tolerance is half a unit of the last one
    double probability = uncertainty::default_coverage_probability;
    std::vector<uncertainty::correlation> correlations{};
};

/// Runs the models of a range and keeps what came out with the range and its check points: readings at calibration and uncalibrated, other
/// kinds of reading and the errors at check points by the same trials, then readings in use, where conditions of use are stated, whose
/// temperatures are others. First order is validated where both ends of the interval are those of y +- U within the tolerance of u.
///
/// The ends of an interval from 10^5 trials scatter by 0.9 % of u. With one significant digit of u, twice that is within the fifth of the
/// tolerance that 8.2 asks for where u begins with 1 to 5, and within a third above; with two digits it would take some 10^7 trials. The
/// interval is the symmetric one: the ends of the shortest scatter several times as much.
/// @throws as monte_carlo; `of` is then unchanged
/// Source: JCGM 101:2008, 8.1.3 and 8.2.
PLUMBLINE_EXPORT void validate(range_calibration& of, const std::vector<reference>& references,
                               const uncertainty::input_set& inputs, const validation_settings& settings = {});

/// What is read, by the names that reading, difference and peak_to_peak (reading.hpp) give to their arguments.
struct read_mean {
    codes c;
};
struct read_difference {
    codes first;
    codes second;
};
struct read_peak_to_peak {
    codes lowest;
    codes highest;
    double captured = 0.0;  ///< samples of the capture
};
using kind_of_reading = std::variant<read_mean, read_difference, read_peak_to_peak>;

/// Which of the three budgets it is read in, and under what conditions.
struct read_uncalibrated {
    reading_conditions when;
};
struct read_at_calibration {
    reading_conditions when;
    std::optional<front_end::probe> probe{};  ///< that it is read through: through_probe.hpp
};
struct read_in_use {
    use_conditions use;
    double samples = 1.0;            ///< in a mean or in each end of a difference; peak to peak has one at each end
    kelvins temperature_difference;  ///< as in reading_in_use
    std::optional<front_end::probe> probe{};
    std::optional<frequency> sample_rate{};  ///< as in reading_in_use
};
using budget_of_reading = std::variant<read_uncalibrated, read_at_calibration, read_in_use>;

/// A reading as first order states it, k by convolution, and what trials of the same composition make of it.
struct validated_reading {
    uncertainty::budget first_order;
    interval_by_trials by_trials;
};

/// Validates readings of one kind of budget, all by the same trials: those that reading, uncalibrated_reading, difference and peak_to_peak
/// state, and the same in use. Each is one composition, evaluated once with sensitivities and once by trials, so that nothing is validated
/// that is not stated. 10^5 trials of one reading take some 20 ms.
/// @throws as the function of that reading, and as monte_carlo
/// @throws bad_input  a difference or peak to peak uncalibrated: no such budget is stated; two peak-to-peak readings of captures that
///                    differ in length: each widens in its own way, validate them one by one
[[nodiscard]] PLUMBLINE_EXPORT std::vector<validated_reading> validate_readings(
    const range_calibration& of, const std::vector<reference>& references, const uncertainty::input_set& inputs,
    std::span<const kind_of_reading> readings, const budget_of_reading& budget, const validation_settings& settings = {});

}  // namespace plumbline::inline v0::calibration
