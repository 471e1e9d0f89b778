#include "budget_section.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/by_source.hpp>
#include <set>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "figures.hpp"
#include "overloaded.hpp"
#include "plots.hpp"
#include "trials.hpp"

namespace plumbline::inline v0::certificate {
namespace {

constexpr double small_share = 1e-3;  // of u²
constexpr double rounded_away = 5e-4;

/// An error in units of its own limits is a plain number; other ratios are percentages.
std::string shown_unit(const uncertainty::input& in, double u) { return in.unit == "1" && u > 0.3 ? "" : in.unit; }

std::string distribution_text(const uncertainty::input& in, const std::string& unit) {
    constexpr int digits = 3;  // some half-widths are computed
    const auto limits = [&](double half_width) { return together(plus_or_minus(as_stated(half_width, unit, digits))); };
    return std::visit(
        overloaded{[](const uncertainty::normal&) -> std::string { return "normal"; },
                   [&](const uncertainty::rectangular& d) { return "rectangular, " + limits(d.half_width); },
                   [&](const uncertainty::triangular& d) { return "triangular, " + limits(d.half_width); },
                   [&](const uncertainty::trapezoidal& d) {
                       return "trapezoidal, " + limits(d.half_width) + ", top " + limits(d.top_half_width);
                   },
                   [&](const uncertainty::arcsine& d) { return "arcsine, " + limits(d.half_width); },
                   [&](const uncertainty::two_point& d) { return "two-point, at " + limits(d.half_width); },
                   [](const uncertainty::repeated&) -> std::string { return "repeated readings (type A)"; },
                   [](const uncertainty::coefficient_times_difference&) -> std::string { return "product of two rectangular"; }},
        in.spread);
}

std::string sensitivity_text(double sensitivity, const std::string& result_unit, const std::string& input_unit) {
    if (input_unit == result_unit) return significant(sensitivity, 3, "");
    return together(significant(sensitivity, 3, input_unit == "1" ? result_unit : result_unit + '/' + input_unit));
}

std::string share_text(double share) {
    const std::string percent = fixed(100.0 * share, 1);
    return together(percent == "0.0" ? "below 0.1 %" : percent + " %");
}

std::string inputs_text(std::size_t n) { return together(std::to_string(n) + (n == 1 ? " input" : " inputs")); }

/// Inputs that share a row.
struct group {
    std::string label;
    std::vector<const uncertainty::budget_row*> rows;
    uncertainty::budget alone;
    [[nodiscard]] double share(double u) const { return alone.u * alone.u / (u * u); }
};

/// Name of the row that an input by temperature shares, "" for others.
std::string shared_row(const uncertainty::input& in) {
    const auto* effect = std::get_if<uncertainty::coefficient_times_difference>(&in.spread);
    if (effect == nullptr) return "";
    return effect->coefficient_of.starts_with("reference/") ? "temperature of the references" : "temperature of the instrument";
}

class condensed {
public:
    condensed(const uncertainty::uncertain<voltage>& y, const uncertainty::budget& whole,
              const std::vector<uncertainty::correlation>& correlations)
        : y_(y), whole_(whole), correlations_(correlations) {
        std::map<std::string, std::vector<const uncertainty::budget_row*>> together_by;
        std::vector<const uncertainty::budget_row*> small;
        for (const uncertainty::budget_row& row : whole.rows) {
            const std::string name = shared_row(*row.in);
            if (!name.empty()) {
                together_by[name].push_back(&row);
            } else if (row.share < small_share) {
                small.push_back(&row);
            } else {
                singles.push_back(&row);
            }
        }
        for (auto& [name, rows] : together_by) {
            group one = made_of(name + ": " + inputs_text(rows.size()), rows);
            if (one.share(whole.u) < small_share) {
                small.insert(small.end(), rows.begin(), rows.end());
            } else {
                groups.push_back(std::move(one));
            }
        }
        std::sort(groups.begin(), groups.end(), [](const group& a, const group& b) { return a.alone.u > b.alone.u; });
        if (!small.empty()) {
            folded = made_of("all others, each below " + together("0.1 %") + ": " + inputs_text(small.size()), small);
        }
    }

    std::vector<const uncertainty::budget_row*> singles;
    std::vector<group> groups;
    group folded;  ///< without rows where nothing is small

    /// What the rows leave of u²: correlations between inputs of different rows.
    [[nodiscard]] double rest() const {
        double sum = folded.rows.empty() ? 0.0 : folded.share(whole_.u);
        for (const auto* row : singles) sum += row->share;
        for (const group& g : groups) sum += g.share(whole_.u);
        return 1.0 - sum;
    }

private:
    [[nodiscard]] group made_of(std::string label, std::vector<const uncertainty::budget_row*> rows) const {
        std::set<std::string> ids;
        for (const auto* row : rows) ids.insert(row->in->id);
        std::vector<uncertainty::dependence> own;
        for (const uncertainty::dependence& d : y_.dependences) {
            if (ids.contains(d.on->id)) own.push_back(d);
        }
        return {std::move(label), std::move(rows),
                uncertainty::make_budget(y_.value.value(), whole_.unit, own, whole_.covered.probability, correlations_)};
    }

