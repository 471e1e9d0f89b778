#include <doctest/doctest.h>

#include "sample.hpp"
#include "scratch_folder.hpp"

#include <filesystem>
#include <plumbline/error.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/store.hpp>
#include <string>

namespace append_checks_test {

namespace {

using plumbline::record::append_checks;
using plumbline::record::record;
using plumbline::record::stored;

record checked(int times) {
    record r = sample::record();
    for (int i = 0; i < times; ++i)
        r.stored.push_back({"2025-03-2" + std::to_string(i), std::string(64, 'b'), i == 0, "check " + std::to_string(i)});
    return r;
}

std::string refusal(const std::filesystem::path& file, const record& r) {
    try {
        static_cast<void>(append_checks(file, r));
    } catch (const plumbline::not_written& refused) {
        return refused.what();
    }
    return "";
}

}  // namespace

TEST_CASE("checks are appended to a record's file one by one, and nothing else is left in its folder") {
    const scratch_folder folder;
    const auto file = folder.add("n.json", to_json(checked(0)));
    CHECK(append_checks(file, checked(0)) == stored::already_there);
    CHECK(append_checks(file, checked(1)) == stored::written);
    CHECK(append_checks(file, checked(1)) == stored::already_there);
    CHECK(append_checks(file, checked(2)) == stored::written);
    CHECK(contents_of(file) == to_json(checked(2)));
    CHECK(folder.listing() == "n.json");
    CHECK(sections_digest(plumbline::record::read_record(file)) == sections_digest(sample::record()));
}

TEST_CASE("a file in the folder that one is in needs no folder in its name") {
    const scratch_folder folder;
    folder.add("n.json", to_json(checked(0)));
    const auto before = std::filesystem::current_path();
    std::filesystem::current_path(folder.path());
    const stored done = append_checks("n.json", checked(1));
    std::filesystem::current_path(before);
    CHECK(done == stored::written);
    CHECK(contents_of(folder.path() / "n.json") == to_json(checked(1)));
}

TEST_CASE("a record that differs in more than its checks is not replaced") {
    const scratch_folder folder;
    const auto file = folder.add("n.json", to_json(checked(1)));
    record other = checked(2);
    other.ranges[0].result.gain *= 1.001;
    CHECK(refusal(file, other) == file.string() +
                                      ": found record PS2-0007-2025-03, which differs in more than its checks, expected record "
                                      "PS2-0007-2025-03 as it was when the "
                                      "check was made; append the check to the record that was read from this file");
    CHECK(contents_of(file) == to_json(checked(1)));
}

TEST_CASE("no check is taken off or altered") {
    const scratch_folder folder;
    const auto file = folder.add("n.json", to_json(checked(2)));
    const std::string said = file.string() +
                             ": found 2 checks, some of which would be lost, expected a record that begins with all of them; "
                             "read the record anew and append "
                             "the check to that";
    CHECK(refusal(file, checked(1)) == said);
    record altered = checked(3);
    altered.stored[0].same = false;
    CHECK(refusal(file, altered) == said);
    CHECK(contents_of(file) == to_json(checked(2)));
}

TEST_CASE("checks on site are appended beside those of what is stored, and none is lost") {
    const scratch_folder folder;
    record once = checked(1);
    once.intermediate = {sample::on_site()};
    const auto file = folder.add("n.json", to_json(checked(1)));
    CHECK(append_checks(file, once) == stored::written);
    record twice = once;
    twice.intermediate.push_back(sample::on_site());
    CHECK(append_checks(file, twice) == stored::written);
    CHECK(plumbline::record::read_record(file) == twice);
    CHECK(sections_digest(twice) == sections_digest(sample::record()));
    CHECK(refusal(file, once) == file.string() +
                                     ": found 3 checks, some of which would be lost, expected a record that begins with "
                                     "all of them; read the record anew and append the check to that");
    CHECK(contents_of(file) == to_json(twice));
}

TEST_CASE("a record without a file is not made by appending") {
    const scratch_folder folder;
    CHECK_THROWS_AS(static_cast<void>(append_checks(folder.path() / "n.json", checked(1))), plumbline::bad_input);
    CHECK(folder.listing() == "");
}

}  // namespace append_checks_test
