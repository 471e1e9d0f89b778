#include "../units/figures.hpp"
#include "lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/front_end/bandwidth.hpp>
#include <plumbline/front_end/node.hpp>

namespace plumbline::inline v0::audit {

namespace {

bool on_this_input(const record::record& r, const job& j, const calibration::probed_input& on) {
    return on.model == r.device.model && on.serial == r.device.serial && on.channel == j.channel && on.range == j.range;
}

const calibration::range_calibration* range_named(const record::record& r, const job& j) {
    const auto found = std::find_if(r.ranges.begin(), r.ranges.end(),
                                    [&](const auto& one) { return one.channel == j.channel && one.range == j.range; });
    return found == r.ranges.end() ? nullptr : &*found;
}

/// The factor as it is on the job, where it was measured on this input and in the mode of the job.
std::optional<front_end::measured_factor> factor_on(const job& j, const calibration::range_calibration& range) {
    const std::optional<calibration::division>& d = j.probe_record->found.division;
    if (!d || d->factor - d->U <= 1.0 * one) return {};
    const frequency rate = j.sample_rate.value_or(range.mode.sample_rate);
    for (const calibration::capture_evidence* e : {&d->direct, &d->divided}) {
        if (std::abs((e->sample_rate / rate).value() - 1.0) > 1e-3) return {};
    }
    const double away = std::abs((j.ambient - j.probe_record->ambient).value()) + j.ambient_half_width.value();
    const double by_temperature = d->factor.value() * d->temperature_coefficient.value() * away / std::sqrt(3.0);
    return front_end::measured_factor{d->factor, ratio(std::hypot(0.5 * d->U.value(), by_temperature))};
}

}  // namespace

job with_probe_of_record(const record::record& r, job j) {
    const calibration::range_calibration* const range = range_named(r, j);
    if (!j.probe_record || range == nullptr) return j;
    const calibration::probe_calibration& found = j.probe_record->found;
    front_end::probe p = found.described;
    p.name = j.probe_record->name;
    p.calibrated_together = j.probe && j.probe->calibrated_together;
    if (on_this_input(r, j, found.on)) {
        const calibration::compensation& c = found.compensation;
        p.mismatch = ratio(std::abs(c.mismatch.value()) + c.U_mismatch.value());
        // Of probe and instrument together: where the job states the instrument's too, that counts twice.
        if (!p.bandwidth) p.bandwidth = front_end::rise_time(1.0 * hertz) / (c.rise_time + c.U_rise_time) * hertz;
        p.factor = factor_on(j, *range);
        if (p.factor) p.series = (p.factor->value - 1.0 * one) * front_end::nominal_input_resistance(range->chain);
    }
    j.probe = p;
    return j;
}

void probe_by_record(const subject& s, lines& to) {
    if (!s.job.probe_record) return;
    const front_end::probe& p = *s.job.probe;
    const std::string of = fmt::format("{}, record {}: ", p.name, s.job.probe_record->number);
    to.push_back({"probe", line_is::good, std::nullopt, std::nullopt, false, "1",
                  of + (p.factor ? fmt::format("factor {} ± {}, measured on this input", shown(p.factor->value, "1", 4),
                                               shown(2.0 * p.factor->u, "1", 2))
                                 : std::string("factor by its data sheet, since none was measured on this input at this sample "
                                               "rate"))});
}

}  // namespace plumbline::inline v0::audit
