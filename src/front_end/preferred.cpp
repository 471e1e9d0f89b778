#include <plumbline/front_end/preferred.hpp>

#include "../units/figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <plumbline/error.hpp>
#include <plumbline/front_end/node.hpp>
#include <span>
#include <utility>

namespace plumbline::inline v0::front_end {

namespace {

constexpr std::array<double, 24> e24{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                                     3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};

struct meaning {
    std::string_view mark;
    double value;
};

constexpr std::array<meaning, 8> tolerance_letters{
    {{"B", 0.1}, {"C", 0.25}, {"D", 0.5}, {"F", 1.0}, {"G", 2.0}, {"J", 5.0}, {"K", 10.0}, {"M", 20.0}}};
constexpr std::array<meaning, 8> tolerance_colours{{{"brown", 1.0},
                                                    {"red", 2.0},
                                                    {"green", 0.5},
                                                    {"blue", 0.25},
                                                    {"violet", 0.1},
                                                    {"gold", 5.0},
                                                    {"silver", 10.0},
                                                    {"none", 20.0}}};
constexpr std::array<meaning, 7> coefficient_letters{
    {{"U", 250.0}, {"S", 100.0}, {"R", 50.0}, {"P", 15.0}, {"Q", 25.0}, {"M", 5.0}, {"K", 1.0}}};
constexpr std::array<meaning, 9> coefficient_colours{{{"black", 250.0},
                                                      {"brown", 100.0},
                                                      {"red", 50.0},
                                                      {"orange", 15.0},
                                                      {"yellow", 25.0},
                                                      {"green", 20.0},
                                                      {"blue", 10.0},
                                                      {"violet", 5.0},
                                                      {"grey", 1.0}}};

double meaning_of(std::string_view mark, std::span<const meaning> all, const char* what) {
    for (const meaning& m : all) {
        if (m.mark == mark) return m.value;
    }
    std::string known;
    for (const meaning& m : all) known += (known.empty() ? "" : ", ") + std::string(m.mark);
    throw bad_input(what, fmt::format("\"{}\"", mark), "one of " + known,
                    "look at the part again, or state the limits in figures");
}

/// The largest preferred value that is not above r, and the smallest that is not below.
std::pair<resistance, resistance> about(resistance r, series s) {
    if (!(r.value() > 0.0) || !std::isfinite(r.value())) {
        throw bad_input("preferred value", fmt::format("{} ohm", r.value()), "more than 0 ohm", "correct the resistance");
    }
    constexpr double same = 1.0 + 1e-9;  // a preferred value that a computation returned is still that value
    const double decade = std::pow(10.0, std::floor(std::log10(r.value() * same)));
    double below = 1.0;
    double above = 10.0;
    for (const double v : preferred_values(s)) {
        if (v * decade <= r.value() * same) below = v;
        if (v * decade * same >= r.value()) {
            above = v;
            break;
        }
    }
    // from whole numbers: 1.1 times 10^5 is not 110000 in binary
    const auto in_decade = [&](double v) {
        const double hundredths = std::round(100.0 * v);
        return (decade >= 100.0 ? hundredths * (decade / 100.0) : hundredths / (100.0 / decade)) * ohm;
    };
    return {in_decade(below), in_decade(above)};
}

void expect_wanted(bool good, const std::string& what, const std::string& found, const std::string& expected,
                   const std::string& remedy = "correct what is wanted") {
    if (!good) throw bad_input("wanted range, " + what, found, expected, remedy);
}

void expect_possible(const wanted_range& w) {
    const auto finite = [](auto q) { return std::isfinite(q.value()); };
    expect_wanted(finite(w.low) && finite(w.high) && w.low < w.high, "ends",
                  fmt::format("{} V to {} V", w.low.value(), w.high.value()), "a low end below the high end");
    expect_wanted(finite(w.node_high) && w.node_low >= 0.0 * volt && w.node_low < w.node_high, "node",
                  fmt::format("{} V to {} V", w.node_low.value(), w.node_high.value()),
                  "0 V or more, the low end below the high end");
    expect_wanted(w.least_input.value() > 0.0 && finite(w.most_input) && w.least_input < w.most_input, "input resistance",
                  fmt::format("{} ohm to {} ohm", w.least_input.value(), w.most_input.value()),
                  "more than 0 ohm, at least below at most");
    expect_wanted(w.tolerance.value() >= 0.0 && w.tolerance.value() < 1.0, "tolerance", fmt::format("{}", w.tolerance.value()),
                  "a fraction from 0 to less than 1");
    expect_wanted(w.temperature_coefficient.value() >= 0.0, "temperature coefficient",
                  fmt::format("{} 1/K", w.temperature_coefficient.value()), "its limits as 0 or more");
    if (w.supply) {
        expect_wanted(w.supply->value() > 0.0 && finite(*w.supply), "supply", fmt::format("{} V", w.supply->value()),
                      "more than 0 V");
    } else {
        expect_wanted(w.low.value() >= 0.0, "ends",
                      fmt::format("{} V at the low end and no supply for a bias branch", w.low.value()),
                      "a divider to begin at 0 V or above", "give the supply that is to lift the range");
    }
    // What multiplies the connector must shrink it: the node's conductance is at least that of the top resistor.
    const double slope = ((w.node_high - w.node_low) / (w.high - w.low)).value();
    expect_wanted(
        slope < 1.0, "ends",
        fmt::format("a span of {} V for a node span of {} V", (w.high - w.low).value(), (w.node_high - w.node_low).value()),
        "a span wider than the node's: resistors cannot amplify", "use an amplifier, or a wider range");
}

/// Conductances per that of the top resistor that make the wanted range exactly: of the bias branch, and of the bottom resistor.
struct ideal_shunt {
    double bias = 0.0;
    double bottom = 0.0;
};

ideal_shunt ideal(const wanted_range& w) {
    ideal_shunt to;
    if (!w.supply) {
        to.bottom = (w.high / w.node_high).value() - 1.0;
        return to;
    }
    const double all = ((w.high - w.low) / (w.node_high - w.node_low)).value();  // node conductance over the top's
    to.bias = ((w.node_low * all - w.low) / *w.supply).value();
    to.bottom = all - 1.0 - to.bias;
    return to;
}

voltage at_connector(const network& n, voltage node) {
    const resistance not_there = 1.0 * ohm;  // not looked at
    return connector_voltage{branches_of(n)}(node, n.top.nominal, n.bottom ? n.bottom->nominal : not_there,
                                             n.bias ? n.bias->branch.nominal : not_there, n.bias ? n.bias->supply : 0.0 * volt);
}

double gain_of(const network& n) { return (at_connector(n, 1.0 * volt) - at_connector(n, 0.0 * volt)).value(); }

/// The gain's largest relative change with every part at a limit: it is monotone in each, so the corners hold it.
double worst_gain(const network& n) {
    const double nominal = gain_of(n);
    double worst = 0.0;
    for (unsigned corner = 0; corner < 8; ++corner) {
        network moved = n;
        const auto move = [&](resistor& r, unsigned bit) {
            r.nominal *= 1.0 + ((corner >> bit) % 2 == 0 ? 1.0 : -1.0) * r.tolerance.value();
        };
        move(moved.top, 0);
        if (moved.bottom) move(*moved.bottom, 1);
        if (moved.bias) move(moved.bias->branch, 2);
        worst = std::max(worst, std::abs(gain_of(moved) / nominal - 1.0));
    }
    return worst;
}

proposal judged(const network& n, const wanted_range& w) {
    proposal p{n, at_connector(n, w.node_low), at_connector(n, w.node_high), {}, {}, ratio(worst_gain(n)), {}};
    p.off_low = (p.low - w.low) / (w.high - w.low);
    p.off_high = (p.high - w.high) / (w.high - w.low);
    const resistance not_there = 1.0 * ohm;
    p.input_resistance = input_resistance{branches_of(n)}(n.top.nominal, n.bottom ? n.bottom->nominal : not_there,
                                                          n.bias ? n.bias->branch.nominal : not_there);
    return p;
}

}  // namespace

std::vector<double> preferred_values(series s) {
    std::vector<double> all(static_cast<std::size_t>(s));
    const std::size_t n = all.size();
    for (std::size_t i = 0; i < n; ++i) {
        all[i] = n <= 24 ? e24[i * (24 / n)]
                         : std::round(100.0 * std::pow(10.0, static_cast<double>(i) / static_cast<double>(n))) / 100.0;
    }
    if (s == series::e192) all[185] = 9.20;  // the power is 9.19
    return all;
}

resistance preferred_below(resistance r, series s) { return about(r, s).first; }
resistance preferred_above(resistance r, series s) { return about(r, s).second; }
resistance nearest_preferred(resistance r, series s) {
    const auto [below, above] = about(r, s);
    return r / below < above / r ? below : above;
}

ratio tolerance_by_letter(char letter) { return meaning_of({&letter, 1}, tolerance_letters, "tolerance letter") * percent; }
ratio tolerance_by_colour(std::string_view colour) { return meaning_of(colour, tolerance_colours, "tolerance band") * percent; }
per_kelvin coefficient_by_letter(char letter) {
    return meaning_of({&letter, 1}, coefficient_letters, "temperature coefficient letter") * ppm / kelvin;
}
per_kelvin coefficient_by_colour(std::string_view colour) {
    return meaning_of(colour, coefficient_colours, "temperature coefficient band") * ppm / kelvin;
}

std::vector<proposal> proposals(const wanted_range& wanted, series s, std::size_t most, bool covering) {
    expect_possible(wanted);
    const ideal_shunt to = ideal(wanted);
    expect_wanted(to.bias >= -1e-12, "node", fmt::format("{} V at the low end", wanted.node_low.value()),
                  fmt::format("at least {:.3g} V: resistors to a supply above 0 V cannot lower a voltage", [&] {
                      return (wanted.low * (wanted.node_high - wanted.node_low) / (wanted.high - wanted.low)).value();
                  }()));
    expect_wanted(to.bottom >= -1e-12, "supply", wanted.supply ? shown(*wanted.supply, "V") : "none",
                  fmt::format("at least {:.3g} V to lift the range",
                              to.bias / (to.bias + to.bottom) * (wanted.supply ? wanted.supply->value() : 0.0)),
                  "use a higher supply, or a narrower range below 0 V");

    constexpr double no_part = 1e-9;  // of the top's conductance: beyond what a resistor can be
    const auto resistor_of = [&](resistance r) { return resistor{r, wanted.tolerance, wanted.temperature_coefficient}; };
    const auto both = [&](resistance r) { return std::array{preferred_below(r, s), preferred_above(r, s)}; };
    std::vector<proposal> found;
    const auto consider = [&](const network& n) {
        const proposal p = judged(n, wanted);
        if (p.input_resistance < wanted.least_input || p.input_resistance > wanted.most_input) return;
        if (!covering || p.covers()) found.push_back(p);
    };
    const auto with_bottom = [&](network n, double bias_part) {
        // the bias as it came out in its place: what the bottom has to add for the wanted slope
        const double part = to.bias + to.bottom - bias_part;
        if (part < no_part) {
            if (n.bias) consider(n);
            return;
        }
        for (const resistance& r : both(n.top.nominal / part)) {
            n.bottom = resistor_of(r);
            consider(n);
        }
    };
    for (resistance top = preferred_above(0.001 * wanted.least_input, s); top <= wanted.most_input;
         top = preferred_above(1.001 * top, s)) {
        const network n{resistor_of(top), {}, {}};
        if (to.bias < no_part) {
            with_bottom(n, 0.0);
            continue;
        }
        for (const resistance& r : both(top / to.bias)) {
            network biased = n;
            biased.bias = bias_branch{resistor_of(r), *wanted.supply, false, {}, {}};
            with_bottom(biased, (top / r).value());
        }
    }
    const auto error = [&](const proposal& p) {
        const double high = std::abs(p.off_high.value());
        // equal ratios in other decades differ by rounding alone: the lower one, with the lower source resistance, comes first
        return std::round(1e9 * (wanted.supply ? std::max(high, std::abs(p.off_low.value())) : high));
    };
    std::vector<std::size_t> order(found.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return error(found[a]) < error(found[b]); });
    std::vector<proposal> best;
    for (const std::size_t i : order) {
        if (best.size() == most) break;
        // a value that is preferred itself is both its neighbour below and above
        if (best.empty() || !(best.back().parts == found[i].parts)) best.push_back(found[i]);
    }
    return best;
}

}  // namespace plumbline::inline v0::front_end
