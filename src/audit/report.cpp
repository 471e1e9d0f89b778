#include <plumbline/audit/report.hpp>

#include "../record/json_writer.hpp"
#include "../units/figures.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::audit {

namespace {

constexpr std::array<const char*, 4> suitabilities{"suitable", "suitable with conditions", "not suitable", "do not connect"};
constexpr std::array<const char*, 5> verdicts{"good", "condition", "unknown", "bad", "dangerous"};

/// Broken at spaces to a width that a terminal shows, further lines indented.
std::string wrapped(const std::string& first, const std::string& words, std::size_t indent) {
    constexpr std::size_t width = 100;
    std::string out;
    std::string row = first;
    const auto columns = [](const std::string& s) {  // of UTF-8: bytes that begin a character
        std::size_t n = 0;
        for (const char c : s) n += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U ? 1 : 0;
        return n;
    };
    std::size_t at = 0;
    bool fresh = true;
    while (at < words.size()) {
        const std::size_t end = std::min(words.find(' ', at), words.size());
        const std::string word = words.substr(at, end - at);
        // A figure keeps its unit.
        const bool unit = !row.empty() && row.back() >= '0' && row.back() <= '9' && columns(word) <= 3;
        const std::size_t after = word == "±" ? 8 : end < words.size() && word.back() >= '0' && word.back() <= '9' ? 4 : 0;
        if (!fresh && !unit && columns(row) + 1 + columns(word) + after > width) {
            out += row + "\n";
            row = std::string(indent, ' ');
            fresh = true;
        }
        row += (fresh ? "" : " ") + word;
        fresh = false;
        at = end + 1;
    }
    return out + row + "\n";
}

std::string capital(std::string_view text) {
    std::string out(text);
    if (!out.empty() && out.front() >= 'a' && out.front() <= 'z') out.front() = static_cast<char>(out.front() - 'a' + 'A');
    return out;
}

std::string margin_of(const line& l) {
    const auto m = l.margin();
    if (!m) return "";
    if (*m >= 0.0) return fmt::format(" [{} to spare]", per_cent(*m));
    const double times = l.at_least ? *l.limit / *l.figure : *l.figure / *l.limit;
    if (!std::isfinite(times)) return " [nothing is left]";
    if (times >= 1.95) return fmt::format(" [{} times {}]", shown(times, "1", 2), l.at_least ? "too little" : "too much");
    return l.at_least ? fmt::format(" [{} short]", per_cent(1.0 - 1.0 / times))
                      : fmt::format(" [{} over]", per_cent(times - 1.0));
}

void section(std::string& out, const std::vector<line>& lines, const char* heading, std::initializer_list<line_is> which) {
    bool begun = false;
    for (const line& l : lines) {
        if (std::find(which.begin(), which.end(), l.verdict) == which.end()) continue;
        if (!begun) out += fmt::format("\n{}\n", heading);
        begun = true;
        out += wrapped("  - ", in_one_line(capital(l.name) + ": " + l.text + margin_of(l)), 4);
    }
}

/// What the report is about and what it found, as the fields of a file: written only.
void visit(record::fields& f, line& l) {
    f.text("name", l.name);
    std::string verdict = verdicts[static_cast<std::size_t>(l.verdict)];
    f.text("verdict", verdict);
    const auto number = [&](const char* key, std::optional<double> value) {
        if (value && std::isfinite(*value) && f.has(key, true)) f.number(key, *value);
    };
    number("figure", l.figure);
    number("limit", l.limit);
    if (l.figure) f.text("unit", l.unit);
    number("margin", l.margin());
    f.text("text", l.text);
}

}  // namespace

std::string_view word(suitability s) { return suitabilities[static_cast<std::size_t>(s)]; }

std::optional<double> line::margin() const {
    if (!figure || !limit) return {};
    if (at_least) return *figure > 0.0 ? 1.0 - *limit / *figure : -std::numeric_limits<double>::infinity();
    if (*limit == 0.0) return *figure == 0.0 ? 0.0 : -std::numeric_limits<double>::infinity();
    return 1.0 - *figure / *limit;
}

