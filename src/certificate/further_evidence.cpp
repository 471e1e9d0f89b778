#include "further_evidence.hpp"

#include <plumbline/calibration/repetitions.hpp>
#include <utility>

#include "figures.hpp"

namespace plumbline::inline v0::certificate {
namespace {

void add_turns(std::vector<block>& to, const calibration::range_calibration& range) {
    if (range.turns.empty()) return;
    table shown{"Zero and reference step in turn, each connected anew",
                {"step", "since the first", "codes", "samples", "capture"},
                {},
                true,
                true};
    for (std::size_t i = 0; i < range.turns.size(); ++i) {
        const calibration::repeated_capture& c = range.turns[i];
        shown.rows.push_back({i % 2 == 0 ? "zero" : "reference", together(as_stated(c.at)),
                              "mean " + fixed(c.seen.mean.value(), 3) + ", standard deviation " + fixed(c.seen.s.value(), 3),
                              std::to_string(c.seen.n) + ", of them independent " + fixed(c.seen.n_eff, 0),
                              capture_text(c.evidence)});
    }
    to.emplace_back(std::move(shown));
    const calibration::drift_free f = calibration::without_drift(range.turns);
    to.emplace_back(paragraph{f.text + " Above, the two steps stand with all their captures together and the mean codes at the "
                                       "middle of the series; how these scatter is an input of the budget."});
}

}  // namespace

std::string capture_text(const calibration::capture_evidence& e) {
    return stated(e.file) + (e.column.empty() ? "" : ", column " + e.column) + ", " + together(as_stated(e.sample_rate)) +
           ", SHA-256 " + stated(e.sha256);
}

std::vector<block> further_evidence(const calibration::range_calibration& range) {
    std::vector<block> all;
    add_turns(all, range);
    return all;
}

}  // namespace plumbline::inline v0::certificate
