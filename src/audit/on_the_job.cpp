#include "on_the_job.hpp"

#include "../calibration/through_probe.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <plumbline/error.hpp>
#include <plumbline/front_end/bandwidth.hpp>

namespace plumbline::inline v0::audit {

namespace {

namespace models = calibration::models;
using calibration::range_calibration;
using sensitive = uncertainty::with_sensitivities;

const range_calibration& find(const record::record& r, const job& j) {
    if (r.what != record::kind::instrument) {
        throw bad_input("record " + r.number, "found the record of a probe", "that of an instrument",
                        "describe the probe in the job, and give the instrument's record");
    }
    const auto found = std::find_if(r.ranges.begin(), r.ranges.end(), [&](const range_calibration& one) {
        return one.channel == j.channel && one.range == j.range;
    });
    if (found != r.ranges.end()) return *found;
    std::string known;
    for (const range_calibration& one : r.ranges) {
        known += (known.empty() ? "" : ", ") + fmt::format("\"{}\" \"{}\"", one.channel, one.range);
    }
    throw bad_input(j.file + ": /range", fmt::format("channel \"{}\", range \"{}\"", j.channel, j.range),
                    "one of record " + r.number + ": " + known, "correct channel or range, or take another record");
}

/// @pre a day of the calendar as YYYY-MM-DD, which its reader has checked
std::chrono::sys_days day(const std::string& text) {
    const auto number = [&](std::size_t from, std::size_t n) {
        int value = 0;
        std::from_chars(text.data() + from, text.data() + from + n, value);
        return value;
    };
    return std::chrono::year_month_day(std::chrono::year(number(0, 4)), std::chrono::month(static_cast<unsigned>(number(5, 2))),
                                       std::chrono::day(static_cast<unsigned>(number(8, 2))));
}

double years_between(const record::record& r, const job& j) {
    if (j.date.size() != 10 || j.date < r.dates.ended) {
        throw bad_input(j.file + ": /date", "found \"" + j.date + "\"", "a day not before the calibration, " + r.dates.ended,
                        "correct the date, or take an earlier record");
    }
    return std::chrono::duration<double, std::ratio<31556952>>(day(j.date) - day(r.dates.ended)).count();
}

/// A mean of n counts for fewer samples where they hang together, and for no more than the calibration's capture has shown: slow noise.
double counting(double n, const capture::statistics& seen) {
    const double part = std::clamp(seen.n_eff / static_cast<double>(seen.n), 0.0, 1.0);
    return std::max(1.0, std::min(n * part, seen.n_eff));
}

bool between_two(const job& j) { return j.read == reading_of::difference || j.read == reading_of::peak_to_peak; }

}  // namespace

voltage outcome::uncorrected() const { return std::abs(loading.value()) * volt + attenuation; }

on_the_job::on_the_job(const record::record& r, const job& j, assuming also)
    : record_(r), job_(j), also_(also), range_(find(r, j)) {
    years_ = years_between(r, j);
    const auto& drift = j.instrument.in_use ? j.instrument.in_use : range_.in_use;
    drift_known_ = drift.has_value();
    if (drift) use_ = *drift;
    use_.years = years_;
    use_.temperature_half_width = j.ambient_half_width + range_.temperature_half_width;
    difference_ = j.ambient - range_.ambient;
    rate_ = j.sample_rate.value_or(range_.mode.sample_rate);
    if (j.read == reading_of::mean || j.read == reading_of::difference) samples_ = counting(j.samples, range_.zero.seen);

    if (j.instrument.bandwidth) {
        poles_.push_back(*j.instrument.bandwidth);
    } else if (const auto& stage = range_.chain.amplifier; stage && stage->gain_bandwidth) {
        poles_.push_back(front_end::amplifier_bandwidth(*stage));
    }
    if (j.probe && j.probe->bandwidth) poles_.push_back(*j.probe->bandwidth);
    const auto& fed = j.probe ? j.probe->tip_capacitance : j.instrument.input_capacitance;
    if (fed && j.source.resistance > resistance()) poles_.push_back(front_end::pole(j.source.resistance, *fed));
}

duration on_the_job::rise_time() const {
    duration all;
    for (const frequency& pole : poles_) all = front_end::in_a_row(all, front_end::rise_time(pole));
    return all;
}

double on_the_job::amplitude(frequency f) const {
    double all = 1.0;
    for (const frequency& pole : poles_) all *= front_end::one_pole_amplitude(f, pole).value();
    return all;
}

bool on_the_job::at_another_rate() const {
    constexpr double same = 1e-3;
    return std::abs((rate_ / range_.mode.sample_rate).value() - 1.0) > same;
}

std::optional<frequency> on_the_job::counted_rate() const {
    return at_another_rate() && range_.chain.pin ? std::optional(rate_) : std::nullopt;
}

resistance on_the_job::in_series() const {
    const bool probe = job_.probe && !job_.probe->calibrated_together;
    return job_.source.resistance + (probe ? job_.probe->series : resistance());
}

voltage on_the_job::at_connector(voltage at_source) const {
    return front_end::loaded{}(at_source, in_series(), front_end::nominal_open_voltage(range_.chain),
                               front_end::nominal_input_resistance(range_.chain));
}

uncertainty::uncertain<voltage> on_the_job::reading(voltage at) const {
    const sensitive e{record_.inputs};
    const std::string id = calibration::identity::range(range_.channel, range_.range);
    const auto code_of = [&](voltage v) { return calibration::code_at(range_, at_connector(v)); };
    const auto seen = [&] {
        const codes low = code_of(job_.low);
        const codes high = code_of(job_.high);
        switch (job_.read) {
            case reading_of::difference:
                return calibration::difference_in_use(record_.inputs, record_.references, range_, low, high, samples_, use_,
                                                      difference_, counted_rate());
            case reading_of::peak_to_peak:
                return calibration::peak_to_peak_in_use(record_.inputs, record_.references, range_, std::min(low, high),
                                                        std::max(low, high), job_.samples, use_, difference_, counted_rate());
            default:
                return calibration::reading_in_use(record_.inputs, record_.references, range_, code_of(at), samples_, use_,
                                                   difference_, counted_rate());
        }
    }();
    // What the person corrects for: the probe, and the source where the job says so.
    auto input = models::load_at_reading(e, range_, {samples_, difference_, use_.temperature_half_width, counted_rate()});
    if (between_two(job_)) input = input.of_difference(e);
    const resistance ahead = job_.source.resistance;
    auto corrected = models::sampled_through(e, range_, seen, input, ahead);
    auto loads = input.r_in;  // what the source sees
    if (job_.probe && !job_.probe->calibrated_together && also_ == assuming::calibrated_with_the_probe) {
        const auto series = e.constant(job_.probe->series);
        corrected = e.apply(front_end::unloaded{}, corrected, series, e.constant(input.open.value), e.constant(input.r_in.value));
        loads = e.apply(models::sum{}, input.r_in, series);
    } else if (job_.probe) {
        const models::at_tip<sensitive> tip(e, range_, seen, *job_.probe, input, ahead);
        corrected = tip.v;
        loads = tip.r_in;
    }
    if (job_.source.resistance > resistance()) {
        const auto r_source = e.apply(front_end::deviated{}, e.constant(job_.source.resistance),
                                      e.given<ratio>({id + "/job/source", "source resistance", "job", unit_symbol<ratio>, 0.0,
                                                      uncertainty::rectangular{job_.source.tolerance.value()}}));
        if (job_.source.corrected) {
            corrected = e.apply(front_end::unloaded{}, corrected, r_source, input.open, loads);
        } else {
            // The error of reading the connector in place of the source. Its nominal size is `loading`; here is how well that is known.
            const voltage there = between_two(job_) ? job_.high - job_.low : at;
            const auto shown = e.apply(front_end::loaded{}, e.constant(there), r_source, input.open, loads);
            corrected = e.apply(models::sum{}, corrected, shown, e.constant(-shown.value));
        }
    }
    if (!job_.also_present) return corrected;
    const double averaged = job_.read == reading_of::peak_to_peak ? 1.0 : job_.samples;
    for (const disturbance& d : *job_.also_present) {
        const voltage left = d.amplitude * amplitude(d.at) * front_end::left_in_a_mean(d.at, rate_, averaged).value();
        const auto add = [&](const std::string& which) {
            corrected = e.apply(models::sum{}, corrected,
                                e.given<voltage>({id + "/job/" + which + d.name, d.name + which, "job", unit_symbol<voltage>, 0.0,
                                                  uncertainty::arcsine{left.value()}}));
        };
        add("");
        if (between_two(job_)) add(", the other end");
    }
    return corrected;
}

voltage on_the_job::attenuated() const {
    const event& e = job_.fastest;
    if (e.what == event_kind::dc || job_.read == reading_of::mean) return {};
    // A level may be asked for at the top of a sine: its deviation from the middle, half of peak to peak.
    const voltage size = (job_.high - job_.low) * (job_.read == reading_of::level ? 0.5 : 1.0);
    double lost = 0.0;
    if (e.what == event_kind::sine) {
        lost += 1.0 - amplitude(e.at);
        if (job_.read == reading_of::peak_to_peak) lost += 1.0 - front_end::sampled_peak(e.at, rate_).value();
    } else if (e.what == event_kind::pulse_width && !poles_.empty()) {
        lost += front_end::not_reached(e.time, rise_time()).value();  // at the end of the pulse
    }
    if (job_.probe && job_.probe->mismatch) {
        const double m = job_.probe->mismatch->value();
        const resistance r_in = front_end::nominal_input_resistance(range_.chain);
        const double up = front_end::compensation_step{}(m, job_.probe->series, r_in).value() - 1.0;
        const double down = 1.0 - front_end::compensation_step{}(-m, job_.probe->series, r_in).value();
        lost += std::max(up, down);
    }
    constexpr double worth_a_word = 1e-6;  // of the signal
    return size * (lost < worth_a_word ? 0.0 : lost);
}

outcome on_the_job::read(voltage at) const {
    outcome o;
    o.value = between_two(job_) ? job_.high - job_.low : at;
    const auto y = reading(at);
    o.known = uncertainty::make_convolved_budget(y, job_.need.confidence, record_.correlations);
    if (!job_.source.corrected && job_.source.resistance > resistance()) {
        // The reading is corrected for the probe alone.
        const resistance r_in = front_end::nominal_input_resistance(range_.chain);
        const voltage open = between_two(job_) ? voltage() : front_end::nominal_open_voltage(range_.chain);
        const resistance probe = job_.probe && !job_.probe->calibrated_together ? job_.probe->series : resistance();
        const voltage connector = front_end::loaded{}(o.value, probe + job_.source.resistance, open, r_in);
        o.loading = front_end::unloaded{}(connector, probe, open, r_in) - o.value;
    }
    o.attenuation = attenuated();
    o.allowed = job_.need.absolute + job_.need.relative * std::abs(o.value.value()) * volt;
    return o;
}

outcome on_the_job::worst() const {
    constexpr int points = 9;  // U and what is allowed are smooth, and worst at an end or a knee of one of them
    if (between_two(job_) || job_.low == job_.high) return read(job_.high);
    std::optional<outcome> found;
    double found_part = 0.0;
    for (int i = 0; i < points; ++i) {
        const outcome o = read(job_.low + (job_.high - job_.low) * (i / double{points - 1}));
        const double part = o.allowed > voltage() ? (off(o) / o.allowed).value() : off(o).value();
        if (found && part <= found_part) continue;
        found = o;
        found_part = part;
    }
    return *found;
}

namespace {

/// The error that all terms of a budget make, symmetric about 0.
class spread {
public:
    spread(const uncertainty::budget& known, const std::vector<uncertainty::correlation>& correlations)
        : y_{known.value * volt, {}}, correlations_(correlations) {
        for (const uncertainty::budget_row& row : known.rows) y_.dependences.push_back({row.in, row.sensitivity});
        std::sort(y_.dependences.begin(), y_.dependences.end(), [](const auto& a, const auto& b) { return a.on->id < b.on->id; });
    }

