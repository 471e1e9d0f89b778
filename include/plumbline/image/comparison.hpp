#pragma once
// What was read back from an instrument, against the records at hand.

#include <plumbline/image/image.hpp>
#include <plumbline/record/record.hpp>

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::image {

/// Numbers never change meaning.
enum class verdict {
    same = 0,              ///< byte for byte the image of the newest record
    older = 1,             ///< byte for byte the image of a record, and a newer one of this instrument is at hand
    other_budget = 2,      ///< gains, offsets and codes of the record that it names, but another plus-or-minus or validity
    edited = 3,            ///< names a record at hand but corrects otherwise: image or record was changed since
    unknown_record = 4,    ///< of this instrument, from a record that is not at hand
    other_instrument = 5,  ///< of an instrument of which there is no record at hand
    unreadable = 6,        ///< no image, or a damaged one, or of a newer format
};

struct comparison {
    verdict what = verdict::unreadable;
    std::string record;    ///< number of the record that the image names, "" if it is unreadable
    std::string sentence;  ///< what was found and what to do
};

/// Compares what was read back with the images of the records. Bytes FF behind the image, erased flash, do not count. The image of a record
/// is computed anew for that: another build of the library may round the last digit of a plus-or-minus otherwise, and finds other_budget.
/// @param by  the settings with which the image was made
/// @throws bad_input  as make_image, for the record that the image names
[[nodiscard]] comparison compare(std::span<const std::uint8_t> read_back, const std::vector<record::record>& records,
                                 const settings& by = {});

/// The record with this check appended to `stored`. Neither its digest nor the image made from it changes by that.
///
/// A record is never overwritten, but such checks are appended to its file by append_checks (record/store.hpp).
/// @param date  of the check, YYYY-MM-DD
/// @throws bad_input  as make_image; a date before the end of the calibration or before the last check
[[nodiscard]] record::record with_check(const record::record& r, std::span<const std::uint8_t> read_back, const std::string& date,
                                        const settings& by = {});

}  // namespace plumbline::inline v0::image
