#pragma once
// From a record to the image that its instrument keeps, and back. What the image holds byte by byte: embedded/IMAGE.md.

#include <plumbline/embedded/image.hpp>
#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/units/quantities.hpp>

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::image {

using bytes = std::vector<std::uint8_t>;

/// By which numbers the firmware asks for a range of the record.
struct place {
    std::uint8_t channel = 0;
    std::uint8_t number = 0;
    std::uint16_t mode = 0;
    friend bool operator==(const place&, const place&) = default;
};

/// Channels, ranges of a channel and modes, each counted from 0 in the order in which the record first names it.
[[nodiscard]] PLUMBLINE_EXPORT std::vector<place> usual_places(const record::record& r);

/// What the record leaves open.
struct settings {
    std::vector<place> places;                                 ///< one for each range of the record; none: usual_places
    std::optional<calibration::use_conditions> unless_stated;  ///< for ranges of which the record states no conditions of use
};

/// An image, decoded.
struct content {
    embedded::identity whose{};
    std::vector<embedded::range> ranges;
};

/// How the image of a range stands to the record.
struct range_statement {
    std::string name;           ///< "A 10 V"
    voltage fixed_point_error;  ///< bound, part of the plus-or-minus (instrument_reading.hpp)
    voltage one_line_error;     ///< largest difference between the image's one line and the record's two; 0 where it has one
    double largest_excess =
        0;  ///< most by which the instrument's plus-or-minus exceeds U of the host, as a fraction of it: at 17 codes over
            ///< the range, 1, 8 and most samples, near the calibration and as far from it as may be
};

struct made_image {
    content what;
    std::vector<range_statement> statements;  ///< one for each range
};

/// The image of a record.
///
/// Correction: gain and offset to the nearest 2^-16 microvolt. Where the record has two lines, one on each side of the zero step, the image has
/// the line between them through the zero step, and its difference from them stands in the plus-or-minus. In range are codes whose voltage lies
/// within the range and that are no end codes of the converter.
///
/// Plus-or-minus: for every code in range, n samples, temperature and age within validity it is not below U of instrument_reading.hpp with k by
/// convolution. To that end each part of u^2, without noise, of noise, by temperature, by age, is put under a curve a + c (V - Vc)^2 with the
/// Vc of the record's compact form, all times the largest k that occurs, and every figure is rounded up. Noise counts for n samples of the
/// captures as n_eff did there, and averaging for no more samples than the shortest capture was worth.
///
/// Validity: from the first day of the calibration for the years, and within the temperatures, of the conditions of use; of several ranges the
/// narrowest. The conditions of supply always count, those of age and temperature by how far the instrument is from its calibration.
///
/// @throws bad_input  the record is none that to_json writes, or is a probe's; a range states no conditions of use and settings neither; what
///                    does not fit the image, by its name: a text too long, more than 255 ranges, a converter beyond 16 bits, gain, voltage or
///                    uncertainty too large, dates or temperatures that the image cannot hold, two ranges in one place
[[nodiscard]] made_image make_image(const record::record& r, const settings& by = {});

/// @throws bad_input  the image would be refused by its reader, or holds another number of ranges than it says
[[nodiscard]] PLUMBLINE_EXPORT bytes encode(const content& what);

/// @param from  where the bytes came from, as messages shall show it
/// @throws bad_input  saying what is wrong: no image, newer format, wrong size, damaged, a value not allowed
[[nodiscard]] PLUMBLINE_EXPORT content decode(std::span<const std::uint8_t> image, const std::string& from);

}  // namespace plumbline::inline v0::image
