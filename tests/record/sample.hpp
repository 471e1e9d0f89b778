#pragma once
// A record with something in every member. All of it is invented, also where figures would have to agree with each other.

#include <plumbline/calibration/reading.hpp>
#include <plumbline/record/record.hpp>

#include <string>

namespace sample {

namespace pl = plumbline;

inline pl::front_end::resistor resistor(double nominal) { return {nominal * pl::ohm, 0.01 * pl::one, 5e-5 / pl::kelvin}; }

inline pl::calibration::step step(const std::string& reference, const std::string& file, double mean) {
    pl::calibration::step s;
    s.source.reference = reference;
    s.evidence = {file, "A", std::string(64, 'a'), 10000.0 * pl::hertz};
    s.seen = {2048, mean * pl::code, 0.85 * pl::code, 1890.5, 2040, 2051, 0, 0, -0.0625 * pl::code};
    s.seen.noise = 0.8 * pl::code;
    s.seen.slope = pl::capture::trend{-0.07 * pl::code, 0.06 * pl::code};
    s.seen.hum = {{50.0 * pl::hertz, 10.24, 0.04 * pl::code, 0.03 * pl::code}};
    return s;
}

inline pl::front_end::chain chain() {
    pl::front_end::chain c;
    c.input.top = resistor(1e6);
    c.input.bottom = resistor(430e3);
    c.input.bias = pl::front_end::bias_branch{resistor(300e3), 3.3 * pl::volt, true, 0.0 * pl::one, 0.0 / pl::kelvin};
    c.adc = {
        12, 3.3 * pl::volt, 0.005 * pl::one, 3e-5 / pl::kelvin, 4.0 * pl::code, 0.002 * pl::one, 1.0 * pl::code, 0.9 * pl::code};
    c.low = -10.0 * pl::volt;
    c.high = 10.0 * pl::volt;
    c.adc.reference_by_supply = 0.002 * pl::one;
    c.amplifier = pl::front_end::amplifier_stage{pl::front_end::gain_resistors{resistor(30e3), resistor(10e3)},
                                                 1e-3 * pl::volt,
                                                 5e-6 * pl::volt / pl::kelvin,
                                                 1e-9 * pl::ampere,
                                                 1e-11 * pl::ampere / pl::kelvin,
                                                 1e5,
                                                 1e6 * pl::hertz,
                                                 0.02 * pl::volt,
                                                 3.2 * pl::volt};
    c.limits.emplace();
    c.limits->supply = {3.3 * pl::volt, 0.5 * pl::ohm, 2e-3 * pl::ampere, false, 3.6 * pl::volt, true};
    c.limits->to_supply = pl::front_end::clamp_diode{0.3 * pl::volt, 20.0 * pl::ohm, 5e-3 * pl::ampere};
    c.limits->to_ground = pl::front_end::clamp_diode{0.3 * pl::volt, 20.0 * pl::ohm};
    c.limits->pin_beyond_supply = 0.4 * pl::volt;
    c.limits->top = {0.25 * pl::watt, 350.0 * pl::volt};
    c.limits->bottom.working = 150.0 * pl::volt;
    c.pin = pl::front_end::pin_details{5e-12 * pl::farad, 1e3 * pl::ohm, 1e-6 * pl::second, 1e-9 * pl::farad, 1e-7 * pl::ampere};
    return c;
}

inline pl::calibration::range_calibration range() {
    pl::calibration::range_calibration r;
    r.channel = "A";
    r.range = "10 V";
    r.mode = {10000.0 * pl::hertz, 1, "DC", "battery", "12.5 cycles"};
    r.chain = chain();
    r.temperature_half_width = 1.0 * pl::kelvin;
    r.zero = step("short", "zero.csv", 2045.25);
    r.reference = step("ref-4v096", "reference.csv", 2911.1);
    r.nominal_gain = 0.0047;
    r.result.gain = 0.00473 * pl::volt / pl::code;
    r.result.u_gain = 2.5e-06 * pl::volt / pl::code;
    r.result.offset = -9.68 * pl::volt;
    r.result.u_offset = 0.0051 * pl::volt;
    r.result.covariance = -1.25e-08;
    r.compact = {1.2e-05, 3.4e-07, 0.5 * pl::volt, 0.04};
    r.limit = {0.03 * pl::volt, 0.003 * pl::one};
    r.ambient = {22.5};
    r.negative = step("five", "negative.csv", 1000.5);
    r.negative->source.carried =
        pl::calibration::carried_voltage{"B", "1 V", r.zero.evidence, r.zero.seen, -4.0 * pl::volt, {{"a", 0.5}, {"d", -0.0047}}};
    r.negative_result = r.result;
    r.before = pl::calibration::plain_correction{0.0047 * pl::volt / pl::code, -9.7 * pl::volt};
    r.in_use =
        pl::calibration::use_conditions{1.5, 10.0 * pl::kelvin, 5e-4 * pl::one, 1e-3 * pl::volt, 1e-4 * pl::one, 2e-3 * pl::volt};
    r.limit.rule = pl::conformity::decision_rule<pl::voltage>::four_words(0.5);
    r.chain.adc.shape = pl::front_end::converter::inl_shape::smooth;
    pl::calibration::check_point c;
    c.name = "-4 V";
    c.as_found = true;
    c.observed = step("meter", "check.csv", 1200.0);
    c.observed.seen.removed =
        pl::capture::removed_hum{50.0 * pl::hertz, 3.0 * pl::code, -0.25 * pl::code, 0.01 * pl::code, 0.7 * pl::code, 440.5};
    c.observed.seen.slow = pl::capture::slow_noise{0.5 * pl::code, 61.5, 0.8 * pl::code};
    c.observed.seen.few_codes = {{1199, 3}, {1201, 7}};
    c.observed.source.stated =
        pl::calibration::stated_voltage{-4.0 * pl::volt, pl::calibration::expanded{0.0007 * pl::volt, 2.0}};
    c.applied_value = -4.0 * pl::volt;
    c.indication = -4.004 * pl::volt;
    c.error = -0.004 * pl::volt;
    c.U = 0.0062 * pl::volt;
    c.k = 2.0;
    c.degrees_of_freedom = pl::uncertainty::infinite;
    c.permissible = 0.042 * pl::volt;
    c.verdict = pl::conformity::verdict::conditional_pass;
    c.conformance_probability = 0.97;
    c.tests_reference = true;
    c.by_trials = pl::calibration::interval_by_trials{-0.0105 * pl::volt, 0.0027 * pl::volt,
                                                      pl::calibration::first_order_is::short_of_order};
    r.checks = {c};
    r.by_trials = pl::calibration::validation{
        100000,
        7,
        1,
        {{-10.0 * pl::volt, {-10.03 * pl::volt, -9.97 * pl::volt, pl::calibration::first_order_is::validated}},
         {0.0 * pl::volt, {-0.01 * pl::volt, 0.02 * pl::volt, pl::calibration::first_order_is::of_another_shape}}},
        {{5.0 * pl::volt, {4.97 * pl::volt, 5.03 * pl::volt, pl::calibration::first_order_is::validated}}},
        {{-5.0 * pl::volt, {-5.2 * pl::volt, -4.7 * pl::volt, pl::calibration::first_order_is::short_of_order}}},
        {{{100.0, 0.0 * pl::volt, {}}, {-0.008 * pl::volt, 0.009 * pl::volt, pl::calibration::first_order_is::validated}},
         {{1.0, 0.0 * pl::volt, 2.0 * pl::volt},
          {1.98 * pl::volt, 2.02 * pl::volt, pl::calibration::first_order_is::short_of_readings}}}};
    r.longest_time = 600.0 * pl::second;
    r.largest_hum = 5e-3 * pl::volt;
    r.slow = {2e-3 * pl::volt, 0.2 * pl::hertz};
    r.findings = {{201, "channel A, 10 V", "something worth saying; what to do"}};
    // without what other captures of the record have, since tests change each place of a record
    pl::capture::statistics plain = r.zero.seen;
    plain.slope.reset();
    plain.hum.clear();
    for (int i = 0; i < 5; ++i) r.turns.push_back({60.0 * i * pl::second, r.zero.evidence, plain});
    pl::calibration::line_of_points& p = r.points.emplace();
    p.more = {{"2 V", {r.reference.source, r.reference.evidence, plain}}};
    p.points = {{"zero step", 0.0 * pl::volt, 0.1 * pl::code, 0.25, -0.001},
                {"reference step", 4.096 * pl::volt, -0.1 * pl::code, 0.25, 0.001},
                {"negative step", -4.0 * pl::volt, 0.05 * pl::code, 0.25, -0.0005},
                {"step 2 V", 2.0 * pl::volt, -0.05 * pl::code, 0.25, 0.0005}};
    p.height = 0.5 * pl::volt;
    p.slope = r.result.gain;
    p.centre = 2000.5 * pl::code;
    p.straight = {3.5, 5.99};
    p.by_data_sheet = {0.5, 5.99};
    p.nonlinearity = 0.3 * pl::code;
    p.degrees_of_freedom = 2.0;
    p.measured = true;
    p.drift = 0.004 * pl::volt;
    r.crosstalk = {{"B", "1 V", -1.0 * pl::volt, 1.0 * pl::volt, r.zero.evidence, plain, r.zero.evidence, plain, 2e-4 * pl::one,
                    1e-4 * pl::one, 3e-4 * pl::volt}};
    r.warm_up = pl::calibration::seen_warm_up{{r.turns[0]},      5e-3 * pl::volt,   120.0 * pl::second,
                                              30.0 * pl::second, 60.0 * pl::second, 0.01 * pl::volt};
    r.supplies = {{"charger attached", r.zero.evidence, plain, r.reference.evidence, plain}};
    pl::calibration::seen_at_two_temperatures& t = r.temperatures.emplace();
    t = {"PS2-0007-2024-11",
         std::string(64, 'c'),
         "2024-11-20",
         {5.0},
         1.0 * pl::kelvin,
         2e-5 / pl::kelvin,
         1e-5 / pl::kelvin,
         -3e-5 * pl::volt / pl::kelvin,
         2e-5 * pl::volt / pl::kelvin,
         pl::calibration::seen_at_two_temperatures::at_centre{2.0 * pl::volt, -1e-5 * pl::volt / pl::kelvin,
                                                              1e-5 * pl::volt / pl::kelvin}};
    return r;
}

inline pl::record::record record() {
    using namespace plumbline::uncertainty;
    pl::record::record r;
    r.number = "PS2-0007-2025-03";
    r.replaces = "PS2-0007-2024-11";
    r.reason = "wrong serial number";
    r.device = {"pocket scope", "home-built", "PS-2", "0007", "1.4.0", "new battery"};
    r.owner = {"Ravenbrook Modular Workshop", "4 Mill Lane, Ravenbrook"};
    r.calibrated_by = {"Vera Lindqvist", "vera@ravenbrook.example"};
    r.authorised_by = "Vera Lindqvist";
    r.place = "electronics bench";
    r.dates = {"2025-03-13", "2025-03-14", "2025-03-14", "2025-03-15"};
    r.ambient = {{22.5}, 1.0 * pl::kelvin, 45.0, 30.0};
    r.method = {"Two points.\nThen checks with \"\xc2\xb1\".", "none", "time base"};
    r.data_from_others = "data sheets";
    r.invented = "all of it";
    pl::calibration::reference shorted{"short", "shorting plug", "", "", "", "", {}, {}};
    shorted.output = pl::calibration::stated_voltage{0.0 * pl::volt, pl::calibration::limits{2e-05 * pl::volt}};
    pl::calibration::reference part{"ref-4v096", "reference part", "Hollin", "HS4096B", "lot 2431", "", {}, {}};
    part.output = pl::calibration::stated_voltage{4.096 * pl::volt, pl::calibration::limits{0.0041 * pl::volt}};
    pl::calibration::reference divider{"ref-0v8", "divider", "", "", "", "", {}, {}};
    divider.divider = pl::calibration::divided{"ref-4v096", resistor(1650.0), resistor(402.0), pl::celsius{25.0}};
    pl::calibration::reference meter{"meter", "bench meter", "Aldous", "A55", "A55-1193", "certificate AI-2024-0876", {}, {}};
    pl::calibration::reference specified{"meter 2", "meter by its specification", "", "", "", "", {}, {}};
    specified.meter = pl::calibration::meter{
        0.005 * pl::one, 2.0, 0.001 * pl::volt, 6.0 * pl::volt, pl::calibration::temperature_band{{18.0}, {28.0}}, 0.1,
        1e7 * pl::ohm};
    specified.meter->at_limit = true;
    specified.valid_from = "2024-11-05";
    specified.valid_until = "2025-11-05";
    pl::calibration::reference five{"five", "part by its data sheet", "", "", "", "", {}, {}};
    five.part = pl::calibration::reference_part{5.0 * pl::volt, 0.001 * pl::one, {25.0},         1e-5 * pl::one / pl::kelvin,
                                                2e-4 * pl::one, 1e-4 * pl::one,  1e-5 * pl::volt};
    five.valid = pl::calibration::temperature_band{{0.0}, {70.0}};
    r.references = {shorted, part, divider, meter, specified, five};
    r.model = {pl::calibration::model_name, pl::calibration::model_version};
    r.inputs.add({"a", "normal one", "data sheet", "V", 4.096, normal{0.001, infinite}});
    r.inputs.add({"b", "rectangular one", "data sheet", "code", 0.0, rectangular{0.5}});
    r.inputs.add({"c", "triangular one", "data sheet", "1", -0.25, triangular{0.0125}});
    r.inputs.add({"t", "trapezoidal one", "data sheet", "1", 0.0, trapezoidal{0.02, 0.01}});
    r.inputs.add({"s", "arcsine one", "data sheet", "V", 0.0, arcsine{0.003}});
    r.inputs.add({"p", "two-point one", "data sheet", "V", 0.0, two_point{0.02}});
    r.inputs.add({"d", "repeated one", "capture zero.csv", "code", 2045.25, repeated{0.02, 1889.5}});
    r.inputs.add(
        {"e", "temperature effect", "data sheet", "1", 0.0, coefficient_times_difference{5e-05, 0.0, 1.0, "", "temperature"}});
    r.inputs.add(
        {"f", "offset drift", "data sheet", "V", 0.0, coefficient_times_difference{2e-06, -1.5, 1.0, "g", "temperature"}});
    r.correlations = {{"a", "d", -0.25}};
    pl::calibration::comparison compared;
    compared.name = "5 V";
    compared.first.reference = "ref-4v096";
    compared.second.reference = "meter 2";
    compared.second.indicated = 4.097 * pl::volt;
    compared.difference = 0.001 * pl::volt;
    compared.U = 0.02 * pl::volt;
    compared.k = 1.9;
    compared.e_n = 0.05;
    r.comparisons = {compared};
    r.ranges = {range()};
    pl::calibration::clock_calibration& c = r.clock.emplace();
    c.channel = "A";
    c.range = "10 V";
    c.evidence = r.ranges[0].zero.evidence;
    c.nominal = 10000.0 * pl::hertz;
    c.known = {1000.0 * pl::hertz, {}, 0.01 * pl::hertz, 2.0};
    c.source = "frequency counter";
    c.traceability = "certificate AI-2024-0877";
    c.ambient = {22.5};
    c.rate = 10012.5 * pl::hertz;
    c.u_by_phase = 0.01 * pl::hertz;
    c.degrees_of_freedom = 14.0;
    c.u_by_reference = 0.05 * pl::hertz;
    c.U = 0.103 * pl::hertz;
    c.k = 2.01;
    c.evidence.column = "";
    c.evidence.format = pl::capture::code_format::signed_16_little_endian;
    r.clock_tolerance = 0.02 * pl::one;
    return r;
}

/// A record of a probe, with everything that it may hold.
inline pl::record::record probe() {
    pl::record::record r;
    const pl::record::record of = record();
    r.what = pl::record::kind::probe;
    r.number = "PP1-0021-2025-03";
    r.device = {"probe", "home-built", "PP-1", "0021", "", ""};
    r.owner = of.owner;
    r.calibrated_by = of.calibrated_by;
    r.authorised_by = of.authorised_by;
    r.place = of.place;
    r.dates = of.dates;
    r.ambient = of.ambient;
    r.method = of.method;
    pl::calibration::probe_calibration& p = r.probe.emplace();
    p.described.series = 9e6 * pl::ohm;
    p.described.tolerance = 0.01 * pl::one;
    p.described.tip_capacitance = 12e-12 * pl::farad;
    p.described.bandwidth = 5e6 * pl::hertz;
    p.described.rating = 150.0 * pl::volt;
    p.on = {of.number, std::string(64, 'c'), "PS-2", "0007", "A", "10 V", 1.1767e6 * pl::ohm};
    const auto capture = [](const char* file) {
        return pl::calibration::capture_evidence{file, "A", std::string(64, 'd'), 1e6 * pl::hertz};
    };
    const pl::calibration::wave fed{1e3 * pl::hertz, 1e-6 * pl::second, 0.002 * pl::one};
    p.compensation = {fed,
                      capture("step.csv"),
                      -0.0625 * pl::one,
                      0.0087 * pl::one,
                      2.9e-5 * pl::second,
                      1e-6 * pl::second,
                      1.2e-6 * pl::second,
                      0.0 * pl::one,
                      0.021 * pl::one,
                      339.5 * pl::code,
                      7};
    p.division = pl::calibration::division{
        fed, capture("direct.csv"), capture("divided.csv"), 8.699 * pl::one, 0.043 * pl::one, 1e-4 / pl::kelvin};
    return r;
}

/// A check on site that went well.
inline pl::record::intermediate_check on_site() {
    const pl::calibration::capture_evidence capture{"zero.csv", "", std::string(64, 'e'), 1e4 * pl::hertz};
    return {"2025-03-20",
            "after a fall",
            "A",
            "10 V",
            {21.5},
            {capture, 0.001 * pl::volt, 0.011 * pl::volt, 0.0 * pl::volt, 5e-5 * pl::volt, 0.0625},
            {capture, 2.5 * pl::volt, 0.011 * pl::volt, 2.5 * pl::volt, 0.001 * pl::volt, 0.0},
            "reads as the record says"};
}

}  // namespace sample
