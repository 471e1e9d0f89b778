#pragma once
// What a certificate says of first order beside Monte Carlo.

#include <plumbline/calibration/range_calibration.hpp>
#include <plumbline/certificate/rounding.hpp>
#include <string>
#include <vector>

#include "sheet.hpp"

namespace plumbline::inline v0::certificate {

/// A result that is stated as value ± U, and its interval by trials.
struct compared_result {
    std::string name;
    voltage value;
    voltage U;
    calibration::interval_by_trials by_trials;
};

/// "9.976 V to 10.024 V", to the place of U.
[[nodiscard]] std::string interval_text(const compared_result& r, rounding how);

/// Whether first order is validated for these, and where it is not, the interval by trials and why.
/// @param what   "reading" or "error", as in `reading ± U`
/// @param those  the same of all: "readings at calibration"
[[nodiscard]] std::vector<block> compared_with_trials(const std::string& what, const std::string& those,
                                                      const std::vector<compared_result>& all, const calibration::validation& run,
                                                      double probability, rounding how);

/// Results of one kind: `those` as in "all 7 readings in use".
struct compared_group {
    std::string those;
    std::vector<compared_result> all;
};

/// The same of further results by as many trials, in a sentence that follows on the above; nothing where there are none.
[[nodiscard]] std::vector<block> likewise_compared(const std::vector<compared_group>& groups, rounding how);

}  // namespace plumbline::inline v0::certificate
