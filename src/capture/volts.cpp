#include <plumbline/capture/volts.hpp>

#include <plumbline/error.hpp>

#include "kernels/kernels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace plumbline::inline v0::capture {

namespace {

constexpr std::size_t past_the_caches = std::size_t{16} << 20U;  // bytes written; of the order of a processor's last cache

void expect_sound_figures(const code_to_volts& by, bool with_u) {
    const auto finite = [](double figure, const char* name) {
        if (std::isfinite(figure)) return;
        throw bad_input("codes to volts", fmt::format("{} of {}", name, figure), "a finite figure",
                        "take them from a solved calibration");
    };
    finite(by.line.gain.value(), "a gain");
    finite(by.line.offset.value(), "an offset");
    if (by.below) {
        finite(by.below->gain.value(), "a gain");
        finite(by.below->offset.value(), "an offset");
        finite(by.knee.value(), "a knee");
    }
    if (!with_u) return;
    finite(by.u.a, "a");
    finite(by.u.c, "c");
    finite(by.u.centre.value(), "a centre");
    if (by.u.a < 0.0 || by.u.c < 0.0) {
        throw bad_input("codes to volts", fmt::format("a of {} and c of {}", by.u.a, by.u.c), "neither below 0",
                        "take them from a solved calibration");
    }
}

kernel_detail::volt_terms terms_of(const code_to_volts& by) {
    const auto single = [](double x) { return static_cast<float>(x); };
    const code_line below = by.below.value_or(by.line);
    return {single(by.line.gain.value()),
            single(by.line.offset.value()),
            single(below.gain.value()),
            single(below.offset.value()),
            by.below ? single(by.knee.value()) : -std::numeric_limits<float>::infinity(),
            single(by.u.a),
            single(by.u.c),
            single(by.u.centre.value())};
}

template <class Code, class Kernel>
void convert(std::span<const Code> of, const code_to_volts& by, std::span<float> volts, std::span<float> U, bool with_u,
             Kernel kernel_detail::kernels::*kernel) {
    if (volts.size() != of.size() || (with_u && U.size() != of.size())) {
        throw bad_input(
            "codes to volts",
            fmt::format("room for {} results of {} codes", with_u ? std::min(volts.size(), U.size()) : volts.size(), of.size()),
            "as many as codes", "give memory for each code");
    }
    expect_sound_figures(by, with_u);
    if (of.empty()) return;
    const bool past = of.size() * sizeof(float) * (with_u ? 2 : 1) >= past_the_caches;
    (kernel_detail::chosen_kernels().*kernel)(of.data(), of.size(), terms_of(by), volts.data(), with_u ? U.data() : nullptr,
                                              past);
}

}  // namespace

void to_volts(std::span<const std::uint16_t> of, const code_to_volts& by, std::span<float> volts) {
    convert(of, by, volts, {}, false, &kernel_detail::kernels::volts_of_unsigned);
}
void to_volts(std::span<const std::int16_t> of, const code_to_volts& by, std::span<float> volts) {
    convert(of, by, volts, {}, false, &kernel_detail::kernels::volts_of_signed);
}
void to_volts(std::span<const std::int32_t> of, const code_to_volts& by, std::span<float> volts) {
    convert(of, by, volts, {}, false, &kernel_detail::kernels::volts_of_wide);
}
void to_volts(std::span<const std::uint16_t> of, const code_to_volts& by, std::span<float> volts, std::span<float> U) {
    convert(of, by, volts, U, true, &kernel_detail::kernels::volts_of_unsigned);
}
void to_volts(std::span<const std::int16_t> of, const code_to_volts& by, std::span<float> volts, std::span<float> U) {
    convert(of, by, volts, U, true, &kernel_detail::kernels::volts_of_signed);
}
void to_volts(std::span<const std::int32_t> of, const code_to_volts& by, std::span<float> volts, std::span<float> U) {
    convert(of, by, volts, U, true, &kernel_detail::kernels::volts_of_wide);
}

}  // namespace plumbline::inline v0::capture
