#pragma once
// The image: everything that an instrument needs of its record, as bytes for its flash. Layout: IMAGE.md, beside this header.

#include "bytes.hpp"
#include "crc32.hpp"
#include "reading.hpp"

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// Version of the layout that this header writes and the newest that it reads.
constexpr uint16_t image_format = 1;

constexpr uint32_t image_letters = UINT32_C(0x49424C50);  ///< "PLBI", the first four bytes
constexpr size_t image_header_size = 120;
constexpr size_t image_range_size = 64;
constexpr size_t image_size(uint8_t ranges) { return image_header_size + ranges * image_range_size + 4; }
static_assert(image_size(4) <= 384, "two channels of two ranges fit into 384 bytes");

/// Whose adjustment it is, and when and where it holds. Texts are UTF-8, filled up with zeros, without control characters.
struct identity {
    char model[16];
    char serial[16];
    char record[32];     ///< number of the record that the image was made from
    uint8_t digest[32];  ///< SHA-256 of that record's sections device, correction and budget in canonical form (RFC 8785)
    uint16_t coverage;   ///< coverage probability of every uncertainty, 0.01 %: 9545
    uint8_t ranges;      ///< how many follow, >= 1
    validity holds;
};

/// Why bytes are not an image that this firmware can use. Numbers never change meaning.
enum class image_fault : uint8_t {
    none = 0,
    not_an_image = 1,  ///< does not begin with the four letters, or is shorter than they and the version
    newer_format = 2,  ///< written for later firmware, see format_of(): update the firmware, do not guess
    wrong_size = 3,    ///< more or fewer bytes than the image says it has
    damaged = 4,       ///< the CRC does not fit
    bad_content = 5,   ///< whole, but a value is not allowed
};

/// Format that the image says it has. @pre at least 6 bytes that begin with the four letters
inline uint16_t format_of(const uint8_t* image) { return byte_reader(image + 4).u16(); }

/// Whether after the first zero there are only zeros, and no control characters before it.
template <size_t size>
bool is_text(const char (&text)[size]) {
    bool ended = false;
    for (const char c : text) {
        const uint8_t byte = static_cast<uint8_t>(c);
        if (ended ? byte != 0 : (byte < 0x20 && byte != 0) || byte == 0x7F) return false;
        if (byte == 0) ended = true;
    }
    return true;
}

inline bool is_valid(const identity& of) {
    return is_text(of.model) && is_text(of.serial) && is_text(of.record) && of.serial[0] != 0 && of.ranges >= 1 &&
           of.coverage >= 1 && of.coverage < 10000 && of.holds.first_day <= of.holds.last_day &&
           of.holds.last_day != unknown_day && of.holds.lowest_temperature != unknown_temperature &&
           of.holds.lowest_temperature <= of.holds.temperature && of.holds.temperature <= of.holds.highest_temperature;
}

/// An uncertainty is never zero.
inline bool is_valid(const range& of) {
    return is_text(of.name) && is_valid(of.line) && of.uncertainty.floor >= 1 && of.uncertainty.floor <= largest_term &&
           of.uncertainty.noise <= largest_term && of.uncertainty.most_samples >= 1;
}

/// @pre  check() found no fault
inline validity read_validity(const uint8_t* image) {
    validity of = {};
    byte_reader from(image + 12);
    of.first_day = from.u16();
    of.last_day = from.u16();
    of.temperature = from.i16();
    of.lowest_temperature = from.i16();
    of.highest_temperature = from.i16();
    return of;
}

/// @pre  check() found no fault
inline identity read_identity(const uint8_t* image) {
    identity of = {};
    of.ranges = image[8];
    of.coverage = byte_reader(image + 10).u16();
    of.holds = read_validity(image);
    byte_reader from(image + 24);
    from.fill(of.model);
    from.fill(of.serial);
    from.fill(of.record);
    from.fill(of.digest);
    return of;
}

inline const uint8_t* range_at(const uint8_t* image, uint8_t index) {
    return image + image_header_size + index * image_range_size;
}

/// Channel, number and mode of a range as one number.
inline uint32_t place_of(const uint8_t* image, uint8_t index) { return byte_reader(range_at(image, index)).u32(); }

/// @param index  below identity::ranges
/// @pre  check() found no fault
inline range read_range(const uint8_t* image, uint8_t index) {
    range of = {};
    byte_reader from(range_at(image, index));
    of.channel = from.u8();
    of.number = from.u8();
    of.mode = from.u16();
    of.line.first_code = from.u16();
    of.line.last_code = from.u16();
    of.line.gain = from.i32();
    of.line.offset = from.i32();
    of.line.gain_fraction = from.u16();
    of.line.offset_fraction = from.u16();
    of.uncertainty.floor = from.u32();
    of.uncertainty.slope = from.u32();
    of.uncertainty.centre = from.i32();
    of.uncertainty.noise = from.u32();
    of.uncertainty.per_kelvin.floor = from.u32();
    of.uncertainty.per_kelvin.slope = from.u32();
    of.uncertainty.per_year.floor = from.u32();
    of.uncertainty.per_year.slope = from.u32();
    of.uncertainty.most_samples = from.u16();
    from.fill(of.name);
    return of;
}

