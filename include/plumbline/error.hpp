#pragma once
// The errors of the host library: few types, each text says where, what was found, what was expected and what to do.

#include <plumbline/export.hpp>
#include <stdexcept>
#include <string>
#include <string_view>

namespace plumbline::inline v0 {

/// Whether a character acts on a terminal instead of showing there: controls, line feeds among them, marks and overrides of direction,
/// separators of lines.
[[nodiscard]] PLUMBLINE_EXPORT bool acts(char32_t c);

/// A text as it may stand on a terminal: what acts there as \uXXXX.
[[nodiscard]] PLUMBLINE_EXPORT std::string in_one_line(std::string_view text);

/// Base of every exception this library throws on purpose. what() reads "where: found, expected ...; remedy", in one
/// line whatever the names in it.
class PLUMBLINE_EXPORT error : public std::runtime_error {
public:
    error(const std::string& where, const std::string& found, const std::string& expected, const std::string& remedy)
        : std::runtime_error(in_one_line(where + ": " + found + ", expected " + expected + "; " + remedy)) {}

protected:
    /// The same again, by what asked for it.
    error(const std::string& where, const error& why) : std::runtime_error(in_one_line(where + ", ") + why.what()) {}
};

/// A file or an argument that cannot be read as what it should be: where names the file and the line or JSON path.
class PLUMBLINE_EXPORT bad_input : public error {
public:
    using error::error;
    bad_input(const std::string& where, const bad_input& why) : error(where, why) {}
};

/// A file that could not be written, or stands there already with other contents. Nothing is left half-written.
class PLUMBLINE_EXPORT not_written : public error {
public:
    using error::error;
};

/// A calibration refused because its steps cannot carry it. Numbers never change meaning: add, never renumber.
class PLUMBLINE_EXPORT bad_step : public error {
public:
    enum class reason {
        clipped = 101,           ///< samples on an end code of the converter
        no_span = 102,           ///< both steps on one mean code
        not_finite = 103,        ///< NaN or infinity in an applied voltage or a mean
        swapped = 104,           ///< codes fall where the applied voltage rises
        span_too_small = 105,    ///< the steps are too close together for the range
        gain_off_nominal = 106,  ///< gain too far from what resistors and converter say
        too_few_samples = 107,   ///< fewer than two samples: no scatter can be seen
    };
    bad_step(reason why, const std::string& where, const std::string& found, const std::string& expected,
             const std::string& remedy)
        : error(where, found, expected, remedy), why_(why) {}
    [[nodiscard]] reason why() const noexcept { return why_; }

private:
    reason why_;
};

}  // namespace plumbline::inline v0
