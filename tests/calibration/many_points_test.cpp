#include <plumbline/calibration/many_points.hpp>

#include <doctest/doctest.h>

#include "../reference/published.hpp"
#include "bench.hpp"
#include "message.hpp"

#include <algorithm>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <random>

namespace many_points_test {

using namespace plumbline;
using namespace plumbline::calibration;
using plumbline::published::check_recomputed;
using plumbline::published::entry;
using plumbline::uncertainty::input_set;

namespace {

template <class Quantity>
std::vector<Quantity> list(const nlohmann::json& e, const char* key) {
    std::vector<Quantity> q;
    for (const double x : e.at("inputs").at(key)) q.push_back(Quantity::from_value(x));
    return q;
}

void check_line(const nlohmann::json& e, const fitted_line& f) {
    check_recomputed(e, "a", f.line.intercept.value(), 1e-12);
    check_recomputed(e, "b", f.line.slope.value(), 1e-12);
    check_recomputed(e, "u_a", f.line.u_intercept().value(), 1e-12);
    check_recomputed(e, "u_b", f.line.u_slope.value(), 1e-12);
    check_recomputed(e, "cov_ab", f.line.covariance().value(), 1e-12);
    REQUIRE(f.fit.has_value());
    check_recomputed(e, "chi2", f.fit->observed, 1e-11);
}

/// The bench's chain, with an error of its codes that a test chooses.
struct bent {
    std::vector<reference> all = bench::references();
    input_set inputs;
    range_calibration two;  ///< by two steps
    range_calibration of;   ///< by all
    template <class Error>
    bent(const std::vector<double>& volts, Error error, double noise = 0.02, unsigned seed = 1)
        : two(solve(still(), {at(0.0, error, noise, seed), at(5.0, error, noise, seed + 1), {}}, all, inputs)) {
        std::vector<named_step> more;
        for (const double v : volts) {
            seed += 2;
            more.push_back({std::to_string(v), at(v, error, noise, seed)});
        }
        of = two;
        solve_points(of, more, all, inputs);
    }
    [[nodiscard]] const line_of_points& by() const { return *of.points; }
    [[nodiscard]] bool straight() const { return by().straight.observed <= by().straight.limit; }
    static range_setup still() {
        range_setup setup = bench::ten_volts();
        setup.temperature_half_width = 0.0 * kelvin;
        return setup;
    }
    template <class Error>
    static step at(double v, Error error, double noise, unsigned seed) {
        std::mt19937_64 bits(seed);
        std::normal_distribution<double> normal(0.0, noise);
        step s = bench::metered(v, bench::seen(bench::code_of(v) + error(v) + normal(bits), 0.8, 1000));
        return s;
    }
};

double none(double) { return 0.0; }

}  // namespace

TEST_CASE("Norris of NIST StRD goes through the calibration's door with 13 digits") {
    const auto e = entry("nist-strd", "strd-norris");
    const auto m = list<codes>(e, "x");
    const auto v = list<voltage>(e, "y");
    const fitted_line f = fit({m, v});
    const auto& certified = e.at("expected");
    const auto same = [](double found, double expected) { CHECK(std::abs(found / expected - 1.0) < 1e-13); };
    same(f.line.intercept.value(), certified["b"][0]);
    same(f.line.slope.value(), certified["b"][1]);
    same(f.line.u_intercept().value(), certified["sd_b"][0]);
    same(f.line.u_slope.value(), certified["sd_b"][1]);
    same(f.line.residual_deviation.value(), certified["residual_sd"]);
    double squares = 0.0;
    for (const voltage& r : f.residuals) squares += r.value() * r.value();
    CHECK(squares == doctest::Approx(certified["residual_ss"].get<double>()).epsilon(1e-10).scale(0));
    CHECK_FALSE(f.fit.has_value());  // nothing was stated that they could disagree with
}

TEST_CASE("the lines of ISO/TS 28037, clauses 6, 7 and 8, go through the calibration's door") {
    for (const char* id : {"iso28037-6-wls-equal", "iso28037-6-wls-unequal", "iso28037-7-gdr", "iso28037-8-gdr-covariance"}) {
        const auto e = entry("iso-ts-28037", id);
        const auto m = list<codes>(e, "x");
        const auto v = list<voltage>(e, "y");
        const auto u_v = list<voltage>(e, "u_y");
        const bool both = e.at("inputs").contains("u_x");
        const auto u_m = both ? list<codes>(e, "u_x") : std::vector<codes>();
        using product = uncertainty::product_of<codes, voltage>;
        const auto covariance = e.at("inputs").contains("cov_xy") ? list<product>(e, "cov_xy") : std::vector<product>();
        const fitted_line f = fit({m, v, u_m, u_v, {}, covariance});
        check_line(e, f);
        CHECK(f.fit->consistent);
        if (!covariance.empty()) continue;
        // the same with a covariance matrix of the applied voltages
        std::vector<squared_volts> U_v(v.size() * v.size());
        for (std::size_t i = 0; i < v.size(); ++i) U_v[i * v.size() + i] = u_v[i] * u_v[i];
        check_line(e, fit({m, v, u_m, {}, U_v, {}}));
    }
}

TEST_CASE("u known up to a factor, annex E of ISO/TS 28037, goes through the calibration's door as points without u") {
    const auto e = entry("iso-ts-28037", "iso28037-e-unknown-scale");
    const fitted_line f = fit({list<codes>(e, "x"), list<voltage>(e, "y")});
    check_recomputed(e, "a", f.line.intercept.value(), 1e-13);
    check_recomputed(e, "b", f.line.slope.value(), 1e-13);
    check_recomputed(e, "u_a", f.line.u_intercept().value(), 1e-12);
    check_recomputed(e, "u_b", f.line.u_slope.value(), 1e-12);
    check_recomputed(e, "cov_ab", f.line.covariance().value(), 1e-12);
    check_recomputed(e, "sigma_hat", f.line.residual_deviation.value(), 1e-12);
}

namespace {

/// Published points as the captures of a range: x, times some codes, the means of captures whose noise leaves them no quantisation, y volts of a
/// reference of its own each. The chain is as steep as the line, so that nothing of the data sheets contradicts it.
range_calibration captured(const nlohmann::json& e, double per_x, double slope, const std::vector<double>& u_y) {
    const auto x = e.at("inputs").at("x").get<std::vector<double>>();
    const auto y = e.at("inputs").at("y").get<std::vector<double>>();
    range_setup setup = bent::still();
    front_end::chain& chain = setup.chain;
    chain.input.bias.reset();
    chain.input.bottom->nominal = 10e3 * ohm;
    chain.high = 4096.0 * slope / per_x * volt;
    chain.low = 0.0 * volt;
    chain.input.top.nominal = 10e3 * (chain.high / chain.adc.reference - 1.0) * ohm;
    std::vector<reference> each(x.size());
    std::vector<named_step> all;
    for (std::size_t i = 0; i < x.size(); ++i) {
        each[i].id = "reference " + std::to_string(i);
        step s = bench::metered(y[i], bench::seen(per_x * x[i], 2.0, 100'000'000));
        s.source = {each[i].id, stated_voltage{y[i] * volt, expanded{2.0 * u_y[i] * volt, 2.0}}};
        all.push_back({std::to_string(i), s});
    }
    const auto [first, last] = std::minmax_element(x.begin(), x.end());
    const step zero = all[static_cast<std::size_t>(first - x.begin())].seen;
    const step top = all[static_cast<std::size_t>(last - x.begin())].seen;
    std::erase_if(all, [&](const named_step& s) { return s.seen == zero || s.seen == top; });
    input_set inputs;
    range_calibration of = solve(setup, {zero, top, {}}, each, inputs);
    solve_points(of, all, each, inputs);
    REQUIRE(of.points->points.size() == x.size());
    REQUIRE(of.points->measured);
    return of;
}

double relative(double found, const nlohmann::json& expected) { return std::abs(found / expected.get<double>() - 1.0); }

}  // namespace

TEST_CASE("Norris of NIST StRD, captured step by step, is solved to the certified gain and offset with their uncertainties") {
    const auto e = entry("nist-strd", "strd-norris");
    const auto& certified = e.at("expected");
    // applied voltages that are known far better than the points scatter: from six points on it is their residuals that count
    const range_calibration of = captured(e, 1.0, certified["b"][1], std::vector<double>(e.at("inputs").at("x").size(), 1e-9));
    CHECK(relative(of.result.offset.value(), certified["b"][0]) < 1e-11);
    CHECK(relative(of.result.gain.value(), certified["b"][1]) < 1e-13);
    CHECK(relative(of.result.u_offset.value(), certified["sd_b"][0]) < 1e-9);
    CHECK(relative(of.result.u_gain.value(), certified["sd_b"][1]) < 1e-9);
    CHECK(relative(of.points->nonlinearity.value() * of.result.gain.value(), certified["residual_sd"]) < 1e-12);
    double squares = 0.0;
    for (const weighted_point& p : of.points->points) squares += std::pow(p.residual.value() * of.result.gain.value(), 2);
    CHECK(relative(squares, certified["residual_ss"]) < 1e-10);
}

TEST_CASE("lines of ISO/TS 28037, captured step by step, are solved to the published ones") {
    // u known up to a factor, annex E: the residuals of six points say it
    constexpr double per_x = 256.0;  // codes
    const auto annex = entry("iso-ts-28037", "iso28037-e-unknown-scale");
    const range_calibration of = captured(annex, per_x, annex.at("recomputed").at("b"), std::vector<double>(6, 1e-9));
    check_recomputed(annex, "a", of.result.offset.value(), 1e-12);
    check_recomputed(annex, "b", of.result.gain.value() * per_x, 1e-12);
    check_recomputed(annex, "u_a", of.result.u_offset.value());
    check_recomputed(annex, "u_b", of.result.u_gain.value() * per_x);
    check_recomputed(annex, "cov_ab", of.result.covariance * per_x);
    check_recomputed(annex, "sigma_hat", of.points->nonlinearity.value() * of.result.gain.value(), 1e-12);
    // Clause 6: whether the points lie on a line within what is stated of them. Gain and offset are those of the document where u is the same
    // at each point; else they are not, because six points give their residuals a say in the weights, and u is that of residuals and
    // stated u together. Clauses 7 and 8 cannot pass here: codes have no stated u besides their capture's noise, and their u is carried
    // over by the slope of the last of two fits. fit() takes both, above.
    for (const char* id : {"iso28037-6-wls-equal", "iso28037-6-wls-unequal"}) {
        const auto e = entry("iso-ts-28037", id);
        const range_calibration by = captured(e, per_x, e.at("recomputed").at("b"), e.at("inputs").at("u_y"));
        check_recomputed(e, "chi2", by.points->straight.observed);
        if (id != std::string("iso28037-6-wls-equal")) continue;
        check_recomputed(e, "a", by.result.offset.value(), 1e-12);
        check_recomputed(e, "b", by.result.gain.value() * per_x, 1e-12);
        // residuals' variance chi2 0.5² / 4 besides the stated 0.5²: 1 + chi2 / 4 times the published covariance
        const double wider = 1.0 + e.at("recomputed").at("chi2").get<double>() / 4.0;
        check_recomputed(e, "u_a", by.result.u_offset.value() / std::sqrt(wider));
        check_recomputed(e, "u_b", by.result.u_gain.value() * per_x / std::sqrt(wider));
        check_recomputed(e, "cov_ab", by.result.covariance * per_x / wider);
    }
}

TEST_CASE("points on a straight line agree with it, and bent ones do not") {
    int refused = 0;
    constexpr int repetitions = 60;
    const std::vector<double> volts{-7.0, -4.0, -2.0, 2.0, 7.0};
    for (unsigned i = 0; i < repetitions; ++i) {
        const bent b(volts, none, 0.8 / std::sqrt(1000.0), 100 * i);
        refused += b.straight() ? 0 : 1;
    }
    CHECK(refused <= 6);  // 5 % of 60 are 3, and the data sheet's half code of quantisation pads it
    const auto bow = [](double v) { return 6.0 * (v * v / 64.0 - 0.4); };
    const bent b(volts, bow);
    CHECK_FALSE(b.straight());
    CHECK(b.by().by_data_sheet.observed > b.by().by_data_sheet.limit);
    const std::vector<std::string> text = sentences_of_points(b.of);
    REQUIRE(text.size() == 2);
    CHECK(text[0].starts_with("7 points are further from a straight line than the data sheet's non-linearity of 1 codes: "));
}

TEST_CASE("above the 95 % limit of ISO/TS 28037 alone nobody is blamed, beyond chance the line is a finding") {
    int stated = 0;
    for (double size = 0.5; size < 7.0; size += 0.25) {
        CAPTURE(size);
        const bent b({-7.0, -4.0, -2.0, 2.0, 7.0}, [&](double v) { return size * (v * v / 64.0 - 0.4); });
        const lack_of_fit& seen = b.by().by_data_sheet;
        const auto told =
            std::find_if(b.of.findings.begin(), b.of.findings.end(), [](const finding& f) { return f.number == 215; });
        const std::string text = sentences_of_points(b.of)[0];
        // 5 degrees of freedom: exceeded by 1 in 20 and by 1 in 10 000 (tables of chi-squared, from memory)
        CHECK(std::abs(seen.limit - 11.070) <= 1e-3);
        CHECK((told != b.of.findings.end()) == (seen.observed > 25.745));
        CHECK((text.find("Look for a voltage entered wrongly") != std::string::npos) == (told != b.of.findings.end()));
        if (told != b.of.findings.end()) {
            CHECK(told->where == "line through 7 points, channel A, range 8 V");
            CHECK(told->text.find(", expected at most 25.7") != std::string::npos);
        } else if (seen.observed > seen.limit) {
            ++stated;
            CHECK(text.ends_with(". By chance one straight line in twenty exceeds it: no fault is shown."));
        }
    }
    CHECK(stated >= 2);
}

TEST_CASE("captures too short to show hum are not held to be off a straight line by what hum may do to them, and weigh less") {
    const std::vector<reference> all = bench::references();
    // 128 samples at 10 kHz hold 0.64 periods of 50 Hz: scatter of 2 codes may be a sine that moves the mean by 1.27
    const auto short_one = [](double v, double off) {
        step s = bench::metered(v, bench::seen(bench::code_of(v) + off, 2.0, 128));
        s.seen.slope = capture::trend{};
        return s;
    };
    const auto by = [&](const std::vector<named_step>& more) {
        input_set inputs;
        range_calibration of = solve(bent::still(), {bent::at(0.0, none, 0.0, 1), bent::at(5.0, none, 0.0, 1), {}}, all, inputs);
        solve_points(of, more, all, inputs);
        return *of.points;
    };
    const line_of_points hums = by({{"a", short_one(-7.0, 1.0)}, {"b", short_one(-3.0, -1.0)}, {"c", short_one(7.0, 1.0)}});
    CHECK(hums.straight.observed <= hums.straight.limit);
    const line_of_points bends = by({{"a", short_one(-7.0, 4.0)}, {"b", short_one(-3.0, -4.0)}, {"c", short_one(7.0, 4.0)}});
    CHECK(bends.straight.observed > bends.straight.limit);
    // variance of 1.17 code^2, the data sheet's non-linearity included, beside 0.33
    const line_of_points mixed = by({{"short", short_one(-6.0, 0.0)}, {"long", bent::at(-6.0, none, 0.0, 1)}});
    const double ratio = mixed.points[2].of_height / mixed.points[3].of_height;
    CHECK(ratio > 0.2);
    CHECK(ratio < 0.4);
}

TEST_CASE("residuals from six points on take the place of the data sheet's non-linearity, fewer do not") {
    const bent few({-4.0, 2.0, 7.0}, none);
    CHECK_FALSE(few.by().measured);
    CHECK(sentences_of_points(few.of)[1] ==
          "5 points are too few to take their residuals for the non-linearity, 6 would do: the data sheet's is used.");
    const bent enough({-7.0, -4.0, 2.0, 7.0}, none);
    CHECK(enough.by().measured);
    CHECK(enough.by().degrees_of_freedom == 4.0);
    const auto u_of = [](const bent& b, const char* id) {
        const auto budget = make_budget(reading(b.inputs, b.all, b.of, 2000.0 * code, at_calibration(b.of)));
        for (const auto& row : budget.rows) {
            if (row.in->id == id) return row.contribution / std::abs(b.of.result.gain.value());  // in codes of the reading
        }
        return 0.0;
    };
    CHECK(u_of(few, "A/8 V/reading/nonlinearity") == doctest::Approx(1.0 / std::sqrt(3.0)).epsilon(1e-12).scale(0));
    CHECK(u_of(enough, "A/8 V/reading/nonlinearity") == 0.0);
    const double u = u_of(enough, "A/8 V/reading/nonlinearity measured");
    CHECK(u > enough.by().nonlinearity.value());
    CHECK(u < 0.1);
}

TEST_CASE("the line's budget is that of the fit: one height and slope, gain and offset with their covariance") {
    const bent b({-7.0, -4.0, 2.0}, none);
    REQUIRE_FALSE(b.by().measured);
    const correction& r = b.of.result;
    // the line once more through the door, with the covariance of the points' distances from it
    const auto at = make_budget(reading(b.inputs, b.all, b.of, b.by().centre, at_calibration(b.of)));
    double from_reading = 0.0;
    for (const auto& row : at.rows) {
        if (row.in->id.starts_with("A/8 V/reading/")) from_reading += row.contribution * row.contribution;
    }
    const double u_height = std::sqrt(at.u * at.u - from_reading);
    const double centre = b.by().centre.value();
    CHECK(at.value == doctest::Approx(b.by().height.value()).epsilon(1e-12).scale(0));
    CHECK(r.u_offset.value() == doctest::Approx(std::hypot(u_height, centre * r.u_gain.value())).epsilon(1e-6).scale(0));
    CHECK(r.covariance == doctest::Approx(-centre * r.u_gain.value() * r.u_gain.value()).epsilon(1e-6).scale(0));
    // and a point that moves moves the line as its coefficient says
    for (std::size_t i = 0; i < b.by().points.size(); ++i) {
        std::vector<named_step> more = b.by().more;
        steps seen{b.two.zero, b.two.reference, {}};
        step& moved = i == 0 ? seen.zero : i == 1 ? seen.reference : more[i - 2].seen;
        moved.seen.mean += 1e-3 * code;
        input_set inputs;
        range_calibration again = solve(bent::still(), seen, b.all, inputs);
        solve_points(again, more, b.all, inputs);
        const double by_point = (again.points->slope - b.by().slope).value() / 1e-3;
        CHECK(by_point == doctest::Approx(-b.by().slope.value() * b.by().points[i].of_slope).epsilon(2e-3).scale(0));
    }
}

TEST_CASE("readings by many points hold the true voltage as often as stated, on a bow and on steps") {
    const std::vector<double> volts{-8.0, -6.0, -4.0, -2.0, 2.0, 7.9};
    for (const bool smooth : {true, false}) {
        int held = 0;
        int all = 0;
        for (unsigned i = 0; i < 40; ++i) {
            std::mt19937_64 bits(1000 + i);
            std::uniform_real_distribution<double> even(-1.0, 1.0);
            const double height = 1.5 * even(bits);
            const double phase = 3.0 * even(bits);
            const auto error = [&](double v) {
                return smooth ? height * (1.0 - v * v / 64.0) : 1.5 * std::sin(phase + 37.0 * v) * std::cos(11.0 * v * phase);
            };
            const bent b(volts, error, 0.03, 10000 * i);
            for (double v = -7.9; v < 8.0; v += 0.63) {
                const double seen = bench::code_of(v) + error(v);
                const auto r = reading(b.inputs, b.all, b.of, seen * code, at_calibration(b.of));
                const auto budget = make_convolved_budget(r);
                held += std::abs(budget.value - v) <= budget.U ? 1 : 0;
                ++all;
            }
        }
        CAPTURE(smooth);
        CHECK(held >= 0.95 * all);
    }
}

TEST_CASE("further steps are looked at as the others are") {
    const bent b({-4.0}, none);
    input_set inputs = b.inputs;
    const auto refusal = [&](const std::vector<named_step>& more) {
        try {
            range_calibration of = b.two;
            solve_points(of, more, b.all, inputs);
        } catch (const error& e) {
            return std::string(e.what());
        }
        return std::string("no exception");
    };
    CHECK(refusal({}) ==
          "line through points, A/8 V: no step besides zero and reference, expected one or more; capture further voltages, or "
          "keep the line through two steps");
    const step good = bench::metered(2.0, bench::seen(bench::code_of(2.0)));
    CHECK(refusal({{"x", good}, {"x", good}}) ==
          "step x, channel A, range 8 V: this name twice, expected a name for each step; rename one");
    step clipped = good;
    clipped.seen.at_top = 500;
    CHECK(refusal({{"x", clipped}}) ==
          "step x, channel A, range 8 V: 500 of 1000 samples on code 4095, expected at most 1 in 1000 on an end code; apply a "
          "voltage inside the range");
    CHECK(inputs == b.inputs);
}

}  // namespace many_points_test
