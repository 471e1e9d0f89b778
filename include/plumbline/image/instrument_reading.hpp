#pragma once
// The budget of what the instrument shows: that of the record's reading, and what the instrument adds.

#include <plumbline/embedded/correction.hpp>
#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::image {

/// Bound of the difference between what the instrument computes from a code, or from the mean of up to 65535, and offset + gain c with gain and
/// offset as they were before they were rounded to 2^-16 microvolt.
///
///     1/2 + (last code in range + 2 + |gain|) / 2^17 microvolts, gain in microvolts per code
///
/// Source: the bounds that embedded/correction.hpp derives for correct() and correct_mean(), the larger of the two.
[[nodiscard]] PLUMBLINE_EXPORT voltage fixed_point_error(const embedded::correction& line);

/// offset + gain c of a stored line, without the rounding of the arithmetic.
[[nodiscard]] PLUMBLINE_EXPORT voltage on_line(const embedded::correction& line, codes c);

/// How a reading is taken on the instrument.
struct reading_state {
    double samples = 1.0;            ///< independent ones averaged, >= 1
    kelvins temperature_difference;  ///< instrument now minus instrument at calibration; known as well as then
    double years = 0.0;              ///< since the calibration
};

/// The instrument's reading with everything that it depends on: the record's inputs; age and supply by the conditions of use; and two rows more,
/// `fixed-point arithmetic of the instrument`, rectangular within fixed_point_error(), and `one line for two slopes`, where the record has two:
/// the known difference from the record's line, which is not taken off, as a standard uncertainty of its own size. k of at least 2 then
/// covers 95.45 % of a normal or rectangular rest about the record's value, whatever the difference (tests/image/image_test.cpp).
///
/// @param use  of these years and temperature_half_width do not count, since `when` says how far the instrument is
/// @throws bad_input  as calibration::reading and reading_in_use
[[nodiscard]] PLUMBLINE_EXPORT uncertainty::uncertain<voltage> instrument_reading(const record::record& r,
                                                                                  const calibration::range_calibration& of,
                                                                                  const embedded::correction& line,
                                                                                  const calibration::use_conditions& use, codes c,
                                                                                  const reading_state& when);

}  // namespace plumbline::inline v0::image
