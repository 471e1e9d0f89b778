// Audits against simulated instruments on the job: of jobs that an audit predicts to go well with a probability, as many go well.

#include <doctest/doctest.h>

#include "../slow_build.hpp"

#include <simulation/on_the_job.hpp>

namespace on_the_job_test {

namespace {

using namespace on_the_job;

void holds(const situation& happens, std::uint64_t seed) {
    constexpr std::size_t instruments = 250;
    const std::vector<double> confidences{0.80, 0.90, 0.95, 0.99};
    const outcomes all = simulate(happens, instruments, confidences, seed);
    for (std::size_t k = 0; k < 4; ++k) {
        const sim::count_bounds bounds = sim::binomial_bounds(instruments, confidences[k]);
        CAPTURE(confidences[k]);
        CAPTURE(all.went_well[k]);
        CHECK(all.went_well[k] >= bounds.first);
        CHECK(all.went_well[k] <= bounds.second);
    }
    // 250 know the tolerance that 99 % keep to within its bounds: this refuses only what is refused beyond doubt. Thousands decide it:
    // on_the_job_long_test.cpp.
    const double part =
        share_refused(all.asked_for[3], all.errors[std::min(sim::binomial_bounds(instruments, 0.99).second, instruments - 1)]);
    CAPTURE(part);
    CHECK(part <= 0.05);
}

}  // namespace

TEST_CASE("levels go as well as predicted, ten kelvin from the calibration") { holds(level, 1); }

TEST_CASE("differences of means go as well as predicted" * doctest::skip(slow::build)) { holds(difference, 2); }

TEST_CASE("levels through a probe of known series resistance go as well as predicted" * doctest::skip(slow::build)) {
    holds(probe, 3);
}

TEST_CASE("means from a source whose resistance is corrected for go as well as predicted" * doctest::skip(slow::build)) {
    holds(corrected_source, 4);
}

TEST_CASE("levels through a probe whose factor was measured go as well as predicted" * doctest::skip(slow::build)) {
    holds(measured_probe, 6);
}

TEST_CASE("levels from a source that is not corrected for go as well as predicted" * doctest::skip(slow::build)) {
    constexpr std::size_t instruments = 200;
    const outcomes all = simulate(uncorrected_source<3000>, instruments, {0.95}, 7);
    const sim::count_bounds bounds = sim::binomial_bounds(instruments, 0.95);
    CHECK(all.went_well[0] >= bounds.first);
    CHECK(all.went_well[0] <= bounds.second);
}

}  // namespace on_the_job_test
