#include "bench.hpp"

#include <doctest/doctest.h>

#include "front_end/amplified_bench.hpp"

#include <array>
#include <cmath>
#include <functional>
#include <optional>
#include <plumbline/front_end/node.hpp>
#include <string>

namespace calibration_amplifier_test {

using namespace plumbline;
using namespace plumbline::calibration;
using amplified_bench::built;
using amplified_bench::parts;
namespace un = plumbline::uncertainty;

namespace {

constexpr double drift = 20e-6;          // V/K, of the offset
constexpr double current_drift = 1e-9;   // A/K
constexpr double offset_limit = 2e-3;    // V
constexpr double current_limit = 20e-9;  // A
constexpr double least_gain = 1e4;
const std::string range_id = "A/8 V/";

/// The bench's network into gain 1 + 10/20, with a converter of 3.3 V.
range_setup amplified(bool own_supply = false) {
    range_setup s = bench::ten_volts();
    const auto made = [](double ohms) { return front_end::resistor{ohms * ohm, 0.5 * percent, 25.0 * ppm / kelvin}; };
    s.chain.amplifier.emplace();
    s.chain.amplifier->gain = front_end::gain_resistors{made(10e3), made(20e3)};
    s.chain.amplifier->offset_limit = offset_limit * volt;
    s.chain.amplifier->offset_drift = drift * volt / kelvin;
    s.chain.amplifier->bias_current = current_limit * ampere;
    s.chain.amplifier->bias_current_drift = current_drift * ampere / kelvin;
    s.chain.amplifier->open_loop_gain = least_gain;
    s.chain.high = 6.0 * volt;
    if (own_supply) s.chain.input.bias = front_end::bias_branch{s.chain.input.bias->branch, 3.3 * volt, false, {}, {}};
    return s;
}

double code_of(const parts& p) { return built(p).output / 3.3 * 4096.0; }

/// What has to stand at the connector for an output: the circuit is linear in its source.
double source_for(parts p, double output) {
    p.source = 0.0;
    const double at_zero = built(p).output;
    p.source = 1.0;
    return (output - at_zero) / (built(p).output - at_zero);
}

/// What the circuit makes of a part that is off: change of the voltage read from one output, per change of the part.
double read_by(const parts& nominal, double output, const std::function<void(parts&, double)>& off, double step) {
    parts more = nominal;
    parts less = nominal;
    off(more, step);
    off(less, -step);
    return (source_for(more, output) - source_for(less, output)) / (2.0 * step);
}

struct part_off {
    const char* name;  ///< of its inputs
    std::function<void(parts&, double)> by;
    double step;   ///< of the difference quotient
    double limit;  ///< initial
    double per_kelvin_limit;
};

const std::array<part_off, 5>& parts_off() {
    static const std::array<part_off, 5> all{{
        {"amplifier offset", [](parts& p, double x) { p.offset += x; }, 1e-3, offset_limit, drift},
        {"amplifier current into plus", [](parts& p, double x) { p.into_plus += x; }, 1e-8, current_limit, current_drift},
        {"amplifier current into minus", [](parts& p, double x) { p.into_minus += x; }, 1e-8, current_limit, current_drift},
        {"amplifier feedback", [](parts& p, double x) { *p.feedback *= 1.0 + x; }, 1e-4, 0.005, 25e-6},
        {"amplifier ground", [](parts& p, double x) { *p.ground *= 1.0 + x; }, 1e-4, 0.005, 25e-6},
    }};
    return all;
}

struct calibrated {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    range_calibration range;

