#pragma once
// Whole calibrations of simulated captures, judged as a session judges them: clean ones, and with one fault each.

#include "../../src/calibration/findings.hpp"
#include "bench.hpp"

#include <capture/signals.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <plumbline/calibration/many_points.hpp>
#include <plumbline/calibration/surroundings.hpp>
#include <set>
#include <string>
#include <vector>

namespace calibration_cases {

using namespace plumbline;
using namespace plumbline::calibration;
using signals::generator;

// What is found in more than 95 % of calibrations: sizes in codes (LSB), fixed before any threshold was tuned. include/plumbline/NUMBERS.md
// has the same list. Captures have 1000 samples with 0.8 LSB of noise unless stated.
inline constexpr double noise = 0.8;
inline constexpr double other_slope = 6.0;      ///< at the negative step; non-linearity of 1 LSB at each step
inline constexpr double off_the_line = 8.0;     ///< one of seven points; non-linearity of 1 LSB at each
inline constexpr double from_channel = 1.0;     ///< between both ends of the other channel
inline constexpr double by_other_supply = 1.0;  ///< at one step
inline constexpr double still_warming = 3.0;    ///< over the last window, where 1 LSB is warm enough; 256 samples

/// What is added to the codes of one clean calibration.
struct fault {
    double slope = 0.0;
    double point = 0.0;
    double crosstalk = 0.0;
    double supply_zero = 0.0;
    double supply_reference = 0.0;
    double warming = 0.0;  ///< over the last window
};

/// Captures of a calibration by what they are for.
struct extent {
    bool negative = false;
    std::size_t points = 0;
    std::size_t crosstalk = 0;
    std::size_t supplies = 0;
    std::size_t warm_up = 0;
    std::size_t checks = 0;
    [[nodiscard]] std::size_t captures() const {
        return 2 + (negative ? 1 : 0) + points + 2 * crosstalk + 2 * supplies + warm_up + checks;
    }
};

/// Samples in a capture, and their noise.
struct sampling {
    double noise = calibration_cases::noise;
    std::size_t least = 1000;
    std::size_t most = 1000;
    std::size_t least_of_a_step = 1000;
    std::size_t most_of_a_step = 1000;
};

class calibration_seen {
public:
    /// @param of_one  chance of a false alarm of one test; none: by what this calibration has
    calibration_seen(const extent& what, const sampling& by, const fault& with, std::uint64_t seed,
                     std::optional<double> of_one = {})
        : by_(by), random_(seed) {
        range_setup setup = bench::ten_volts();
        setup.chain.adc.noise = by.noise * code;
        setup.chain.adc.integral_nonlinearity = 1.0 * code;
        setup.in_use.emplace();
        adc_ = setup.chain.adc;
        const std::vector<reference> references = bench::references();
        uncertainty::input_set inputs;
        const double zero = bench::code_of(0.0) + off();
        const double reference = bench::code_of(5.0) + off();
        steps seen{captured("short", zero, "zero step", true), captured("five", reference, "reference step", true), {}};
        if (what.negative) {
            step s = captured("five", bench::code_of(-5.0) - with.slope + off(), "negative step", true);
            s.source.reversed = true;
            seen.negative = s;
        }
        range_calibration of = solve(setup, seen, references, inputs);
        blamed_by_solve_ = !blaming(of.findings).empty();
        std::vector<named_step> points;
        for (std::size_t i = 0; i < what.points; ++i) {
            const double v = -7.0 + 14.0 * static_cast<double>(i + 1) / static_cast<double>(what.points + 1);
            const std::string name = "point " + std::to_string(i);
            step s = captured("meter", bench::code_of(v) + off() + (i == 1 ? with.point : 0.0), "step " + name);
            s.source.stated = stated_voltage{v * volt, limits{1e-4 * volt}};
            points.push_back({name, s});
        }
        if (!points.empty()) solve_points(of, points, references, inputs);
        for (std::size_t i = 0; i < what.crosstalk; ++i) {
            const std::string name = std::to_string(i);
            const step low = captured("short", zero, "crosstalk from channel " + name + ", low");
            const step high = captured("short", zero + with.crosstalk, "crosstalk from channel " + name + ", high");
            add_crosstalk(of,
                          {name, "8 V", -8.0 * volt, 8.0 * volt, low.evidence, low.seen, high.evidence, high.seen, {}, {}, {}},
                          of.chain, inputs);
        }
        for (std::size_t i = 0; i < what.supplies; ++i) {
            const std::string name = std::to_string(i);
            const step z = captured("short", zero + with.supply_zero, "supply " + name + ", zero step");
            const step r = captured("five", reference + with.supply_reference, "supply " + name + ", reference step");
            of.supplies.push_back({name, z.evidence, z.seen, r.evidence, r.seen});
        }
        if (what.warm_up > 0) {
            seen_warm_up& w = of.warm_up.emplace();
            w.window = 600.0 * second;  // ten captures, a minute apart
            w.slope_limit = 6.0 * std::abs(of.result.gain.value()) * volt;
            for (std::size_t i = 0; i < what.warm_up; ++i) {
                const double minute = static_cast<double>(i);
                const step s = captured("five", reference + with.warming * minute / 10.0, "warm-up " + std::to_string(i));
                captures_.back().during = applied_during::warming_up;
                w.curve.push_back({60.0 * minute * second, s.evidence, s.seen});
            }
        }
        for (std::size_t i = 0; i < what.checks; ++i) {
            (void)captured("meter", bench::code_of(-6.0 + 12.0 * random_.uniform()), "check point " + std::to_string(i));
        }
        const looks all{what.captures(),
                        what.crosstalk + 2 * what.supplies + (what.warm_up > 0 ? 1 : 0) + (what.points > 0 ? 1 : 0),
                        what.negative && what.points == 0 ? std::size_t{1} : 0};
        const double chance = of_one.value_or(alarm_of_one(all));
        judge_together(of, references, inputs, chance, alarm_of_slopes_in_one(all));
        add_findings(of, captures_, chance);
        numbers_ = blaming(of.findings);
    }
    [[nodiscard]] bool has(notice what) const { return numbers_.count(static_cast<int>(what)) > 0; }
    [[nodiscard]] const std::set<int>& numbers() const { return numbers_; }
    [[nodiscard]] bool blamed_by_solve() const { return blamed_by_solve_; }

private:
    static std::set<int> blaming(const std::vector<finding>& findings) {
        std::set<int> numbers;
        for (const finding& f : findings) {
            // true of captures without noise, of short ones, and of the steps that these calibrations have: nobody is blamed
            constexpr std::array told{notice::on_one_code, notice::hum_not_judged, notice::one_sided, notice::end_unseen};
            if (std::none_of(told.begin(), told.end(), [&](notice one) { return static_cast<int>(one) == f.number; })) {
                numbers.insert(f.number);
            }
        }
        return numbers;
    }
    /// Non-linearity of a step, within the data sheet's limits.
    double off() { return 2.0 * random_.uniform() - 1.0; }

