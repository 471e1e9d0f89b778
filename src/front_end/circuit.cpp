#include <plumbline/front_end/circuit.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>
#include <plumbline/error.hpp>
#include <utility>

namespace plumbline::inline v0::front_end {

namespace circuit_detail {

constexpr std::size_t nowhere = std::numeric_limits<std::size_t>::max();

/// Row by row, with the right-hand side as the last column.
template <class Number>
struct equations {
    std::size_t n;
    std::vector<Number> a;
    explicit equations(std::size_t size) : n(size), a(size * (size + 1)) {}
    Number& at(std::size_t row, std::size_t column) { return a[row * (n + 1) + column]; }

    /// Gaussian elimination with scaled partial pivoting. @return  the column without a pivot, or nowhere
    std::size_t eliminate() {
        std::vector<double> scale(n);
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j) scale[i] = std::max(scale[i], std::abs(at(i, j)));
        }
        for (std::size_t c = 0; c < n; ++c) {
            std::size_t pivot = c;
            double best = 0.0;
            for (std::size_t r = c; r < n; ++r) {
                const double size = scale[r] > 0.0 ? std::abs(at(r, c)) / scale[r] : 0.0;
                if (size > best) {
                    best = size;
                    pivot = r;
                }
            }
            if (!(best > 1e-15)) return c;
            if (pivot != c) {
                for (std::size_t j = 0; j <= n; ++j) std::swap(at(pivot, j), at(c, j));
                std::swap(scale[pivot], scale[c]);
            }
            for (std::size_t r = 0; r < n; ++r) {
                if (r == c || at(r, c) == Number()) continue;
                const Number f = at(r, c) / at(c, c);
                for (std::size_t j = c; j <= n; ++j) at(r, j) -= f * at(c, j);
            }
        }
        return nowhere;
    }
};

}  // namespace circuit_detail

using circuit_detail::nowhere;

void circuit::expect(bool good, const std::string& what, double found, const std::string& expected) const {
    if (!good) {
        throw bad_input("circuit, part " + std::to_string(parts_.size()), fmt::format("{} {}", what, found), expected,
                        "correct the circuit");
    }
}

std::size_t circuit::add_node(std::string name) {
    names_.push_back(std::move(name));
    return names_.size() - 1;
}

std::size_t circuit::add(const part& p) {
    for (const std::size_t at : {p.a, p.b, p.output}) {
        expect(at < names_.size(), "node", static_cast<double>(at), fmt::format("0 to {}", names_.size() - 1));
    }
    parts_.push_back(p);
    return parts_.size() - 1;
}

std::size_t circuit::add_resistor(std::size_t a, std::size_t b, resistance r) {
    expect(r.value() > 0.0 && std::isfinite(r.value()), "a resistance in ohm of", r.value(), "more than 0");
    return add({kind::resistor, a, b, r.value(), 0.0, ground});
}
std::size_t circuit::add_capacitor(std::size_t a, std::size_t b, capacitance c) {
    expect(c.value() > 0.0 && std::isfinite(c.value()), "a capacitance in F of", c.value(), "more than 0");
    return add({kind::capacitor, a, b, c.value(), 0.0, ground});
}
std::size_t circuit::add_source(std::size_t plus, std::size_t minus, voltage v) {
    expect(std::isfinite(v.value()), "a voltage in V of", v.value(), "a finite one");
    return add({kind::source, plus, minus, v.value(), 0.0, ground});
}
std::size_t circuit::add_current(std::size_t from, std::size_t to, current i) {
    expect(std::isfinite(i.value()), "a current in A of", i.value(), "a finite one");
    return add({kind::current, from, to, i.value(), 0.0, ground});
}
std::size_t circuit::add_clamp(std::size_t anode, std::size_t cathode, voltage drop, resistance on) {
    expect(drop.value() >= 0.0 && std::isfinite(drop.value()), "a drop in V of", drop.value(), "0 or more");
    expect(on.value() > 0.0 && std::isfinite(on.value()), "a resistance in ohm of", on.value(), "more than 0");
    return add({kind::clamp, anode, cathode, drop.value(), on.value(), ground});
}
std::size_t circuit::add_amplifier(std::size_t plus, std::size_t minus, std::size_t output, double open_loop, voltage offset) {
    expect(open_loop > 0.0 && std::isfinite(open_loop), "an open-loop gain of", open_loop, "more than 0");
    expect(std::isfinite(offset.value()), "an offset in V of", offset.value(), "a finite one");
    return add({kind::amplifier, plus, minus, open_loop, offset.value(), output});
}

