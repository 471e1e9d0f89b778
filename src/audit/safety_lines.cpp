#include "../units/figures.hpp"
#include "lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/front_end/node.hpp>

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
    const auto& known = j.instrument;
    limit(to, "input limit", fmt::format("by accident {} at the connector", shown(most, "V")), most,
          known.highest_input ? std::optional(known.highest_input->value()) : std::nullopt, "V", "instrument/highest_input");
    // The clamps hold the node near 0 V or the converter's reference: all of the rest drops over the top resistor. Source: Ohm's law.
    const double above = up.value() - chain.adc.reference.value();
    const double over_top = std::max({0.0, front_end::nominal_node_voltage(chain, up) > chain.adc.reference ? above : 0.0,
                                      front_end::nominal_node_voltage(chain, down) < voltage() ? -down.value() : 0.0});
    if (over_top == 0.0) return;
    const double through = over_top / chain.input.top.nominal.value();
    limit(to, "clamp current", fmt::format("up to {} through clamps and supply", shown(through, "A")), through,
          known.clamp_current ? std::optional(known.clamp_current->value()) : std::nullopt, "A", "instrument/clamp_current");
    limit(to, "dissipation", fmt::format("up to {} in the top resistor", shown(over_top * through, "W")), over_top * through,
          known.top_resistor_power ? std::optional(known.top_resistor_power->value()) : std::nullopt, "W",
          "instrument/top_resistor_power");
}

}  // namespace plumbline::inline v0::audit
