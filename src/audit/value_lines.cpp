#include "../units/figures.hpp"
#include "lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/conformity/acceptance.hpp>
#include <plumbline/conformity/capability.hpp>
#include <plumbline/error.hpp>
#include <plumbline/front_end/node.hpp>

namespace plumbline::inline v0::audit {

namespace {

/// Where a test uncertainty ratio is good enough to accept by the limits themselves: the aim of EURAMET cg-15, version 3.0 (2015-02).
constexpr double comfortable_ratio = 4.0;

std::string what_is_read(const job& j, voltage value) {
    switch (j.read) {
        case reading_of::mean:
            return fmt::format("the mean of {:g} samples at {}", j.samples, shown(value, "V"));
        case reading_of::difference:
            return "a difference of " + shown(value, "V") +
                   (j.samples > 1.0 ? fmt::format(" between means of {:g}", j.samples) : "");
        case reading_of::peak_to_peak:
            return shown(value, "V") + " peak to peak";
        default:
            return "a level of " + shown(value, "V");
    }
}

/// "; with it 12 mV too low by loading and up to 3 mV by bandwidth or sampling"
std::string what_is_left(const outcome& o) {
    std::string text;
    if (o.loading != voltage()) {
        text += fmt::format(" and reads {} too {}, since the input loads the source", shown(std::abs(o.loading.value()), "V"),
                            o.loading.value() < 0.0 ? "low" : "high");
    }
    if (o.attenuation > voltage()) {
        text +=
            fmt::format(" and may be off by {} more for want of bandwidth, samples or compensation", shown(o.attenuation, "V"));
    }
    return text;
}

line bound(const std::string& name, double figure, double limit, const std::string& unit, const std::string& text) {
    return {name, figure <= limit ? line_is::good : line_is::bad, figure, limit, false, unit, text};
}

}  // namespace

audit::accuracy accuracy_of(const subject& s) {
    const outcome& o = s.worst;
    audit::accuracy a{o.value, o.known.U * volt, o.known.covered.k, o.uncorrected(), o.allowed, 0.0, s.on.off(o)};
    if (o.allowed > voltage()) a.conformity = s.on.conformity(o);
    return a;
}

void plus_or_minus(const subject& s, const audit::accuracy& a, lines& to) {
    const outcome& o = s.worst;
    const std::string most = o.known.rows.empty() ? "" : ". Largest part: " + o.known.rows.front().in->label;
    const std::string found = fmt::format("{} is known to ± {} ({} sure){}", what_is_read(s.job, a.at), shown(a.U, "V", 2),
                                          per_cent(s.job.need.confidence), what_is_left(o));
    if (a.allowed == voltage()) {
        to.push_back({"plus or minus", line_is::good, a.off.value(), std::nullopt, false, "V", found + most});
        return;
    }
    to.push_back(
        bound("plus or minus", a.off.value(), a.allowed.value(), "V",
              fmt::format("{}; ± {} is allowed, and {}{} of readings will be off by more{}", found, shown(a.allowed, "V"),
                          o.attenuation > voltage() ? "up to " : "", per_cent(1.0 - a.conformity), most)));
}

std::optional<audit::decision> decision_of(const subject& s) {
    if (!s.job.need.limits) return {};
    const conformity::tolerance<double> limits(
        conformity::interval<double>{s.job.need.limits->lower.value(), s.job.need.limits->upper.value()}, "V");
    const bool from_two = s.job.read == reading_of::difference || s.job.read == reading_of::peak_to_peak;
    const auto at = [&](double y) { return from_two ? s.worst : s.on.read(y * volt); };
    audit::decision d;
    try {
        const auto accepted = conformity::acceptance_limits(
            conformity::decision_rule<double>::guarded(), limits,
            uncertainty::function<double(double)>([&](double y) { return at(y).guard().value(); }), "V");
        d.accepted = {accepted.lower * volt, accepted.upper * volt};
    } catch (const bad_input&) {
        return {};  // no reading is left to accept
    }
    for (const double limit : {d.accepted.lower.value(), d.accepted.upper.value()}) {
        if (!std::isfinite(limit)) continue;
        const outcome o = at(limit);
        const voltage u = o.guard() / o.known.covered.k;
        d.u = std::max(d.u, u);
        const auto risks = conformity::risks_of_result(limits, limit, u.value(), "V");
        d.at_limit.consumers = std::max(d.at_limit.consumers, risks.consumers);
        d.at_limit.producers = std::max(d.at_limit.producers, risks.producers);
    }
    if (s.job.expected) {
        d.overall = conformity::risks_of_rule(limits, {d.accepted.lower.value(), d.accepted.upper.value()},
                                              conformity::plain(*s.job.expected), d.u.value(), "V");
    }
    return d;
}

void judging(const subject& s, const std::optional<audit::decision>& d, lines& to) {
    if (!s.job.need.limits) return;
    const conformity::tolerance<double> limits(
        conformity::interval<double>{s.job.need.limits->lower.value(), s.job.need.limits->upper.value()}, "V");
    if (limits.two_sided()) {
        const double ratio_found = conformity::test_uncertainty_ratio(limits, s.worst.guard().value(), "V");
        line l{"test uncertainty ratio",
               line_is::good,
               ratio_found,
               1.0,
               true,
               "1",
               fmt::format("half of the tolerance is {} times the plus or minus", shown(ratio_found, "1"))};
        if (ratio_found <= 1.0) {
            l.verdict = line_is::bad;
        } else if (ratio_found < comfortable_ratio) {
            l.verdict = line_is::condition;
            l.text += ": below 4, so keep to the acceptance limits";
        }
        to.push_back(std::move(l));
    }
    if (!d) {
        to.push_back({"acceptance limits", line_is::bad, std::nullopt, std::nullopt, false, "V",
                      "the plus or minus takes up the whole tolerance: no reading would show that the value is inside"});
        return;
    }
    const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(2.0 * d->u.value()))), 0, 9);
    std::string sentence;
    try {
        sentence = conformity::acceptance_sentence({d->accepted.lower.value(), d->accepted.upper.value()}, decimals, "V");
    } catch (const bad_input&) {  // nothing is left between the rounded limits
        to.push_back({"acceptance limits", line_is::bad, std::nullopt, std::nullopt, false, "V",
                      "the plus or minus takes up nearly the whole tolerance: no reading would show that the value is inside"});
        return;
    }
    to.push_back({"acceptance limits", line_is::good, std::nullopt, std::nullopt, false, "V",
                  sentence + " (guarded acceptance by U, JCGM 106:2012, 8.3.2)"});
    const double most = 1.0 - s.job.need.confidence;
    to.push_back({"risk of one decision", d->at_limit.consumers <= most ? line_is::good : line_is::bad, d->at_limit.consumers,
                  most, false, "1",
                  fmt::format("a reading just accepted is wrong with {}, one just rejected with {}",
                              per_cent(d->at_limit.consumers), per_cent(d->at_limit.producers))});
    if (d->overall) {
        to.push_back(
            {"risk on average", d->overall->consumers <= most ? line_is::good : line_is::bad, d->overall->consumers, most, false,
             "1",
             fmt::format("of what is expected ({} ± {}, one standard deviation) {} will be wrongly accepted and {} wrongly "
                         "rejected",
                         shown(s.job.expected->estimate, "V"), shown(s.job.expected->u, "V"), per_cent(d->overall->consumers),
                         per_cent(d->overall->producers))});
    }
}

