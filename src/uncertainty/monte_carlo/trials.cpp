#include <plumbline/uncertainty/trials.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

/// What makes an input impossible to draw, or nothing.
struct fault_of {
    std::string operator()(const distribution& d) const {
        const double u = standard_uncertainty(d);
        if (!std::isfinite(u) || u < 0.0) return fmt::format("standard uncertainty {}", u);
        const double nu = degrees_of_freedom(d);
        return nu > 0.0 ? "" : fmt::format("{} degrees of freedom", nu);
    }
    std::string operator()(const curvilinear_trapezoid& d) const {
        const bool sound = std::isfinite(d.half_width) && d.limits_half_width >= 0.0 && d.limits_half_width <= d.half_width;
        return sound ? "" : fmt::format("half-width {} known within +-{}", d.half_width, d.limits_half_width);
    }
    std::string operator()(const seen_deviations& d) const {
        if (d.values.empty()) return "no deviation seen";
        const auto bad = std::find_if_not(d.values.begin(), d.values.end(), [](double v) { return std::isfinite(v); });
        return bad == d.values.end() ? "" : fmt::format("a deviation of {}", *bad);
    }
};

}  // namespace

std::size_t trial_program::add_input(const sampled_input& in, const char* unit) {
    if (unit != nullptr && in.unit != unit) {
        throw bad_input("input " + in.id, "unit " + in.unit, std::string("unit ") + unit, "use the record as it was written");
    }
    const auto known =
        std::find_if(inputs_.begin(), inputs_.end(), [&](const drawn_input& there) { return there.in.id == in.id; });
    if (known != inputs_.end()) {
        if (known->in == in) return known->place;
        throw bad_input("input " + in.id, "two inputs of this id that differ", "one input for each id",
                        "give each source of error its own identity, and one source the same figures everywhere");
    }
    std::string fault = std::isfinite(in.estimate) ? "" : fmt::format("estimate {}", in.estimate);
    if (fault.empty()) fault = std::visit(fault_of{}, in.spread);
    if (!fault.empty()) {
        throw bad_input("input " + in.id, fault, "figures that are finite and not negative", "correct the figures of this input");
    }
    inputs_.push_back({in, columns_});
    return columns_++;
}

std::size_t trial_program::add_constant(double value) {
    constants_.push_back({columns_, value});
    return columns_++;
}

std::size_t trial_program::add_step(step what, std::size_t count) {
    steps_.push_back(std::move(what));
    const std::size_t first = columns_;
    columns_ += count;
    return first;
}

const double* trial_program::constant_at(std::size_t place) const {
    const auto found = std::lower_bound(constants_.begin(), constants_.end(), place,
                                        [](const constant_column& c, std::size_t p) { return c.place < p; });
    return found != constants_.end() && found->place == place ? &found->value : nullptr;
}

}  // namespace plumbline::inline v0::uncertainty
