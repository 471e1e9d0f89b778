#pragma once
// A JSON Schema at work, and documents broken in every single place.

#include "../slow_build.hpp"

#include <cstddef>
#include <fstream>
#include <functional>
#include <iterator>
#include <map>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <string>
#include <utility>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validator.hpp>
#include <vector>

namespace schema_check {

using nlohmann::json;
using pointer = json::json_pointer;

inline std::string bytes_of(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

class schema {
public:
    explicit schema(const std::string& text) {
        const json parsed = json::parse(text);
        const valijson::adapters::NlohmannJsonAdapter adapter(parsed);
        valijson::SchemaParser(valijson::SchemaParser::kDraft7).populateSchema(adapter, schema_);
    }

    bool accepts(const json& document) {
        return validator_.validate(schema_, valijson::adapters::NlohmannJsonAdapter(document), nullptr);
    }

    /// Where and why a document is refused; "" if it is not.
    std::string complaints(const json& document) {
        valijson::ValidationResults results;
        validator_.validate(schema_, valijson::adapters::NlohmannJsonAdapter(document), &results);
        std::string all;
        for (const auto& error : results) {
            for (const std::string& step : error.context) all += step;
            all += ": " + error.description + "\n";
        }
        return all;
    }

private:
    valijson::Schema schema_;
    valijson::Validator validator_;  // keeps the compiled patterns
};

/// What a list's items are alike in: their keys, and the words that say which of several forms they have.
inline std::string shape_of(const json& item) {
    if (!item.is_object()) return item.type_name();
    std::string shape;
    for (const auto& [key, value] : item.items()) shape += key == "distribution" ? value.dump() : key + ' ';
    return shape;
}

/// Every place of a document, the outermost objects first. Of a list's items that are alike the first stands for all.
inline void places_of(const json& j, const pointer& at, std::vector<pointer>& found) {
    found.push_back(at);
    if (j.is_object()) {
        for (const auto& [key, value] : j.items()) places_of(value, at / key, found);
    } else if (j.is_array()) {
        std::set<std::string> seen;
        for (std::size_t i = 0; i < j.size(); ++i) {
            if (seen.insert(shape_of(j[i])).second) places_of(j[i], at / i, found);
        }
    }
}

inline std::vector<pointer> places_of(const json& j) {
    std::vector<pointer> found;
    places_of(j, pointer(), found);
    return found;
}

/// What reader and schema said to documents that were changed in one place each.
struct judgement {
    std::size_t read = 0;                ///< how many the reader still reads
    std::size_t refused = 0;             ///< how many both refuse
    std::set<std::string> schema_alone;  ///< refused by the schema and read: must not be
    std::set<std::string> reader_alone;  ///< refused by the reader and not by the schema: what it cannot say

    void of(const std::string& change, bool reads, bool accepts) {
        if (reads && !accepts) schema_alone.insert(change);
        if (!reads && accepts) reader_alone.insert(change);
        if (reads && accepts) ++read;
        if (!reads && !accepts) ++refused;
    }
};

using reader = std::function<bool(const json&)>;

/// Each key removed in turn, or one in so many.
inline judgement without_each_key(const json& good, schema& s, const reader& reads, std::size_t one_in = 1) {
    judgement all;
    slow::choice looked_at(one_in);
    for (const pointer& at : places_of(good)) {
        if (!looked_at()) continue;
        if (at.empty() || !good[at.parent_pointer()].is_object()) continue;
        json j = good;
        j[at.parent_pointer()].erase(at.back());
        all.of(at.to_string(), reads(j), s.accepts(j));
    }
    return all;
}

/// Each of these keys added to each object that has it not, or to one in so many.
inline judgement with_one_key_more(const std::map<std::string, json>& keys, const json& good, schema& s, const reader& reads,
                                   std::size_t one_in = 1) {
    judgement all;
    slow::choice looked_at(one_in);
    for (const pointer& at : places_of(good)) {
        if (!good[at].is_object() || !looked_at()) continue;
        for (const auto& [key, value] : keys) {
            if (good[at].contains(key)) continue;
            json j = good;
            j[at][key] = value;
            all.of((at / key).to_string(), reads(j), s.accepts(j));
        }
    }
    return all;
}

/// Each value replaced by each of others, or by one in so many: with a number that does not divide theirs, by others at each place.
inline judgement with_each_value_as(const std::vector<json>& others, const json& good, schema& s, const reader& reads,
                                    std::size_t one_in = 1) {
    judgement all;
    slow::choice looked_at(one_in);
    json changed = good;
    for (const pointer& at : places_of(good)) {
        for (const json& other : others) {
            if (!looked_at()) continue;
            json j = other;
            changed[at].swap(j);
            all.of(at.to_string() + " = " + other.dump(), reads(changed), s.accepts(changed));
            changed[at].swap(j);
        }
    }
    return all;
}

/// The places of changes: no values, every number of an item as '*'.
inline std::set<std::string> places(const std::set<std::string>& changes) {
    static const std::regex item("/[0-9]+(?=/|$)");
    std::set<std::string> all;
    for (const std::string& change : changes) all.insert(std::regex_replace(change.substr(0, change.find(" = ")), item, "/*"));
    return all;
}

/// What was found and is not known.
inline std::string beyond(const std::set<std::string>& known, const std::set<std::string>& found) {
    std::string text;
    for (const std::string& one : found) {
        if (!known.contains(one)) text += one + "\n";
    }
    return text;
}

inline std::string lines(const std::set<std::string>& all) {
    std::string text;
    for (const std::string& one : all) text += one + "\n";
    return text;
}

}  // namespace schema_check
