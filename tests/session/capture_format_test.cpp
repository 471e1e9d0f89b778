// Captures of a session in 16 bits a sample.

#include <doctest/doctest.h>

#include "fixture.hpp"

#include <filesystem>
#include <plumbline/calibration/evidence.hpp>
#include <plumbline/capture/digest.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/error.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/session/session.hpp>
#include <string>

namespace capture_format_test {

namespace {

using namespace plumbline;
using fixture::on_disk;
using fixture::ordered_json;

record::record recorded(const on_disk& d) { return session::run(session::read_session(d.file.string())); }

ordered_json with_zero_from(const ordered_json& capture) {
    ordered_json j = fixture::session();
    j["ranges"][0]["zero"]["capture"] = capture;
    return j;
}

/// What is said of a session whose zero step comes from bytes in this form.
std::string refusal(const ordered_json& capture, const std::string& bytes) {
    const on_disk d(with_zero_from(capture));
    d.folder.add("captures/zero.bin", bytes);
    try {
        (void)recorded(d);
    } catch (const error& refused) {
        std::string said = refused.what();
        const std::string folder = d.folder.path().string() + "/";
        for (std::size_t i = said.find(folder); i != std::string::npos; i = said.find(folder)) said.erase(i, folder.size());
        return said;
    }
    return "";
}

ordered_json zero(const char* format) { return {{"file", "captures/zero.bin"}, {"format", format}}; }

}  // namespace

TEST_CASE("codes in 16 bits a sample give the figures that they give as text, and record and certificate say how to read them") {
    const record::record by_text = recorded(on_disk());
    const std::string bytes = fixture::in_16_bits(fixture::capture(338));
    for (const auto format : {capture::code_format::signed_16_little_endian, capture::code_format::unsigned_16_little_endian}) {
        const bool is_signed = format == capture::code_format::signed_16_little_endian;
        const on_disk d(with_zero_from(zero(is_signed ? "s16" : "u16")));
        d.folder.add("captures/zero.bin", bytes);
        const record::record r = recorded(d);
        CHECK(r.ranges[0].zero.seen == by_text.ranges[0].zero.seen);
        CHECK(r.ranges[0].result == by_text.ranges[0].result);
        const calibration::capture_evidence& e = r.ranges[0].zero.evidence;
        CHECK(e == calibration::capture_evidence{"captures/zero.bin", "", capture::sha256_hex(bytes), 1e3 * hertz, format});
        CHECK(record::from_json(record::to_json(r), "r.json") == r);
        const std::string page = certificate::html(r);
        CHECK((page.find(is_signed ? "16 bits a sample, signed, lower byte first"
                                   : "16 bits a sample, unsigned, lower byte first") != std::string::npos));
    }
    CHECK(record::to_json(by_text).find("\"format\"") == std::string::npos);  // records of text stay as they were
}

TEST_CASE("samples of 16 bits come signed or unsigned, the lower byte first, over more than one piece") {
    std::string bytes;  // 3 MiB of 0x8001: above the converter's codes, or below them
    for (int i = 0; i < 3 << 19; ++i) bytes += "\x01\x80";
    const std::string all = "zero step, channel A, range 12 V: 1572864 of 1572864 samples on code ";
    CHECK(refusal(zero("u16"), bytes) ==
          all + "4095, expected at most 1 in 1000 on an end code; disconnect what drives the input, and short it");
    CHECK(refusal(zero("s16"), bytes) == all +
                                             "0, expected at most 1 in 1000 on an end code; the true zero lies below it: "
                                             "calibrate at two voltages above zero instead");
}

TEST_CASE("what cannot be a capture of 16-bit samples is refused with its place and what to do") {
    CHECK(refusal(zero("s16"), "abc") ==
          "captures/zero.bin: found 3 bytes, expected an even number, two for each 16-bit sample; the capture is cut off: "
          "capture it "
          "again, or remove its last byte");
    CHECK(refusal(zero("u16"), "") == "captures/zero.bin: found no data, expected a capture; export the capture again");
    CHECK(refusal({{"file", "captures/none.bin"}, {"format", "s16"}}, "") ==
          "captures/none.bin: found no such file, expected a file; check the name and the folder");
    CHECK(refusal({{"file", "captures"}, {"format", "s16"}}, "") ==
          "captures: found a directory, expected a file; name a file inside it");
    CHECK(refusal(zero("f32"), "ab") ==
          "s.json: /ranges/0/zero/capture/format: found \"f32\", expected \"csv\", \"s16\", \"u16\"; correct the word");
    ordered_json with_column = zero("s16");
    with_column["column"] = "A";
    CHECK(refusal(with_column, "ab") ==
          "s.json: /ranges/0/zero/capture/column: found \"A\", expected no column, since samples of 16 bits follow one another; "
          "leave it out, or correct the format");
    ordered_json rate = zero("s16");
    rate["sample_rate"] = "2 kHz";
    CHECK(refusal(rate, "ab") ==
          "captures/zero.bin: found a sample rate of 2000 Hz in the session's entry for this capture, expected 1000 Hz as in the "
          "mode, to 0.1 %; a correction belongs to one mode: correct the rate that is wrong, or capture again in this mode");
}

TEST_CASE("a capture of more than 256 MiB is refused before it is read, in any form") {
    const on_disk d(with_zero_from(zero("s16")));
    const std::filesystem::path file = d.folder.add("captures/zero.bin", "ab");
    std::filesystem::resize_file(file, (std::uintmax_t{256} << 20U) + 2);  // a hole: it takes no room
    std::string said;
    try {
        (void)recorded(d);
    } catch (const bad_input& refused) {
        said = refused.what();
    }
    CHECK(said ==
          file.string() + ": found 268435458 bytes, expected at most 268435456 (256 MiB); take a shorter capture or split it");
}

TEST_CASE("a probe's capture in 16 bits a sample needs its sample rate in the session") {
    const on_disk d;
    const record::record instrument = recorded(d);
    fixture::add_probe_captures(d.folder);
    d.folder.add("SHED-1.json", record::to_json(instrument));
    ordered_json j = fixture::probe_session();
    const std::string text = fixture::square_wave(500.0, 900.0, 0.05, "100 kHz");
    d.folder.add("captures/step.u16", fixture::in_16_bits(text.substr(text.find('\n') + 1)));
    const auto run_with = [&](const ordered_json& capture) {
        j["probe"]["compensation"]["capture"] = capture;
        return session::run(session::read_session(d.folder.add("p.json", j.dump()).string()));
    };
    const record::record by_text = run_with({{"file", "captures/step.csv"}});
    const record::record r = run_with({{"file", "captures/step.u16"}, {"format", "u16"}, {"sample_rate", "100 kHz"}});
    CHECK(r.probe->compensation.mismatch == by_text.probe->compensation.mismatch);
    CHECK(r.probe->compensation.rise_time == by_text.probe->compensation.rise_time);
    std::string said;
    try {
        (void)run_with({{"file", "captures/step.u16"}, {"format", "u16"}});
    } catch (const bad_input& refused) {
        said = refused.what();
    }
    CHECK(said == (d.folder.path() / "captures/step.u16").string() +
                      ": found no sample rate, expected one in the capture or in the session's entry for it; state it as "
                      "\"sample_rate\" beside the file");
}

}  // namespace capture_format_test
