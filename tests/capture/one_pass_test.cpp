#include "signals.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <message.hpp>
#include <slow_build.hpp>
#include <vector>

namespace one_pass_test {

using namespace plumbline;
using capture::in_one_pass;
using capture::longer_capture;
using capture::one_pass;
using capture::one_pass_statistics;
using refused::message;
using signals::captured;
using signals::how_many;
using signals::pi;
using signals::sampled;
using signals::seen;
using signals::signal;
using signals::u_of_mean;

TEST_CASE("pieces of any length give the same bits as the whole") {
    for (const std::size_t n : {1U, 15U, 1000U, 70000U, 150001U}) {
        if (slow::build && n > 100000) continue;
        const capture::run run = sampled({.n = n, .sine = 0.4, .periods_per_sample = 0.0123}, 5).run;
        const one_pass_statistics whole = in_one_pass(run, 0, 4095);
        for (const std::size_t piece : {1U, 7U, 4095U, 65537U}) {
            if (piece == 1 && n > 100000) continue;
            CAPTURE(n);
            CAPTURE(piece);
            one_pass in_pieces(0, 4095, run.sample_rate);
            for (std::size_t from = 0; from < n; from += piece) {
                in_pieces.add(std::span(run.codes).subspan(from, std::min(piece, n - from)));
            }
            CHECK(in_pieces.statistics() == whole);
        }
    }
}

TEST_CASE("statistics may be asked for in between, and change nothing") {
    const capture::run run = sampled({.n = 5000}, 8).run;
    one_pass asked(0, 4095, run.sample_rate);
    asked.add(std::span(run.codes).first(1234));
    CHECK(asked.statistics().n == 1234);
    asked.add(std::span(run.codes).subspan(1234));
    CHECK(asked.statistics() == in_one_pass(run, 0, 4095));
}

TEST_CASE("mean, scatter, ends and trend are those of summarise") {
    const capture::run run = sampled({.n = 3000, .noise = 3.0, .drift = 4.0}, 11).run;
    const one_pass_statistics st = in_one_pass(run, 1980, 2020);
    const capture::statistics two_passes = capture::summarise(run, 1980, 2020);
    CHECK(std::abs((st.mean - two_passes.mean).value()) <= 1e-12);
    CHECK(std::abs((st.s - two_passes.s).value()) <= 1e-12);
    CHECK(st.min == two_passes.min);
    CHECK(st.max == two_passes.max);
    CHECK(st.at_bottom == two_passes.at_bottom);
    CHECK(st.at_top == two_passes.at_top);
    REQUIRE(st.slope);
    CHECK(std::abs(st.slope->change.value() - 4.0) <= 3.0 * st.slope->u.value());
    CHECK(st.slope->u.value() <= 0.5);
    CHECK(st.counts.size() == 41);
    CHECK(st.counts[20] == static_cast<std::uint64_t>(std::count(run.codes.begin(), run.codes.end(), 2000)));
}

TEST_CASE("the trend of a capture too long to be kept is that of summarise, with spectrum and without") {
    capture::run run;
    const int n = slow::build ? 100'000 : 300'000;
    for (int i = 0; i < n; ++i)
        run.codes.push_back(1000 + static_cast<std::int32_t>(std::int64_t{i} * i * 100 / n / n));  // a parabola
    const double change = capture::summarise(run, 0, 4095).slope->change.value();
    for (const bool spectrum : {false, true}) {
        const one_pass_statistics st = in_one_pass(run, 0, 4095, spectrum);
        REQUIRE(st.slope);
        CHECK(std::abs(st.slope->change.value() - change) <= 1e-3 * change);
        CHECK(st.longer == longer_capture::does_not_help);
    }
}

TEST_CASE("an offset of 10^6 codes costs no digits in a long capture") {
    // 0, 1, 2, 3, 0, 1 ... : mean 1.5, sum of squares 1.25 n
    std::vector<std::int32_t> pattern(65536);
    for (std::size_t i = 0; i < pattern.size(); ++i) pattern[i] = 1'000'000 + static_cast<std::int32_t>(i % 4);
    one_pass all(1'000'000, 1'000'015, {}, false);
    const int times = slow::build ? 2 : 40;
    for (int i = 0; i < times; ++i) all.add(pattern);
    const double n = 65536.0 * times;
    const one_pass_statistics st = all.statistics();
    CHECK(st.mean.value() == 1'000'001.5);
    CHECK(std::abs(st.s.value() - std::sqrt(1.25 * n / (n - 1.0))) <= 1e-15);
}

TEST_CASE("the number of samples for a wanted uncertainty is that which reaches it") {
    const one_pass_statistics st = seen({.n = 4000, .noise = 2.0}, 21);
    const auto n = samples_for(st, 0.05 * code, 0.0 * code);
    REQUIRE(n);
    CHECK(std::abs(static_cast<double>(*n) - 4.0 * st.s.value() * st.s.value() / 0.0025) <= 1.0);
    // quantisation of +-0.02 code leaves u^2 = 0.0004 / 3 of 0.000625
    const auto more = samples_for(st, 0.05 * code, 0.02 * code);
    REQUIRE(more);
    CHECK(std::abs(static_cast<double>(*more) / static_cast<double>(*n) - 0.000625 / (0.000625 - 0.0004 / 3.0)) <= 1e-3);
    CHECK_FALSE(samples_for(st, 0.05 * code, 0.5 * code));  // half a code is left whatever the number
    CHECK(message([&] { (void)samples_for(st, -1.0 * code, 0.0 * code); }) ==
          "wanted uncertainty of a mean: -1.000000 codes, expected above 0 codes and finite; state the expanded uncertainty (k = "
          "2) that is "
          "wanted");
}

TEST_CASE("glitches of 20 codes are counted, told in codes, and left in the mean") {
    capture::run run = sampled({.n = 2000, .noise = 1.0}, 31).run;
    const one_pass_statistics before = in_one_pass(run, 0, 4095);
    REQUIRE(before.far_out);
    CHECK(before.far_out->count == 0);
    for (const std::size_t at : {100U, 700U, 1500U}) run.codes[at] += 20;
    const one_pass_statistics st = in_one_pass(run, 0, 4095);
    CHECK(st.far_out->count == 3);
    CHECK(std::abs(st.far_out->shift_of_mean.value() - 0.03) <= 0.003);
    CHECK(std::abs((st.mean - before.mean).value() - 0.03) <= 1e-12);
    CHECK(st.far_out->high > st.mean.value() + 4.0);
    CHECK(st.far_out->high < st.mean.value() + 10.0);
    CHECK_FALSE(seen({.n = 63}, 1).far_out);
}

TEST_CASE("the strongest line is found wherever it is, with what it does to the mean") {
    for (const double f : {0.0031, 0.0123, 0.1077, 0.4}) {  // 31 Hz to 4 kHz at 10 kHz
        CAPTURE(f);
        const one_pass_statistics st = seen({.n = 1000, .noise = 0.5, .sine = 1.0, .periods_per_sample = f}, 51);
        CHECK(st.spectrum_judged);
        REQUIRE(st.line);
        CHECK(std::abs(st.line->periods_per_sample - f) <= 5e-5);
        CHECK(std::abs(st.line->at->value() - 1e4 * st.line->periods_per_sample) <= 1e-9);
        CHECK(std::abs(st.line->amplitude.value() - 1.0) <= 0.1);
        const double p = 1000.0 * f;
        CHECK(std::abs(st.line->largest_shift.value() - std::abs(std::sin(pi * p)) / (1000.0 * std::sin(pi * f))) <= 0.02);
        const double whole = static_cast<double>(st.line->average_samples) * st.line->periods_per_sample;
        CHECK(std::abs(whole - std::round(whole)) <= 0.1);
    }
    CHECK(seen({.n = 1000}, 51).slowest_judged == 10.0 * hertz);
    CHECK_FALSE(seen({.n = 63, .sine = 5.0, .periods_per_sample = 0.1}, 51).spectrum_judged);
    CHECK_FALSE(seen({.n = 1000, .noise = 1.0, .sine = 20.0, .periods_per_sample = 0.0003}, 51).line);  // less than a period
}

TEST_CASE("a code that the converter does not have is refused by its place, and what stands before it counts") {
    one_pass some(0, 4095);
    const std::vector<std::int32_t> bad{1, 2, 3, 4096, 5};
    const std::string text =
        "sample 6 of the capture: code 4096, expected a code from 0 to 4095; state the converter's codes as they are, or look "
        "for "
        "damage in the transfer";
    some.add(std::span(bad).first(2));
    CHECK(message([&] { some.add(bad); }) == text);
    CHECK(some.size() == 5);
    CHECK(some.statistics().mean.value() == 1.8);
    const std::vector<std::int32_t> negative{-1};
    CHECK(message([&] { some.add(negative); }).starts_with("sample 6 of the capture: code -1, expected a code from 0 to 4095"));
}

TEST_CASE("a converter without codes, a sample rate of 0 and a capture without samples are refused") {
    CHECK(message([] { one_pass(5, 5); }) ==
          "converter of a capture: codes from 5 to 5, expected 2 to 1048576 codes; state the converter's bottom and top code");
    CHECK(message([] { one_pass(-2147483647, 2147483647); }).starts_with("converter of a capture: codes from -2147483647"));
    CHECK(message([] { one_pass(0, 1, 0.0 * hertz); }) ==
          "sample rate of a capture: 0.000000 Hz, expected above 0 Hz and finite; state the sample rate, or none");
    CHECK(message([] { (void)one_pass(0, 1).statistics(); }) ==
          "capture: no samples, expected at least one; add samples before asking for statistics");
}

TEST_CASE("white noise counts in full, slow noise does not, and 31 samples are too few to tell") {
    CHECK(how_many(20, {.n = 1000}, 100,
                   [](const auto& st) { return st.n_eff == 1000.0 && st.longer == longer_capture::helps; }) >= 19);
    CHECK(seen({.n = 1000}, 1).told_from == 32);
    CHECK(seen({.n = 31}, 1).longer == longer_capture::cannot_be_told);
    CHECK(seen({.n = 1000, .noise = 0.0}, 1).longer == longer_capture::does_not_help);
    const one_pass_statistics correlated = seen({.n = 20000, .noise = 5.0, .phi = 0.9}, 100);
    CHECK(correlated.longer == longer_capture::helps);
    CHECK(std::abs(correlated.n_eff / 20000.0 * 19.0 - 1.0) <= 0.4);
    const one_pass_statistics slow = seen({.n = 20000, .noise = 0.5, .flicker = 1.0}, 400);
    CHECK(slow.longer == longer_capture::does_not_help);
    CHECK(u_of_mean(slow) >= slow.floor.value() * (1.0 - 1e-12));
    CHECK_FALSE(samples_for(slow, 0.5 * code, 0.0 * code));
}

}  // namespace one_pass_test
