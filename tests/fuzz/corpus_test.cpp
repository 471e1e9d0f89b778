// The kept inputs of the fuzzers, also for compilers without libFuzzer. A property that does not hold ends the program; the last input that
// was named is the one.

#include <doctest/doctest.h>
#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

// Compiled here, beside other tests of the same headers: as programs of their own they took a minute.
#include "binary_fuzz.cpp"
#include "csv_fuzz.cpp"
#include "job_fuzz.cpp"
#include "record_fuzz.cpp"
#include "session_fuzz.cpp"

namespace corpus {
namespace {

void replay(const char* reader, void (*check)(std::string_view)) {
    const std::filesystem::path folder = std::filesystem::path(PLUMBLINE_SOURCE_DIR) / "tests/fuzz/corpus" / reader;
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    REQUIRE(files.size() >= 10);
    for (const std::filesystem::path& file : files) {
        std::printf("%s/%s\n", reader, file.filename().c_str());
        std::fflush(stdout);
        std::ifstream in(file, std::ios::binary);
        CHECK(in.good());
        const std::string input{std::istreambuf_iterator<char>(in), {}};
        check(input);
    }
}

}  // namespace

TEST_CASE("every kept input of the fuzzers keeps what its reader promises") {
    SUBCASE("captures from text") { replay("csv", csv_fuzz::check); }
    SUBCASE("captures of 16-bit samples, in pieces") { replay("binary", binary_fuzz::check); }
    SUBCASE("sessions") { replay("session", session_fuzz::check); }
    SUBCASE("records") { replay("record", record_fuzz::check); }
    SUBCASE("jobs") { replay("job", job_fuzz::check); }
}

}  // namespace corpus
