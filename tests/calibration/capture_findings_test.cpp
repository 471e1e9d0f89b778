#include "capture_cases.hpp"

#include <doctest/doctest.h>

#include <slow_build.hpp>

namespace capture_findings_test {

using namespace capture_cases;

namespace {

std::string text_of(const capture::run& run, notice what, double noise) {
    for (const auto& f : findings(run, noise)) {
        if (f.number == static_cast<int>(what)) return f.where + ": " + f.text;
    }
    return "no finding";
}

}  // namespace

TEST_CASE("glitches are told of with what they do to the mean") {
    capture::run run = signals::sampled({.n = 1000, .noise = 1.0}, 4).run;
    for (const std::size_t i : {100U, 500U, 900U}) run.codes[i] = 2020;
    const std::string text = text_of(run, notice::far_out, 1.0);
    CHECK(text.starts_with("zero step, channel A, range 8 V: 3 of 1000 samples outside 199"));
    CHECK(text.ends_with(
        "; look for glitches: a charger, a relay, the display's or the radio's bursts, bytes lost in the transfer"));
    CHECK(text.find(" codes, where this noise has none; they are kept and move the mean by +0.05") != std::string::npos);
}

TEST_CASE("a line off the mains is told of with what it does to the mean and what to average") {
    const auto run = signals::sampled({.n = 1000, .noise = 0.5, .sine = 4.0, .periods_per_sample = 0.0125}, 4).run;
    const std::string text = text_of(run, notice::spectral_line, 0.5);
    const auto line = capture::in_one_pass(run, 0, 4095).line;
    REQUIRE(line);
    CHECK(std::abs(line->amplitude.value() - 4.0) <= 0.1);
    const std::string shown = std::to_string(std::round(100.0 * line->amplitude.value()) / 100.0).substr(0, 4);
    CHECK(text.starts_with("zero step, channel A, range 8 V: a sine at 125 Hz with an amplitude of 2"));
    CHECK(text.find(" mV (" + shown) != std::string::npos);
    CHECK(text.find(" codes), which moves the mean by up to ") != std::string::npos);
    CHECK(text.ends_with(
        "; look for what runs at that frequency: an inverter, a charge controller or a switching supply, and average whole "
        "periods: 80 samples or a multiple"));
}

TEST_CASE("a line at a multiple of mains is said to be of mains, and one without sample rate of nothing") {
    capture::run run = signals::sampled({.n = 1000, .noise = 0.5, .sine = 4.0, .periods_per_sample = 0.015}, 4).run;
    const std::string of_mains = text_of(run, notice::spectral_line, 0.5);
    CHECK(of_mains.starts_with("zero step, channel A, range 8 V: a sine at 150 Hz "));
    CHECK(of_mains.ends_with(
        "; it may be of mains, at 50 or 60 Hz or a multiple: shorten or shield the leads, keep mains and chargers away, and "
        "average whole periods: 200 samples or a multiple"));
    const calibration::step s = step_of(run);
    run.sample_rate.reset();
    for (const auto& f : calibration::findings_of_capture(run, s, twelve_bits(0.5), gain, at)) {
        if (f.number != static_cast<int>(notice::spectral_line)) continue;
        CHECK(f.text.starts_with("a sine at 0.015 periods a sample "));
        CHECK(f.text.find("; look for what runs at that frequency, and average whole periods: ") != std::string::npos);
    }
}

TEST_CASE("a line close to mains is told of at its own frequency, not as hum") {
    const auto run = signals::sampled({.n = 1000, .noise = 0.5, .sine = 4.0, .periods_per_sample = 0.00525}, 4).run;
    CHECK_FALSE(has(findings(run, 0.5), notice::hum));
    const std::string text = text_of(run, notice::spectral_line, 0.5);
    CHECK(text.starts_with("zero step, channel A, range 8 V: a sine at 52."));
    CHECK(text.find(" codes), which moves the mean by up to ") != std::string::npos);
    CHECK(text.find("average whole periods: ") != std::string::npos);
}

TEST_CASE("mains is told of once, as hum") {
    const auto all = findings(signals::sampled({.n = 1000, .noise = 0.5, .sine = 4.0, .periods_per_sample = 0.005}, 4).run, 0.5);
    CHECK(has(all, notice::hum));
    CHECK_FALSE(has(all, notice::spectral_line));
    CHECK_FALSE(has(all, notice::slow_noise));
}

TEST_CASE("slow noise is told of with its floor, and drift alone is not taken for it") {
    const std::string text = text_of(slow_noise(5001), notice::slow_noise, 0.5);
    CHECK(text.starts_with("zero step, channel A, range 8 V: slow noise: the mean is known to "));
    CHECK(text.ends_with(
        " and no longer capture would lower that, expected noise that averages out; take short captures by turns, zero and "
        "reference and zero again, and keep draughts, a warming supply and chargers away"));
    const auto drifting = findings(signals::sampled({.n = 4000, .noise = 0.7, .drift = 20.0}, 4).run, 0.7);
    CHECK(has(drifting, notice::drift));
    CHECK_FALSE(has(drifting, notice::slow_noise));
    CHECK_FALSE(has(drifting, notice::spectral_line));
}

TEST_CASE("a stuck bit is told of with its place and value") {
    capture::run run = signals::sampled({.n = 1000, .noise = 3.0}, 4).run;
    for (std::int32_t& c : run.codes) c |= 2;
    CHECK(text_of(run, notice::stuck_bits, 3.0)
              .find(" with bit 1 always 1, expected bits that change; look for a bridged or broken data line, "
                    "and for a capture that was shifted or scaled on its way") != std::string::npos);
}

TEST_CASE("codes beyond the end codes and converters of 24 bits do not stop the findings") {
    capture::run run = signals::sampled({.n = 1000, .noise = 1.0}, 4).run;
    run.codes[5] = 100'000;
    CHECK(has(findings(run, 1.0), notice::far_out));
    front_end::converter adc = twelve_bits(1.0);
    adc.bits = 24;
    const calibration::step s = step_of(run);
    const auto by_statistics = calibration::findings_of_step(s, adc, gain, at);
    CHECK(has(by_statistics, notice::noisy));  // that code again
    CHECK(calibration::findings_of_capture(run, s, adc, gain, at) == by_statistics);
}

TEST_CASE("that samples hang together is told where both looks see it, and by short captures only beyond doubt") {
    // of 20 000 clean captures one of those that capture::summarise takes for slow noise
    capture::run clean;
    for (std::uint64_t seed = 0; clean.codes.empty(); ++seed) {
        capture::run run = signals::sampled({.n = 285, .noise = 1.5}, seed).run;
        if (capture::summarise(run, 0, 4095).n_eff < 100.0) clean = std::move(run);
    }
    CHECK(has(findings(clean, 1.5), notice::hangs_together));  // as solve() has it
    CHECK_FALSE(has(further_findings(clean, 1.5), notice::hangs_together));
    CHECK(has(further_findings(slow_noise(5001), 0.5), notice::hangs_together));
    capture::run pairs = signals::sampled({.n = 64, .noise = 3.0}, 4).run;
    for (std::size_t i = 0; i < 64; ++i) pairs.codes[i] = pairs.codes[i / 4 * 4];
    CHECK(has(further_findings(pairs, 3.0), notice::hangs_together));
}

// More of each in the long test.
TEST_CASE("faults of the stated sizes are found" * doctest::skip(slow::build)) {
    CHECK(found(12, notice::slow_noise, 0.5, slow_noise) >= 11);
    CHECK(found(60, notice::far_out, 1.0, glitches) >= 57);
    CHECK(found(60, notice::spectral_line, 0.7, line) >= 57);
    CHECK(found(60, notice::stuck_bits, 3.0, stuck) >= 57);
    CHECK(found(20, notice::hangs_together, 1.0, with_memory) >= 19);
    CHECK(found(20, notice::spectral_line, 0.8, beside_mains) >= 19);
}

}  // namespace capture_findings_test
