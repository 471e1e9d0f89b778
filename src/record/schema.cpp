#include <plumbline/record/schema.hpp>

#include "schema.hpp"

#include "layout.hpp"

#include <fmt/format.h>

#include <array>
#include <nlohmann/json.hpp>
#include <set>
#include <stdexcept>
#include <string_view>
#include <utility>
#include <vector>

namespace plumbline::inline v0::record {

namespace {

using nlohmann::ordered_json;

constexpr const char* shared_folder = "#/definitions/";

struct field_meaning {
    std::string_view field;  ///< its key, or the key of what holds it, '/' and its key
    const char* words;
};

/// What the fields mean, where their keys do not say it.
constexpr std::array meanings{
    field_meaning{"plumbline", "which kind of file this is"},
    field_meaning{"schema", "version of the form of the file"},
    field_meaning{"number", "unique; also the name of the record's files"},
    field_meaning{"findings/number", "kind of finding"},
    field_meaning{"replaces", "number of the record that this one amends; both this and the reason, or neither"},
    field_meaning{"reason", "why that record is amended"},
    field_meaning{"device/condition", "state in which it was calibrated"},
    field_meaning{"contact", "address, mail or telephone"},
    field_meaning{"authorised_by", "who answers for it"},
    field_meaning{"place", "where it was calibrated"},
    field_meaning{"ambient/temperature_half_width", "how far the temperature may have been from that one"},
    field_meaning{"ranges/temperature_half_width", "how far the instrument's temperature may have moved from step to step"},
    field_meaning{"deviations", "anything added, changed or left out"},
    field_meaning{"not_covered", "what was not calibrated: time base, bandwidth, other ranges"},
    field_meaning{"data_from_others", "which figures came from the owner or others"},
    field_meaning{"invented", "a demonstration says here that its data is invented"},
    field_meaning{"references", "what gives or measures a known voltage, each real thing once"},
    field_meaning{"references/id", "name by which steps refer to it"},
    field_meaning{"traceability", "certificate and chain"},
    field_meaning{"output", "its one voltage"},
    field_meaning{"divider", "two resistors behind a reference that states its output"},
    field_meaning{"limits", "half-width of the interval that holds the voltage, rectangular"},
    field_meaning{"longest_time", "between any two captures and readings; slow noise is counted for it"},
    field_meaning{"largest_hum", "amplitude of mains at the connector; counted where a capture is too short to show it"},
    field_meaning{"slow_disturbance",
                  "a sine that is slower than captures last; counted where they are shorter than one of its periods"},
    field_meaning{"slow_disturbance/frequency", "left out: slower than every capture"},
    field_meaning{"at_limit", "the error stands at one of its limits, which one is not known: two-point in place of rectangular"},
    field_meaning{"removed_hum", "hum that a capture shows clearly: what it moved the mean by, and what is left without it"},
    field_meaning{"slow_noise", "noise that no longer capture averages out: floor of the Allan deviation"},
    field_meaning{"few_codes", "how many samples lie on each code, where few codes come up"},
    field_meaning{"U", "expanded uncertainty"},
    field_meaning{"k", "coverage factor of U"},
    field_meaning{"mode", "the correction holds in this mode only"},
    field_meaning{"accept", "maximum permissible error: absolute + relative x reading"},
    field_meaning{"zero", "step that the correction comes from, with the reference step"},
    field_meaning{"ranges/reference", "step that the correction comes from, with the zero step"},
    field_meaning{"checks", "points never used to calibrate"},
    field_meaning{"applied/reference", "id of one of the references"},
    field_meaning{"capture/file", "file of raw codes, relative to the session"},
    field_meaning{"chain/top", "from the connector to the converter's pin"},
    field_meaning{"chain/bottom", "from the converter's pin to ground"},
    field_meaning{"chain/bias", "from the converter's pin to a supply"},
    field_meaning{"chain/low", "lowest voltage that the range is meant to read"},
    field_meaning{"chain/high", "highest voltage that the range is meant to read"},
    field_meaning{"chain/limits", "what the parts withstand and the supply can sink: for overvoltages"},
    field_meaning{"chain/pin", "the converter's pin, by its data sheet"},
    field_meaning{"limits/supply", "that the upper clamp leads to"},
    field_meaning{"supply/output", "resistance of what feeds it"},
    field_meaning{"supply/load", "that it feeds at its nominal voltage"},
    field_meaning{"sinks", "takes current back"},
    field_meaning{"converter_reference", "the converter measures against it"},
    field_meaning{"pin_beyond_supply", "that the pin withstands above the supply and below ground"},
    field_meaning{"at_pin", "capacitor from the pin to ground"},
    field_meaning{"pin/sampling", "the highest by the data sheet; of a typical one, half as much again"},
    field_meaning{"pin/leakage", "limits, at the temperature of the calibration"},
    field_meaning{"source/id", "of a resistor that is used in several places"},
    field_meaning{"divider/nominal_temperature", "at which its resistors have their nominal values"},
    field_meaning{"correction/covariance", "of gain and offset"},
    field_meaning{"compact", "U(V)^2 <= a + c (V - centre)^2"},
    field_meaning{"n_eff", "number of independent readings that the capture is worth"},
    field_meaning{"stored", "checks made after storing, outside of the digest"},
    field_meaning{"intermediate", "checks on site whether the calibration still holds, outside of the digest"},
    field_meaning{"e_n", "difference over the root sum square of both U: above 1 they disagree"},
    field_meaning{"mismatch", "of the time constants, R C / (R_in C_in) - 1"},
    field_meaning{"time_constant", "with which the step settles; 0 where no mismatch can be seen"},
    field_meaning{"droop", "limits of the fall over half a period, as a fraction of the amplitude"},
    field_meaning{"series", "resistance from tip to connector"},
    field_meaning{"rating", "highest voltage at the tip"},
    field_meaning{"factor", "voltage at the tip over voltage at the connector, at 0 Hz"},
    field_meaning{"inputs", "everything that the results depend on, with its distribution"},
};

const char* meaning_of(const std::string& holder, const std::string& key) {
    const std::string whole = holder + "/" + key;
    const char* found = nullptr;
    for (const field_meaning& m : meanings) {
        if (m.field == whole) return m.words;
        if (m.field == key) found = m.words;
    }
    return found;
}

/// What may follow the number of a figure: spaces, and a unit as figure.hpp says it may be spelt. A unit that begins with 1 needs a space,
/// or it would be a digit.
std::string unit_pattern(std::string_view unit) {
    if (unit == "1") return "( *(%|ppm)?| +1)";
    if (unit.starts_with("1/")) return fmt::format("( *(%|ppm)| +1){}", unit.substr(1));
    if (unit == "degC") return " *(degC|\xc2\xb0\x43)";
    const std::size_t slash = std::min(unit.find('/'), unit.size());
    const std::string_view first = unit.substr(0, slash);
    std::string_view rest = unit.substr(slash);
    constexpr std::array<std::string_view, 8> with_prefix{"V", "ohm", "A", "Hz", "s", "K", "F", "W"};
    constexpr const char* code = "(code|codes|LSB)";
    std::string pattern = " *";
    if (std::find(with_prefix.begin(), with_prefix.end(), first) != with_prefix.end()) {
        pattern += "(p|n|u|\xc2\xb5|\xce\xbc|m|k|M|G)?";
    }
    if (first == "ohm") {
        pattern += "(ohm|\xce\xa9|\xe2\x84\xa6)";
    } else if (unit == "code") {
        pattern += code;
    } else {
        pattern += first;
    }
    if (!rest.ends_with("/code")) return pattern.append(rest);
    rest.remove_suffix(4);
    return pattern.append(rest) + code;
}

/// A pattern that matches these characters and no others.
std::string literal(std::string pattern) {
    for (std::size_t at = pattern.find('^'); at != std::string::npos; at = pattern.find('^', at + 2)) pattern.insert(at, "\\");
    return pattern;
}

ordered_json figure_schema(demand d) {
    ordered_json schema{{"type", "number"}};
    if (d == demand::not_negative) schema["minimum"] = 0;
    if (d == demand::above_zero) schema["exclusiveMinimum"] = 0;
    return schema;
}

std::string figure_name(const std::string& unit, demand d) {
    std::string name = "figure-" + unit;
    for (const auto& [sign, words] : {std::pair{"/", "-per-"}, std::pair{"^", ""}}) {
        for (std::size_t at = name.find(sign); at != std::string::npos; at = name.find(sign)) name.replace(at, 1, words);
    }
    return name + (d == demand::above_zero ? "-above-0" : d == demand::not_negative ? "-not-negative" : "");
}

bool is_required(const ordered_json& part, const std::string& key) {
    const ordered_json& required = part.at("required");
    return std::find(required.begin(), required.end(), key) != required.end();
}

void require(ordered_json& part, const std::string& key) {
    if (!is_required(part, key)) part["required"].push_back(key);
}

void release(ordered_json& part, const std::string& key) {
    ordered_json& required = part["required"];
    const auto at = std::find(required.begin(), required.end(), key);
    if (at != required.end()) required.erase(at);
}

void add_new(ordered_json& object, const std::string& key, const ordered_json& value) {
    if (!object.contains(key)) object[key] = value;
}

void drop_empty(ordered_json& part, std::initializer_list<const char*> keys) {
    for (const char* key : keys) {
        if (part.contains(key) && part[key].empty()) part.erase(key);
    }
}

ordered_json empty_part() {
    return {{"properties", ordered_json::object()}, {"required", ordered_json::array()}, {"allOf", ordered_json::array()}};
}

}  // namespace

std::string figure_pattern(std::string_view unit, demand d) {
    const std::string zero = "0+(\\.0+)?";
    const std::string any = "[0-9]+(\\.[0-9]+)?";
    const std::string above = "([0-9]*[1-9][0-9]*(\\.[0-9]+)?|0+\\.[0-9]*[1-9][0-9]*)";
    const std::string mantissa = d == demand::above_zero     ? "\\+?" + above
                                 : d == demand::not_negative ? fmt::format("(\\+?{}|-{})", any, zero)
                                                             : "[-+]?" + any;
    return fmt::format("^{}([eE][-+]?[0-9]+)?{}$", mantissa, literal(unit_pattern(unit)));
}

struct schema_writer::document {
    struct frame {
        enum class kind { object, list, alternative } what;
        std::string key;
        ordered_json schema;
        std::set<std::string> optional;
    };

