#include <plumbline/capture/digest.hpp>

#include <doctest/doctest.h>

#include "reference.hpp"

#include <string>
#include <vector>

namespace digest_test {

using plumbline::capture::sha256_hex;

TEST_CASE("digests agree with the example values of FIPS 180-4") {
    const nlohmann::json entry = capture_reference("sha256-abc-empty");
    const auto messages = entry.at("inputs").at("messages").get<std::vector<std::string>>();
    const auto digests = entry.at("expected").at("digest").get<std::vector<std::string>>();
    REQUIRE(messages.size() == 2);
    for (std::size_t i = 0; i < messages.size(); ++i) {
        CAPTURE(messages[i]);
        CHECK(sha256_hex(messages[i]) == digests.at(i));
    }
}

TEST_CASE("the digest changes with every bit, whatever the length") {
    for (const std::size_t size : {1U, 55U, 56U, 64U, 65537U}) {  // 56 bytes: padding takes a second block (FIPS 180-4, 5.1.1)
        CAPTURE(size);
        std::string bytes(size, 'x');
        const std::string before = sha256_hex(bytes);
        for (const int bit : {0, 3, 7}) {
            bytes.back() = static_cast<char>('x' ^ (1 << bit));
            CHECK(sha256_hex(bytes) != before);
        }
        CHECK(sha256_hex(std::string(size + 1, 'x')) != before);
    }
}

}  // namespace digest_test
