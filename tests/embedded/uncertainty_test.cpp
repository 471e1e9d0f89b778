#include <plumbline/embedded/uncertainty.hpp>

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>

namespace uncertainty_test {

namespace emb = plumbline::embedded;

namespace {

emb::uncertainty_form flat(std::uint32_t floor) {
    emb::uncertainty_form form = {};
    form.floor = floor;
    form.most_samples = 1;
    return form;
}

/// The formula of the header, term by term in long double, in microvolts.
long double exact(const emb::uncertainty_form& form, std::int32_t v, std::uint16_t n, std::uint16_t kelvin, std::uint16_t days) {
    const long double d = std::fabs(static_cast<long double>(v) - form.centre);
    const long double dT = kelvin / 100.0L;
    const long double t = days / 365.0L;
    const auto floor = [](std::uint32_t sixteenths) { return sixteenths / 16.0L; };
    const auto slope = [](std::uint32_t root) { return std::ldexp(static_cast<long double>(root), -32); };
    const long double terms[] = {floor(form.floor),
                                 slope(form.slope) * d,
                                 floor(form.noise) / std::sqrt(static_cast<long double>(std::min(n, form.most_samples))),
                                 floor(form.per_kelvin.floor) * dT,
                                 slope(form.per_kelvin.slope) * dT * d,
                                 floor(form.per_year.floor) * t,
                                 slope(form.per_year.slope) * t * d};
    long double sum = 0.0L;
    for (const long double term : terms) sum += term * term;
    return std::sqrt(sum);
}

}  // namespace

TEST_CASE("root_up is the smallest number whose square is no less") {
    const auto holds = [](std::uint64_t x) {
        const std::uint64_t r = emb::root_up(x);
        return r * r >= x && (r == 0 || (r - 1) * (r - 1) < x);
    };
    for (std::uint64_t x = 0; x < 100000; ++x) REQUIRE(holds(x));
    std::mt19937_64 bits(1);
    for (int i = 0; i < 200000; ++i) {
        const std::uint64_t r = (bits() & 0xFFFFFFFF) >> (bits() % 32);
        REQUIRE(holds(r * r));
        if (r < 0xFFFFFFFF) REQUIRE(holds(r * r + 1));
        if (r > 0) REQUIRE(holds(r * r - 1));
    }
    CHECK(emb::root_up(UINT64_C(0xFFFFFFFE00000001)) == 0xFFFFFFFF);
}

TEST_CASE("quotient_up is the smallest number that times the divisor is no less") {
    std::mt19937_64 bits(2);
    for (int i = 0; i < 200000; ++i) {
        const std::uint64_t x = bits() >> (bits() % 64);
        const auto n = static_cast<std::uint16_t>(1 + bits() % (i % 2 == 0 ? 65535 : 20));
        REQUIRE(emb::quotient_up(x, n) == x / n + (x % n != 0 ? 1 : 0));
    }
    CHECK(emb::quotient_up(std::numeric_limits<std::uint64_t>::max(), 1) == std::numeric_limits<std::uint64_t>::max());
    CHECK(emb::quotient_up(std::numeric_limits<std::uint64_t>::max(), 65535) == UINT64_C(0x1000100010001));
    CHECK(emb::quotient_up(0, 7) == 0);
}

TEST_CASE("the plus-or-minus is never below the exact value and above it by less than the stated bound") {
    std::mt19937_64 bits(5);
    const auto up_to = [&](int most_bits) {
        return static_cast<std::uint32_t>((bits() >> 32) >> (32 - most_bits + static_cast<int>(bits() % 12)));
    };
    long double largest = 0.0L;
    for (int i = 0; i < 300000; ++i) {
        emb::uncertainty_form form = {};
        form.floor = up_to(24);
        form.slope = up_to(26);  // up to 1.6 %
        form.centre = static_cast<std::int32_t>(bits()) >> (bits() % 20);
        form.noise = up_to(24);
        form.most_samples = static_cast<std::uint16_t>(1 + up_to(15));
        form.per_kelvin = {up_to(16), up_to(20)};
        form.per_year = {up_to(20), up_to(24)};
        const auto v = static_cast<std::int32_t>(bits()) >> (bits() % 20);
        const auto n = static_cast<std::uint16_t>(1 + up_to(15));
        const auto kelvin = static_cast<std::uint16_t>(up_to(13));
        const auto days = static_cast<std::uint16_t>(up_to(12));
        const long double U = exact(form, v, n, kelvin, days);
        const long double excess = emb::plus_or_minus(form, v, n, kelvin, days) - U;
        const long double distance = std::fabs(static_cast<long double>(v) - form.centre);
        REQUIRE(excess >= -1e-9L);  // of the comparison's own rounding
        REQUIRE(excess < 1.14L + std::ldexp(distance, -31));
        largest = std::max(largest, excess);
    }
    CHECK(largest > 1.0L);
}

TEST_CASE("without slope, noise and growth the plus-or-minus is the floor, rounded up to a microvolt") {
    CHECK(emb::plus_or_minus(flat(16 * 250), 0, 1, 0, 0) == 250);
    CHECK(emb::plus_or_minus(flat(16 * 250 + 1), 0, 1, 0, 0) == 251);
    CHECK(emb::plus_or_minus(flat(0), 5, 1, 0, 0) == 0);
}

TEST_CASE("the noise of a mean falls with the root of the samples and stops where more do not help") {
    emb::uncertainty_form form = flat(0);
    form.noise = 16 * 6400;
    form.most_samples = 256;
    CHECK(emb::plus_or_minus(form, 0, 1, 0, 0) == 6400);
    CHECK(emb::plus_or_minus(form, 0, 4, 0, 0) == 3200);
    CHECK(emb::plus_or_minus(form, 0, 256, 0, 0) == 400);
    CHECK(emb::plus_or_minus(form, 0, 1024, 0, 0) == 400);
    CHECK(emb::plus_or_minus(form, 0, 65535, 0, 0) == 400);
}

TEST_CASE("the slope counts from the centre alike in both directions, over all of 32 bits") {
    emb::uncertainty_form form = flat(0);
    form.slope = 1U << 22;  // 2^-10
    form.centre = -1024 * 1000;
    CHECK(emb::plus_or_minus(form, -1024 * 1000, 1, 0, 0) == 0);
    CHECK(emb::plus_or_minus(form, 1024 * 4000, 1, 0, 0) == 5000);
    CHECK(emb::plus_or_minus(form, -1024 * 6000, 1, 0, 0) == 5000);
    form.centre = std::numeric_limits<std::int32_t>::min();
    CHECK(emb::plus_or_minus(form, std::numeric_limits<std::int32_t>::max(), 1, 0, 0) == 1U << 22);
    form.centre = std::numeric_limits<std::int32_t>::max();
    CHECK(emb::plus_or_minus(form, std::numeric_limits<std::int32_t>::min(), 1, 0, 0) == 1U << 22);
}

TEST_CASE("growth is per kelvin and per year of 365 days, of the floor and of the slope") {
    emb::uncertainty_form form = flat(0);
    form.per_kelvin.floor = 16 * 10;
    CHECK(emb::plus_or_minus(form, 0, 1, 750, 0) == 75);
    form.per_kelvin = {0, 1U << 12};  // 2^-20 per kelvin
    CHECK(emb::plus_or_minus(form, 1 << 20, 1, 750, 0) == 8);
    form.per_kelvin = {0, 0};
    form.per_year.floor = 16 * 100;
    CHECK(emb::plus_or_minus(form, 0, 1, 750, 730) == 200);
    form.per_year = {0, 1U << 12};
    CHECK(emb::plus_or_minus(form, -(1 << 20), 1, 750, 730) == 2);
}

TEST_CASE("where a term is too large for its square nothing is stated") {
    CHECK(emb::plus_or_minus(flat(emb::largest_term), 0, 1, 0, 0) == 1U << 26);
    CHECK(emb::plus_or_minus(flat(emb::largest_term + 1), 0, 1, 0, 0) == emb::unstated);
    emb::uncertainty_form form = flat(0);
    form.noise = emb::largest_term + 1;
    CHECK(emb::plus_or_minus(form, 0, 1, 0, 0) == emb::unstated);
    form = flat(0);
    form.slope = 0xFFFFFFFF;
    CHECK(emb::plus_or_minus(form, std::numeric_limits<std::int32_t>::max(), 1, 0, 0) == emb::unstated);
    form = flat(0);
    form.per_kelvin.slope = 0xFFFFFFFF;
    CHECK(emb::plus_or_minus(form, 1, 1, 101, 0) == emb::unstated);
    form = flat(0);
    form.per_year.floor = 0xFFFFFFFF;
    CHECK(emb::plus_or_minus(form, 1, 1, 0, 65535) == emb::unstated);
    // all seven terms at their largest still fit
    form = flat(emb::largest_term);
    form.noise = emb::largest_term;
    form.per_kelvin.floor = emb::largest_term;
    form.per_year.floor = emb::largest_term;
    form.slope = form.per_kelvin.slope = form.per_year.slope = 1U << 31;
    const long double U = exact(form, 1 << 27, 1, 100, 365);
    CHECK(emb::plus_or_minus(form, 1 << 27, 1, 100, 365) - U >= 0.0L);
    CHECK(emb::plus_or_minus(form, 1 << 27, 1, 100, 365) - U < 1.21L);
}

}  // namespace uncertainty_test
