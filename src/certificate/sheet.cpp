#include "sheet.hpp"

#include <algorithm>
#include <cstddef>
#include <plumbline/record/record.hpp>
#include <string>
#include <utility>
#include <variant>

#include "further_evidence.hpp"
#include "printable.hpp"
#include "probe_sections.hpp"
#include "range_sections.hpp"

namespace plumbline::inline v0::certificate {
namespace {

std::string device_word(const record::record& of) { return of.what == record::kind::probe ? "Probe" : "Instrument"; }

std::string joined(const std::vector<std::string>& parts) {
    std::string all;
    for (const std::string& part : parts) all += (all.empty() ? "" : ", ") + part;
    return all;
}

/// The day, or the first and the last.
std::string calibration_date(const record::record& of) {
    const std::string begun = stated(of.dates.begun);
    return of.dates.begun == of.dates.ended ? begun : begun + " to " + stated(of.dates.ended);
}

/// What a reader wants to know first, and what the results say and do not say.
section in_short(const record::record& of, rounding how) {
    const auto chained = std::count_if(of.references.begin(), of.references.end(),
                                       [](const calibration::reference& r) { return !stated(r.traceability, "").empty(); });
    const auto ranges_where = [&](const auto& holds) { return std::any_of(of.ranges.begin(), of.ranges.end(), holds); };
    const bool found = ranges_where([](const calibration::range_calibration& r) {
        return std::any_of(r.checks.begin(), r.checks.end(), [](const calibration::check_point& c) { return c.as_found; });
    });
    std::size_t findings = 0;
    for (const calibration::range_calibration& r : of.ranges) findings += r.findings.size();

    fields lead{"", {}};
    lead.all = {
        {"Device", joined({stated(of.device.model, "model not stated"), "serial number " + stated(of.device.serial),
                           stated(of.device.description)})},
        {"Calibrated", calibration_date(of) + ", by " + stated(of.calibrated_by.name, "a person not stated")},
        {"Findings", findings == 0 ? "none" : std::to_string(findings) + ", listed with their ranges"},
        {"References with a stated chain", of.references.empty() || chained == 0
                                               ? "none: no traceability claimed"
                                               : std::to_string(chained) + " of " + std::to_string(of.references.size())}};
    section out = of.probe ? probe_summary(of, how) : summary(of, how);
    out.blocks.insert(out.blocks.begin(), std::move(lead));
    out.blocks.push_back(paragraph{"What these results are:"});
    out.blocks.push_back(items{{
        "The results relate only to the device named here, as it was on the date of calibration.",
        "This is an own measurement and not an accredited calibration.",
        found ? "Results as found stand beside those as left; no other adjustment or repair is recorded."
              : "It holds one set of results. Results from before an adjustment or repair: none recorded.",
        "Opinions: none besides the advice that stands with findings.",
    }});
    return out;
}

section identification(const record::record& of) {
    fields all{"", {}};
    all.all = {{"Certificate number", stated(of.number)}, {"Replaces certificate", stated(of.replaces, "none")}};
    if (!of.replaces.empty()) all.all.push_back({"Reason of the amendment", stated(of.reason)});
    for (const field& f :
         {field{"Date received", stated(of.dates.received)}, field{"Date of calibration", calibration_date(of)},
          field{"Date of issue", stated(of.dates.issued)}, field{"Calibrated by", stated(of.calibrated_by.name)},
          field{"Address of whoever calibrated", stated(of.calibrated_by.contact)},
          field{"Place of calibration", stated(of.place)}, field{"Owner", stated(of.owner.name)},
          field{"Contact of the owner", stated(of.owner.contact)}, field{"Authorised by", stated(of.authorised_by)},
          field{"Figures supplied by the owner or others", stated(of.data_from_others, "none")}}) {
        all.all.push_back(f);
    }
    return {"Identification", false, {std::move(all)}};
}

section device(const record::record& of) {
    const record::device& d = of.device;
    fields all{"", {}};
    all.all = {{"What it is", stated(d.description)},
               {"Maker", stated(d.maker)},
               {"Model", stated(d.model)},
               {"Serial number", stated(d.serial)},
               {"Firmware version", stated(d.firmware)},
               {"Condition", stated(d.condition)}};
    std::string covered;
    for (const calibration::range_calibration& r : of.ranges) {
        covered += (covered.empty() ? "" : "; ") + together("channel " + r.channel + " range " + r.range);
    }
    if (of.probe)
        covered = "compensation" + std::string(of.probe->division ? " and factor" : "") + " on " + input_text(of.probe->on);
    all.all.push_back({"Calibrated here", stated(covered, "none")});
    return {device_word(of), false, {std::move(all)}};
}

/// In own words; the figures are those of IEC 61010 and of common practice (limits of dangerous voltages), no clause quoted.
section cautions() {
    return {"Before you connect anything",
            false,
            {items{{
                "Calibration does not make an instrument safe, and this certificate is no safety approval. Local electrical "
                "codes and the "
                "practice of licensed trades come first.",
                "Not rated for any measurement category (IEC 61010 CAT\u00A0II, III or IV). Never connect it to mains, to "
                "building wiring or to "
                "equipment fed straight from them. The output of an inverter is mains too.",
                "Treat anything above 30\u00A0V AC rms, 42.4\u00A0V peak or 60\u00A0V DC as dangerous, and less than that when "
                "wet. Stay below the limits of "
                "input and probe: a measuring range is not a rating.",
                "Hold probes behind the finger guard. Connect ground first and remove it last. Do not use a damaged lead.",
                "With a USB cable plugged in, the ground clip is the earth of the computer: clipped to a live point it shorts "
                "that point. All "
                "channels share one ground: clipped to two potentials it shorts them. Calibrate on battery or isolated.",
                "Lithium cell: charge it watched, with its own protection and charger, between about 0 and 45\u00A0°C. Stop "
                "using a cell that is "
                "swollen, hot, dented or wet. Do not adjust the instrument while it charges.",
                "A shorted 12\u00A0V battery gives hundreds of amperes: use a fused lead, take off rings and watches. The "
                "open-circuit voltage of a "
                "solar panel is far above 12\u00A0V.",
                "Vehicles: keep away from airbag and belt-tensioner circuits, from orange high-voltage cables and from ignition "
                "without a rated "
                "attenuator.",
            }}}};
}

section conditions(const record::record& of) {
    const record::ambient& a = of.ambient;
    fields all{"", {}};
    all.all = {
        {"Method", stated(of.method.text)},
        {"Added, changed or left out", stated(of.method.deviations, "none")},
        {"Not covered", stated(of.method.not_covered)},
        {"Measurement model", of.probe ? "one settling and a straight droop, fitted to a square wave; steps by least squares"
                                       : stated(of.model.name) + ", version " + std::to_string(of.model.version)},
        {"Ambient temperature",
         together('(' + as_stated(a.temperature.degrees, "") + " ± " + as_stated(a.temperature_half_width.value(), "") + ") °C") +
             " (limits)"},
        {"Relative humidity", a.humidity_percent ? together(as_stated(*a.humidity_percent, "") + " %") : "not stated"},
        {"Warm-up", together(as_stated(a.warm_up_minutes, "") + " minutes")}};
    if (!of.probe) all.all.push_back({"Supply", "with the mode of each range below"});
    return {"Method and conditions", false, {std::move(all)}};
}

template <class Quantity>
std::string limits_text(Quantity half_width) {
    return together("±" + as_stated(half_width));
}

std::string band_text(const calibration::temperature_band& band) {
    return together(as_stated(band.low.degrees, "") + " °C") + " to " + together(as_stated(band.high.degrees, "") + " °C");
}

void describe(fields& to, const calibration::meter& m) {
    to.all.push_back({"Specification", "±(" + together(as_stated(m.of_reading)) + " of reading + " +
                                           together(as_stated(m.counts, "") + " counts") + " of " + together(as_stated(m.count)) +
                                           "), range " + together(as_stated(m.range)) +
                                           (m.at_limit ? ", taken as standing at its limits" : ", taken as rectangular")});
    if (m.band) {
        to.all.push_back({"Holds at", band_text(*m.band) + "; outside, wider by " +
                                          together(as_stated(100.0 * m.outside_per_kelvin, "") + " %") +
                                          " of itself per kelvin"});
    }
    to.all.push_back({"Input resistance", together(as_stated(m.input_resistance))});
}

void describe(fields& to, const calibration::reference_part& p) {
    to.all.push_back({"Output", together(as_stated(p.nominal)) + ' ' + limits_text(p.initial_tolerance) + " at " +
                                    together(as_stated(p.nominal_temperature.degrees, "") + " °C") + ", " +
                                    limits_text(p.temperature_coefficient)});
    to.all.push_back({"Ageing", limits_text(p.ageing)});
    to.all.push_back({"Line and load regulation", limits_text(p.regulation)});
    to.all.push_back({"Noise", together(as_stated(p.noise)) + " (standard uncertainty)"});
}

/// Two references at one voltage: both stand, and neither is averaged away.
void add_comparisons(section& to, const record::record& of) {
    if (of.comparisons.empty()) {
        to.blocks.push_back(paragraph{"References compared with each other: none."});
        return;
    }
    table compared{"References compared with each other; E_n is the difference divided by its U, and above 1 they disagree",
                   {"comparison", "first", "second", "second less first, with U", "k", "E_n", "agree"},
                   {},
                   true};
    for (const calibration::comparison& c : of.comparisons) {
        compared.rows.push_back({c.name, '[' + c.first.reference + ']', '[' + c.second.reference + ']',
                                 together(round_with_prefix(c.difference, c.U).plus_minus()), fixed(c.k, 2), fixed(c.e_n, 2),
                                 c.e_n <= 1.0 ? "yes" : "no: at least one statement is wrong"});
    }
    to.blocks.push_back(std::move(compared));
}

section references(const record::record& of) {
    section out{"References and traceability", false, {}};
    if (of.references.empty()) out.blocks.push_back(paragraph{"None; no traceability claimed."});
    for (const calibration::reference& r : of.references) {
        fields one{stated(r.description, "Reference") + " [" + r.id + ']', {}};
        one.all = {{"Maker", stated(r.maker)}, {"Model", stated(r.model)}, {"Serial number", stated(r.serial)}};
        if (r.output) one.all.push_back({"Output", stated_voltage_text(*r.output)});
        if (r.divider) {
            one.all.push_back({"Divides", "reference [" + r.divider->from + ']'});
            one.all.push_back({"Top resistor", resistor_text(r.divider->top)});
            one.all.push_back({"Bottom resistor", resistor_text(r.divider->bottom)});
            if (r.divider->nominal_temperature) {
                one.all.push_back(
                    {"Nominal values at", together(as_stated(r.divider->nominal_temperature->degrees, "") + " °C")});
            }
        }
        if (r.meter) describe(one, *r.meter);
        if (r.part) describe(one, *r.part);
        if (!r.output && !r.divider && !r.meter && !r.part) one.all.push_back({"Output", "stated with each step"});
        if (!r.valid_from.empty() || !r.valid_until.empty()) {
            one.all.push_back({"Statement valid", stated(r.valid_from, "from a date not stated") + " to " +
                                                      stated(r.valid_until, "a date not stated")});
        }
        if (r.valid) one.all.push_back({"Statement valid at", band_text(*r.valid)});
        one.all.push_back({"Traceability", stated(r.traceability, "no traceability claimed")});
        out.blocks.push_back(std::move(one));
    }
    add_comparisons(out, of);
    return out;
}

section reading_guide(const record::record& of, rounding how) {
    const std::string exact = together(fixed(100.0 * of.coverage_probability, 2) + " %");
    const std::string about = together(fixed(100.0 * of.coverage_probability, 0) + " %");
    section out{"How the uncertainty is stated", false, {}};
    const std::string digits =
        std::string("Every U has two significant digits, rounded ") + (how == rounding::up ? "up" : "to nearest") +
        "; the value has the same last place. Rounded figures are for reading: the record holds them in full.";
    if (of.probe) {
        out.blocks = {
            paragraph{
                "U is the standard uncertainty u times k = 2, chosen so that value ± U covers the true value with a probability "
                "of "
                "about 95 %. The evaluation follows JCGM 100:2008 (GUM). U includes noise, resolution and non-linearity of the "
                "instrument by its data sheet, what the model of one settling leaves, and the droop of the square wave. A rise "
                "time is good to "
                "one sample."},
            paragraph{"Drift afterwards, other temperatures, other inputs and the resistance of the square wave's source are not "
                      "part of U."},
            paragraph{digits}};
        return out;
    }
    out.blocks.push_back(paragraph{
        "U is the standard uncertainty u times the coverage factor k printed with it, chosen so that value ± U covers "
        "the true value with a "
        "probability of about " +
        about + " (" + exact +
        "). The evaluation follows JCGM 100:2008 (GUM). k was found by numerical convolution of the distributions of all "
        "inputs, scatter as Student's t; where a star follows it, it is that of Student's t at the effective degrees of "
        "freedom."});
    out.blocks.push_back(
        paragraph{"U includes what happened during the calibration: reference, scatter, resolution, non-linearity, temperature. "
                  "Drift afterwards, "
                  "other temperatures, other modes, other sources and probes attached later are not part of U."});
    out.blocks.push_back(paragraph{digits});
    const bool compared = std::any_of(of.ranges.begin(), of.ranges.end(), [](const auto& r) { return r.by_trials.has_value(); });
    if (compared) {
        out.blocks.push_back(paragraph{
            "This is first order. It was compared with Monte Carlo, which runs the whole model by random trials of all "
            "inputs (JCGM 101:2008, clause 8). Validated means: both ends of value ± U are within the tolerance of those "
            "of the interval by trials, which has as many trials below as above it. The tolerance is half a unit of the "
            "last significant digit of u that is counted there."});
    }
    if (!of.correlations.empty()) {
        items stated_ones;
        for (const uncertainty::correlation& c : of.correlations) {
            stated_ones.texts.push_back(c.first + " with " + c.second + ": r = " + fixed(c.coefficient, 3));
        }
        out.blocks.push_back(paragraph{"Correlations stated between inputs, besides the inputs that results share:"});
        out.blocks.push_back(std::move(stated_ones));
    }
    return out;
}

void make_printable(std::string& text) { text = printable(text); }

void make_printable(std::vector<std::string>& texts) {
    for (std::string& t : texts) make_printable(t);
}

void make_printable(paragraph& p) { make_printable(p.text); }
void make_printable(items& i) { make_printable(i.texts); }
void make_printable(fields& f) {
    make_printable(f.caption);
    for (field& one : f.all) make_printable(one.value);
}
void make_printable(table& t) {
    make_printable(t.caption);
    for (auto& row : t.rows) make_printable(row);
}
void make_printable(picture& p) {
    make_printable(p.title);
    make_printable(p.description);
    for (picture::label& one : p.labels) make_printable(one.text);
}

void make_printable(sheet& s) {
    make_printable(s.number);
    make_printable(s.notices);
    make_printable(s.end_mark);
    for (section& part : s.sections) {
        make_printable(part.heading);
        for (block& b : part.blocks) std::visit([](auto& any) { make_printable(any); }, b);
    }
}

}  // namespace

std::string stated(const std::string& text, const char* absent) {
    return text.find_first_not_of(" \t\r\n") == std::string::npos ? absent : text;
}

std::string together(std::string figure) {
    for (std::size_t at = figure.find(' '); at != std::string::npos; at = figure.find(' ', at)) figure.replace(at, 1, "\xC2\xA0");
    return figure;
}

sheet make_sheet(const record::record& of, rounding how) {
    sheet out;
    out.title = "Calibration certificate";
    out.subtitle = "Own measurement, not an accredited calibration";
    out.number = stated(of.number);
    if (!of.invented.empty()) out.notices.push_back("Invented data: " + of.invented);
    if (!of.replaces.empty()) {
        out.notices.push_back("Amended certificate: it replaces number " + of.replaces + ". Reason: " + stated(of.reason));
    }
    out.notices.push_back("Safety: not for mains or building wiring. Read \u201CBefore you connect anything\u201D first.");
    out.sections = {in_short(of, how),     cautions(), device(of), identification(of), conditions(of), references(of),
                    reading_guide(of, how)};
    const auto add = [&](std::vector<section> parts) {
        for (section& one : parts) out.sections.push_back(std::move(one));
    };
    if (of.probe) add(probe_sections(of, how));
    for (const calibration::range_calibration& r : of.ranges) add(range_sections(of, r, how));
    if (of.clock || of.clock_tolerance) out.sections.push_back(clock_section(of, how));
    if (!of.intermediate.empty() || !of.stored.empty()) out.sections.push_back(later_checks(of, how));
    int main = 0;
    int part = 0;
    for (section& s : out.sections) {
        part = s.part_of_previous ? part + 1 : 0;
        if (!s.part_of_previous) ++main;
        s.number = std::to_string(main) + (part == 0 ? "" : '.' + std::to_string(part));
    }
    out.end_mark = "End of certificate " + out.number;
    make_printable(out);
    return out;
}

}  // namespace plumbline::inline v0::certificate
