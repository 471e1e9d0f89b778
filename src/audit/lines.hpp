#pragma once
// The lines of a report. Each function looks at one subject and adds what it finds.

#include "on_the_job.hpp"

#include <plumbline/audit/job.hpp>
#include <plumbline/audit/report.hpp>
#include <vector>

namespace plumbline::inline v0::audit {

/// All that the lines look at.
struct subject {
    const record::record& record;
    const audit::job& job;
    const on_the_job& on;
    outcome worst;
};

using lines = std::vector<line>;

// safety_lines.cpp
void safety(const subject& s, lines& to);

// value_lines.cpp
[[nodiscard]] audit::accuracy accuracy_of(const subject& s);
[[nodiscard]] std::optional<audit::decision> decision_of(const subject& s);
void plus_or_minus(const subject& s, const audit::accuracy& a, lines& to);
void judging(const subject& s, const std::optional<audit::decision>& d, lines& to);
void range_and_clipping(const subject& s, lines& to);
void mode(const subject& s, lines& to);
void resolution_and_noise(const subject& s, lines& to);
void state_of_calibration(const subject& s, lines& to);

// time_lines.cpp
void bandwidth(const subject& s, lines& to);
void samples(const subject& s, lines& to);
void timing(const subject& s, lines& to);
void aliasing(const subject& s, lines& to);
void compensation(const subject& s, lines& to);
void converters_pin(const subject& s, lines& to);

// probe_lines.cpp
/// The job with what the record of its probe, where it has one, says of the probe on the input of the job.
[[nodiscard]] job with_probe_of_record(const record::record& r, job j);
void probe_by_record(const subject& s, lines& to);

}  // namespace plumbline::inline v0::audit
