#pragma once
// CRC-32 without a table: a table of constants would lie in RAM on an 8-bit controller, and an image is checked once per start.

#include <stddef.h>
#include <stdint.h>

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// CRC-32 of IEEE 802.3, 3.2.9: polynomial 0x04C11DB7, bits of a byte from the lowest, register starts as ones and is inverted at
/// the end. "123456789" gives 0xCBF43926. Finds any one and two wrong bits of whatever fits into flash.
/// @param before  CRC of the bytes that precede these
inline uint32_t crc32(const uint8_t* bytes, size_t size, uint32_t before = 0) {
    uint32_t rest = ~before;
    for (const uint8_t* const end = bytes + size; bytes != end; ++bytes) {
        rest ^= *bytes;
        for (uint8_t bit = 0; bit < 8; ++bit) rest = (rest >> 1) ^ (UINT32_C(0xEDB88320) & (0 - (rest & 1)));
    }
    return ~rest;
}

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
