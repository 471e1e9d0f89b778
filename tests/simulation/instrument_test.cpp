#include "../slow_build.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <cmath>
#include <simulation/instrument.hpp>
#include <simulation/random.hpp>

namespace instrument_test {

using namespace plumbline::simulation;

namespace {

/// Parts exactly as labelled: top 1 Mohm, bottom 430 kohm, bias 300 kohm to the converter's reference of 3.3 V.
instrument as_labelled() {
    generator random(1);
    const network_sheet network{{1e6, 0.0, 0.0}, part{430e3, 0.0, 0.0}, part{300e3, 0.0, 0.0}, {}};
    const converter_sheet converter{12, {3.3, 0.0, 0.0}, 0.0, 0.0, 0.0, 8, 0.0};
    return {draw(network, random), draw(converter, random)};
}

constexpr double bench = 23.0;

}  // namespace

TEST_CASE("SplitMix64 gives the words that are published for seed 1234567") {
    // from memory: the widely printed check values of the algorithm
    std::uint64_t state = 1234567;
    CHECK(split_mix(state) == 6457827717110365317U);
    CHECK(split_mix(state) == 3203168211198807973U);
    CHECK(split_mix(state) == 9817491932198370423U);
}

TEST_CASE("a generator repeats itself for a seed and differs for another") {
    generator a(7);
    generator b(7);
    generator c(8);
    CHECK(a.bits() == b.bits());
    CHECK(a.bits() != c.bits());
}

TEST_CASE("moments of a million draws are those of the distributions" * doctest::skip(slow::build)) {
    constexpr int n = 1'000'000;
    generator random(2);
    double sum = 0.0;
    double squares = 0.0;
    double fourths = 0.0;
    double within = 0.0;
    double within_squares = 0.0;
    double farthest = 0.0;
    for (int i = 0; i < n; ++i) {
        const double z = random.normal();
        sum += z;
        squares += z * z;
        fourths += z * z * z * z;
        const double w = random.within(2.0);
        farthest = std::max(farthest, std::abs(w));
        within += w;
        within_squares += w * w;
    }
    // four standard errors each: variances of z, z^2, z^4 are 1, 2, 96; of w and w^2 4/3 and 64/45
    CHECK(std::abs(sum / n) < 4.0 * std::sqrt(1.0 / n));
    CHECK(std::abs(squares / n - 1.0) < 4.0 * std::sqrt(2.0 / n));
    CHECK(std::abs(fourths / n - 3.0) < 4.0 * std::sqrt(96.0 / n));
    CHECK(farthest <= 2.0);
    CHECK(std::abs(within / n) < 4.0 * std::sqrt(4.0 / 3.0 / n));
    CHECK(std::abs(within_squares / n - 4.0 / 3.0) < 4.0 * std::sqrt(64.0 / 45.0 / n));
}

TEST_CASE("currents into every node sum to zero") {
    generator random(3);
    const network_sheet sheet{{1e6, 0.01, 100e-6}, part{430e3, 0.01, 100e-6}, part{300e3, 0.01, 100e-6}, part{5.0, 0.01, 100e-6}};
    const converter_sheet converter{12, {3.3, 0.005, 30e-6}, 4.0, 0.002, 1.0, 8, 0.0};
    for (int i = 0; i < 100; ++i) {
        const instrument unit{draw(sheet, random), draw(converter, random)};
        const double temperature = bench + random.within(20.0);
        const source from{random.within(10.0), 100e3 * random.uniform() + 1.0};
        const node_voltages v = unit.nodes(from, temperature);
        const actual_network& n = unit.network;
        const double top = (v.connector - v.pin) / n.top.at(temperature);
        const double into_connector = (from.open - v.connector) / from.resistance - top;
        const double into_pin =
            top - v.pin / n.bottom->at(temperature) + (n.bias_supply->at(temperature) - v.pin) / n.bias->at(temperature);
        CHECK(std::abs(into_connector) < 1e-16);  // A, of currents around 1e-5 A; 1 V in 1e16 through 1 ohm
        CHECK(std::abs(into_pin) < 1e-16);
    }
}

TEST_CASE("a biased divider calculated by hand puts 0 V and 10 V where the simulation puts them") {
    // conductances 1/1 M + 1/430 k + 1/300 k = 859/129 uS; 0 V: 3.3 V (10/3) / (859/129) = 1419/859 V; 10 V adds 10 V / (859/129)
    const instrument unit = as_labelled();
    CHECK(std::abs(unit.nodes({0.0, 0.0}, bench).pin - 1419.0 / 859.0) < 1e-14);
    CHECK(std::abs(unit.nodes({10.0, 0.0}, bench).pin - 2709.0 / 859.0) < 1e-14);
    generator random(4);
    CHECK(unit.capture({0.0, 0.0}, 1, bench, random).front() == 2050);   // 1419/859/3.3 * 4096 = 2050.4
    CHECK(unit.capture({10.0, 0.0}, 1, bench, random).front() == 3914);  // 2709/859/3.3 * 4096 = 3914.4
}

TEST_CASE("a source behind a resistance is pulled towards the voltage of the open connector") {
    // open connector: 3.3 V * 430/(430 + 300); input resistance: 1 Mohm + 430 k || 300 k
    const instrument unit = as_labelled();
    const double open = 3.3 * 430.0 / 730.0;
    const double input = 1e6 + 430e3 * 300e3 / 730e3;
    const double expected = 5.0 + (open - 5.0) * 10e3 / (10e3 + input);
    CHECK(std::abs(unit.nodes({5.0, 10e3}, bench).connector - expected) < 1e-13);
}

TEST_CASE("an amplifier's output, and what its inputs draw, are those calculated by hand") {
    // (0.4 V - 1 mV + 25 nA * 30 k || 10 k) / (1/10 000 + 1/4)
    actual_amplifier a;
    a.feedback = actual_part{30e3, 0.0};
    a.ground = actual_part{10e3, 0.0};
    a.offset = {1e-3, 20e-6};
    a.into_plus = {40e-9, 1e-9};
    a.into_minus = {25e-9, 2e-9};
    a.open_loop = 1e4;
    CHECK(std::abs(a.output(0.4, bench) - (0.399 + 25e-9 * 7.5e3) / 0.2501) < 1e-12);
    // 10 K warmer 200 uV more of offset, 20 nA more of current
    CHECK(std::abs(a.output(0.4, bench + 10.0) - (0.3988 + 45e-9 * 7.5e3) / 0.2501) < 1e-12);
    // 40 nA out of a node of 859/129 uS
    instrument unit = as_labelled();
    unit.amplifier = a;
    const double pin = unit.nodes({0.0, 0.0}, bench).pin;
    CHECK(std::abs(pin - (1419.0 / 859.0 - 40e-9 / 859.0 * 129e6)) < 1e-14);
    CHECK(std::abs(unit.position({0.0, 0.0}, bench) - a.output(pin, bench) / 3.3 * 4096.0) < 1e-9);
    a.feedback.reset();
    a.ground.reset();
    CHECK(std::abs(a.output(0.4, bench) - 0.399 / 1.0001) < 1e-12);
}

TEST_CASE("what leaks out of the pin goes through the network to ground, twice as much every ten kelvin") {
    instrument unit = as_labelled();
    const double without = unit.nodes({2.0, 0.0}, bench).pin;
    unit.converter.leakage = 100e-9;
    unit.converter.leakage_temperature = bench;
    const double seen = 1.0 / (1.0 / 1e6 + 1.0 / 430e3 + 1.0 / 300e3);
    CHECK(std::abs(unit.nodes({2.0, 0.0}, bench).pin - without - 100e-9 * seen) < 1e-12);
    CHECK(std::abs(unit.nodes({2.0, 0.0}, bench + 20.0).pin - without - 400e-9 * seen) < 1e-12);
    CHECK(std::abs(unit.nodes({2.0, 0.0}, bench - 10.0).pin - without - 50e-9 * seen) < 1e-12);
}

TEST_CASE("noise is drawn within its factor, as often below the data sheet's as above") {
    converter_sheet sheet{1, {3.3, 0.0, 0.0}, 0.0, 0.0, 0.0, 8, 0.6};
    sheet.noise_factor = 2.0;
    generator random(9);
    constexpr int n = 4000;
    int below = 0, below_quarter = 0;
    for (int i = 0; i < n; ++i) {
        const double noise = draw(sheet, random).noise;
        CHECK(noise >= 0.3);
        CHECK(noise <= 1.2);
        if (noise < 0.6) ++below;
        if (noise < 0.6 / std::sqrt(2.0)) ++below_quarter;
    }
    CHECK(std::abs(below - n / 2) < 150);  // of a binomial with standard deviation 32
    CHECK(std::abs(below_quarter - n / 4) < 150);
}

TEST_CASE("codes are held on the end codes") {
    const instrument unit = as_labelled();
    generator random(5);
    CHECK(unit.capture({-20.0, 0.0}, 1, bench, random).front() == 0);
    CHECK(unit.capture({20.0, 0.0}, 1, bench, random).front() == 4095);
}

TEST_CASE("a warmer part has the value of its coefficient") {
    const actual_part r{1000.0, 100e-6};
    CHECK(std::abs(r.at(33.0) - 1001.0) < 1e-10);
}

TEST_CASE("INL shifts every code of its group alike and no other") {
    instrument unit = as_labelled();
    unit.converter.inl.at(256) = 3.0;  // codes 2048 to 2055
    generator random(6);
    CHECK(unit.capture({0.0, 0.0}, 1, bench, random).front() == 2053);
    const double outside = 9.0 * unit.volts_per_code(bench);
    CHECK(unit.capture({outside, 0.0}, 1, bench, random).front() == 2059);
}

TEST_CASE("the straight line of truth passes through a capture without noise to half a code") {
    generator random(7);
    const network_sheet sheet{{330e3, 0.01, 50e-6}, {}, part{750e3, 0.01, 50e-6}, {}};
    const converter_sheet converter{12, {3.3, 0.005, 30e-6}, 4.0, 0.002, 0.0, 8, 0.0};
    for (int i = 0; i < 100; ++i) {
        const instrument unit{draw(sheet, random), draw(converter, random)};
        const double volts = random.within(1.0);
        const double line =
            unit.volts_at_code_zero(36.0) + unit.volts_per_code(36.0) * unit.capture({volts, 0.0}, 1, 36.0, random).front();
        CHECK(std::abs(line - volts) <= 0.5000001 * unit.volts_per_code(36.0));
    }
}

TEST_CASE("noise with a memory keeps its scatter, and is correlated by it from one sample to the next") {
    instrument unit = as_labelled();
    unit.converter.noise = 5.0;
    unit.converter.besides.noise_memory = 0.8;
    generator random(8);
    const auto codes = unit.capture({0.0, 0.0}, 100'000, bench, random);
    const double middle = unit.position({0.0, 0.0}, bench);
    double squares = 0.0;
    double products = 0.0;
    for (std::size_t i = 1; i < codes.size(); ++i) {
        squares += (codes[i] - middle) * (codes[i] - middle);
        products += (codes[i] - middle) * (codes[i - 1] - middle);
    }
    const double variance = squares / static_cast<double>(codes.size() - 1);
    CHECK(std::abs(variance - 25.0 - 1.0 / 12.0) < 1.0);
    CHECK(std::abs(products / squares - 0.8) < 0.02);
}

TEST_CASE("1/f noise has the same scatter in each octave of averaging, white noise half of it") {
    generator random(9);
    const auto fall = [&](const instrument& unit) {
        double by_length[2] = {0.0, 0.0};
        for (int i = 0; i < 200; ++i) {
            const auto codes = unit.capture({0.0, 0.0}, 4096, bench, random);
            for (const std::size_t length : {std::size_t{16}, std::size_t{1024}}) {
                double first = 0.0;
                double second = 0.0;
                for (std::size_t k = 0; k < length; ++k) {
                    first += codes[k];
                    second += codes[length + k];
                }
                const double step = (second - first) / static_cast<double>(length);
                by_length[length == 16 ? 0 : 1] += step * step;
            }
        }
        return std::sqrt(by_length[1] / by_length[0]);
    };
    instrument flickering = as_labelled();
    flickering.converter.besides.flicker = 20.0;
    instrument white = as_labelled();
    white.converter.noise = 20.0;
    CHECK(std::abs(fall(flickering) - 1.0) < 0.25);
    CHECK(std::abs(fall(white) - 0.125) < 0.03);  // 1 / sqrt(1024 / 16)
}

TEST_CASE("hum swings by its peak at its frequency, and a bow lifts the middle and leaves the ends") {
    instrument unit = as_labelled();
    unit.converter.besides.hum = 30.0;
    generator random(10);
    const auto codes = unit.capture({0.0, 0.0}, 400, bench, random);  // two periods of 50 Hz at 10 kHz
    const auto [low, high] = std::minmax_element(codes.begin(), codes.end());
    CHECK(std::abs(*high - *low - 60) <= 1);
    for (std::size_t i = 0; i < 200; ++i) CHECK(std::abs(codes[i] - codes[i + 200]) <= 1);

    instrument bowed = as_labelled();
    const instrument straight = as_labelled();
    bowed.converter.bow = 10.0;
    const auto lifted = [&](double volts) {
        return bowed.capture({volts, 0.0}, 1, bench, random).front() - straight.capture({volts, 0.0}, 1, bench, random).front();
    };
    const double middle = straight.volts_at_code_zero(bench) + 2048.0 * straight.volts_per_code(bench);
    CHECK(lifted(middle) == 10);
    CHECK(lifted(straight.volts_at_code_zero(bench) + 20.0 * straight.volts_per_code(bench)) == 0);
}

}  // namespace instrument_test
