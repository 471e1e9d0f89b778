#pragma once
// Definite-length blocks: how bytes of any value travel on a serial line. "#3380" and then 380 bytes.
// IEEE 488.2-1992, 7.7.6 (to the instrument) and 8.7.9 (from it); clause numbers from memory.

#include <stddef.h>
#include <stdint.h>

namespace plumbline {
inline namespace v0 {
namespace embedded {

/// Takes the front of a block character by character: '#', the number of digits, the digits of the size.
class block_header {
public:
    enum class state : uint8_t { incomplete, complete, refused };

    /// @param most  largest size that is accepted, below 2^28
    explicit block_header(uint32_t most) : most_(most) {}

    /// @return  complete after the last digit; refused for good if this is no block of definite length or it is too large
    state take(char c) {
        if (state_ != state::incomplete) return state_;
        const uint8_t digit = static_cast<uint8_t>(c - '0');
        if (!begun_) {
            begun_ = true;
            if (c != '#') state_ = state::refused;
        } else if (digits_ == 0) {
            digits_ = digit;
            if (digit == 0 || digit > 9) state_ = state::refused;  // #0 is a block of indefinite length
        } else {
            size_ = size_ * 10 + digit;
            if (digit > 9 || size_ > most_)
                state_ = state::refused;
            else if (--digits_ == 0)
                state_ = state::complete;
        }
        return state_;
    }

    /// Bytes that follow. @pre  take() returned complete
    uint32_t size() const { return size_; }

private:
    uint32_t most_;
    uint32_t size_ = 0;
    uint8_t digits_ = 0;
    bool begun_ = false;
    state state_ = state::incomplete;
};

/// Writes the front of a block of that many bytes, without a zero behind it.
/// @param to    at least 11 characters
/// @param size  below 10^9
/// @return  how many characters it is
inline size_t put_block_header(char* to, uint32_t size) {
    uint8_t digits = 1;
    for (uint32_t rest = size / 10; rest != 0; rest /= 10) ++digits;
    to[0] = '#';
    to[1] = static_cast<char>('0' + digits);
    for (uint8_t i = digits; i > 0; --i, size /= 10) to[1 + i] = static_cast<char>('0' + size % 10);
    return static_cast<size_t>(2 + digits);
}

}  // namespace embedded
}  // namespace v0
}  // namespace plumbline
