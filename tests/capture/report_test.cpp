#include "signals.hpp"

#include <doctest/doctest.h>

#include <limits>
#include <message.hpp>
#include <plumbline/capture/report.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <variant>
#include <vector>

namespace report_test {

using namespace plumbline;
using refused::message;
using signals::sampled;

namespace {

using texts = std::vector<std::string>;

texts of(const capture::run& run, std::int32_t bottom = 0, std::int32_t top = 4095) {
    return capture::sentences(capture::in_one_pass(run, bottom, top));
}

/// The one that begins so, without its beginning; "none".
std::string rest_of(const texts& all, const std::string& beginning) {
    for (const std::string& one : all) {
        if (one.starts_with(beginning)) return one.substr(beginning.size());
    }
    return "none";
}

constexpr const char* too_slow =
    "what is slower than 10 Hz, one period in the capture, cannot be judged: it passes for an offset; capture longer, or "
    "give it a row in the budget";

}  // namespace

TEST_CASE("a clean capture has four sentences: figures, position, length, what it is too short for") {
    capture::run run{std::vector<std::int32_t>(1000, 2000), 10e3 * hertz};
    const texts still = of(run);
    REQUIRE(still.size() == 4);
    CHECK(still[0] == "1000 samples, codes 2000 to 2000: mean 2000.0000, s 0, u of the mean 0 by 1000 independent ones");
    CHECK(still[1].starts_with("the signal stands at code 2000.000, between 1999.50"));
    CHECK(still[2] == "all samples lie on one code: no longer capture helps, a little noise would");
    CHECK(still[3] == too_slow);
    const texts noisy = of(sampled({.n = 1000, .noise = 1.0}, 3).run);
    REQUIRE(noisy.size() == 4);
    CHECK(noisy[2] == "its noise averages out: a quarter of u takes 16000 samples");
    CHECK(noisy[3] == too_slow);
}

TEST_CASE("what a capture suffers from is said with what to do") {
    const texts slow = of(sampled({.n = 20000, .noise = 0.5, .flicker = 1.0}, 400).run);
    CHECK(rest_of(slow, "slow noise keeps u at ")
              .ends_with(" codes, expected noise that averages out: more samples will not help; take short captures by turns, "
                         "zero and reference and zero "
                         "again"));
    const texts drifting = of(sampled({.n = 1000, .drift = 10.0}, 3).run);
    CHECK(rest_of(drifting, "the codes moved by +").ends_with(", expected none; let instrument and source warm up and settle"));
    CHECK(rest_of(drifting, "the codes drift: ") == "no longer capture helps before they have settled");
    CHECK(rest_of(drifting, "slow noise") == "none");

    capture::run glitches = sampled({.n = 1000}, 3).run;
    glitches.codes[500] = 2100;
    CHECK(rest_of(of(glitches), "1 samples lie outside ").ends_with(" codes; look for glitches"));

    const texts line = of(sampled({.n = 1000, .noise = 0.5, .sine = 3.0, .periods_per_sample = 0.0125}, 3).run);
    CHECK(
        rest_of(line, "a sine at 125.1 Hz with an amplitude of ")
            .ends_with(
                " codes, expected none; remove what runs at that frequency, or average whole periods: 80 samples or a multiple"));

    CHECK(rest_of(line, "slow noise") == "none");
    CHECK(rest_of(line, "its noise averages out: ") != "none");

    capture::run stuck = sampled({.n = 1000, .noise = 3.0}, 3).run;
    for (std::int32_t& c : stuck.codes) c &= ~2;
    CHECK(rest_of(of(stuck), "bit 1 is 0 in all samples") ==
          ", expected bits that change; look for a bridged or broken data line");

    capture::run cut = sampled({.n = 1000, .noise = 2.0}, 3).run;
    for (std::int32_t& c : cut.codes) c = std::max(c, 2000);
    CHECK(rest_of(of(cut, 2000), std::to_string(capture::in_one_pass(cut, 2000, 4095).at_bottom)) ==
          " samples lie on the bottom code, expected at most 1 in 1000; the true value lies below it: apply more");
}

TEST_CASE("a capture too short to judge says so") {
    const texts few = of(sampled({.n = 20}, 3).run);
    CHECK(rest_of(few, "u is not to be believed below ") == "32 samples: capture as many or more");
    CHECK(few.back() == "lines in the spectrum were not looked for: capture 64 samples or more");
}

TEST_CASE("what is slower than the capture becomes a row of the budget: arcsine of what it may shift the mean by") {
    const uncertainty::input row = capture::slow_disturbance("A/10 V/zero/unseen hum", "zero step", "stated", 0.4 * code);
    CHECK(row == uncertainty::input{"A/10 V/zero/unseen hum", "disturbance that cannot be judged, zero step", "stated",
                                    unit_symbol<codes>, 0.0, uncertainty::arcsine{0.4}});
    CHECK(message([] { (void)capture::slow_disturbance("x", "zero step", "stated", -0.1 * code); }) ==
          "disturbance that cannot be judged, zero step: -0.1 codes, expected a finite figure that is not negative; state how "
          "large it may be");
    CHECK(message([] {
              (void)capture::slow_disturbance("x", "zero step", "stated", std::numeric_limits<double>::infinity() * code);
          }) != "no exception");
}

}  // namespace report_test
