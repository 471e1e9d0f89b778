#include <plumbline/embedded/reading.hpp>

#include <doctest/doctest.h>

#include <cstdint>
#include <initializer_list>

namespace embedded_reading_test {

namespace emb = plumbline::embedded;
using emb::status;

namespace {

// Invented: the 10 V range of a pocket scope for modular synthesisers, 12 bits over +-10.24 V.
emb::range ten_volts() {
    emb::range made = {0, 1, 3, "A 10 V", emb::make_correction(INT64_C(5000) << 16, -(INT64_C(10240000) << 16), 1, 4094), {}};
    made.uncertainty.floor = 16 * 3000;
    made.uncertainty.noise = 16 * 4000;
    made.uncertainty.most_samples = 100;
    made.uncertainty.per_kelvin.floor = 16 * 1000;
    made.uncertainty.per_year.floor = 16 * 2000;
    return made;
}

constexpr emb::validity a_year = {9100, 9465, 2300, 1500, 3500};
constexpr emb::conditions at_calibration = {3, 2300, 9100};

emb::samples sampled(std::initializer_list<int> codes) {
    emb::samples all;
    for (const int code : codes) all.add(ten_volts().line, static_cast<std::uint16_t>(code));
    return all;
}

emb::reading now(const emb::conditions& when, std::initializer_list<int> codes = {2248}) {
    return emb::read(ten_volts(), a_year, when, sampled(codes));
}

/// Neither a voltage nor an uncertainty, but this status.
bool only(const emb::reading& r, status what) { return r.microvolts == 0 && r.plus_or_minus == 0 && r.what == what; }

}  // namespace

TEST_CASE("one sample at the conditions of the calibration reads with floor and noise") {
    const emb::reading r = now(at_calibration);
    CHECK(r.what == status::ok);
    CHECK(r.microvolts == 1000000);
    CHECK(r.plus_or_minus == 5000);
}

TEST_CASE("the mean of several samples reads between the codes, with less noise") {
    const emb::reading r = now(at_calibration, {2248, 2249, 2249, 2249});
    CHECK(r.what == status::ok);
    CHECK(r.microvolts == 1003750);
    CHECK(r.plus_or_minus == 3606);  // sqrt(3000^2 + 2000^2) = 3605.55
}

TEST_CASE("one sample on an end code among many is over range") {
    CHECK(only(now(at_calibration, {0}), status::over_range));
    CHECK(only(now(at_calibration, {4095}), status::over_range));
    CHECK(only(now(at_calibration, {2248, 4095, 2248}), status::over_range));
    CHECK(now(at_calibration, {1, 4094}).what == status::ok);
}

TEST_CASE("without samples there is no reading") { CHECK(only(now(at_calibration, {}), status::no_samples)); }

TEST_CASE("another mode than that of the adjustment is refused") { CHECK(only(now({4, 2300, 9100}), status::other_mode)); }

TEST_CASE("outside of the temperatures and days of validity there is no reading, at their limits there is") {
    CHECK(now({3, 1500, 9100}).what == status::ok);
    CHECK(only(now({3, 1499, 9100}), status::outside_validity));
    CHECK(now({3, 3500, 9100}).what == status::ok);
    CHECK(only(now({3, 3501, 9100}), status::outside_validity));
    CHECK(now({3, 2300, 9465}).what == status::ok);
    CHECK(only(now({3, 2300, 9466}), status::outside_validity));
    CHECK(only(now({3, 2300, 9099}), status::outside_validity));
}

TEST_CASE("away from the temperature and the day of the calibration the reading's uncertainty grows") {
    CHECK(now({3, 2800, 9100}).plus_or_minus == 7072);  // sqrt(5000^2 + 5000^2) = 7071.07
    CHECK(now({3, 1800, 9100}).plus_or_minus == 7072);
    CHECK(now({3, 2300, 9465}).plus_or_minus == 5386);   // sqrt(5000^2 + 2000^2) = 5385.16
    CHECK(now({3, 3500, 9465}).plus_or_minus == 13153);  // sqrt(5000^2 + 12000^2 + 2000^2) = 13152.95
}

TEST_CASE("an instrument without thermometer or clock states the uncertainty of the farthest it may be away") {
    const std::uint32_t farthest = now({3, 3500, 9465}).plus_or_minus;
    CHECK(now({3, emb::unknown_temperature, 9465}).plus_or_minus == farthest);
    CHECK(now({3, 3500, emb::unknown_day}).plus_or_minus == farthest);
    CHECK(now({3, emb::unknown_temperature, emb::unknown_day}).plus_or_minus == farthest);
    // the lower limit is the farther one here
    const emb::reading cold =
        emb::read(ten_volts(), {9100, 9465, 2300, -700, 3500}, {3, emb::unknown_temperature, 9100}, sampled({2248}));
    CHECK(cold.plus_or_minus == 30414);  // sqrt(5000^2 + 30000^2) = 30413.81
}

TEST_CASE("a reading whose uncertainty is too large to state is outside validity") {
    emb::range wide = ten_volts();
    wide.uncertainty.per_kelvin.floor = emb::largest_term;
    CHECK(emb::read(wide, a_year, {3, 2400, 9100}, sampled({2248})).what == status::ok);
    CHECK(only(emb::read(wide, a_year, {3, 2401, 9100}, sampled({2248})), status::outside_validity));
}

TEST_CASE("samples beyond the 65535th are left out") {
    emb::samples many;
    for (int i = 0; i < 65535; ++i) many.add(ten_volts().line, 4094);
    CHECK(many.sum() == UINT32_C(65535) * 4094);
    many.add(ten_volts().line, 4095);
    CHECK(many.size() == 65535);
    CHECK(many.sum() == UINT32_C(65535) * 4094);
    CHECK_FALSE(many.outside());
    CHECK(emb::read(ten_volts(), a_year, at_calibration, many).microvolts == 10230000);
}

}  // namespace embedded_reading_test
