#include "signals.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <message.hpp>
#include <plumbline/capture/code_density.hpp>
#include <plumbline/capture/quantisation.hpp>
#include <plumbline/capture/report.hpp>
#include <plumbline/capture/sine_fit.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <variant>
#include <vector>

namespace report_test {

using namespace plumbline;
using refused::message;
using signals::sampled;
using signals::seen;

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

/// Either of two codes, by chance: noise too little to carry the mean from one to the other.
capture::run toggling(std::size_t n) {
    simulation::generator random(7);
    capture::run r{{}, 10e3 * hertz};
    for (std::size_t i = 0; i < n; ++i) r.codes.push_back(2000 + static_cast<std::int32_t>(random.bits() >> 63U));
    return r;
}

constexpr const char* off_by_half =
    "the mean may be off by up to 0.5 codes whatever their number, for too little noise carries it between the codes; go by the "
    "position, or add noise of half a code rms or more ahead of the converter";
constexpr const char* believed = "u is to be believed from 32 samples on, by how long these hang together";

constexpr const char* too_slow =
    "what is slower than 10 Hz, one period in the capture, cannot be judged: it passes for an offset; capture longer, or "
    "state its size as the range's slow_disturbance, which gives it rows in the budget";

}  // namespace

TEST_CASE("a clean capture has five sentences: figures, position, since when u is believed, length, what it is too short for") {
    capture::run run{std::vector<std::int32_t>(1000, 2000), 10e3 * hertz};
    const texts still = of(run);
    REQUIRE(still.size() == 5);
    CHECK(still[0] == "1000 samples, codes 2000 to 2000: mean 2000.0000, s 0, u of the mean 0 by 1000 independent ones");
    CHECK(still[1].starts_with("the signal stands at code 2000.000, between 1999.50"));
    CHECK(still[2] == believed);
    CHECK(still[3] == "all samples lie on one code: no longer capture helps, a little noise would");
    CHECK(still[4] == too_slow);
    const texts noisy = of(sampled({.n = 1000, .noise = 1.0}, 3).run);
    REQUIRE(noisy.size() == 5);
    CHECK(noisy[2] == believed);
    CHECK(noisy[3] == "its noise averages out: a quarter of u takes 16000 samples");
    CHECK(noisy[4] == too_slow);
}

TEST_CASE("where quantisation hides, no number of samples is promised to lower u") {
    const texts all = of(toggling(1000));
    CHECK(rest_of(all, "its noise averages out, quantisation does not: ") == off_by_half);
    CHECK(rest_of(all, "its noise averages out: ") == "none");
}

TEST_CASE("noise that few samples do not prove to dither is told from noise that does not") {
    const capture::run run = sampled({.n = 40, .noise = 0.65}, 1).run;
    const capture::one_pass_statistics st = capture::in_one_pass(run, 0, 4095);
    REQUIRE(st.s > 0.55 * code);
    REQUIRE(capture::quantisation_in(st, st.n_eff).kind == capture::quantisation::regime::hidden);
    const auto n = samples_for(st, 0.5 * code);  // less than half a code allows
    REQUIRE(n);
    const auto reached = [&](std::uint64_t samples) {
        const double left = capture::quantisation_in(st, static_cast<double>(samples)).half_width.value();
        return st.s.value() * st.s.value() / static_cast<double>(samples) + left * left / 3.0 <= 0.25 * 0.25;
    };
    REQUIRE(st.n_eff == 40.0);
    CHECK(reached(*n));
    CHECK_FALSE(reached(*n - 1));
    CHECK(rest_of(of(run), "its noise averages out: a quarter of u takes ") != "none");
}

