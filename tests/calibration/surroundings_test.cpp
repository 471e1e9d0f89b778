#include <plumbline/calibration/surroundings.hpp>

#include <doctest/doctest.h>

#include "../../src/calibration/findings.hpp"
#include "bench.hpp"
#include "message.hpp"

#include <cmath>
#include <numbers>
#include <plumbline/calibration/sample_rate.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <random>

namespace surroundings_test {

using namespace plumbline;
using namespace plumbline::calibration;
using refused::message;
namespace un = plumbline::uncertainty;

namespace {

struct solved {
    std::vector<reference> all = bench::references();
    un::input_set inputs;
    range_calibration of = solve(
        bench::ten_volts(),
        {bench::stepped("short", bench::seen(bench::code_of(0.0))), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
        all, inputs);
    [[nodiscard]] double gain() const { return of.result.gain.value(); }
};

/// Approaches its end exponentially: 8 codes away when switched on, 10 minutes' time constant, a point every minute.
std::vector<warm_up_point> warming(double minutes, double u = 0.02) {
    std::vector<warm_up_point> all;
    for (double t = 0.0; t <= minutes; t += 1.0) {
        all.push_back({60.0 * t * second, (1600.0 + 8.0 * std::exp(-t / 10.0)) * code, u * code});
    }
    return all;
}

capture::run sampled(double rate, double f, double amplitude, double noise, std::size_t n) {
    std::mt19937_64 bits(3);
    std::normal_distribution<double> normal(0.0, noise);
    capture::run run;
    for (std::size_t i = 0; i < n; ++i) {
        const double v =
            2048.0 + amplitude * std::sin(2.0 * std::numbers::pi * f * static_cast<double>(i) / rate + 0.3) + normal(bits);
        run.codes.push_back(static_cast<std::int32_t>(std::lround(v)));
    }
    return run;
}

}  // namespace

TEST_CASE("crosstalk is what a shorted channel moves by, and a row of its budget") {
    const solved s;
    const double zero = bench::code_of(0.0);
    const coupling c =
        between_channels(s.of, bench::seen(zero - 1.0), bench::seen(zero + 1.0), -8.0 * volt, 8.0 * volt, s.of.chain);
    CHECK(c.value.value() == doctest::Approx(2.0 * s.gain() / 16.0).epsilon(1e-9).scale(0));
    CHECK(c.most.value() == doctest::Approx((c.value.value() + c.U.value()) * 8.0).epsilon(1e-9).scale(0));
    CHECK(c.U < c.value);
    const auto plain = reading(s.inputs, s.all, s.of, 1900.0 * code, at_calibration(s.of));
    const auto budget = make_budget(with_row(plain, row_of(s.of, "B", c)));
    CHECK(budget.value == plain.value.value());
    CHECK(budget.u == doctest::Approx(std::hypot(make_budget(plain).u, c.most.value() / std::sqrt(3.0))).epsilon(1e-9).scale(0));
    bool listed = false;
    for (const auto& row : budget.rows) listed = listed || row.in->label == "crosstalk and memory of the multiplexer, channel B";
    CHECK(listed);

    const coupling none = between_channels(s.of, bench::seen(zero), bench::seen(zero), -8.0 * volt, 8.0 * volt, s.of.chain);
    CHECK(none.most > 0.0 * volt);  // what cannot be seen is not nothing
    CHECK(none.text.find("none is seen") != std::string::npos);
    CHECK(
        message([&] { (void)between_channels(s.of, bench::seen(1.0), bench::seen(2.0), 1.0 * volt, 1.0 * volt, s.of.chain); }) ==
        "crosstalk into channel A, range 8 V: mean codes 1 and 2 with 1 V and 1 V at the other channel, expected finite codes, "
        "the "
        "low voltage below the high one; put the captures in their order");
}

TEST_CASE("hum is taken off the captures about a channel, and counts where they are too short to show it") {
    solved s;
    const double zero = bench::code_of(0.0);
    const double reference = bench::code_of(5.0);
    const auto humming = [](double level, double shift) {
        capture::statistics seen = bench::seen(level + shift, 2.2, 460);
        seen.n_eff = 5.0;
        seen.removed = capture::removed_hum{50.0 * hertz, 3.0 * code, shift * code, 0.01 * code, 0.7 * code, 440.0};
        return seen;
    };
    const auto brief = [](double level) {
        capture::statistics seen = bench::seen(level, 0.8, 128);
        seen.slope = capture::trend{};
        return seen;
    };
    const double u_humming = std::sqrt(0.7 * 0.7 / 440.0 + 0.01 * 0.01);
    // 0.64 periods of 50 Hz at 10 kHz, as much as the scatter allows
    const double periods = 128.0 * 50.0 / 10e3;
    const double largest =
        0.8 * std::numbers::sqrt2 * std::sin(std::numbers::pi * periods) / (128.0 * std::sin(std::numbers::pi * periods / 128.0));
    const double u_brief = std::sqrt(0.8 * 0.8 / 128.0 + 0.5 * largest * largest);

    const auto crosstalk = [&](const capture::statistics& low, const capture::statistics& high) {
        return between_channels(s.of, low, high, -8.0 * volt, 8.0 * volt, s.of.chain);
    };
    const coupling hum = crosstalk(humming(zero, 0.5), humming(zero + 1.0, -0.5));
    CHECK(hum.value.value() == doctest::Approx(s.gain() / 16.0).epsilon(1e-9).scale(0));
    CHECK(hum.U.value() == doctest::Approx(2.0 * std::numbers::sqrt2 * u_humming * s.gain() / 16.0).epsilon(0.01).scale(0));
    CHECK(crosstalk(brief(zero), brief(zero)).U.value() ==
          doctest::Approx(2.0 * std::numbers::sqrt2 * u_brief * s.gain() / 16.0).epsilon(0.01).scale(0));

    s.of.supplies = {{"charger attached", {}, humming(zero, 0.5), {}, humming(reference, -0.5)}};
    const double u_clean = 0.8 / std::sqrt(1000.0);
    CHECK(by_supply(s.of).offset.value() ==
          doctest::Approx(2.0 * std::hypot(u_humming, u_clean) * s.gain()).epsilon(0.01).scale(0));
    s.of.supplies = {{"charger attached", {}, brief(zero), {}, brief(reference)}};
    CHECK(by_supply(s.of).offset.value() ==
          doctest::Approx(2.0 * std::hypot(u_brief, u_clean) * s.gain()).epsilon(0.01).scale(0));

    seen_warm_up w;
    w.slope_limit = 1.0 * volt;
    w.window = 60.0 * second;
    for (int i = 0; i < 5; ++i) w.curve.push_back({30.0 * i * second, {}, humming(zero, i % 2 == 0 ? 0.5 : -0.5)});
    (void)warm_up_of(s.of, w);
    CHECK(w.span.value() == doctest::Approx(2.0 * u_humming * s.gain()).epsilon(0.01).scale(0));
    for (repeated_capture& c : w.curve) c.seen = brief(zero);
    (void)warm_up_of(s.of, w);
    CHECK(w.span.value() == doctest::Approx(2.0 * u_brief * s.gain()).epsilon(0.01).scale(0));
}

TEST_CASE("an instrument is warm where its slope stays below the limit, by the slope of its own curve") {
    const solved s;
    // 8 codes exp(-t/600 s)/600 s per second; with a limit of a tenth of its first slope, after ln 10 time constants, less half a window
    const volts_per_second limit = 0.1 * s.gain() * 8.0 / 600.0 * volt / second;
    const warm_up w = warming_up(s.of, warming(90.0), limit, 300.0 * second);
    REQUIRE(w.warm_after.has_value());
    const double exact = 600.0 * std::log(10.0) - 150.0;
    CHECK(std::abs(w.warm_after->value() - exact) < 90.0);
    CHECK(w.span.value() == doctest::Approx(8.0 * s.gain()).epsilon(0.1).scale(0));
    // used later it is less off
    CHECK(warming_up(s.of, warming(90.0), limit, 300.0 * second, 600.0 * second).span.value() ==
          doctest::Approx(8.0 * std::exp(-1.0) * s.gain()).epsilon(0.2).scale(0));
    CHECK(std::get<un::rectangular>(row_of(s.of, w).spread).half_width == w.span.value());
}

TEST_CASE("a curve that ends too early or is too noisy does not show that it is warm") {
    const solved s;
    const volts_per_second limit = 0.1 * s.gain() * 8.0 / 600.0 * volt / second;
    const warm_up early = warming_up(s.of, warming(15.0), limit, 300.0 * second);
    CHECK_FALSE(early.warm_after.has_value());
    CHECK(early.text.find("noise hides") == std::string::npos);
    const warm_up noisy = warming_up(s.of, warming(90.0, 2.0), limit, 300.0 * second);
    CHECK_FALSE(noisy.warm_after.has_value());
    CHECK(noisy.text.find("noise hides") != std::string::npos);
    CHECK(
        message([&] { (void)warming_up(s.of, warming(3.0), limit, 300.0 * second); }) ==
        "warm-up of channel A, range 8 V: 4 points that do not fill a window of 300 s, expected a curve as long as one window or "
        "longer; capture for longer");
    CHECK(
        message([&] { (void)warming_up(s.of, warming(30.0), limit, 60.0 * second); }) ==
        "warm-up of channel A, range 8 V: 2 points within 60 s from 0 s on, expected 3 or more; capture more often, or widen the "
        "window");
}

TEST_CASE("what the supply does to zero and span bounds what it does to readings") {
    const solved s;
    const std::vector<at_supply> three{{"battery", 1600.0 * code, 2100.0 * code, 0.01 * code},
                                       {"charger attached", 1603.0 * code, 2103.0 * code, 0.01 * code},
                                       {"battery low", 1599.0 * code, 2094.0 * code, 0.01 * code}};
    const supply_effect e = by_supply(s.of, three);
    CHECK(e.gain.value() == doctest::Approx((5.0 + 2.0 * 0.02) / 500.0).epsilon(1e-9).scale(0));
    CHECK(e.offset.value() == doctest::Approx((3.0 + 2.0 * 0.01 * std::sqrt(2.0)) * s.gain()).epsilon(1e-9).scale(0));
    CHECK(e.text ==
          "Against \"battery\" readings of channel A, range 8 V change by up to 1 % with \"battery low\" and shift by up to 31 "
          "mV with "
          "\"charger attached\".");
    CHECK(message([&] { (void)by_supply(s.of, std::span(three).first(1)); }) ==
          "supplies, channel A, range 8 V: 1 supplies, expected 2 or more, that of the calibration first; repeat zero and "
          "reference "
          "with the charger attached, and with the battery low");
}

TEST_CASE("what moves a channel beyond chance is a finding that says by how much, and what does not is none") {
    solved s;
    const double zero = bench::code_of(0.0);
    const double reference = bench::code_of(5.0);
    const auto crosstalk = [&](double moved) {
        seen_crosstalk c{"B", "8 V", -8.0 * volt, 8.0 * volt, {}, bench::seen(zero), {}, bench::seen(zero + moved), {}, {}, {}};
        add_crosstalk(s.of, c, s.of.chain, s.inputs);
        const finding last = s.of.findings.back();
        const bool seen = sentence_of(s.of, s.of.crosstalk.back()).find(": it is seen; ") != std::string::npos;
        s.of.crosstalk.clear();
        s.inputs = {};
        CHECK(seen == (last.number == 216));
        return last.number == 216 ? last.where + ": " + last.text : "none";
    };
    // 0.8 code in 1000 samples each: 3.9 times the root of two of 0.8 / sqrt(1000) is 0.14 code, the bound of quantisation apart
    CHECK(crosstalk(0.1) == "none");
    CHECK(
        crosstalk(-0.2).starts_with("crosstalk from channel B, channel A, range 8 V: from -8 V to 8 V on channel B the held "
                                    "input moves by -0.20 codes ("));
    CHECK(crosstalk(0.2).find(" mV), expected at most 0.14 by noise and quantisation; lengthen the sampling time, ") !=
          std::string::npos);

    const auto supply = [&](double at_zero, double at_reference) {
        const auto f = moved_by_supply(
            s.of, {"charger attached", {}, bench::seen(zero + at_zero), {}, bench::seen(reference + at_reference)}, 1e-4);
        return f ? f->where + ": " + f->text : "none";
    };
    CHECK(supply(0.1, -0.1) == "none");
    CHECK(supply(0.0, 0.2).starts_with(
        "supply charger attached, channel A, range 8 V: against the supply of the calibration the zero step moves by +0.00 codes "
        "and the reference step by +0.20, expected at most 0.14 and 0.14 by noise and quantisation; "));
    CHECK(supply(-0.2, 0.0) != "none");

    const auto warm = [&](double codes_a_minute) {
        seen_warm_up w;
        w.slope_limit = 6.0 * s.gain() * volt;  // 0.1 code a minute
        w.window = 600.0 * second;
        for (int i = 0; i < 15; ++i) w.curve.push_back({60.0 * i * second, {}, bench::seen(reference + codes_a_minute * i)});
        const auto f = not_warm(s.of, w, 1e-4);
        return f ? f->where + ": " + f->text : "none";
    };
    CHECK(warm(0.1) == "none");
    CHECK(warm(-0.2).starts_with("warm-up, channel A, range 8 V: in the last 10 min of the curve readings still move by -"));
    CHECK(warm(0.2).ends_with("; leave the instrument on for longer before it is calibrated and used"));
}

TEST_CASE("the sample rate comes out of a known frequency within what is stated, for clocks off by up to 8 %") {
    int held = 0;
    int all = 0;
    for (const double off : {-0.08, -0.013, 0.0, 0.0001, 0.02, 0.08}) {
        for (const double f : {60.0, 997.0, 3100.0}) {
            const double rate = 10e3 * (1.0 + off);
            const measured_rate m =
                sample_rate_by(sampled(rate, f, 500.0, 2.0, 60000), 10e3 * hertz, f * hertz, 0.0 * hertz, "capture");
            const double t = uncertainty::coverage_factor(0.999, m.degrees_of_freedom);
            ++all;
            held += std::abs(m.rate.value() - rate) <= t * m.u_by_phase.value() + 1e-7 * rate ? 1 : 0;
            CHECK(m.u_by_phase.value() < 2e-6 * rate);
        }
    }
    CHECK(held == all);
}

TEST_CASE("a known frequency brings its own uncertainty, a clock its tolerance") {
    const measured_rate m =
        sample_rate_by(sampled(10e3, 1e3, 500.0, 2.0, 20000), 10e3 * hertz, 1e3 * hertz, 0.01 * hertz, "capture");
    CHECK(m.u_by_reference.value() == doctest::Approx(0.1).epsilon(1e-4).scale(0));
    const auto in = rate_input(m);
    CHECK(in.unit == "Hz");
    CHECK(std::get<un::normal>(in.spread).u == doctest::Approx(std::hypot(0.1, m.u_by_phase.value())).epsilon(1e-4).scale(0));
    CHECK(std::get<un::rectangular>(rate_input(10e3 * hertz, 0.02).spread).half_width ==
          doctest::Approx(200.0).epsilon(1e-12).scale(0));
}

TEST_CASE("a capture without the known frequency is refused") {
    const auto refusal = [](const capture::run& run, double known) {
        return message([&] { (void)sample_rate_by(run, 10e3 * hertz, known * hertz, 0.0 * hertz, "capture"); });
    };
    CHECK(refusal(sampled(10e3, 1e3, 0.0, 2.0, 20000), 1e3).starts_with("capture: no sine of 1000 Hz: its phase scatters by "));
    CHECK(
        refusal(sampled(10e3, 1e3, 500.0, 2.0, 20000), 1.0) ==
        "capture: 20000 samples with 2 periods, expected 48 periods and 256 samples or more; capture for longer, or use a higher "
        "frequency");
    CHECK(refusal(sampled(10e3, 1e3, 500.0, 2.0, 20000), 4500.0) ==
          "capture: a signal of 4500 +- 0 Hz sampled at 10000 Hz, expected a frequency above 0 and below 0.4 of the sample rate; "
          "use a "
          "lower frequency");
}

}  // namespace surroundings_test