    step captured(const std::string& reference, double level, const std::string& what, bool of_a_step = false) {
        const std::size_t least = of_a_step ? by_.least_of_a_step : by_.least;
        const std::size_t most = of_a_step ? by_.most_of_a_step : by_.most;
        const std::size_t n = least + static_cast<std::size_t>(random_.uniform() * static_cast<double>(most - least + 1));
        capture::run run{{}, 10e3 * hertz};
        run.codes.reserve(n);
        for (std::size_t i = 0; i < n; ++i) {
            run.codes.push_back(static_cast<std::int32_t>(std::lround(level + by_.noise * random_.normal())));
        }
        step s;
        s.source.reference = reference;
        s.evidence = {what + ".csv", "", std::string(64, '0'), 10e3 * hertz};
        s.seen = capture::summarise(run, adc_.bottom_code(), adc_.top_code());
        captures_.push_back({what, {{}, s.evidence, s.seen}, std::move(run)});
        return s;
    }

    sampling by_;
    generator random_;
    front_end::converter adc_ = bench::ten_volts().chain.adc;
    std::vector<seen_capture> captures_;
    std::set<int> numbers_;
    bool blamed_by_solve_ = false;
};

/// How many of so many calibrations with the fault have the finding, judged as one of 120 captures with a negative step is.
inline int found(int calibrations, notice what, const extent& of, const fault& with, sampling by = {}) {
    const double chance = alarm_of_one({120, 20, 1});
    int count = 0;
    for (int i = 0; i < calibrations; ++i) {
        count += calibration_seen(of, by, with, 70'000 + static_cast<std::uint64_t>(i), chance).has(what) ? 1 : 0;
    }
    return count;
}

inline const extent three_steps{.negative = true};
inline const extent seven_points{.points = 5};
inline const extent with_crosstalk{.crosstalk = 1};
inline const extent with_supply{.supplies = 1};
inline const extent with_warm_up{.warm_up = 21};
inline constexpr sampling briefly{.least = 256, .most = 256};

inline const extent of_20{.negative = true, .crosstalk = 1, .supplies = 2, .warm_up = 6, .checks = 5};
inline const extent of_60{.points = 9, .crosstalk = 3, .supplies = 2, .warm_up = 24, .checks = 15};
inline const extent of_120{.points = 29, .crosstalk = 7, .supplies = 4, .warm_up = 42, .checks = 25};

struct blamed {
    int by_session = 0;
    int by_solve = 0;  ///< of their steps alone
    std::map<int, int> numbers{};
};

/// Clean calibrations that have a finding, of so many, from seeds of their own.
inline blamed clean(int calibrations, const extent& of) {
    blamed count;
    for (int i = 0; i < calibrations; ++i) {
        const std::uint64_t seed = 20'251'200 + 1'000'003 * of.captures() + static_cast<std::uint64_t>(i);
        generator random(seed);
        const sampling by{3.0 * random.uniform(), 16, 1024, 256, 4096};
        const calibration_seen seen(of, by, {}, random.bits());
        for (const int number : seen.numbers()) ++count.numbers[number];
        count.by_session += seen.numbers().empty() ? 0 : 1;
        count.by_solve += seen.blamed_by_solve() ? 1 : 0;
    }
    return count;
}

}  // namespace calibration_cases