void circuit::set_source(std::size_t source, voltage v) {
    expect(source < parts_.size() && parts_[source].what == kind::source, "no source as part", static_cast<double>(source),
           "a source");
    expect(std::isfinite(v.value()), "a voltage in V of", v.value(), "a finite one");
    parts_[source].value = v.value();
}

/// Node voltages without ground, then the currents of sources and amplifiers in their order.
/// @param driven  small signals: the source or current that is 1; all others are 0
/// @param s       complex frequency, 1/s
template <class Number>
std::vector<Number> circuit::solved(const std::vector<bool>& conducts, bool small_signal, std::size_t driven, Number s) const {
    const std::size_t nodes = names_.size() - 1;
    std::size_t size = nodes;
    for (const part& p : parts_) size += p.what == kind::source || p.what == kind::amplifier ? 1 : 0;
    circuit_detail::equations<Number> e(size);
    // Rows of nodes: what leaves the node through parts equals what is brought in. Ground has neither row nor column.
    const auto add_to = [&](std::size_t row, std::size_t column, Number value) {
        if (row != ground && column != ground) e.at(row - 1, column - 1) += value;
    };
    const auto bring = [&](std::size_t node, double value) {
        if (node != ground) e.at(node - 1, size) += value;
    };
    const auto conduct = [&](const part& p, Number g) {
        add_to(p.a, p.a, g);
        add_to(p.b, p.b, g);
        add_to(p.a, p.b, -g);
        add_to(p.b, p.a, -g);
    };
    std::size_t extra = nodes + 1;  // numbered as a node
    for (std::size_t i = 0; i < parts_.size(); ++i) {
        const part& p = parts_[i];
        const double given = small_signal ? (i == driven ? 1.0 : 0.0) : p.value;
        switch (p.what) {
            case kind::resistor:
                conduct(p, 1.0 / p.value);
                break;
            case kind::capacitor:
                conduct(p, s * p.value);
                break;
            case kind::clamp:
                if (!conducts[i]) break;
                conduct(p, 1.0 / p.second);
                if (!small_signal) {
                    bring(p.a, p.value / p.second);
                    bring(p.b, -p.value / p.second);
                }
                break;
            case kind::current:
                bring(p.a, -given);
                bring(p.b, given);
                break;
            case kind::source:
                add_to(p.a, extra, 1.0);
                add_to(p.b, extra, -1.0);
                add_to(extra, p.a, 1.0);
                add_to(extra, p.b, -1.0);
                bring(extra, given);
                ++extra;
                break;
            case kind::amplifier:  // divided by the gain: (out / A) - plus + minus = -offset
                add_to(p.output, extra, 1.0);
                add_to(extra, p.output, 1.0 / p.value);
                add_to(extra, p.a, -1.0);
                add_to(extra, p.b, 1.0);
                bring(extra, small_signal ? 0.0 : -p.second);
                ++extra;
                break;
        }
    }
    const std::size_t stuck = e.eliminate();
    if (stuck != nowhere) {
        throw bad_input("circuit",
                        stuck < nodes ? "node \"" + names_[stuck + 1] + "\" without a voltage of its own"
                                      : "sources that contradict each other or short-circuit one another",
                        "one solution", "give each node a path to ground, and no two sources the same two nodes");
    }
    std::vector<Number> x(size);
    for (std::size_t i = 0; i < size; ++i) x[i] = e.at(i, size) / e.at(i, i);
    return x;
}