    /// U that holds it with probability p, up to 1 - 1e-6.
    [[nodiscard]] double U(double p) const {
        return p < least ? 0.0 : uncertainty::make_convolved_budget(y_, std::min(p, 1.0 - least), correlations_).U;
    }

    /// Probability that it is no more than x.
    [[nodiscard]] double held(double x) const {
        double low = least;
        double high = 1.0 - least;
        if (x <= U(low)) return low;
        if (x >= U(high)) return high;
        for (int i = 0; i < 24; ++i) {
            const double middle = 0.5 * (low + high);
            (U(middle) < x ? low : high) = middle;
        }
        return 0.5 * (low + high);
    }

private:
    static constexpr double least = 1e-6;
    uncertainty::uncertain<voltage> y_;
    const std::vector<uncertainty::correlation>& correlations_;
};

}  // namespace

double on_the_job::conformity(const outcome& o) const {
    const spread by(o.known, record_.correlations);
    const double allowed = o.allowed.value();
    const double aside = o.uncorrected().value();
    if (aside == 0.0) return by.held(allowed);
    if (aside >= allowed)
        return 0.5 * (1.0 - (aside > allowed ? by.held(aside - allowed) : 0.0)) - 0.5 * (1.0 - by.held(aside + allowed));
    return 0.5 * (by.held(allowed - aside) + by.held(allowed + aside));
}

voltage on_the_job::off(const outcome& o) const {
    const double aside = o.uncorrected().value();
    if (aside == 0.0) return o.known.U * volt;
    // P(-a - L <= e <= a - L) = (held(a - L) + held(a + L)) / 2 = p. With q = held(a - L): a = L + U(q), and held(2 L + U(q)) = 2 p - q.
    const spread by(o.known, record_.correlations);
    const double p = job_.need.confidence;
    double low = 2.0 * p - 1.0;  // all that is beyond lies on one side
    double high = p;             // as much on either side
    const double narrowest = by.U(low);
    if (by.U(1.0) - narrowest <= 2.0 * aside) return (aside + narrowest) * volt;
    for (int i = 0; i < 10; ++i) {  // q to a thousandth of what p leaves, on the safe side
        const double q = 0.5 * (low + high);
        (by.U(2.0 * p - q) - by.U(q) > 2.0 * aside ? low : high) = q;
    }
    return (aside + by.U(high)) * volt;
}

}  // namespace plumbline::inline v0::audit
