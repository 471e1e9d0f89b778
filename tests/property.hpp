#pragma once
// Properties of generated examples, by RapidCheck, the same examples each time.

#include <rapidcheck.h>
#include <algorithm>
#include <cstdlib>
#include <iostream>
#include <string>
#include <utility>

#include "slow_build.hpp"

namespace property {

/// RapidCheck takes its seed from the clock unless the environment has one, and looks there once, at the first check of the program. So a
/// seed is put there before main, for every rc::check of the program, and what fails once fails again. To look further, run the tests with
/// RC_PARAMS="seed=1 max_success=2000" or the like.
inline const bool seeded = ::setenv("RC_PARAMS", "seed=20250314", 0) == 0;

/// Whether a property holds for all examples that are generated; one that it does not hold for is printed. As rc::check, but silent where
/// all is well, and with another number of examples where one takes long.
/// @param percent  number of examples against those of RC_PARAMS, 100 unless it says so; thorough tests make all of them
template <class Testable>
[[nodiscard]] bool holds(const std::string& name, Testable&& testable, int percent = 100) {
    rc::detail::TestParams params = rc::detail::configuration().testParams;
    params.maxSuccess = slow::repetitions(params.maxSuccess * (slow::thorough() ? std::max(percent, 100) : percent) / 100);
    rc::detail::TestMetadata metadata;
    metadata.id = metadata.description = name;
    const rc::detail::TestResult result = rc::detail::checkTestable(std::forward<Testable>(testable), metadata, params);
    if (result.template is<rc::detail::SuccessResult>()) return true;
    std::cerr << name << ": ";
    rc::detail::printResultMessage(result, std::cerr);
    std::cerr << '\n';
    return false;
}

}  // namespace property
