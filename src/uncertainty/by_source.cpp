#include <plumbline/uncertainty/by_source.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace plumbline::inline v0::uncertainty {

std::vector<source_row> by_source(const budget& b, std::span<const correlation> correlations) {
    std::vector<dependence> all;
    for (const budget_row& row : b.rows) all.push_back({row.in, row.sensitivity});
    std::sort(all.begin(), all.end(), [](const dependence& x, const dependence& y) { return x.on->id < y.on->id; });
    std::map<std::string, std::vector<dependence>> groups;
    for (const dependence& d : all) groups[d.on->source].push_back(d);

    std::map<std::string, std::pair<std::size_t, double>> sums;  // inputs and variance
    for (const auto& [source, inputs] : groups) sums[source] = {inputs.size(), covariance(inputs, inputs, correlations)};
    for (const second_order_row& r : b.second_order) {
        const auto [low, high] = std::minmax(r.first->source, r.second->source);
        sums[low == high ? low : low + "; " + high].second += r.variance;
    }

    const double variance = b.u * b.u;
    std::vector<source_row> rows;
    rows.reserve(sums.size());
    for (const auto& [source, sum] : sums) {
        rows.push_back({source, sum.first, std::sqrt(std::max(0.0, sum.second)), variance > 0.0 ? sum.second / variance : 0.0});
    }
    std::stable_sort(rows.begin(), rows.end(),
                     [](const source_row& x, const source_row& y) { return x.contribution > y.contribution; });
    return rows;
}

}  // namespace plumbline::inline v0::uncertainty
