#include <plumbline/capture/csv.hpp>

#include <plumbline/error.hpp>

#include <doctest/doctest.h>

#include "scratch_file.hpp"

#include <unistd.h>

#include <ctime>
#include <string>
#include <vector>

using namespace plumbline;
using capture::parse_csv;
using capture::read_csv;
using samples = std::vector<std::int32_t>;
using namespace std::string_literals;

namespace {

/// The message with which text is refused; "accepted" when it is not.
std::string refusal(std::string_view text, const std::string& column = "") {
    try {
        static_cast<void>(parse_csv(text, "a.csv", column));
    } catch (const bad_input& e) {
        return e.what();
    }
    return "accepted";
}

}  // namespace

TEST_CASE("one code a line is read in order") {
    CHECK(parse_csv("2047\n2048\n2046\n", "a.csv").codes == samples{2047, 2048, 2046});
    CHECK(parse_csv("-2147483648\n2147483647\n-0\n+5\n007\n", "a.csv").codes == samples{-2147483647 - 1, 2147483647, 0, 5, 7});
}

TEST_CASE("comments, blank lines, CRLF, spaces, a byte order mark and a missing last line end change nothing") {
    const samples expected{1, 2, 3};
    CHECK(parse_csv("1\n2\n3", "a.csv").codes == expected);
    CHECK(parse_csv("1\r\n2\r\n3\r\n", "a.csv").codes == expected);
    CHECK(parse_csv("1\r\n2\r\n3\r", "a.csv").codes == expected);
    CHECK(parse_csv("\xef\xbb\xbf"
                    "1\n2\n3\n",
                    "a.csv")
              .codes == expected);
    CHECK(parse_csv("\n# input shorted; 1,5 V\tat rest\n1\n \t \n  2 \n#3\n3\n\n", "a.csv").codes == expected);
    CHECK(parse_csv("# nothing yet\ncode\n1\n2\n3\n", "a.csv").codes == expected);
}

TEST_CASE("a column is chosen by its name, and the other ones need not hold codes") {
    const std::string text = "# pocket scope (invented)\ntime,A, B\n0.0,1,-4\n1e-4,2,-5\n2e-4,3,-6\n";
    CHECK(parse_csv(text, "a.csv", "A").codes == samples{1, 2, 3});
    CHECK(parse_csv(text, "a.csv", "B").codes == samples{-4, -5, -6});
    CHECK(parse_csv("A\n7\n", "a.csv", "A").codes == samples{7});
    CHECK(parse_csv("A\n7\n", "a.csv").codes == samples{7});
}

TEST_CASE("the sample rate is read from its comment") {
    CHECK(parse_csv("# sample rate: 10000 Hz\n1\n", "a.csv").sample_rate == 10000.0 * hertz);
    CHECK(parse_csv("#Sample Rate:  12.5kHz \r\n1\r\n", "a.csv").sample_rate == 12500.0 * hertz);
    CHECK(parse_csv("1\n# sample rate: 2.5e5 Hz", "a.csv").sample_rate == 250000.0 * hertz);
    CHECK(!parse_csv("1\n", "a.csv").sample_rate);
    CHECK(!parse_csv("# sample rates of both channels are equal\n# rate: 5 Hz\n1\n", "a.csv").sample_rate);
}

TEST_CASE("a sample rate that is not a positive number with its unit is refused") {
    for (const std::string rate : {"ten Hz", "10000", "0 Hz", "-5 Hz", "nan Hz", "inf Hz", "1e999 Hz", "1e308 kHz", "10,000 Hz",
                                   "10 khz", "10 MHz", "10 Hz 5", "", "0x10 Hz"}) {
        CAPTURE(rate);
        const std::string comment = rate.empty() ? "sample rate:" : "sample rate: " + rate;
        CHECK(refusal("1\n# " + comment + "\n2\n") ==
              "a.csv, line 2: found \"" + comment +
                  "\", expected a positive number and Hz or kHz; write for example \"# sample rate: 10000 Hz\"");
    }
    CHECK(refusal("# sample rate = 10 kHz\n2\n") ==
          "a.csv, line 1: found \"sample rate = 10 kHz\", expected a positive number and Hz or kHz; "
          "write for example \"# sample rate: 10000 Hz\"");
    CHECK(refusal("# sample rate: 10 Hz\n2\n# sample rate: 10 Hz\n") ==
          "a.csv, line 3: found a second sample rate, expected one; keep the right one");
}

