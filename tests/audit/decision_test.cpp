// The risks that an audit states, against a simulation of the whole decision: what comes is drawn, read, judged.

#include <doctest/doctest.h>

#include "jobs.hpp"

#include <simulation/random.hpp>

namespace audit_decision_test {

using namespace jobs;

namespace {

struct counted {
    double wrongly_accepted = 0.0;
    double wrongly_rejected = 0.0;
};

counted simulate(const audit::job& j, const audit::decision& d, int n) {
    plumbline::simulation::generator random(20250601);
    const auto& limits = *j.need.limits;
    counted c;
    for (int i = 0; i < n; ++i) {
        const pl::voltage value = j.expected->estimate + j.expected->u * random.normal();
        const pl::voltage reading = value + d.u * random.normal();
        const bool conforms = limits.contains(value);
        const bool accepted = d.accepted.contains(reading);
        if (accepted && !conforms) c.wrongly_accepted += 1.0 / n;
        if (!accepted && conforms) c.wrongly_rejected += 1.0 / n;
    }
    return c;
}

/// Within four standard deviations of a count of n.
bool agrees(double found, double expected, int n) {
    CAPTURE(found);
    CAPTURE(expected);
    return std::abs(found - expected) <= 4.0 * std::sqrt(expected * (1.0 - expected) / n);
}

}  // namespace

TEST_CASE("of a million values drawn, read and judged as many are wrongly accepted and rejected as the audit says") {
    constexpr int n = 1'000'000;
    audit::job j = easy();
    j.need.absolute = 0.0 * volt;
    struct situation {
        double lower, upper, estimate, u;
    };
    for (const situation& s : {situation{1.9, 2.1, 2.0, 0.05}, situation{1.96, 2.04, 2.02, 0.02}, situation{1.5, 2.1, 2.05, 0.04},
                               situation{1.95, pl::conformity::no_limit, 2.0, 0.05}}) {
        CAPTURE(s.estimate);
        CAPTURE(s.upper);
        j.need.limits = pl::conformity::interval<pl::voltage>{s.lower * volt, s.upper * volt};
        j.expected = pl::conformity::knowledge<pl::voltage>{s.estimate * volt, s.u * volt};
        const audit::report r = audit::audit(scope(), j);
        REQUIRE(r.decision.has_value());
        REQUIRE(r.decision->overall.has_value());
        const counted c = simulate(j, *r.decision, n);
        CHECK(agrees(c.wrongly_accepted, r.decision->overall->consumers, n));
        CHECK(agrees(c.wrongly_rejected, r.decision->overall->producers, n));
        CHECK(c.wrongly_rejected > 0.0);
    }
}

}  // namespace audit_decision_test
