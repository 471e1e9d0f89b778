#include <fmt/format.h>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <simulation/instrument.hpp>
#include <simulation/pocket_scope.hpp>
#include <utility>
#include <vector>

namespace plumbline::simulation {

namespace {

using json = nlohmann::ordered_json;

constexpr std::uint64_t seed = 20250314;
constexpr std::size_t samples = 2048;
constexpr double bench_temperature = 22.5;  // degrees Celsius
constexpr double bench_half_width = 1.0;    // K, how far the instrument moved from it during the afternoon
constexpr const char* invented = "simulated by tests/simulation; no such instrument, person or reference exists";

// The data sheets, as examples/sessions/pocket-scope.json states them to the library.
part resistor(double ohms) { return {ohms, 0.01, 50e-6}; }
part thin_film(double ohms) { return {ohms, 0.001, 25e-6}; }

const network_sheet range_10v{resistor(1e6), resistor(430e3), resistor(300e3), {}};
const network_sheet range_1v{resistor(330e3), {}, resistor(750e3), {}};
const converter_sheet adc{12, {3.3, 0.005, 30e-6}, 4.0, 0.002, 1.0, 8, 0.9};

/// One range of both channels. The two channels and the two ranges share one converter.
struct range {
    std::string name;
    std::string stem;  ///< of file names
    std::array<instrument, 2> channel;
};

/// The references as they are, not as their labels say.
struct bench {
    double short_volts;      ///< thermal voltage of the plug
    double reference_volts;  ///< of the 4.096 V part
    actual_part divider_top;
    actual_part divider_bottom;
    double meter_deviation;  ///< of the meter, in standard uncertainties of its certificate: the same at every point

    [[nodiscard]] source plug() const { return {short_volts, 0.0}; }
    [[nodiscard]] source reference() const { return {reference_volts, 0.0}; }
    [[nodiscard]] source divider(double temperature) const {
        const double top = divider_top.at(temperature);
        const double bottom = divider_bottom.at(temperature);
        return {reference_volts * bottom / (top + bottom), top * bottom / (top + bottom)};
    }
};

/// What the bench meter shows and the certificate says of it.
struct shown {
    std::string value;  ///< "7.5004 V"
    std::string U;      ///< k = 2
};

/// Certificate of the meter: U (k = 2) is 0.3 mV + 0.01 % on its 10 V range, 0.03 mV + 0.01 % on its 1 V range.
shown read_meter(const bench& on, double volts, bool ten_volt_range) {
    const double U = (ten_volt_range ? 0.3e-3 : 0.03e-3) + 1e-4 * std::abs(volts);
    const double indication = volts + on.meter_deviation * U / 2.0;
    return ten_volt_range ? shown{fmt::format("{:.4f} V", indication), fmt::format("{:.2f} mV", U * 1e3)}
                          : shown{fmt::format("{:.5f} V", indication), fmt::format("{:.3f} mV", U * 1e3)};
}

/// Ten significant digits: enough for truth, and no last bit that depends on a C library.
double rounded(double x) { return std::stod(fmt::format("{:.10g}", x)); }

std::string with_header(const std::string& what, const std::string& columns) {
    std::string text = "# pocket scope PS-2, serial 0007, " + what + "\n";
    text += "# sample rate: 10000 Hz\n";
    text += fmt::format("# invented data: {}\n", invented);
    return text + columns;
}

class workshop {
public:
    workshop() : random_(seed) {
        const actual_converter converter = draw(adc, random_);
        const auto both = [&](const network_sheet& sheet) {
            const instrument a{draw(sheet, random_), converter};
            const instrument b{draw(sheet, random_), converter};
            return std::array<instrument, 2>{a, b};
        };
        ranges_.push_back({"10 V", "10v", both(range_10v)});
        ranges_.push_back({"1 V", "1v", both(range_1v)});
        bench_.short_volts = random_.within(20e-6);
        bench_.reference_volts = 4.096 + random_.within(4.1e-3);
        bench_.divider_top = draw(thin_film(1650.0), random_);
        bench_.divider_bottom = draw(thin_film(402.0), random_);
        bench_.meter_deviation = random_.normal();
    }

    std::map<std::string, std::string> files() {
        for (const range& r : ranges_) {
            both_channels(r, "zero", "both inputs shorted", bench_.plug());
            calibrate(r);
            check_points(r);
        }
        for (const range& r : ranges_) calibrate_reversed(r);
        check_on_site();
        truth_["references"] = json::array({{{"id", "short"}, {"actual_volts", rounded(bench_.short_volts)}},
                                            {{"id", "ref-4v096"}, {"actual_volts", rounded(bench_.reference_volts)}},
                                            {{"id", "ref-0v8"},
                                             {"actual_top_ohm", rounded(bench_.divider_top.at(bench_temperature))},
                                             {"actual_bottom_ohm", rounded(bench_.divider_bottom.at(bench_temperature))}},
                                            {{"id", "meter"}, {"actual_deviation_in_u", rounded(bench_.meter_deviation)}}});
        for (const range& r : ranges_) {
            for (std::size_t c = 0; c < 2; ++c) {
                truth_["ranges"].push_back({{"channel", name_of(c)},
                                            {"range", r.name},
                                            {"temperature_celsius", bench_temperature},
                                            {"volts_per_code", rounded(r.channel[c].volts_per_code(bench_temperature))},
                                            {"volts_at_code_zero", rounded(r.channel[c].volts_at_code_zero(bench_temperature))}});
            }
        }
        truth_["captures"] = std::move(captures_);
        files_["pocket-scope-truth.json"] = truth_.dump(1) + "\n";
        return std::move(files_);
    }

private:
    static std::string name_of(std::size_t channel) { return channel == 0 ? "A" : "B"; }
    static std::string stem_of(std::size_t channel) { return channel == 0 ? "a" : "b"; }

