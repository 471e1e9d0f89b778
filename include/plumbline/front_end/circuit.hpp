#pragma once
// Any small circuit of resistors, capacitors, sources, clamps and amplifiers, solved by its node equations.

#include <cstddef>
#include <plumbline/export.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::front_end {

/// Node voltages and currents of a circuit at rest, from circuit::solve.
struct operating_point {
    std::vector<voltage> nodes;  ///< against ground, by node; the first is ground itself
    std::vector<current>
        currents;  ///< through each part, from its first to its second node; an amplifier's from its output to ground
    std::vector<voltage> across;  ///< each part, its first against its second node; an amplifier's output against ground
    std::vector<bool> conducts;   ///< clamps that conduct; false for all other parts
    /// What a part takes up; below 0 where it gives.
    [[nodiscard]] power dissipated(std::size_t part) const { return across[part] * currents[part]; }
};

/// A circuit is put together part by part; each call returns the part's number. Nodes are numbered by add_node; 0 is ground. Values may have
/// any size, but resistances that differ by more than 10^12 lose digits.
///
/// At rest: Kirchhoff's current law at each node, with the current of each source and amplifier as an unknown besides (modified nodal
/// analysis). A clamp conducts where its anode is above its cathode by more than its drop, and then is that drop with a resistance in series:
/// piecewise linear. Which ones conduct is found by turning over, one at a time, the first that contradicts the solution; with resistors and
/// sources alone that ends at the one solution there is. Capacitors carry nothing at rest.
///
/// @throws bad_input  a node that does not exist; a resistance, capacitance, drop or gain that is not finite or out of its range
/// Source: Kirchhoff; least-index pivoting by K. G. Murty (1974) for linear complementarity problems, from memory.
class PLUMBLINE_EXPORT circuit {
public:
    static constexpr std::size_t ground = 0;

    std::size_t add_node(std::string name);
    std::size_t add_resistor(std::size_t a, std::size_t b, resistance r);    ///< > 0
    std::size_t add_capacitor(std::size_t a, std::size_t b, capacitance c);  ///< > 0
    std::size_t add_source(std::size_t plus, std::size_t minus, voltage v);  ///< without resistance
    std::size_t add_current(std::size_t from, std::size_t to, current i);    ///< flows through it from `from` to `to`
    std::size_t add_clamp(std::size_t anode, std::size_t cathode, voltage drop, resistance on);  ///< drop >= 0, on > 0
    /// Output = open_loop (plus - minus - offset), whatever it has to carry; open_loop > 0. Without input current: add_current makes one.
    std::size_t add_amplifier(std::size_t plus, std::size_t minus, std::size_t output, double open_loop, voltage offset = {});

    /// Changes the voltage of a source. @throws bad_input  the part is none
    void set_source(std::size_t source, voltage v);

    /// @throws bad_input  a node hangs on nothing or sources contradict each other; clamps that settle in no state
    [[nodiscard]] operating_point solve() const;

    // Small signals about the solution: clamps stay as they are.

    /// Resistance seen between two nodes, all sources at rest (Thevenin). @throws bad_input  as solve
    [[nodiscard]] resistance seen_between(std::size_t a, std::size_t b) const;
    /// Resistance that a source sees, without the source's own. Infinite where it carries nothing.
    [[nodiscard]] resistance seen_by(std::size_t source) const;
    /// Amplitude at a node over that of a source, at a frequency; at 0 Hz with the sign. @throws bad_input  as solve
    [[nodiscard]] ratio response(std::size_t source, std::size_t node, frequency f = {}) const;
    /// Frequency above which the response stays below that at 0 Hz by 3 dB or more, searched from 1 mHz to 1 THz, and 0 where there is none.
    /// One crossing is assumed: a response with a peak after its fall is not looked for.
    [[nodiscard]] frequency bandwidth(std::size_t source, std::size_t node) const;

private:
    enum class kind { resistor, capacitor, source, current, clamp, amplifier };
    struct part {
        kind what;
        std::size_t a, b;
        double value, second;
        std::size_t output;
    };
    std::vector<std::string> names_{"ground"};
    std::vector<part> parts_;

    std::size_t add(const part& p);
    void expect(bool good, const std::string& what, double found, const std::string& expected) const;
    template <class Number>
    std::vector<Number> solved(const std::vector<bool>& conducts, bool small_signal, std::size_t driven, Number s) const;
    std::vector<bool> states() const;
};

}  // namespace plumbline::inline v0::front_end
