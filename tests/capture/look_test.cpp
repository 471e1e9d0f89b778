// look as a program: what it prints of each kind of file, how it ends, what it leaves on a terminal.

#include "../program.hpp"
#include "scratch_file.hpp"
#include "signals.hpp"

#include <plumbline/capture/report.hpp>
#include <plumbline/capture/sine_fit.hpp>

#include <plumbline/capture/code_density.hpp>
#include <string>
#include <vector>

namespace look_test {

using namespace plumbline;
using capture::in_one_pass;

namespace {

program::outcome look(const std::string& arguments) { return program::run(PLUMBLINE_LOOK, arguments + " 2>&1"); }

std::string csv(const capture::run& run) {
    std::string text = "A,B\n";
    for (const std::int32_t c : run.codes) text += std::to_string(c) + ",0\n";
    return text;
}

std::string sixteen_bits(const capture::run& run) {
    std::string bytes;
    for (const std::int32_t c : run.codes) {
        bytes += static_cast<char>(c & 0xff);
        bytes += static_cast<char>((c >> 8) & 0xff);
    }
    return bytes;
}

std::string lines(const std::vector<std::string>& sentences) {
    std::string text;
    for (const std::string& one : sentences) text += "- " + one + "\n";
    return text;
}

std::string quoted(const scratch_file& file) { return "'" + file.path().string() + "'"; }

/// A sine that stays off the end codes of 8 bits, some 40 of its codes for each sample of its fastest.
capture::run sine(std::int32_t middle) {
    capture::run r{{}, 1000.0 * hertz};
    for (int i = 0; i < 30000; ++i) {
        r.codes.push_back(middle + static_cast<std::int32_t>(std::lround(120.0 * std::sin(2.0 * signals::pi * 0.0123457 * i))));
    }
    return r;
}

}  // namespace

TEST_CASE("look says of a CSV what the library says of it, from a file and from standard input") {
    const capture::run run = signals::sampled({.n = 500, .sine = 3.0, .periods_per_sample = 0.0125}, 3).run;
    const scratch_file file(csv(run));
    const std::string expected = lines(sentences(in_one_pass(run, 0, 4095)));
    const program::outcome by_name = look(quoted(file) + " --column A --sample-rate 10000");
    CHECK(by_name.code == 0);
    CHECK(by_name.out == expected);
    const program::outcome piped = look("- --column A --sample-rate 10000 <" + quoted(file));
    CHECK(piped.code == 0);
    CHECK(piped.out == expected);
    const program::outcome wanted = look(quoted(file) + " --column A --sample-rate 10000 --wanted-U 0.1");
    CHECK(wanted.code == 0);
    CHECK(wanted.out == expected + lines({for_wanted(in_one_pass(run, 0, 4095), 0.1 * code)}));
}

TEST_CASE("look reads 16 bits a sample, signed and unsigned, as codes of a converter of the stated bits") {
    const capture::run run = signals::sampled({.n = 300}, 3).run;
    const scratch_file plain(sixteen_bits(run));
    const capture::run no_rate{run.codes, {}};
    CHECK(look("--format u16 " + quoted(plain)).out == lines(sentences(in_one_pass(no_rate, 0, 4095))));
    CHECK(look("--format u16 --bits 16 - <" + quoted(plain)).out == lines(sentences(in_one_pass(no_rate, 0, 65535))));
    const program::outcome too_few = look("--format u16 --bits 10 " + quoted(plain));
    CHECK(too_few.code == 2);
    CHECK(too_few.out == "look: sample 1 of the capture: code " + std::to_string(run.codes.front()) +
                             ", expected a code from 0 to 1023; state the converter's codes as they are, or look for damage in "
                             "the transfer\n");
    capture::run both_sides = no_rate;
    for (std::int32_t& c : both_sides.codes) c -= 2001;
    const scratch_file two_sided(sixteen_bits(both_sides));
    CHECK(look("--format s16 " + quoted(two_sided)).out == lines(sentences(in_one_pass(both_sides, -2048, 2047))));
    CHECK(look("--format u16 " + quoted(two_sided)).code == 2);
}

TEST_CASE("look tests a converter by ramp and by sine, and says where it cannot") {
    const capture::run run = sine(128);
    const capture::one_pass_statistics seen = in_one_pass(run, 0, 255, false);
    const scratch_file file(csv(run));
    const std::string common = quoted(file) + " --column A --bits 8 --sample-rate 1000 ";
    CHECK(look(common + "--ramp").out == lines(sentences(seen, capture::stimulus::ramp)));
    const std::string density = lines(sentences(seen, capture::stimulus::sine));
    CHECK(density.find("differential non-linearity") != std::string::npos);
    const program::outcome four = look(common + "--sine");
    CHECK(four.code == 0);
    CHECK(four.out == density + lines(sentences(fit_sine(run, 0, 255))));
    CHECK(four.out.find("sine fit of four parameters") != std::string::npos);
    const program::outcome three = look(common + "--sine --frequency 12.3457");
    CHECK(three.code == 0);
    CHECK(three.out == density + lines(sentences(fit_sine(run, 0, 255, 12.3457 / 1000.0))));

    const capture::run steady = signals::sampled({.n = 500}, 3).run;
    const scratch_file step(csv(steady));
    const program::outcome untested = look(quoted(step) + " --column A --sine");
    CHECK(untested.code == 0);
    CHECK(untested.out.find("- code density not testable: ") != std::string::npos);
    CHECK(untested.out.find("- sine fit not testable: ") != std::string::npos);
    const program::outcome unknown = look(quoted(step) + " --column A --sine --frequency 50");
    CHECK(unknown.code == 2);
    CHECK(unknown.out == "look: --frequency: no sample rate, expected one that it stands to; state --sample-rate\n");
}

TEST_CASE("look ends with 2 on wrong options and on files that it cannot read, and says which") {
    const scratch_file file("A\n1\n2\nx\n");
    struct row {
        std::string arguments;
        const char* says;
    };
    for (const row& r :
         {row{"", "FILE is required"}, row{quoted(file) + " --bits 0", "--bits"}, row{quoted(file) + " --bitz 8", "--bitz"},
          row{quoted(file) + " --format s8", "--format"}, row{quoted(file) + " --sample-rate 0", "--sample-rate"},
          row{quoted(file) + " --ramp --sine", "excludes"}, row{quoted(file) + " --frequency 50", "requires --sine"},
          row{quoted(file) + " --sine --wanted-U 1", "excludes"}, row{"/nowhere/at-all.csv", "look: /nowhere/at-all.csv"},
          row{quoted(file) + " --column Z", "\"Z\""}, row{quoted(file), "line 4"}}) {
        CAPTURE(r.arguments);
        const program::outcome o = look(r.arguments);
        CHECK(o.code == 2);
        CAPTURE(o.out);
        CHECK(o.out.find(r.says) != std::string::npos);
    }
    const scratch_file sound("1\n2\n");
    const program::outcome o = look(quoted(sound) + " --wanted-U 0");
    CHECK(o.code == 2);
    CHECK(o.out ==
          "look: wanted uncertainty of a mean: 0.000000 codes, expected above 0 codes and finite; state the expanded uncertainty "
          "(k "
          "= 2) that is wanted\n");
}

TEST_CASE("on a terminal the progress bar is gone before the result and before an error") {
    const scratch_file sound("1\n2\n3\n");
    const scratch_file broken(std::string("1\n") + std::string(3 << 19, '\n') + "x\n");  // ends in the second piece
    const auto on_terminal = [](const scratch_file& file) {
        return program::run("/usr/bin/script",
                            "-qec \"'" PLUMBLINE_LOOK "' '" + file.path().string() + "'\" /dev/null </dev/null")
            .out;
    };
    const std::string cleared = "\r" + std::string(78, ' ') + "\r";
    for (const scratch_file* file : {&sound, &broken}) {
        const std::string out = on_terminal(*file);
        const auto bar = out.rfind("] ");
        REQUIRE(bar != std::string::npos);
        const auto said = out.find(file == &sound ? "- 3 samples" : "look: ");
        REQUIRE(said != std::string::npos);
        CHECK(out.substr(0, said).ends_with(cleared));
        CHECK(bar < said);
    }
}

}  // namespace look_test
