#pragma once
// Whether two sessions say the same, wherever their files are. The library compares records only.

#include <algorithm>
#include <optional>
#include <plumbline/session/session.hpp>

namespace fixture {

inline bool same(const plumbline::session::capture_source& a, const plumbline::session::capture_source& b) {
    return a.file == b.file && a.column == b.column && a.sample_rate == b.sample_rate && a.format == b.format;
}

inline bool same(const plumbline::session::transfer& a, const plumbline::session::transfer& b) {
    return a.channel == b.channel && a.range == b.range && same(a.capture, b.capture);
}

inline bool same(const plumbline::session::step& a, const plumbline::session::step& b) {
    return a.source == b.source && same(a.capture, b.capture) && a.by_range.has_value() == b.by_range.has_value() &&
           (!a.by_range || same(*a.by_range, *b.by_range));
}

inline bool same(const plumbline::session::check& a, const plumbline::session::check& b) {
    return a.name == b.name && a.as_found == b.as_found && same(a.step, b.step);
}

inline bool same(const plumbline::session::comparison& a, const plumbline::session::comparison& b) {
    return a.name == b.name && a.first == b.first && a.second == b.second;
}

inline bool same(const plumbline::calibration::range_setup& a, const plumbline::calibration::range_setup& b) {
    return a.channel == b.channel && a.range == b.range && a.mode == b.mode && a.chain == b.chain && a.ambient == b.ambient &&
           a.temperature_half_width == b.temperature_half_width && a.limit == b.limit && a.before == b.before &&
           a.in_use == b.in_use && a.longest_time == b.longest_time && a.largest_hum == b.largest_hum && a.slow == b.slow &&
           a.begun == b.begun && a.ended == b.ended;
}

inline bool same(const plumbline::session::repetitions::one& a, const plumbline::session::repetitions::one& b) {
    return a.at == b.at && same(a.capture, b.capture);
}

inline bool same(const plumbline::session::repetitions& a, const plumbline::session::repetitions& b) {
    const auto same_one = [](const auto& x, const auto& y) { return same(x, y); };
    return a.reference_at == b.reference_at &&
           std::equal(a.captures.begin(), a.captures.end(), b.captures.begin(), b.captures.end(), same_one);
}

inline bool same(const plumbline::session::point& a, const plumbline::session::point& b) {
    return a.name == b.name && same(a.step, b.step);
}

inline bool same(const plumbline::session::crosstalk& a, const plumbline::session::crosstalk& b) {
    const auto same_end = [](const auto& x, const auto& y) { return x.there == y.there && same(x.capture, y.capture); };
    return a.channel == b.channel && a.range == b.range && same_end(a.low, b.low) && same_end(a.high, b.high);
}

inline bool same(const plumbline::session::warm_up& a, const plumbline::session::warm_up& b) {
    const auto same_one = [](const auto& x, const auto& y) { return same(x, y); };
    return a.limits == b.limits && std::equal(a.curve.begin(), a.curve.end(), b.curve.begin(), b.curve.end(), same_one);
}

inline bool same(const plumbline::session::at_supply& a, const plumbline::session::at_supply& b) {
    return a.name == b.name && same(a.zero, b.zero) && same(a.reference, b.reference);
}

inline bool same(const plumbline::session::clock& a, const plumbline::session::clock& b) {
    return a.known == b.known && same(a.capture, b.capture);
}

template <class Part>
bool same_if_any(const std::optional<Part>& a, const std::optional<Part>& b) {
    return a.has_value() == b.has_value() && (!a || same(*a, *b));
}

inline bool same(const plumbline::session::range& a, const plumbline::session::range& b) {
    const auto same_check = [](const auto& x, const auto& y) { return same(x, y); };
    return same(a.setup, b.setup) && same(a.zero, b.zero) && same(a.reference, b.reference) &&
           a.negative.has_value() == b.negative.has_value() && (!a.negative || same(*a.negative, *b.negative)) &&
           std::equal(a.checks.begin(), a.checks.end(), b.checks.begin(), b.checks.end(), same_check) &&
           same_if_any(a.turns, b.turns) && same_if_any(a.warm_up, b.warm_up) && a.earlier == b.earlier &&
           std::equal(a.points.begin(), a.points.end(), b.points.begin(), b.points.end(), same_check) &&
           std::equal(a.crosstalk.begin(), a.crosstalk.end(), b.crosstalk.begin(), b.crosstalk.end(), same_check) &&
           std::equal(a.supplies.begin(), a.supplies.end(), b.supplies.begin(), b.supplies.end(), same_check);
}

inline bool same(const plumbline::session::probe_work& a, const plumbline::session::probe_work& b) {
    const auto same_ratio = [](const auto& x, const auto& y) {
        return x.fed == y.fed && same(x.direct, y.direct) && same(x.divided, y.divided) &&
               x.temperature_coefficient == y.temperature_coefficient;
    };
    return a.described == b.described && a.record == b.record && a.channel == b.channel && a.range == b.range && a.fed == b.fed &&
           same(a.capture, b.capture) && a.ratio.has_value() == b.ratio.has_value() &&
           (!a.ratio || same_ratio(*a.ratio, *b.ratio));
}

inline bool same(const plumbline::session::session& a, const plumbline::session::session& b) {
    const auto same_part = [](const auto& x, const auto& y) { return same(x, y); };
    return a.header == b.header && same_if_any(a.clock, b.clock) && a.probe.has_value() == b.probe.has_value() &&
           (!a.probe || same(*a.probe, *b.probe)) &&
           std::equal(a.comparisons.begin(), a.comparisons.end(), b.comparisons.begin(), b.comparisons.end(), same_part) &&
           std::equal(a.ranges.begin(), a.ranges.end(), b.ranges.begin(), b.ranges.end(), same_part);
}

}  // namespace fixture