TEST_CASE("text without codes is refused") {
    CHECK(refusal("") ==
          "a.csv: found an empty file, expected one code a line, or comma-separated columns under a header line; export the "
          "capture again");
    for (const std::string text : {"\n", "\r\n\r\n", "# only a comment\n", "code\n", "\xef\xbb\xbf", "hello"}) {
        CAPTURE(text);
        CHECK(refusal(text) ==
              "a.csv: found no codes, expected one code a line, or comma-separated columns under a header line; export the "
              "capture again");
    }
}

TEST_CASE("what is no whole decimal number is refused with its line") {
    for (const std::string cell : {"12.5", "nan", "NaN", "inf", "Infinity", "0x1F", "1e3", "12 13", "+", "-", "+-5", "--5", "12#",
                                   "1'000", "12.", ".5", "5 V"}) {
        CAPTURE(cell);
        const std::string message =
            "found \"" + cell + "\", expected a whole decimal number; export raw codes, not volts or text";
        CHECK(refusal(cell + "\n") == "a.csv, line 1: " + message);
        CHECK(refusal("1\n\n2\n" + cell + "\n3\n") == "a.csv, line 4: " + message);
        CHECK(refusal("A,B\n1,2\n1," + cell + "\n", "B") == "a.csv, line 3: " + message);
    }
    CHECK(refusal("1\nover range\n") ==
          "a.csv, line 2: found \"over range\", expected a whole decimal number; export raw codes, not volts or text");
}

TEST_CASE("a number that no code can be is refused") {
    for (const std::string cell : {"2147483648", "-2147483649", "99999999999999999999999"}) {
        CHECK(refusal("1\n" + cell) ==
              "a.csv, line 2: found \"" + cell + "\", expected a code from -2147483648 to 2147483647; export raw codes");
    }
}

TEST_CASE("several columns need the name of one") {
    CHECK(refusal("A,B\n1,2\n") ==
          "a.csv, line 1: found columns \"A\", \"B\", expected one column, or the name of one of them; name the column to read");
    CHECK(refusal("A,B\n1,2\n", "C") ==
          "a.csv, line 1: found columns \"A\", \"B\", expected a column \"C\"; name one of those columns");
    CHECK(refusal("A,B\n1,2\n", "a") ==
          "a.csv, line 1: found columns \"A\", \"B\", expected a column \"a\"; name one of those columns");
    CHECK(refusal("1\n2\n", "A") ==
          "a.csv, line 1: found no header line, expected a header line with column \"A\"; add the header line or name no column");
    CHECK(refusal("a,b,c,d,e,f,g,h,i,j,k,l,m,n\n") ==
          "a.csv, line 1: found columns \"a\", \"b\", \"c\", \"d\", \"e\", \"f\", \"g\", \"h\", \"i\", \"j\", \"k\", \"l\" and 2 "
          "more, "
          "expected one column, or the name of one of them; name the column to read");
}

TEST_CASE("a header line that does not name each column once is refused") {
    CHECK(refusal("A,B,A\n1,2,3\n", "B") ==
          "a.csv, line 1: found column \"A\" twice, expected each column name once; rename one of them");
    CHECK(refusal("A,\n1,2\n", "A") ==
          "a.csv, line 1: found an empty cell in the header line, expected a name for each column; name the column or remove it");
    CHECK(refusal("A,2\n1,2\n", "A") ==
          "a.csv, line 1: found \"2\" in the header line, expected column names that begin with a letter; rename the column");
    CHECK(refusal("\"A\",\"B\"\n1,2\n", "A") ==
          "a.csv, line 1: found quoted cells \"\\\"A\\\",\\\"B\\\"\", expected plain cells; export without quotation marks");
}

