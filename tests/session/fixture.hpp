#pragma once
// A small session of one range, with captures made here: an invented converter whose codes wander over three neighbours.

#include "../record/scratch_folder.hpp"

#include <cmath>
#include <cstdint>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

namespace fixture {

using nlohmann::ordered_json;

/// Codes around a centre, without any order that a test for correlation could see.
inline std::string capture(int centre, const std::string& header = "", int n = 400) {
    std::string text = header;
    std::uint32_t state = 12345;
    for (int i = 0; i < n; ++i) {
        state = state * 1664525U + 1013904223U;  // Numerical Recipes' generator, from memory; the top bits are random enough here
        text += std::to_string(centre - 1 + static_cast<int>((state >> 24U) % 3U)) + "\n";
    }
    return text;
}

inline ordered_json resistor(const char* nominal) {
    return {{"nominal", nominal}, {"tolerance", "1 %"}, {"temperature_coefficient", "50 ppm/K"}};
}

inline ordered_json step(const char* reference, const char* file) {
    return {{"applied", {{"reference", reference}}}, {"capture", {{"file", file}}}};
}

/// A 12 V battery monitor, calibrated at 1 V and 10 V because a single supply hides the offset at 0 V:
/// 0 V to 12.1 V over 100 kohm and 37.4 kohm into 12 bits of 3.3 V: 0.00296 V/code, nominally.
inline ordered_json session() {
    ordered_json check = step("meter", "captures/check.csv");
    check["name"] = "9 V";
    check["applied"]["value"] = "9 V";
    check["applied"]["U"] = "2 mV";
    check["applied"]["k"] = 2;
    return {{"plumbline", "session"},
            {"schema", 1},
            {"kind", "instrument"},
            {"number", "SHED-1"},
            {"device", {{"description", "battery monitor"}, {"maker", "home-built"}, {"model", "BM"}, {"serial", "1"}}},
            {"owner", {{"name", "Solar shed"}, {"contact", "behind the house"}}},
            {"calibrated_by", {{"name", "Vera Lindqvist"}, {"contact", "vera@ravenbrook.example"}}},
            {"authorised_by", "Vera Lindqvist"},
            {"place", "shed"},
            {"dates", {{"begun", "2025-03-14"}, {"ended", "2025-03-14"}, {"issued", "2025-03-14"}}},
            {"ambient", {{"temperature", "18 degC"}, {"temperature_half_width", "2 K"}}},
            {"method", {{"text", "Two points and a check."}}},
            {"invented", "all of it"},
            {"references",
             {{{"id", "low"}, {"description", "source of 1 V"}, {"output", {{"value", "1 V"}, {"limits", "1 mV"}}}},
              {{"id", "ref"}, {"description", "reference part"}, {"output", {{"value", "10 V"}, {"limits", "5 mV"}}}},
              {{"id", "meter"}, {"description", "bench meter"}}}},
            {"ranges",
             {{{"channel", "A"},
               {"range", "12 V"},
               {"mode", {{"sample_rate", "1 kHz"}}},
               {"chain",
                {{"top", resistor("100 kohm")},
                 {"bottom", resistor("37.4 kohm")},
                 {"adc",
                  {{"bits", 12},
                   {"reference", "3.3 V"},
                   {"reference_tolerance", "0.5 %"},
                   {"reference_temperature_coefficient", "30 ppm/K"},
                   {"offset_limit", "4 code"},
                   {"gain_error_limit", "0.2 %"},
                   {"integral_nonlinearity", "1 code"},
                   {"noise", "0.8 code"}}},
                 {"low", "0 V"},
                 {"high", "12 V"}}},
               {"accept", {{"absolute", "30 mV"}, {"relative", "0.3 %"}}},
               {"zero", step("low", "captures/low.csv")},
               {"reference", step("ref", "captures/high.csv")},
               {"checks", {check}}}}}};
}

/// A square wave of `periods` periods of 200 samples between two codes, settling with 20 samples from `more` of the step beyond.
inline std::string square_wave(double low, double high, double more, const std::string& rate, int periods = 8) {
    std::string text = "# sample rate: " + rate + "\n";
    std::uint32_t state = 54321;
    for (int i = 0; i < 200 * periods; ++i) {
        state = state * 1664525U + 1013904223U;
        const double noise = static_cast<double>(state >> 8U) / (1U << 24U) - 0.5;
        const int since = i % 100;
        const bool up = i % 200 < 100;
        const double beyond = more * (high - low) * std::exp(-since / 20.0);
        text += std::to_string(std::lround((up ? high + beyond : low - beyond) + 2.0 * noise)) + "\n";
    }
    return text;
}

/// A probe of 1.2 Mohm on the range of session(), over-compensated.
inline ordered_json probe_session() {
    ordered_json j = session();
    for (const char* key : {"ranges", "references"}) j.erase(key);
    j["kind"] = "probe";
    j["number"] = "PROBE-1";
    j["device"] = {{"description", "probe"}, {"maker", "home-built"}, {"model", "P"}, {"serial", "2"}};
    j["references"] = ordered_json::array();
    const auto fed = [](const char* frequency) {
        return ordered_json{{"frequency", frequency}, {"rise_time", "1 us"}, {"droop", "0.1 %"}};
    };
    j["probe"] = {{"series", "1.2 Mohm"},
                  {"tolerance", "2 %"},
                  {"tip_capacitance", "15 pF"},
                  {"bandwidth", "1 MHz"},
                  {"rating", "150 V"},
                  {"instrument", {{"record", "SHED-1.json"}, {"channel", "A"}, {"range", "12 V"}}},
                  {"compensation", {{"square_wave", fed("500 Hz")}, {"capture", {{"file", "captures/step.csv"}}}}},
                  {"ratio",
                   {{"square_wave", fed("5 Hz")},
                    {"direct", {{"file", "captures/direct.csv"}}},
                    {"divided", {{"file", "captures/divided.csv"}}},
                    {"temperature_coefficient", "100 ppm/K"}}}};
    return j;
}

/// What probe_session() needs besides the record of its instrument.
inline void add_probe_captures(const scratch_folder& to) {
    to.add("captures/step.csv", square_wave(500.0, 900.0, 0.05, "100 kHz"));
    to.add("captures/direct.csv", square_wave(400.0, 3500.0, 0.0, "1 kHz"));
    to.add("captures/divided.csv", square_wave(400.0, 720.0, 0.0, "1 kHz"));
}

/// The same codes in 16 bits a sample, lower byte first.
inline std::string in_16_bits(const std::string& csv) {
    std::string bytes;
    for (std::size_t i = 0; i < csv.size(); i = csv.find('\n', i) + 1) {
        const auto code = static_cast<std::uint32_t>(std::stoi(csv.substr(i)));
        bytes += static_cast<char>(code & 0xffU);
        bytes += static_cast<char>(code >> 8U & 0xffU);
    }
    return bytes;
}

/// The session and its captures in a folder of their own.
class on_disk {
public:
    explicit on_disk(const ordered_json& session_file = session()) {
        folder.add("captures/low.csv", capture(338));
        folder.add("captures/high.csv", capture(3378, "# sample rate: 1 kHz\n"));
        folder.add("captures/check.csv", capture(3040));
        folder.add("captures/low.s16", in_16_bits(capture(338)));
        file = folder.add("s.json", session_file.dump(1));
    }
    scratch_folder folder;
    std::filesystem::path file;
};

}  // namespace fixture
