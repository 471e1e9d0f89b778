#pragma once
// Does the calibration still hold? One minute on site: the input shorted, then a pocket reference.

#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/session/session.hpp>
#include <string>

namespace plumbline::inline v0::session {

/// What was done on site.
struct on_site {
    std::string channel;
    std::string range;
    std::string date;      ///< YYYY-MM-DD, not before the calibration or the check before
    std::string occasion;  ///< "after a fall", "after a night in a cold car"
    celsius ambient;       ///< of the instrument
    kelvins ambient_half_width = 2.0 * kelvin;
    std::string folder;  ///< of the captures
    capture_source zero;
    capture_source reference;
    voltage value;         ///< of the pocket reference, which is best none of those that calibrated: what both share cannot show
    voltage limits;        ///< of that value, rectangular, > 0
    voltage zero_value{};  ///< where 0 V would lie on the end of the converter, a second voltage
    voltage zero_limits = 50e-6 * volt;  ///< thermal voltages of a shorted input: common practice, no source
};

/// The record with this check appended to `intermediate`; record::append_checks stores it. Its digest stays what it was.
///
/// The reading is the mean of the capture, its U that in use: age and drift where the record states it, the temperature of the day. What
/// was applied has U = 2 limits / sqrt(3).
///
///     E_n = |reading - applied| / sqrt(U^2 + U_applied^2)        up to 1 they agree
///
/// @throws bad_input  a probe's record; no such range; a date out of order, no occasion, a value or limits that are none; a capture that
///                    cannot be read, in another mode, or on an end of the converter
/// Source: ISO 13528:2015, 9.7 (from memory); ISO/IEC 17025:2017, 6.4.10.
[[nodiscard]] PLUMBLINE_EXPORT record::record checked_on_site(const record::record& r, const on_site& check);

/// Whether a check found that readings are as the record says: both E_n up to 1.
[[nodiscard]] PLUMBLINE_EXPORT bool agrees(const record::intermediate_check& check);

}  // namespace plumbline::inline v0::session