TEST_CASE("rows that do not fit the header are refused") {
    CHECK(refusal("A,B\n1,2\n1\n", "A") ==
          "a.csv, line 3: found 1 cell in \"1\", expected 2 as in the header line; export the capture again");
    CHECK(refusal("A,B\n1,2,3\n", "A") ==
          "a.csv, line 2: found 3 cells in \"1,2,3\", expected 2 as in the header line; export the capture again");
    CHECK(refusal("1\n1,2,3\n") ==
          "a.csv, line 2: found 3 cells in \"1,2,3\", expected 1 as in the lines before; export the capture again");
    CHECK(refusal("A,B\n,2\n", "A") ==
          "a.csv, line 2: found an empty cell in \",2\", expected a value in each cell; remove the line or export the capture "
          "again");
    CHECK(refusal("A,B\n1, \n", "A") ==
          "a.csv, line 2: found an empty cell in \"1, \", expected a value in each cell; remove the line or export the capture "
          "again");
}

TEST_CASE("decimal commas are named") {
    CHECK(refusal("12,5\n13,5\n") ==
          "a.csv, line 1: found 2 cells in \"12,5\" and no header line, expected one code a line, or comma-separated columns "
          "under a header "
          "line; add a header line with the column names, or, if this is a decimal comma, export raw codes");
    CHECK(refusal("12\n13,5\n") ==
          "a.csv, line 2: found 2 cells in \"13,5\", expected 1 as in the lines before; if these are decimal commas, export raw "
          "codes");
    CHECK(refusal("A,B\n12,5,13,5\n", "A") ==
          "a.csv, line 2: found 4 cells in \"12,5,13,5\", expected 2 as in the header line; if these are decimal commas, export "
          "raw codes");
}

TEST_CASE("other separators are named") {
    CHECK(refusal("A;B\n1;2\n", "A") ==
          "a.csv, line 1: found semicolon-separated \"A;B\", expected one code a line, or comma-separated columns under a header "
          "line; "
          "export with commas");
    CHECK(refusal("1\n12,5;13,5\n") ==
          "a.csv, line 2: found semicolon-separated \"12,5;13,5\", expected one code a line, or comma-separated columns under a "
          "header "
          "line; export with commas");
    CHECK(
        refusal("A\tB\n1\t2\n", "A") ==
        "a.csv, line 1: found tab-separated \"A\\tB\", expected one code a line, or comma-separated columns under a header line; "
        "export with commas");
}

TEST_CASE("other encodings and binary data are named") {
    for (const std::string mark : {"\xff\xfe", "\xfe\xff"}) {
        CHECK(refusal(mark + "1\0\n\0"s) == "a.csv: found UTF-16 text, expected ASCII or UTF-8; export as UTF-8");
    }
    CHECK(refusal("1\n2\n3\0\n"s) ==
          "a.csv, line 3: found a NUL byte, expected text; export as ASCII or UTF-8 text, not as binary or UTF-16");
    CHECK(refusal("# comment\0\n1\n"s) ==
          "a.csv, line 1: found a NUL byte, expected text; export as ASCII or UTF-8 text, not as binary or UTF-16");
}

TEST_CASE("lines end at 4096 characters") {
    CHECK(parse_csv("#" + std::string(4095, 'x') + "\r\n5\n", "a.csv").codes == samples{5});
    CHECK(refusal("5\n#" + std::string(4096, 'x') + "\n") ==
          "a.csv, line 2: found a line of 4097 characters, expected at most 4096; write one sample of each channel a line");
}

