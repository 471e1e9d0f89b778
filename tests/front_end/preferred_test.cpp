#include <plumbline/front_end/preferred.hpp>

#include <doctest/doctest.h>

#include "../reference/published.hpp"
#include "message.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

namespace preferred_test {

using namespace plumbline;
using namespace plumbline::front_end;
using refused::message;

namespace {

nlohmann::json printed(const std::string& id) { return published::entry("e-series", id).at("expected"); }

double node_of(const network& n, double v) {  // Kirchhoff's current law, written out
    double conductance = 1.0 / n.top.nominal.value();
    double currents = v / n.top.nominal.value();
    if (n.bottom) conductance += 1.0 / n.bottom->nominal.value();
    if (n.bias) {
        conductance += 1.0 / n.bias->branch.nominal.value();
        currents += n.bias->supply.value() / n.bias->branch.nominal.value();
    }
    return currents / conductance;
}

bool preferred(resistance r, series s) { return nearest_preferred(r, s) == r; }

wanted_range solar_battery() {
    return {0.0 * volt, 16.0 * volt, 0.0 * volt, 2.4 * volt, {}, 50e3 * ohm, 500e3 * ohm, 0.01, per_kelvin::from_value(50e-6)};
}

wanted_range control_voltage() {
    wanted_range w = solar_battery();
    w.low = -10.0 * volt;
    w.high = 10.0 * volt;
    w.node_low = 0.1 * volt;
    w.node_high = 3.2 * volt;
    w.supply = 3.3 * volt;
    return w;
}

}  // namespace

TEST_CASE("every preferred value is the printed one") {
    const auto table = printed("iec60063-e3-e24");
    for (const auto& [name, s] : {std::pair("E3", series::e3), std::pair("E6", series::e6), std::pair("E12", series::e12),
                                  std::pair("E24", series::e24)}) {
        CHECK(preferred_values(s) == table.at(name).get<std::vector<double>>());
    }
    CHECK(preferred_values(series::e96) == printed("iec60063-e96").at("E96").get<std::vector<double>>());
}

TEST_CASE("E48, E96 and E192 are every second value of the next, and E192 has its one exception") {
    const auto all = preferred_values(series::e192);
    REQUIRE(all.size() == 192);
    std::vector<double> halved;
    for (const auto& [s, n] : {std::pair(series::e96, 96U), std::pair(series::e48, 48U)}) {
        halved.clear();
        for (std::size_t i = 0; i < n; ++i) halved.push_back(all[i * (192 / n)]);
        CHECK(preferred_values(s) == halved);
    }
    // from memory, as the entry says
    const auto known = printed("iec60063-e48-e192");
    CHECK(halved == known.at("E48").get<std::vector<double>>());
    const auto begin = known.at("E192_begin").get<std::vector<double>>();
    const auto end = known.at("E192_end").get<std::vector<double>>();
    CHECK(std::equal(begin.begin(), begin.end(), all.begin()));
    CHECK(std::equal(end.rbegin(), end.rend(), all.rbegin()));
    int exceptions = 0;
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (all[i] != std::round(100.0 * std::pow(10.0, static_cast<double>(i) / 192.0)) / 100.0) ++exceptions;
    }
    CHECK(exceptions == 1);
    // 9.19 is no value of the series
    CHECK(nearest_preferred(91.9e3 * ohm, series::e192) == 92e3 * ohm);
    CHECK(preferred_above(9.1e3 * ohm, series::e192) == 9.2e3 * ohm);
    CHECK(preferred_below(9.3e3 * ohm, series::e48) == 9.09e3 * ohm);
}