    completeness how;
    std::vector<frame> open;
    ordered_json shared = ordered_json::object();

    frame& here() { return open.back(); }

    void begin(frame::kind what, const std::string& key) {
        ordered_json schema{{"type", what == frame::kind::list ? "array" : "object"}};
        if (what != frame::kind::list) schema.update(empty_part());
        open.push_back({what, key, std::move(schema), {}});
    }

    ordered_json end() {
        ordered_json schema = std::move(here().schema);
        open.pop_back();
        return schema;
    }

    static ordered_json sealed(ordered_json object) {
        object["additionalProperties"] = false;
        drop_empty(object, {"properties", "required", "allOf"});
        return object;
    }

    /// From here to the object that holds what is visited: alternatives, then the object.
    std::vector<frame*> of_this_object() {
        std::vector<frame*> frames;
        for (auto at = open.rbegin(); at != open.rend(); ++at) {
            frames.push_back(&*at);
            if (at->what != frame::kind::alternative) break;
        }
        return frames;
    }

    std::string holder() {
        for (std::size_t i = open.size(); i-- > 0;) {
            if (open[i].what == frame::kind::list || (open[i].what == frame::kind::object && !open[i].key.empty()))
                return open[i].key;
        }
        return "";
    }

    void add(const std::string& key, ordered_json schema) {
        if (const char* words = meaning_of(holder(), key)) describe(schema, words);
        here().schema["properties"][key] = std::move(schema);
        for (const frame* f : of_this_object()) {
            if (f->optional.contains(key)) return;
        }
        require(here().schema, key);
    }

