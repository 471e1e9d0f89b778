#include "../../src/calibration/captured_mean.hpp"
#include "bench.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <plumbline/front_end/node.hpp>

namespace captured_mean_test {

using namespace plumbline;
using namespace plumbline::calibration;

namespace {

const std::string id = "A/8 V/";

/// A range whose zero step has seen this.
struct solved {
    uncertainty::input_set inputs;
    range_calibration range;

    explicit solved(const capture::statistics& at_zero, std::optional<duration> longest_time = {}, const char* ended = "",
                    std::optional<voltage> largest_hum = {}) {
        range_setup setup = bench::ten_volts();
        setup.largest_hum = largest_hum;
        setup.longest_time = longest_time;
        setup.begun = *ended == '\0' ? "" : "2025-03-14";
        setup.ended = ended;
        range = solve(setup, {bench::stepped("short", at_zero), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
                      bench::references(), inputs);
    }
    [[nodiscard]] const uncertainty::input& at(const std::string& name) const { return *inputs.at(id + name); }
    [[nodiscard]] bool has(const std::string& name) const { return inputs.find(id + name) != nullptr; }
    [[nodiscard]] double u(const std::string& name) const { return uncertainty::standard_uncertainty(at(name).spread); }
};

const double zero = bench::code_of(0.0);

capture::statistics slow() {
    capture::statistics s = bench::seen(zero, 1.5, 4000);
    s.n_eff = 9.0;
    s.slow = capture::slow_noise{0.5 * code, 60.0, 0.8 * code};
    return s;
}

}  // namespace

TEST_CASE("a clean capture has no rows for hum and slow noise") {
    const solved clean(bench::seen(zero));
    for (const char* name : {"zero/hum", "zero/unseen hum", "zero/slow noise", "reading/hum", "reading/slow noise"}) {
        CAPTURE(name);
        CHECK_FALSE(clean.has(name));
    }
    CHECK_FALSE(clean.range.longest_time.has_value());
    CHECK(clean.u("zero/mean") == 0.8 / std::sqrt(1000.0));
}

TEST_CASE("slow noise wanders by the logarithm of time over the capture's length, at each step and at the reading") {
    // w^2 = s^2 / (2 ln 2) (ln(E / T) + 3/2 - gamma - ln(2 pi)), T = 4000 samples at 10 kHz = 0.4 s
    const auto expected = [](double seconds) {
        const double growth = std::log(seconds / 0.4) + 1.5 - 0.5772156649015329 - std::log(2.0 * std::numbers::pi);
        return 0.5 * std::sqrt(growth / (2.0 * std::numbers::ln2));
    };
    const solved stated(slow(), 60.0 * second);
    CHECK(std::abs(stated.u("zero/slow noise") - expected(60.0)) <= 1e-12);
    CHECK(std::abs(stated.u("reading/slow noise") - expected(60.0)) <= 1e-12);
    CHECK(stated.at("zero/slow noise").label == "slow noise over 60 s, zero step");
    CHECK(stated.at("zero/slow noise").estimate == 0.0);
    CHECK(uncertainty::degrees_of_freedom(stated.at("zero/slow noise").spread) == 60.0);
    CHECK(stated.range.longest_time == 60.0 * second);

    const solved unstated(slow());
    CHECK(std::abs(unstated.u("zero/slow noise") - expected(86400.0)) <= 1e-12);
    CHECK(unstated.at("reading/slow noise").label == "slow noise over 1 day, reading");
    const solved three_days(slow(), {}, "2025-03-16");
    CHECK(std::abs(three_days.u("zero/slow noise") - expected(3 * 86400.0)) <= 1e-12);
    CHECK(three_days.at("zero/slow noise").label == "slow noise over 3 days, zero step");
    // not below the floor itself
    CHECK(solved(slow(), 0.5 * second).u("zero/slow noise") == 0.5);
}

TEST_CASE("a capture that hides slow noise has that of the range's others, as far as its own scatter leaves room for it") {
    // 1000 samples at 10 kHz, s = 0.8: log2(1000) octaves of floor^2 / 2 each
    const double room = 0.8 * std::sqrt(2.0 / (3.0 * std::log2(10.0)));
    const double growth = std::log(60.0 / 0.1) + 1.5 - 0.5772156649015329 - std::log(2.0 * std::numbers::pi);
    const solved stated(slow(), 60.0 * second);
    CHECK(std::abs(stated.u("reference/slow noise") - room * std::sqrt(growth / (2.0 * std::numbers::ln2))) <= 1e-12);
    CHECK(stated.at("reference/slow noise").source == "other captures of the range, within the scatter of capture five.csv");
    CHECK(uncertainty::degrees_of_freedom(stated.at("reference/slow noise").spread) == 60.0);

    const step roomy = bench::stepped("roomy", bench::seen(zero, 5.0));
    const step one = bench::stepped("one", slow());
    capture::statistics weaker = slow();
    weaker.slow = capture::slow_noise{0.25 * code, 20.0, 0.8 * code};
    const step other = bench::stepped("other", weaker);
    const auto beside = slow_noise_beside(roomy, {roomy, one, other});
    REQUIRE(beside);
    CHECK(std::abs(beside->floor.value() - std::sqrt((60.0 * 0.25 + 20.0 * 0.0625) / 80.0)) <= 1e-15);
    CHECK(beside->degrees_of_freedom == 80.0);
    CHECK_FALSE(slow_noise_beside(one, {one, other}));      // it has its own
    CHECK_FALSE(slow_noise_beside(roomy, {roomy, roomy}));  // nobody has any
}

TEST_CASE(
    "slow noise is not counted in the mean a second time, and does not leave one sample with the few degrees of freedom of a "
    "mean") {
    const solved s(slow());
    CHECK(std::abs(s.u("zero/mean") - 0.8 / std::sqrt(4000.0)) <= 1e-15);
    // s^2 from all octaves: (2 s^2 / floor^2)^2 = 324 of the zero step, 999 of the other
    CHECK(std::abs(uncertainty::degrees_of_freedom(s.at("reading/noise").spread) - (324.0 + 999.0)) <= 1e-9);
    CHECK(std::abs(s.u("reading/noise") - std::sqrt((324.0 * 2.25 + 999.0 * 0.64) / 1323.0)) <= 1e-12);
}

TEST_CASE("hum that stands out moves the step by what is known of it, and is a sine in the reading") {
    capture::statistics s = bench::seen(zero, 2.2, 460);
    s.n_eff = 5.0;
    s.removed = capture::removed_hum{50.0 * hertz, 3.0 * code, 0.25 * code, 0.01 * code, 0.7 * code, 440.0};
    const solved with(s);
    CHECK(with.at("zero/hum").estimate == -0.25);
    CHECK(with.u("zero/hum") == 0.01);
    CHECK(std::abs(with.u("zero/mean") - 0.7 / std::sqrt(440.0)) <= 1e-15);
    // one of two steps hums: rms of the amplitudes
    CHECK(std::abs(with.u("reading/hum") - 3.0 / std::sqrt(2.0) / std::sqrt(2.0)) <= 1e-12);
    CHECK(std::holds_alternative<uncertainty::arcsine>(with.at("reading/hum").spread));

    // The correction is made: 0 V is read where mean less shift stands.
    const auto at_zero = reading(with.inputs, bench::references(), with.range, s.mean - 0.25 * code, at_calibration(with.range));
    CHECK(std::abs(at_zero.value.value()) <= 1e-12);
    // and a hundred independent samples hum a tenth as much
    reading_conditions many = at_calibration(with.range);
    many.samples = 100.0;
    const auto hum_of = [&](const reading_conditions& when) {
        for (const auto& d : reading(with.inputs, bench::references(), with.range, s.mean, when).dependences) {
            if (d.on->id == id + "reading/hum") return d.sensitivity;
        }
        return 0.0;
    };
    CHECK(std::abs(hum_of(many) - 0.1 * hum_of(at_calibration(with.range))) <= 1e-15);
}

TEST_CASE("a capture shorter than a period of mains has a row for the hum that it cannot show, and so has the reading") {
    capture::statistics s = bench::seen(zero, 0.8, 128);
    s.slope = capture::trend{};  // a fit was made, at no frequency
    const auto shift_at = [](double hertz_of_mains, double amplitude) {
        const double periods = 128.0 * hertz_of_mains / 10e3;
        return amplitude * std::sin(std::numbers::pi * periods) / (128.0 * std::sin(std::numbers::pi * periods / 128.0));
    };
    // Unstated: a sine that has all the scatter
    const solved unstated(s);
    CHECK(unstated.at("zero/unseen hum").label == "disturbance that cannot be judged, zero step");
    CHECK(unstated.at("zero/unseen hum").source == "hum, by the scatter of capture short.csv");
    CHECK(std::abs(std::get<uncertainty::arcsine>(unstated.at("zero/unseen hum").spread).half_width -
                   shift_at(50.0, 0.8 * std::numbers::sqrt2)) <= 1e-12);
    CHECK(std::abs(unstated.u("reading/hum") - 0.8 / std::sqrt(2.0)) <= 1e-12);  // one of two captures
    CHECK_FALSE(unstated.has("reference/unseen hum"));
    s.s = 0.1 * code;
    CHECK(std::abs(solved(s).u("zero/unseen hum") - shift_at(50.0, 0.5) / std::sqrt(2.0)) <= 1e-12);  // half a code at least

    // Stated at the connector
    const volts_per_code gain = front_end::nominal_gain(bench::ten_volts().chain);
    const solved stated(s, {}, "", 3.0 * code * gain);
    CHECK(stated.at("zero/unseen hum").source == "hum, stated for the place");
    CHECK(std::abs(stated.u("zero/unseen hum") - shift_at(50.0, 3.0) / std::sqrt(2.0)) <= 1e-12);
    CHECK(std::abs(stated.u("reading/hum") - 3.0 / 2.0) <= 1e-12);
    const solved none(s, {}, "", 0.0 * volt);
    CHECK_FALSE(none.has("zero/unseen hum"));
    CHECK_FALSE(none.has("reading/hum"));

    // 50 Hz is judged, 60 Hz is not: 150 Hz would be needed. It may stand still at any phase.
    uncertainty::input_set inputs;
    range_setup slow_rate = bench::ten_volts();
    slow_rate.largest_hum = 3.0 * code * gain;
    step at_140 = bench::stepped("short", s);
    at_140.evidence.sample_rate = 140.0 * hertz;
    at_140.seen.hum = {{50.0 * hertz, 46.0, codes(), codes()}};
    (void)solve(slow_rate, {at_140, bench::stepped("five", bench::seen(bench::code_of(5.0))), {}}, bench::references(), inputs);
    CHECK(std::get<uncertainty::arcsine>(inputs.at(id + "zero/unseen hum")->spread).half_width ==
          doctest::Approx(3.0).epsilon(1e-12).scale(0));
}

TEST_CASE("a stated disturbance counts where a capture is shorter than one of its periods, and in each reading then") {
    const volts_per_code gain = front_end::nominal_gain(bench::ten_volts().chain);
    const auto amplitude_at = [&](const uncertainty::input_set& inputs, const char* name) {
        const auto in = inputs.find(id + name);
        return in == nullptr ? 0.0 : std::get<uncertainty::arcsine>(in->spread).half_width;
    };
    const auto solved_with = [&](std::optional<frequency> at, std::size_t n_zero) {
        range_setup setup = bench::ten_volts();
        setup.slow = slow_disturbance{2.0 * code * gain, at};
        uncertainty::input_set inputs;
        (void)solve(setup,
                    {bench::stepped("short", bench::seen(zero, 0.8, n_zero)),
                     bench::stepped("five", bench::seen(bench::code_of(5.0))),
                     {}},
                    bench::references(), inputs);
        return inputs;
    };
    constexpr double rate = 10e3;
    {
        // 1000 samples are 0.1 s, a third of a period: |sin(pi P) / (n sin(pi P / n))|, sum of a geometric series
        const double periods = 1000.0 / rate * 10.0 / 3.0;
        const double expected =
            2.0 * std::sin(std::numbers::pi * periods) / (1000.0 * std::sin(std::numbers::pi * periods / 1000.0));
        const auto inputs = solved_with(10.0 / 3.0 * hertz, 4000);
        CHECK(amplitude_at(inputs, "zero/slow disturbance") == 0.0);  // more than a period
        CHECK(std::abs(amplitude_at(inputs, "reference/slow disturbance") - expected) <= 1e-9);
        CHECK(std::abs(amplitude_at(inputs, "reading/slow disturbance") - 2.0) <= 1e-9);
    }
    {
        const auto inputs = solved_with(30.0 * hertz, 1000);  // both captures show it: nothing is counted twice
        for (const char* at : {"zero/slow disturbance", "reference/slow disturbance", "reading/slow disturbance"})
            CHECK(amplitude_at(inputs, at) == 0.0);
    }
    for (const std::optional<frequency>& whole : {std::optional<frequency>(), std::optional<frequency>(7e3 * hertz)}) {
        const auto inputs = solved_with(whole, 4000);  // slower than any, or two samples in a period: it may stand still
        for (const char* at : {"zero/slow disturbance", "reference/slow disturbance", "reading/slow disturbance"})
            CHECK(std::abs(amplitude_at(inputs, at) - 2.0) <= 1e-9);
    }
}

TEST_CASE("captures in turn have a stated disturbance in their scatter where they are a period or more apart") {
    const stated_lines lines{3.0 * code, 2.0 * code, 0.1 * hertz};
    const auto turns = [](double apart) {
        std::vector<repeated_capture> all;
        for (int i = 0; i < 5; ++i) all.push_back({apart * i * second, {}, {}});
        return all;
    };
    CHECK(lines_of_turns(lines, turns(10.0)).slow == 0.0 * code);
    CHECK(lines_of_turns(lines, turns(9.9)).slow == 2.0 * code);
    CHECK(shift_by_slow(lines_of_turns(lines, turns(9.9)), 1'000'000, 10e3 * hertz) == 2.0 * code);  // 100 s in all
    CHECK(lines_of_turns({{}, 2.0 * code, {}}, turns(60.0)).slow == 2.0 * code);                     // no frequency is known
    CHECK(lines_of_turns(lines, turns(60.0)).hum == 0.0 * code);
}

TEST_CASE("a stated disturbance stays in a mean of many samples, and counts in figures without rows of their own") {
    const volts_per_code gain = front_end::nominal_gain(bench::ten_volts().chain);
    range_setup setup = bench::ten_volts();
    uncertainty::input_set plain;
    uncertainty::input_set disturbed;
    const steps both{bench::stepped("short", bench::seen(zero)), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}};
    const auto variance_of = [&](uncertainty::input_set& inputs) {
        const range_calibration of = solve(setup, both, bench::references(), inputs);
        reading_conditions when = at_calibration(of);
        when.samples = 1e6;
        const double u = uncertainty::make_budget(reading(inputs, bench::references(), of, both.zero.seen.mean, when)).u;
        return u * u;
    };
    const double without = variance_of(plain);
    setup.slow = slow_disturbance{2.0 * code * gain};
    uncertainty::input_set again;
    const range_calibration of = solve(setup, both, bench::references(), again);
    // at zero: the zero step's, and the reading's, each an arcsine of 2 codes
    const double volts = 2.0 * of.result.gain.value();
    CHECK(std::abs((variance_of(disturbed) - without) / (volts * volts) - 1.0) <= 1e-3);
    const codes u_before = level_of(both.zero, 1.0 * second, {}).u;
    const codes u_after = level_of(both.zero, 1.0 * second, lines_of(of)).u;
    CHECK(std::abs(std::pow(u_after.value(), 2) - std::pow(u_before.value(), 2) - 2.0) <= 1e-9);
}

TEST_CASE("the row of hum that cannot be judged reaches the reading at zero with the zero step's sensitivity") {
    capture::statistics s = bench::seen(zero, 0.8, 128);
    s.slope = capture::trend{};
    const solved short_one(s);
    const auto y = reading(short_one.inputs, bench::references(), short_one.range, s.mean, at_calibration(short_one.range));
    double by_step = 0.0;
    for (const auto& d : y.dependences) {
        if (d.on->id == id + "zero/unseen hum") by_step = d.sensitivity;
    }
    CHECK(by_step == doctest::Approx(-short_one.range.result.gain.value()).epsilon(1e-9).scale(0));
    CHECK(short_one.range.findings.at(0).number == 207);
    CHECK(short_one.range.findings.at(0).text.starts_with("hum cannot be judged: the 128 samples last 12.8 ms"));
    CHECK(short_one.range.findings.at(0).text.ends_with(" (1.13 codes) is kept in the budget for it"));
}

TEST_CASE("where noise is not proved to dither the position comes from the codes, and one sample has noise and half a code") {
    const auto low = static_cast<std::int32_t>(zero);
    capture::statistics s = bench::seen(low + 0.75, 0.433, 400);
    s.few_codes = {{low, 100}, {low + 1, 300}};
    const solved by_codes(s);
    const uncertainty::input& q = by_codes.at("zero/quantisation");
    CHECK(q.estimate < -0.01);  // from the mean back towards the edge in the middle
    CHECK(q.estimate > -0.25);
    CHECK(by_codes.u("zero/quantisation") < 0.1);
    CHECK(by_codes.u("zero/quantisation") > 0.01);

    const solved without(bench::seen(low + 0.75, 0.433, 400));
    CHECK(without.at("zero/quantisation").estimate == 0.0);
    CHECK(std::abs(without.u("zero/quantisation") - 0.5 / std::sqrt(3.0)) <= 1e-12);

    // The reading has half a code beside the noise before the quantiser only where all captures keep their codes.
    CHECK(std::abs(by_codes.u("reading/quantisation") - 0.5 / std::sqrt(3.0)) <= 1e-12);
    capture::statistics one = bench::seen(std::round(bench::code_of(5.0)), 0.0, 400);
    one.few_codes = {{static_cast<std::int32_t>(std::lround(bench::code_of(5.0))), 400}};
    range_setup setup = bench::ten_volts();
    uncertainty::input_set inputs;
    (void)solve(setup, {bench::stepped("short", s), bench::stepped("five", one), {}}, bench::references(), inputs);
    const double noise = uncertainty::standard_uncertainty(inputs.at(id + "reading/noise")->spread);
    CHECK(noise > 0.02);
    CHECK(noise < 0.3);  // where the scatter of the zero step alone is 0.43
    CHECK(std::abs(uncertainty::standard_uncertainty(inputs.at(id + "reading/quantisation")->spread) - 0.5 / std::sqrt(3.0)) <=
          1e-12);
    CHECK(std::abs(uncertainty::standard_uncertainty(inputs.at(id + "reference/quantisation")->spread) - 0.5 / std::sqrt(3.0)) <=
          1e-12);
}

TEST_CASE("a capture's level is the sum of its step's rows, in estimate and variance") {
    capture::statistics hums = bench::seen(zero, 2.2, 460);
    hums.removed = capture::removed_hum{50.0 * hertz, 3.0 * code, 0.25 * code, 0.1 * code, 0.7 * code, 440.0};
    capture::statistics brief = bench::seen(zero, 0.8, 128);
    brief.slope = capture::trend{};
    const auto low = static_cast<std::int32_t>(zero);
    capture::statistics narrow = bench::seen(low + 0.75, 0.433, 400);
    narrow.few_codes = {{low, 100}, {low + 1, 300}};
    for (const capture::statistics& s : {bench::seen(zero), hums, brief, narrow, slow()}) {
        CAPTURE(s.n);
        const solved of(s, 60.0 * second);
        double mean = 0.0;
        double variance = 0.0;
        for (const char* name : {"zero/mean", "zero/quantisation", "zero/hum", "zero/unseen hum", "zero/slow noise"}) {
            if (!of.has(name)) continue;
            mean += of.at(name).estimate;
            variance += of.u(name) * of.u(name);
        }
        const captured_level level = level_of(of.range.zero, 60.0 * second, {});
        CHECK(std::abs(level.mean.value() - mean) <= 1e-12);
        CHECK(std::abs(level.u.value() - std::sqrt(variance)) <= 1e-12);
        // of captures in turn, hum is in their scatter
        const captured_level in_turn = level_of(of.range.zero, 60.0 * second, lines_of_turns({}, {}), true);
        CHECK((in_turn.u < level.u) == (of.has("zero/hum") || of.has("zero/unseen hum")));
        CHECK((in_turn.mean == level.mean) == !of.has("zero/hum"));
    }
}

TEST_CASE("a reference whose error stands at its limit is a two-point distribution, a meter's likewise") {
    std::vector<reference> references = bench::references();
    references[1].output = stated_voltage{5.0 * volt, limits{2.5e-3 * volt, true}};
    uncertainty::input_set inputs;
    (void)solve(bench::ten_volts(),
                {bench::stepped("short", bench::seen(zero)), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
                references, inputs);
    CHECK(inputs.at("reference/five/error")->spread == uncertainty::distribution(uncertainty::two_point{1.0}));
    CHECK(inputs.at("reference/short/error")->spread == uncertainty::distribution(uncertainty::rectangular{1.0}));

    references[2].meter = meter{0.005 * one, 2.0, 1e-3 * volt, 6.0 * volt, {}, 0.1, 1e7 * ohm, true};
    step by_meter = bench::metered(5.0, bench::seen(bench::code_of(5.0)));
    by_meter.source.stated.reset();
    by_meter.source.indicated = 5.0 * volt;
    uncertainty::input_set with_meter;
    (void)solve(bench::ten_volts(), {bench::stepped("short", bench::seen(zero)), by_meter, {}}, references, with_meter);
    for (const char* part : {"reference/meter/error of reading", "reference/meter/error of counts"}) {
        CAPTURE(part);
        CHECK(with_meter.at(part)->spread == uncertainty::distribution(uncertainty::two_point{1.0}));
    }
}

}  // namespace captured_mean_test
