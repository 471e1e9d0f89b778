#pragma once
// A record with something in every member, and what the schema of records cannot say of it.

#include "schema_check.hpp"

#include "sample.hpp"

#include <doctest/doctest.h>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/schema.hpp>
#include <set>
#include <string>
#include <vector>

namespace schema_of_records {

inline nlohmann::json good() { return nlohmann::json::parse(plumbline::record::to_json(sample::record())); }

/// The same without lists of captures, which are like those of steps: this test takes the square of a record's size.
inline nlohmann::json short_of_captures() {
    nlohmann::json j = good();
    for (const char* key : {"turns", "crosstalk", "warm_up", "supplies"}) j["ranges"][0].erase(key);
    return j;
}

inline bool reads(const nlohmann::json& j) {
    try {
        static_cast<void>(plumbline::record::from_json(j.dump(), "r.json"));
        return true;
    } catch (const plumbline::bad_input&) {
        return false;
    }
}

inline schema_check::schema& schema() {
    static schema_check::schema made(plumbline::record::record_schema());
    return made;
}

/// Where the reader asks for more than a schema can: another part of the record has to agree.
inline const std::set<std::string> beyond_a_schema{
    "/correlations/*/first",
    "/correlations/*/second",
    "/comparisons/*/first/reference",
    "/comparisons/*/second/reference",
    "/comparisons/*/second/reading",                 // needed where the reference states nothing
    "/ranges/*/negative/applied/transfer/by/*/id",   // one of the inputs, in order
    "/ranges/*/negative/applied/transfer/seen/max",  // not below min
    "/inputs",                                       // correlations name them
    "/inputs/*/id",                                  // the same; each once
    "/inputs/*/half_width",                          // not below top_half_width
    "/inputs/*/top_half_width",
    "/ranges/*/accept/rule/times_U",          // four words need a guard band
    "/ranges/*/accept/rule/absolute",         // the same
    "/ranges/*/accept/rule/words",            // the same
    "/ranges/*/chain/adc/reference",          // that of the bias, where it comes from there
    "/ranges/*/chain/bias/supply",            // the same
    "/ranges/*/chain/bias/supply_tolerance",  // the same
    "/ranges/*/chain/bias/supply_temperature_coefficient",
    "/ranges/*/chain/bias/from_converter_reference",
    "/ranges/*/chain/low",
    "/ranges/*/chain/high",  // above the low end
    "/ranges/*/checks/*/applied/reference",
    "/ranges/*/negative/applied/reference",
    "/ranges/*/reference/applied/reference",
    "/ranges/*/zero/applied/reference",
    "/ranges/*/checks/*/seen/max",  // not below min
    "/ranges/*/negative/seen/max",
    "/ranges/*/reference/seen/max",
    "/ranges/*/zero/seen/max",
    "/ranges/*/turns/*/seen/max",
    "/ranges/*/points/steps/*/seen/max",
    "/ranges/*/crosstalk/*/low/seen/max",
    "/ranges/*/crosstalk/*/high/seen/max",
    "/ranges/*/warm_up/curve/*/seen/max",
    "/ranges/*/supplies/*/zero/seen/max",
    "/ranges/*/supplies/*/reference/seen/max",
    "/ranges/*/turns/*/at",  // after the one before
    "/ranges/*/points/steps",
    "/ranges/*/points/steps/*/applied/reference",
    "/ranges/*/points/weights",  // one for each step
    "/ranges/*/negative",        // the same
    "/ranges/*/negative_correction",
    "/reason",  // with "replaces" or not at all
    "/replaces",
    "/references",  // steps name them
    "/references/*/id",
    "/references/*/divider/from",
    "/references/*/output",  // a step without a value of its own needs it
    "/references/*/divider",
    "/references/*/part",
    "/references/*/meter",
};

/// Every value of the record replaced by others, one in so many of them: the schema accepts what the reader reads, and refuses what one
/// field shows.
inline void agrees_with_the_reader(std::size_t one_in) {
    const std::vector<nlohmann::json> others{
        nullptr, true, -1, 0, 1.5, "", "x", "infinite", "1 V", "-1 V", nlohmann::json::object(), nlohmann::json::array()};
    const schema_check::judgement all = schema_check::with_each_value_as(others, short_of_captures(), schema(), reads, one_in);
    CHECK(schema_check::lines(all.schema_alone) == "");
    CHECK(schema_check::beyond(beyond_a_schema, schema_check::places(all.reader_alone)) == "");
    const int looked_at_one_in = static_cast<int>(slow::build ? 2 * slow::one_in : one_in);
    CHECK(all.read > 200 / looked_at_one_in);
    CHECK(all.refused > 2000 / looked_at_one_in);
}

}  // namespace schema_of_records
