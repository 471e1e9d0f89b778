#pragma once
// What a record holds, field by field: the one description that reading and writing share, and that session files share with records.

#include "fields.hpp"

#include <plumbline/record/record.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <array>
#include <string>

namespace plumbline::inline v0::record {

/// Refuses a file that is no such file of ours, or of a newer form: "plumbline", "schema".
void visit_envelope(fields& f, const char* what, int known_version);

/// Whether a text can name a record and its files: A-Z a-z 0-9 . _ -, 1 to 64 of them, not beginning with '.'.
[[nodiscard]] bool is_record_number(const std::string& text);

/// Whether a text is a day of the calendar as YYYY-MM-DD.
[[nodiscard]] bool is_date(const std::string& text);

/// A required date. A temperature, refused below absolute zero.
void visit_date(fields& f, const char* key, std::string& value);
void visit_temperature(fields& f, const char* key, celsius& t);

/// One of a closed set of words, in the order of the enumeration's values.
template <class Enum, std::size_t N>
void visit_word(fields& f, const char* key, Enum& value, const std::array<const char*, N>& words) {
    std::string word = words[static_cast<std::size_t>(value)];
    f.word(key, word, words, fmt::format("\"{}\"", fmt::join(words, "\", \"")), "correct the word");
    value = static_cast<Enum>(std::find(words.begin(), words.end(), word) - words.begin());
}

/// A figure that may be left out.
template <class Quantity>
void visit_if_stated(fields& f, const char* key, std::optional<Quantity>& value, demand d = demand::above_zero) {
    if (!f.has(key, value.has_value())) return;
    Quantity q = value.value_or(Quantity::from_value(1.0));
    f.quantity(key, q, d);
    value = q;
}

void visit_if_stated(fields& f, const char* key, std::optional<calibration::slow_disturbance>& slow);

/// What record and session say of device, people, dates, conditions, method and references.
void visit_header(fields& f, record& r);

/// What hangs on the kind, which visit_header has visited.
void by_kind(fields& f, kind& k, const fields::alternative& instrument, const fields::alternative& probe);

/// A probe by its data sheet, without name and mismatch.
void visit_described(fields& f, front_end::probe& p);
void visit(fields& f, calibration::wave& w);

void visit(fields& f, calibration::applied& a);
void visit(fields& f, calibration::acceptance& a);
void visit(fields& f, calibration::use_conditions& u);
void visit_before_and_after(fields& f, std::optional<calibration::plain_correction>& before,
                            std::optional<calibration::use_conditions>& in_use);
/// Limits of "warm", and since when it is used; a known frequency and where it comes from.
void visit_warm_up_limits(fields& f, calibration::seen_warm_up& w);
void visit_known(fields& f, calibration::clock_calibration& c);
void visit_format(fields& f, capture::code_format& format);
void visit(fields& f, front_end::mode& m);
void visit(fields& f, front_end::chain& c);

/// Refuses an applied voltage that names no reference, or one that states no voltage while none is stated here.
/// @param at  where the applied voltage stands, as a JSON pointer from here without its first '/'
void expect_known(fields& f, const std::string& at, const calibration::applied& a, bool transferred,
                  const std::vector<calibration::reference>& references);

/// A whole record.
void visit(fields& f, record& r);

}  // namespace plumbline::inline v0::record
