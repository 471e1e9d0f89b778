#include <plumbline/front_end/overvoltage.hpp>

#include <doctest/doctest.h>

#include "message.hpp"

#include <algorithm>
#include <cmath>

namespace overvoltage_test {

using namespace plumbline;
using namespace plumbline::front_end;
using refused::message;

namespace {

/// 12 V battery into 3.3 V: 47 kohm over 10 kohm. Invented parts and limits.
chain battery() {
    chain c;
    c.input.top = {47e3 * ohm, {}, {}};
    c.input.bottom = resistor{10e3 * ohm, {}, {}};
    c.adc.reference = 3.3 * volt;
    c.low = 0.0 * volt;
    c.high = 18.0 * volt;
    return c;
}

protection usual() {
    protection p;
    p.to_supply = clamp_diode{0.3 * volt, 20.0 * ohm, 5e-3 * ampere};
    p.to_ground = clamp_diode{0.3 * volt, 20.0 * ohm, 5e-3 * ampere};
    p.supply = {3.3 * volt, 1.0 * ohm, 0.5e-3 * ampere, false, 3.6 * volt, true};
    p.pin_beyond_supply = 0.5 * volt;
    p.top = {0.125 * watt, 150.0 * volt};
    p.bottom = {0.125 * watt, 150.0 * volt};
    return p;
}

const strain& find(const overvoltage& o, const std::string& what) {
    for (const strain& s : o.strains) {
        if (s.what == what) return s;
    }
    FAIL("no strain " << what);
    return o.strains.front();
}

}  // namespace

TEST_CASE("inside its range nothing is strained and no clamp conducts") {
    const overvoltage o = under_overvoltage(battery(), usual(), 12.0 * volt);
    CHECK(o.node.value() == doctest::Approx(12.0 * 10.0 / 57.0).epsilon(1e-9).scale(0));
    CHECK(o.through_clamp.value() == 0.0);
    CHECK_FALSE(o.supply_lifted);
    for (const strain& s : o.strains) CHECK_FALSE(s.exceeded());
    CHECK(find(o, "dissipation of the top resistor").found ==
          doctest::Approx(47e3 * std::pow(12.0 / 57e3, 2)).epsilon(1e-9).scale(0));
}

TEST_CASE("an overvoltage that the load cannot take lifts the supply, and with it all readings") {
    // hand calculation: everything that the clamp brings flows through the load's 6.6 kohm; the feed is off
    const double g_load = 0.5e-3 / 3.3, v = 60.0;
    // node x, rail y: (v - x)/47k = x/10k + (x - y - 0.3)/20;  (x - y - 0.3)/20 = y g_load
    const double a = 1.0 / 47e3 + 1.0 / 10e3, d = 1.0 / 20.0;
    const double y = (v / 47e3 * d / (a + d) + 0.3 * d * d / (a + d) - 0.3 * d) / (d + g_load - d * d / (a + d));
    const overvoltage o = under_overvoltage(battery(), usual(), v * volt);
    CHECK(o.supply.value() == doctest::Approx(y).epsilon(1e-9).scale(0));
    CHECK(o.through_clamp.value() == doctest::Approx(y * g_load).epsilon(1e-6).scale(0));
    CHECK(o.supply_lifted);
    CHECK(o.readings_off.value() == doctest::Approx(3.3 / y - 1.0).epsilon(1e-3).scale(0));

    // as much load as the clamp brings, and it stays where it is
    protection loaded = usual();
    loaded.supply.load = 5e-3 * ampere;
    loaded.supply.output = 0.05 * ohm;
    const overvoltage held = under_overvoltage(battery(), loaded, v * volt);
    CHECK_FALSE(held.supply_lifted);
    CHECK(held.readings_off.value() == 0.0);
    CHECK(std::abs(held.supply.value() - 3.3) < 0.01);
    CHECK(held.through_clamp > 0.8e-3 * ampere);

    // one that takes it back rises by its resistance: by less than half a code it is not lifted, by more it is
    protection sinking = usual();
    sinking.supply.sinks = true;
    sinking.supply.output = 0.1 * ohm;
    CHECK_FALSE(under_overvoltage(battery(), sinking, v * volt).supply_lifted);
    sinking.supply.output = 10.0 * ohm;
    const overvoltage risen = under_overvoltage(battery(), sinking, v * volt);
    CHECK(risen.supply_lifted);
    // nominal, less what the load draws, with what the clamp brings, through ten ohm
    CHECK(risen.supply.value() ==
          doctest::Approx((3.3 + 10.0 * risen.through_clamp.value()) / (1.0 + 10.0 * g_load)).epsilon(1e-9).scale(0));
}

TEST_CASE("what gives way first is what reaches its limit at the lowest voltage, and is at its limit there") {
    const overvoltage o = under_overvoltage(battery(), usual(), 60.0 * volt);
    CHECK(o.strains.front().what == "voltage of the supply");
    double before = 0.0;
    int reached = 0;
    for (const strain& s : o.strains) {
        if (!s.gives_way_at) continue;
        ++reached;
        CHECK(s.gives_way_at->value() >= before);
        before = s.gives_way_at->value();
        CHECK(find(under_overvoltage(battery(), usual(), *s.gives_way_at), s.what).found ==
              doctest::Approx(*s.limit).epsilon(1e-6).scale(0));
        CHECK(s.exceeded() == (60.0 * volt > *s.gives_way_at));
    }
    CHECK(reached >= 3);
    // below ground the supply has no part in it; the top resistor burns first
    const overvoltage down = under_overvoltage(battery(), usual(), -60.0 * volt);
    CHECK(down.strains.front().what == "dissipation of the top resistor");
    CHECK(down.strains.front().gives_way_at->value() == doctest::Approx(-76.98).epsilon(1e-3).scale(0));
    CHECK(down.through_clamp.value() == doctest::Approx(-(60.0 - 0.3) / 47e3).epsilon(0.03).scale(0));
}

TEST_CASE("an overvoltage is put into sentences, with what is not known and the cautions") {
    protection p = usual();
    p.top.working.reset();
    const overvoltage o = under_overvoltage(battery(), p, 60.0 * volt);
    REQUIRE(o.text.size() == 7);
    CHECK(o.text[0] ==
          "At 60 V the voltage of the supply is 4.54 V, above its limit of 3.6 V: it is reached at 47.9 V. Do not connect.");
    CHECK(o.text[1] == "What gives way first on this side is the voltage of the supply: at 47.9 V.");
    CHECK(o.text[2] == "The limit of the voltage across the top resistor is not known; it is 55.1 V here.");
    CHECK(o.text[3] ==
          "The clamp brings 688 µA into the supply, which feeds 500 µA and takes none back: it rises from 3.3 V to 4.54 V.");
    CHECK(o.text[4] == "The converter measures against the supply: as long as it is lifted, every channel reads 27 % too low.");
    CHECK(o.text[5] == "While a clamp conducts this channel is clipped, and others of the same converter may read wrong.");
    CHECK(
        o.text[6] ==
        "Limits are those stated for the parts; they hold for clean, dry parts at their rated temperature. Insulation, creepage "
        "and whoever touches the circuit are not looked at: nothing here makes mains or other dangerous voltages safe.");
}

TEST_CASE("a bias branch, a source in front and a pin without clamps are part of the circuit") {
    chain c = battery();
    c.input.bias = bias_branch{{10e3 * ohm, {}, {}}, 3.3 * volt, true, {}, {}};
    protection p = usual();
    p.to_supply.reset();
    p.to_ground.reset();
    p.supply.sinks = true;
    const overvoltage o = under_overvoltage(c, p, 100.0 * volt, 53e3 * ohm);
    const double node = (100.0 / 100e3 + 3.3 / 10e3) / (1.0 / 100e3 + 2.0 / 10e3);  // but for the supply's ohm
    CHECK(o.node.value() == doctest::Approx(node).epsilon(1e-3).scale(0));
    CHECK(find(o, "voltage of the converter's pin beyond its supply").exceeded());
    CHECK(find(o, "voltage across the bias resistor").found == doctest::Approx(node - 3.3).epsilon(2e-3).scale(0));
}

TEST_CASE("a bias branch alone lifts a supply that does not sink, by what its load cannot take") {
    chain c = battery();
    c.input.bias = bias_branch{{10e3 * ohm, {}, {}}, 3.3 * volt, true, {}, {}};
    protection p = usual();
    p.to_supply.reset();
    p.to_ground.reset();
    p.supply.load = 0.1e-3 * ampere;
    // hand calculation with the feed off, node x, rail y: (100 - x)/100k = x/10k + (x - y)/10k;  (x - y)/10k = y g_load
    const double g_load = 0.1e-3 / 3.3;
    const double part = 1.0 / (1.0 + 10e3 * g_load);  // y = part x
    const double y = part * 100.0 / (1.0 + 10.0 + 10.0 * (1.0 - part));
    // at rest the rail feeds, through its ohm, its load and 10k over 100k beside 10k
    const double rest = 3.3 / (1.0 + g_load + 1.0 / (10e3 + 1.0 / (1.0 / 100e3 + 1.0 / 10e3)));
    const overvoltage o = under_overvoltage(c, p, 100.0 * volt, 53e3 * ohm);
    CHECK(o.supply.value() == doctest::Approx(y).epsilon(1e-9).scale(0));
    CHECK(o.supply_at_rest.value() == doctest::Approx(rest).epsilon(1e-9).scale(0));
    CHECK(o.through_clamp == current());
    CHECK(o.into_supply.value() == doctest::Approx(y * g_load).epsilon(1e-6).scale(0));
    CHECK(o.supply_lifted);
    CHECK(o.readings_off.value() == doctest::Approx(rest / y - 1.0).epsilon(1e-9).scale(0));
    const auto said = [&](const overvoltage& by, const std::string& sentence) {
        return std::count(by.text.begin(), by.text.end(), sentence) == 1;
    };
    CHECK(said(o,
               "The bias branch brings 175 µA into the supply, which feeds 100 µA and takes none back: it rises from 3.3 V to "
               "5.759 V."));
    CHECK(said(o, "The converter measures against the supply: as long as it is lifted, every channel reads 43 % too low."));

    // a load that takes it holds the supply; so does a supply of its own for the bias branch
    p.supply.load = 0.5e-3 * ampere;
    p.supply.output = 0.1 * ohm;
    const overvoltage held = under_overvoltage(c, p, 100.0 * volt, 53e3 * ohm);
    CHECK_FALSE(held.supply_lifted);
    CHECK(held.readings_off == ratio());
    CHECK(said(held, "The bias branch brings 303 µA into the supply, which takes it: it feeds 500 µA."));
    c.input.bias->from_converter_reference = false;
    CHECK(under_overvoltage(c, p, 100.0 * volt, 53e3 * ohm).into_supply == current());
    // inside the range, and below ground, the branch draws from the supply
    c.input.bias->from_converter_reference = true;
    p.supply.load = {};
    for (const double v : {0.0, 18.0, -100.0}) {
        const overvoltage none = under_overvoltage(c, p, v * volt, 53e3 * ohm);
        CHECK(none.into_supply == current());
        CHECK_FALSE(none.supply_lifted);
    }
    // beside a clamp that conducts both bring something, and the load has to take the sum
    p = usual();
    const overvoltage both = under_overvoltage(c, p, 200.0 * volt);
    CHECK(both.into_supply > both.through_clamp);
    CHECK(both.into_supply.value() == doctest::Approx(both.supply.value() * 0.5e-3 / 3.3).epsilon(1e-6).scale(0));
}

TEST_CASE("figures of a protection that cannot be are refused by name") {
    protection p = usual();
    p.supply.output = 0.0 * ohm;
    CHECK(message([&] { (void)under_overvoltage(battery(), p, 1.0 * volt); }) ==
          "protection, resistance of the supply: 0 ohm, expected more than 0; correct it");
    p = usual();
    p.to_ground->drop = -1.0 * volt;
    CHECK(message([&] { (void)under_overvoltage(battery(), p, 1.0 * volt); }) ==
          "protection, clamp to ground: -1 V, expected a drop of 0 or more; correct it");
    CHECK(message([&] { (void)under_overvoltage(battery(), usual(), std::nan("") * volt); }) ==
          "protection, overvoltage: nan V, expected a finite voltage; correct it");
}

}  // namespace overvoltage_test
