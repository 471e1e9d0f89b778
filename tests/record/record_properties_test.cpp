#include <plumbline/record/json.hpp>

#include "../../src/record/layout.hpp"
#include "../property_json.hpp"
#include "sample.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>

namespace record_properties_test {

namespace {

using nlohmann::ordered_json;
using plumbline::record::demand;
using plumbline::record::from_json;
using plumbline::record::record;
using plumbline::record::to_json;
using property::holds;

bool one_of(std::string_view key, std::initializer_list<std::string_view> keys) {
    return std::find(keys.begin(), keys.end(), key) != keys.end();
}

/// Gives every field of a record that has a free value a generated one. What names other parts, or is bound to them, stays.
class generator final : public plumbline::record::fields {
public:
    void text(const char* key, std::string& value, plumbline::record::wording w) override {
        last_text_ = std::string_view(key) == "kind" ? nullptr : &value;  // what a record is stays
        if (last_text_ == nullptr) return;
        if (one_of(key, {"reference", "from", "id", "first", "second", "plumbline", "distribution", "unit"})) {
            if (std::string_view(key) != "reference") return;
            voltage_given_ = false;
            if (value.empty()) value = "short";  // of a part that was not there before
            return;
        }
        if (one_of(key, {"received", "begun", "ended", "issued", "valid_from", "valid_until", "date"})) {
            if (std::string_view(key) == "date") value = "2025-04-" + std::to_string(*rc::gen::inRange(10, 31));
            return;
        }
        if (one_of(key, {"replaces", "reason"}) && value.empty()) return;  // both or none
        if (one_of(key, {"number", "replaces", "record"})) {
            value = *rc::gen::element<std::string>("", "_", "a.b") + std::to_string(*rc::gen::inRange(0, 1'000'000)) + key[0];
        } else if (std::string_view(key).ends_with("sha256")) {
            value.resize(64);
            for (char& digit : value) digit = "0123456789abcdef"[*rc::gen::inRange(0, 16)];
        } else {
            const bool needed = w == plumbline::record::wording::not_empty || std::string_view(key) == "reason";
            value = needed ? property::some_words() : property::any_text();
        }
    }
    void number(const char* key, double& value, demand d) override {
        if (std::string_view(key) == "humidity_percent") {
            value = 0.01 * *rc::gen::inRange(0, 10001);
        } else if (one_of(key, {"coverage_probability", "coefficient"})) {
            value = 1e-6 * *rc::gen::inRange(1, 1'000'000);
        } else if (std::string_view(key) == "times_U") {
            value = 1e-3 * *rc::gen::inRange(1, 3000);  // above 0: four words need a guard band
        } else {
            value = any(d);
        }
        ++figures;
    }
    void number_or_infinite(const char*, double& value, demand d) override {
        value = *rc::gen::inRange(0, 3) == 0 ? std::numeric_limits<double>::infinity() : any(d);
        ++figures;
    }
    void flag(const char* key, bool& value) override {
        const bool drawn = *rc::gen::arbitrary<bool>();
        value = drawn && (std::string_view(key) != "reversed" || !voltage_given_);
    }
    void figure(const char* key, double& value, const char* unit, demand d) override {
        ++figures;
        const std::string_view k = key;
        if (std::string_view(unit) == "degC") {
            value = k == "high" ? low_ + 0.01 * *rc::gen::inRange(0, 5000)
                                : std::max(-273.15, 0.01 * *rc::gen::inRange(-27315, 30000));
        } else if (one_of(k, {"coefficient", "difference", "half_width"})) {
            value = any_near(d);  // they are multiplied
        } else if (one_of(k, {"tolerance", "droop"})) {
            value = 1e-6 * *rc::gen::inRange(0, 1'000'000);
        } else if (k == "top_half_width") {
            value = low_ * 0.01 * *rc::gen::inRange(0, 101);
        } else if (k == "high") {
            value = std::max(std::nextafter(low_, std::numeric_limits<double>::infinity()), any(d));
        } else {
            value = any(d);
            if (k == "low") value = std::min(value, 1e300);
        }
        if (one_of(k, {"low", "half_width"})) low_ = value;
    }
    bool has(const char* key, bool now) override {
        const bool voltage = one_of(key, {"value", "reading"});
        voltage_given_ = voltage_given_ || (voltage && now);
        // forms of a reference exclude each other, and steps rely on them; a transfer names inputs
        if (voltage || one_of(key, {"output", "divider", "meter", "part", "transfer", "plumbline"})) return now;
        if (one_of(key, {"turns", "points"})) return now;  // theirs have to agree with each other
        return now || *rc::gen::arbitrary<bool>();
    }
    bool gives(const char*) override { return true; }
    void expect(bool, const std::string&, const std::string&, const std::string&, const std::string&) override {}

