#include <plumbline/image/stored.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::image {

namespace {

constexpr std::uint32_t largest_slot = 1U << 24;

/// Flash in memory, one page a slot. No step of it fails.
struct memory {
    bytes& cells;
    std::uint32_t slot_size;

    void read(std::uint32_t address, std::uint8_t* to, std::size_t size) const { std::copy_n(cells.begin() + address, size, to); }
    bool program(std::uint32_t address, const std::uint8_t* from, std::size_t size) {
        for (std::size_t i = 0; i < size; ++i) cells[address + i] = static_cast<std::uint8_t>(cells[address + i] & from[i]);
        return true;
    }
    bool erase(std::uint32_t address) {
        std::fill_n(cells.begin() + address, slot_size, std::uint8_t{0xff});
        return true;
    }
};

using store = embedded::store<memory>;

embedded::store_layout layout_of(const slots& in) {
    const unsigned g = in.granularity;
    if (g != 1 && g != 2 && g != 4 && g != 8)
        throw bad_input("slots", fmt::format("found a granularity of {} bytes", g), "1, 2, 4 or 8",
                        "see how many bytes the flash programs at once");
    if (in.slot_size <= store::overhead || in.slot_size > largest_slot || in.slot_size % 8 != 0)
        throw bad_input("slots", fmt::format("found a slot of {} bytes", in.slot_size),
                        fmt::format("a multiple of 8 above {}, at most {}", store::overhead, largest_slot),
                        "give the size that the firmware's store_layout says, whole pages of its flash");
    return {{0, in.slot_size}, in.slot_size, in.slot_size, in.granularity};
}

}  // namespace

bytes stored(const bytes& image, const slots& in) {
    const embedded::store_layout layout = layout_of(in);
    bytes cells(std::size_t{2} * in.slot_size, 0xff);
    memory flash{cells, in.slot_size};
    if (store(flash, layout).save(image.data(), image.size()) != embedded::save_result::saved)
        throw bad_input("slots", fmt::format("found slots of {} bytes", in.slot_size),
                        fmt::format("at least {} for an image of {} bytes", image.size() + store::overhead, image.size()),
                        "give the firmware more pages for each slot");
    return cells;
}

bytes newest(const bytes& dump, const slots& in, const std::string& from) {
    const embedded::store_layout layout = layout_of(in);
    if (dump.size() != std::size_t{2} * in.slot_size)
        throw bad_input(from, fmt::format("found {} bytes", dump.size()),
                        fmt::format("{}, two slots of {} bytes", std::size_t{2} * in.slot_size, in.slot_size),
                        "read both slots, from the beginning of the first to the end of the second");
    bytes cells = dump;
    memory flash{cells, in.slot_size};
    const store::content found = store(flash, layout).newest();
    bytes image(found.size);
    flash.read(found.address, image.data(), image.size());
    return image;
}

}  // namespace plumbline::inline v0::image
