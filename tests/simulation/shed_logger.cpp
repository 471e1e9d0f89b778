#include <fmt/format.h>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <simulation/instrument.hpp>
#include <simulation/shed_logger.hpp>
#include <utility>
#include <vector>

namespace plumbline::simulation {

namespace {

constexpr std::uint64_t logger_seed = 20250621;
constexpr std::size_t logger_samples = 256;
constexpr double shed_temperature = 21.0;  // degrees Celsius

// The data sheets, as examples/sessions/shed-logger.json states them to the library.
const network_sheet divider{{100e3, 0.01, 50e-6}, part{22e3, 0.01, 50e-6}, {}, {}};
const converter_sheet logger_adc{12, {3.3, 0.005, 30e-6}, 4.0, 0.002, 1.5, 16, 0.9};

/// One column of a file: a name and its codes.
struct logger_column {
    std::string name;
    std::vector<std::int32_t> codes;
};

std::string csv(const std::string& what, const std::vector<logger_column>& columns) {
    std::string text = "# shed logger SL-1, serial 3, " + what + "\n# sample rate: 1000 Hz\n";
    text += "# invented data: simulated by tests/simulation; no such instrument, person or reference exists\n";
    for (std::size_t c = 0; c < columns.size(); ++c) text += (c == 0 ? "" : ",") + columns[c].name;
    text += '\n';
    for (std::size_t i = 0; i < columns[0].codes.size(); ++i) {
        for (std::size_t c = 0; c < columns.size(); ++c) text += (c == 0 ? "" : ",") + std::to_string(columns[c].codes[i]);
        text += '\n';
    }
    return text;
}

class shed {
public:
    shed()
        : random_(logger_seed), a_{draw(divider, random_), draw(logger_adc, random_)}, b_{draw(divider, random_), a_.converter} {}

    std::map<std::string, std::string> files() {
        std::map<std::string, std::string> all;
        // 0-R-0-R-0-R-0 once a minute: it drifts by a third of a code a minute, and reconnecting moves it by a tenth of one
        std::vector<logger_column> turns;
        for (int i = 0; i < 7; ++i) {
            turns.push_back({std::string(i % 2 == 0 ? "low" : "high") + std::to_string(i / 2 + 1),
                             at(i % 2 == 0 ? 1.0 : 15.0, i / 3.0 + 0.1 * random_.normal())});
        }
        all["captures/logger-turns.csv"] = csv("1 V and 15 V in turn", turns);
        std::vector<logger_column> points;
        for (const int v : {3, 5, 7, 9, 11, 13}) points.push_back({"v" + std::to_string(v), at(v, 1.0)});
        all["captures/logger-points.csv"] = csv("further voltages and checks", points);
        all["captures/logger-crosstalk.csv"] =
            csv("1 V, with channel B at 1 V and at 15 V", {{"low", at(1.0, 1.0)}, {"high", at(1.0, 1.0 + 0.9)}});
        std::vector<logger_column> warming;
        for (int i = 0; i < 8; ++i) {
            warming.push_back({"min" + std::to_string(5 * i), at(12.0, 1.0 + 6.0 * std::exp(-i / 1.6))});
        }
        all["captures/logger-warm-up.csv"] = csv("12 V, from switching on", warming);
        all["captures/logger-charger.csv"] = csv("with the charger attached", {{"low", at(1.0, 1.6)}, {"high", at(15.0, 2.4)}});
        all["captures/logger-b.csv"] =
            csv("channel B", {{"low", b_.capture({1.0, 0.0}, logger_samples, shed_temperature, random_)},
                              {"high", b_.capture({15.0, 0.0}, logger_samples, shed_temperature, random_)}});
        all["captures/logger-clock.csv"] = csv("100 Hz of a counter", {{"A", clock()}});
        return all;
    }

private:
    /// @param shift  in codes, of what moves this capture besides
    [[nodiscard]] std::vector<std::int32_t> at(double volts, double shift) {
        instrument now = a_;
        now.converter.offset += shift;
        return now.capture({volts, 0.0}, logger_samples, shed_temperature, random_);
    }

    /// 100 Hz about 8 V, 5 V of amplitude, by a clock 1.3 % fast.
    [[nodiscard]] std::vector<std::int32_t> clock() {
        std::vector<std::int32_t> codes;
        for (int i = 0; i < 2000; ++i) {
            const double volts = 8.0 + 5.0 * std::sin(2.0 * std::numbers::pi * 100.0 * i / 1013.0);
            codes.push_back(a_.capture({volts, 0.0}, 1, shed_temperature, random_)[0]);
        }
        return codes;
    }

    generator random_;
    instrument a_;
    instrument b_;  ///< another divider before the same converter
};

}  // namespace

std::map<std::string, std::string> shed_logger_files() { return shed().files(); }

}  // namespace plumbline::simulation