TEST_CASE("for a wanted U the number of samples is said, or why there is none") {
    const auto wanted = [](const capture::run& run, double U) {
        return capture::for_wanted(capture::in_one_pass(run, 0, 4095), U * code);
    };
    const capture::run noisy = sampled({.n = 4000, .noise = 2.0}, 21).run;
    const capture::one_pass_statistics st = capture::in_one_pass(noisy, 0, 4095);
    CHECK(wanted(noisy, 0.05) ==
          "U = 0.05 codes (k = 2) of the mean takes " + std::to_string(*samples_for(st, 0.05 * code)) + " samples such as these");
    CHECK(std::abs(static_cast<double>(*samples_for(st, 0.05 * code)) - 4.0 * st.s.value() * st.s.value() / 0.0025) <= 1.0);
    CHECK(wanted(noisy, 2.0) == "U = 2 codes (k = 2) of the mean takes " + std::to_string(*samples_for(st, 2.0 * code)) +
                                    " samples such as these: these are enough");
    CHECK(wanted(sampled({.n = 20, .noise = 2.0}, 3).run, 0.1)
              .ends_with("; capture 32 first, so few cannot tell how long their noise hangs together"));
    CHECK(wanted(toggling(1000), 0.1) ==
          std::string("no number of samples gives U = 0.1 codes (k = 2) of the mean: ") + off_by_half);
    CHECK(wanted({std::vector<std::int32_t>(1000, 2000), {}}, 0.1) ==
          std::string("no number of samples gives U = 0.1 codes (k = 2) of the mean: ") + off_by_half);
    CHECK(wanted(sampled({.n = 20000, .noise = 0.5, .flicker = 1.0}, 400).run, 0.1)
              .starts_with("no number of samples gives U = 0.1 codes (k = 2) of the mean: slow noise keeps u at "));
    CHECK(wanted(sampled({.n = 1000, .drift = 10.0}, 3).run, 0.5) ==
          "no number of samples gives U = 0.5 codes (k = 2) of the mean: the codes drift; let instrument and source warm up and "
          "settle");
    CHECK(message([&] { (void)wanted(noisy, 0.0); }) ==
          "wanted uncertainty of a mean: 0.000000 codes, expected above 0 codes and finite; state the expanded uncertainty (k = "
          "2) that is wanted");
}

