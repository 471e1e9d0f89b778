#include <plumbline/embedded/words.h>
#include <plumbline/embedded/block.hpp>

#include <doctest/doctest.h>

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <string>
#include <vector>

namespace block_test {

namespace emb = plumbline::embedded;
using state = emb::block_header::state;

namespace {

struct outcome {
    state what;
    std::size_t taken;  ///< characters until then
    std::uint32_t size;
    bool operator==(const outcome&) const = default;
};

outcome parsed(const std::string& text, std::uint32_t most = 100000) {
    emb::block_header header(most);
    for (std::size_t i = 0; i < text.size(); ++i)
        if (const state now = header.take(text[i]); now != state::incomplete)
            return {now, i + 1, now == state::complete ? header.size() : 0};
    return {state::incomplete, text.size(), 0};
}

std::string written(std::uint32_t size) {
    char text[11];
    return {text, emb::put_block_header(text, size)};
}

}  // namespace

TEST_CASE("the front of a block is read to its last digit") {
    CHECK(parsed("#3380PLBI") == outcome{state::complete, 5, 380});
    CHECK(parsed("#10") == outcome{state::complete, 3, 0});
    CHECK(parsed("#41234") == outcome{state::complete, 6, 1234});
    CHECK(parsed("#9000000380") == outcome{state::complete, 11, 380});
    CHECK(parsed("#338") == outcome{state::incomplete, 4, 0});
}

TEST_CASE("what is no block of definite length is refused at the first wrong character") {
    CHECK(parsed("3380") == outcome{state::refused, 1, 0});
    CHECK(parsed("#0PLBI") == outcome{state::refused, 2, 0});
    CHECK(parsed("#x") == outcome{state::refused, 2, 0});
    CHECK(parsed("##") == outcome{state::refused, 2, 0});
    CHECK(parsed("#33x0") == outcome{state::refused, 4, 0});
    CHECK(parsed("#2-1") == outcome{state::refused, 3, 0});
}

TEST_CASE("a block larger than there is room for is refused before its bytes come") {
    CHECK(parsed("#3384", 384) == outcome{state::complete, 5, 384});
    CHECK(parsed("#3385", 384) == outcome{state::refused, 5, 0});
    CHECK(parsed("#9999999999", 384) == outcome{state::refused, 5, 0});
    CHECK(parsed("#9999999999", (1U << 28) - 1) == outcome{state::refused, 11, 0});
}

TEST_CASE("once refused or complete a header stays so") {
    emb::block_header refused(10);
    refused.take('x');
    CHECK(refused.take('#') == state::refused);
    emb::block_header complete(10);
    for (const char c : {'#', '1', '7'}) complete.take(c);
    CHECK(complete.take('9') == state::complete);
    CHECK(complete.size() == 7);
}

TEST_CASE("the front of a block is written as it is read") {
    CHECK(written(0) == "#10");
    CHECK(written(9) == "#19");
    CHECK(written(10) == "#210");
    CHECK(written(380) == "#3380");
    CHECK(written(999999999) == "#9999999999");
    for (std::uint32_t size = 0; size < 20000; ++size) REQUIRE(parsed(written(size)).size == size);
}

TEST_CASE("every word differs from the others, is in capitals and is one word") {
    std::vector<std::string> words = {PLUMBLINE_WORD_CLEAR_STATUS,   PLUMBLINE_WORD_EVENT_ENABLE,
                                      PLUMBLINE_WORD_EVENT_QUERY,    PLUMBLINE_WORD_EVENT_ENABLE_QUERY,
                                      PLUMBLINE_WORD_IDENTIFY_QUERY, PLUMBLINE_WORD_OPERATION_COMPLETE,
                                      PLUMBLINE_WORD_RESET,          PLUMBLINE_WORD_OPERATION_COMPLETE_QUERY,
                                      PLUMBLINE_WORD_SERVICE_ENABLE, PLUMBLINE_WORD_SERVICE_ENABLE_QUERY,
                                      PLUMBLINE_WORD_STATUS_QUERY,   PLUMBLINE_WORD_SELF_TEST_QUERY,
                                      PLUMBLINE_WORD_WAIT,           PLUMBLINE_WORD_ADJUSTMENT,
                                      PLUMBLINE_WORD_READ_QUERY,     PLUMBLINE_WORD_ADJUSTMENT_QUERY,
                                      PLUMBLINE_WORD_CODES_QUERY,    PLUMBLINE_WORD_WEAR_QUERY,
                                      PLUMBLINE_WORD_FAULT_QUERY};
    std::sort(words.begin(), words.end());
    CHECK(std::adjacent_find(words.begin(), words.end()) == words.end());
    for (const std::string& word : words)
        CHECK(
            std::all_of(word.begin(), word.end(), [](unsigned char c) { return std::isupper(c) != 0 || c == '*' || c == '?'; }));
}

}  // namespace block_test
