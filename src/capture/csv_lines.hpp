#pragma once
// CSV a piece at a time: what csv.cpp does with a whole text, for texts that are not kept.

#include <cstdint>
#include <memory>
#include <optional>
#include <plumbline/units/quantities.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace plumbline::inline v0::capture {

class csv_lines {
public:
    virtual ~csv_lines() = default;

    /// @param text  what follows; the first one longer than any line, or all there is
    /// @param last  nothing follows
    /// @throws bad_input
    virtual void feed(std::string_view text, bool last) = 0;

    /// Codes read since they were last cleared.
    virtual std::vector<std::int32_t>& codes() = 0;
    [[nodiscard]] virtual std::optional<frequency> sample_rate() const = 0;
};

/// Names and column are those of messages; kept by reference.
[[nodiscard]] std::unique_ptr<csv_lines> make_csv_lines(const std::string& name, const std::string& column);

}  // namespace plumbline::inline v0::capture
