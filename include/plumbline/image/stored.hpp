#pragma once
// The flash of an instrument that keeps its image in two slots (embedded/store.hpp): made for a programmer, and read from a dump.

#include <plumbline/embedded/store.hpp>
#include <plumbline/export.hpp>
#include <plumbline/image/image.hpp>

#include <cstdint>
#include <string>

namespace plumbline::inline v0::image {

/// Two slots that lie one behind the other.
struct slots {
    std::uint32_t slot_size = 0;   ///< bytes of one slot: whole pages of the flash, at most 2^24
    std::uint8_t granularity = 8;  ///< bytes that the flash programs at once: 1, 2, 4 or 8. Only fills up the last ones
};

/// Both slots as embedded::store leaves them on blank flash when it saves this image, its header and commit word with it: firmware that starts
/// on these bytes finds the image. The second slot is erased, so that whatever was newer in it does not win. The erases that the store has
/// counted are forgotten: it begins again at 1.
/// @throws bad_input  slots that cannot be, or too small for the image and embedded::store::overhead
[[nodiscard]] PLUMBLINE_EXPORT bytes stored(const bytes& image, const slots& in);

/// What firmware finds in a dump of both slots: the newest that was saved completely, an image or not; no bytes if there is none.
/// @param from  where the dump came from, as messages shall show it
/// @throws bad_input  a dump of another size; slots that cannot be
[[nodiscard]] PLUMBLINE_EXPORT bytes newest(const bytes& dump, const slots& in, const std::string& from);

}  // namespace plumbline::inline v0::image
