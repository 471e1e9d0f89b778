#pragma once
// Jobs for simulated instruments: made by chance, calibrated, taken ten kelvin away. What the person reads is compared with what is there.

#include <algorithm>
#include <cmath>
#include <functional>
#include <numeric>
#include <plumbline/audit/audit.hpp>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/capture/statistics.hpp>
#include <simulation/coverage.hpp>
#include <simulation/instrument.hpp>
#include <string>
#include <vector>

namespace on_the_job {

namespace pl = plumbline;
namespace sim = plumbline::simulation;
using plumbline::code;
using plumbline::hertz;
using plumbline::kelvin;
using plumbline::ohm;
using plumbline::one;
using plumbline::volt;

inline constexpr double calibrated_at = 21.0;  // degrees Celsius

// The instrument's data sheets, for the simulation and for the library: 1 Mohm, 430 kohm, 300 kohm to the converter's 3.3 V.
inline const sim::network_sheet network{{1e6, 0.01, 50e-6}, sim::part{430e3, 0.01, 50e-6}, sim::part{300e3, 0.01, 50e-6}, {}};
inline const sim::converter_sheet converter{12, {3.3, 0.005, 30e-6}, 4.0, 0.002, 0.5, 8, 0.7, false};
inline const double r_in = 1e6 + 1.0 / (1.0 / 430e3 + 1.0 / 300e3);
inline const double v_open = 3.3 * 430.0 / 730.0;

inline pl::front_end::resistor told(double ohms) { return {ohms * ohm, 0.01 * one, 50e-6 * (one / kelvin)}; }

inline pl::calibration::range_setup setup() {
    pl::calibration::range_setup s;
    s.channel = "A";
    s.range = "10 V";
    s.mode.sample_rate = 10e3 * hertz;
    s.chain.input.top = told(1e6);
    s.chain.input.bottom = told(430e3);
    s.chain.input.bias = pl::front_end::bias_branch{told(300e3), 3.3 * volt, true, 0.0 * one, 0.0 * (one / kelvin)};
    s.chain.adc = {12, 3.3 * volt, 0.005 * one, 30e-6 * (one / kelvin), 4.0 * code, 0.002 * one, 0.5 * code, 0.7 * code};
    s.chain.low = -10.0 * volt;
    s.chain.high = 10.0 * volt;
    s.ambient = {calibrated_at};
    s.limit = {1.0 * volt, 0.0 * one};
    return s;
}

/// An instrument made by chance and calibrated at 0 V and 4.096 V.
struct calibrated {
    sim::instrument unit;
    pl::record::record record;

    explicit calibrated(sim::generator& random) : unit{sim::draw(network, random), sim::draw(converter, random)} {
        record.number = "SIM";
        record.dates = {"", "2025-03-14", "2025-03-14", "2025-03-14"};
        for (const auto& [id, value, limits] : {std::tuple{"zero", 0.0, 20e-6}, std::tuple{"reference", 4.096, 2e-3}}) {
            pl::calibration::reference r;
            r.id = id;
            r.description = id;
            r.output = pl::calibration::stated_voltage{value * volt, pl::calibration::limits{limits * volt}};
            record.references.push_back(r);
        }
        const pl::calibration::step zero = step("zero", random.within(20e-6), random);
        const pl::calibration::step reference = step("reference", 4.096 + random.within(2e-3), random);
        record.ranges.push_back(
            pl::calibration::solve(setup(), {zero, reference, std::nullopt}, record.references, record.inputs));
    }

    [[nodiscard]] pl::calibration::step step(const std::string& id, double volts, sim::generator& random) const {
        pl::capture::run run;
        run.codes = unit.capture({volts, 0.0}, 256, calibrated_at, random);
        run.sample_rate = 10e3 * hertz;
        pl::calibration::step s;
        s.source.reference = id;
        s.evidence.file = id + ".csv";
        s.evidence.sample_rate = 10e3 * hertz;
        s.seen = pl::capture::summarise(run, 0, 4095);
        return s;
    }

