// Which room may include which: read from the #include lines of include/ and src/.

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <sstream>
#include <string>
#include <vector>

namespace arrows_test {

namespace {

namespace fs = std::filesystem;
using strings = std::vector<std::string>;

/// For each room the rooms it may include besides itself.
const std::map<std::string, strings>& arrows() {
    static const std::map<std::string, strings> all = [] {
        std::map<std::string, strings> may;
        strings left;  // a room may include what stands left of it
        for (const char* room : {"units", "uncertainty", "conformity", "capture", "front_end", "calibration", "record"}) {
            may[room] = left;
            left.emplace_back(room);
        }
        for (const char* view : {"certificate", "history", "image", "audit"}) may[view] = left;
        may["session"] = left;
        for (const char* view : {"certificate", "history", "image", "audit"}) may["session"].emplace_back(view);
        may["link"] = {"capture"};
        for (const char* room : {"calibration", "image", "link", "session"}) may[room].emplace_back("embedded");
        may["embedded"] = {};
        strings host;  // plumbline.hpp brings all of them, and none may include it
        for (const auto& [room, others] : may)
            if (room != "embedded") host.push_back(room);
        may["plumbline.hpp"] = host;
        return may;
    }();
    return all;
}

bool contains(const strings& all, const std::string& one) { return std::find(all.begin(), all.end(), one) != all.end(); }

bool starts_with_any(const std::string& text, const strings& beginnings) {
    return std::any_of(beginnings.begin(), beginnings.end(), [&](const std::string& b) { return text.starts_with(b); });
}

/// Room of a path below include/ or src/; "" for what is everybody's, such as plumbline/error.hpp; plumbline.hpp is one by itself; the path
/// if it has no room.
std::string room_of(const std::string& path) {
    std::smatch match;
    static const std::regex in_room("(?:include/plumbline|src|plumbline)/([^/]+)/.+");
    if (std::regex_match(path, match, in_room)) return match[1];
    static const std::regex by_itself(
        "src/error[.]cpp|(?:include/)?plumbline/(?:(?:error|export|version)[.]hpp(?:[.]in)?|(plumbline[.]hpp))");
    return std::regex_match(path, match, by_itself) ? match[1].str() : path;
}

/// Every #include of this text that its place forbids, as "path:line: what is wrong".
/// @param path  of the file, from the top folder, like src/record/json.cpp
strings offences(const std::string& path, const std::string& text) {
    static const std::regex include_line(R"(\s*#\s*include\s*([<"])([^>"]+)[>"].*)");
    static const strings heavy = {"nlohmann/", "fmt/", "boost/math/", "kainjow/", "sodium"};
    static const strings posix = {"unistd.h", "fcntl.h", "termios.h", "dirent.h", "poll.h", "pthread.h", "dlfcn.h", "sys/"};

    strings found;
    const std::string room = room_of(path);
    if (!room.empty() && !arrows().contains(room)) found.push_back(path + ": stands in no room of the design");

    std::istringstream lines(text);
    std::string line;
    std::smatch match;
    for (int number = 1; std::getline(lines, line); ++number) {
        if (!std::regex_match(line, match, include_line)) continue;
        const bool quoted = match[1] == "\"";
        const std::string name = match[2];
        const auto say = [&](const std::string& what) { found.push_back(path + ":" + std::to_string(number) + ": " + what); };

        if (path.starts_with("include/") && starts_with_any(name, heavy)) say("a public header includes " + name);
        if (!path.ends_with("_posix.cpp") && starts_with_any(name, posix)) say(name + " outside of a *_posix.cpp");
        if (room == "embedded" && !quoted && name != "stdint.h" && name != "stddef.h") say("embedded includes <" + name + ">");

        // A quoted name is looked for beside the file first, then from the include folders.
        const bool rooted = name.starts_with("plumbline/");
        if (!quoted && !rooted) continue;
        const std::string target = room_of(rooted ? name : (fs::path(path).parent_path() / name).lexically_normal().string());
        if (target == room || (target.empty() && room != "embedded")) continue;
        if (target.empty()) {
            say("embedded includes " + (rooted ? name : "plumbline/" + fs::path(name).filename().string()));
        } else if (!arrows().contains(target)) {
            say(name + " stands in no room of the design");
        } else if (room.empty()) {
            say(path.substr(path.find("plumbline/")) + " includes the room " + target);
        } else if (arrows().contains(room) && !contains(arrows().at(room), target)) {
            say(room + " must not include " + target);
        }
    }
    return found;
}

std::string text_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    REQUIRE_MESSAGE(in.good(), file.string());
    return {std::istreambuf_iterator<char>(in), {}};
}

