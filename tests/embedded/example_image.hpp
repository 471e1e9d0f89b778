#pragma once
// An invented image: a pocket scope whose channels serve modular synthesisers (10 V) and an off-grid solar shed (20 V).

#include <plumbline/embedded/image.hpp>

#include <cstddef>
#include <cstdint>
#include <vector>

namespace example_image {

namespace emb = plumbline::embedded;

inline emb::identity identity(std::uint8_t ranges = 4) {
    emb::identity of = {"Pocket Scope 2", "PS2-0007", "PS2-0007-2025-03", {}, 9545, ranges, {9191, 9556, 2310, 1500, 3500}};
    for (std::size_t i = 0; i < sizeof of.digest; ++i) of.digest[i] = static_cast<std::uint8_t>(37 * i + 11);
    return of;
}

inline std::vector<emb::range> ranges() {
    std::vector<emb::range> all;
    for (std::uint8_t channel = 0; channel < 2; ++channel) {
        for (std::uint8_t number = 0; number < 2; ++number) {
            emb::range one = {channel, number, 3, "A 10 V", {}, {}};
            one.name[0] = static_cast<char>('A' + channel);
            one.name[2] = static_cast<char>('1' + number);
            one.line =
                emb::make_correction((INT64_C(5012) << 16) + 12345 + channel, -(INT64_C(10264583) << 16) + 777 + number, 1, 4094);
            if (number == 1) one.line.gain *= 2;
            one.uncertainty = {16 * 2800, 4300000, -150000, 16 * 5100, 400, {16 * 90 + 1, 214748}, {16 * 450 + 2, 858993}};
            all.push_back(one);
        }
    }
    return all;
}

inline std::vector<std::uint8_t> bytes(std::uint8_t count = 4) {
    std::vector<std::uint8_t> image(emb::image_size(count));
    image.resize(emb::encode(identity(count), ranges().data(), image.data(), image.size()));
    return image;
}

}  // namespace example_image
