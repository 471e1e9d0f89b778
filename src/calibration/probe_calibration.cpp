#include <plumbline/calibration/probe_calibration.hpp>
#include <plumbline/calibration/probe_step.hpp>

#include <algorithm>
#include <cmath>

namespace plumbline::inline v0::calibration {

namespace {

const double sqrt_of_3 = std::sqrt(3.0);

square_wave fed_to(const front_end::probe& described, plumbline::resistance input, const wave& fed) {
    return {fed.at, fed.rise_time, fed.droop, described.series, input};
}

/// Standard uncertainty of a step by non-linearity, as a fraction of it: each of its two levels is off by limits of its own.
double by_nonlinearity(const front_end::converter& adc, codes step) {
    return std::sqrt(2.0) * (adc.integral_nonlinearity / step).value() / sqrt_of_3;
}

}  // namespace

compensation compensation_of(const front_end::probe& described, plumbline::resistance input, const front_end::converter& adc,
                             const wave& fed, const capture::run& run, const capture_evidence& evidence,
                             const std::string& where) {
    const probe_step seen = probe_by_square_wave(run, fed_to(described, input, fed), adc.top_code(), where);
    compensation found;
    found.fed = fed;
    found.evidence = evidence;
    found.mismatch = seen.mismatch;
    // What settles is D of half a step, two edges seen: D moves by the levels' error of the whole step. dm/dD from compensation_step's
    // inverse m = (1 + d) R / (R - R_in d) - 1 with d <= D.
    const double r = described.series.value();
    const double r_in = input.value();
    const double d = front_end::compensation_step{}(seen.mismatch.value(), r, r_in) - 1.0;
    const double slope = r * (r + r_in) / ((r - r_in * d) * (r - r_in * d));
    const double by_levels = by_nonlinearity(adc, seen.step);
    found.U_mismatch = ratio(std::hypot(seen.U_mismatch.value(), 2.0 * slope * std::sqrt(2.0) * by_levels));
    found.time_constant = seen.time_constant;
    found.rise_time = seen.rise_time;
    // One sample of rise time as it was seen, limits; what is left of it after the square wave's own weighs by seen / left.
    const double sample = 1.0 / run.sample_rate->value();
    const double left = std::max(seen.rise_time.value(), sample);
    found.U_rise_time = 2.0 / sqrt_of_3 * sample * (std::hypot(left, fed.rise_time.value()) / left) * second;
    found.overshoot = seen.overshoot;
    // The highest of many means: up to four standard deviations, by which probe_by_square_wave tells overshoot from none.
    found.U_overshoot = ratio(std::hypot(4.0 * (seen.noise / seen.step).value(), 2.0 * by_levels));
    found.step = seen.step;
    found.periods = seen.periods;
    return found;
}

division division_of(const front_end::probe& described, plumbline::resistance input, const front_end::converter& adc,
                     const wave& fed, const capture::run& direct, const capture_evidence& direct_evidence,
                     const capture::run& divided, const capture_evidence& divided_evidence, const std::string& where) {
    const probe_ratio seen = ratio_by_steps(direct, divided, fed_to(described, input, fed), adc.top_code(), where);
    division found;
    found.fed = fed;
    found.direct = direct_evidence;
    found.divided = divided_evidence;
    found.factor = seen.value;
    const double by_levels = std::hypot(by_nonlinearity(adc, seen.direct), by_nonlinearity(adc, seen.divided));
    found.U = ratio(std::hypot(seen.U.value(), 2.0 * seen.value.value() * by_levels));
    return found;
}

}  // namespace plumbline::inline v0::calibration
