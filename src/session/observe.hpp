#pragma once
// Captures of a session, read once for their codes and their digest.

#include <plumbline/calibration/applied.hpp>
#include <plumbline/capture/run.hpp>
#include <plumbline/capture/statistics.hpp>
#include <plumbline/front_end/chain.hpp>
#include <plumbline/session/session.hpp>
#include <string>

namespace plumbline::inline v0::session {

/// A capture's codes, and what vouches for them.
struct capture_read {
    capture::run run;
    calibration::capture_evidence evidence;
};

/// What a capture is: its evidence, its statistics and its codes.
struct observation {
    calibration::capture_evidence evidence;
    capture::statistics seen;
    capture::run run;
};

/// A capture in a mode. @throws bad_input  it cannot be read, or a sample rate that is stated is more than 0.1 % from the mode's
[[nodiscard]] observation observe(const capture_source& from, const front_end::mode& mode, const front_end::converter& adc,
                                  const std::string& folder);

/// A capture of no mode, whose sample rate stands in the file or in the session's entry for it. @throws bad_input  also where it does not
[[nodiscard]] capture_read observe(const capture_source& from, const std::string& folder);

}  // namespace plumbline::inline v0::session
