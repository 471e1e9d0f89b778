#pragma once
// Strict reading of JSON: what is not understood is refused by file and JSON path, never skipped.

#include "fields.hpp"

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

namespace plumbline::inline v0::record {

/// Contents of a JSON file. @throws bad_input missing, not a regular file, unreadable, or over 16 MiB (seen before anything is read)
[[nodiscard]] std::string read_json_text(const std::filesystem::path& file);

/// How complete a file has to be.
enum class completeness {
    every_field,  ///< a record: written by this library, whatever is missing has been lost
    may_default,  ///< a session: written by hand, fields with a default may be left out
};

/// Reads one JSON document field by field.
///
/// Refused as a whole, when it is made: no JSON, an empty or truncated text (with its line), invalid UTF-8, a key given twice in an object,
/// numbers beyond double, control characters in a string other than a line feed, strings over 64 KiB, nesting beyond 64, text over 16 MiB.
/// Refused on the way: a field missing, of the wrong type or beyond its limits. By end_object() or finish(): fields that nobody asked for.
/// Paths in messages are JSON pointers (RFC 6901).
class json_reader final : public fields {
public:
    /// @param file  name of the file, as messages shall show it
    /// @throws bad_input
    json_reader(std::string_view text, std::string file, completeness how);
    ~json_reader() override;

    /// Refuses the outermost fields that were not asked for.
    void finish();

    void text(const char* key, std::string& value, wording w) override;
    void number(const char* key, double& value, demand d) override;
    void number_or_infinite(const char* key, double& value, demand d) override;
    void flag(const char* key, bool& value) override;
    void figure(const char* key, double& value, const char* unit, demand d) override;
    [[nodiscard]] bool has(const char* key, bool now) override;
    [[nodiscard]] bool gives(const char* key) override;
    void expect(bool good, const std::string& key, const std::string& found, const std::string& expected,
                const std::string& remedy) override;

protected:
    void whole_number(const char* key, std::int64_t& value, std::int64_t low, std::int64_t high) override;
    void begin_object(const char* key) override;
    void end_object() override;
    std::size_t begin_list(const char* key, std::size_t now) override;
    void begin_item(std::size_t i) override;
    void end_list() override;

private:
    struct document;
    std::unique_ptr<document> d_;
};

}  // namespace plumbline::inline v0::record