TEST_CASE("messages quote at most 40 characters and no control characters") {
    const std::string tail = ", expected a whole decimal number; export raw codes, not volts or text";
    CHECK(refusal("1\n" + std::string(40, '9') + "x\n") == "a.csv, line 2: found \"" + std::string(40, '9') + "...\"" + tail);
    CHECK(refusal("1\n" + std::string(39, '9') + "x\n") == "a.csv, line 2: found \"" + std::string(39, '9') + "x\"" + tail);
    CHECK(refusal("1\n\x1b[2J\x07\x7f\xc2\x9b\\\"\n") == "a.csv, line 2: found \"\\x1b[2J\\x07\\x7f\\xc2\\x9b\\\\\\\"\"" + tail);
    CHECK(refusal("1\r2\r3\r") == "a.csv, line 1: found \"1\\r2\\r3\"" + tail);
}

TEST_CASE("a file reads as its text does") {
    const scratch_file file("# sample rate: 10 kHz\r\nA,B\r\n1,2\r\n3,4");
    const capture::run r = read_csv(file.path(), "B");
    CHECK(r.codes == samples{2, 4});
    CHECK(r.sample_rate == 10000.0 * hertz);
    CHECK_THROWS_WITH_AS(
        static_cast<void>(read_csv(scratch_file("").path())),
        doctest::Contains(".csv: found an empty file, expected one code a line, or comma-separated columns under a header "
                          "line; export the capture again"),
        bad_input);
}

TEST_CASE("what is no readable file is refused") {
    CHECK_THROWS_WITH_AS(static_cast<void>(read_csv("no-such-folder/a.csv")),
                         "no-such-folder/a.csv: found no such file, expected a file; check the name and the folder", bad_input);
    CHECK_THROWS_WITH_AS(static_cast<void>(read_csv("/")), "/: found a directory, expected a file; name a file inside it",
                         bad_input);
    CHECK_THROWS_WITH_AS(static_cast<void>(read_csv("/dev/null")),
                         "/dev/null: found a pipe or a device, expected a regular file; save its data to a file first",
                         bad_input);
}

TEST_CASE("a file without read permission is refused") {
    const scratch_file file("1\n");
    std::filesystem::permissions(file.path(), std::filesystem::perms::none);
    const bool root = geteuid() == 0;  // who may read everything
    if (root && seteuid(65534) != 0) {
        MESSAGE("not tested: root can read everything and cannot become another user here");
        return;
    }
    CHECK_THROWS_WITH_AS(static_cast<void>(read_csv(file.path())),
                         (file.path().string() + ": found a file that cannot be read, expected a readable file; "
                                                 "check its permissions and its disk")
                             .c_str(),
                         bad_input);
    if (root) {
        REQUIRE(seteuid(0) == 0);
    }
}

TEST_CASE("a file over 256 MiB is refused by its size") {
    const scratch_file file("1\n");
    std::filesystem::resize_file(file.path(), 268435456);  // takes no room: the rest is a hole, which reads as NUL bytes
    CHECK_THROWS_WITH_AS(static_cast<void>(read_csv(file.path())), doctest::Contains(", line 2: found a NUL byte"), bad_input);
    std::filesystem::resize_file(file.path(), 268435457);
    CHECK_THROWS_WITH_AS(static_cast<void>(read_csv(file.path())),
                         (file.path().string() + ": found 268435457 bytes, expected at most 268435456 (256 MiB); "
                                                 "take a shorter capture or split it")
                             .c_str(),
                         bad_input);
}

TEST_CASE("a million lines are read in under a second") {
    std::string text = "# sample rate: 10 kHz\nA,B\n";
    for (int i = 0; i < 1000000; ++i) {
        text += std::to_string(i % 4096) + ",-" + std::to_string(i % 2048) + "\n";
    }
    const std::clock_t start = std::clock();  // of this process: other work on the machine does not count
    const capture::run r = parse_csv(text, "a.csv", "B");
    const double seconds = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    REQUIRE(r.codes.size() == 1000000);
    CHECK(r.codes.back() == -(999999 % 2048));
    CHECK(seconds < 1.0);
}