std::string text(const report& r) {
    std::string verdict(word(r.verdict));
    for (char& c : verdict) c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
    std::string out = in_one_line(verdict + ": " + r.job) + "\n";
    out += wrapped("",
                   in_one_line(fmt::format("Instrument: record {}, channel {}, range {}, {:.1f} years after its calibration.",
                                           r.record, r.channel, r.range, r.years)),
                   0);
    if (!r.invented.empty()) out += wrapped("", in_one_line(r.invented), 0);
    section(out, r.lines, "Do not connect, because", {line_is::dangerous});
    section(out, r.lines, "Not good enough", {line_is::bad});
    section(out, r.lines, "Only if", {line_is::condition});
    section(out, r.lines, "Not known", {line_is::unknown});
    if (!r.changes.empty() || r.verdict == suitability::not_suitable) {
        out += "\nWhat would change it, most effective first\n";
        for (const change& c : r.changes) {
            out +=
                wrapped("  - ",
                        in_one_line(fmt::format("{}: {}{}", capital(c.what), word(c.verdict),
                                                c.deciding.margin() ? fmt::format("; {} then {}{}", c.deciding.name,
                                                                                  shown(*c.deciding.figure, c.deciding.unit, 2),
                                                                                  margin_of(c.deciding))
                                                                    : std::string())),
                        4);
        }
        if (r.changes.empty()) out += "  - nothing that was tried; see above what is missing\n";
    }
    section(out, r.lines, "Good", {line_is::good});
    out += "\n" + wrapped("",
                          "Before you connect: a verdict on accuracy does not make an instrument safe. Never connect a pocket "
                          "instrument to mains or to what is fed straight from them, an inverter's output included; fuse battery "
                          "leads, take off rings, connect ground first. Local codes and licensed practice come first.",
                          0);
    return out;
}

std::string to_json(const report& r) {
    report copy = r;
    record::json_writer f;
    std::string verdict(word(r.verdict));
    std::string kind = "audit";
    f.text("plumbline", kind, record::wording::any);
    f.text("verdict", verdict, record::wording::any);
    f.text("job", copy.job, record::wording::any);
    f.text("record", copy.record, record::wording::any);
    f.text("channel", copy.channel, record::wording::any);
    f.text("range", copy.range, record::wording::any);
    f.number("years", copy.years, record::demand::any);
    f.text("invented", copy.invented, record::wording::any);
    f.object("accuracy", [&] {
        f.quantity("at", copy.accuracy.at);
        f.quantity("U", copy.accuracy.U);
        f.number("k", copy.accuracy.k, record::demand::any);
        f.quantity("uncorrected", copy.accuracy.uncorrected);
        f.quantity("off", copy.accuracy.off);
        if (copy.accuracy.allowed > voltage()) {
            f.quantity("allowed", copy.accuracy.allowed);
            f.number("conformity", copy.accuracy.conformity, record::demand::any);
        }
    });
    if (copy.decision) {
        f.object("decision", [&] {
            const auto limit = [&](const char* key, voltage v) {
                if (std::isfinite(v.value())) f.quantity(key, v);
            };
            limit("accept_from", copy.decision->accepted.lower);
            limit("accept_to", copy.decision->accepted.upper);
            f.quantity("u", copy.decision->u);
            f.number("consumers_risk_at_limit", copy.decision->at_limit.consumers, record::demand::any);
            f.number("producers_risk_at_limit", copy.decision->at_limit.producers, record::demand::any);
            if (copy.decision->overall) {
                f.number("consumers_risk", copy.decision->overall->consumers, record::demand::any);
                f.number("producers_risk", copy.decision->overall->producers, record::demand::any);
            }
        });
    }
    f.list("lines", copy.lines, [&](line& l) { visit(f, l); });
    f.list("changes", copy.changes, [&](change& c) {
        f.text("what", c.what, record::wording::any);
        std::string then(word(c.verdict));
        f.text("verdict", then, record::wording::any);
        f.object("deciding", [&] { visit(f, c.deciding); });
    });
    return f.str();
}

}  // namespace plumbline::inline v0::audit
