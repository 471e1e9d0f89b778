#include "json_writer.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::record {

using nlohmann::ordered_json;

struct json_writer::document {
    ordered_json root = ordered_json::object();
    std::vector<ordered_json*> open{&root};  // each stays where it is: its parent grows only after it is closed

    ordered_json& add(const char* key, ordered_json value) { return (*open.back())[key] = std::move(value); }
};

json_writer::json_writer() : d_(std::make_unique<document>()) {}
json_writer::~json_writer() = default;

std::string json_writer::str() const {
    try {
        return d_->root.dump(2) + "\n";
    } catch (const ordered_json::type_error&) {
        throw bad_input("record", "found a text that is not UTF-8", "UTF-8", "convert the text before it enters the record");
    }
}

void json_writer::text(const char* key, std::string& value, wording) { d_->add(key, value); }

void json_writer::number(const char* key, double& value, demand) {
    if (std::isfinite(value)) {
        d_->add(key, value);
    } else {
        d_->add(key, write_figure(value, ""));  // JSON has no such number: reads back as refused
    }
}

void json_writer::number_or_infinite(const char* key, double& value, demand d) {
    if (value == std::numeric_limits<double>::infinity()) {
        d_->add(key, "infinite");
    } else {
        number(key, value, d);
    }
}

void json_writer::flag(const char* key, bool& value) { d_->add(key, value); }

void json_writer::figure(const char* key, double& value, const char* unit, demand d) {
    if (std::string_view(unit) == "1") {
        number(key, value, d);
    } else {
        d_->add(key, write_figure(value, unit));
    }
}

bool json_writer::has(const char*, bool now) { return now; }
bool json_writer::gives(const char*) { return true; }
void json_writer::expect(bool, const std::string&, const std::string&, const std::string&, const std::string&) {}

void json_writer::whole_number(const char* key, std::int64_t& value, std::int64_t, std::int64_t) { d_->add(key, value); }
void json_writer::begin_object(const char* key) { d_->open.push_back(&d_->add(key, ordered_json::object())); }
void json_writer::end_object() { d_->open.pop_back(); }

std::size_t json_writer::begin_list(const char* key, std::size_t now) {
    d_->open.push_back(&d_->add(key, ordered_json::array()));
    return now;
}

void json_writer::begin_item(std::size_t) {
    d_->open.back()->push_back(ordered_json::object());
    d_->open.push_back(&d_->open.back()->back());
}

void json_writer::end_list() { d_->open.pop_back(); }

}  // namespace plumbline::inline v0::record