void range_and_clipping(const subject& s, lines& to) {
    const calibration::range_calibration& of = s.on.range();
    const voltage middle = 0.5 * (of.chain.low + of.chain.high);
    const voltage half = 0.5 * (of.chain.high - of.chain.low);
    const voltage low = s.on.at_connector(s.job.low);
    const voltage high = s.on.at_connector(s.job.high);
    const double furthest = std::max(std::abs((low - middle).value()), std::abs((high - middle).value()));
    to.push_back(bound("range", furthest, half.value(), "V",
                       fmt::format("{} to {} at the connector; the range is {} to {}", shown(low, "V"), shown(high, "V"),
                                   shown(of.chain.low, "V"), shown(of.chain.high, "V"))));
    // Clipping: three standard deviations of noise away from the end codes.
    const double noise = 3.0 * of.zero.seen.noise.value();
    double nearest = of.chain.adc.top_code();
    for (const voltage& v : {low, high}) {
        const double c = calibration::code_at(of, v).value();
        nearest = std::min({nearest, c - of.chain.adc.bottom_code(), of.chain.adc.top_code() - c});
    }
    to.push_back({"clipping", nearest >= noise ? line_is::good : line_is::bad, nearest, noise, true, "code",
                  fmt::format("{} codes are left to the end of the converter; noise takes {}", shown(std::max(0.0, nearest), "1"),
                              shown(noise, "1", 2))});
    // Extrapolation, which U counts; a check point that passed beyond it is worth more.
    const auto volts = [&](const calibration::step& step) {
        return (of.result.offset + of.result.gain * step.seen.mean).value();
    };
    double first = std::min(volts(of.zero), volts(of.reference));
    double last = std::max(volts(of.zero), volts(of.reference));
    if (of.negative) {
        const calibration::correction& line = of.negative_result ? *of.negative_result : of.result;
        const double third = (line.offset + line.gain * of.negative->seen.mean).value();
        first = std::min(first, third);
        last = std::max(last, third);
    }
    for (std::size_t i = 0; of.points && i < of.points->points.size(); ++i) {
        first = std::min(first, of.points->points[i].applied.value());
        last = std::max(last, of.points->points[i].applied.value());
    }
    const double calibrated_first = first;
    const double calibrated_last = last;
    for (const calibration::check_point& c : of.checks) {
        if (c.as_found || (c.verdict && *c.verdict == conformity::verdict::fail)) continue;
        first = std::min(first, c.applied_value.value());
        last = std::max(last, c.applied_value.value());
    }
    const double slack = 0.01 * (last - first);
    line l{"extrapolation",
           line_is::good,
           std::nullopt,
           std::nullopt,
           false,
           "V",
           fmt::format("calibrated from {} to {}, checked to {} and {}; counted in the plus or minus",
                       shown(calibrated_first, "V"), shown(calibrated_last, "V"), shown(first, "V"), shown(last, "V"))};
    if (low.value() < first - slack || high.value() > last + slack) {
        l.verdict = line_is::condition;
        l.text = fmt::format("{} to {} at the connector, but steps and checks show only {} to {}: check a point out there first",
                             shown(low, "V"), shown(high, "V"), shown(first, "V"), shown(last, "V"));
    }
    to.push_back(std::move(l));
}