std::string joined(const strings& lines) {
    std::string all;
    for (const std::string& line : lines) all += line + "\n";
    return all;
}

/// Offences of a made-up file.
std::string offence(const std::string& path, const std::string& text) { return joined(offences(path, text)); }

}  // namespace

TEST_CASE("no file of include and src includes what its room must not") {
    const fs::path top = PLUMBLINE_SOURCE_DIR;
    strings found;
    for (const char* folder : {"include", "src"}) {
        int files = 0;
        for (const auto& entry : fs::recursive_directory_iterator(top / folder)) {
            if (!entry.is_regular_file() || entry.path().extension() == ".md") continue;
            ++files;
            const strings more = offences(entry.path().lexically_relative(top).generic_string(), text_of(entry.path()));
            found.insert(found.end(), more.begin(), more.end());
        }
        CHECK_MESSAGE(files > 0, folder);
    }
    std::sort(found.begin(), found.end());
    CHECK(joined(found) == "");
}

TEST_CASE("the top folder holds only the names of the design") {
    const strings allowed = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "include", "src",
                             "tests",          "examples",  "cal_records",   "LICENSE", "CMakePresets.json"};
    strings found;
    for (const auto& entry : fs::directory_iterator(PLUMBLINE_SOURCE_DIR)) {
        const std::string name = entry.path().filename().string();
        const bool ignored_by_git = entry.is_directory() && name.starts_with("build");
        if (!contains(allowed, name) && !name.starts_with(".") && !ignored_by_git) found.push_back(name);
    }
    std::sort(found.begin(), found.end());
    CHECK(joined(found) == "");
}

TEST_CASE("an arrow to the left is allowed, to the right or between views it is an offence") {
    CHECK(offence("src/record/json.cpp", "#include <plumbline/units/quantities.hpp>\n#include <plumbline/record/record.hpp>\n") ==
          "");
    CHECK(offence("src/units/x.cpp", "\n#include <plumbline/record/record.hpp>\n") ==
          "src/units/x.cpp:2: units must not include record\n");
    CHECK(offence("include/plumbline/capture/x.hpp", "  #  include \"plumbline/front_end/chain.hpp\" // why\n") ==
          "include/plumbline/capture/x.hpp:1: capture must not include front_end\n");
    CHECK(offence("src/certificate/x.cpp", "#include <plumbline/record/record.hpp>\n#include <plumbline/history/drift.hpp>\n") ==
          "src/certificate/x.cpp:2: certificate must not include history\n");
    CHECK(offence("src/session/x.cpp", "#include <plumbline/certificate/text.hpp>\n#include <plumbline/embedded/image.hpp>\n") ==
          "");
    CHECK(offence("src/record/x.cpp", "#include <plumbline/session/session.hpp>\n") ==
          "src/record/x.cpp:1: record must not include session\n");
    CHECK(offence("src/link/x.cpp", "#include <plumbline/capture/csv.hpp>\n#include <plumbline/record/record.hpp>\n") ==
          "src/link/x.cpp:2: link must not include record\n");
    CHECK(offence("src/record/x.cpp", "#include <plumbline/embedded/image.hpp>\n") ==
          "src/record/x.cpp:1: record must not include embedded\n");
}

TEST_CASE("an arrow hidden in a relative path is found") {
    CHECK(offence("src/units/x.cpp", "#include \"beside.hpp\"\n") == "");
    CHECK(offence("src/units/x.cpp", "#include \"../record/canonical.hpp\"\n") ==
          "src/units/x.cpp:1: units must not include record\n");
    CHECK(offence("src/record/x.cpp", "#include \"../units/inner.hpp\"\n") == "");
}

