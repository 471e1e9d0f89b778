#include "json_reader.hpp"
#include "store_calls.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/record.hpp>

namespace plumbline::inline v0::record {

stored append_checks(const std::string& file, const record& r) {
    const std::filesystem::path path = file;
    const std::string before = read_json_text(file);
    const record was = from_json(before, file);
    record without_checks = r;
    without_checks.stored = was.stored;
    without_checks.intermediate = was.intermediate;
    if (without_checks != was) {
        throw not_written(file, fmt::format("found record {}, which differs in more than its checks", was.number),
                          fmt::format("record {} as it was when the check was made", r.number),
                          "append the check to the record that was read from this file");
    }
    const auto begins = [](const auto& before_it, const auto& now) {
        return before_it.size() <= now.size() && std::equal(before_it.begin(), before_it.end(), now.begin());
    };
    if (!begins(was.stored, r.stored) || !begins(was.intermediate, r.intermediate)) {
        throw not_written(
            file, fmt::format("found {} checks, some of which would be lost", was.stored.size() + was.intermediate.size()),
            "a record that begins with all of them", "read the record anew and append the check to that");
    }
    return replace(path.parent_path(), {path.filename().string(), to_json(r)}, before);
}

}  // namespace plumbline::inline v0::record