    int figures = 0;

protected:
    void whole_number(const char* key, std::int64_t& value, std::int64_t low, std::int64_t high) override {
        if (!one_of(key, {"version", "schema"})) value = *rc::gen::inRange(low, high);
    }
    void closed(const char*, std::span<const char* const> words) override {
        if (last_text_ != nullptr) *last_text_ = words[*rc::gen::inRange<std::size_t>(0, words.size())];
    }
    void begin_object(const char*) override {}
    void end_object() override {}
    std::size_t begin_list(const char* key, std::size_t now) override {
        return one_of(key, {"hum", "findings", "checks", "comparisons", "stored", "intermediate"})
                   ? *rc::gen::inRange<std::size_t>(0, 4)
                   : now;
    }
    void begin_item(std::size_t) override {}
    void end_list() override {}

private:
    static double meeting(double value, demand d) {
        if (d == demand::any) return value;
        return d == demand::above_zero && value == 0.0 ? 5e-324 : std::abs(value);
    }
    static double any(demand d) { return meeting(property::any_double(), d); }
    static double any_near(demand d) { return meeting(1e-6 * *rc::gen::inRange(-100'000'000, 100'000'000), d); }

    std::string* last_text_ = nullptr;
    double low_ = 0.0;
    bool voltage_given_ = false;
};

record any_probe() {
    record r = sample::probe();
    if (*rc::gen::arbitrary<bool>()) r.probe->division.reset();
    if (*rc::gen::arbitrary<bool>()) r.probe->described.rating.reset();
    generator g;
    plumbline::record::visit(g, r);
    RC_ASSERT(g.figures > 15);
    return r;
}

/// Times rise, and a line has a weight for each step.
void make_sound(plumbline::calibration::range_calibration& r) {
    for (std::size_t i = 0; i < r.turns.size(); ++i) r.turns[i].at = 0.5 * static_cast<double>(i) * plumbline::second;
    if (r.points) r.points->points.resize(r.points->more.size() + (r.negative ? 3 : 2), r.points->points.back());
}

/// A record that is sound, with random parts left out and all else generated.
record any_record() {
    if (*rc::gen::inRange(0, 4) == 0) return any_probe();
    record r = sample::record();
    const auto leave_out = [](auto& part) {
        if (*rc::gen::arbitrary<bool>()) part = {};
    };
    plumbline::calibration::range_calibration& range = r.ranges[0];
    if (*rc::gen::arbitrary<bool>()) r.replaces = r.reason = "";
    leave_out(r.dates.received);
    leave_out(r.ambient.humidity_percent);
    leave_out(r.correlations);
    leave_out(r.comparisons);
    leave_out(range.checks);
    leave_out(range.before);
    leave_out(range.in_use);
    leave_out(range.chain.input.bottom);
    leave_out(range.chain.input.bias);
    leave_out(range.zero.seen.slope);
    leave_out(range.turns);
    leave_out(range.points);
    leave_out(range.crosstalk);
    leave_out(range.warm_up);
    leave_out(range.supplies);
    leave_out(range.temperatures);
    leave_out(r.clock);
    leave_out(r.clock_tolerance);
    if (*rc::gen::arbitrary<bool>()) {
        range.negative.reset();
        range.negative_result.reset();
    }
    generator g;
    plumbline::record::visit(g, r);
    RC_ASSERT(g.figures > 50);
    if (r.clock && r.clock->known.limits) {  // in place of U and k
        r.clock->known.U = {};
        r.clock->known.k = 2.0;
    }
    for (auto& one : r.ranges) {
        make_sound(one);
        if (!one.chain.input.bias || !one.chain.input.bias->from_converter_reference) continue;
        one.chain.input.bias->supply = one.chain.adc.reference;
        one.chain.input.bias->supply_tolerance = {};
        one.chain.input.bias->supply_temperature_coefficient = {};
    }
    return r;
}

}  // namespace

TEST_CASE("whatever a record holds, it reads back equal and is written as the same bytes again") {
    CHECK(holds("write, read, write", [] {
        const record r = any_record();
        const std::string text = to_json(r);
        const record back = from_json(text, "r.json");
        RC_ASSERT(back == r);
        RC_ASSERT(to_json(back) == text);
    }));
}

TEST_CASE("a record says the same with its fields in any order, any spacing and other prefixes of units") {
    CHECK(holds("read, write, read", [] {
        const record r = any_record();
        const std::string other = property::any_dump(property::in_other_words(ordered_json::parse(to_json(r))));
        const record read = from_json(other, "r.json");
        RC_ASSERT(read == r);
        RC_ASSERT(from_json(to_json(read), "r.json") == read);
        RC_ASSERT(to_json(read) == to_json(r));
    }));
}

}  // namespace record_properties_test
