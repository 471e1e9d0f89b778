#pragma once
// The record of an instrument or a probe: whoever holds it and this library can reproduce every number on its certificate.

#include <optional>
#include <plumbline/calibration/applied.hpp>
#include <plumbline/calibration/comparison.hpp>
#include <plumbline/calibration/probe_calibration.hpp>
#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/calibration/sample_rate.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/input.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::record {

/// Version of the record's form. Older ones are read, newer ones refused by name.
inline constexpr int schema_version = 1;

/// Someone with a place: who calibrated, who owns.
struct party {
    std::string name;
    std::string contact;  ///< address, mail or telephone
    friend bool operator==(const party&, const party&) = default;
};

struct device {
    std::string description;
    std::string maker;
    std::string model;
    std::string serial;
    std::string firmware;
    std::string condition;  ///< "" where it does not matter
    friend bool operator==(const device&, const device&) = default;
};

/// Dates as YYYY-MM-DD, from the session file and never from the clock.
struct dates {
    std::string received;  ///< "" where it does not matter
    std::string begun;
    std::string ended;
    std::string issued;
    friend bool operator==(const dates&, const dates&) = default;
};

struct ambient {
    celsius temperature;
    kelvins temperature_half_width;          ///< how far it may have been from that during the calibration
    std::optional<double> humidity_percent;  ///< relative
    double warm_up_minutes = 0.0;
    friend bool operator==(const ambient&, const ambient&) = default;
};

struct method {
    std::string text;
    std::string deviations;   ///< anything added, changed or left out; "" prints as "none"
    std::string not_covered;  ///< time base, bandwidth, other ranges ...
    friend bool operator==(const method&, const method&) = default;
};

struct model_identity {
    std::string name;
    int version = 0;
    friend bool operator==(const model_identity&, const model_identity&) = default;
};

enum class kind { instrument, probe };

/// What was found when the adjustment stored in the instrument was read back. Added later, outside of what a digest covers (canonical.hpp).
struct stored_check {
    std::string date;          ///< YYYY-MM-DD
    std::string image_sha256;  ///< of the image that was read back, 64 hexadecimal digits
    bool same = false;         ///< byte for byte the image of this record
    std::string result;        ///< the same in words, with what differs
    friend bool operator==(const stored_check&, const stored_check&) = default;
};

/// One point of an intermediate check: a reading against what was applied. Each U with the record's coverage probability or, of what was
/// applied, with k = 2.
struct checked_point {
    calibration::capture_evidence evidence;
    voltage reading;
    voltage U;  ///< of the reading in use: age, temperature of the day
    voltage applied;
    voltage U_applied;
    double e_n = 0.0;  ///< |reading - applied| / sqrt(U^2 + U_applied^2): above 1 they disagree
    friend bool operator==(const checked_point&, const checked_point&) = default;
};

/// Whether the calibration still holds, looked at on site (ISO/IEC 17025:2017, 6.4.10). Added later, outside of what a digest covers.
struct intermediate_check {
    std::string date;      ///< YYYY-MM-DD
    std::string occasion;  ///< "after a fall"
    std::string channel;
    std::string range;
    celsius ambient;
    checked_point zero;
    checked_point reference;
    std::string result;  ///< the verdict in words
    friend bool operator==(const intermediate_check&, const intermediate_check&) = default;
};

struct record {
    kind what = kind::instrument;
    std::string number;    ///< unique; also the name of its files: letters, digits, '-', '_', '.'
    std::string replaces;  ///< number of the record this one amends, "" for a first one
    std::string reason;    ///< why it was amended, "" for a first one
    plumbline::record::device device;
    party owner;
    party calibrated_by;
    std::string authorised_by;
    std::string place;  ///< where the calibration was done
    plumbline::record::dates dates;
    plumbline::record::ambient ambient;
    plumbline::record::method method;
    std::string data_from_others;  ///< which figures came from the owner or others, "" prints as "none"
    std::string invented;          ///< a demonstration says here that its data is invented; "" for a real one
    std::vector<calibration::reference> references;
    model_identity model;
    double coverage_probability = uncertainty::default_coverage_probability;
    uncertainty::input_set inputs;
    std::vector<uncertainty::correlation> correlations;
    std::vector<calibration::comparison> comparisons;
    std::vector<calibration::range_calibration> ranges;
    std::vector<stored_check> stored{};              ///< oldest first
    std::vector<intermediate_check> intermediate{};  ///< oldest first
    std::optional<calibration::probe_calibration>
        probe{};  ///< of a probe, which has no model, inputs, comparisons, ranges or checks
    std::optional<calibration::clock_calibration> clock{};  ///< none: the sample rate was not calibrated
    std::optional<ratio> clock_tolerance{};  ///< limits of all sample rates by the clock's data sheet; none: not stated

    friend bool operator==(const record&, const record&) = default;
};

}  // namespace plumbline::inline v0::record
