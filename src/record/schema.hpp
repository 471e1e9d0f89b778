#pragma once
// Writing of a JSON Schema: what is visited is not a file but all that a file may hold.

#include "fields.hpp"
#include "json_reader.hpp"

#include <memory>
#include <string>

namespace plumbline::inline v0::record {

/// JSON Schema (draft 7) of the files that a json_reader of the same completeness reads.
///
/// Visits every field once, those of alternatives once for each. Every whole number is set to the least allowed and every other number to 1,
/// so that a bound taken from a field before (largest not below smallest) is the loosest one.
class schema_writer final : public fields {
public:
    explicit schema_writer(completeness how);
    ~schema_writer() override;

    /// The schema, ending in a line feed.
    [[nodiscard]] std::string str(const std::string& title, const std::string& description) const;

    void text(const char* key, std::string& value, wording w) override;
    void number(const char* key, double& value, demand d) override;
    void number_or_infinite(const char* key, double& value, demand d) override;
    void flag(const char* key, bool& value) override;
    void figure(const char* key, double& value, const char* unit, demand d) override;
    [[nodiscard]] bool has(const char* key, bool now) override;
    [[nodiscard]] bool gives(const char* key) override;
    void either(const char* key, bool now, const alternative& with, const alternative& without) override;
    void by_word(const char* key, std::string& value, std::span<const char* const> words, const alternative& rest) override;
    void by_flag(const char* key, bool& value, const alternative& rest) override;
    void expect(bool good, const std::string& key, const std::string& found, const std::string& expected,
                const std::string& remedy) override;
    void also(const char* key, const std::string& schema, const std::string& meaning) override;

protected:
    void whole_number(const char* key, std::int64_t& value, std::int64_t low, std::int64_t high) override;
    void begin_object(const char* key) override;
    void end_object() override;
    std::size_t begin_list(const char* key, std::size_t now) override;
    void begin_item(std::size_t i) override;
    void end_list() override;
    void closed(const char* key, std::span<const char* const> words) override;

private:
    struct document;
    std::unique_ptr<document> d_;
};

/// A pattern (the regular expressions that JSON Schema recommends) of the texts that read_figure reads and that meet the demand.
/// Figures beyond the range of double match, too.
[[nodiscard]] std::string figure_pattern(std::string_view unit, demand d);

}  // namespace plumbline::inline v0::record
