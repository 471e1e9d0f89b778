// Of jobs that simulation shows suitable at 99 %, at most 5 % are refused: some thousand instruments a job.

#include <doctest/doctest.h>

#include <simulation/on_the_job.hpp>

namespace on_the_job_long_test {

TEST_CASE("of jobs that simulation shows suitable at 99 %, at most 5 % are refused") {
    using namespace on_the_job;
    struct job_kind {
        const char* name;
        situation happens;
        std::size_t instruments = 6000;
    };
    std::uint64_t seed = 20;
    for (const job_kind& one : {job_kind{"level", level}, job_kind{"difference", difference}, job_kind{"probe", probe},
                                job_kind{"corrected source", corrected_source}, job_kind{"measured probe", measured_probe},
                                job_kind{"source of 1 kohm", uncorrected_source<1000>, 2000},
                                job_kind{"source of 3 kohm", uncorrected_source<3000>, 2000},
                                job_kind{"source of 100 kohm", uncorrected_source<100000>, 2000}}) {
        const outcomes all = simulate(one.happens, one.instruments, {0.99}, ++seed);
        const sim::count_bounds bounds = sim::binomial_bounds(one.instruments, 0.99);
        const double q = all.errors[one.instruments * 99 / 100];
        const double part = share_refused(all.asked_for[0], q);
        MESSAGE(std::string(one.name) << ": 99 % of readings within " << q << " V, refused " << 100.0 * part << " %, "
                                      << all.went_well[0] << " of " << one.instruments << " went well");
        CAPTURE(one.name);
        CHECK(all.went_well[0] >= bounds.first);
        CHECK(all.went_well[0] <= bounds.second);
        CHECK(part <= 0.05);
    }
}

}  // namespace on_the_job_long_test