TEST_CASE("every tolerance and temperature code means what is printed, and no other means anything") {
    const auto tolerances = printed("iec60062-tolerance-codes");
    for (const auto& [letter, value] : tolerances.at("letters").items()) {
        CHECK(tolerance_by_letter(letter[0]).value() == doctest::Approx(value.get<double>() / 100.0).epsilon(1e-12).scale(0));
    }
    for (const auto& [colour, value] : tolerances.at("colours").items()) {
        CHECK(tolerance_by_colour(colour).value() == doctest::Approx(value.get<double>() / 100.0).epsilon(1e-12).scale(0));
    }
    const auto coefficients = printed("iec60062-tempco-codes");
    for (const auto& [letter, value] : coefficients.at("letters").items()) {
        CHECK(coefficient_by_letter(letter[0]).value() == doctest::Approx(value.get<double>() * 1e-6).epsilon(1e-12).scale(0));
    }
    for (const auto& [colour, value] : coefficients.at("colours").items()) {
        CHECK(coefficient_by_colour(colour).value() == doctest::Approx(value.get<double>() * 1e-6).epsilon(1e-12).scale(0));
    }
    CHECK(message([] { (void)tolerance_by_letter('X'); }) ==
          "tolerance letter: \"X\", expected one of B, C, D, F, G, J, K, M; look at the part again, or state the limits in "
          "figures");
    CHECK(message([] { (void)tolerance_by_colour("orange"); }) ==
          "tolerance band: \"orange\", expected one of brown, red, green, blue, violet, gold, silver, none; look at the part "
          "again, or state the limits in figures");
    CHECK(message([] { (void)coefficient_by_letter('Z'); }) ==
          "temperature coefficient letter: \"Z\", expected one of U, S, R, P, Q, M, K; look at the part again, or state the "
          "limits in figures");
}

TEST_CASE("a preferred value is its own neighbour in every decade, and others lie between two") {
    for (const series s : {series::e3, series::e6, series::e12, series::e24, series::e96}) {
        for (const double decade : {0.1, 1.0, 1e3, 1e5, 1e7}) {
            for (const double v : preferred_values(s)) {
                const resistance r = v * decade * ohm;
                CAPTURE(r.value());
                CHECK(std::abs((preferred_below(r, s) / r).value() - 1.0) < 1e-12);
                CHECK(preferred_below(r, s) == preferred_above(r, s));
                CHECK(preferred_below(1.001 * r, s) == preferred_below(r, s));
                CHECK(preferred_above(1.001 * r, s) > 1.001 * r);
                CHECK(preferred_above(0.999 * r, s) == preferred_above(r, s));
            }
        }
    }
    CHECK(nearest_preferred(9.6e3 * ohm, series::e24).value() == 10e3);  // over the end of a decade
    CHECK(nearest_preferred(4.0e3 * ohm, series::e24).value() == 3.9e3);
    CHECK(preferred_above(110e3 * ohm, series::e24).value() == 110e3);
    CHECK(message([] { (void)preferred_below(0.0 * ohm, series::e12); }) ==
          "preferred value: 0 ohm, expected more than 0 ohm; correct the resistance");
}

TEST_CASE("a divider for a battery leaves what all pairs of the series leave at best") {
    const auto found = proposals(solar_battery(), series::e24);
    REQUIRE(found.size() == 5);
    double best = 1.0;  // by trying all pairs of three decades
    for (const double top : preferred_values(series::e24)) {
        for (const double bottom : preferred_values(series::e24)) {
            for (const double decade : {0.01, 0.1, 1.0}) {
                best = std::min(best, std::abs(2.4 * (top + bottom * decade) / (bottom * decade) - 16.0) / 16.0);
            }
        }
    }
    CHECK(std::abs(std::abs(found.front().off_high.value()) - best) < 1e-12);
    double before = 0.0;
    for (const proposal& p : found) {
        CHECK(preferred(p.parts.top.nominal, series::e24));
        CHECK(preferred(p.parts.bottom->nominal, series::e24));
        CHECK_FALSE(p.parts.bias.has_value());
        CHECK(std::abs(node_of(p.parts, p.high.value()) - 2.4) < 1e-12);
        CHECK(std::abs(p.off_high.value() - (p.high.value() - 16.0) / 16.0) < 1e-12);
        CHECK(std::abs((p.parts.top.nominal + p.parts.bottom->nominal - p.input_resistance).value()) < 1e-6);
        CHECK(p.input_resistance >= 50e3 * ohm);
        CHECK(p.input_resistance <= 500e3 * ohm);
        CHECK(std::abs(p.off_high.value()) >= before - 1e-9);
        before = std::abs(p.off_high.value());
        // k = bottom / (top + bottom), each 1 % off the other way
        const double k = 2.4 / p.high.value();
        CHECK(std::abs(p.gain_by_tolerance.value() - (1.0 - k) * 0.02) < 0.0005);
    }
}

