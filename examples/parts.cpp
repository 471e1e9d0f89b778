// parts LOW HIGH: resistors, as they are sold, that bring a range of voltages into a converter of 3.3 V.

#include <plumbline/error.hpp>
#include <plumbline/front_end/preferred.hpp>

#include <fmt/core.h>

#include <charconv>
#include <exception>
#include <string>
#include <string_view>

namespace {

namespace pl = plumbline;
using pl::ohm;
using pl::volt;

constexpr const char* usage =
    "parts LOW HIGH: resistors of the series E24, 1 %, that bring LOW to HIGH volts into 0.1 V to 3.2 V of a 3.3 V converter, "
    "with an\n"
    "input of 0.5 to 2 Mohm. A range that goes below 0 V is lifted by the converter's reference.\n"
    "Example:\n"
    "  parts -10 10\n"
    "Exit codes: 0 here they are, 2 bad input or usage, 3 no such parts.\n";

pl::voltage volts(std::string_view text) {
    double value = 0.0;
    const auto [end, wrong] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (wrong != std::errc() || end != text.data() + text.size())
        throw pl::bad_input("LOW or HIGH", fmt::format("\"{}\"", text), "a number of volts", "write 10 or -2.5");
    return value * volt;
}

}  // namespace

int main(int count, char** arguments) {
    if (count != 3) {
        fmt::print(stderr, "{}", usage);
        return 2;
    }
    try {
        pl::front_end::wanted_range wanted;
        wanted.low = volts(arguments[1]);
        wanted.high = volts(arguments[2]);
        wanted.node_low = wanted.low < pl::voltage() ? 0.1 * volt : 0.0 * volt;
        wanted.node_high = 3.2 * volt;
        if (wanted.low < pl::voltage()) wanted.supply = 3.3 * volt;
        wanted.least_input = 0.5e6 * ohm;
        wanted.most_input = 2e6 * ohm;
        wanted.tolerance = 1.0 * pl::percent;
        wanted.temperature_coefficient = pl::per_kelvin::from_value(50e-6);
        const auto found = pl::front_end::proposals(wanted, pl::front_end::series::e24, 5, true);
        if (found.empty()) {
            fmt::print(stderr, "parts: none of this series do\n");
            return 3;
        }
        fmt::print("{:>9} {:>9} {:>9}   from the connector, to ground, to 3.3 V (kohm)\n", "top", "bottom", "bias");
        for (const auto& p : found) {
            const auto kilohms = [](const auto& r) {
                return r ? fmt::format("{:g}", r->nominal.value() / 1e3) : std::string("-");
            };
            const std::string bias = p.parts.bias ? fmt::format("{:g}", p.parts.bias->branch.nominal.value() / 1e3) : "-";
            fmt::print("{:>9g} {:>9} {:>9}   reads {:.2f} V to {:.2f} V; gain within {:.2g} % before calibration\n",
                       p.parts.top.nominal.value() / 1e3, kilohms(p.parts.bottom), bias, p.low.value(), p.high.value(),
                       100.0 * p.gain_by_tolerance.value());
        }
        return 0;
    } catch (const std::exception& e) {
        fmt::print(stderr, "parts: {}\n", e.what());
        return 2;
    }
}
