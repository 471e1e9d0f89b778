#include <plumbline/capture/digest.hpp>

#include <plumbline/error.hpp>

#include <doctest/doctest.h>

#include "reference.hpp"
#include "scratch_file.hpp"

#include <string>
#include <vector>

using plumbline::capture::sha256_hex;
using plumbline::capture::sha256_of_file;

TEST_CASE("digests agree with the example values of FIPS 180-4") {
    const nlohmann::json entry = capture_reference("sha256-abc-empty");
    const auto messages = entry.at("inputs").at("messages").get<std::vector<std::string>>();
    const auto digests = entry.at("expected").at("digest").get<std::vector<std::string>>();
    REQUIRE(messages.size() == 2);
    for (std::size_t i = 0; i < messages.size(); ++i) {
        CAPTURE(messages[i]);
        CHECK(sha256_hex(messages[i]) == digests.at(i));
        CHECK(sha256_of_file(scratch_file(messages[i]).path()) == digests.at(i));
    }
}

TEST_CASE("the digest of a file does not depend on the pieces in which it is read") {
    for (const std::size_t size : {65535U, 65536U, 65537U, 200000U}) {
        CAPTURE(size);
        std::string bytes(size, '\0');
        for (std::size_t i = 0; i < size; ++i) {
            bytes[i] = static_cast<char>(i * 31 % 251);
        }
        CHECK(sha256_of_file(scratch_file(bytes).path()) == sha256_hex(bytes));
        bytes.back() = static_cast<char>(bytes.back() ^ 1);
        const std::string of_changed = sha256_hex(bytes);
        bytes.back() = static_cast<char>(bytes.back() ^ 1);
        CHECK(sha256_of_file(scratch_file(bytes).path()) != of_changed);
    }
}

TEST_CASE("a digest of what is no file is refused") {
    CHECK_THROWS_WITH_AS(static_cast<void>(sha256_of_file("no-such-folder/a.csv")),
                         "no-such-folder/a.csv: found no such file, expected a file; check the name and the folder",
                         plumbline::bad_input);
    CHECK_THROWS_WITH_AS(static_cast<void>(sha256_of_file("/")), "/: found a directory, expected a file; name a file inside it",
                         plumbline::bad_input);
    // A regular file whose reading fails for every user: there is nothing at address 0 of this process.
    CHECK_THROWS_WITH_AS(
        static_cast<void>(sha256_of_file("/proc/self/mem")),
        "/proc/self/mem: found a file that cannot be read, expected a readable file; check its permissions and its disk",
        plumbline::bad_input);
}
