#include <plumbline/calibration/two_temperatures.hpp>

#include "models.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <string>
#include <utility>

namespace plumbline::inline v0::calibration {

namespace {

using uncertainty::dependence;
using uncertainty::uncertain;
using with = uncertainty::with_sensitivities;

void expect_a_pair(const calibrated& a, const calibrated& b) {
    const std::string where = "two temperatures, " + identity::range(a.of.channel, a.of.range);
    if (a.of.channel != b.of.channel || a.of.range != b.of.range || !(a.of.mode == b.of.mode) || !(a.of.chain == b.of.chain)) {
        throw bad_input(where, "calibrations of two ranges, in two modes or with two front ends", "one range twice",
                        "compare like with like");
    }
    const kelvins apart = b.of.ambient - a.of.ambient;
    const kelvins blurred = a.of.temperature_half_width + b.of.temperature_half_width;
    if (!(std::abs(apart.value()) > blurred.value())) {
        throw bad_input(where,
                        fmt::format("{} and {} degrees Celsius, known within {} K together", a.of.ambient.degrees,
                                    b.of.ambient.degrees, blurred.value()),
                        "temperatures that differ by more", "calibrate once more, warmer or colder");
    }
}

/// The second calibration's captures and moments are others than the first's, under the same names; but where a step lies on the same code as
/// in the first, so does its non-linearity.
template <class Quantity>
uncertain<Quantity> of_second(uncertain<Quantity> q, const range_calibration& first, const range_calibration& of) {
    const std::string id = identity::range(of.channel, of.range);
    const auto on_one_code = [](const step& a, const step& b) { return std::abs((a.seen.mean - b.seen.mean).value()) <= 1.0; };
    struct named {
        std::string at;
        bool same_code;
    };
    const std::array<named, 3> steps{
        {{identity::zero(id), on_one_code(first.zero, of.zero)},
         {identity::reference_step(id), on_one_code(first.reference, of.reference)},
         {identity::negative_step(id), first.negative && of.negative && on_one_code(*first.negative, *of.negative)}}};
    const auto own = [&](const std::string& name) {
        for (const named& n : steps) {
            if (name.starts_with(n.at + "/")) return !(n.same_code && name == n.at + "/nonlinearity");
        }
        return false;
    };
    const std::string mark = ", second temperature";
    for (dependence& d : q.dependences) {
        if (!own(d.on->id)) continue;
        uncertainty::input other = *d.on;
        other.id += mark;
        other.label += mark;
        if (auto* product = std::get_if<uncertainty::coefficient_times_difference>(&other.spread)) {
            if (!product->factor.empty()) product->factor += mark;
        }
        d.on = uncertainty::shared_input(std::move(other));
    }
    // by their new names, in order
    const std::array<double, 1> outer{1.0};
    std::sort(q.dependences.begin(), q.dependences.end(),
              [](const dependence& x, const dependence& y) { return x.on->id < y.on->id; });
    const std::array<const std::vector<dependence>*, 1> inner{&q.dependences};
    return {q.value, uncertainty::chain(outer, inner)};
}

/// Temperature of one calibration, about 0 K from its ambient.
uncertain<kelvins> blur(const range_calibration& of, const char* which) {
    return with::given<kelvins>({identity::range(of.channel, of.range) + "/ambient, " + which,
                                 std::string("temperature, ") + which, "stated", unit_symbol<kelvins>, 0.0,
                                 uncertainty::rectangular{of.temperature_half_width.value()}});
}

}  // namespace

temperature_coefficients coefficients_by(const calibrated& first, const calibrated& second) {
    expect_a_pair(first, second);
    const with e1{first.inputs};
    const with e2{second.inputs};
    const models::line<with> l1(e1, first.of, first.references);
    const models::line<with> l2(e2, second.of, second.references);
    const kelvins apart = second.of.ambient - first.of.ambient;
    const auto t1 = blur(first.of, "first calibration");
    const auto t2 = blur(second.of, "second calibration");
    const auto g1 = l1.gain(e1, l1.reference);
    const auto g2 = of_second(l2.gain(e2, l2.reference), first.of, second.of);
    const auto o1 = l1.through(e1, e1.constant(0.0 * code), l1.reference);
    const auto o2 = of_second(l2.through(e2, e2.constant(0.0 * code), l2.reference), first.of, second.of);
    const codes at_zero = second.of.zero.seen.mean;
    const auto z1 = l1.through(e1, e1.constant(at_zero), l1.reference);
    const auto z2 = of_second(l2.through(e2, e2.constant(at_zero), l2.reference), first.of, second.of);
    return {e1.apply(models::relative_change{apart}, g1, g2, t1, t2), e1.apply(models::change{apart}, o1, o2, t1, t2),
            e1.apply(models::change{apart}, z1, z2, t1, t2)};
}

seen_at_two_temperatures seen_by(const calibrated& first, const calibrated& second, double probability) {
    const temperature_coefficients t = coefficients_by(first, second);
    const auto U = [&](const auto& y) {
        return uncertainty::make_convolved_budget(y.value.value(), "", y.dependences, probability).U;
    };
    seen_at_two_temperatures seen;
    seen.ambient = first.of.ambient;
    seen.temperature_half_width = first.of.temperature_half_width;
    seen.gain = t.gain.value;
    seen.U_gain = per_kelvin::from_value(U(t.gain));
    seen.offset = t.offset.value;
    seen.U_offset = volts_per_kelvin::from_value(U(t.offset));
    // zero + gain shift has no covariance with gain where shift is
    const double shift = -covariance(t.zero.dependences, t.gain.dependences) / covariance(t.gain.dependences, t.gain.dependences);
    const std::array<double, 2> outer{1.0, shift};
    const std::array<const std::vector<dependence>*, 2> inner{&t.zero.dependences, &t.gain.dependences};
    const uncertain<volts_per_kelvin> middle{t.zero.value + t.gain.value * (shift * volt), uncertainty::chain(outer, inner)};
    seen.middle = {second.of.result.offset + second.of.result.gain * second.of.zero.seen.mean + shift * volt, middle.value,
                   volts_per_kelvin::from_value(U(middle))};
    return seen;
}

uncertain<voltage> reading_between(const calibrated& first, const calibrated& second, codes c, celsius now, kelvins half_width,
                                   double samples) {
    expect_a_pair(first, second);
    const std::string id = identity::range(first.of.channel, first.of.range);
    if (!std::isfinite(c.value()) || !std::isfinite(now.degrees) || !(half_width.value() >= 0.0) || !(samples >= 1.0)) {
        throw bad_input(
            "reading between two temperatures, " + id,
            fmt::format("code {} at {} +- {} degrees Celsius, mean of {}", c.value(), now.degrees, half_width.value(), samples),
            "finite figures, a half-width of 0 or more, 1 sample or more", "correct the reading");
    }
    const with e1{first.inputs};
    const with e2{second.inputs};
    const auto read = models::read_code(e1, id, first.of.chain.adc, c, samples);
    const models::line<with> l1(e1, first.of, first.references);
    const models::line<with> l2(e2, second.of, second.references);
    const auto v1 = l1.at(e1, read, c);
    const auto v2 = of_second(l2.at(e2, read, c), first.of, second.of);
    const auto at = with::given<kelvins>({identity::reading(id) + "/temperature", "temperature of the reading", "stated",
                                          unit_symbol<kelvins>, 0.0, uncertainty::rectangular{half_width.value()}});
    return e1.apply(models::between{second.of.ambient - first.of.ambient, now - first.of.ambient}, v1, v2,
                    blur(first.of, "first calibration"), blur(second.of, "second calibration"), at);
}

}  // namespace plumbline::inline v0::calibration