    const uncertainty::uncertain<voltage>& y_;
    const uncertainty::budget& whole_;
    const std::vector<uncertainty::correlation>& correlations_;
};

std::string names_of(const std::vector<const uncertainty::budget_row*>& rows) {
    std::string all;
    for (const auto* row : rows) {
        if (shared_row(*row->in).empty()) all += (all.empty() ? "" : "; ") + row->in->label;
    }
    return all;
}

/// The same budget by where the figures come from: what better parts, a better reference or more samples would buy.
table sources_table(const uncertainty::budget& b, const std::vector<uncertainty::correlation>& correlations) {
    table shown{"The same by source", {"source", "contribution", "share of u²", "inputs"}, {}, true};
    double left = 1.0;
    uncertainty::source_row small{"", 0, 0.0, 0.0};
    std::size_t sources = 0;
    for (const uncertainty::source_row& row : uncertainty::by_source(b, correlations)) {
        left -= row.share;
        if (row.share < small_share) {
            ++sources;
            small.inputs += row.inputs;
            small.contribution = std::hypot(small.contribution, row.contribution);
            small.share += row.share;
            continue;
        }
        shown.rows.push_back({stated(row.source), together(significant(row.contribution, 2, b.unit)), share_text(row.share),
                              std::to_string(row.inputs)});
    }
    if (sources > 0) {
        shown.rows.push_back({"all others, each below " + together("0.1 %") + ": " + together(std::to_string(sources)) +
                                  (sources == 1 ? " source" : " sources"),
                              together(significant(small.contribution, 2, b.unit)), share_text(small.share),
                              std::to_string(small.inputs)});
    }
    if (std::abs(left) > rounded_away) shown.rows.push_back({"correlation between sources", "", share_text(left), ""});
    return shown;
}

}  // namespace

section budget_section(const record::record& of, const calibration::range_calibration& range, rounding how) {
    const voltage at = range.chain.high;
    const uncertainty::uncertain<voltage> y = calibration::reading(
        of.inputs, of.references, range, calibration::code_at(range, at), calibration::at_calibration(range));
    const uncertainty::budget b = uncertainty::make_convolved_budget(y, of.coverage_probability, of.correlations);
    const condensed rows(y, b, of.correlations);

    const std::string title = "Uncertainty budget of one sample at " + together(as_stated(at));
    fields result{"", {}};
    result.all = {{"Reading ± U", together(round_with_prefix(b.value, b.U, b.unit, how).plus_minus())},
                  {"Coverage factor k", k_text(b.covered)},
                  {"Standard uncertainty u", together(significant(b.u, 2, b.unit))},
                  {"Effective degrees of freedom", degrees_text(b.degrees_of_freedom)}};
    if (range.by_trials) {
        for (const calibration::reading_by_trials& r : range.by_trials->readings) {
            if (r.at != at) continue;
            const compared_result one{"", voltage::from_value(b.value), voltage::from_value(b.U), r.interval};
            const bool validated = r.interval.first_order == calibration::first_order_is::validated;
            result.all.push_back(
                {"Interval by Monte Carlo",
                 interval_text(one, how) + (validated ? ": first order is validated" : ": first order is not validated")});
        }
    }

    table shown{"Inputs, the largest contribution first",
                {"input", "contribution", "share of u²", "u", "sensitivity", "distribution", "degrees of freedom", "estimate"},
                {},
                true};
    std::vector<share> bars;
    struct line {
        double contribution;
        std::vector<std::string> cells;
        share bar;
    };
    std::vector<line> lines;
    for (const auto* row : rows.singles) {
        const uncertainty::input& in = *row->in;
        const std::string unit = shown_unit(in, row->u);
        const rounded figure = round_with_prefix(in.estimate, row->u, unit);
        lines.push_back(
            {row->contribution,
             {in.label + " (" + stated(in.source) + ')', together(significant(row->contribution, 2, b.unit)),
              share_text(row->share), together(figure.U_with_unit()), sensitivity_text(row->sensitivity, b.unit, in.unit),
              distribution_text(in, unit), degrees_text(row->degrees_of_freedom), together(figure.value_with_unit())},
             {in.label, row->share, share_text(row->share)}});
    }
    const auto line_of = [&](const group& g) {
        const double part = g.share(b.u);
        return line{g.alone.u,
                    {g.label, together(significant(g.alone.u, 2, b.unit)), share_text(part), "", "", "",
                     degrees_text(g.alone.degrees_of_freedom), ""},
                    {g.label, part, share_text(part)}};
    };
    for (const group& g : rows.groups) lines.push_back(line_of(g));
    std::stable_sort(lines.begin(), lines.end(), [](const line& x, const line& z) { return x.contribution > z.contribution; });
    if (!rows.folded.rows.empty()) lines.push_back(line_of(rows.folded));
    if (std::abs(rows.rest()) > rounded_away) {
        const std::string part = share_text(rows.rest());
        lines.push_back(
            {0.0, {"correlation between the above", "", part, "", "", "", "", ""}, {"correlation", rows.rest(), part}});
    }
    for (line& one : lines) {
        shown.rows.push_back(std::move(one.cells));
        bars.push_back(std::move(one.bar));
    }

    section out{
        title, true, {std::move(result), shares_picture("Shares of u² at " + together(as_stated(at)), bars), std::move(shown)}};
    const std::string small = names_of(rows.folded.rows);
    if (!rows.groups.empty() || !rows.folded.rows.empty()) {
        out.blocks.push_back(
            paragraph{"Inputs by temperature are one for each part at each step and at the reading: coefficient times "
                      "temperature difference. "
                      "Rows of several inputs give what these contribute together; the record keeps every input." +
                      (small.empty() ? "" : " Among all others: " + small + '.')});
    }
    out.blocks.emplace_back(sources_table(b, of.correlations));
    return out;
}

}  // namespace plumbline::inline v0::certificate
