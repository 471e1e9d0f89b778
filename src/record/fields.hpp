#pragma once
// The fields of a file, visited one by one. What a file holds is described once (layout.hpp); a reader, a writer and a writer of its schema
// visit it.

#include "figure.hpp"

#include <plumbline/units/quantities.hpp>

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::record {

/// What a text must satisfy.
enum class wording { any, not_empty };

class fields {
public:
    fields() = default;
    fields(const fields&) = delete;
    fields& operator=(const fields&) = delete;
    virtual ~fields() = default;

    // Leaves. Each key is required where it is visited.
    virtual void text(const char* key, std::string& value, wording w = wording::any) = 0;
    virtual void number(const char* key, double& value, demand d = demand::any) = 0;
    virtual void number_or_infinite(const char* key, double& value,
                                    demand d = demand::any) = 0;  ///< infinite as the text "infinite"
    virtual void flag(const char* key, bool& value) = 0;
    virtual void figure(const char* key, double& value, const char* unit, demand d = demand::any) = 0;

    template <class Quantity>
    void quantity(const char* key, Quantity& value, demand d = demand::any) {
        double figure_value = value.value();
        figure(key, figure_value, unit_symbol<Quantity>, d);
        value = Quantity::from_value(figure_value);
    }

    template <class Whole>
    void whole(const char* key, Whole& value, std::int64_t low = std::numeric_limits<Whole>::min(),
               std::int64_t high = std::numeric_limits<Whole>::max()) {
        auto wide = static_cast<std::int64_t>(value);
        whole_number(key, wide, low, high);
        value = static_cast<Whole>(wide);
    }
    void count(const char* key, std::size_t& value, std::int64_t low = 0) { whole(key, value, low, most_samples); }

    /// A text that is one of these words, else refused with what is expected and what to do.
    void word(const char* key, std::string& value, std::span<const char* const> words, const std::string& expected,
              const std::string& remedy) {
        text(key, value);
        closed(key, words);
        expect(std::find(words.begin(), words.end(), value) != words.end(), key, "found " + shown(value), expected, remedy);
    }

    // Parts: visit(*this) visits the fields of the object at key.
    template <class Visit>
    void object(const char* key, Visit visit) {
        begin_object(key);
        visit();
        end_object();
    }

    /// visit(item) for each item of the list at key.
    template <class Item, class Visit>
    void list(const char* key, std::vector<Item>& items, Visit visit) {
        items.resize(begin_list(key, items.size()));
        for (std::size_t i = 0; i < items.size(); ++i) {
            begin_item(i);
            visit(items[i]);
            end_object();
        }
        end_list();
    }

    /// Whether a field that may be absent is there. A writer says what it was told.
    [[nodiscard]] virtual bool has(const char* key, bool now) = 0;

    /// Whether to visit a field with a default: files written by hand may leave it out, a record has them all.
    [[nodiscard]] virtual bool gives(const char* key) = 0;

    // Alternatives. Fields whose form hangs on another field are visited in here, so that a schema knows about all of them: has(), or an
    // `if` on a value already read, shows it only one.
    using alternative = std::function<void()>;

    /// Visits one or the other, by whether there is a field at key. Either may visit nothing; that at key is visited in the first.
    virtual void either(const char* key, bool now, const alternative& with, const alternative& without) {
        has(key, now) ? with() : without();
    }

    /// Visits what hangs on the word at key, which has just been visited.
    virtual void by_word(const char*, std::string&, std::span<const char* const>, const alternative& rest) { rest(); }

    /// Visits what hangs on the flag at key, which has just been visited, or left at false since it may be left out.
    virtual void by_flag(const char*, bool&, const alternative& rest) { rest(); }

    /// Refuses what is at key (a JSON pointer from here, without its first '/') unless good.
    virtual void expect(bool good, const std::string& key, const std::string& found, const std::string& expected,
                        const std::string& remedy) = 0;

    /// The same, and the condition once more in JSON Schema: weaker than it where JSON Schema cannot say it, never stronger.
    void expect(bool good, const char* key, const std::string& found, const std::string& expected, const std::string& remedy,
                const std::string& schema) {
        also(key, schema, expected);
        expect(good, key, found, expected, remedy);
    }

    /// What else holds for the field at key, already visited, or with "" for the object that is being visited.
    /// @param schema   keywords of JSON Schema (draft 7) as a JSON object
    /// @param meaning  the same in words, may be ""
    virtual void also(const char* /*key*/, const std::string& /*schema*/, const std::string& /*meaning*/) {}

protected:
    static constexpr std::int64_t most_samples = std::int64_t{1} << 53U;  // whole numbers that every reader of JSON keeps

    virtual void whole_number(const char* key, std::int64_t& value, std::int64_t low, std::int64_t high) = 0;
    virtual void begin_object(const char* key) = 0;
    virtual void end_object() = 0;
    virtual std::size_t begin_list(const char* key, std::size_t now) = 0;
    virtual void begin_item(std::size_t i) = 0;
    virtual void end_list() = 0;
    virtual void closed(const char* /*key*/, std::span<const char* const> /*words*/) {
    }  ///< the text at key has to be one of these
};

}  // namespace plumbline::inline v0::record
