#pragma once
// What a calibration of one range of one channel leaves: evidence, correction, check points. Plain data, as the record keeps it.

#include <cstdint>
#include <optional>
#include <plumbline/calibration/evidence.hpp>
#include <plumbline/capture/quantisation.hpp>
#include <plumbline/conformity/decision.hpp>
#include <plumbline/front_end/chain.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::calibration {

/// Gain and offset with their covariance: V = offset + gain * c. Both come from the same two steps and are always correlated.
struct correction {
    volts_per_code gain;
    volts_per_code u_gain;
    voltage offset;  ///< voltage at code 0
    voltage u_offset;
    double covariance = 0.0;  ///< of gain and offset, V^2/code
    friend bool operator==(const correction&, const correction&) = default;
};

/// Gain and offset without uncertainty: a correction that was in force before.
struct plain_correction {
    volts_per_code gain;
    voltage offset;
    friend bool operator==(const plain_correction&, const plain_correction&) = default;
};

/// A sine at the connector that is slower than captures last, known of the place: a charge controller's cycle, a pump's. No capture shows it.
/// It counts where a capture is shorter than one of its periods, and in each reading then.
struct slow_disturbance {
    voltage amplitude;
    std::optional<frequency> at{};  ///< none: slower than every capture
    friend bool operator==(const slow_disturbance&, const slow_disturbance&) = default;
};

/// How an instrument is used after its calibration: what the *in use* budget adds. Limits, all rectangular.
struct use_conditions {
    double years = 0.0;              ///< since the calibration
    kelvins temperature_half_width;  ///< about the temperature of the calibration
    ratio gain_per_year;             ///< drift
    voltage offset_per_year;         ///< drift
    ratio gain_by_supply;            ///< charger attached or battery low, against the supply of the calibration
    voltage offset_by_supply;
    friend bool operator==(const use_conditions&, const use_conditions&) = default;
};

/// U^2(V) <= a + c (V - v_c)^2, the compact form of U of one sample at calibration over the range. a in V^2, c dimensionless, both >= 0.
struct compact_uncertainty {
    double a = 0.0;
    double c = 0.0;
    voltage centre;
    double largest_excess = 0.0;  ///< most that the form exceeds U, as a fraction of U
    friend bool operator==(const compact_uncertainty&, const compact_uncertainty&) = default;
};

/// Maximum permissible error: absolute + relative * |V|, and the rule by which errors are judged against it. Both zero: nothing is judged.
struct acceptance {
    voltage absolute;
    ratio relative;
    conformity::decision_rule<voltage> rule{};
    friend bool operator==(const acceptance&, const acceptance&) = default;
};

/// Whether Monte Carlo bears out an interval that first order states (JCGM 101:2008, 8.1), and if not, why.
enum class first_order_is {
    validated,
    short_of_readings,  ///< type A inputs of few degrees of freedom: trials scatter by t, more than u says
    short_of_order,  ///< the model is curved, or a sensitivity vanishes: both ends are shifted, or mean or standard deviation off
    of_another_shape,  ///< none of these, the ends alone do not agree
};

/// The interval of a result by trials: it holds the coverage probability, as many trials below as above it.
struct interval_by_trials {
    voltage low;
    voltage high;
    first_order_is first_order = first_order_is::validated;
    friend bool operator==(const interval_by_trials&, const interval_by_trials&) = default;
};

struct reading_by_trials {
    voltage at;
    interval_by_trials interval;
    friend bool operator==(const reading_by_trials&, const reading_by_trials&) = default;
};

/// A mean of independent samples, or the difference of two such means from one voltage to another.
struct stated_kind {
    double samples = 1.0;  ///< in each mean
    voltage at;
    std::optional<voltage> to;  ///< none: one mean
    friend bool operator==(const stated_kind&, const stated_kind&) = default;
};

struct kind_by_trials {
    stated_kind what;
    interval_by_trials interval;
    friend bool operator==(const kind_by_trials&, const kind_by_trials&) = default;
};

/// Monte Carlo over what is stated of a range: see validation.hpp. Records of before these were compared have readings alone.
struct validation {
    std::uint64_t trials = 0;
    std::uint64_t seed = 0;
    int significant_digits = 0;                     ///< of u; the tolerance is half a unit of the last one
    std::vector<reading_by_trials> readings;        ///< one sample at calibration, at stated_voltages
    std::vector<reading_by_trials> in_use{};        ///< the same in use; empty without conditions of use
    std::vector<reading_by_trials> uncalibrated{};  ///< the same by data sheets
    std::vector<kind_by_trials> kinds{};            ///< stated_kinds, at calibration
    friend bool operator==(const validation&, const validation&) = default;
};

/// A point never used to calibrate. As found: turned into volts by the correction that was in force before; as left: by the new one.
struct check_point {
    std::string name;
    bool as_found = false;
    step observed;
    voltage applied_value;
    voltage indication;
    voltage error;  ///< indication minus applied
    voltage U;      ///< of the error
    double k = 0.0;
    bool convolved = false;                      ///< k by convolution, not from t
    double degrees_of_freedom = 0.0;             ///< effective; infinite allowed
    voltage permissible;                         ///< maximum permissible error there
    std::optional<conformity::verdict> verdict;  ///< by the range's rule, where there is a limit
    double conformance_probability = 0.0;        ///< of the error, normal with u = U / k (JCGM 106:2012, 7.4); 0 without a limit
    bool tests_reference = false;                ///< its reference shares no error with those that calibrated
    std::optional<interval_by_trials> by_trials{};  ///< of the error, by the range's run
    friend bool operator==(const check_point&, const check_point&) = default;
};

/// Something worth saying that does not stop the calibration. Numbers never change meaning.
struct finding {
    int number = 0;
    std::string where;
    std::string text;  ///< what was found and what to do
    friend bool operator==(const finding&, const finding&) = default;
};

struct range_calibration {
    std::string channel;  ///< "A"
    std::string range;    ///< "10 V"
    front_end::mode mode;
    front_end::chain chain;
    celsius ambient;                 ///< during the calibration
    kelvins temperature_half_width;  ///< how far it may have moved from step to step
    step zero;
    step reference;
    std::optional<step> negative;               ///< third step on the other side of the zero step
    double nominal_gain = 0.0;                  ///< V/code, from resistors and converter
    correction result;                          ///< through zero and reference step
    std::optional<correction> negative_result;  ///< through zero and negative step, for codes below the zero step's
    std::optional<plain_correction> before;
    std::optional<use_conditions> in_use;
    compact_uncertainty compact;
    acceptance limit;
    std::vector<check_point> checks;
    std::vector<finding> findings;
    std::optional<duration> longest_time{};  ///< for which slow noise is counted, where a capture shows it
    std::optional<voltage> largest_hum{};    ///< amplitude at the connector, for captures too short to show hum
    std::optional<slow_disturbance> slow{};  ///< stated for the place
    std::optional<validation> by_trials{};   ///< none: first order was not compared with Monte Carlo
    std::vector<repeated_capture> turns{};   ///< zero and reference step in turn, zero first; empty: one capture each
    std::optional<line_of_points> points{};  ///< then result, and negative_result where there is one, are of this line
    std::vector<seen_crosstalk> crosstalk{};
    std::optional<seen_warm_up> warm_up{};
    std::vector<seen_at_supply> supplies{};  ///< then in_use has what they show
    std::optional<seen_at_two_temperatures> temperatures{};
    friend bool operator==(const range_calibration&, const range_calibration&) = default;
};

}  // namespace plumbline::inline v0::calibration