std::vector<bool> circuit::states() const {
    std::vector<bool> conducts(parts_.size(), false);
    // 2^n states at most where nothing amplifies; with amplifiers there may be no end
    constexpr int most = 4096;
    for (int turn = 0; turn < most; ++turn) {
        const std::vector<double> x = solved<double>(conducts, false, nowhere, 0.0);
        const auto v = [&](std::size_t node) { return node == ground ? 0.0 : x[node - 1]; };
        std::size_t wrong = nowhere;
        for (std::size_t i = 0; i < parts_.size() && wrong == nowhere; ++i) {
            const part& p = parts_[i];
            if (p.what != kind::clamp) continue;
            const double beyond = v(p.a) - v(p.b) - p.value;
            const double rounding = 1e-12 * (std::abs(v(p.a)) + std::abs(v(p.b)) + p.value);
            if (conducts[i] ? beyond < -rounding : beyond > rounding) wrong = i;
        }
        if (wrong == nowhere) return conducts;
        conducts[wrong] = !conducts[wrong];
    }
    throw bad_input("circuit", "clamps that settle in no state", "one solution",
                    "look for an amplifier that feeds back to aid itself");
}

operating_point circuit::solve() const {
    operating_point o;
    o.conducts = states();
    const std::vector<double> x = solved<double>(o.conducts, false, nowhere, 0.0);
    o.nodes.push_back(voltage());
    for (std::size_t n = 0; n + 1 < names_.size(); ++n) o.nodes.push_back(x[n] * volt);
    std::size_t extra = names_.size() - 1;
    for (std::size_t i = 0; i < parts_.size(); ++i) {
        const part& p = parts_[i];
        const bool amplifies = p.what == kind::amplifier;
        const voltage across = amplifies ? o.nodes[p.output] : o.nodes[p.a] - o.nodes[p.b];
        double through = 0.0;
        switch (p.what) {
            case kind::resistor:
                through = across.value() / p.value;
                break;
            case kind::clamp:
                through = o.conducts[i] ? (across.value() - p.value) / p.second : 0.0;
                break;
            case kind::current:
                through = p.value;
                break;
            case kind::source:
            case kind::amplifier:
                through = x[extra++];
                break;
            case kind::capacitor:
                break;
        }
        o.across.push_back(across);
        o.currents.push_back(through * ampere);
    }
    return o;
}

resistance circuit::seen_between(std::size_t a, std::size_t b) const {
    circuit with = *this;
    const std::size_t probe = with.add_current(b, a, 0.0 * ampere);
    std::vector<bool> conducts = states();
    conducts.push_back(false);
    const std::vector<double> x = with.solved<double>(conducts, true, probe, 0.0);
    const auto v = [&](std::size_t node) { return node == ground ? 0.0 : x[node - 1]; };
    return (v(a) - v(b)) * ohm;
}

resistance circuit::seen_by(std::size_t source) const {
    expect(source < parts_.size() && parts_[source].what == kind::source, "no source as part", static_cast<double>(source),
           "a source");
    const std::vector<double> x = solved<double>(states(), true, source, 0.0);
    std::size_t extra = names_.size() - 1;
    for (std::size_t i = 0; i < source; ++i) {
        extra += parts_[i].what == kind::source || parts_[i].what == kind::amplifier ? 1 : 0;
    }
    return x[extra] == 0.0 ? std::numeric_limits<double>::infinity() * ohm : -1.0 / x[extra] * ohm;
}

ratio circuit::response(std::size_t source, std::size_t node, frequency f) const {
    expect(source < parts_.size() && parts_[source].what == kind::source, "no source as part", static_cast<double>(source),
           "a source");
    expect(node < names_.size(), "node", static_cast<double>(node), fmt::format("0 to {}", names_.size() - 1));
    expect(f.value() >= 0.0 && std::isfinite(f.value()), "a frequency in Hz of", f.value(), "0 or more");
    if (node == ground) return 0.0;
    if (f == frequency()) return solved<double>(states(), true, source, 0.0)[node - 1];
    using complex = std::complex<double>;
    return std::abs(solved<complex>(states(), true, source, complex(0.0, 2.0 * std::numbers::pi * f.value()))[node - 1]);
}

frequency circuit::bandwidth(std::size_t source, std::size_t node) const {
    const double limit = std::abs(response(source, node).value()) * std::sqrt(0.5);
    double low = -3.0;  // powers of ten
    double high = 12.0;
    const auto above = [&](double power) { return response(source, node, std::pow(10.0, power) * hertz).value() > limit; };
    if (above(high) || !above(low)) return frequency();
    while (high - low > 1e-13 * 12.0) {
        const double middle = 0.5 * (low + high);
        (above(middle) ? low : high) = middle;
    }
    return std::pow(10.0, low) * hertz;
}

}  // namespace plumbline::inline v0::front_end
