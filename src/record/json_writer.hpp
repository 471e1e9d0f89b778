#pragma once
// Writing of JSON: the fields in the order of their visit, two spaces a level.

#include "fields.hpp"

#include <memory>
#include <string>

namespace plumbline::inline v0::record {

class json_writer final : public fields {
public:
    json_writer();
    ~json_writer() override;

    /// The document, ending in a line feed. @throws bad_input a text in it is not UTF-8
    [[nodiscard]] std::string str() const;

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
