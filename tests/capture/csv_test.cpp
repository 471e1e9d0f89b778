#include <plumbline/capture/csv.hpp>

#include <plumbline/error.hpp>

#include <doctest/doctest.h>

#include "scratch_file.hpp"

#include <unistd.h>

#include <filesystem>
#include <string>
#include <vector>

namespace csv_test {

using namespace plumbline;
using capture::parse_csv;
using capture::read_bytes;
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
    CHECK(refusal("A,,B\n1,2,3\n", "A") ==
          "a.csv, line 1: found an empty cell in the header line, expected a name for each column; name the column or remove it");
    CHECK(refusal("A,2\n1,2\n", "A") ==
          "a.csv, line 1: found \"2\" in the header line, expected column names that begin with a letter; rename the column");
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
    CHECK(refusal("A;B\n1;2\n3;\n", "A") ==
          "a.csv, line 3: found an empty cell in \"3;\", expected a value in each cell; remove the line or export the capture "
          "again");
    CHECK(refusal("A;B\n1,2\n", "A") ==
          "a.csv, line 2: found 1 cell in \"1,2\", expected 2 as in the header line; use one separator throughout the file");
    CHECK(refusal("1\n2;3\n") ==
          "a.csv, line 2: found 2 cells in \"2;3\", expected 1 as in the lines before; export the capture again");
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

TEST_CASE("a code with a comma is refused where commas separate nothing: nobody can tell 12.0 from 12.04, or 2.047 from 2047") {
    const auto message = [](const std::string& cell) {
        return "found \"" + cell +
               "\" with a comma, expected a whole decimal number; export raw codes, without decimals and without thousands "
               "separators";
    };
    for (const std::string cell : {"12,0", "12,5", "-12,0", "+12,00", "2,047", "1.234,5", "1,234.5", ",5", "5,"}) {
        CAPTURE(cell);
        CHECK(refusal("A;B\n1;2\n1;" + cell + "\n", "B") == "a.csv, line 3: " + message(cell));
        CHECK(refusal("A\tB\n1\t2\n1\t" + cell + "\n", "B") == "a.csv, line 3: " + message(cell));
        CHECK(refusal("A,B\n1,2\n1,\"" + cell + "\"\n", "B") == "a.csv, line 3: " + message(cell));
        CHECK(refusal("1\n\"" + cell + "\"\n") == "a.csv, line 2: " + message(cell));
    }
    CHECK(refusal("A;B\n1;volt,s\n", "B") ==
          "a.csv, line 2: found \"volt,s\", expected a whole decimal number; export raw codes, not volts or text");
}

TEST_CASE("semicolons and tabs separate as commas do, and leave decimal commas to the columns that are not read") {
    CHECK(parse_csv("A;B\n1;2\n3;4\n", "a.csv", "B").codes == samples{2, 4});
    CHECK(parse_csv("A\tB\r\n1\t2\r\n3\t4\r\n", "a.csv", "A").codes == samples{1, 3});
    CHECK(parse_csv("# sample rate: 10 kHz;;\ntime; A ;note\n0,0;1;x\n0,1; 2;a, b\n", "a.csv", "A").codes == samples{1, 2});
    CHECK(parse_csv("# sample rate: 10 kHz;;\nA\n1\n", "a.csv").sample_rate == 10000.0 * hertz);
    CHECK(refusal("A;B\n1;2\n", "C") ==
          "a.csv, line 1: found columns \"A\", \"B\", expected a column \"C\"; name one of those columns");
    CHECK(
        refusal("1;2\n") ==
        "a.csv, line 1: found 2 cells in \"1;2\" and no header line, expected one code a line, or comma-separated columns under "
        "a header line; add a header line with the column names");
}

TEST_CASE("two kinds of separator in the line that decides are refused") {
    const std::string tail =
        ", expected one kind of separator; export with one kind, without decimal commas, and with names that contain another in "
        "quotation marks";
    CHECK(refusal("time, s;A\n0,1;2\n", "A") == "a.csv, line 1: found commas and semicolons in \"time, s;A\"" + tail);
    CHECK(refusal("1\n12,5;13,5\n") == "a.csv, line 2: found commas and semicolons in \"12,5;13,5\"" + tail);
    CHECK(refusal("A\tB;C\n", "A") == "a.csv, line 1: found semicolons and tabs in \"A\\tB;C\"" + tail);
    CHECK(refusal("A,B;C\tD\n", "A") == "a.csv, line 1: found commas, semicolons and tabs in \"A,B;C\\tD\"" + tail);
    CHECK(parse_csv("\"time, s\";A\n0,1;2\n", "a.csv", "A").codes == samples{2});
}

TEST_CASE("cells may stand in quotation marks") {
    CHECK(parse_csv("\"A\",\"B\"\n\"1\",\"2\"\n3, \"-4\" \n", "a.csv", "B").codes == samples{2, -4});
    CHECK(parse_csv("\"U \"\"in\"\", V\";code\n\"0,1; later\";+7\n", "a.csv", "code").codes == samples{7});
    CHECK(parse_csv("\"U \"\"in\"\", V\",code\n1,2\n", "a.csv", "U \"in\", V").codes == samples{1});
    CHECK(parse_csv("\"A\"\t\"B\"\n\" 1 \"\t\"x\ty\"\n", "a.csv", "A").codes == samples{1});
    CHECK(parse_csv("\"1\"\n\"2\"\n3\n", "a.csv").codes == samples{1, 2, 3});
    CHECK(parse_csv("\"# sample rate: 10 kHz\",\"\"\nA,B\n1,2\n", "a.csv", "A").sample_rate == 10000.0 * hertz);
    CHECK(parse_csv("\"# at rest, \"\"A\"\" open\",\n1,\n", "a.csv").codes == samples{1});
    CHECK(refusal("A,B\n1,\"\"\n", "A") ==
          "a.csv, line 2: found an empty cell in \"1,\\\"\\\"\", expected a value in each cell; remove the line or export the "
          "capture again");
}

TEST_CASE("quotation marks that are not around a whole cell are refused") {
    const std::string within = ", expected quotation marks around whole cells; export without quotation marks";
    const std::string open =
        ", expected both quotation marks on one line; export without line breaks within cells, or without quotation marks";
    CHECK(refusal("1\n2\"\n") == "a.csv, line 2: found a quotation mark within a cell of \"2\\\"\"" + within);
    CHECK(refusal("1\n\"2\" 3\n") == "a.csv, line 2: found a quotation mark within a cell of \"\\\"2\\\" 3\"" + within);
    CHECK(refusal("A,B\n1,x\"y\"\n", "A") == "a.csv, line 2: found a quotation mark within a cell of \"1,x\\\"y\\\"\"" + within);
    CHECK(refusal("1\n\"2\n3\"\n") == "a.csv, line 2: found a quotation mark that is not closed in \"\\\"2\"" + open);
    CHECK(refusal("A,\"B\nC\"\n1,2\n", "A") == "a.csv, line 1: found a quotation mark that is not closed in \"A,\\\"B\"" + open);
    CHECK(refusal("1\n\"\"\"\n") == "a.csv, line 2: found a quotation mark that is not closed in \"\\\"\\\"\\\"\"" + open);
}

TEST_CASE("empty cells at the end of a line and rows of separators alone change nothing") {
    CHECK(parse_csv("A,B,\n1,2,\n3,4,\n", "a.csv", "B").codes == samples{2, 4});
    CHECK(parse_csv("A;B\n1;2;;\n;\n3;4\n;;;\n", "a.csv", "B").codes == samples{2, 4});
    CHECK(parse_csv("A,B, ,\n1,2\n", "a.csv", "B").codes == samples{2});
    CHECK(parse_csv("1;\n2;\n", "a.csv").codes == samples{1, 2});
    CHECK(parse_csv("1\t\n2\n", "a.csv").codes == samples{1, 2});
    CHECK(refusal("A,\n1,2\n", "A") ==
          "a.csv, line 2: found 2 cells in \"1,2\", expected 1 as in the header line; if these are decimal commas, export raw "
          "codes");
}

TEST_CASE("line ends CR are read where no others are, and refused where they are mixed") {
    CHECK(parse_csv("1\r2\r3\r", "a.csv").codes == samples{1, 2, 3});
    CHECK(parse_csv("# sample rate: 10 kHz\rA;B\r1;2\r\r3;4", "a.csv", "B").codes == samples{2, 4});
    CHECK(refusal("1\r2\rx\r") ==
          "a.csv, line 3: found \"x\", expected a whole decimal number; export raw codes, not volts or text");
    const std::string tail = ", expected line ends of one kind: LF, CRLF or CR; export the capture again";
    CHECK(refusal("1\n2\r3\n") == "a.csv, line 2: found a carriage return within \"2\\r3\"" + tail);
    CHECK(refusal("1\r\r\n2\r\r\n") == "a.csv, line 1: found a carriage return within \"1\\r\"" + tail);
    CHECK(refusal("1\n\r2\n") == "a.csv, line 2: found a carriage return within \"\\r2\"" + tail);
    // Else the comment would take a sample with it.
    CHECK(refusal("# input shorted\r1\n2\n") == "a.csv, line 1: found a carriage return within \"# input shorted\\r1\"" + tail);
}

TEST_CASE("UTF-16 with its byte order mark is read") {
    const auto utf16 = [](std::u16string_view text, bool little_endian) {
        std::string bytes = little_endian ? "\xff\xfe" : "\xfe\xff";
        for (const char16_t unit : text) {
            const char low = static_cast<char>(unit & 0xffU);
            const char high = static_cast<char>(unit >> 8U);
            bytes += little_endian ? low : high;
            bytes += little_endian ? high : low;
        }
        return bytes;
    };
    for (const bool little_endian : {true, false}) {
        CAPTURE(little_endian);
        CHECK(parse_csv(utf16(u"# sample rate: 10 kHz\r\nA\tB\r\n1\t2\r\n3\t4\r\n", little_endian), "a.csv", "B").codes ==
              samples{2, 4});
        // two, three and four bytes of UTF-8
        CHECK(parse_csv(utf16(u"\u00b5A;\u2126;\U0001f50b\n1;2;3\n", little_endian), "a.csv",
                        "\xc2\xb5"
                        "A")
                  .codes == samples{1});
        CHECK(parse_csv(utf16(u"\u00b5A;\u2126;\U0001f50b\n1;2;3\n", little_endian), "a.csv", "\xe2\x84\xa6").codes ==
              samples{2});
        CHECK(parse_csv(utf16(u"\u00b5A;\u2126;\U0001f50b\n1;2;3\n", little_endian), "a.csv", "\xf0\x9f\x94\x8b").codes ==
              samples{3});
        CHECK(
            refusal(utf16(u"", little_endian)) ==
            "a.csv: found no codes, expected one code a line, or comma-separated columns under a header line; export the capture "
            "again");
        CHECK(refusal(utf16(u"1\nx\n", little_endian)) ==
              "a.csv, line 2: found \"x\", expected a whole decimal number; export raw codes, not volts or text");
        CHECK(refusal(utf16(u"1\n2\n", little_endian) + "3") ==
              "a.csv: found UTF-16 text with an odd number of bytes, expected two bytes for each unit; the file is cut off or "
              "damaged: export the capture again");
        for (const std::u16string broken : {u"1\n\xd800", u"1\n\xd800 ", u"1\n\xdc00\xd800 "}) {
            CHECK(refusal(utf16(broken, little_endian)) ==
                  "a.csv: found half of a surrogate pair in UTF-16 text, expected both halves; the file is damaged: export the "
                  "capture again, as UTF-8");
        }
        CHECK(
            refusal(utf16(std::u16string(u"1\n2\0\n", 5), little_endian)) ==
            "a.csv, line 2: found a NUL byte, expected text; export as ASCII or UTF-8 text, not as binary or as UTF-16 without a "
            "byte order mark");
    }
}

TEST_CASE("other encodings and binary data are named") {
    const std::string nul =
        ": found a NUL byte, expected text; export as ASCII or UTF-8 text, not as binary or as UTF-16 without a byte order mark";
    CHECK(refusal("1\n2\n3\0\n"s) == "a.csv, line 3" + nul);
    CHECK(refusal("# comment\0\n1\n"s) == "a.csv, line 1" + nul);
    CHECK(refusal("1\0\n\0002\0"s) == "a.csv, line 1" + nul);
    CHECK(refusal("1\r2\0\r"s) == "a.csv, line 2" + nul);
    for (const std::string& mark : {"\xff\xfe\0\0"s, "\0\0\xfe\xff"s}) {
        CHECK(refusal(mark + "1\0\0\0"s) == "a.csv: found UTF-32 text, expected ASCII, UTF-8 or UTF-16; export as UTF-8");
    }
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
    CHECK(refusal("1\n\x1b[2J\x07\x7f\xc2\x9b\\\n") == "a.csv, line 2: found \"\\x1b[2J\\x07\\x7f\\xc2\\x9b\\\\\"" + tail);
    CHECK(refusal("1\n\"\"\"\x1b[2J\"\n") == "a.csv, line 2: found \"\\\"\\x1b[2J\"" + tail);
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

TEST_CASE("a file is read once and as a whole, or refused") {
    const std::string bytes = "# sample rate: 10 kHz\r\n1\0\n"s;
    CHECK(read_bytes(scratch_file(bytes).path()) == bytes);
    CHECK(read_bytes(scratch_file("").path()).empty());
    // Files whose size is no guide: one that has more bytes than its size says, as a capture that still runs ...
    CHECK_THROWS_WITH_AS(
        static_cast<void>(read_csv("/proc/self/status")),
        "/proc/self/status: found a file that grows or shrinks while it is read, expected a finished capture; end the "
        "capture first",
        bad_input);
    // ... and one whose reading fails for every user: there is nothing at address 0 of this process.
    CHECK_THROWS_WITH_AS(
        static_cast<void>(read_csv("/proc/self/mem")),
        "/proc/self/mem: found a file that cannot be read, expected a readable file; check its permissions and its disk",
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

TEST_CASE("a million lines are read whole") {
    std::string text = "# sample rate: 10 kHz\nA,B\n";
    for (int i = 0; i < 1000000; ++i) {
        text += std::to_string(i % 4096) + ",-" + std::to_string(i % 2048) + "\n";
    }
    const capture::run r = parse_csv(text, "a.csv", "B");
    REQUIRE(r.codes.size() == 1000000);
    CHECK(r.codes.back() == -(999999 % 2048));
}

}  // namespace csv_test