void mode(const subject& s, lines& to) {
    const front_end::mode& of = s.on.range().mode;
    if (s.on.at_another_rate() && s.on.range().chain.pin) {
        to.push_back(
            {"mode", line_is::condition, s.on.sample_rate().value(), of.sample_rate.value(), false, "Hz",
             fmt::format("{} is asked for, and the calibration holds at {}: what the sampling capacitor does to the gain is "
                         "counted in the plus or minus, by the data sheet of its pin; check a point at that rate first",
                         shown(s.on.sample_rate(), "Hz"), shown(of.sample_rate, "Hz"))});
    } else if (s.on.at_another_rate()) {
        to.push_back({"mode", line_is::bad, s.on.sample_rate().value(), of.sample_rate.value(), false, "Hz",
                      fmt::format("{} is asked for, and the calibration holds at {}: calibrate in that mode",
                                  shown(s.on.sample_rate(), "Hz"), shown(of.sample_rate, "Hz"))});
    } else {
        to.push_back(
            {"mode", line_is::good, std::nullopt, std::nullopt, false, "Hz",
             fmt::format("{} as calibrated{}", shown(of.sample_rate, "Hz"), of.supply.empty() ? "" : ", on " + of.supply)});
    }
    if (of.coupling == "AC" && s.job.fastest.what == event_kind::dc) {
        to.push_back({"coupling", line_is::bad, std::nullopt, std::nullopt, false, "1",
                      "AC coupling takes away what is to be measured: use a DC range"});
    }
}

