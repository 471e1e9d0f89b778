#include <plumbline/capture/digest.hpp>

#include "regular_file.hpp"

#include <sodium.h>

#include <array>
#include <stdexcept>
#include <vector>

namespace plumbline::capture {

namespace {

class sha256 {
public:
    sha256() {
        if (sodium_init() < 0) {  // chooses the implementation for this CPU; harmless when repeated, safe from several threads
            throw std::runtime_error("libsodium: cannot be initialised");
        }
        crypto_hash_sha256_init(&state_);
    }

    void add(const char* data, std::size_t size) {
        crypto_hash_sha256_update(&state_, reinterpret_cast<const unsigned char*>(data), size);
    }

    std::string finish() {
        std::array<unsigned char, crypto_hash_sha256_BYTES> digest{};
        crypto_hash_sha256_final(&state_, digest.data());
        std::array<char, 2 * crypto_hash_sha256_BYTES + 1> hex{};
        return sodium_bin2hex(hex.data(), hex.size(), digest.data(), digest.size());
    }

private:
    crypto_hash_sha256_state state_{};
};

}  // namespace

std::string sha256_hex(std::string_view bytes) {
    sha256 hash;
    hash.add(bytes.data(), bytes.size());
    return hash.finish();
}

std::string sha256_of_file(const std::filesystem::path& file) {
    std::ifstream in = open_regular_file(file);
    std::vector<char> piece(std::size_t{1} << 16U);
    sha256 hash;
    while (const std::size_t got = read_piece(in, piece.data(), piece.size(), file)) {
        hash.add(piece.data(), got);
    }
    return hash.finish();
}

}  // namespace plumbline::capture