    /// Beside "$ref" nothing else counts (draft 7, core 8.3).
    static void unwrap(ordered_json& schema) {
        if (schema.contains("$ref")) schema = {{"allOf", ordered_json::array({std::exchange(schema, {})})}};
    }

    static void describe(ordered_json& schema, const std::string& words) {
        unwrap(schema);
        schema["description"] = words;
    }

    ordered_json ref(const std::string& name, const ordered_json& schema) {
        add_new(shared, name, schema);
        return {{"$ref", shared_folder + name}};
    }

    ordered_json alternative_of(const alternative& visit) {
        open.push_back({frame::kind::alternative, "", empty_part(), {}});
        visit();
        return end();
    }

    /// What all alternatives have in common moves to what holds them; what one has and another has not is forbidden to that other.
    void settle(std::vector<ordered_json>& parts) {
        ordered_json& all = here().schema;
        const ordered_json first = parts.front();
        for (const auto& [key, schema] : first["properties"].items()) {
            const auto same = [&, k = key, s = schema](const ordered_json& p) {
                return p["properties"].value(k, ordered_json()) == s;
            };
            if (!std::all_of(parts.begin(), parts.end(), same)) continue;
            add_new(all["properties"], key, schema);
            for (ordered_json& p : parts) p["properties"].erase(key);
        }
        for (const auto& required : first["required"]) {
            const auto key = required.get<std::string>();
            if (!std::all_of(parts.begin(), parts.end(), [&](const ordered_json& p) { return is_required(p, key); })) continue;
            require(all, key);
            for (ordered_json& p : parts) release(p, key);
        }
        const std::vector<ordered_json> own = parts;
        for (const ordered_json& one : own) {
            for (const auto& [key, schema] : one["properties"].items()) {
                add_new(all["properties"], key, true);
                for (ordered_json& p : parts) add_new(p["properties"], key, false);
            }
        }
        for (ordered_json& p : parts) {
            const ordered_json before = p["properties"];
            for (const auto& [key, schema] : before.items()) {
                if (schema == true)
                    p["properties"].erase(key);  // alternatives within it say more, and the object knows it by now
            }
            drop_empty(p, {"properties", "required", "allOf"});
        }
    }

