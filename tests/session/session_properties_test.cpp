#include <plumbline/session/session.hpp>

#include "../property_json.hpp"
#include "fixture.hpp"
#include "same_session.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <charconv>
#include <plumbline/record/json.hpp>
#include <string>
#include <vector>

namespace session_properties_test {

namespace {

using nlohmann::ordered_json;
using pointer = ordered_json::json_pointer;
using plumbline::record::from_json;
using plumbline::record::record;
using plumbline::record::to_json;
using plumbline::session::read_session;
using plumbline::session::session;
using property::holds;

bool coin() { return *rc::gen::arbitrary<bool>(); }

/// From low to high, in thousandths, with its unit.
std::string figure(int low, int high, const std::string& unit) {
    const std::string digits = std::to_string(*rc::gen::inRange(low, high + 1));
    return digits + "e-3 " + unit;
}

/// Words without '/', as names are.
std::string any_name() {
    std::string name = property::some_words();
    std::erase(name, '/');
    return name;
}

ordered_json any_resistor(const std::string& nominal) {
    return {{"nominal", nominal}, {"tolerance", figure(100, 1000, "%")}, {"temperature_coefficient", "1e-6 1/K"}};
}

std::string any_day(int month) {
    const int day = *rc::gen::inRange(10, 29);
    return "2025-" + std::to_string(month) + "-" + std::to_string(day);
}

/// The fixture's session with everything generated that its captures leave free, and a random choice of what may be left out.
ordered_json any_session() {
    ordered_json j = fixture::session();
    const auto put = [&](const char* at, ordered_json value) { j[pointer(at)] = std::move(value); };
    const auto may_put = [&](const char* at, const ordered_json& value) {
        if (coin()) put(at, value);
    };
    for (const char* at :
         {"/device/description", "/device/maker", "/device/model", "/device/serial", "/owner/name", "/owner/contact",
          "/calibrated_by/name", "/calibrated_by/contact", "/authorised_by", "/place", "/method/text",
          "/references/0/description", "/references/1/description", "/references/2/description"}) {
        put(at, property::some_words());
    }
    for (const char* at :
         {"/device/firmware", "/device/condition", "/method/deviations", "/method/not_covered", "/data_from_others", "/invented",
          "/references/0/maker", "/references/1/model", "/references/2/serial", "/references/2/traceability",
          "/ranges/0/mode/coupling", "/ranges/0/mode/supply", "/ranges/0/mode/sampling"}) {
        may_put(at, property::any_text());
    }
    put("/number", "S" + std::to_string(*rc::gen::inRange(0, 1000)));
    if (coin()) {
        put("/replaces", "R.1");
        put("/reason", property::some_words());
    }
    may_put("/dates/received", "2025-09-30");
    put("/dates/begun", any_day(10));
    put("/dates/ended", any_day(11));
    put("/dates/issued", any_day(12));
    put("/ambient/temperature", figure(-40'000, 60'000, "degC"));
    put("/ambient/temperature_half_width", figure(0, 5000, "K"));
    may_put("/ambient/humidity_percent", 0.5 * *rc::gen::inRange(0, 201));
    may_put("/ambient/warm_up_minutes", *rc::gen::inRange(0, 600));
    may_put("/references/0/valid_temperature", {{"low", figure(-40'000, 0, "degC")}, {"high", figure(0, 60'000, "degC")}});
    may_put("/references/0/valid_from", "2024-11-05");
    put("/references/0/output/limits", figure(1, 3, "V"));
    if (coin()) put("/references/1/output", {{"value", "10 V"}, {"U", figure(1, 10, "V")}, {"k", 0.5 * *rc::gen::inRange(2, 7)}});

    const std::string channel = any_name();
    put("/ranges/0/channel", channel);
    put("/ranges/0/range", any_name());
    put("/ranges/0/chain/top", any_resistor("1e5 ohm"));
    put("/ranges/0/chain/bottom", any_resistor("37.4 kohm"));
    put("/ranges/0/chain/adc/noise", figure(100, 3000, "code"));
    put("/ranges/0/chain/adc/integral_nonlinearity", figure(0, 3000, "code"));
    may_put("/ranges/0/chain/adc/nonlinearity_shape", *rc::gen::element<std::string>("stepped", "smooth"));
    may_put("/ranges/0/mode/oversampling", *rc::gen::inRange(1, 65));
    may_put("/ranges/0/temperature_half_width", figure(0, 3000, "K"));
    may_put("/ranges/0/longest_time", figure(1, 3000, "s"));
    may_put("/ranges/0/largest_hum", figure(0, 3000, "mV"));
    may_put("/ranges/0/slow_disturbance", {{"amplitude", figure(1, 3000, "mV")}, {"frequency", figure(1, 3000, "Hz")}});
    put("/ranges/0/accept/absolute", figure(0, 100, "V"));
    may_put("/ranges/0/before", {{"gain", figure(2, 3, "V/code")}, {"offset", figure(-100, 100, "V")}});
    may_put("/ranges/0/in_use", {{"years", 0.25 * *rc::gen::inRange(0, 20)},
                                 {"temperature_half_width", figure(0, 10'000, "K")},
                                 {"gain_per_year", figure(0, 100, "%")},
                                 {"offset_per_year", figure(0, 5, "V")},
                                 {"gain_by_supply", figure(0, 100, "%")},
                                 {"offset_by_supply", figure(0, 5, "V")}});
    may_put("/ranges/0/zero/applied/source", any_resistor("10 ohm"));
    if (coin())
        put("/ranges/0/zero/capture", {{"file", "captures/low.s16"}, {"format", *rc::gen::element<std::string>("s16", "u16")}});
    may_put("/ranges/0/zero/capture/sample_rate", "1000 Hz");
    may_put("/clock_tolerance", figure(1, 3000, "%"));
    put("/ranges/0/checks/0/name", any_name());
    put("/ranges/0/checks/0/applied/value", figure(8990, 9010, "V"));
    put("/ranges/0/checks/0/applied/U", figure(1, 5, "V"));
    if (j["ranges"][0].contains("before")) may_put("/ranges/0/checks/0/as_found", coin());
    if (coin()) j["ranges"][0].erase("checks");
    return j;
}

session read_from(const fixture::on_disk& d, const std::string& text) { return read_session(d.folder.add("s.json", text)); }

}  // namespace

TEST_CASE("a session says the same with its fields in any order, any spacing and other prefixes of units") {
    const fixture::on_disk d;
    CHECK(holds("read in other words", [&] {
        const ordered_json j = any_session();
        const session one = read_from(d, j.dump());
        const session other = read_from(d, property::any_dump(property::in_other_words(j)));
        RC_ASSERT(fixture::same(one, other));
    }));
}

TEST_CASE("whatever a session holds, its record reads back equal, says what the session says, and is the same for other words") {
    const fixture::on_disk d;
    CHECK(holds(
        "session, record, text, record",
        [&] {
            const ordered_json j = any_session();
            const session s = read_from(d, j.dump());
            const record made = plumbline::session::run(s);
            const std::string text = to_json(made);
            RC_ASSERT(from_json(text, "r.json") == made);
            RC_ASSERT(to_json(from_json(text, "r.json")) == text);

            record header = made;  // without what running it adds
            header.model = {};
            header.inputs = {};
            header.ranges = {};
            RC_ASSERT(header == s.header);
            RC_ASSERT(made.ranges.size() == s.ranges.size());
            RC_ASSERT(made.ranges[0].channel == s.ranges[0].setup.channel);
            RC_ASSERT(made.ranges[0].chain == s.ranges[0].setup.chain);
            RC_ASSERT(made.ranges[0].zero.source == s.ranges[0].zero.source);
            RC_ASSERT(made.ranges[0].zero.evidence.format == s.ranges[0].zero.capture.format);
            RC_ASSERT(made.ranges[0].checks.size() == s.ranges[0].checks.size());

            const session other = read_from(d, property::any_dump(property::in_other_words(j)));
            RC_ASSERT(to_json(plumbline::session::run(other)) == text);
        },
        20));
}

}  // namespace session_properties_test
