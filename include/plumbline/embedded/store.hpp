#pragma once
// Two slots in flash: power may fail at any moment of a save, the last complete content is found again.
//
// A slot:  byte 0   commit word, 8 bytes, all zero once everything below has been written and read back
//               8   sequence u32, erases u32, size u32, CRC-32 of the content u32, CRC-32 of these 16 bytes u32, 4 bytes unused
//              32   the content
//
// What guards against what:
//   CRC          bits that rotted since; steps that the flash did in another order than told
//   commit word  a last step of the content that was cut short and reads right today, but whose weak bits may not tomorrow
//   firming      the same of the commit word: it is written once more before the other slot is given up. All-zero words may be
//                programmed over anything, on flash with error correction too (common practice, no source)
//   newest wins  the older slot is still there and whole
//   erase        programming only clears bits
// Not guarded against: weak bits in a flash that also changes the order of steps.

#include "bytes.hpp"
#include "crc32.hpp"

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// Where the two slots are. Both begin at a page and have whole pages of their own; addresses are the flash's own affair.
struct store_layout {
    uint32_t slots[2];
    uint32_t slot_size;   ///< bytes, a multiple of page_size
    uint32_t page_size;   ///< bytes, erased at once
    uint8_t granularity;  ///< bytes, programmed at once: 1, 2, 4 or 8
};

enum class save_result : uint8_t {
    saved = 0,
    too_large = 1,     ///< the flash has not been touched
    flash_failed = 2,  ///< the flash said so or did not keep what it was given; what was stored before is still found
};

/// What the store trusts in. Leaving one out is for tests that show what it is for.
struct every_guard {
    static constexpr bool crc = true;
    static constexpr bool commit = true;
    static constexpr bool firming = true;
    static constexpr bool newest_wins = true;
    static constexpr bool erase = true;
};

/// @tparam Flash  void read(uint32_t address, uint8_t* to, size_t size)
///                bool program(uint32_t address, const uint8_t* from, size_t size)  one granule, clears bits only; false: failed
///                bool erase(uint32_t address)                                      the page that begins there; false: failed
template <class Flash, class Guards = every_guard>
class store {
public:
    static constexpr uint32_t overhead = 32;  ///< bytes of a slot besides the content

    /// Where content lies; size 0 means there is none.
    struct content {
        uint32_t address;
        uint32_t size;
    };

    /// @param flash  must outlive the store
    store(Flash& flash, const store_layout& layout) : flash_(flash), layout_(layout) {}

    /// The last content that was saved completely.
    content newest() {
        header head[2];
        const uint8_t slot = newest_slot(head);
        if (slot == none) return {0, 0};
        return {layout_.slots[slot] + overhead, head[slot].size};
    }

    /// Copies the last content that was saved completely.
    /// @return  its size; 0 if there is none or it exceeds capacity
    size_t load(uint8_t* to, size_t capacity) {
        const content found = newest();
        if (found.size > capacity) return 0;
        const size_t size = static_cast<size_t>(found.size);
        flash_.read(found.address, to, size);
        return size;
    }

    /// Writes content into the slot that does not hold the newest. Until the last step succeeds the newest is what it was.
    /// @param size  >= 1
    save_result save(const uint8_t* from, size_t size) {
        if (size == 0 || size > layout_.slot_size - overhead) return save_result::too_large;
        uint8_t active = none;
        uint32_t at = 0;
        uint32_t sequence = 1;
        uint32_t erases = 1;
        {
            header head[2];
            active = newest_slot(head);
            const uint8_t slot = active == 0 ? 1 : 0;
            at = layout_.slots[slot];
            if (active != none) sequence += head[active].sequence;
            erases += head[slot].is_whole || active == none ? head[slot].erases : head[active].erases;
        }
        if (Guards::firming && active != none && !commit(layout_.slots[active])) return save_result::flash_failed;
        if (Guards::erase)
            for (uint32_t page = 0; page < layout_.slot_size; page += layout_.page_size)
                if (!flash_.erase(at + page)) return save_result::flash_failed;
        {
            uint8_t bytes[header_size];
            byte_writer to(bytes);
            to.u32(sequence);
            to.u32(erases);
            to.u32(static_cast<uint32_t>(size));
            to.u32(crc32(from, size));
            to.u32(crc32(bytes, 16));
            to.u32(UINT32_C(0xFFFFFFFF));
            if (!write(at + commit_size, bytes, sizeof bytes)) return save_result::flash_failed;
        }
        if (!write(at + overhead, from, size) || !commit(at)) return save_result::flash_failed;
        return save_result::saved;
    }