TEST_CASE("what a capture suffers from is said with what to do") {
    const texts slow = of(sampled({.n = 20000, .noise = 0.5, .flicker = 1.0}, 400).run);
    CHECK(rest_of(slow, "slow noise keeps u at ")
              .ends_with(" codes, expected noise that averages out: more samples will not help; take short captures by turns, "
                         "zero and reference and zero "
                         "again"));
    CHECK(rest_of(slow, "u is to be believed from ")
              .ends_with(" samples on, by how long these hang together, a number that grows with what is slow"));
    const texts drifting = of(sampled({.n = 1000, .drift = 10.0}, 3).run);
    CHECK(rest_of(drifting, "the codes moved by +").ends_with(", expected none; let instrument and source warm up and settle"));
    CHECK(rest_of(drifting, "the codes drift: ") == "no longer capture helps before they have settled");
    CHECK(rest_of(drifting, "slow noise") == "none");

    capture::run glitches = sampled({.n = 1000}, 3).run;
    glitches.codes[500] = 2100;
    CHECK(rest_of(of(glitches), "1 samples lie outside ").ends_with(" codes; look for glitches"));

    const texts line = of(sampled({.n = 1000, .noise = 0.5, .sine = 3.0, .periods_per_sample = 0.0125}, 3).run);
    CHECK(
        rest_of(line,
                "a sine of 125.1 Hz, more likely of an inverter or a charge controller than of mains (50 or 60 Hz and "
                "harmonics), with an amplitude of ")
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
    CHECK(rest_of(few, believed) == ": capture as many or more");
    CHECK(rest_of(few, "its noise averages out: a quarter of u takes ").ends_with(" samples, as far as so few can tell"));
    CHECK(few.back() == "lines in the spectrum were not looked for: capture 64 samples or more");
}

TEST_CASE("a line is told from mains by its frequency, and without sample rate stands in samples") {
    for (const double f : {50.0, 60.3, 100.0, 149.0, 600.0}) {
        const texts all = of(sampled({.n = 5000, .noise = 0.5, .sine = 1.0, .periods_per_sample = f / 10e3}, 3).run);
        CAPTURE(f);
        CHECK(rest_of(all, "a sine of ").find(" Hz, where mains and its harmonics lie, with an amplitude of ") < 10);
    }
    for (const double f : {55.0, 75.0, 125.0, 337.0, 612.0, 1000.0}) {
        const texts all = of(sampled({.n = 5000, .noise = 0.5, .sine = 1.0, .periods_per_sample = f / 10e3}, 3).run);
        CAPTURE(f);
        CHECK(rest_of(all, "a sine of ").find(" Hz, more likely of an inverter or a charge controller than of mains ") < 10);
    }
    // 1.2 periods: 60 Hz and 50 Hz are not told apart from what lies between
    capture::strongest_line slow;
    slow.periods_per_sample = 0.0055;
    slow.u_periods_per_sample = 1e-4;
    slow.at = 55.0 * hertz;
    CHECK(capture::may_be_mains(slow));
    slow.u_periods_per_sample = 1e-5;
    CHECK_FALSE(capture::may_be_mains(slow));

    capture::run no_rate = sampled({.n = 1000, .noise = 0.5, .sine = 3.0, .periods_per_sample = 0.0125}, 3).run;
    no_rate.sample_rate.reset();
    CHECK(
        rest_of(of(no_rate), "a sine of one period in ")
            .starts_with("79.93 samples (state the sample rate to have it in hertz, and to know whether it may be mains) with an "
                         "amplitude of "));
    CHECK(of(no_rate).back() ==
          "what is slower than one period in 1000 samples, the whole capture, cannot be judged: it passes for an offset; capture "
          "longer, or state its size as the range's slow_disturbance, which gives it rows in the budget");
}

TEST_CASE("a converter's report from a ramp has DNL, INL and missing codes, and from a steady voltage says not testable") {
    capture::one_pass ramp(0, 255);
    for (int i = 0; i < 100 * 256; ++i) {
        std::int32_t c = i / 100;
        if (c == 100) c = i % 4 == 0 ? 99 : 101;  // code 100 never comes up
        ramp.add(std::vector{c});
    }
    const texts all = sentences(ramp.statistics(), capture::stimulus::ramp);
    REQUIRE(all.size() == 4);
    CHECK(all[0] == "25600 samples of a ramp, codes 0 to 255");
    CHECK(all[1] ==
          "code density of codes 1 to 254: differential non-linearity (DNL) -1.00 to +0.75 codes, largest at code 100 (u 0.01)");
    CHECK(all[2] ==
          "integral non-linearity (INL) from the line through first and last edge -0.75 to +0.25 codes, largest at code 101 (u "
          "0.78)");
    CHECK(all[3] ==
          "1 missing, narrower than a tenth of a code, expected none: 100; look for a converter or data lines that are damaged");

    const texts still = sentences(seen({.n = 1000}, 3), capture::stimulus::sine);
    REQUIRE(still.size() == 2);
    CHECK(still[1].starts_with("code density not testable: "));
}

TEST_CASE("a converter's report from a sine has noise, SINAD and ENOB with their uncertainties") {
    capture::sine_fit fit;
    fit.amplitude = 1800.02 * code;
    fit.u_amplitude = 0.0471 * code;
    fit.offset = 2047.4 * code;
    fit.u_offset = 0.033 * code;
    fit.periods_per_sample = 0.0125;
    fit.u_periods_per_sample = 1e-8;
    fit.noise = 1.04 * code;
    fit.u_noise = 0.0234 * code;
    fit.sinad = 61.75;
    fit.u_sinad = 0.195;
    fit.enob = 10.151;
    fit.u_enob = 0.0323;
    CHECK(sentences(fit) ==
          texts{"sine fit of four parameters: one period in 80.000000 (u 0.000064) samples, amplitude 1800.020 (u 0.047) codes, "
                "offset 2047.400 (u 0.033) codes",
                "noise and distortion 1.040 (u 0.023) codes rms, of which quantisation makes 0.289; signal to "
                "them (SINAD) 61.75 (u 0.20) dB",
                "effective number of bits (ENOB) of full scale 10.151 (u 0.032)"});
    fit.at = 125.0 * hertz;
    fit.u_at = 1e-4 * hertz;
    CHECK(sentences(fit)[0].starts_with("sine fit of four parameters: 125.00000 (u 0.00010) Hz, amplitude "));
    fit.u_periods_per_sample = 0.0;
    CHECK(sentences(fit)[0].starts_with("sine fit of three parameters, frequency taken as exact: 125 Hz, amplitude "));
    CHECK(
        sentences(capture::fit_sine(sampled({.n = 100}, 3).run, 0, 4095)) ==
        texts{
            "sine fit not testable: no sine stands out of the noise, expected one; a steady voltage tests neither noise against "
            "signal nor effective bits: apply a sine of nearly full scale"});
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