    /// A field whose presence chooses the alternative that it is visited in has no need to be forbidden to the other.
    void lift(const std::string& key, ordered_json& with, const ordered_json& without) {
        if (!with["properties"].contains(key) || without["properties"].contains(key)) return;
        add_new(here().schema["properties"], key, with["properties"][key]);
        with["properties"].erase(key);
        release(with, key);
    }

    void add_choice(const ordered_json& condition, ordered_json yes, ordered_json no) {
        if (yes == no) {
            if (!yes.empty()) here().schema["allOf"].push_back(std::move(yes));
            return;
        }
        ordered_json choice{{"if", condition}, {"then", std::move(yes)}, {"else", std::move(no)}};
        drop_empty(choice, {"then", "else"});
        here().schema["allOf"].push_back(std::move(choice));
    }
};

schema_writer::schema_writer(completeness how) : d_(std::make_unique<document>(document{how, {}, ordered_json::object()})) {
    d_->begin(document::frame::kind::object, "");
}

schema_writer::~schema_writer() = default;

std::string schema_writer::str(const std::string& title, const std::string& description) const {
    ordered_json root{{"$schema", "http://json-schema.org/draft-07/schema#"}, {"title", title}, {"description", description}};
    root.update(document::sealed(d_->here().schema));
    root["definitions"] = d_->shared;
    drop_empty(root, {"definitions"});
    return root.dump(2) + "\n";
}

void schema_writer::text(const char* key, std::string&, wording w) {
    ordered_json schema{{"type", "string"}};
    if (w == wording::not_empty) schema["pattern"] = "[^ \\n]";
    d_->add(key, std::move(schema));
}

void schema_writer::number(const char* key, double& value, demand d) {
    value = 1.0;
    d_->add(key, figure_schema(d));
}

void schema_writer::number_or_infinite(const char* key, double& value, demand d) {
    value = 1.0;
    d_->add(key, {{"anyOf", {figure_schema(d), {{"const", "infinite"}}}}});
}

void schema_writer::flag(const char* key, bool&) { d_->add(key, {{"type", "boolean"}}); }

void schema_writer::figure(const char* key, double& value, const char* unit, demand d) {
    value = 1.0;
    ordered_json schema{{"description", describe_figure(unit, d)}};
    const ordered_json text{{"type", "string"}, {"pattern", figure_pattern(unit, d)}};
    if (std::string_view(unit) == "1") {
        schema["anyOf"] = {figure_schema(d), text};
    } else {
        schema.update(text);
    }
    d_->add(key, d_->ref(figure_name(unit, d), schema));
}

bool schema_writer::has(const char* key, bool) {
    d_->here().optional.insert(key);
    return true;
}

bool schema_writer::gives(const char* key) {
    if (d_->how == completeness::may_default) d_->here().optional.insert(key);
    return true;
}

void schema_writer::either(const char* key, bool, const alternative& with, const alternative& without) {
    std::vector<ordered_json> parts{d_->alternative_of(with), d_->alternative_of(without)};
    d_->lift(key, parts[0], parts[1]);
    d_->settle(parts);
    d_->add_choice({{"required", {key}}}, parts[0], parts[1]);
}

void schema_writer::by_word(const char* key, std::string& value, std::span<const char* const> words, const alternative& rest) {
    std::vector<ordered_json> parts;
    for (const char* word : words) {
        value = word;
        parts.push_back(d_->alternative_of(rest));
    }
    d_->settle(parts);
    for (std::size_t i = 0; i < words.size(); ++i) {
        const auto here = parts.begin() + static_cast<std::ptrdiff_t>(i);
        if (std::find(parts.begin(), here, *here) != here) continue;  // said with an earlier word
        ordered_json alike = ordered_json::array();
        for (std::size_t k = i; k < words.size(); ++k) {
            if (parts[k] == parts[i]) alike.push_back(words[k]);
        }
        const ordered_json one_of_these{{"properties", {{key, {{"enum", alike}}}}}, {"required", {key}}};
        d_->add_choice(one_of_these, parts[i], ordered_json::object());
    }
}

void schema_writer::by_flag(const char* key, bool& value, const alternative& rest) {
    std::vector<ordered_json> parts;
    for (const bool set : {true, false}) {
        value = set;
        parts.push_back(d_->alternative_of(rest));
    }
    d_->settle(parts);
    d_->add_choice({{"properties", {{key, {{"const", true}}}}}, {"required", {key}}}, parts[0], parts[1]);
}

void schema_writer::expect(bool, const std::string&, const std::string&, const std::string&, const std::string&) {}

void schema_writer::also(const char* key, const std::string& schema, const std::string& meaning) {
    const ordered_json more = ordered_json::parse(schema);
    ordered_json* to = nullptr;
    for (document::frame* f : d_->of_this_object()) {
        ordered_json& fields_here = f->schema["properties"];
        if (*key == '\0') {
            to = &f->schema;
        } else if (fields_here.contains(key)) {
            to = &fields_here[key];
        }
        if (to != nullptr) break;
    }
    if (to == nullptr) throw std::logic_error(fmt::format("more is said of the field {}, which has not been visited", key));
    document::unwrap(*to);
    for (const auto& [keyword, value] : more.items()) {
        if (keyword == "required") {
            for (const auto& one : value) require(*to, one.get<std::string>());
        } else if (to->contains(keyword) && keyword != "minimum" && keyword != "maximum") {
            (*to)["allOf"].push_back({{keyword, value}});
        } else {
            (*to)[keyword] = value;
        }
    }
    if (*key != '\0' && !meaning.empty() && !to->contains("description")) (*to)["description"] = meaning;
}

void schema_writer::whole_number(const char* key, std::int64_t& value, std::int64_t low, std::int64_t high) {
    value = low;
    d_->add(key, {{"type", "integer"}, {"minimum", low}, {"maximum", high}});
}

void schema_writer::begin_object(const char* key) { d_->begin(document::frame::kind::object, key); }

void schema_writer::end_object() {
    const std::string key = d_->here().key;
    ordered_json schema = document::sealed(d_->end());
    if (d_->here().what == document::frame::kind::list) {
        d_->here().schema["items"] = std::move(schema);
    } else {
        d_->add(key, std::move(schema));
    }
}

std::size_t schema_writer::begin_list(const char* key, std::size_t) {
    d_->begin(document::frame::kind::list, key);
    return 1;
}

void schema_writer::begin_item(std::size_t) { d_->begin(document::frame::kind::object, ""); }

void schema_writer::end_list() {
    const std::string key = d_->here().key;
    d_->add(key, d_->end());
}

void schema_writer::closed(const char* key, std::span<const char* const> words) {
    ordered_json list = ordered_json::array();
    for (const char* word : words) list.push_back(word);
    also(key, ordered_json{{"enum", list}}.dump(), "");
}

std::string record_schema() {
    schema_writer out(completeness::every_field);
    record all;
    visit(out, all);
    return out.str(
        "Plumbline record",
        "The record of a calibrated instrument, as this library writes it. Beyond this schema the library checks names that "
        "point to other parts, the order of dates, bounds between fields, and sizes: 16 MiB a file, 64 KiB a text.");
}

}  // namespace plumbline::inline v0::record
