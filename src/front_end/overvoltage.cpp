#include <plumbline/front_end/overvoltage.hpp>

#include "../units/figures.hpp"
#include "into_supply.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/front_end/circuit.hpp>
#include <plumbline/front_end/node.hpp>

namespace plumbline::inline v0::front_end {

namespace {

void expect_protection(bool good, const char* what, double found, const char* unit, const char* expected) {
    if (!good) throw bad_input(fmt::format("protection, {}", what), fmt::format("{} {}", found, unit), expected, "correct it");
}

void expect_sound_protection(const protection& by, resistance in_front) {
    const auto positive = [](const char* what, auto q, const char* unit) {
        expect_protection(q.value() > 0.0 && std::isfinite(q.value()), what, q.value(), unit, "more than 0");
    };
    const auto may = [&](const char* what, const auto& q, const char* unit) {
        if (q) positive(what, *q, unit);
    };
    const auto clamp = [&](const char* what, const std::optional<clamp_diode>& c) {
        if (!c) return;
        expect_protection(c->drop.value() >= 0.0 && std::isfinite(c->drop.value()), what, c->drop.value(), "V",
                          "a drop of 0 or more");
        positive(what, c->on, "ohm");
        may(what, c->rating, "A");
    };
    clamp("clamp to the supply", by.to_supply);
    clamp("clamp to ground", by.to_ground);
    positive("supply", by.supply.nominal, "V");
    positive("resistance of the supply", by.supply.output, "ohm");
    expect_protection(by.supply.load.value() >= 0.0 && std::isfinite(by.supply.load.value()), "load of the supply",
                      by.supply.load.value(), "A", "0 or more");
    may("highest voltage of the supply", by.supply.highest, "V");
    may("pin", by.pin_beyond_supply, "V");
    for (const resistor_rating* r : {&by.top, &by.bottom, &by.bias}) {
        may("dissipation of a resistor", r->dissipation, "W");
        may("working voltage of a resistor", r->working, "V");
    }
    expect_protection(in_front.value() >= 0.0 && std::isfinite(in_front.value()), "resistance in front", in_front.value(), "ohm",
                      "0 or more");
}

/// The chain as a circuit, with the numbers of what is looked at.
struct bench {
    circuit with;
    std::size_t source = 0, node = 0, rail = 0;
    std::size_t top = 0;
    bool bias_from_rail = false;
    const char* input_of = "converter's pin";
    std::optional<std::size_t> bottom{}, bias{}, up{}, down{};

    bench(const chain& c, const protection& by, resistance in_front) {
        constexpr std::size_t ground = circuit::ground;
        const auto tip = with.add_node("source");
        source = with.add_source(tip, ground, voltage());
        if (c.amplifier) input_of = "amplifier's input";
        auto connector = tip;
        if (in_front > resistance()) {
            connector = with.add_node("connector");
            with.add_resistor(tip, connector, in_front);
        }
        node = with.add_node("node");
        rail = with.add_node("supply");
        top = with.add_resistor(connector, node, c.input.top.nominal);
        if (c.input.bottom) bottom = with.add_resistor(node, ground, c.input.bottom->nominal);

        const auto feed = with.add_node("feed of the supply");
        with.add_source(feed, ground, by.supply.nominal);
        if (by.supply.sinks) {
            with.add_resistor(feed, rail, by.supply.output);
        } else {
            with.add_clamp(feed, rail, voltage(), by.supply.output);
        }
        constexpr resistance nothing = 1e12 * ohm;  // so that a supply without load has a voltage at all
        with.add_resistor(rail, ground, by.supply.load > current() ? by.supply.nominal / by.supply.load : nothing);

        if (c.input.bias) {
            auto to = rail;
            bias_from_rail = c.input.bias->from_converter_reference && by.supply.converter_reference;
            if (!bias_from_rail) {
                to = with.add_node("bias supply");
                with.add_source(to, ground, c.input.bias->supply);
            }
            bias = with.add_resistor(to, node, c.input.bias->branch.nominal);
        }
        if (by.to_supply) up = with.add_clamp(node, rail, by.to_supply->drop, by.to_supply->on);
        if (by.to_ground) down = with.add_clamp(ground, node, by.to_ground->drop, by.to_ground->on);
    }

