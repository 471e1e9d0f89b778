#pragma once
// A record for the tests of the certificate: one bipolar range of an invented pocket scope, calibrated by the library's own code.

#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/record/record.hpp>
#include <string>

namespace plumbline::example {

inline capture::statistics codes_around(double mean, double s) {
    capture::statistics seen{};
    seen.n = 2048;
    seen.mean = mean * code;
    seen.s = s * code;
    seen.n_eff = 2048.0;
    seen.min = static_cast<std::int32_t>(mean) - 3;
    seen.max = static_cast<std::int32_t>(mean) + 4;
    return seen;
}

inline calibration::step step_at(const calibration::applied& source, const std::string& file, double mean, double s = 0.9) {
    return {source, {"captures/" + file, "A", std::string(64, 'a'), 10e3 * hertz}, codes_around(mean, s)};
}

inline calibration::applied from_meter(double volts, double U) {
    return {"meter", calibration::stated_voltage{volts * volt, calibration::expanded{U * volt, 2.0}}};
}

inline std::vector<calibration::reference> references() {
    calibration::reference plug;
    plug.id = "short";
    plug.description = "shorting plug";
    plug.maker = "home-built";
    plug.output = calibration::stated_voltage{0.0 * volt, calibration::limits{20e-6 * volt}};
    calibration::reference part;
    part.id = "ref-4v096";
    part.description = "4.096 V reference part on a battery";
    part.maker = "Hollin Semiconductor (invented)";
    part.model = "HS4096B";
    part.serial = "lot 2431";
    part.output = calibration::stated_voltage{4.096 * volt, calibration::limits{4.1e-3 * volt}};
    calibration::reference meter;
    meter.id = "meter";
    meter.description = "bench multimeter";
    meter.maker = "Aldous Instruments (invented)";
    meter.model = "A55";
    meter.serial = "A55-1193";
    meter.traceability = "certificate AI-2024-0876 (invented)";
    calibration::reference divider;
    divider.id = "ref-0v8";
    divider.description = "divider behind the reference part";
    const front_end::resistor top{1650.0 * ohm, 0.1 * percent, 25.0 * ppm / kelvin};
    const front_end::resistor bottom{402.0 * ohm, 0.1 * percent, 25.0 * ppm / kelvin};
    divider.divider = calibration::divided{"ref-4v096", top, bottom};
    return {plug, part, meter, divider};
}

inline calibration::range_setup ten_volts(const std::string& channel) {
    calibration::range_setup setup;
    setup.channel = channel;
    setup.range = "10 V";
    setup.mode.sample_rate = 10e3 * hertz;
    setup.mode.supply = "battery";
    setup.mode.sampling = "12.5 clock cycles, channels in turn";
    const auto carbon = [](double ohms) { return front_end::resistor{ohms * ohm, 1.0 * percent, 50.0 * ppm / kelvin}; };
    setup.chain.input.top = carbon(1e6);
    setup.chain.input.bottom = carbon(430e3);
    front_end::bias_branch bias;
    bias.branch = carbon(300e3);
    bias.supply = 3.3 * volt;
    bias.from_converter_reference = true;
    setup.chain.input.bias = bias;
    setup.chain.adc.bits = 12;
    setup.chain.adc.reference = 3.3 * volt;
    setup.chain.adc.reference_tolerance = 0.5 * percent;
    setup.chain.adc.reference_temperature_coefficient = 30.0 * ppm / kelvin;
    setup.chain.adc.offset_limit = 4.0 * code;
    setup.chain.adc.gain_error_limit = 0.2 * percent;
    setup.chain.adc.integral_nonlinearity = 1.0 * code;
    setup.chain.adc.noise = 0.9 * code;
    setup.chain.low = -10.0 * volt;
    setup.chain.high = 10.0 * volt;
    setup.temperature_half_width = 1.0 * kelvin;
    setup.limit = {30e-3 * volt, 0.3 * percent};
    return setup;
}

/// The range above gives nominally code = 2050.38 + 186.40 V / volt; this instrument is a little off.
inline record::record pocket_scope(const std::string& channel = "A") {
    record::record r;
    r.number = "PS2-0007-2025-03";
    r.device = {"pocket oscilloscope, two channels", "home-built by Vera Lindqvist", "PS-2", "0007", "1.4.0", "fresh battery"};
    r.owner = {"Ravenbrook Modular Workshop", "4 Mill Lane, Ravenbrook"};
    r.calibrated_by = {"Vera Lindqvist", "vera@ravenbrook.example"};
    r.authorised_by = "Ada Orme";
    r.place = "electronics bench";
    r.dates = {"2025-03-12", "2025-03-14", "2025-03-15", "2025-03-16"};
    r.ambient = {{22.5}, 1.0 * kelvin, 45.0, 30.0};
    r.method = {"One capture with the input shorted, one with the reference connected.", "no second channel",
                "time base, bandwidth"};
    r.data_from_others = "limits of the data sheets";
    r.invented = "instrument, people, references and captures do not exist.";
    r.model = {calibration::model_name, calibration::model_version};
    r.references = references();
    const calibration::range_setup setup = ten_volts(channel);
    const double zero = 2054.0;
    const double slope = 186.1;
    const auto at = [&](double volts) { return zero + slope * volts; };
    calibration::range_calibration range = calibration::solve(
        setup, {step_at({"short", {}}, "zero.csv", at(0.0)), step_at({"ref-4v096", {}}, "reference.csv", at(4.096)), {}},
        r.references, r.inputs);
    range.compact = calibration::compact_form(range, r.references, r.inputs);
    range.checks.push_back(calibration::check(
        range, "-8 V", false, step_at(from_meter(-7.9884, 1.1e-3), "minus-8v.csv", at(-7.9884) + 0.7), r.references, r.inputs));
    range.checks.push_back(calibration::check(
        range, "2.5 V", false, step_at(from_meter(2.4974, 0.55e-3), "plus-2.5v.csv", at(2.4974) - 0.3), r.references, r.inputs));
    range.checks.push_back(calibration::check(range, "4.096 V", false, step_at({"ref-4v096", {}}, "again.csv", at(4.096) + 0.1),
                                              r.references, r.inputs));
    range.findings.push_back({7, "zero step, channel A", "the noise is half of the data sheet's; nothing to do"});
    r.ranges.push_back(range);
    return r;
}

/// A record with everything that a certificate can show: three steps, a meter and a part by their specifications, the correction from before,
/// results as found and as left, conditions of use, a rule of four words.
inline record::record complete_scope(const std::string& channel = "A") {
    record::record r = pocket_scope(channel);
    r.number = "PS2-0007-2025-04";
    r.replaces = "PS2-0007-2025-03";
    r.reason = "negative step added";
    r.inputs = {};
    r.ranges.clear();
    calibration::reference_part part;
    part.nominal = 4.096 * volt;
    part.initial_tolerance = 0.1 * percent;
    part.temperature_coefficient = 20.0 * ppm / kelvin;
    part.ageing = 50.0 * ppm;
    part.regulation = 20.0 * ppm;
    part.noise = 10e-6 * volt;
    r.references[1].output.reset();
    r.references[1].part = part;
    calibration::meter meter;
    meter.of_reading = 0.03 * percent;
    meter.counts = 3.0;
    meter.count = 1e-4 * volt;
    meter.range = 12.0 * volt;
    meter.band = calibration::temperature_band{{18.0}, {28.0}};
    meter.input_resistance = 10e6 * ohm;
    r.references[2].meter = meter;
    r.references[2].valid_from = "2024-11-05";
    r.references[2].valid_until = "2025-11-05";
    r.references[2].valid = calibration::temperature_band{{18.0}, {28.0}};

    calibration::range_setup setup = ten_volts(channel);
    setup.ambient = {22.5};
    setup.limit.rule = conformity::decision_rule<voltage>::four_words();
    setup.before = calibration::plain_correction{volts_per_code::from_value(5.41e-3), -11.13 * volt};
    calibration::use_conditions use;
    use.years = 1.0;
    use.temperature_half_width = 10.0 * kelvin;
    use.gain_per_year = 0.05 * percent;
    use.offset_per_year = 2e-3 * volt;
    use.gain_by_supply = 0.02 * percent;
    use.offset_by_supply = 1e-3 * volt;
    setup.in_use = use;
    const auto at = [](double volts) { return 2054.0 + 186.1 * volts; };
    const auto read = [](double volts) {
        calibration::applied by{"meter", {}};
        by.indicated = volts * volt;
        return by;
    };
    calibration::range_calibration range =
        calibration::solve(setup,
                           {step_at({"short", {}}, "zero.csv", at(0.0)), step_at({"ref-4v096", {}}, "reference.csv", at(4.096)),
                            step_at(read(-7.9884), "minus-8v.csv", at(-7.9884) + 0.7)},
                           r.references, r.inputs);
    range.compact = calibration::compact_form(range, r.references, r.inputs);
    const auto check = [&](const char* name, double volts, double off_by) {
        for (const bool as_found : {true, false}) {
            range.checks.push_back(calibration::check(range, std::string(name) + (as_found ? ", first" : ""), as_found,
                                                      step_at(read(volts), "check.csv", at(volts) + off_by), r.references,
                                                      r.inputs));
        }
    };
    check("-4 V", -3.9941, 0.4);
    check("2.5 V", 2.4974, -0.3);
    check("7.5 V", 7.4799, 9.0);
    range.findings.push_back({7, "zero step, channel A", "the noise is half of the data sheet's; nothing to do"});
    r.ranges.push_back(range);
    return r;
}

}  // namespace plumbline::example
