#include <plumbline/uncertainty/input.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstddef>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/uncertain.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

/// What a shared_input points to; every one of them is made as this.
struct counted : input {
    explicit counted(input in) : input(std::move(in)) {}
    mutable std::atomic<std::size_t> pointers{1};
};

std::atomic<std::size_t>& counter(const input& in) { return static_cast<const counted&>(in).pointers; }

/// Where the input of this id is, or would be put.
std::vector<shared_input>::const_iterator place_of(const std::vector<shared_input>& inputs, const std::string& id) {
    return std::lower_bound(inputs.begin(), inputs.end(), id,
                            [](const shared_input& in, const std::string& wanted) { return in->id < wanted; });
}

void expect_sound(const input& in) {
    const double u = standard_uncertainty(in.spread);
    if (!std::isfinite(in.estimate) || !std::isfinite(u) || u < 0.0) {
        throw bad_input("input " + in.id, fmt::format("estimate {} with standard uncertainty {}", in.estimate, u),
                        "a finite estimate and a finite standard uncertainty of 0 or more", "correct the figures of this input");
    }
    if (const auto* t = std::get_if<trapezoidal>(&in.spread)) {
        if (!(t->top_half_width >= 0.0 && t->top_half_width <= t->half_width)) {
            throw bad_input("input " + in.id,
                            fmt::format("a trapezoid of half-width {} with a top of {}", t->half_width, t->top_half_width),
                            "a top from 0 to the half-width", "correct the figures of this input");
        }
    }
    if (const double nu = degrees_of_freedom(in.spread); !(nu > 0.0)) {
        throw bad_input("input " + in.id, fmt::format("{} degrees of freedom", nu), "more than 0",
                        "take at least two readings, or state the distribution");
    }
}

}  // namespace

shared_input::shared_input(input in) : at_(new counted(std::move(in))) {}

shared_input::shared_input(const shared_input& other) noexcept : at_(other.at_) {
    if (at_ != nullptr) counter(*at_).fetch_add(1, std::memory_order_relaxed);
}

shared_input::~shared_input() {
    // Whoever goes last destroys what the others may still have been reading when they went: their reads come before.
    if (at_ != nullptr && counter(*at_).fetch_sub(1, std::memory_order_acq_rel) == 1) delete static_cast<const counted*>(at_);
}

shared_input input_set::add(input in) {
    expect_sound(in);
    const auto place = place_of(inputs_, in.id);
    if (place == inputs_.end() || (*place)->id != in.id) return *inputs_.insert(place, shared_input(std::move(in)));
    if (**place != in) {
        throw bad_input("input " + in.id, "two inputs of this id that differ", "one input for each id",
                        "give each source of error its own identity, and one source the same figures everywhere");
    }
    return *place;
}

shared_input input_set::at(const std::string& id) const {
    const auto place = place_of(inputs_, id);
    if (place == inputs_.end() || (*place)->id != id) {
        throw bad_input("inputs", "no input " + id, "one, since the model needs it", "use the record as it was written");
    }
    return *place;
}

const input* input_set::find(const std::string& id) const noexcept {
    const auto place = place_of(inputs_, id);
    return place == inputs_.end() || (*place)->id != id ? nullptr : place->get();
}

bool operator==(const input_set& a, const input_set& b) {
    return std::equal(a.inputs_.begin(), a.inputs_.end(), b.inputs_.begin(), b.inputs_.end(),
                      [](const auto& x, const auto& y) { return *x == *y; });
}

void expect_unit(const input& in, const char* unit) {
    if (in.unit != unit) {
        throw bad_input("input " + in.id, "unit " + in.unit, std::string("unit ") + unit, "use the record as it was written");
    }
}

}  // namespace plumbline::inline v0::uncertainty
