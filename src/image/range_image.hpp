#pragma once
// One range of a record as the image has it.

#include <cstddef>
#include <cstdint>
#include <plumbline/image/image.hpp>
#include <string>

namespace plumbline::inline v0::image {

/// How far from its calibration the image may be used.
struct reach {
    std::uint16_t centikelvin = 0;  ///< up and down, 0.01 K
    std::uint16_t days = 0;
};

struct range_image {
    embedded::range what{};
    range_statement statement;
};

/// @param use    conditions of use: the record's, or else the settings'
/// @param where  the range as messages shall show it: "record X: /ranges/0"
/// @throws bad_input  as make_image, for what belongs to the range
[[nodiscard]] range_image make_range(const record::record& r, const calibration::range_calibration& of,
                                     const calibration::use_conditions& use, const place& at, const reach& within,
                                     const std::string& where);

/// "A 10 V": by what image and messages call a range.
[[nodiscard]] std::string name_of(const calibration::range_calibration& range);

/// A text into the field, filled up with zeros. @throws bad_input  it does not fit as a whole, or holds a control character
void put_text(char* field, std::size_t size, const std::string& text, const std::string& where);

}  // namespace plumbline::inline v0::image
