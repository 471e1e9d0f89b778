#include <plumbline/uncertainty/input.hpp>

#include <fmt/format.h>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/uncertain.hpp>

namespace plumbline::uncertainty {

namespace {

void expect_sound(const input& in) {
    const double u = standard_uncertainty(in.spread);
    if (!std::isfinite(in.estimate) || !std::isfinite(u) || u < 0.0) {
        throw bad_input("input " + in.id, fmt::format("estimate {} with standard uncertainty {}", in.estimate, u),
                        "a finite estimate and a finite standard uncertainty of 0 or more", "correct the figures of this input");
    }
    if (const auto* t = std::get_if<trapezoidal>(&in.spread)) {
        if (!(t->top_half_width >= 0.0 && t->top_half_width <= t->half_width)) {
            throw bad_input("input " + in.id, fmt::format("a trapezoid of half-width {} with a top of {}", t->half_width, t->top_half_width),
                            "a top from 0 to the half-width", "correct the figures of this input");
        }
    }
    if (const double nu = degrees_of_freedom(in.spread); !(nu > 0.0)) {
        throw bad_input("input " + in.id, fmt::format("{} degrees of freedom", nu), "more than 0",
                        "take at least two readings, or state the distribution");
    }
}

}  // namespace

shared_input input_set::add(input in) {
    expect_sound(in);
    const auto found = inputs_.find(in.id);
    if (found == inputs_.end()) {
        std::string id = in.id;
        return inputs_.emplace(std::move(id), std::make_shared<const input>(std::move(in))).first->second;
    }
    if (*found->second != in) {
        throw bad_input("input " + in.id, "two inputs of this id that differ", "one input for each id",
                        "give each source of error its own identity, and one source the same figures everywhere");
    }
    return found->second;
}

const shared_input& input_set::at(const std::string& id) const {
    const auto found = inputs_.find(id);
    if (found == inputs_.end()) {
        throw bad_input("inputs", "no input " + id, "one, since the model needs it", "use the record as it was written");
    }
    return found->second;
}

bool operator==(const input_set& a, const input_set& b) {
    return std::equal(a.inputs_.begin(), a.inputs_.end(), b.inputs_.begin(), b.inputs_.end(),
                      [](const auto& x, const auto& y) { return *x.second == *y.second; });
}

void expect_unit(const input& in, const char* unit) {
    if (in.unit != unit) {
        throw bad_input("input " + in.id, "unit " + in.unit, std::string("unit ") + unit, "use the record as it was written");
    }
}

}  // namespace plumbline::uncertainty
