// Records from JSON. Property: what is accepted is written, reads back equal and is written as the same bytes again; what is refused is
// refused as bad_input, by file and a line or place that the text has.

#include "json_property.hpp"

#include <cstdint>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>

namespace record_fuzz {

void check(std::string_view text) {
    using plumbline::record::from_json;
    using plumbline::record::to_json;
    const std::string file = "r.json";
    plumbline::record::record first;
    try {
        first = from_json(text, file);
    } catch (const plumbline::bad_input& refused) {
        fuzz::expect_json_refusal(refused.what(), file, text);
        return;
    }
    const std::string written = to_json(first);
    const plumbline::record::record second = from_json(written, file);
    fuzz::expect(second == first, "a record reads back equal", written);
    fuzz::expect(to_json(second) == written, "a record is written as the same bytes again", written);
}

}  // namespace record_fuzz
