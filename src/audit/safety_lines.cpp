#include "../front_end/into_supply.hpp"
#include "../units/figures.hpp"
#include "lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/overvoltage.hpp>

namespace plumbline::inline v0::audit {

namespace {

/// A limit of safety: exceeded, or not known where it counts, it ends the job.
void limit(lines& to, const std::string& name, const std::string& what, double found, std::optional<double> allowed,
           const std::string& unit, const std::string& field) {
    line l{name, line_is::good, found, allowed, false, unit, what};
    if (!allowed) {
        l.verdict = line_is::dangerous;
        l.text += "; what it withstands is not known. Do not connect before you know; then enter \"" + field + "\"";
    } else if (found > *allowed) {
        l.verdict = line_is::dangerous;
        l.text += ", and its limit is " + shown(*allowed, unit);
    } else {
        l.text += "; its limit is " + shown(*allowed, unit);
    }
    to.push_back(std::move(l));
}

/// A chain without limits of its own: clamps that hold the node at 0 V and at the converter's reference, with what the job says of them.
front_end::protection by_the_job(const front_end::chain& chain, const instrument_figures& known) {
    constexpr resistance next_to_nothing = 1e-3 * ohm;
    front_end::protection p;
    p.to_supply = front_end::clamp_diode{voltage(), next_to_nothing, known.clamp_current};
    p.to_ground = p.to_supply;
    p.supply = {chain.adc.reference, next_to_nothing, current(), true, std::nullopt, true};
    p.top.dissipation = known.top_resistor_power;
    return p;
}

/// What the record leaves open, the job may say.
front_end::protection with_figures_of(const instrument_figures& known, front_end::protection p) {
    for (std::optional<front_end::clamp_diode>* clamp : {&p.to_supply, &p.to_ground}) {
        if (*clamp && !(*clamp)->rating) (*clamp)->rating = known.clamp_current;
    }
    if (!p.top.dissipation) p.top.dissipation = known.top_resistor_power;
    return p;
}

using front_end::strain;
using front_end::strain_of;

/// The same voltage on either side of 0 V.
struct both_sides {
    front_end::overvoltage above, below;

    [[nodiscard]] bool clamps_conduct() const { return above.through_clamp != current() || below.through_clamp != current(); }

    [[nodiscard]] const strain& larger(const std::string& what) const {
        const auto in = [&](const front_end::overvoltage& o) {
            return std::find_if(o.strains.begin(), o.strains.end(), [&](const strain& s) { return s.what == what; });
        };
        return in(above)->found >= in(below)->found ? *in(above) : *in(below);
    }

    /// Of the clamp that carries more. There is one.
    [[nodiscard]] const strain& clamp() const {
        const strain* most = nullptr;
        for (const front_end::overvoltage* o : {&above, &below}) {
            for (const strain& s : o->strains) {
                if (s.kind == strain_of::clamp_current && (most == nullptr || s.found > most->found)) most = &s;
            }
        }
        return *most;
    }