TEST_CASE("a file or an include without a room is an offence") {
    CHECK(offence("include/plumbline/utils/x.hpp", "") == "include/plumbline/utils/x.hpp: stands in no room of the design\n");
    CHECK(offence("src/x.cpp", "") == "src/x.cpp: stands in no room of the design\n");
    CHECK(offence("src/units/x.cpp", "#include <plumbline/all.hpp>\n") ==
          "src/units/x.cpp:1: plumbline/all.hpp stands in no room of the design\n");
}

TEST_CASE("error.hpp serves every room but embedded, and includes none") {
    CHECK(offence("src/units/x.cpp", "#include <plumbline/error.hpp>\n") == "");
    CHECK(offence("include/plumbline/embedded/x.hpp", "#include \"../error.hpp\"\n") ==
          "include/plumbline/embedded/x.hpp:1: embedded includes plumbline/error.hpp\n");
    CHECK(offence("include/plumbline/error.hpp", "#include <string>\n#include <plumbline/units/quantities.hpp>\n") ==
          "include/plumbline/error.hpp:2: plumbline/error.hpp includes the room units\n");
}

TEST_CASE("the header of all rooms includes them, and no room includes it") {
    CHECK(offence("include/plumbline/plumbline.hpp",
                  "#include <plumbline/error.hpp>\n#include <plumbline/units/dual.hpp>\n#include <plumbline/version.hpp>\n") ==
          "");
    CHECK(offence("include/plumbline/plumbline.hpp", "#include <plumbline/embedded/image.hpp>\n") ==
          "include/plumbline/plumbline.hpp:1: plumbline.hpp must not include embedded\n");
    CHECK(offence("src/session/x.cpp", "#include <plumbline/plumbline.hpp>\n") ==
          "src/session/x.cpp:1: session must not include plumbline.hpp\n");
    CHECK(offence("include/plumbline/export.hpp", "#include <plumbline/units/dual.hpp>\n") ==
          "include/plumbline/export.hpp:1: plumbline/export.hpp includes the room units\n");
    CHECK(offence("include/plumbline/embedded/x.hpp", "#include \"../export.hpp\"\n") ==
          "include/plumbline/embedded/x.hpp:1: embedded includes plumbline/export.hpp\n");
}

TEST_CASE("embedded includes stdint.h, stddef.h and its own files, no more") {
    CHECK(offence("include/plumbline/embedded/x.hpp", "#include <stdint.h>\n#include <stddef.h>\n#include \"image.hpp\"\n") ==
          "");
    CHECK(offence("include/plumbline/embedded/x.hpp", "#include <cstdint>\n#include \"../units/quantities.hpp\"\n") ==
          "include/plumbline/embedded/x.hpp:1: embedded includes <cstdint>\n"
          "include/plumbline/embedded/x.hpp:2: embedded must not include units\n");
}

TEST_CASE("heavy headers stay out of include, and POSIX headers in files named so") {
    CHECK(offence("include/plumbline/record/x.hpp",
                  "#include <nlohmann/json_fwd.hpp>\n#include <fmt/core.h>\n#include <boost/math/constants/constants.hpp>\n") ==
          "include/plumbline/record/x.hpp:1: a public header includes nlohmann/json_fwd.hpp\n"
          "include/plumbline/record/x.hpp:2: a public header includes fmt/core.h\n"
          "include/plumbline/record/x.hpp:3: a public header includes boost/math/constants/constants.hpp\n");
    CHECK(offence("src/record/x.cpp", "#include <nlohmann/json.hpp>\n#include <fmt/format.h>\n") == "");
    CHECK(offence("src/record/x.cpp", "#include <unistd.h>\n#include <sys/stat.h>\n") ==
          "src/record/x.cpp:1: unistd.h outside of a *_posix.cpp\n"
          "src/record/x.cpp:2: sys/stat.h outside of a *_posix.cpp\n");
    CHECK(offence("src/record/write_posix.cpp", "#include <unistd.h>\n#include <sys/stat.h>\n") == "");
}

}  // namespace arrows_test