    [[nodiscard]] double temperature_now() { return bench_temperature + random_.within(bench_half_width); }

    json& note(const range& r, std::size_t channel, const std::string& file, const source& from, double temperature) {
        captures_.push_back({{"file", file},
                             {"channel", name_of(channel)},
                             {"range", r.name},
                             {"temperature_celsius", rounded(temperature)},
                             {"actual_connector_volts", rounded(r.channel[channel].nodes(from, temperature).connector)}});
        return captures_.back();
    }

    /// One file with a column for each channel.
    void both_channels(const range& r, const std::string& what, const std::string& words, const source& from) {
        const double temperature = temperature_now();
        const std::vector<std::int32_t> a = r.channel[0].capture(from, samples, temperature, random_);
        const std::vector<std::int32_t> b = r.channel[1].capture(from, samples, temperature, random_);
        const std::string file = "captures/" + r.stem + "-" + what + ".csv";
        std::string text = with_header("range " + r.name + ", " + words, "A,B\n");
        for (std::size_t i = 0; i < samples; ++i) text += fmt::format("{},{}\n", a[i], b[i]);
        files_[file] = std::move(text);
        note(r, 0, file, from, temperature);
        note(r, 1, file, from, temperature);
    }

    /// One file with one code a line.
    json& one_channel(const range& r, std::size_t channel, const std::string& what, const std::string& words, const source& from,
                      double temperature) {
        const std::string file = "captures/" + stem_of(channel) + "-" + r.stem + "-" + what + ".csv";
        std::string text = with_header("channel " + name_of(channel) + ", range " + r.name + ", " + words, "");
        for (std::int32_t code : r.channel[channel].capture(from, samples, temperature, random_))
            text += fmt::format("{}\n", code);
        files_[file] = std::move(text);
        return note(r, channel, file, from, temperature);
    }

    void calibrate(const range& r) {
        if (r.stem == "10v") {
            both_channels(r, "reference", "both inputs on the 4.096 V reference", bench_.reference());
            return;
        }
        for (std::size_t c = 0; c < 2; ++c) {  // one at a time: each input loads the divider
            const double temperature = temperature_now();
            one_channel(r, c, "reference", "input on the 0.8 V divider", bench_.divider(temperature), temperature);
        }
    }

    void calibrate_reversed(const range& r) {
        const auto reversed = [](source s) { return source{-s.open, s.resistance}; };
        if (r.stem == "10v") {
            both_channels(r, "negative", "both inputs on the 4.096 V reference, leads reversed", reversed(bench_.reference()));
            return;
        }
        for (std::size_t c = 0; c < 2; ++c) {
            const double temperature = temperature_now();
            one_channel(r, c, "negative", "input on the 0.8 V divider, leads reversed", reversed(bench_.divider(temperature)),
                        temperature);
        }
    }

    void check_points(const range& r) {
        const bool ten = r.stem == "10v";
        for (std::size_t c = 0; c < 2; ++c) {
            for (double nominal : ten ? std::array{-8.0, -4.0, 2.5, 7.5} : std::array{-0.8, -0.4, 0.25, 0.7}) {
                const double volts = nominal * (1.0 + random_.within(0.003));  // as near as the knob of the supply goes
                const std::string size = fmt::format("{:g}", std::abs(nominal));
                const std::string words = fmt::format("input near {} V", (nominal < 0.0 ? "-" : "") + size);
                json& entry =
                    one_channel(r, c, (nominal < 0.0 ? "minus-" : "plus-") + size + "v", words, {volts, 0.0}, temperature_now());
                const shown meter = read_meter(bench_, volts, ten);
                entry["meter_value"] = meter.value;
                entry["meter_U"] = meter.U;
            }
        }
    }

    /// Channel A, range 10 V after a night in a cold car: shorted, and on a pocket reference of 2.5 V within 1.3 mV.
    void check_on_site() {
        constexpr double in_the_car = 6.0;
        const range& r = ranges_.front();
        const auto on_site = [&](const std::string& what, const std::string& words, const source& from) {
            const std::string file = "captures/on-site-" + what + ".csv";
            std::string text = with_header("channel A, range 10 V, on site, " + words, "");
            for (std::int32_t code : r.channel[0].capture(from, 512, in_the_car, random_)) text += fmt::format("{}\n", code);
            files_[file] = std::move(text);
            note(r, 0, file, from, in_the_car);
        };
        on_site("zero", "input shorted", bench_.plug());
        on_site("reference", "pocket reference of 2.5 V", {2.5 + random_.within(1.3e-3), 0.0});
    }

    generator random_;
    std::vector<range> ranges_;
    bench bench_{};
    std::map<std::string, std::string> files_;
    json captures_ = json::array();
    json truth_ = {{"invented", invented}, {"never_read_by", "the library or its example programs"}};
};

}  // namespace

std::map<std::string, std::string> pocket_scope_files() { return workshop().files(); }

}  // namespace plumbline::simulation
