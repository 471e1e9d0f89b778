#include "../reference/published.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <plumbline/session/session.hpp>
#include <string>

namespace guidelines_test {

using namespace plumbline;

TEST_CASE("the shipped session has points near both ends and of both polarities of each range, as EURAMET cg-15 asks") {
    const auto e = published::entry("guidelines", "euramet-cg-15");
    const std::string asked = e.at("expected").at("facts").at(1);
    REQUIRE(asked == "points near both ends and both polarities of DC ranges are included");
    const session::session s = session::read_session(PLUMBLINE_SOURCE_DIR "/examples/sessions/pocket-scope.json");
    REQUIRE(s.ranges.size() == 4);
    for (const session::range& r : s.ranges) {
        CAPTURE(r.setup.channel + ' ' + r.setup.range);
        voltage lowest;
        voltage highest;
        for (const session::check& c : r.checks) {
            REQUIRE(c.step.source.stated.has_value());
            lowest = std::min(lowest, c.step.source.stated->value);
            highest = std::max(highest, c.step.source.stated->value);
        }
        // near: in the outer thirds of what a point can be at
        CHECK(lowest <= r.setup.chain.low * (2.0 / 3.0));
        CHECK(highest >= r.setup.chain.high * (2.0 / 3.0));
    }
}

}  // namespace guidelines_test