    /// Strains come in the order in which they give way.
    [[nodiscard]] std::optional<strain> gives_way_first() const {
        const strain& a = above.strains.front();
        const strain& b = below.strains.front();
        if (!a.gives_way_at && !b.gives_way_at) return std::nullopt;
        if (!a.gives_way_at || !b.gives_way_at) return a.gives_way_at ? a : b;
        return std::abs(a.gives_way_at->value()) <= std::abs(b.gives_way_at->value()) ? a : b;
    }
};

void gives_way_first(const strain& s, double highest, lines& to) {
    const double at = std::abs(s.gives_way_at->value());
    to.push_back({"gives way first", highest > at ? line_is::dangerous : line_is::good, highest, at, false, "V",
                  fmt::format("by accident {}; the first limit that is reached is that of the {}, at {}", shown(highest, "V"),
                              s.what, shown(s.gives_way_at->value(), "V"))});
}

void input_limit(double most, const instrument_figures& known, lines& to) {
    limit(to, "input limit", fmt::format("by accident {} at the connector", shown(most, "V")), most,
          known.highest_input ? std::optional(known.highest_input->value()) : std::nullopt, "V", "instrument/highest_input");
}

/// How bad it is: a limit exceeded, one not known where all hangs on it, one not known, one kept to.
enum class concern { none, not_known, essential_not_known, exceeded };

concern about(const strain& s) {
    if (s.limit) return s.exceeded() ? concern::exceeded : concern::none;
    // Bottom and bias resistor stand at a node that clamps hold.
    const bool held =
        (s.kind == strain_of::dissipation || s.kind == strain_of::working_voltage) && !s.what.ends_with("top resistor");
    return held ? concern::not_known : concern::essential_not_known;
}

/// A line for each kind of limit, on its worst part. One that is not known counts where it is strained more than inside the range.
void parts(const both_sides& o, const both_sides& inside, lines& to) {
    struct kind {
        strain_of of;
        const char* name;
    };
    constexpr double rounding = 1e-9;
    for (const kind& k : {kind{strain_of::clamp_current, "clamp current"}, kind{strain_of::supply_voltage, "supply can sink it"},
                          kind{strain_of::dissipation, "dissipation"}, kind{strain_of::working_voltage, "working voltage"},
                          kind{strain_of::pin_voltage, "pin voltage"}}) {
        if (k.of == strain_of::supply_voltage && o.above.into_supply == current()) continue;
        std::optional<strain> worst;
        for (const strain& either : o.above.strains) {
            if (either.kind != k.of) continue;
            const strain& s = o.larger(either.what);
            if (!s.limit && s.found <= inside.larger(s.what).found * (1.0 + rounding)) continue;
            if (!s.limit && k.of == strain_of::supply_voltage && !o.above.supply_lifted) continue;
            const auto share = [](const strain& one) { return one.limit ? one.found / *one.limit : 0.0; };
            const bool worse = !worst || about(s) > about(*worst) || (about(s) == about(*worst) && share(s) > share(*worst));
            if (worse) worst = s;
        }
        if (!worst) continue;
        std::string text = fmt::format("up to {}: {}", shown(worst->found, worst->unit), worst->what);
        if (k.of == strain_of::supply_voltage) {
            text = fmt::format("{}, which {} {}", front_end::brought_into_supply(o.above),
                               o.above.supply_lifted ? "it lifts to" : "takes it and stays at", shown(o.above.supply, "V"));
        }
        if (about(*worst) == concern::not_known) {
            to.push_back({k.name,
                          line_is::unknown,
                          worst->found,
                          {},
                          false,
                          worst->unit,
                          text + "; what it withstands is not known: state it in the session, in \"chain/limits\""});
            continue;
        }
        limit(to, k.name, text, worst->found, worst->limit, worst->unit, "chain/limits");
    }
    std::string text;
    if (o.clamps_conduct())
        text = "while a clamp conducts, this channel is clipped and others of the same converter may read wrong";
    if (o.above.readings_off != ratio()) {
        text += fmt::format("{}the converter measures against the supply: every channel then reads {:.2g} % too low",
                            text.empty() ? "" : "; ", 100.0 * std::abs(o.above.readings_off.value()));
    }
    if (text.empty()) return;
    to.push_back({"other channels", line_is::condition, {}, {}, false, {}, text});
}

}  // namespace

void safety(const subject& s, lines& to) {
    const job& j = s.job;
    const front_end::chain& chain = s.on.range().chain;
    if (j.probe) {
        limit(to, "probe rating", fmt::format("by accident {} at the tip", shown(j.highest, "V")), j.highest.value(),
              j.probe->rating ? std::optional(j.probe->rating->value()) : std::nullopt, "V", "probe/rating");
    }
    // With the source's resistance counted out: a spike need not have it.
    const resistance in_front = j.probe && !j.probe->calibrated_together ? j.probe->series : resistance();
    const auto arrives = [&](voltage at_tip) {
        return front_end::loaded{}(at_tip, in_front, front_end::nominal_open_voltage(chain),
                                   front_end::nominal_input_resistance(chain));
    };
    const voltage up = arrives(j.highest);
    const voltage down = arrives(-1.0 * j.highest);
    if (down >= chain.low && up <= chain.high) {
        to.push_back({"input limits", line_is::good, std::max(std::abs(up.value()), std::abs(down.value())),
                      std::max(std::abs(chain.low.value()), std::abs(chain.high.value())), false, "V",
                      fmt::format("by accident {} to {} at the connector, inside the range", shown(down, "V"), shown(up, "V"))});
        return;
    }
    const double most = std::max(std::abs(up.value()), std::abs(down.value()));
    const front_end::protection by =
        chain.limits ? with_figures_of(j.instrument, *chain.limits) : by_the_job(chain, j.instrument);
    const both_sides o{front_end::under_overvoltage(chain, by, j.highest, in_front),
                       front_end::under_overvoltage(chain, by, -1.0 * j.highest, in_front)};
    if (chain.limits) {
        const std::optional<front_end::strain> first = o.gives_way_first();
        if (first) gives_way_first(*first, j.highest.value(), to);
        if (!first || j.instrument.highest_input) input_limit(most, j.instrument, to);
        parts(o, {front_end::under_overvoltage(chain, by, chain.high), front_end::under_overvoltage(chain, by, chain.low)}, to);
        return;
    }
    input_limit(most, j.instrument, to);
    if (!o.clamps_conduct()) return;
    const front_end::strain& through = o.clamp();
    const front_end::strain top = o.larger("dissipation of the top resistor");
    limit(to, "clamp current", fmt::format("up to {} through clamps and supply", shown(through.found, "A")), through.found,
          through.limit, "A", "instrument/clamp_current");
    limit(to, "dissipation", fmt::format("up to {} in the top resistor", shown(top.found, "W")), top.found, top.limit, "W",
          "instrument/top_resistor_power");
}

}  // namespace plumbline::inline v0::audit