    /// What the person reads off: the mean of n codes, turned into volts at the connector.
    [[nodiscard]] double read(double volts, double resistance, std::size_t n, double temperature, sim::generator& random) const {
        const auto seen = unit.capture({volts, resistance}, n, temperature, random);
        const double mean = std::accumulate(seen.begin(), seen.end(), 0.0) / static_cast<double>(n);
        const auto& of = record.ranges.front();
        return (of.result.offset + of.result.gain * (mean * code)).value();
    }
};

inline pl::audit::job job_at(double volts) {
    pl::audit::job j;
    j.file = "simulated";
    j.channel = "A";
    j.range = "10 V";
    j.date = "2025-03-14";
    j.ambient = {calibrated_at + 10.0};
    j.ambient_half_width = 4.0 * kelvin;
    j.low = j.high = volts * volt;
    j.highest = std::abs(volts) * volt;
    j.need.absolute = 1e3 * volt;  // to be told U
    j.instrument.in_use = pl::calibration::use_conditions{};
    return j;
}

/// One job: how far off the person's figure is, and the job as the audit hears of it.
struct attempt {
    double error = 0.0;
    pl::audit::job job;
};
using situation = std::function<attempt(const calibrated&, double temperature, sim::generator&)>;

/// Of a level, ten kelvin from the calibration.
inline attempt level(const calibrated& c, double temperature, sim::generator& random) {
    const double truth = 3.0 + random.within(0.5);
    return attempt{c.read(truth, 0.0, 1, temperature, random) - truth, job_at(truth)};
}

/// Of a difference of two means.
inline attempt difference(const calibrated& c, double temperature, sim::generator& random) {
    const double low = -1.0 + random.within(0.5);
    pl::audit::job j = job_at(low + 3.0);
    j.low = low * volt;
    j.read = pl::audit::reading_of::difference;
    j.samples = 16.0;
    const double first = c.read(low, 0.0, 16, temperature, random);
    return attempt{c.read(low + 3.0, 0.0, 16, temperature, random) - first - 3.0, j};
}

/// Of a level through a probe of known series resistance.
inline attempt probe(const calibrated& c, double temperature, sim::generator& random) {
    const double truth = 30.0 + random.within(3.0);
    pl::audit::job j = job_at(truth);
    j.probe = pl::front_end::probe{"x10", 9e6 * ohm, 0.01 * one};
    j.probe->rating = 300.0 * volt;
    const double connector = c.read(truth, 9e6 * (1.0 + random.within(0.01)), 1, temperature, random);
    return attempt{connector + (connector - v_open) * 9e6 / r_in - truth, j};
}

/// Of the mean from a source whose resistance is corrected for.
inline attempt corrected_source(const calibrated& c, double temperature, sim::generator& random) {
    const double truth = 5.0 + random.within(0.5);
    pl::audit::job j = job_at(truth);
    j.read = pl::audit::reading_of::mean;
    j.samples = 64.0;
    j.source = {100e3 * ohm, 0.1 * one, true};
    const double connector = c.read(truth, 100e3 * (1.0 + random.within(0.1)), 64, temperature, random);
    return attempt{connector + (connector - v_open) * 100e3 / r_in - truth, j};
}

/// Of a level through a probe whose factor was measured on this instrument's input, with u = 0.2 %. Its series resistance is 3 % off.
inline attempt measured_probe(const calibrated& c, double temperature, sim::generator& random) {
    const double truth = 30.0 + random.within(3.0);
    pl::audit::job j = job_at(truth);
    const double series = 9e6 * (1.0 + random.within(0.03));
    const double volts_per_tip =
        c.unit.nodes({1.0, series}, temperature).connector - c.unit.nodes({0.0, series}, temperature).connector;
    pl::audit::probe_record p;
    p.number = "PROBE";
    p.ambient = j.ambient;
    p.found.described.series = 9e6 * ohm;
    p.found.described.tolerance = 0.01 * one;
    p.found.described.rating = 300.0 * volt;
    p.found.on.channel = j.channel;
    p.found.on.range = j.range;
    pl::calibration::division d;
    d.factor = (1.0 + 0.002 * random.normal()) / volts_per_tip * one;
    d.U = 0.004 * d.factor;
    d.direct.sample_rate = d.divided.sample_rate = 10e3 * hertz;
    p.found.division = d;
    j.probe_record = p;
    const double connector = c.read(truth, series, 1, temperature, random);
    return {connector + (connector - v_open) * (d.factor.value() - 1.0) - truth, j};
}

/// Of a level from a source whose resistance is not corrected for: loading is some of U (1 kohm), as much (3 kohm), or most (100 kohm).
template <int ohms>
attempt uncorrected_source(const calibrated& c, double temperature, sim::generator& random) {
    const double truth = 5.0 + random.within(0.5);
    pl::audit::job j = job_at(truth);
    j.source = {double{ohms} * ohm, 0.1 * one, false};
    return {c.read(truth, double{ohms} * (1.0 + random.within(0.1)), 1, temperature, random) - truth, j};
}

/// Errors of many instruments, smallest first, and the tolerances that the audit asks for at each confidence.
struct outcomes {
    std::vector<double> errors;
    std::vector<std::vector<double>> asked_for;  ///< by confidence
    std::vector<std::size_t> went_well;          ///< by confidence
};

inline outcomes simulate(const situation& happens, std::size_t instruments, const std::vector<double>& confidences,
                         std::uint64_t seed) {
    outcomes all{{}, std::vector<std::vector<double>>(confidences.size()), std::vector<std::size_t>(confidences.size())};
    sim::generator random(seed);
    for (std::size_t i = 0; i < instruments; ++i) {
        const calibrated c(random);
        attempt a = happens(c, calibrated_at + 10.0 + random.within(4.0), random);
        for (std::size_t k = 0; k < confidences.size(); ++k) {
            a.job.need.confidence = confidences[k];
            // Asked for this tolerance, the audit predicts just this confidence (tests/audit).
            all.asked_for[k].push_back(pl::audit::audit(c.record, a.job).accuracy.off.value());
            if (std::abs(a.error) <= all.asked_for[k].back()) ++all.went_well[k];
        }
        all.errors.push_back(std::abs(a.error));
    }
    std::sort(all.errors.begin(), all.errors.end());
    return all;
}

/// Part of the jobs that are refused, of those with tolerances from q to 2 q, all alike: q is the tolerance that 99 % of readings keep.
inline double share_refused(const std::vector<double>& asked_for, double q) {
    double sum = 0.0;
    for (const double U : asked_for) sum += std::clamp(U / q - 1.0, 0.0, 1.0);
    return sum / static_cast<double>(asked_for.size());
}

}  // namespace on_the_job
