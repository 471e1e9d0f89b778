// How much memory a run takes: in a process of its own, by its greatest resident size.

#include <doctest/doctest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <plumbline/uncertainty/monte_carlo.hpp>

namespace monte_carlo_memory_test {

using namespace plumbline;
using namespace plumbline::uncertainty;

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define PLUMBLINE_TEST_SANITIZED
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define PLUMBLINE_TEST_SANITIZED
#endif
#endif

#if !defined(PLUMBLINE_TEST_SANITIZED)  // a sanitizer takes memory of its own

namespace {

/// Bytes that a run adds to the process's greatest resident size; negative if the run failed.
double bytes_of(const monte_carlo_settings& s, const distribution& spread) {
    int ends[2];
    REQUIRE(pipe(ends) == 0);
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        rusage before{};
        rusage after{};
        double bytes = -1.0;
        const auto run = [&](const monte_carlo_settings& by) {
            return monte_carlo(
                by, [](const ratio& x) { return x; }, sampled<ratio>{sampled_input("x", "1", 0.0, spread)});
        };
        try {
            monte_carlo_settings few = s;  // so that the program's own pages are there
            few.trials = 10'000;
            few.exact_intervals = true;
            static_cast<void>(run(few));
            getrusage(RUSAGE_SELF, &before);
            const auto result = run(s);
            getrusage(RUSAGE_SELF, &after);
            if (result.trials == s.trials) bytes = 1024.0 * static_cast<double>(after.ru_maxrss - before.ru_maxrss);
        } catch (...) {  // reported as -1
        }
        const bool told = write(ends[1], &bytes, sizeof bytes) == static_cast<ssize_t>(sizeof bytes);
        _exit(told ? 0 : 1);
    }
    double bytes = -1.0;
    CHECK(read(ends[0], &bytes, sizeof bytes) == static_cast<ssize_t>(sizeof bytes));
    int status = 0;
    CHECK(waitpid(child, &status, 0) == child);
    close(ends[0]);
    close(ends[1]);
    return bytes;
}

}  // namespace

TEST_CASE("exact intervals of 10^7 trials take at most 3 bytes a trial and 4 MiB, cells no more than 8 MiB for any number") {
    monte_carlo_settings s;
    s.trials = 10'000'000;
    s.probability = 0.95;
    constexpr double mebibyte = 1024.0 * 1024.0;
    for (const distribution& spread : {distribution{normal{1.0}}, distribution{rectangular{1.0}}, distribution{arcsine{1.0}}}) {
        CAPTURE(spread.index());
        const double bytes = bytes_of(s, spread);
        CAPTURE(bytes);
        CHECK(bytes > mebibyte);  // the tails are somewhere: the measure can see them
        CHECK(bytes <= 3.0 * 1e7 + 4.0 * mebibyte);
    }
    s.exact_intervals = false;
    const double of_cells = bytes_of(s, normal{1.0});
    CAPTURE(of_cells);
    CHECK(of_cells >= 0.0);
    CHECK(of_cells <= 8.0 * mebibyte);
}

#else

TEST_CASE("under a sanitizer memory is not measured") {
    MESSAGE("skipped: a sanitizer takes memory of its own");
    CHECK(instruction_sets().front() == "plain");
}

#endif

}  // namespace monte_carlo_memory_test
