// Sessions from JSON. Property: what is accepted says the same when its JSON is written in another way, and running it gives a record that
// reads back equal, or a refusal; what is refused is refused as bad_input, by file and a line or place that the file has.

#include "../session/fixture.hpp"
#include "../session/same_session.hpp"
#include "json_property.hpp"

#include <cstdint>
#include <filesystem>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>

namespace session_fuzz {

namespace {

using plumbline::session::session;

/// Where the sessions are read from: what fixture::session() and fixture::probe_session() name is there, and a capture of 5.5 V for a range
/// of three steps.
const scratch_folder& folder() {
    static const fixture::on_disk here;
    static const bool filled = [] {
        here.folder.add("captures/middle.csv", fixture::capture(1858));
        fixture::add_probe_captures(here.folder);
        here.folder.add("SHED-1.json",
                        plumbline::record::to_json(plumbline::session::run(plumbline::session::read_session(here.file))));
        return true;
    }();
    static_cast<void>(filled);
    return here.folder;
}

void expect_sound_run(const session& s) {
    std::string written;
    try {
        written = plumbline::record::to_json(plumbline::session::run(s));
    } catch (const plumbline::bad_input& refused) {
        fuzz::expect_refusal(refused.what(), "", fuzz::longest_json_refusal);
        return;
    } catch (const plumbline::bad_step& refused) {
        fuzz::expect_refusal(refused.what(), "", fuzz::longest_json_refusal);
        return;
    }
    const plumbline::record::record back = plumbline::record::from_json(written, "r.json");
    fuzz::expect(plumbline::record::to_json(back) == written, "a record is written as the same bytes again", written);
}

}  // namespace

void check(std::string_view text) {
    const std::filesystem::path file = folder().add("s.json", text);
    session first;
    try {
        first = plumbline::session::read_session(file);
    } catch (const plumbline::bad_input& refused) {
        fuzz::expect_json_refusal(refused.what(), file.string(), text);
        return;
    }
    const std::string other_way = nlohmann::json::parse(text).dump();  // keys sorted, no spaces
    const session second = plumbline::session::read_session(folder().add("s.json", other_way));
    fuzz::expect(fixture::same(first, second), "a session says the same in another order and spacing", other_way);
    expect_sound_run(first);
}

}  // namespace session_fuzz
