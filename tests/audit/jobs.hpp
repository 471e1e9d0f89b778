#pragma once
// Jobs for tests, with the shipped record of the pocket scope.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <plumbline/audit/audit.hpp>
#include <plumbline/audit/job.hpp>
#include <plumbline/record/json.hpp>
#include <string>

namespace jobs {

namespace pl = plumbline;
namespace audit = plumbline::audit;
using plumbline::hertz;
using plumbline::kelvin;
using plumbline::ohm;
using plumbline::one;
using plumbline::second;
using plumbline::volt;

inline const pl::record::record& scope() {
    static const pl::record::record read =
        pl::record::read_record(std::string(PLUMBLINE_SOURCE_DIR "/cal_records/PS2-0007-2025-03.json"));
    return read;
}

/// A level of 0 V to 4 V, to 1 V: suitable, with nothing unknown.
inline audit::job easy() {
    audit::job j;
    j.file = "easy.json";
    j.name = "easy";
    j.channel = "A";
    j.range = "10 V";
    j.date = "2025-03-14";
    j.ambient = {22.5};
    j.high = 4.0 * volt;
    j.highest = 5.0 * volt;
    j.need.absolute = 1.0 * volt;
    return j;
}

inline const audit::line& line_of(const audit::report& r, const std::string& name) {
    const auto found = std::find_if(r.lines.begin(), r.lines.end(), [&](const audit::line& l) { return l.name == name; });
    REQUIRE_MESSAGE(found != r.lines.end(), name);
    return *found;
}

inline bool has(const audit::report& r, const std::string& name) {
    return std::any_of(r.lines.begin(), r.lines.end(), [&](const audit::line& l) { return l.name == name; });
}

/// Input resistance and open voltage of range A 10 V: 1 Mohm, 430 kohm, 300 kohm to 3.3 V; nodal analysis by hand.
inline double node_shunt() { return 1.0 / (1.0 / 430e3 + 1.0 / 300e3); }
inline double r_in() { return 1e6 + node_shunt(); }
inline double v_open() { return 3.3 * 430.0 / (430.0 + 300.0); }

}  // namespace jobs
