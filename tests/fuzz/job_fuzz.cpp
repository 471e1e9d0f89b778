// Jobs from JSON. Property: what is accepted says the same when its JSON is written in another way, and an audit of it gives a report or a
// refusal; what is refused is refused as bad_input, by file and a line or place that the file has.

#include "../session/fixture.hpp"
#include "json_property.hpp"

#include <cstdint>
#include <plumbline/audit/audit.hpp>
#include <plumbline/audit/job_file.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>

namespace job_fuzz {

namespace {

using plumbline::audit::job_from_json;
using plumbline::record::record;

/// Where jobs find records: SHED-1.json of an instrument and PROBE-1.json of a probe on it.
struct bench {
    fixture::on_disk here;
    record instrument;
    std::string file;

    bench() {
        instrument = plumbline::session::run(plumbline::session::read_session(here.file));
        here.folder.add("SHED-1.json", plumbline::record::to_json(instrument));
        fixture::add_probe_captures(here.folder);
        const auto session = here.folder.add("p.json", fixture::probe_session().dump());
        here.folder.add("PROBE-1.json",
                        plumbline::record::to_json(plumbline::session::run(plumbline::session::read_session(session))));
        file = (here.folder.path() / "j.json").string();
    }
};

void expect_sound_audit(const record& instrument, const plumbline::audit::job& j) {
    try {
        const plumbline::audit::report r = plumbline::audit::audit(instrument, j);
        fuzz::expect(!r.lines.empty(), "an audit has lines", j.name);
        const std::string said = plumbline::audit::to_json(r);
        fuzz::expect(nlohmann::json::accept(said), "a report for programs is JSON", said);
        fuzz::expect(!plumbline::audit::text(r).empty(), "a report for people says something", j.name);
    } catch (const plumbline::bad_input& refused) {
        fuzz::expect_refusal(refused.what(), "", fuzz::longest_json_refusal);
    }
}

}  // namespace

void check(std::string_view text) {
    static const bench b;
    plumbline::audit::job first;
    try {
        first = job_from_json(text, b.file);
    } catch (const plumbline::bad_input& refused) {
        fuzz::expect_json_refusal(refused.what(), b.file, text);
        return;
    }
    const std::string other_way = nlohmann::json::parse(text).dump();  // keys sorted, no spaces
    fuzz::expect(job_from_json(other_way, b.file) == first, "a job says the same in another order and spacing", other_way);
    expect_sound_audit(b.instrument, first);
}

}  // namespace job_fuzz
