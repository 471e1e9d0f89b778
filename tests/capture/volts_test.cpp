#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <limits>
#include <message.hpp>
#include <plumbline/capture/volts.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <string>
#include <vector>

namespace volts_test {

using namespace plumbline;
using capture::code_to_volts;
using capture::to_volts;
using refused::message;

namespace {

/// A range of +-10 V on 12 bits with a slope of its own below the knee; U of 5 mV in the middle.
code_to_volts two_lines() {
    code_to_volts by;
    by.line = {volts_per_code::from_value(5.01e-3), -10.25 * volt};
    by.below = capture::code_line{volts_per_code::from_value(5.02e-3), -10.27046 * volt};
    by.knee = 2046.0 * code;
    by.u = {25e-6, 1e-6, 0.1 * volt};
    return by;
}

double volts_of(double c, const code_to_volts& by) {
    const capture::code_line& line = by.below && c < by.knee.value() ? *by.below : by.line;
    return line.offset.value() + line.gain.value() * c;
}

template <class Code>
std::vector<Code> some_codes(std::size_t n, int from, int step) {
    std::vector<Code> all(n);
    for (std::size_t i = 0; i < n; ++i) all[i] = static_cast<Code>(from + static_cast<int>(i) * step % 4096);
    return all;
}

struct results {
    std::vector<float> volts, alone, U;
    friend bool operator==(const results&, const results&) = default;
};

template <class Code>
results converted(const std::vector<Code>& of, const code_to_volts& by) {
    results r{std::vector<float>(of.size()), std::vector<float>(of.size()), std::vector<float>(of.size())};
    to_volts(std::span<const Code>(of), by, r.volts, r.U);
    to_volts(std::span<const Code>(of), by, r.alone);
    return r;
}

template <class Code>
void check(std::size_t n, int from, const code_to_volts& by) {
    const std::vector<Code> of = some_codes<Code>(n, from, 7);
    const results r = converted(of, by);
    bool right = true;
    for (std::size_t i = 0; i < n; ++i) {
        const double v = volts_of(static_cast<double>(of[i]), by);
        const double u = std::sqrt(by.u.a + by.u.c * std::pow(v - by.u.centre.value(), 2));
        right = right && std::abs(static_cast<double>(r.volts[i]) - v) <= 2e-7 * (std::abs(v + 10.0) + 10.5) &&
                std::abs(static_cast<double>(r.U[i]) / u - 1.0) <= 1e-5 && r.alone[i] == r.volts[i];
    }
    CAPTURE(n);
    CHECK(right);
}

}  // namespace

TEST_CASE("codes of each width become the volts of the line on their side of the knee, with the compact form's U") {
    code_to_volts one = two_lines();
    one.below.reset();
    for (const code_to_volts& by : {two_lines(), one}) {
        for (const std::size_t n : {1U, 3U, 4U, 15U, 16U, 17U, 1000U, 5001U}) {
            check<std::uint16_t>(n, 0, by);
            check<std::int16_t>(n, -2048, by);
            check<std::int32_t>(n, -70'000, by);
        }
    }
}

TEST_CASE("codes from end to end of 16 bits keep their sign, wherever the results begin in memory") {
    constexpr std::size_t n = 65'536;
    std::vector<std::uint16_t> unsigned_codes(n);
    std::vector<std::int16_t> signed_codes(n);
    std::vector<std::int32_t> wide(n), wide_signed(n);
    for (std::size_t i = 0; i < n; ++i) {
        unsigned_codes[i] = static_cast<std::uint16_t>(i);
        signed_codes[i] = static_cast<std::int16_t>(static_cast<int>(i) - 32'768);
        wide[i] = static_cast<std::int32_t>(i);
        wide_signed[i] = static_cast<std::int32_t>(i) - 32'768;
    }
    const results right = converted(wide, two_lines());
    const results right_signed = converted(wide_signed, two_lines());
    const auto same_at = [n](auto codes, const results& as, std::size_t v_from, std::size_t u_from) {
        std::vector<float> volts(n + 40, 77.0F), U(n + 40, 77.0F);
        to_volts(codes, two_lines(), std::span(volts).subspan(v_from, n), std::span(U).subspan(u_from, n));
        const auto as_in = [](const std::vector<float>& found, const std::vector<float>& wanted, std::size_t from) {
            return std::equal(wanted.begin(), wanted.end(), found.begin() + static_cast<std::ptrdiff_t>(from)) &&
                   found[from + wanted.size()] == 77.0F && (from == 0 || found[from - 1] == 77.0F);
        };
        return as_in(volts, as.volts, v_from) && as_in(U, as.U, u_from);
    };
    for (std::size_t from = 0; from < 17; ++from) {
        CAPTURE(from);
        CHECK(same_at(std::span<const std::uint16_t>(unsigned_codes), right, from, from));
        CHECK(same_at(std::span<const std::int16_t>(signed_codes), right_signed, from, from / 2));
    }
}

TEST_CASE("what is written past the caches is the same, and nothing beside it is touched") {
    const std::size_t n = (std::size_t{16} << 20U) / sizeof(float) + 13;
    const std::vector<std::uint16_t> of = some_codes<std::uint16_t>(n, 0, 7);
    for (const std::size_t shift : {0U, 1U, 3U}) {
        std::vector<float> volts(n + 8, 77.0F);
        to_volts(std::span<const std::uint16_t>(of), two_lines(), std::span(volts).subspan(shift, n));
        bool same = true;
        std::vector<float> few(1000);
        for (std::size_t from = 0; from + 1000 <= n; from += 100'000) {
            to_volts(std::span<const std::uint16_t>(of).subspan(from, 1000), two_lines(), few);
            same = same && std::equal(few.begin(), few.end(), volts.begin() + static_cast<std::ptrdiff_t>(from + shift));
        }
        CHECK(same);
        CHECK(static_cast<double>(volts[n + shift - 1]) ==
              doctest::Approx(volts_of(of[n - 1], two_lines())).epsilon(1e-6).scale(0));
        CHECK(volts[n + shift] == 77.0F);
        if (shift > 0) CHECK(volts[shift - 1] == 77.0F);
    }
}

TEST_CASE("each instruction set gives the same bits") {
    const auto of = some_codes<std::uint16_t>(10'003, 0, 7);
    const auto wide = some_codes<std::int32_t>(10'003, -2048, 7);
    const auto with_sign = some_codes<std::int16_t>(10'003, -2048, 7);
    const char* before = std::getenv("PLUMBLINE_INSTRUCTION_SET");
    const std::string kept = before == nullptr ? "" : before;
    std::vector<results> all;
    for (const std::string& set : uncertainty::instruction_sets()) {
        setenv("PLUMBLINE_INSTRUCTION_SET", set.c_str(), 1);
        all.push_back(converted(of, two_lines()));
        CHECK(all.back() == all.front());
        CHECK(converted(with_sign, two_lines()) == converted(wide, two_lines()));
        CHECK(converted(wide, two_lines()).volts.front() == static_cast<float>(volts_of(-2048.0, two_lines())));
    }
    before == nullptr ? unsetenv("PLUMBLINE_INSTRUCTION_SET") : setenv("PLUMBLINE_INSTRUCTION_SET", kept.c_str(), 1);
    CHECK(all.size() >= 1);
}

TEST_CASE("too little room and figures that are none are refused, and nothing is written") {
    const std::vector<std::uint16_t> of(10, 5);
    std::vector<float> volts(10, 77.0F);
    std::vector<float> nine(9, 77.0F);
    const std::span<const std::uint16_t> codes_of(of);
    CHECK(message([&] { to_volts(codes_of, two_lines(), nine); }) ==
          "codes to volts: room for 9 results of 10 codes, expected as many as codes; give memory for each code");
    CHECK(message([&] { to_volts(codes_of, two_lines(), volts, nine); }) ==
          "codes to volts: room for 9 results of 10 codes, expected as many as codes; give memory for each code");
    code_to_volts bad = two_lines();
    bad.below->gain = volts_per_code::from_value(std::numeric_limits<double>::quiet_NaN());
    CHECK(message([&] { to_volts(codes_of, bad, volts); }) ==
          "codes to volts: a gain of nan, expected a finite figure; take them from a solved calibration");
    bad = two_lines();
    bad.u.c = -1e-9;
    CHECK(message([&] { to_volts(codes_of, bad, volts, volts); }) ==
          "codes to volts: a of 2.5e-05 and c of -1e-09, expected neither below 0; take them from a solved calibration");
    CHECK(volts == std::vector<float>(10, 77.0F));
    to_volts(std::span<const std::uint16_t>(), two_lines(), std::span<float>());
}

}  // namespace volts_test
