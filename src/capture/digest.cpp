#include <plumbline/capture/digest.hpp>

#include <sodium.h>

#include <array>
#include <stdexcept>

namespace plumbline::inline v0::capture {

std::string sha256_hex(std::string_view bytes) {
    if (sodium_init() < 0) {  // chooses the implementation for this CPU; harmless when repeated, safe from several threads
        throw std::runtime_error("libsodium: cannot be initialised");
    }
    std::array<unsigned char, crypto_hash_sha256_BYTES> digest{};
    crypto_hash_sha256(digest.data(), reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
    std::array<char, 2 * crypto_hash_sha256_BYTES + 1> hex{};
    return sodium_bin2hex(hex.data(), hex.size(), digest.data(), digest.size());
}

}  // namespace plumbline::inline v0::capture
