#include <plumbline/image/image.hpp>

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "example_image_record.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/error.hpp>
#include <plumbline/image/instrument_reading.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <random>
#include <string>
#include <vector>

namespace image_image_test {

namespace {

using namespace plumbline;
using example_image_record::one_line;
using example_image_record::shipped;
using example_image_record::shipped_image;
using example_image_record::shipped_settings;

template <std::size_t size>
std::string text(const char (&field)[size]) {
    return {field, std::find(field, field + size, '\0')};
}

std::string refusal(const record::record& r, const image::settings& by = {}) {
    try {
        static_cast<void>(image::make_image(r, by));
    } catch (const bad_input& refused) {
        return refused.what();
    }
    return "";
}

/// What make_image says to the record of one line with a change.
template <class Change>
std::string with(const Change& change) {
    record::record r = one_line();
    change(r);
    return refusal(r);
}

struct far_from_calibration {
    std::uint16_t samples;
    std::uint16_t centikelvin;
    std::uint16_t days;
};

voltage shown(const embedded::range& range, std::int32_t v, const far_from_calibration& at) {
    return embedded::plus_or_minus(range.uncertainty, v, at.samples, at.centikelvin, at.days) * 1e-6 * volt;
}

uncertainty::budget budget_of(const record::record& r, std::size_t i, const embedded::range& range,
                              const calibration::use_conditions& use, codes c, const far_from_calibration& at) {
    const auto y = image::instrument_reading(r, r.ranges[i], range.line, use, c,
                                             {static_cast<double>(at.samples), 0.01 * at.centikelvin * kelvin, at.days / 365.0});
    return uncertainty::make_convolved_budget(y, r.coverage_probability, r.correlations);
}

double normal(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

}  // namespace

TEST_CASE("the image of the shipped record takes 380 bytes, names it, and comes back from its bytes") {
    const image::bytes bytes = image::encode(shipped_image().what);
    CHECK(bytes.size() == 380);
    const image::content back = image::decode(bytes, "image");
    CHECK(text(back.whose.model) == "PS-2");
    CHECK(text(back.whose.serial) == "0007");
    CHECK(text(back.whose.record) == "PS2-0007-2025-03");
    CHECK(back.whose.coverage == 9545);
    // 2025-03-14 by GNU date: date -ud 2025-03-14 +%s is 1741910400, 2000-01-01 is 946684800
    CHECK(back.whose.holds.first_day == (1741910400 - 946684800) / 86400);
    CHECK(back.whose.holds.last_day == back.whose.holds.first_day + 365);
    CHECK(back.whose.holds.temperature == 2250);
    CHECK(back.whose.holds.lowest_temperature == 1450);
    CHECK(back.whose.holds.highest_temperature == 3050);
    std::string digest;
    for (const std::uint8_t byte : back.whose.digest) {
        digest += "0123456789abcdef"[byte / 16];
        digest += "0123456789abcdef"[byte % 16];
    }
    CHECK(digest == record::sections_digest(shipped()));
    REQUIRE(back.ranges.size() == 4);
    CHECK(text(back.ranges[0].name) == "A 10 V");
    CHECK(text(back.ranges[3].name) == "B 1 V");
    CHECK(image::usual_places(shipped()) == std::vector<image::place>{{0, 0, 0}, {0, 1, 0}, {1, 0, 0}, {1, 1, 0}});
    for (std::size_t i = 0; i < 4; ++i)
        CHECK(image::place{back.ranges[i].channel, back.ranges[i].number, back.ranges[i].mode} ==
              image::usual_places(shipped())[i]);
    CHECK(image::encode(back) == bytes);
}

TEST_CASE("on every code in range the instrument shows the record's voltage within the bound that is stated") {
    const record::record single = one_line();
    const image::made_image single_image = image::make_image(single);
    CHECK(single_image.statements[0].one_line_error == 0.0 * volt);
    const auto largest_difference = [](const record::record& r, std::size_t i, const image::made_image& made) {
        const embedded::correction& line = made.what.ranges[i].line;
        double largest = 0.0;
        for (int c = line.first_code; c <= line.last_code; c += static_cast<int>(slow::one_in)) {
            const auto at = calibration::at_calibration(r.ranges[i]);
            const voltage v = calibration::reading(r.inputs, r.references, r.ranges[i], c * code, at).value;
            const double shown = embedded::correct(line, static_cast<std::uint16_t>(c)) * 1e-6;
            largest = std::max(largest, std::abs(shown - v.value()));
        }
        return largest;
    };
    const double single_largest = largest_difference(single, 0, single_image);
    CHECK(single_largest <= single_image.statements[0].fixed_point_error.value());
    CHECK(single_largest > 0.45e-6);  // half a microvolt is what whole microvolts cost
    for (std::size_t i = 0; i < 4; ++i) {
        const image::range_statement& s = shipped_image().statements[i];
        CAPTURE(s.name);
        const double largest = largest_difference(shipped(), i, shipped_image());
        CHECK(largest <= (s.one_line_error + s.fixed_point_error).value());
        CHECK(largest >= 0.99 * s.one_line_error.value());
    }
}

TEST_CASE("the image's one line goes through the zero step, its slope halfway between the record's two") {
    for (std::size_t i = 0; i < 4; ++i) {
        const calibration::range_calibration& of = shipped().ranges[i];
        const embedded::correction& line = shipped_image().what.ranges[i].line;
        const voltage at_zero = of.result.offset + of.result.gain * of.zero.seen.mean;
        CHECK(std::abs((image::on_line(line, of.zero.seen.mean) - at_zero).value()) <= 0.05e-6);  // 4096 codes of 2^-17 uV
        const double gain = (image::on_line(line, 1000.0 * code) - image::on_line(line, 0.0 * code)).value() / 1000.0;
        CHECK(std::abs(gain - 0.5 * (of.result.gain + of.negative_result->gain).value()) <= 1e-11);  // 2^-17 uV is 0.8e-11 V
    }
}

TEST_CASE("codes in range are those whose voltage lies within the range, without the end codes of the converter") {
    const embedded::correction& line = shipped_image().what.ranges[0].line;
    const calibration::range_calibration& of = shipped().ranges[0];
    const auto v = [&](int c) {
        return calibration::reading(shipped().inputs, shipped().references, of, c * code, calibration::at_calibration(of)).value;
    };
    CHECK(v(line.first_code) >= of.chain.low);  // no code falls on an end of this range
    CHECK(v(line.first_code - 1) < of.chain.low);
    CHECK(v(line.last_code) <= of.chain.high);
    CHECK(v(line.last_code + 1) > of.chain.high);

    record::record wide = one_line();
    wide.ranges[0].chain.low = -20.0 * volt;
    wide.ranges[0].chain.high = 20.0 * volt;
    const embedded::correction all = image::make_image(wide).what.ranges[0].line;
    CHECK(all.first_code == 1);
    CHECK(all.last_code == 4094);
}

TEST_CASE("over the whole range the instrument's plus-or-minus is never below U of the host, and exceeds it as stated") {
    const std::vector<far_from_calibration> states{{1, 0, 0},    {3, 0, 0},      {40, 100, 20},
                                                   {2048, 0, 0}, {16, 400, 180}, {1, 800, 365}};
    for (std::size_t i = 0; i < 4; ++i) {
        const image::range_statement& s = shipped_image().statements[i];
        const embedded::range& range = shipped_image().what.ranges[i];
        CAPTURE(s.name);
        double excess = 0.0;
        for (int c = range.line.first_code; c <= range.line.last_code; c += 53 * static_cast<int>(slow::one_in)) {
            CAPTURE(c);
            const std::int32_t v = embedded::correct(range.line, static_cast<std::uint16_t>(c));
            for (const far_from_calibration& at : states) {
                CAPTURE(at.samples);
                const double U = budget_of(shipped(), i, range, *shipped().ranges[i].in_use, c * code, at).U;
                REQUIRE(shown(range, v, at).value() >= U);
                excess = std::max(excess, shown(range, v, at).value() / U - 1.0);
            }
        }
        CHECK(excess <= s.largest_excess + 0.01);
        CHECK(s.largest_excess < (i % 2 == 0 ? 0.33 : 0.18));
    }
}

TEST_CASE("on every code the plus-or-minus of one sample covers twice the standard uncertainty at calibration") {
    for (std::size_t i = 0; i < 4; ++i) {
        const embedded::range& range = shipped_image().what.ranges[i];
        for (int c = range.line.first_code; c <= range.line.last_code; c += static_cast<int>(slow::one_in)) {
            const auto y =
                image::instrument_reading(shipped(), shipped().ranges[i], range.line, *shipped().ranges[i].in_use, c * code, {});
            const double u = std::sqrt(uncertainty::covariance(y.dependences, y.dependences));
            const std::int32_t v = embedded::correct(range.line, static_cast<std::uint16_t>(c));
            REQUIRE(shown(range, v, {1, 0, 0}).value() >= 2.0 * u);
        }
    }
}

TEST_CASE("without thermometer and clock the plus-or-minus covers the budget in use") {
    const calibration::use_conditions& use = *shipped().ranges[0].in_use;
    const embedded::range& range = shipped_image().what.ranges[0];
    const embedded::validity& holds = shipped_image().what.whose.holds;
    for (int c = range.line.first_code; c <= range.line.last_code; c += 200 * static_cast<int>(slow::one_in)) {
        embedded::samples of;
        of.add(range.line, static_cast<std::uint16_t>(c));
        const embedded::reading read =
            embedded::read(range, holds, {range.mode, embedded::unknown_temperature, embedded::unknown_day}, of);
        REQUIRE(read.what == embedded::status::ok);
        const auto y =
            calibration::reading_in_use(shipped().inputs, shipped().references, shipped().ranges[0], c * code, 1.0, use);
        const double U = uncertainty::make_convolved_budget(y, shipped().coverage_probability).U;
        CHECK(read.plus_or_minus * 1e-6 >= U);
    }
}

TEST_CASE("a known difference as a standard uncertainty of its own size keeps the coverage") {
    // two slopes under one line: the value is off by d, and 2 sqrt(u^2 + d^2) is stated
    for (double d = 0.0; d <= 20.0; d += 0.01) {
        const double stated = 2.0 * std::sqrt(1.0 + d * d);
        REQUIRE(normal(stated - d) - normal(-stated - d) >= 0.9545 - 1e-6);
        const double half_width = std::sqrt(3.0);  // rectangular with u = 1
        const double high = std::min(stated - d, half_width);
        const double low = std::max(-stated - d, -half_width);
        REQUIRE((high - low) / (2.0 * half_width) >= 0.9545);
    }
}

TEST_CASE("fixed-point arithmetic and the one line are rows of the instrument's budget") {
    const embedded::range& range = shipped_image().what.ranges[0];
    const uncertainty::budget b = budget_of(shipped(), 0, range, *shipped().ranges[0].in_use, 3900.0 * code, {1, 0, 0});
    const auto row = [&](const std::string& label) {
        const auto found = std::find_if(b.rows.begin(), b.rows.end(), [&](const auto& r) { return r.in->label == label; });
        REQUIRE_MESSAGE(found != b.rows.end(), label);
        return *found;
    };
    const double bound = shipped_image().statements[0].fixed_point_error.value();
    CHECK(std::abs(row("fixed-point arithmetic of the instrument").contribution - bound / std::sqrt(3.0)) <= 1e-15);
    CHECK(row("fixed-point arithmetic of the instrument").in->source == "bound of the arithmetic");
    const calibration::range_calibration& of = shipped().ranges[0];
    const auto v =
        calibration::reading(shipped().inputs, shipped().references, of, 3900.0 * code, calibration::at_calibration(of));
    const double off = std::abs((image::on_line(range.line, 3900.0 * code) - v.value).value());
    CHECK(off > 0.5e-3);
    CHECK(std::abs(row("one line for two slopes").contribution - off) <= 1e-12);

    const record::record single = one_line();
    const image::content made = image::make_image(single).what;
    const auto y =
        image::instrument_reading(single, single.ranges[0], made.ranges[0].line, *single.ranges[0].in_use, 3000.0 * code, {});
    CHECK(std::none_of(y.dependences.begin(), y.dependences.end(),
                       [](const auto& d) { return d.on->label == "one line for two slopes"; }));
    CHECK(std::is_sorted(y.dependences.begin(), y.dependences.end(),
                         [](const auto& a, const auto& b2) { return a.on->id < b2.on->id; }));
}

TEST_CASE("the bound of the fixed-point arithmetic holds for any line, single codes and means") {
    std::mt19937_64 random(7);
    std::uniform_real_distribution<double> unit(-1.0, 1.0);
    double closest = 0.0;
    for (int i = 0; i < slow::repetitions(20000); ++i) {
        const double gain = 30000.0 * unit(random);
        const double offset = 2e7 * unit(random);
        const embedded::correction line =
            embedded::make_correction(std::llround(gain * 65536.0), std::llround(offset * 65536.0), 1, 65534);
        const double bound = image::fixed_point_error(line).value() * 1e6;
        const auto c = static_cast<std::uint16_t>(1 + random() % 65534);
        const auto n = static_cast<std::uint16_t>(1 + random() % 65535);
        const std::uint32_t sum = static_cast<std::uint32_t>(c) * n - static_cast<std::uint32_t>(random() % n);
        const double single = std::abs(embedded::correct(line, c) - (offset + gain * c));
        const double mean = std::abs(embedded::correct_mean(line, sum, n) - (offset + gain * sum / n));
        REQUIRE(single <= bound);
        REQUIRE(mean <= bound);
        closest = std::max(closest, std::max(single, mean) / bound);
    }
    CHECK(closest > 0.8);
    for (const std::uint16_t last : {std::uint16_t{254}, std::uint16_t{4094}, std::uint16_t{65534}}) {
        const embedded::correction line = embedded::make_correction(1 << 16, 0, 1, last);
        CHECK(image::fixed_point_error(line).value() * 1e9 >= embedded::correction_error_bound(last) - 1.0);
    }
}

TEST_CASE("random records come back from their images within quantisation") {
    std::mt19937_64 random(11);
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    for (int i = 0; i < slow::repetitions(12); ++i) {
        CAPTURE(i);
        record::record r = one_line();
        r.inputs = {};
        calibration::range_calibration& of = r.ranges[0];
        calibration::range_setup setup = example::ten_volts("A");
        setup.ambient = r.ambient.temperature;
        setup.in_use = of.in_use;
        setup.in_use->years = 0.1 + 3.0 * unit(random);
        setup.in_use->offset_per_year = 0.01 * unit(random) * volt;
        const double zero = 2050.0 + 10.0 * unit(random);
        const double slope = 185.0 + 3.0 * unit(random);
        of = calibration::solve(setup,
                                {example::step_at({"short", {}}, "zero.csv", zero),
                                 example::step_at({"ref-4v096", {}}, "reference.csv", zero + 4.096 * slope),
                                 {}},
                                r.references, r.inputs);
        of.compact.centre = (unit(random) - 0.5) * volt;
        r.device.serial = "S" + std::to_string(random() % 100000000);
        const image::content made = image::decode(image::encode(image::make_image(r).what), "image");
        const embedded::range& range = made.ranges[0];
        CHECK(text(made.whose.serial) == r.device.serial);
        const double gain = (image::on_line(range.line, 1024.0 * code) - image::on_line(range.line, 0.0 * code)).value() / 1024.0;
        CHECK(std::abs(gain - of.result.gain.value()) <= 0.8e-11);  // 2^-17 uV
        CHECK(std::abs((image::on_line(range.line, 0.0 * code) - of.result.offset).value()) <= 0.8e-11);
        CHECK(std::abs(range.uncertainty.centre * 1e-6 - of.compact.centre.value()) <= 0.5e-6);
        CHECK(made.whose.holds.last_day - made.whose.holds.first_day ==
              static_cast<int>(std::floor(setup.in_use->years * 365.0)));
        // drift of gain and offset, rectangular, each times k of about 2, under a curve about Vc
        for (const std::uint16_t c : {range.line.first_code, range.line.last_code}) {
            const double v = image::on_line(range.line, static_cast<double>(c) * code).value();
            const double x = v - range.uncertainty.centre * 1e-6;
            const double drift = 2.0 * std::hypot(5e-4 * v, setup.in_use->offset_per_year.value()) / std::sqrt(3.0);
            const double of_image =
                std::hypot(range.uncertainty.per_year.floor / 16e6, std::ldexp(range.uncertainty.per_year.slope, -32) * x);
            CHECK(of_image >= drift);
            CHECK(of_image <= 1.2 * drift);
        }
    }
}

TEST_CASE("correlated samples count for less, and averaging for no more than the captures were worth" *
          doctest::skip(slow::build)) {
    const record::record white = one_line();
    record::record slow = white;
    slow.ranges[0].zero.seen.n_eff = 512.7;  // of 2048
    const embedded::uncertainty_form a = image::make_image(white).what.ranges[0].uncertainty;
    const embedded::uncertainty_form b = image::make_image(slow).what.ranges[0].uncertainty;
    CHECK(a.most_samples == 2048);
    CHECK(b.most_samples == 512);
    CHECK(std::abs(static_cast<double>(b.noise) / a.noise - std::sqrt(2048.0 / 512.7)) < 1e-4);
    CHECK(b.floor == a.floor);
}

TEST_CASE("a drift below the last digit of the image is rounded up to one, no drift stays none" * doctest::skip(slow::build)) {
    record::record r = one_line();
    r.ranges[0].in_use->gain_per_year = ratio();
    r.ranges[0].in_use->offset_per_year = 2e-8 * volt;  // U by it is 23 nV, a digit 62.5
    const embedded::uncertainty_form little = image::make_image(r).what.ranges[0].uncertainty;
    CHECK(little.per_year.floor == 1);
    CHECK(little.per_year.slope == 0);
    r.ranges[0].in_use->offset_per_year = voltage();
    const embedded::uncertainty_form none = image::make_image(r).what.ranges[0].uncertainty;
    CHECK(none.per_year.floor == 0);
    CHECK(none.per_year.slope == 0);
}

TEST_CASE("places that the firmware's author chose are taken" * doctest::skip(slow::build)) {
    image::settings by = shipped_settings();
    by.places = {{1, 0, 77}, {1, 1, 77}, {0, 0, 77}, {0, 1, 78}};
    const image::content made = image::make_image(shipped(), by).what;
    CHECK(made.ranges[0].channel == 1);
    CHECK(made.ranges[0].mode == 77);
    CHECK(made.ranges[3].channel == 0);
    CHECK(made.ranges[3].number == 1);
    CHECK(made.ranges[3].mode == 78);
    CHECK(text(made.ranges[0].name) == "A 10 V");
}

TEST_CASE("modes of a record are numbered in the order of their appearance") {
    record::record r = shipped();
    r.ranges[2].mode.sample_rate = 100.0 * hertz;
    CHECK(image::usual_places(r) == std::vector<image::place>{{0, 0, 0}, {0, 1, 0}, {1, 0, 1}, {1, 1, 0}});
}

TEST_CASE("what does not fit the image is refused by name") {
    using record::record;
    CHECK(with([](record&) {}) == "");
    CHECK(with([](record& r) { r.device.model = "PS-2 with the long name"; }) ==
          "record PS2-0007-2025-03: /device/model: found \"PS-2 with the long name\", 23 bytes, expected at most 16; shorten it "
          "in the "
          "session and give the record a number of its own");
    CHECK(with([](record& r) { r.device.serial = "00000000000000007"; }) ==
          "record PS2-0007-2025-03: /device/serial: found \"00000000000000007\", 17 bytes, expected at most 16; shorten it in "
          "the session "
          "and give the record a number of its own");
    CHECK(with([](record& r) { r.device.model = "PS\n2"; }) ==
          "record PS2-0007-2025-03: /device/model: found a control character, expected a text on one line; remove it in the "
          "session and "
          "give the record a number of its own");
    CHECK(with([](record& r) { r.number = std::string(33, 'n'); }) ==
          "record nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn: /number: found \"nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn\", 33 bytes, expected at "
          "most 32; "
          "shorten it in the session and give the record a number of its own");
    CHECK(with([](record& r) { r.ranges[0].in_use.reset(); }) ==
          "record PS2-0007-2025-03: /ranges/0/in_use: found no conditions of use for \"A 10 V\", expected age, temperature, "
          "drift and "
          "supply, which the instrument's plus-or-minus has to cover; state \"in_use\" in the session, or say which conditions "
          "shall "
          "count here");
    CHECK(with([](record& r) { r.what = plumbline::record::kind::probe; }) ==
          "record PS2-0007-2025-03: /kind: found the record of a probe, expected that of an instrument; make the image from the "
          "record "
          "of the instrument");
    CHECK(with([](record& r) { r.ranges[0].ambient.degrees = 25.0; }) ==
          "record PS2-0007-2025-03: /ranges/0/ambient: found 25 degC, expected 22.5 degC, the temperature of the record; an "
          "image has one "
          "temperature of calibration: make a record for each");
    CHECK(with([](record& r) {
              r.dates = {"", "1999-12-31", "2000-01-01", "2000-01-02"};
          }) ==
          "record PS2-0007-2025-03: /dates/begun: found 1999-12-31, expected a day from 2000-01-01 to 2179-06-05; correct the "
          "session "
          "and give the record a number of its own");
    CHECK(
        with([](record& r) { r.ambient.temperature.degrees = r.ranges[0].ambient.degrees = 400.0; }) ==
        "record PS2-0007-2025-03: /ambient/temperature: found 400 degC and 10 K about it, expected temperatures from -327.67 to "
        "327.67 degC; correct the session and give the record a number of its own");
    CHECK(with([](record& r) { r.coverage_probability = 0.99999; }) ==
          "record PS2-0007-2025-03: /coverage_probability: found 0.99999, expected 0.0001 to 0.9999; correct the session and "
          "give the "
          "record a number of its own");
    CHECK(with([](record& r) { r.ranges[0].result.gain *= 1.0001; }) ==
          "record PS2-0007-2025-03: /ranges/0, correction: found that its line has -10.000000 V at code 192.980702, expected "
          "code 193.000000, by the steps that it comes from; use the record as it was written");
    CHECK(with([](record& r) { r.ranges[0].result.gain = 5000.0 * volt / code; }) ==
          "record PS2-0007-2025-03: /ranges/0, gain: found 5000 V/code, expected less than 1073.741824 V/code; "
          "calibrate the "
          "connector behind its divider");
}

TEST_CASE("a converter, codes and voltages beyond the image are refused by name") {
    using record::record;
    CHECK(with([](record& r) { r.ranges[0].chain.adc.bits = 24; }) ==
          "record PS2-0007-2025-03: /ranges/0, converter: found 24 bits, expected at most 16; let the firmware shorten its codes "
          "to 16 "
          "bits, and calibrate so");
    CHECK(with([](record& r) {
              r.ranges[0].chain.low = 50.0 * volt;
              r.ranges[0].chain.high = 60.0 * volt;
          }) ==
          "record PS2-0007-2025-03: /ranges/0, codes: found 11359.0 to 13220.0 from the ends of the range, expected codes "
          "between 1 and "
          "4094; correct the ends of the range in the session");
    CHECK(
        with([](record& r) {
            r.ranges[0].result = {2.0 * volt / code, {}, -4096.0 * volt, {}, 0.0};
            r.ranges[0].chain.low = -4000.0 * volt;
            r.ranges[0].chain.high = 4000.0 * volt;
        }) ==
        "record PS2-0007-2025-03: /ranges/0, voltage: found -4096 V, expected at most 2147 V over the codes, code 0 among them; "
        "calibrate the connector behind its divider");
}

TEST_CASE("two ranges in one place, and places that are not one for each range, are refused") {
    image::settings by = shipped_settings();
    by.places = {{0, 0, 0}, {0, 1, 0}, {0, 0, 0}, {1, 1, 0}};
    CHECK(refusal(shipped(), by) ==
          "record PS2-0007-2025-03: /ranges: found two ranges for channel 0, number 0, mode 0, expected a place of its own for "
          "each; give "
          "each range a channel, a number and a mode");
    by.places = {{0, 0, 0}};
    CHECK(refusal(shipped(), by) ==
          "record PS2-0007-2025-03: /ranges: found 1 places for 4 ranges, expected one for each; give each range a channel, a "
          "number and "
          "a mode");
    record::record many = shipped();
    many.ranges.resize(256, many.ranges[0]);
    CHECK(refusal(many, shipped_settings()) ==
          "record PS2-0007-2025-03: /ranges: found 256 ranges, expected at most 255; correct the session and give the record a "
          "number of "
          "its own");
}

TEST_CASE("bytes that are no image are refused, saying what is wrong") {
    const auto refusal_of = [](const image::bytes& b) {
        try {
            static_cast<void>(image::decode(b, "back.bin"));
        } catch (const bad_input& refused) {
            return std::string(refused.what());
        }
        return std::string();
    };
    const image::bytes good = image::encode(shipped_image().what);
    const auto changed = [&](const auto& change) {
        image::bytes b = good;
        change(b);
        return refusal_of(b);
    };
    CHECK(refusal_of(good) == "");
    CHECK(refusal_of({}) ==
          "back.bin: found 0 bytes that are no image, expected an image, which begins with \"PLBI\"; read from where the "
          "instrument keeps "
          "its image, or store one");
    CHECK(changed([](image::bytes& b) { b[4] = 2; }) ==
          "back.bin: found an image of format 2, expected at most format 1; read it with a newer library");
    CHECK(changed([](image::bytes& b) { b.pop_back(); }) ==
          "back.bin: found 379 bytes, expected the 380 that the image says it has; read it from the instrument once more, or "
          "store the "
          "image anew");
    CHECK(changed([](image::bytes& b) { b[200] ^= 1; }) ==
          "back.bin: found that its CRC does not fit, expected an image as it was written; read it from the instrument once "
          "more, or store "
          "the image anew");
    CHECK(changed([](image::bytes& b) {
              b[9] = 1;
              embedded::byte_writer(b.data() + b.size() - 4).u32(embedded::crc32(b.data(), b.size() - 4));
          }) ==
          "back.bin: found a value that is not allowed, expected values within the limits of embedded/IMAGE.md; make the image "
          "anew "
          "from its record");
    image::content odd = shipped_image().what;
    odd.ranges.pop_back();
    CHECK_THROWS_WITH_AS(static_cast<void>(image::encode(odd)),
                         "image: found 3 ranges and figures that its reader would refuse, expected figures within the limits of "
                         "embedded/IMAGE.md; make the image from a record",
                         bad_input);
}

}  // namespace image_image_test
