#pragma once
// Inputs of measurement models, and the set that a record keeps of them.

#include <map>
#include <memory>
#include <plumbline/uncertainty/distribution.hpp>
#include <string>

namespace plumbline::uncertainty {

/// One quantity that enters a model. The identity is what correlates: two results that depend on inputs of the same id share its error.
struct input {
    std::string id;      ///< stable, unique in a record
    std::string label;   ///< what it is, in words
    std::string source;  ///< where the figure comes from: "data sheet", "capture zero.csv" ...
    std::string unit;    ///< symbol of the coherent unit, as plumbline::unit_symbol has it
    double estimate = 0.0;
    distribution spread;

    friend bool operator==(const input&, const input&) = default;
};

using shared_input = std::shared_ptr<const input>;

/// Inputs by their id. Ordered, so that whatever is written from it is the same each time.
class input_set {
public:
    /// Adds an input; adding an equal one again changes nothing.
    /// @throws bad_input  another input of this id is there, or its figures are not finite or negative
    shared_input add(input in);

    /// @throws bad_input  no input of this id
    [[nodiscard]] const shared_input& at(const std::string& id) const;

    [[nodiscard]] const std::map<std::string, shared_input>& all() const noexcept { return inputs_; }

    friend bool operator==(const input_set& a, const input_set& b);

private:
    std::map<std::string, shared_input> inputs_;
};

}  // namespace plumbline::uncertainty
