#include "../slow_build.hpp"

#include <plumbline/certificate/certificate.hpp>

#include <doctest/doctest.h>
#include <algorithm>
#include <certificate/example_record.hpp>
#include <certificate/page_check.hpp>
#include <clocale>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <locale>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <regex>
#include <string>
#include <utility>
#include <vector>

namespace certificate_test {

using namespace plumbline;
using certificate::rounding;
using the_record = plumbline::record::record;

namespace {

void replace_all(std::string& in, const std::string& what, const std::string& by) {
    for (std::size_t at = in.find(what); at != std::string::npos; at = in.find(what, at + by.size()))
        in.replace(at, what.size(), by);
}

/// What is read aloud: no line breaks, one blank between words.
std::string words(std::string text) {
    replace_all(text, "\xC2\xA0", " ");
    return std::regex_replace(text, std::regex("\\s+"), " ");
}

/// The same of a page: without its head, its tags and its entities.
std::string words_of_page(std::string page) {
    page.erase(0, page.find("<body>"));
    replace_all(page, "</dt><dd>", ": ");
    page = std::regex_replace(page, std::regex("<[^>]*>"), " ");
    for (const auto& [entity, character] :
         {std::pair{"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&apos;", "'"}, {"&amp;", "&"}}) {
        replace_all(page, entity, character);
    }
    return words(page);
}

bool contains(const std::string& text, const std::string& needle) { return text.find(needle) != std::string::npos; }

/// What a certificate must say, what takes it out of the record, and what the certificate says then.
struct requirement {
    std::string clause;
    std::string needle;
    std::function<void(the_record&)> remove;
    std::string instead;
};

std::vector<requirement> requirements() {
    return {
        {"ISO/IEC 17025:2017, 7.8.2.1 b", "Calibrated by: Vera Lindqvist", [](the_record& r) { r.calibrated_by.name = ""; },
         "Calibrated by: not stated"},
        {"7.8.2.1 b", "Address of whoever calibrated: vera@ravenbrook.example",
         [](the_record& r) { r.calibrated_by.contact = " \n"; }, "Address of whoever calibrated: not stated"},
        {"7.8.2.1 c", "Place of calibration: electronics bench", [](the_record& r) { r.place = ""; },
         "Place of calibration: not stated"},
        {"7.8.2.1 d", "Certificate number: PS2-0007-2025-03", [](the_record& r) { r.number = ""; },
         "Certificate number: not stated"},
        {"7.8.2.1 d", "End of certificate PS2-0007-2025-03", [](the_record& r) { r.number = "X-1"; }, "End of certificate X-1"},
        {"7.8.2.1 e", "Owner: Ravenbrook Modular Workshop", [](the_record& r) { r.owner.name = ""; }, "Owner: not stated"},
        {"7.8.2.1 e", "Contact of the owner: 4 Mill Lane, Ravenbrook", [](the_record& r) { r.owner.contact = ""; },
         "Contact of the owner: not stated"},
        {"7.8.2.1 f", "Method: One capture with the input shorted", [](the_record& r) { r.method.text = ""; },
         "Method: not stated"},
        {"7.8.2.1 n", "Added, changed or left out: no second channel", [](the_record& r) { r.method.deviations = ""; },
         "Added, changed or left out: none"},
        {"what was not covered", "Not covered: time base, bandwidth", [](the_record& r) { r.method.not_covered = ""; },
         "Not covered: not stated"},
        {"7.8.2.1 g", "What it is: pocket oscilloscope", [](the_record& r) { r.device.description = ""; },
         "What it is: not stated"},
        {"7.8.2.1 g", "Maker: home-built by Vera Lindqvist", [](the_record& r) { r.device.maker = ""; }, "Maker: not stated"},
        {"7.8.2.1 g", "Model: PS-2", [](the_record& r) { r.device.model = ""; }, "Model: not stated"},
        {"7.8.2.1 g", "Serial number: 0007", [](the_record& r) { r.device.serial = ""; }, "Serial number: not stated"},
        {"7.8.2.1 g", "Firmware version: 1.4.0", [](the_record& r) { r.device.firmware = ""; }, "Firmware version: not stated"},
        {"7.8.2.1 g", "Condition: fresh battery", [](the_record& r) { r.device.condition = ""; }, "Condition: not stated"},
        {"7.8.2.1 g", "Calibrated here: channel A range 10 V", [](the_record& r) { r.ranges.clear(); }, "Calibrated here: none"},
        {"7.8.2.1 h", "Date received: 2025-03-12", [](the_record& r) { r.dates.received = ""; }, "Date received: not stated"},
        {"7.8.2.1 i", "Date of calibration: 2025-03-14 to 2025-03-15", [](the_record& r) { r.dates.ended = r.dates.begun; },
         "Date of calibration: 2025-03-14 "},
        {"7.8.2.1 j", "Date of issue: 2025-03-16", [](the_record& r) { r.dates.issued = ""; }, "Date of issue: not stated"},
        {"7.8.2.1 m", "Gain: 5.37", [](the_record& r) { r.ranges.clear(); }, "None: no range was calibrated."},
        {"7.8.2.1 o", "Authorised by: Ada Orme", [](the_record& r) { r.authorised_by = ""; }, "Authorised by: not stated"},
        {"7.8.2.1 p, 7.8.2.2", "Figures supplied by the owner or others: limits of the data sheets",
         [](the_record& r) { r.data_from_others = ""; }, "Figures supplied by the owner or others: none"},
        {"7.8.4.1 b", "Ambient temperature: (22.5 ± 1) °C (limits)", [](the_record& r) { r.ambient.temperature.degrees = 19.0; },
         "Ambient temperature: (19 ± 1) °C (limits)"},
        {"7.8.4.1 b", "Relative humidity: 45 %", [](the_record& r) { r.ambient.humidity_percent.reset(); },
         "Relative humidity: not stated"},
        {"7.8.4.1 b", "Warm-up: 30 minutes", [](the_record& r) { r.ambient.warm_up_minutes = 0.0; }, "Warm-up: 0 minutes"},
        {"7.8.4.1 b", "Supply: battery", [](the_record& r) { r.ranges[0].mode.supply = ""; }, "Supply: not stated"},
        {"7.8.4.1 c", "Traceability: certificate AI-2024-0876", [](the_record& r) { r.references[2].traceability = ""; },
         "Traceability: no traceability claimed"},
        {"7.8.4.1 c", "Serial number: A55-1193", [](the_record& r) { r.references[2].serial = ""; }, "Serial number: not stated"},
        {"7.8.4.1 e, 7.8.6", "Specification: error within ±(30 mV + 0.3 % of the voltage).",
         [](the_record& r) { r.ranges[0].limit = {}; }, "No specification was stated, so there is no statement of conformity."},
        {"7.8.6", "Decision rule: simple acceptance: pass on or inside the limits, else fail",
         [](the_record& r) { r.ranges[0].checks.clear(); }, "No statement of conformity."},
        {"7.8.6", "right at a limit the risk of a wrong verdict is up to 50 % (JCGM 106:2012, 8.2)",
         [](the_record& r) { r.ranges[0].checks.clear(); }, "Two points cannot show non-linearity"},
        {"a check with the reference that calibrated",
         "Not a test of the reference, at 4.0960 V:", [](the_record& r) { r.ranges[0].checks.pop_back(); }, "yes"},
        {"7.8.7", "What is advised is an opinion, not a result.", [](the_record& r) { r.ranges[0].findings.clear(); },
         "Findings"},
        {"7.8.7", "Finding 7, zero step, channel A: the noise is half of the data sheet's; nothing to do",
         [](the_record& r) { r.ranges[0].findings.clear(); }, "None."},
        {"6.4.13", "captures/zero.csv, column A, 10 kHz", [](the_record& r) { r.ranges[0].zero.evidence.file = ""; },
         "not stated, column A, 10 kHz"},
        {"6.4.13", "SHA-256 " + std::string(64, 'b'), [](the_record& r) { r.ranges[0].zero.evidence.sha256 = ""; },
         "SHA-256 not stated"},
        {"model", "Measurement model: lines through steps, version 7",
         [](the_record& r) {
             r.model = {"", 3};
         },
         "Measurement model: not stated, version 3"},
        {"invented data", "Invented data: instrument, people, references and captures do not exist.",
         [](the_record& r) { r.invented = ""; }, "Own measurement, not an accredited calibration"},
        {"GUM 7.2.3", "probability of about 95 % (95.45 %)", [](the_record& r) { r.coverage_probability = 0.99; },
         "probability of about 99 % (99.00 %)"},
    };
}

the_record with_digest() {
    the_record r = example::pocket_scope();
    r.ranges[0].zero.evidence.sha256 = std::string(64, 'b');
    return r;
}

/// Every text of a record that no figure depends on.
std::vector<std::string*> texts_of(the_record& r) {
    std::vector<std::string*> all = {&r.number,
                                     &r.replaces,
                                     &r.reason,
                                     &r.device.description,
                                     &r.device.maker,
                                     &r.device.model,
                                     &r.device.serial,
                                     &r.device.firmware,
                                     &r.device.condition,
                                     &r.owner.name,
                                     &r.owner.contact,
                                     &r.calibrated_by.name,
                                     &r.calibrated_by.contact,
                                     &r.authorised_by,
                                     &r.place,
                                     &r.dates.received,
                                     &r.dates.begun,
                                     &r.dates.ended,
                                     &r.dates.issued,
                                     &r.method.text,
                                     &r.method.deviations,
                                     &r.method.not_covered,
                                     &r.data_from_others,
                                     &r.invented,
                                     &r.model.name};
    for (calibration::reference& ref : r.references) {
        for (std::string* text : {&ref.description, &ref.maker, &ref.model, &ref.serial, &ref.traceability}) all.push_back(text);
    }
    for (calibration::range_calibration& range : r.ranges) {
        for (std::string* text : {&range.mode.coupling, &range.mode.supply, &range.mode.sampling, &range.zero.evidence.file,
                                  &range.zero.evidence.column, &range.zero.evidence.sha256}) {
            all.push_back(text);
        }
        for (calibration::finding& f : range.findings) {
            all.push_back(&f.where);
            all.push_back(&f.text);
        }
    }
    return all;
}

std::size_t longest_line(const std::string& text) {
    std::size_t longest = 0;
    std::size_t length = 0;
    for (const char c : text) {
        if (c == '\n') {
            length = 0;
        } else if ((static_cast<unsigned char>(c) & 0xC0u) != 0x80u) {
            longest = std::max(longest, ++length);
        }
    }
    return longest;
}

struct comma_for_a_point : std::numpunct<char> {
    [[nodiscard]] char do_decimal_point() const override { return ','; }
    [[nodiscard]] char do_thousands_sep() const override { return '.'; }
    [[nodiscard]] std::string do_grouping() const override { return "\3"; }
};

/// A comma locale of C++, and of C where the system has one, for as long as it lives.
class comma_locale {
public:
    comma_locale() : before_(std::locale::global(std::locale(std::locale::classic(), new comma_for_a_point))) {
        for (const char* name : {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8"}) {
            if (std::setlocale(LC_ALL, name) != nullptr) break;
        }
    }
    ~comma_locale() {
        std::locale::global(before_);
        std::setlocale(LC_ALL, "C");
    }
    comma_locale(const comma_locale&) = delete;
    comma_locale& operator=(const comma_locale&) = delete;

private:
    std::locale before_;
};

}  // namespace

TEST_CASE("each item that a certificate must show is there, and its absence is said") {
    const the_record complete = with_digest();
    const std::string text = words(certificate::text(complete));
    const std::string page = words_of_page(certificate::html(complete));
    slow::choice looked_at;
    for (const requirement& required : requirements()) {
        if (!looked_at()) continue;
        CAPTURE(required.clause);
        CAPTURE(required.needle);
        the_record without = complete;
        required.remove(without);
        const std::string text_without = words(certificate::text(without));
        const std::string page_without = words_of_page(certificate::html(without));
        CHECK(contains(text, required.needle));
        CHECK(contains(page, required.needle));
        CHECK_FALSE(contains(text_without, required.needle));
        CHECK_FALSE(contains(page_without, required.needle));
        CHECK(contains(text_without, required.instead));
        CHECK(contains(page_without, required.instead));
    }
}

TEST_CASE("every certificate carries the statements that depend on no data") {
    const the_record r = example::pocket_scope();
    for (const std::string& said : {words(certificate::text(r)), words_of_page(certificate::html(r))}) {
        for (const char* statement :
             {"Calibration certificate", "Own measurement, not an accredited calibration",
              "U is the standard uncertainty u times the coverage factor k printed with it",
              "The evaluation follows JCGM 100:2008 (GUM).",
              "where a star follows it, it is that of Student's t at the effective degrees of freedom",
              "Drift afterwards, other temperatures, other modes, other sources and probes attached later are not part of U.",
              "The results relate only to the device named here, as it was on the date of calibration.",
              "This is an own measurement and not an accredited calibration.",
              "Results from before an adjustment or repair: none recorded.",
              "Gain and offset come from the same two steps and are correlated",
              "Calibration does not make an instrument safe, and this certificate is no safety approval.",
              "Local electrical codes and the practice of licensed trades come first.",
              "Not rated for any measurement category (IEC 61010 CAT II, III or IV).",
              "Treat anything above 30 V AC rms, 42.4 V peak or 60 V DC as dangerous", "Hold probes behind the finger guard.",
              "the ground clip is the earth of the computer", "Lithium cell: charge it watched", "A shorted 12 V battery"}) {
            CAPTURE(statement);
            CHECK(contains(said, statement));
        }
        CHECK(said.find("Invented data") < said.find("Identification"));
        CHECK(said.find("Safety: not for mains or building wiring.") < said.find("Results in short"));
        CHECK(said.find("2. Before you connect anything") < said.find("3. Instrument"));
        CHECK_FALSE(contains(said, "due"));
        CHECK_FALSE(contains(said, "interval"));
    }
}

TEST_CASE("an amended certificate says so first, with its reason and what it replaces") {
    the_record r = example::pocket_scope();
    r.replaces = "PS2-0007-2025-02";
    r.reason = "serial number corrected";
    const std::string notice = "Amended certificate: it replaces number PS2-0007-2025-02. Reason: serial number corrected";
    for (const std::string& said : {words(certificate::text(r)), words_of_page(certificate::html(r))}) {
        CHECK(said.find(notice) < said.find("Identification"));
        CHECK(contains(said, "Replaces certificate: PS2-0007-2025-02 "));
    }
}

TEST_CASE("the U printed is that of the library's budget, rounded as asked") {
    const the_record r = example::pocket_scope();
    const calibration::range_calibration& range = r.ranges[0];
    const codes at = calibration::code_at(range, range.chain.high);
    const auto when = calibration::at_calibration(range);
    const auto after = make_convolved_budget(calibration::reading(r.inputs, r.references, range, at, when));
    const auto before = make_convolved_budget(calibration::uncalibrated_reading(r.inputs, range, at, when));
    for (const rounding how : {rounding::nearest, rounding::up}) {
        const std::string said = words(certificate::text(r, how));
        const auto U = [&](const auto& b) { return certificate::round_with_prefix(0.0, b.U, "V", how).U_with_unit(); };
        CHECK(contains(said, "reading 10 V: U " + U(after) + "; k " + certificate::fixed(after.covered.k, 2) +
                                 "; degrees of freedom over 1000; U uncalibrated " + U(before) + "; k uncalibrated " +
                                 certificate::fixed(before.covered.k, 2) + '.'));
        CHECK(contains(said, "Reading ± U: " + certificate::round_with_prefix(after.value, after.U, "V", how).plus_minus()));
        CHECK(contains(
            said, how == rounding::up ? "two significant digits, rounded up" : "two significant digits, rounded to nearest"));
    }
}

TEST_CASE("a star stands behind k where, and only where, it is that of t: under a stated correlation") {
    the_record r = example::pocket_scope();
    const calibration::range_calibration& range = r.ranges[0];
    const std::string id = range.channel + '/' + range.range;
    for (const bool correlated : {false, true}) {
        if (correlated) r.correlations = {{id + "/zero/mean", id + "/reference/mean", 0.5}};
        const std::string said = words(certificate::text(r));
        for (const double volts : {-10.0, -5.0, -1.0, 0.0, 1.0, 5.0, 10.0}) {
            const codes at = calibration::code_at(range, volts * volt);
            const auto when = calibration::at_calibration(range);
            const auto b = make_convolved_budget(calibration::reading(r.inputs, r.references, range, at, when),
                                                 r.coverage_probability, r.correlations);
            const std::string row = "reading " + certificate::as_stated(volts, "V") + ": U " +
                                    certificate::round_with_prefix(0.0, b.U, "V").U_with_unit();
            CAPTURE(row);
            CHECK((b.covered.how == uncertainty::coverage::method::student_t) == correlated);
            CHECK(contains(said, row + "; k " + certificate::fixed(b.covered.k, 2) + (correlated ? "*;" : ";")));
        }
    }
}

TEST_CASE("each check point is printed with indication, error, U, k, limit and verdict") {
    the_record r = example::pocket_scope();
    r.ranges[0].checks[1].verdict = conformity::verdict::fail;
    r.ranges[0].checks[1].convolved = !r.ranges[0].checks[1].convolved;  // both ways of finding k are printed
    const std::string text = words(certificate::text(r));
    const std::string page = words_of_page(certificate::html(r));
    for (std::size_t i = 0; i < r.ranges[0].checks.size(); ++i) {
        const calibration::check_point& c = r.ranges[0].checks[i];
        const auto with_U = [&](voltage v) { return certificate::round_with_prefix(v, c.U); };
        const std::string k = certificate::fixed(c.k, 2) + (c.convolved ? "" : "*");
        const std::string limit = "±" + certificate::as_stated(c.permissible, 4);
        const std::string verdict = i == 1 ? "fail" : "pass";
        const std::string tests = i == 2 ? "no" : "yes";
        const std::string sure =
            c.conformance_probability > 0.9995 ? "over 99.9 %" : certificate::fixed(100.0 * c.conformance_probability, 1) + " %";
        CHECK(contains(text, c.name + ": applied " + with_U(c.applied_value).value_with_unit() + "; indication " +
                                 with_U(c.indication).value_with_unit() + "; error ± U " + with_U(c.error).plus_minus() + "; k " +
                                 k + "; degrees of freedom over 1000; limit of error " + limit + "; verdict " + verdict +
                                 "; probability of conformity " + sure + "; tests the reference " + tests + '.'));
        CHECK(contains(
            page, with_U(c.error).plus_minus() + ' ' + k + " over 1000 " + limit + ' ' + verdict + ' ' + sure + ' ' + tests));
    }
    CHECK(std::regex_search(
        text,
        std::regex("channel A, 10 V: U at the low end [0-9.]+ mV; U in the middle [0-9.]+ mV; U at the high end [0-9.]+ mV; "
                   "check points as left pass 2 of 3, fail 1\\.")));
    CHECK(std::regex_search(page, std::regex("channel A, 10 V ([0-9.]+ mV ){3}pass 2 of 3, fail 1 ")));
}

TEST_CASE("a unipolar range is shown from its low to its high end") {
    the_record r = example::pocket_scope();
    r.ranges[0].chain.low = 0.0 * volt;
    const std::string text = certificate::text(r);
    std::size_t at = text.find("Uncertainty of readings");
    for (const char* voltage_there : {"- reading 0 V: ", "- reading 1 V: ", "- reading 2.5 V: ", "- reading 5 V: ",
                                      "- reading 7.5 V: ", "- reading 9 V: ", "- reading 10 V: "}) {
        CAPTURE(voltage_there);
        at = text.find(voltage_there, at);
        REQUIRE(at != std::string::npos);
    }
}

TEST_CASE("no line of the text is longer than 80 characters, whatever the record holds") {
    CHECK(longest_line(certificate::text(example::pocket_scope())) <= 80);
    for (const std::string& long_text :
         {std::string(5000, 'x'), std::string("µ") + std::string(500, ' ') + std::string(81, 'y')}) {
        std::string characters;
        for (int i = 0; i < 300; ++i) characters += "Ω";
        the_record r = example::pocket_scope(long_text.substr(0, 100));
        for (std::string* text : texts_of(r)) *text = long_text + characters;
        CHECK(longest_line(certificate::text(r)) == 80);
    }
}

TEST_CASE("hostile text in any field is shown and does nothing") {
    const std::string hostile = "<script>alert(\"1\")</script>&'{{{number}}}{{/sections}}</style>\\";
    the_record r = example::pocket_scope(hostile);
    for (std::string* text : texts_of(r)) *text = hostile;
    r.references[3].id = hostile;
    const std::string page = certificate::html(r);
    CHECK(page_check::fault_of(page) == "");
    CHECK_FALSE(contains(page, "<script"));
    CHECK(contains(page,
                   "<dt>Serial number</dt><dd>&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt;&amp;&apos;{{{number}}}"
                   "{{/sections}}&lt;/style&gt;\\</dd>"));
    CHECK(contains(page, "content: \"Certificate \\3c script\\3e alert\\28 \\22 1\\22 \\29 \\3c \\2f script\\3e \\26 \\27 "));
    std::size_t shown = 0;
    const std::string said = words_of_page(page);
    for (std::size_t at = said.find(hostile); at != std::string::npos; at = said.find(hostile, at + 1)) ++shown;
    CHECK(shown > texts_of(r).size());
    CHECK(contains(words(certificate::text(r)), "Serial number: " + hostile));
}

TEST_CASE("control characters, marks of direction and broken UTF-8 are shown as symbols") {
    the_record r = example::pocket_scope();
    r.device.serial = "a\tb\nc\x7f\x1b[31m" + std::string(1, '\0') + "d";
    r.device.model = "x\u202Ey\uFEFFz\xff\xc0\xaf\xed\xa0\x80\xe2\x82";
    r.number = "N\r\n1";
    const std::string text = certificate::text(r);
    const std::string page = certificate::html(r);
    for (const std::string* form : {&text, &page}) {
        CHECK(contains(*form, "a␉b␊c␡␛[31m␀d"));
        CHECK(contains(*form, "x\uFFFDy\uFFFDz\uFFFD\uFFFD\uFFFD\uFFFD\uFFFD\uFFFD\uFFFD\uFFFD"));
        CHECK(contains(*form, "N␍␊1"));
        CHECK(std::none_of(form->begin(), form->end(), [](char c) { return (c >= 0 && c < ' ' && c != '\n') || c == '\x7f'; }));
    }
}

TEST_CASE("locale and repetition change nothing, the rounding asked for does") {
    const the_record r = example::pocket_scope();
    const std::string text = certificate::text(r);
    const std::string page = certificate::html(r);
    {
        const comma_locale comma;
        CHECK(certificate::text(r) == text);
        CHECK(certificate::html(r) == page);
    }
    CHECK(certificate::text(r) == text);
    CHECK(certificate::html(r) == page);
    CHECK(certificate::text(r, rounding::up) != text);
}

TEST_CASE("infinite degrees of freedom are a word, and a figure that is not finite makes no certificate") {
    the_record r = example::pocket_scope();
    r.ranges[0].checks[0].degrees_of_freedom = uncertainty::infinite;
    r.ranges[0].checks[1].degrees_of_freedom = 12.34;
    const std::string said = words(certificate::text(r));
    CHECK(contains(said, "degrees of freedom infinite; limit"));
    CHECK(contains(said, "degrees of freedom 12.3; limit"));
    CHECK_FALSE(std::regex_search(said, std::regex("(^|[ (±-])(nan|inf)([ ;).]|$)")));

    r.ranges[0].checks[0].U = voltage::from_value(std::numeric_limits<double>::quiet_NaN());
    std::string message;
    try {
        message = certificate::html(r);
    } catch (const bad_input& refused) {
        message = refused.what();
    }
    CHECK(message == "certificate, an uncertainty: not a number, expected a finite figure; look at where it was computed from");
    r.ranges[0].checks.clear();
    r.ranges[0].result.covariance = uncertainty::infinite;
    CHECK_THROWS_AS((void)certificate::text(r), bad_input);
}

TEST_CASE("correlations that the record states are listed") {
    the_record r = example::pocket_scope();
    CHECK_FALSE(contains(words(certificate::text(r)), "Correlations stated between inputs"));
    r.correlations.push_back({"A/10 V/zero/mean", "A/10 V/reference/mean", 0.25});
    CHECK(contains(words(certificate::text(r)),
                   "besides the inputs that results share: - A/10 V/zero/mean with A/10 V/reference/mean: r = 0.250"));
}

TEST_CASE("what was added to the record is printed: meters, parts, conditions of use, results as found, the rule") {
    const the_record r = example::complete_scope();
    const std::string text = words(certificate::text(r));
    const std::string page = words_of_page(certificate::html(r));
    struct said {
        const char* clause;
        const char* needle;
    };
    for (const said& one : {
             said{"7.8.4.1 c", "Specification: ±(300 ppm of reading + 3 counts of 0.1 mV), range 12 V, taken as rectangular"},
             said{"7.8.4.1 c", "Holds at: 18 °C to 28 °C; outside, wider by 10 % of itself per kelvin"},
             said{"7.8.4.1 c", "Input resistance: 10 MΩ"},
             said{"7.8.4.1 c", "Output: 4.096 V ±0.1 % at 25 °C, ±20 ppm/K"},
             said{"7.8.4.1 c", "Line and load regulation: ±20 ppm"},
             said{"7.8.4.1 c", "Noise: 10 µV (standard uncertainty)"},
             said{"7.8.4.1 c", "Statement valid: 2024-11-05 to 2025-11-05"},
             said{"7.8.4.1 c", "Statement valid at: 18 °C to 28 °C"},
             said{"7.8.4.1 c", "References with a stated chain: 1 of 4"},
             said{"ILAC-P14, drift apart from U", "Age of the calibration: up to 1 year"},
             said{"ILAC-P14, drift apart from U", "Temperature: ±10 K about that of the calibration"},
             said{"ILAC-P14, drift apart from U", "Drift of gain: ±500 ppm a year"},
             said{"ILAC-P14, drift apart from U", "Drift of offset: ±2 mV a year"},
             said{"ILAC-P14, drift apart from U", "Gain, by the supply: ±200 ppm"},
             said{"ILAC-P14, drift apart from U", "Offset, by the supply: ±1 mV"},
             said{"7.8.4.1 d", "As found, by the correction that was in force before"},
             said{"7.8.4.1 d", "As left, by the correction of this calibration"},
             said{"7.8.4.1 d", "Gain: 5.41000 mV/code Offset: -11.1300 V"},
             said{"7.8.4.1 d", "Results as found stand beside those as left; no other adjustment or repair is recorded."},
             said{"7.8.6", "Decision rule: guarded, four words, guard band w = U"},
             said{"7.8.8", "Amended certificate: it replaces number PS2-0007-2025-03. Reason: negative step added"},
             said{"7.8.2.1 m", "Above code 2054.00"},
             said{"7.8.2.1 m", "Below code 2054.00"},
             said{"6.4.13", "negative step"},
         }) {
        CAPTURE(one.clause);
        CAPTURE(one.needle);
        CHECK(contains(text, one.needle));
        CHECK(contains(page, one.needle));
    }
    const the_record plain = example::pocket_scope();
    const std::string without = words(certificate::text(plain));
    CHECK(contains(without, "In use: no conditions were stated"));
    CHECK(contains(without, "As found, before this correction: no check points were recorded."));
    CHECK(contains(without, "In force before, for results as found: Correction: not stated"));
}

TEST_CASE("each verdict of four words is counted in the results in short") {
    the_record r = example::complete_scope();
    std::vector<calibration::check_point>& checks = r.ranges[0].checks;
    REQUIRE(checks.size() == 6);
    using conformity::verdict;
    checks[0].verdict = verdict::fail;
    checks[2].verdict = verdict::conditional_fail;
    checks[4].verdict = verdict::conditional_pass;
    checks[1].verdict = checks[3].verdict = checks[5].verdict = verdict::pass;
    CHECK(
        contains(words(certificate::text(r)),
                 "check points as found pass 0 of 3, conditional pass 1, conditional fail 1, fail 1; check points as left pass 3 "
                 "of 3."));
}

TEST_CASE("leads reversed are said, and a source that was not measured while connected") {
    the_record r = example::complete_scope();
    CHECK_FALSE(contains(words(certificate::text(r)), "leads reversed"));
    r.ranges[0].reference.source.reversed = true;
    CHECK(contains(
        words(certificate::text(r)),
        "reference step: applied by 4.096 V reference part on a battery [ref-4v096], leads reversed; at the connector while"));
    CHECK_FALSE(contains(words(certificate::text(r)), "source resistance"));
    r.ranges[0].checks[0].observed.source.source = front_end::resistor{1e3 * ohm, 1.0 * percent, 50.0 * ppm / kelvin};
    CHECK(contains(words(certificate::text(r)),
                   "reading -3.9941 V; not measured while connected, source resistance 1 kΩ ±1 %, ±50 ppm/K; voltage at the"));
}

namespace {

/// Sentences of the budget: name of the row and its share in percent.
std::vector<std::pair<std::string, std::string>> budget_rows(const the_record& r) {
    std::string said = words(certificate::text(r));
    said = said.substr(said.find("Inputs, the largest contribution first:"));
    said = said.substr(0, said.find(". Inputs by temperature are one"));
    std::vector<std::pair<std::string, std::string>> rows;
    const std::regex row("- ((?!- ).)*?share of u² (below 0\\.1|-?[0-9.]+) %");
    for (std::sregex_iterator at(said.begin(), said.end(), row); at != std::sregex_iterator(); ++at) {
        rows.emplace_back(at->str(), at->str(2));
    }
    return rows;
}

}  // namespace

TEST_CASE("the budget stays short, its shares add up, and nothing of it is lost") {
    the_record warm = example::complete_scope();
    warm.ranges[0].temperature_half_width = 15.0 * kelvin;  // of the reading: the step's own inputs stay
    for (const the_record& r : {example::pocket_scope(), example::complete_scope(), warm}) {
        const calibration::range_calibration& range = r.ranges[0];
        const auto whole = make_convolved_budget(calibration::reading(
            r.inputs, r.references, range, calibration::code_at(range, range.chain.high), calibration::at_calibration(range)));
        const auto rows = budget_rows(r);
        REQUIRE(rows.size() >= 4);
        CHECK(whole.rows.size() > 2 * rows.size());
        double sum = 0.0;
        for (const auto& row : rows) {
            const auto& [name, share] = row;
            CAPTURE(row.first);
            CHECK(name.find("temperature coefficient times") == std::string::npos);
            sum += share == "below 0.1" ? 0.05 : std::stod(share);
        }
        CHECK(std::abs(sum - 100.0) <= 0.05 * static_cast<double>(rows.size()) + 1e-9);  // each is rounded to 0.1
        std::size_t single = 0;
        std::size_t several = 0;
        const std::string said = words(certificate::text(r));
        const std::regex count(": ([0-9]+) inputs?: contribution");
        for (std::sregex_iterator at(said.begin(), said.end(), count); at != std::sregex_iterator(); ++at) {
            several += std::stoul(at->str(1));
            ++single;
        }
        CHECK(rows.size() - single + several == whole.rows.size());
    }
    CHECK(contains(words(certificate::text(warm)), "temperature of the instrument: "));
}

TEST_CASE("what stated correlations add to the shares stands in a row of its own") {
    the_record r = example::pocket_scope();
    const std::string id = "A/10 V";
    CHECK_FALSE(contains(words(certificate::text(r)), "correlation between the above"));
    r.correlations = {{id + "/reading/noise", id + "/reference/mean", -0.9}};
    CHECK(contains(words(certificate::text(r)), "correlation between the above: share of u² "));
}

TEST_CASE("the budget by source has every input once, and shares that add up with what correlates sources") {
    for (const double r : {0.0, -0.9}) {
        the_record of = example::complete_scope();
        const std::string id = "A/10 V";
        if (r != 0.0) of.correlations = {{id + "/reading/noise", id + "/reference/mean", r}};
        const calibration::range_calibration& range = of.ranges[0];
        const auto whole = make_convolved_budget(
            calibration::reading(of.inputs, of.references, range, calibration::code_at(range, range.chain.high),
                                 calibration::at_calibration(range)),
            of.coverage_probability, of.correlations);
        std::string said = words(certificate::text(of));
        said = said.substr(said.find("The same by source:"));
        said = said.substr(0, said.find(" 7."));  // up to the next section's number
        const std::regex row("share of u² (below 0.1|-?[0-9.]+) %(; inputs ([0-9]+))?");
        double sum = 0.0;
        std::size_t inputs = 0;
        std::size_t rows = 0;
        for (std::sregex_iterator at(said.begin(), said.end(), row); at != std::sregex_iterator(); ++at) {
            sum += at->str(1) == "below 0.1" ? 0.05 : std::stod(at->str(1));
            inputs += at->str(3).empty() ? 0 : std::stoul(at->str(3));
            ++rows;
        }
        CAPTURE(said);
        CHECK(rows >= 3);
        CHECK(inputs == whole.rows.size());
        CHECK(std::abs(sum - 100.0) <= 0.05 * static_cast<double>(rows) + 1e-9);
        CHECK(contains(said, "correlation between sources: share of u²") == (r != 0.0));
    }
}

TEST_CASE("first order beside Monte Carlo is stated for readings, check points and the budget, or that it was not compared") {
    the_record r = example::complete_scope();
    CHECK(contains(words(certificate::text(r)), "First order was not compared with Monte Carlo."));
    CHECK_FALSE(contains(words(certificate::text(r)), "Interval by Monte Carlo"));
    CHECK_FALSE(contains(words(certificate::text(r)), "This is first order."));

    calibration::range_calibration& range = r.ranges[0];
    calibration::validate(range, r.references, r.inputs);
    for (const std::string& said : {words(certificate::text(r)), words_of_page(certificate::html(r))}) {
        CHECK_FALSE(contains(said, "not compared"));
        CHECK(contains(said, "This is first order. It was compared with Monte Carlo"));
        CHECK(contains(
            said,
            "By Monte Carlo, 100000 trials, seed 1, to 1 significant digit of u: first order is validated for all 7 readings "
            "at calibration. The ends of its interval are off those of reading ± U by "));
        CHECK(contains(said,
                       "first order is validated for all 6 errors at check points. The ends of its interval are off those of "
                       "error ± U by "));
        CHECK(contains(said, " of U or less; chance alone has a standard deviation of 0.4 % there."));
        CHECK(contains(said, "By as many trials it is validated for all 7 readings in use, ends off by "));
        CHECK(contains(said, " of U or less; for all 7 uncalibrated readings, ends off by "));
        CHECK(contains(said, "By as many trials it is validated for all 3 of these kinds, ends off by "));
        CHECK(contains(said, "Interval by Monte Carlo: 9.976 V to 10.024 V: first order is validated"));
        CHECK_FALSE(contains(said, "not validated"));
    }

    range.by_trials->readings[6].interval.first_order = calibration::first_order_is::short_of_order;
    range.by_trials->readings[0].interval.first_order = calibration::first_order_is::of_another_shape;
    range.checks[1].by_trials = {-1.0 * volt, 2.0 * volt, calibration::first_order_is::short_of_readings};
    range.by_trials->in_use[6].interval = {9.5 * volt, 10.75 * volt, calibration::first_order_is::short_of_readings};
    range.by_trials->uncalibrated[0].interval = {-11.5 * volt, -9.0 * volt, calibration::first_order_is::short_of_order};
    range.by_trials->kinds[1].interval = {1.5 * volt, 3.0 * volt, calibration::first_order_is::of_another_shape};
    const std::string said = words(certificate::text(r));
    CHECK(contains(said, "first order is validated for 5 of 7 readings at calibration."));
    CHECK(contains(
        said, "First order is not validated here: take the interval by Monte Carlo: - -10 V: interval by Monte Carlo -10.0"));
    CHECK(contains(said, "; why the distribution has another shape than its linear terms, a bounded one rules."));
    CHECK(contains(said, "; why second-order terms count: the model is curved, or a sensitivity vanishes."));
    CHECK(contains(said, "first order is validated for 5 of 6 errors at check points."));
    CHECK(contains(
        said,
        "- -4 V, as left: interval by Monte Carlo -1.0000 V to 2.0000 V; why few degrees of freedom: the scatter itself is "
        "known from few samples."));
    CHECK(contains(said, "V: first order is not validated"));
    CHECK(contains(said, "By as many trials it is validated for 6 of 7 readings in use, ends off by "));
    CHECK(contains(said, "; for 6 of 7 uncalibrated readings, ends off by "));
    CHECK(
        contains(said,
                 "- 10 V, in use: interval by Monte Carlo 9.500 V to 10.750 V; why few degrees of freedom: the scatter itself is "
                 "known from few samples."));
    CHECK(
        contains(said,
                 "- -10 V, uncalibrated: interval by Monte Carlo -11.50 V to -9.00 V; why second-order terms count: the model is "
                 "curved, or a sensitivity vanishes."));
    CHECK(contains(said, "By as many trials it is validated for 2 of 3 of these kinds, ends off by "));
    CHECK(
        contains(said,
                 "- difference of two samples, 0 V to 2 V: interval by Monte Carlo 1.500 V to 3.000 V; why the distribution has "
                 "another shape than its linear terms, a bounded one rules."));

    // a record from before these were compared
    range.by_trials->in_use.clear();
    range.by_trials->uncalibrated.clear();
    range.by_trials->kinds.clear();
    const std::string earlier = words(certificate::text(r));
    CHECK_FALSE(contains(earlier, "By as many trials"));
    CHECK(contains(earlier, "Readings in use and uncalibrated ones were not compared with Monte Carlo."));
    range.in_use.reset();
    CHECK(contains(words(certificate::text(r)), "Uncalibrated readings were not compared with Monte Carlo."));
}

TEST_CASE("every figure of a sentence has its column's name, so that it can be heard") {
    const std::string text = certificate::text(example::complete_scope());
    CHECK_FALSE(contains(text, "  U"));   // no heading of a column
    CHECK_FALSE(contains(text, "----"));  // no rule
    CHECK_FALSE(contains(text, "===="));
    CHECK(contains(words(text), "reading -10 V: U 14 mV; k 1.98; degrees of freedom over 1000; U in use"));
}

}  // namespace certificate_test