/// Whether these bytes are an image that can be used. For bytes of any origin; reads none beyond size. Finds every one and two
/// wrong bits and every cut; of random bytes that look right otherwise the CRC lets 1 in 2^32 pass.
inline image_fault check(const uint8_t* bytes, size_t size) {
    if (size < 8 || byte_reader(bytes).u32() != image_letters) return image_fault::not_an_image;
    if (format_of(bytes) > image_format) return image_fault::newer_format;
    if (byte_reader(bytes + 6).u16() != size || size < image_size(1)) return image_fault::wrong_size;
    if (crc32(bytes, size - 4) != byte_reader(bytes + size - 4).u32()) return image_fault::damaged;
    {
        const identity of = read_identity(bytes);
        const bool reserved = bytes[9] != 0 || bytes[22] != 0 || bytes[23] != 0;
        if (format_of(bytes) != image_format || reserved || size != image_size(of.ranges) || !is_valid(of))
            return image_fault::bad_content;
    }
    for (uint8_t i = 0; i < bytes[8]; ++i) {
        if (!is_valid(read_range(bytes, i))) return image_fault::bad_content;
        for (uint8_t j = 0; j < i; ++j)
            if (place_of(bytes, i) == place_of(bytes, j)) return image_fault::bad_content;
    }
    return image_fault::none;
}

/// Whether this is the image of that instrument, which knows its own model and serial number, filled up with zeros.
/// @pre  check() found no fault
inline bool is_of(const uint8_t* image, const char (&model)[16], const char (&serial)[16]) {
    const identity of = read_identity(image);
    for (uint8_t i = 0; i < 16; ++i)
        if (of.model[i] != model[i] || of.serial[i] != serial[i]) return false;
    return true;
}

/// Where the adjustment of this range of this channel in this mode stands: ok, other_mode if there is one for other modes only,
/// or not_calibrated.
/// @param index  of read_range(); left alone unless ok
/// @pre  check() found no fault
inline status find(const uint8_t* image, uint8_t channel, uint8_t number, uint16_t mode, uint8_t& index) {
    status best = status::not_calibrated;
    for (uint8_t i = 0; i < image[8]; ++i) {
        byte_reader place(range_at(image, i));
        if (place.u8() != channel || place.u8() != number) continue;
        if (place.u16() == mode) {
            index = i;
            return status::ok;
        }
        best = status::other_mode;
    }
    return best;
}

/// Writes an image.
/// @param ranges    of.ranges of them
/// @param capacity  of the bytes at image
/// @return  size of the image; 0 if it does not fit or check() would refuse it, then the bytes are worth nothing
inline size_t encode(const identity& of, const range* ranges, uint8_t* image, size_t capacity) {
    const size_t size = image_size(of.ranges);
    if (size > capacity) return 0;
    byte_writer to(image);
    to.u32(image_letters);
    to.u16(image_format);
    to.u16(static_cast<uint16_t>(size));
    to.u8(of.ranges);
    to.u8(0);
    to.u16(of.coverage);
    to.u16(of.holds.first_day);
    to.u16(of.holds.last_day);
    to.i16(of.holds.temperature);
    to.i16(of.holds.lowest_temperature);
    to.i16(of.holds.highest_temperature);
    to.u16(0);
    to.take(of.model);
    to.take(of.serial);
    to.take(of.record);
    to.take(of.digest);
    for (const range* one = ranges; one != ranges + of.ranges; ++one) {
        to.u8(one->channel);
        to.u8(one->number);
        to.u16(one->mode);
        to.u16(one->line.first_code);
        to.u16(one->line.last_code);
        to.i32(one->line.gain);
        to.i32(one->line.offset);
        to.u16(one->line.gain_fraction);
        to.u16(one->line.offset_fraction);
        to.u32(one->uncertainty.floor);
        to.u32(one->uncertainty.slope);
        to.i32(one->uncertainty.centre);
        to.u32(one->uncertainty.noise);
        to.u32(one->uncertainty.per_kelvin.floor);
        to.u32(one->uncertainty.per_kelvin.slope);
        to.u32(one->uncertainty.per_year.floor);
        to.u32(one->uncertainty.per_year.slope);
        to.u16(one->uncertainty.most_samples);
        to.take(one->name);
    }
    to.u32(crc32(image, size - 4));
    return check(image, size) == image_fault::none ? size : 0;
}

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