    /// How often the more worn slot has been erased. A save that was cut short before its header stood is not counted; a slot that had
    /// no header, on blank flash the second, begins as worn as the other.
    uint32_t erases() {
        const header a = read_header(0);
        const header b = read_header(1);
        return a.erases > b.erases ? a.erases : b.erases;
    }

private:
    static constexpr uint8_t none = 2;
    static constexpr size_t commit_size = 8;
    static constexpr size_t header_size = 24;

    struct header {
        uint32_t sequence;
        uint32_t erases;
        uint32_t size;
        uint32_t crc;
        bool is_whole;
    };

    header read_header(uint8_t slot) {
        uint8_t bytes[20];
        flash_.read(layout_.slots[slot] + commit_size, bytes, sizeof bytes);
        byte_reader from(bytes);
        header of = {};
        of.sequence = from.u32();
        of.erases = from.u32();
        of.size = from.u32();
        of.crc = from.u32();
        of.is_whole = of.size >= 1 && of.size <= layout_.slot_size - overhead;
        if (Guards::crc && crc32(bytes, 16) != from.u32()) of.is_whole = false;
        if (!of.is_whole) of.erases = 0;
        return of;
    }

    bool is_committed(uint32_t at) {
        uint8_t bytes[commit_size];
        flash_.read(at, bytes, commit_size);
        uint8_t ones = 0;
        for (const uint8_t byte : bytes) ones = static_cast<uint8_t>(ones | byte);
        return ones == 0;
    }

    uint32_t crc_of(uint32_t at, uint32_t size) {
        uint32_t crc = 0;
        while (size != 0) {
            const uint8_t most = 8;
            uint8_t bytes[most];
            const uint8_t part = size < most ? static_cast<uint8_t>(size) : most;
            flash_.read(at, bytes, part);
            crc = crc32(bytes, part, crc);
            at += part;
            size -= part;
        }
        return crc;
    }

    /// The slot with the newest complete content, or none.
    uint8_t newest_slot(header (&head)[2]) {
        uint8_t best = none;
        for (uint8_t slot = 0; slot < 2; ++slot) {
            const uint32_t at = layout_.slots[slot];
            head[slot] = read_header(slot);
            if (!head[slot].is_whole || (Guards::commit && !is_committed(at)) ||
                (Guards::crc && crc_of(at + overhead, head[slot].size) != head[slot].crc))
                continue;
            // as a difference, so that the count may pass 2^32
            if (best == none || static_cast<int32_t>(head[slot].sequence - head[best].sequence) > 0 || !Guards::newest_wins)
                best = slot;
        }
        return best;
    }

    /// Programs whole granules, the last one filled up with ones, and reads each back.
    bool write(uint32_t at, const uint8_t* from, size_t size) {
        for (size_t done = 0; done < size; done += layout_.granularity) {
            uint8_t granule[8];
            for (size_t i = 0; i < layout_.granularity; ++i) granule[i] = done + i < size ? from[done + i] : 0xFF;
            const uint32_t address = at + static_cast<uint32_t>(done);
            if (!flash_.program(address, granule, layout_.granularity)) return false;
            for (uint8_t i = 0; i < layout_.granularity; ++i) {
                uint8_t kept = 0;
                flash_.read(address + i, &kept, 1);
                if (kept != granule[i]) return false;
            }
        }
        return true;
    }

    bool commit(uint32_t at) {
        const uint8_t zeros[commit_size] = {};
        return write(at, zeros, commit_size);
    }

    Flash& flash_;
    store_layout layout_;
};

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
