#include <plumbline/record/json.hpp>

#include "json_reader.hpp"
#include "json_writer.hpp"
#include "layout.hpp"

namespace plumbline::inline v0::record {

std::string to_json(const record& r) {
    record copy = r;  // visitors may write to what they visit
    json_writer out;
    visit(out, copy);
    std::string text = out.str();
    static_cast<void>(from_json(text, "record " + r.number));  // nothing leaves that could not come back
    return text;
}

record from_json(std::string_view text, const std::string& file) {
    json_reader in(text, file, completeness::every_field);
    record r;
    visit(in, r);
    in.finish();
    return r;
}

record read_record(const std::string& file) { return from_json(read_json_text(file), file); }

}  // namespace plumbline::inline v0::record
