#pragma once
// Applied voltages: what stood at the connector during a step, and whose error it carries.

#include <optional>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <variant>
#include <vector>

namespace plumbline::calibration {

/// Stated as value +- U with k, normal.
struct expanded {
    voltage U;
    double k = 2.0;
    friend bool operator==(const expanded&, const expanded&) = default;
};

/// Stated as value within limits, rectangular.
struct limits {
    voltage half_width;
    friend bool operator==(const limits&, const limits&) = default;
};

struct stated_voltage {
    voltage value;
    std::variant<expanded, limits> spread;
    friend bool operator==(const stated_voltage&, const stated_voltage&) = default;
};

/// A divider of two resistors behind another reference, loaded by the input it is connected to.
struct divided {
    std::string from;  ///< id of the reference it divides; that one states its output
    front_end::resistor top;
    front_end::resistor bottom;
    friend bool operator==(const divided&, const divided&) = default;
};

/// Something that gives a known voltage. Its error is one and the same wherever it is used: at every step, check point, channel and range.
struct reference {
    std::string id;
    std::string description;
    std::string maker;
    std::string model;
    std::string serial;
    std::string traceability;              ///< certificate and chain; "" prints as "no traceability claimed"
    std::optional<stated_voltage> output;  ///< its one voltage, where it has one
    std::optional<divided> divider;        ///< or the divider that makes it. Never both
    friend bool operator==(const reference&, const reference&) = default;
};

/// The voltage applied in a step, at the connector while connected: by a reference, with the value stated here or else the reference's own.
struct applied {
    std::string reference;
    std::optional<stated_voltage> stated;
    friend bool operator==(const applied&, const applied&) = default;
};

}  // namespace plumbline::calibration
