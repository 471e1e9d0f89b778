// Captures from text. Property: what is accepted reads back as the same codes and sample rate from every dialect it is written in; what is
// refused is refused as bad_input, by file and a line that the text has.

#include "property.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>
#include <optional>
#include <plumbline/capture/csv.hpp>
#include <plumbline/error.hpp>

namespace csv_fuzz {

namespace {

using plumbline::capture::run;

const std::string name = "c.csv";

/// 12 column names of 40 characters, each as "\xNN", and the words around them.
constexpr std::size_t longest_refusal = 12 * (4 * 40 + 10) + 400;

std::size_t lines_of(std::string_view text) {
    const auto ends = [&](char c) { return static_cast<std::size_t>(std::count(text.begin(), text.end(), c)); };
    return 1 + std::max(ends('\n'), ends('\r'));
}

std::optional<run> read(std::string_view text, const std::string& column) {
    try {
        return plumbline::capture::parse_csv(text, name, column);
    } catch (const plumbline::bad_input& refused) {
        const std::string said = refused.what();
        fuzz::expect_refusal(said, name, longest_refusal);
        fuzz::expect(!fuzz::steers(said), "a refusal shows on one line as it is", said);
        const std::size_t line = fuzz::line_named(said, name);
        fuzz::expect(line <= lines_of(text) && (line > 0 || said.starts_with(name + ": ")), "a refusal names a line of the text",
                     said);
        return {};
    }
}

/// A way to write a capture: what stands before the codes, around each of them, and at the end of each line.
struct dialect {
    std::string header;
    std::string before;
    std::string after;
    std::string line_end;
    std::string column;
    bool utf16 = false;
};

const std::array dialects{
    dialect{"", "", "", "\n", ""},
    dialect{"code", " ", "\t", "\r\n", "code"},
    dialect{"t,code,\"a,b\"", "0.5,", ",x", "\n", "code"},
    dialect{"\"a;\"\"b\";code", "\"x;y\";\"", "\";;", "\r", "code"},
    dialect{"code\tt", "", "\t1e-3", "\n", "code", true},
};

std::string written(const run& r, const dialect& how) {
    std::string text;
    if (r.sample_rate) {
        std::array<char, 32> rate{};
        const auto end = std::to_chars(rate.data(), rate.data() + rate.size(), r.sample_rate->value()).ptr;
        text += "# sample rate: " + std::string(rate.data(), end) + " Hz" + how.line_end;
    }
    if (!how.header.empty()) text += how.header + how.line_end;
    for (const std::int32_t code : r.codes) text += how.before + std::to_string(code) + how.after + how.line_end;
    if (!how.utf16) return text;
    std::string wide = "\xff\xfe";
    for (const char c : text) wide += {c, '\0'};
    return wide;
}

}  // namespace

void check(std::string_view text) {
    for (const char* column : {"", "A"}) {
        const std::optional<run> first = read(text, column);
        if (!first) continue;
        fuzz::expect(!first->codes.empty(), "a capture has at least one code", text);
        for (const dialect& how : dialects) {
            const std::string again = written(*first, how);
            const std::optional<run> second = read(again, how.column);
            fuzz::expect(second && second->codes == first->codes && second->sample_rate == first->sample_rate,
                         "codes and sample rate read back from every dialect", again);
        }
    }
}

}  // namespace csv_fuzz