    [[nodiscard]] operating_point at(voltage v) const {
        circuit c = with;
        c.set_source(source, v);
        return c.solve();
    }
};

std::vector<strain> strains_at(const bench& b, const operating_point& o, const protection& by) {
    std::vector<strain> all;
    const auto add = [&](strain_of kind, const std::string& what, auto found, const auto& limit, const char* unit) {
        all.push_back({kind, what, found.value(), limit ? std::optional(limit->value()) : std::nullopt, unit, {}});
    };
    const auto resistor = [&](const char* name, const std::optional<std::size_t>& part, const resistor_rating& r) {
        if (!part) return;
        add(strain_of::dissipation, fmt::format("dissipation of the {} resistor", name), o.dissipated(*part), r.dissipation, "W");
        add(strain_of::working_voltage, fmt::format("voltage across the {} resistor", name),
            std::abs(o.across[*part].value()) * volt, r.working, "V");
    };
    resistor("top", b.top, by.top);
    resistor("bottom", b.bottom, by.bottom);
    resistor("bias", b.bias, by.bias);
    if (b.up) add(strain_of::clamp_current, "current of the clamp to the supply", o.currents[*b.up], by.to_supply->rating, "A");
    if (b.down) add(strain_of::clamp_current, "current of the clamp to ground", o.currents[*b.down], by.to_ground->rating, "A");
    add(strain_of::supply_voltage, "voltage of the supply", o.nodes[b.rail], by.supply.highest, "V");
    const double beyond = std::max((o.nodes[b.node] - o.nodes[b.rail]).value(), -o.nodes[b.node].value());
    add(strain_of::pin_voltage, fmt::format("voltage of the {} beyond its supply", b.input_of), std::max(0.0, beyond) * volt,
        by.pin_beyond_supply, "V");
    return all;
}

/// The voltage on the side of `at` where a strain reaches its limit.
std::optional<voltage> gives_way_at(const bench& b, const protection& by, std::size_t which, double side) {
    constexpr double farthest = 1e5;
    const auto reached = [&](double v) {
        const strain s = strains_at(b, b.at(side * v * volt), by)[which];
        return s.found >= *s.limit;
    };
    double high = 1e-3;
    while (high < farthest && !reached(high)) high *= 2.0;
    if (!reached(high)) return std::nullopt;
    double low = 0.5 * high;
    if (high == 1e-3) return voltage();  // strained beyond its limit without any input
    while (high - low > 1e-9 * high) {
        const double middle = 0.5 * (low + high);
        (reached(middle) ? high : low) = middle;
    }
    return side * high * volt;
}

std::string per_cent_of(ratio r) { return fmt::format("{:.2g} %", 100.0 * std::abs(r.value())); }

std::vector<std::string> sentences(const overvoltage& o, const chain& c, const protection& by) {
    std::vector<std::string> text;
    const auto say = [&](std::string s) { text.push_back(std::move(s)); };
    for (const strain& s : o.strains) {
        if (!s.exceeded()) continue;
        say(fmt::format("At {} the {} is {}, above its limit of {}: it is reached at {}. Do not connect.", shown(o.at, "V"),
                        s.what, shown(s.found, s.unit), shown(*s.limit, s.unit), shown(*s.gives_way_at, "V")));
    }
    const auto first =
        std::find_if(o.strains.begin(), o.strains.end(), [](const strain& s) { return s.gives_way_at.has_value(); });
    if (first != o.strains.end()) {
        say(fmt::format("What gives way first on this side is the {}: at {}.", first->what, shown(*first->gives_way_at, "V")));
    }
    for (const strain& s : o.strains) {
        if (s.limit || s.found == 0.0) continue;
        say(fmt::format("The limit of the {} is not known; it is {} here.", s.what, shown(s.found, s.unit)));
    }
    if (o.into_supply > current()) {
        std::string brought = brought_into_supply(o);
        brought.front() = static_cast<char>(brought.front() - 'a' + 'A');
        const std::string load = shown(by.supply.load, "A");
        say(o.supply_lifted ? fmt::format("{}, which feeds {} and {}: it rises from {} to {}.", brought, load,
                                          by.supply.sinks ? "has a resistance of its own" : "takes none back",
                                          shown(o.supply_at_rest, "V", 4), shown(o.supply, "V", 4))
                            : fmt::format("{}, which takes it: it feeds {}.", brought, load));
        if (o.readings_off != ratio()) {
            say(fmt::format("The converter measures against the supply: as long as it is lifted, every channel reads {} too low.",
                            per_cent_of(o.readings_off)));
        }
    }
    if (o.through_clamp != current()) {
        say("While a clamp conducts this channel is clipped, and others of the same converter may read wrong.");
        if (c.amplifier) say("What the amplifier's output then does to the converter is not looked at.");
    }
    if (o.at < c.low || o.at > c.high || !text.empty()) {
        say("Limits are those stated for the parts; they hold for clean, dry parts at their rated temperature. Insulation, "
            "creepage "
            "and whoever touches the circuit are not looked at: nothing here makes mains or other dangerous voltages safe.");
    }
    return text;
}

}  // namespace

overvoltage under_overvoltage(const chain& c, const protection& by, voltage at, resistance in_front) {
    expect_sound(c, "front end");
    expect_sound_protection(by, in_front);
    expect_protection(std::isfinite(at.value()), "overvoltage", at.value(), "V", "a finite voltage");
    const bench b(c, by, in_front);
    const operating_point now = b.at(at);
    const operating_point rest = b.at(voltage());

    overvoltage o;
    o.at = at;
    o.node = now.nodes[b.node];
    o.supply = now.nodes[b.rail];
    o.supply_at_rest = rest.nodes[b.rail];
    if (b.up && now.currents[*b.up] > current()) o.through_clamp = now.currents[*b.up];
    if (b.down && now.currents[*b.down] > current()) o.through_clamp = -1.0 * now.currents[*b.down];
    // Beside the clamp, a bias branch from this supply leads back into it as soon as the node is above it.
    const current by_bias = b.bias_from_rail ? -1.0 * now.currents[*b.bias] : current();
    o.into_supply = std::max(current(), std::max(current(), o.through_clamp) + by_bias);
    const ratio risen = o.supply / o.supply_at_rest - 1.0;
    const double seen = 0.5 / std::ldexp(1.0, c.adc.bits);  // half a code at the top of the range: less is not read
    o.supply_lifted = o.into_supply > current() && risen.value() > seen;
    if (o.supply_lifted && by.supply.converter_reference) o.readings_off = ratio(1.0 / (1.0 + risen.value()) - 1.0);

    o.strains = strains_at(b, now, by);
    const double side = at < voltage() ? -1.0 : 1.0;
    for (std::size_t i = 0; i < o.strains.size(); ++i) {
        if (o.strains[i].limit) o.strains[i].gives_way_at = gives_way_at(b, by, i, side);
    }
    constexpr double never = 1e300;
    const auto order = [](const strain& s) {
        return s.gives_way_at ? std::abs(s.gives_way_at->value()) : s.limit ? never : 2.0 * never;
    };
    std::stable_sort(o.strains.begin(), o.strains.end(), [&](const strain& x, const strain& y) { return order(x) < order(y); });
    o.text = sentences(o, c, by);
    return o;
}

}  // namespace plumbline::inline v0::front_end
