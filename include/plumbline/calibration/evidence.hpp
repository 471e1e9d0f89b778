#pragma once
// What was captured to calibrate a range, as the record keeps it: its steps, and what goes beyond one capture per step.

#include <plumbline/calibration/applied.hpp>
#include <plumbline/capture/statistics.hpp>
#include <plumbline/units/quantities.hpp>

namespace plumbline::inline v0::calibration {

/// One applied voltage and what the converter made of it.
struct step {
    applied source;
    capture_evidence evidence;
    capture::statistics seen;  ///< of a step repeated in turn: of all its captures together (repetitions.hpp)
    friend bool operator==(const step&, const step&) = default;
};

/// One capture of the zero or the reference step where both are repeated in turn, each connected anew.
struct repeated_capture {
    duration at;  ///< since the first of them
    capture_evidence evidence;
    capture::statistics seen;
    friend bool operator==(const repeated_capture&, const repeated_capture&) = default;
};

}  // namespace plumbline::inline v0::calibration