TEST_CASE("a level shift for a control voltage comes close at both ends, closer with more values") {
    std::vector<double> errors;
    for (const series s : {series::e96, series::e24, series::e12}) {
        const auto found = proposals(control_voltage(), s);
        REQUIRE(!found.empty());
        const proposal& p = found.front();
        REQUIRE(p.parts.bias.has_value());
        CHECK(preferred(p.parts.top.nominal, s));
        CHECK(preferred(p.parts.bias->branch.nominal, s));
        CHECK(std::abs(node_of(p.parts, p.low.value()) - 0.1) < 1e-12);
        CHECK(std::abs(node_of(p.parts, p.high.value()) - 3.2) < 1e-12);
        CHECK(std::abs(p.off_low.value() - (p.low.value() + 10.0) / 20.0) < 1e-12);
        CHECK(std::abs(p.off_high.value() - (p.high.value() - 10.0) / 20.0) < 1e-12);
        const double off = std::max(std::abs(p.off_low.value()), std::abs(p.off_high.value()));
        CHECK(off < 0.03);
        errors.push_back(off);
    }
    CHECK(errors[0] < errors[1]);
    CHECK(errors[1] <= errors[2]);  // E24 holds E12
}

TEST_CASE("proposals that must cover the range do") {
    const auto found = proposals(control_voltage(), series::e24, 20, true);
    REQUIRE(!found.empty());
    for (const proposal& p : found) {
        CHECK(p.covers());
        CHECK(p.low <= -10.0 * volt);
        CHECK(p.high >= 10.0 * volt);
    }
    bool some_does_not = false;
    for (const proposal& p : proposals(control_voltage(), series::e24, 20)) some_does_not = some_does_not || !p.covers();
    CHECK(some_does_not);
}

TEST_CASE("a range that resistors cannot make is refused with the reason") {
    const auto refusal = [](wanted_range w) { return message([&] { (void)proposals(w, series::e24); }); };
    wanted_range w = control_voltage();
    w.supply.reset();
    CHECK(refusal(w) ==
          "wanted range, ends: -10 V at the low end and no supply for a bias branch, expected a divider to begin at 0 V or "
          "above; give the supply that is to lift the range");
    w = control_voltage();
    w.supply = 1.0 * volt;
    CHECK(refusal(w) ==
          "wanted range, supply: 1 V, expected at least 1.95 V to lift the range; use a higher supply, or a narrower range below "
          "0 V");
    w = control_voltage();
    w.low = 1.0 * volt;
    w.node_low = 0.0 * volt;
    CHECK(refusal(w) ==
          "wanted range, node: 0 V at the low end, expected at least 0.356 V: resistors to a supply above 0 V cannot "
          "lower a voltage; correct what is wanted");
    w = solar_battery();
    w.high = 2.0 * volt;
    CHECK(refusal(w) ==
          "wanted range, ends: a span of 2 V for a node span of 2.4 V, expected a span wider than the node's: resistors cannot "
          "amplify; use an amplifier, or a wider range");
    w.high = 0.0 * volt;
    CHECK(refusal(w) == "wanted range, ends: 0 V to 0 V, expected a low end below the high end; correct what is wanted");
    w = solar_battery();
    w.most_input = 1.0 * ohm;
    CHECK(refusal(w) ==
          "wanted range, input resistance: 50000 ohm to 1 ohm, expected more than 0 ohm, at least below at most; correct what is "
          "wanted");
}

}  // namespace preferred_test
