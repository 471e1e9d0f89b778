#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/solve.hpp>

#include "../property.hpp"
#include "bench.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

namespace calibration_properties_test {

namespace {

using namespace plumbline;
using namespace plumbline::calibration;
using property::holds;

struct calibrated {
    range_calibration range;
    std::vector<reference> references;
    uncertainty::input_set inputs;
};

/// The bench's range, by steps whose codes scatter about those of its chain, with or without a negative step.
calibrated any_calibration() {
    calibrated c;
    c.references = bench::references();
    const auto near = [](double volts) { return bench::code_of(volts) + 0.01 * *rc::gen::inRange(-200, 200); };
    const double low = 0.001 * *rc::gen::inRange(-500, 500);
    const double high = 0.001 * *rc::gen::inRange(4000, 8000);
    const double negative = 0.001 * *rc::gen::inRange(-8000, -4000);
    steps seen{bench::metered(low, bench::seen(near(low))), bench::metered(high, bench::seen(near(high))), {}};
    if (*rc::gen::arbitrary<bool>()) seen.negative = bench::metered(negative, bench::seen(near(negative)));
    c.range = solve(bench::ten_volts(), seen, c.references, c.inputs);
    return c;
}

voltage reading_at(const calibrated& c, codes at) {
    return reading(c.inputs, c.references, c.range, at, at_calibration(c.range)).value;
}

}  // namespace

TEST_CASE("a code's reading leads back to the code, on either side of the zero step and on it") {
    CHECK(holds("code, volts, code", [] {
        const calibrated c = any_calibration();
        const double at =
            *rc::gen::inRange(0, 5) == 0 ? c.range.zero.seen.mean.value() : 0.001 * *rc::gen::inRange(1000, 4'095'000);
        // The reading of 10 V and the offset of -10 V have roundings of 2^-53 each, a code is 5 mV: 1e-12 codes, ten of them.
        RC_ASSERT(std::abs((code_at(c.range, reading_at(c, at * code)) - at * code).value()) <= 1e-11);
    }));
}

TEST_CASE("a voltage's code reads as the voltage") {
    CHECK(holds("volts, code, volts", [] {
        const calibrated c = any_calibration();
        const voltage v = 1e-6 * *rc::gen::inRange(-9'000'000, 9'000'000) * volt;
        RC_ASSERT(std::abs((reading_at(c, code_at(c.range, v)) - v).value()) <= 1e-13);  // as above, times 5 mV
    }));
}

TEST_CASE("gain and offset are the reading's own line, and the steps lie on it") {
    CHECK(holds("line through the steps", [] {
        const calibrated c = any_calibration();
        RC_ASSERT(std::abs((reading_at(c, c.range.zero.seen.mean) - c.range.zero.source.stated->value).value()) <= 1e-13);
        RC_ASSERT(std::abs((reading_at(c, c.range.reference.seen.mean) - c.range.reference.source.stated->value).value()) <=
                  1e-13);
        const codes beyond = c.range.zero.seen.mean + 0.001 * *rc::gen::inRange(0, 2'000'000) * code;
        RC_ASSERT(std::abs((reading_at(c, beyond) - (c.range.result.offset + c.range.result.gain * beyond)).value()) <= 1e-13);
        if (!c.range.negative) return;
        const codes m = c.range.negative->seen.mean;
        RC_ASSERT(std::abs((reading_at(c, m) - c.range.negative->source.stated->value).value()) <= 1e-13);
    }));
}

}  // namespace calibration_properties_test