void resolution_and_noise(const subject& s, lines& to) {
    const calibration::range_calibration& of = s.on.range();
    const front_end::chain& chain = of.chain;
    const double factor = 1.0 + (s.on.in_series() / front_end::nominal_input_resistance(chain)).value();
    const double code_size = std::abs(of.result.gain.value()) * factor;
    const double noise = code_size * of.zero.seen.noise.value() / std::sqrt(s.on.effective_samples());
    double allowed = s.worst.allowed.value();
    if (s.job.need.limits) {
        const double half = 0.5 * (s.job.need.limits->upper - s.job.need.limits->lower).value();
        allowed = std::isfinite(half) ? half : 0.0;
    }
    const std::string averaged = s.on.effective_samples() > 1.0
                                     ? fmt::format(" after averaging, which counts for {:.3g} samples", s.on.effective_samples())
                                     : std::string();
    if (allowed == 0.0) {
        to.push_back({"resolution", line_is::good, 0.5 * code_size, std::nullopt, false, "V",
                      fmt::format("one code is {}, noise {} rms{}", shown(code_size, "V"), shown(noise, "V", 2), averaged)});
        return;
    }
    // Averaged noise of half a code and more shows what lies between the codes.
    const bool dithered = s.on.effective_samples() > 1.0 && of.zero.seen.noise.value() >= 0.5;
    const std::string one_code = "one code is " + shown(code_size, "V");
    if (dithered) {
        to.push_back({"resolution", line_is::good, std::nullopt, std::nullopt, false, "V",
                      one_code + ", and averaged noise shows what lies between"});
    } else {
        to.push_back(bound("resolution", 0.5 * code_size, allowed, "V", one_code));
    }
    to.push_back(bound("noise", 2.0 * noise, allowed, "V",
                       fmt::format("two standard deviations of noise are {}{}", shown(2.0 * noise, "V", 2), averaged)));
}

void state_of_calibration(const subject& s, lines& to) {
    const calibration::range_calibration& of = s.on.range();
    if (s.on.drift_known()) {
        to.push_back({"age", line_is::good, std::nullopt, std::nullopt, false, "1",
                      fmt::format("{:.1f} years since the calibration; drift is in the plus or minus", s.on.years())});
    } else {
        to.push_back({"age", line_is::unknown, std::nullopt, std::nullopt, false, "1",
                      fmt::format("drift is not known, and {:.1f} years have passed: enter \"instrument/in_use\"; it is missing "
                                  "in the plus or minus",
                                  s.on.years())});
    }
    const kelvins away = s.job.ambient - of.ambient;
    to.push_back({"temperature", line_is::good, std::nullopt, std::nullopt, false, "K",
                  fmt::format("{:+.0f} K, give or take {:.0f} K, from that of the calibration; in the plus or minus",
                              away.value(), (s.job.ambient_half_width + of.temperature_half_width).value())});
    for (const calibration::check_point& c : of.checks) {
        if (c.as_found || !c.verdict || *c.verdict != conformity::verdict::fail) continue;
        to.push_back({"check point", line_is::condition, std::nullopt, std::nullopt, false, "V",
                      fmt::format("the calibration's own check \"{}\" failed: find out why first", c.name)});
    }
}

}  // namespace plumbline::inline v0::audit
