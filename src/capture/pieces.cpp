#include <plumbline/capture/pieces.hpp>

#include <plumbline/error.hpp>

#include "csv_lines.hpp"
#include "regular_file.hpp"

#include <sodium.h>

#include <array>
#include <filesystem>
#include <istream>
#include <memory>
#include <vector>

namespace plumbline::inline v0::capture {

namespace {

constexpr std::size_t piece_bytes = std::size_t{1} << 20U;

/// SHA-256 of bytes as they come.
class running_digest {
public:
    running_digest() { crypto_hash_sha256_init(&state_); }
    void add(const std::vector<char>& bytes, std::size_t count) {
        crypto_hash_sha256_update(&state_, reinterpret_cast<const unsigned char*>(bytes.data()), count);
    }
    [[nodiscard]] std::string hex() {
        std::array<unsigned char, crypto_hash_sha256_BYTES> digest{};
        crypto_hash_sha256_final(&state_, digest.data());
        std::array<char, 2 * crypto_hash_sha256_BYTES + 1> text{};
        sodium_bin2hex(text.data(), text.size(), digest.data(), digest.size());
        return text.data();
    }

private:
    crypto_hash_sha256_state state_;
};

void append_16_bits(std::vector<std::int32_t>& to, const std::vector<char>& bytes, std::size_t count, bool is_signed) {
    to.resize(count / 2);
    for (std::size_t i = 0; i < count / 2; ++i) {
        const auto low = static_cast<unsigned char>(bytes[2 * i]);
        const auto high = static_cast<unsigned char>(bytes[2 * i + 1]);
        const auto both = static_cast<std::uint16_t>(low | high << 8U);
        to[i] = is_signed ? static_cast<std::int16_t>(both) : both;
    }
}

pieces_read read_all(std::istream& in, const std::string& name, std::optional<std::uint64_t> size, const piece_layout& layout,
                     const piece_taker& take, const progress_listener& report) {
    pieces_read all;
    running_digest digest;
    std::vector<char> bytes(piece_bytes);
    std::vector<std::int32_t> binary;
    const bool text = layout.format == code_format::csv;
    const std::unique_ptr<csv_lines> lines = text ? make_csv_lines(name, layout.column) : nullptr;
    for (bool more = true; more;) {
        in.read(bytes.data(), static_cast<std::streamsize>(piece_bytes));
        if (in.bad())
            throw bad_input(name, "found data that cannot be read on", "a readable capture", "check its disk or its sender");
        const auto count = static_cast<std::size_t>(in.gcount());
        more = count == piece_bytes;
        digest.add(bytes, count);
        all.bytes += count;
        if (text) {
            lines->feed({bytes.data(), count}, !more);
        } else {
            if (count % 2 != 0) {
                throw bad_input(name, "found " + std::to_string(all.bytes) + " bytes",
                                "an even number, two for each 16-bit sample",
                                "the capture is cut off: capture it again, or remove its last byte");
            }
            append_16_bits(binary, bytes, count, layout.format == code_format::signed_16_little_endian);
        }
        std::vector<std::int32_t>& codes = text ? lines->codes() : binary;
        if (!codes.empty()) take(codes);
        all.samples += codes.size();
        codes.clear();
        if (report && count > 0) report({all.bytes, size, all.samples});
    }
    if (all.samples == 0) {
        throw bad_input(name, all.bytes == 0 ? "found no data" : "found no codes", "a capture", "export the capture again");
    }
    if (size && *size != all.bytes) {
        throw bad_input(name, "found a file that grows or shrinks while it is read", "a finished capture",
                        "end the capture first");
    }
    if (text) all.sample_rate = lines->sample_rate();
    all.sha256 = digest.hex();
    return all;
}

}  // namespace

pieces_read read_pieces(const std::string& file, const piece_layout& layout, const piece_taker& take,
                        const progress_listener& report) {
    std::ifstream in = open_regular_file(file);
    return read_all(in, file, std::filesystem::file_size(file), layout, take, report);
}

pieces_read read_pieces(std::istream& in, const std::string& name, const piece_layout& layout, const piece_taker& take,
                        const progress_listener& report) {
    return read_all(in, name, {}, layout, take, report);
}

}  // namespace plumbline::inline v0::capture