    explicit calibrated(const range_setup& s, const std::optional<front_end::resistor>& source = {}) {
        parts p = amplified_bench::nominal(s.chain);
        step zero = bench::stepped("short", bench::seen(code_of(p)));
        p.source = 5.0;
        if (source) p.rs = source->nominal.value();
        step five = bench::stepped("five", bench::seen(code_of(p)));
        five.source.source = source;
        range = solve(s, {zero, five, {}}, references, inputs);
    }
};

const un::budget_row& row_of(const un::budget& b, const std::string& id) {
    for (const un::budget_row& row : b.rows) {
        if (row.in->id == id) return row;
    }
    FAIL("no row " << id);
    return b.rows.front();
}

bool has_row(const un::budget& b, const std::string& id) {
    for (const un::budget_row& row : b.rows) {
        if (row.in->id == id && row.contribution != 0.0) return true;
    }
    return false;
}

void same(double found, double expected, double relative = 1e-6) {
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(std::abs(found - expected) <= relative * std::abs(expected));
}

}  // namespace

TEST_CASE("uncalibrated, each part of an amplifier counts with what the circuit makes of its limits") {
    const range_setup s = amplified();
    const calibrated c(s);
    const parts nominal = amplified_bench::nominal(s.chain);
    for (const double v : {-6.0, 0.5, 5.0}) {
        CAPTURE(v);
        parts p = nominal;
        p.source = v;
        const double output = built(p).output;
        const un::budget b =
            make_convolved_budget(uncalibrated_reading(c.inputs, c.range, code_of(p) * code, at_calibration(c.range)));
        CHECK(std::abs(b.value - v) < 1e-8);
        for (const part_off& part : parts_off()) {
            CAPTURE(part.name);
            const un::budget_row& row = row_of(b, range_id + part.name + "/deviation");
            same(row.sensitivity, read_by(nominal, output, part.by, part.step));
            same(row.contribution, std::abs(row.sensitivity) * part.limit / std::sqrt(3.0));
        }
        // one over the open-loop gain lies anywhere between 0 and 1 / 10 000
        const auto gain = [](parts& x, double by) { x.open_loop = 1.0 / (1.0 / x.open_loop + by); };
        const un::budget_row& row = row_of(b, range_id + "amplifier/one over open-loop gain");
        same(row.sensitivity, read_by(nominal, output, gain, 1e-6));
        same(row.contribution, std::abs(row.sensitivity) * 0.5 / least_gain / std::sqrt(3.0));
    }
}

TEST_CASE("after two steps what an amplifier's warmth moves is left, and none of its initial deviations") {
    const range_setup s = amplified();
    const calibrated c(s);
    const parts nominal = amplified_bench::nominal(s.chain);
    const reading_conditions warm{1.0, 15.0 * kelvin, 2.0 * kelvin};
    for (const double v : {-6.0, 2.0, 4.5}) {
        CAPTURE(v);
        parts p = nominal;
        p.source = v;
        const auto output_at = [&](double volts) {
            parts q = nominal;
            q.source = volts;
            return built(q).output;
        };
        const un::budget b = make_convolved_budget(reading(c.inputs, c.references, c.range, code_of(p) * code, warm));
        CHECK(std::abs(b.value - v) < 1e-8);
        const double r = v / 5.0;
        for (const part_off& part : parts_off()) {
            CAPTURE(part.name);
            CHECK_FALSE(has_row(b, range_id + part.name + "/deviation"));
            const std::string of = "/temperature of " + range_id + part.name;
            const un::budget_row& now = row_of(b, range_id + "reading" + of);
            same(now.sensitivity, read_by(nominal, output_at(v), part.by, part.step));
            // u of a coefficient anywhere within its limits times 15 K, known to 2 K
            same(now.contribution,
                 std::abs(now.sensitivity) * part.per_kelvin_limit / std::sqrt(3.0) * std::sqrt(15.0 * 15.0 + 2.0 * 2.0 / 3.0));
            const double at_zero = read_by(nominal, output_at(0.0), part.by, part.step);
            const double at_five = read_by(nominal, output_at(5.0), part.by, part.step);
            const double zero = row_of(b, range_id + "zero" + of).sensitivity;
            const double five = row_of(b, range_id + "reference" + of).sensitivity;
            CHECK(std::abs(zero + (1.0 - r) * at_zero) <= 1e-6 * std::abs(at_zero));
            CHECK(std::abs(five + r * at_five) <= 1e-6 * std::abs(at_five));
        }
        CHECK_FALSE(has_row(b, range_id + "amplifier/one over open-loop gain"));
    }
}

TEST_CASE("the current into the plus input loads a source with a resistance, and warmth changes by how much") {
    const range_setup s = amplified();
    const front_end::resistor source{20e3 * ohm, 1.0 * percent, {}};
    const calibrated c(s, source);
    parts p = amplified_bench::nominal(s.chain);
    const double v = 4.0;
    p.source = v;
    const un::budget b =
        make_convolved_budget(reading(c.inputs, c.references, c.range, code_of(p) * code, at_calibration(c.range)));
    CHECK(std::abs(b.value - v) < 1e-8);
    parts loaded = amplified_bench::nominal(s.chain);
    loaded.source = 5.0;
    loaded.rs = 20e3;
    parts drawing = loaded;
    drawing.into_plus = 1e-8;
    const double connector = built(loaded).connector;
    const double by_current = (built(drawing).connector - connector) / 1e-8;
    CHECK(by_current < 0.0);  // what flows into the amplifier lowers it
    const un::budget_row& row = row_of(b, range_id + "amplifier current into plus/deviation");
    same(row.sensitivity, v / connector * by_current, 1e-5);
    same(row.contribution, std::abs(row.sensitivity) * current_limit / std::sqrt(3.0));
    // at the step the warm current does both: it lowers the connector, and is read as more
    const double read = read_by(amplified_bench::nominal(s.chain), built(loaded).output, parts_off()[1].by, 1e-8);
    same(row_of(b, range_id + "reference/temperature of " + range_id + "amplifier current into plus").sensitivity,
         v / connector * (by_current - read), 1e-5);
    CHECK_FALSE(has_row(b, range_id + "amplifier current into minus/deviation"));
}

TEST_CASE(
    "a reference that its supply moves turns a reading about 0 V with a bias from there, else about the voltage of code 0") {
    for (const bool own_supply : {false, true}) {
        CAPTURE(own_supply);
        range_setup s = amplified(own_supply);
        s.chain.adc.reference_by_supply = 0.4 * percent;
        const calibrated c(s);
        const parts nominal = amplified_bench::nominal(s.chain);
        const use_conditions use{};
        for (const double v : {-6.0, 5.0}) {
            CAPTURE(v);
            parts p = nominal;
            p.source = v;
            const double output = built(p).output;
            const un::budget b =
                make_convolved_budget(reading_in_use(c.inputs, c.references, c.range, code_of(p) * code, 1.0, use));
            const auto moved = [&](double by) {
                parts q = nominal;
                if (!own_supply) q.supply *= 1.0 + by;
                return source_for(q, output * (1.0 + by));
            };
            const un::budget_row& row = row_of(b, range_id + "reading/reference by supply");
            same(row.sensitivity, (moved(1e-3) - moved(-1e-3)) / 2e-3);
            if (!own_supply) same(row.sensitivity, v);
            same(row.contribution, std::abs(row.sensitivity) * 0.004 / std::sqrt(3.0));
            // one over A has become another within 0 to 1 / 10 000: the difference of two is triangular within 1 / 10 000
            const auto gain = [](parts& x, double by) { x.open_loop = 1.0 / (1.0 / x.open_loop + by); };
            same(row_of(b, range_id + "reading/gain by open-loop gain").contribution,
                 std::abs(read_by(nominal, output, gain, 1e-6)) / least_gain / std::sqrt(6.0), 1e-5);
        }
        // of a difference the centre is gone
        const un::budget d = make_convolved_budget(difference_in_use(
            c.inputs, c.references, c.range, code_at(c.range, -1.0 * volt), code_at(c.range, 2.0 * volt), 1.0, use));
        same(row_of(d, range_id + "reading/reference by supply").sensitivity, 3.0);
    }
}

TEST_CASE("what the supply does to a reading is counted once: the larger of two statements, or what was measured") {
    range_setup s = amplified();
    s.chain.adc.reference_by_supply = 0.4 * percent;
    calibrated c(s);
    use_conditions use{};
    const auto in_use = [&] {
        return make_convolved_budget(reading_in_use(c.inputs, c.references, c.range, code_at(c.range, 5.0 * volt), 1.0, use));
    };
    const std::string by_reference = range_id + "reading/reference by supply";
    const std::string by_gain = range_id + "reading/gain by supply";
    use.gain_by_supply = 0.3 * percent;
    CHECK(has_row(in_use(), by_reference));
    CHECK_FALSE(has_row(in_use(), by_gain));
    use.gain_by_supply = 0.5 * percent;
    CHECK_FALSE(has_row(in_use(), by_reference));
    same(row_of(in_use(), by_gain).contribution, 5.0 * 0.005 / std::sqrt(3.0));
    use.gain_by_supply = 0.01 * percent;
    seen_at_supply low;
    low.name = "battery low";
    c.range.supplies.push_back(low);
    CHECK_FALSE(has_row(in_use(), by_reference));
    same(row_of(in_use(), by_gain).contribution, 5.0 * 0.0001 / std::sqrt(3.0));
}

TEST_CASE("a chain without an amplifier has none of its inputs") {
    std::vector<reference> references = bench::references();
    un::input_set inputs;
    const range_calibration range = solve(
        bench::ten_volts(),
        {bench::stepped("short", bench::seen(bench::code_of(0.0))), bench::stepped("five", bench::seen(bench::code_of(5.0))), {}},
        references, inputs);
    for (const auto& in : inputs.all()) CHECK(in->id.find("amplifier") == std::string::npos);
    const un::budget b = make_convolved_budget(reading_in_use(inputs, references, range, 2000.0 * code, 1.0, {}));
    for (const un::budget_row& row : b.rows) {
        CHECK(row.in->id.find("open-loop") == std::string::npos);
        CHECK(row.in->id.find("reference by supply") == std::string::npos);
    }
}

}  // namespace calibration_amplifier_test
