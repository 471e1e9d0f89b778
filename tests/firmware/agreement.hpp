#pragma once
// One scenario, compiled for the host and for every controller: what it prints must be the same, character by character.

#include "plumbline/embedded/image.hpp"
#include "plumbline/embedded/store.hpp"

namespace agreement {

namespace emb = plumbline::embedded;

/// xorshift32 (Marsaglia, 2003): small, and the same everywhere.
class random_bits {
public:
    explicit random_bits(uint32_t seed) : state_(seed) {}
    uint32_t next() {
        state_ ^= state_ << 13;
        state_ ^= state_ >> 17;
        state_ ^= state_ << 5;
        return state_;
    }
    uint16_t next16() { return static_cast<uint16_t>(next() >> 16); }
    uint32_t below(uint32_t end) { return next() % end; }

private:
    uint32_t state_;
};

/// FNV-1a over words: one wrong bit of one value changes it.
class hash {
public:
    void add(uint32_t word) { value_ = (value_ ^ word) * UINT32_C(16777619); }
    uint32_t value() const { return value_; }

private:
    uint32_t value_ = UINT32_C(2166136261);
};

/// A page of memory that behaves like flash.
class flash_in_ram {
public:
    flash_in_ram() {
        for (uint8_t& cell : cells_) cell = 0xFF;
    }
    void read(uint32_t address, uint8_t* to, size_t size) {
        for (size_t i = 0; i < size; ++i) to[i] = cells_[static_cast<size_t>(address) + i];
    }
    bool program(uint32_t address, const uint8_t* from, size_t size) {
        for (size_t i = 0; i < size; ++i) {
            uint8_t& cell = cells_[static_cast<size_t>(address) + i];
            cell = static_cast<uint8_t>(cell & from[i]);
        }
        return --power_ != 0;
    }
    bool erase(uint32_t address) {
        for (size_t i = 0; i < 256; ++i) cells_[static_cast<size_t>(address) + i] = 0xFF;
        return --power_ != 0;
    }
    /// The flash fails in that step.
    void fail_after(uint16_t steps) { power_ = steps; }
    void add_to(hash& sum) const {
        for (const uint8_t cell : cells_) sum.add(cell);
    }

private:
    uint8_t cells_[512];
    uint16_t power_ = 0;
};

/// A 12-bit range of either polarity, from 0.3 millivolts to 1000 volts.
inline emb::range random_range(random_bits& bits) {
    const int32_t gain = static_cast<int32_t>(bits.next()) >> (13 + bits.below(12));
    const int32_t offset = (static_cast<int32_t>(bits.next()) >> 12) - gain * static_cast<int32_t>(bits.below(4096));
    emb::range made = {1, 0, 3, {'B', ' ', '1', '0', ' ', 'V'}, {gain, offset, bits.next16(), bits.next16(), 1, 4094}, {}};
    made.uncertainty.floor = 1 + (bits.next() >> 8);
    made.uncertainty.slope = bits.next() >> 6;
    made.uncertainty.centre = static_cast<int32_t>(bits.next()) >> 8;
    made.uncertainty.noise = bits.next() >> 8;
    made.uncertainty.most_samples = static_cast<uint16_t>(1 + (bits.next16() >> 4));
    made.uncertainty.per_kelvin = {bits.next() >> 16, bits.next() >> 12};
    made.uncertainty.per_year = {bits.next() >> 14, bits.next() >> 10};
    return made;
}

inline emb::identity any_identity() {
    emb::identity of = {};
    of.serial[0] = '7';
    of.digest[31] = 0xA5;
    of.coverage = 9545;
    of.ranges = 1;
    of.holds = {9191, 9556, 2310, 1500, 3500};
    return of;
}

/// Every code of a 12-bit converter, one by one and in blocks.
inline uint32_t every_code(const emb::correction& by) {
    hash sum;
    for (uint16_t begin = 0; begin < 4096; begin = static_cast<uint16_t>(begin + 64)) {
        uint16_t codes[64];
        int32_t microvolts[64];
        for (uint16_t i = 0; i < 64; ++i) codes[i] = static_cast<uint16_t>(begin + i);
        sum.add(static_cast<uint32_t>(emb::correct(by, codes, 64, microvolts)));
        for (uint16_t i = 0; i < 64; ++i) {
            sum.add(static_cast<uint32_t>(microvolts[i]));
            if (emb::correct(by, codes[i]) != microvolts[i]) return 0;
        }
    }
    return sum.value();
}

inline uint32_t readings(const emb::range& by, const emb::validity& holds, random_bits& bits) {
    hash sum;
    for (uint8_t i = 0; i < 16; ++i) {
        const uint16_t n = static_cast<uint16_t>(i == 0 ? 65535 : 1 + bits.below(1000));
        const emb::samples of(n + bits.below(UINT32_C(4093) * n), n, i == 5);
        const emb::conditions now = {static_cast<uint16_t>(i == 6 ? 4 : 3), static_cast<int16_t>(1400 + bits.below(2200)),
                                     static_cast<uint16_t>(9180 + bits.below(400))};
        const emb::reading r = emb::read(by, holds, now, of);
        sum.add(static_cast<uint32_t>(r.microvolts));
        sum.add(r.plus_or_minus);
        sum.add(static_cast<uint32_t>(r.what));
    }
    return sum.value();
}

/// Encodes, breaks, checks, stores and loads an image; the hash is over every byte and every answer.
inline uint32_t image_and_store(const emb::range& one, random_bits& bits) {
    hash sum;
    uint8_t image[192];
    const size_t size = emb::encode(any_identity(), &one, image, sizeof image);
    sum.add(static_cast<uint32_t>(size));
    for (size_t i = 0; i < size; ++i) sum.add(image[i]);
    for (uint8_t i = 0; i < 8; ++i) {
        uint8_t& byte = image[bits.below(188)];
        const uint8_t before = byte;
        byte = static_cast<uint8_t>(byte ^ (1 << (i & 7)));
        sum.add(static_cast<uint32_t>(emb::check(image, size)));
        byte = before;
    }
    sum.add(static_cast<uint32_t>(emb::check(image, size)));

    flash_in_ram flash;
    emb::store<flash_in_ram> slots(flash, {{0, 256}, 256, 256, static_cast<uint8_t>(1 << bits.below(4))});
    for (uint8_t i = 0; i < 5; ++i) {
        if (i == 3) flash.fail_after(static_cast<uint16_t>(1 + bits.below(30)));
        sum.add(static_cast<uint32_t>(slots.save(image, size - i)));
        uint8_t loaded[192];
        sum.add(static_cast<uint32_t>(slots.load(loaded, sizeof loaded)));
        flash.add_to(sum);
    }
    sum.add(slots.erases());
    return sum.value();
}

inline char* put_hexadecimal(char* to, uint32_t value) {
    *to++ = ' ';
    for (uint8_t shift = 32; shift > 0; shift = static_cast<uint8_t>(shift - 4)) {
        const uint8_t digit = static_cast<uint8_t>((value >> (shift - 4)) & 15);
        *to++ = static_cast<char>(digit < 10 ? '0' + digit : 'A' + digit - 10);
    }
    return to;
}

/// A line for each of `count` random corrections, then the word "done".
/// @param print  called with each line, which ends with a line feed and a zero
template <class Print>
void run(uint16_t count, Print print) {
    random_bits bits(20250301);
    for (uint16_t i = 0; i < count; ++i) {
        const emb::range one = random_range(bits);
        char line[48] = "=";
        char* end = put_hexadecimal(line + 1, i);
        end = put_hexadecimal(end, every_code(one.line));
        end = put_hexadecimal(end, readings(one, any_identity().holds, bits));
        if (i % 16 == 0) end = put_hexadecimal(end, image_and_store(one, bits));
        end[0] = '\n';
        end[1] = 0;
        print(line);
    }
    print("= done\n");
}

}  // namespace agreement
