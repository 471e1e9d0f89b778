// Memory of a capture read in pieces does not grow with it: the bytes that this program has from the heap are counted.

#include <doctest/doctest.h>
#include <malloc.h>
#include <algorithm>
#include <array>
#include <cstdlib>
#include <istream>
#include <new>
#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/pieces.hpp>
#include <streambuf>

namespace {
std::size_t in_use = 0;
std::size_t peak = 0;
}  // namespace

// not inlined: g++ warns of free() where it sees that the memory came from operator new
[[gnu::noinline]] void* operator new(std::size_t size) {
    void* p = std::malloc(size == 0 ? 1 : size);
    if (p == nullptr) throw std::bad_alloc();
    in_use += malloc_usable_size(p);
    peak = std::max(peak, in_use);
    return p;
}
[[gnu::noinline]] void operator delete(void* p) noexcept {
    if (p != nullptr) in_use -= malloc_usable_size(p);
    std::free(p);
}
[[gnu::noinline]] void operator delete(void* p, std::size_t) noexcept { operator delete(p); }

namespace {

using namespace plumbline;

/// So many 16-bit samples, 30000 to 30255 over and over, made as they are read.
class endless : public std::streambuf {
public:
    explicit endless(std::uint64_t samples) : left_(samples) {
        for (std::size_t i = 0; i < block.size() / 2; ++i) {
            const auto code = static_cast<std::uint16_t>(30000 + i % 256);
            block[2 * i] = static_cast<char>(code & 0xffU);
            block[2 * i + 1] = static_cast<char>(code >> 8U);
        }
    }
    int_type underflow() override {
        const auto count = static_cast<std::size_t>(std::min<std::uint64_t>(left_, block.size() / 2));
        if (count == 0) return traits_type::eof();
        left_ -= count;
        setg(block.data(), block.data(), block.data() + 2 * count);
        return traits_type::to_int_type(block[0]);
    }

private:
    std::uint64_t left_;
    std::array<char, 65536> block{};
};

/// Bytes from the heap at most, while so many samples are read and summed up.
std::size_t peak_of(std::uint64_t samples, bool spectrum) {
    endless source(samples);
    std::istream in(&source);
    const std::size_t before = in_use;
    peak = in_use;
    capture::one_pass seen(0, 65535, 1e6 * hertz, spectrum);
    const auto read = capture::read_pieces(in, "made", {capture::code_format::unsigned_16_little_endian, ""},
                                           [&](std::span<const std::int32_t> piece) { seen.add(piece); });
    const capture::one_pass_statistics st = seen.statistics();
    CHECK(read.samples == samples);
    CHECK(st.n == samples);
    CHECK(st.mean.value() == 30127.5);
    const double n = static_cast<double>(samples);
    CHECK(std::abs(st.s.value() - std::sqrt(65535.0 / 12.0 * n / (n - 1.0))) <= 1e-12 * st.s.value());
    return peak - before;
}

constexpr std::size_t mib = std::size_t{1} << 20U;

TEST_CASE("what is taken from the heap is counted") {
    peak = in_use;
    const std::size_t before = in_use;
    {
        const std::vector<char> some(3 * mib);
        CHECK(in_use >= before + 3 * mib);
    }
    CHECK(in_use == before);
    CHECK(peak >= before + 3 * mib);
}

TEST_CASE("two million samples take at most 10 MiB, five million no more") {
    const std::size_t two = peak_of(2'000'128, true);
    CHECK(two <= 10 * mib);
    CHECK(peak_of(5'000'192, true) <= two + mib / 16);
    MESSAGE("peak " << two);
}

TEST_CASE("long: 10^8 samples take at most 10 MiB" * doctest::skip()) {
    const std::size_t all = peak_of(100'000'000 / 256 * 256, false);
    CHECK(all <= 10 * mib);
    MESSAGE("peak " << all);
}

}  // namespace
