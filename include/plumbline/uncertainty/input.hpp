#pragma once
// Inputs of measurement models, and the set that a record keeps of them.

#include <plumbline/export.hpp>
#include <plumbline/uncertainty/distribution.hpp>
#include <string>
#include <utility>
#include <vector>

namespace plumbline::inline v0::uncertainty {

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

/// An input that results share and nobody changes: a pointer to it, counted, so that the last one to go takes the input along. Copies may be
/// made and destroyed by several threads at once; one and the same pointer is not to be changed by one while another uses it.
class PLUMBLINE_EXPORT shared_input {
public:
    shared_input() noexcept = default;  ///< points nowhere, as does one that was moved from
    explicit shared_input(input in);
    shared_input(const shared_input& other) noexcept;
    shared_input(shared_input&& other) noexcept : at_(std::exchange(other.at_, nullptr)) {}
    shared_input& operator=(shared_input other) noexcept {
        std::swap(at_, other.at_);
        return *this;
    }
    ~shared_input();

    [[nodiscard]] const input* get() const noexcept { return at_; }
    [[nodiscard]] const input& operator*() const noexcept { return *at_; }
    [[nodiscard]] const input* operator->() const noexcept { return at_; }
    [[nodiscard]] explicit operator bool() const noexcept { return at_ != nullptr; }
    /// Whether both point to the same one; compare *a == *b for its figures.
    friend bool operator==(const shared_input&, const shared_input&) = default;

private:
    const input* at_ = nullptr;
};

/// Inputs by their id. Ordered, so that whatever is written from it is the same each time.
class PLUMBLINE_EXPORT input_set {
public:
    /// Adds an input; adding an equal one again changes nothing.
    /// @throws bad_input  another input of this id is there, or its figures are not finite or negative
    shared_input add(input in);

    /// @throws bad_input  no input of this id
    [[nodiscard]] shared_input at(const std::string& id) const;

    /// The input of this id, or null. It lives as long as the set does.
    [[nodiscard]] const input* find(const std::string& id) const noexcept;

    /// Ordered by id.
    [[nodiscard]] const std::vector<shared_input>& all() const noexcept { return inputs_; }

    friend bool operator==(const input_set& a, const input_set& b);

private:
    std::vector<shared_input> inputs_;
};

}  // namespace plumbline::inline v0::uncertainty
