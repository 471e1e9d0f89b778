#pragma once
// A session file: who calibrated what, with which references, and where the captures are. Running it gives the record.

#include <plumbline/calibration/applied.hpp>
#include <plumbline/calibration/probe_calibration.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/export.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/units/quantities.hpp>

#include <optional>
#include <string>
#include <vector>

namespace plumbline::inline v0::session {

/// Version of the form of session files. Older ones are read, newer ones refused by name.
inline constexpr int schema_version = 1;

/// Where the codes of a step are.
struct capture_source {
    std::string file;    ///< below the session file's folder
    std::string column;  ///< "" where the file has one column
    std::optional<frequency>
        sample_rate;  ///< where neither the file nor the mode has the last word: all that are stated must agree
    capture::code_format format = capture::code_format::csv;  ///< without a column where it is not CSV
};

/// The capture of a range that is calibrated already and read the same voltage at the same time.
struct transfer {
    std::string channel;
    std::string range;
    capture_source capture;
};

struct step {
    calibration::applied source;
    capture_source capture;
    std::optional<session::transfer> by_range;
};

/// Two references at one voltage.
struct comparison {
    std::string name;
    calibration::applied first;
    calibration::applied second;
};

struct check {
    std::string name;  ///< unique in its range, such as "-4 V"
    bool as_found = false;
    session::step step;
};

/// Zero and reference step repeated in turn, each connected anew: 0-R-0-R-0. The steps' own captures are the first two.
struct repetitions {
    duration reference_at;  ///< from the zero step's capture to the reference step's
    struct one {
        duration at;  ///< since the zero step's capture
        capture_source capture;
    };
    std::vector<one> captures;  ///< 3 or more, zero step first
};

/// A further voltage for the line.
struct point {
    std::string name;  ///< unique in its range
    session::step step;
};

/// The range, shorted, with another channel at one voltage and at another.
struct crosstalk {
    std::string channel;  ///< the other
    std::string range;
    struct end {
        voltage there;
        capture_source capture;
    };
    end low;
    end high;
};

/// One constant input from switching on. Of `limits` only what the session states.
struct warm_up {
    std::vector<repetitions::one> curve;
    calibration::seen_warm_up limits;
};

/// Zero and reference step once more, at another supply.
struct at_supply {
    std::string name;
    capture_source zero;
    capture_source reference;
};

/// A signal of known frequency. Of `known` only what the session states.
struct clock {
    capture_source capture;
    calibration::clock_calibration known;
};

struct range {
    calibration::range_setup setup;
    session::step zero;
    session::step reference;
    std::optional<session::step> negative;
    std::vector<check> checks;
    std::optional<repetitions> turns{};  ///< not with a negative step
    std::vector<point> points{};
    std::vector<session::crosstalk> crosstalk{};
    std::optional<session::warm_up> warm_up{};
    std::vector<at_supply> supplies{};  ///< what they show takes the place of in_use's figures
    std::string earlier{};              ///< file of an earlier record, at another temperature; "" for none
};

/// A probe's captures, and the input that they were made on.
struct probe_work {
    front_end::probe described;  ///< by its data sheet
    std::string record;          ///< file of the instrument's record, from the session file's folder
    std::string channel;
    std::string range;
    calibration::wave fed;
    capture_source capture;  ///< through the probe, fast enough to show how it settles
    struct ratio_work {
        calibration::wave fed;
        capture_source direct;
        capture_source divided;
        per_kelvin temperature_coefficient;
    };
    std::optional<ratio_work> ratio;
};

struct session {
    std::string file;       ///< as messages show it
    std::string folder;     ///< where the session file is
    record::record header;  ///< device, people, dates, conditions, references; no results
    std::vector<comparison> comparisons;
    std::vector<range> ranges;          ///< a range that another is transferred from comes before it
    std::optional<probe_work> probe{};  ///< where the header's kind is probe: then neither comparisons nor ranges
    std::optional<plumbline::session::clock> clock{};
};

/// Reads a session file (JSON; the form is described in README.md).
/// @param file  its path, in the encoding of the system
/// @throws bad_input  as record::from_json; also a capture outside the folder of the session file, a range or check given twice, no range
[[nodiscard]] PLUMBLINE_EXPORT session read_session(const std::string& file);

/// Reads the captures, solves every range and judges its check points, or calibrates the probe. The same session and captures give the same record, bit for bit.
/// @throws bad_input  a capture cannot be read, or its sample rate is more than 0.1 % from that of the mode; the instrument's record of a
///                    probe cannot be read or lacks the range; as calibration::compensation_of and division_of
/// @throws bad_step   the steps of a range cannot carry a calibration
[[nodiscard]] PLUMBLINE_EXPORT record::record run(const session& s);

}  // namespace plumbline::inline v0::session
