#pragma once
// Little-endian numbers byte by byte: the same on every processor, aligned or not.

#include <stddef.h>
#include <stdint.h>

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// Takes numbers from bytes, one after the other. Does not know where they end: the caller has checked the size.
class byte_reader {
public:
    explicit byte_reader(const uint8_t* from) : at_(from) {}
    uint8_t u8() { return *at_++; }
    uint16_t u16() {
        const uint16_t low = u8();
        return static_cast<uint16_t>(low | (static_cast<uint16_t>(u8()) << 8));
    }
    uint32_t u32() {
        const uint16_t low = u16();
        return low | (static_cast<uint32_t>(u16()) << 16);
    }
    int16_t i16() { return static_cast<int16_t>(u16()); }
    int32_t i32() { return static_cast<int32_t>(u32()); }
    template <class Byte, size_t size>
    void fill(Byte (&to)[size]) {
        for (Byte& byte : to) byte = static_cast<Byte>(u8());
    }

private:
    const uint8_t* at_;
};

/// Puts numbers into bytes, one after the other. Does not know where they end.
class byte_writer {
public:
    explicit byte_writer(uint8_t* to) : at_(to) {}
    void u8(uint8_t value) { *at_++ = value; }
    void u16(uint16_t value) {
        u8(static_cast<uint8_t>(value & 0xFF));
        u8(static_cast<uint8_t>(value >> 8));
    }
    void u32(uint32_t value) {
        u16(static_cast<uint16_t>(value & 0xFFFF));
        u16(static_cast<uint16_t>(value >> 16));
    }
    void i16(int16_t value) { u16(static_cast<uint16_t>(value)); }
    void i32(int32_t value) { u32(static_cast<uint32_t>(value)); }
    template <class Byte, size_t size>
    void take(const Byte (&from)[size]) {
        for (const Byte byte : from) u8(static_cast<uint8_t>(byte));
    }

private:
    uint8_t* at_;
};

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
