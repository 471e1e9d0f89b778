#include "collector.hpp"

#include <algorithm>
#include <limits>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

cell_counter::cell_counter(double low, double high, std::size_t cells)
    : cells_{low, high, std::vector<std::uint64_t>(cells, 0)},
      scale_(static_cast<double>(cells) / (high - low)),
      lowest_(std::numeric_limits<double>::infinity()),
      highest_(-std::numeric_limits<double>::infinity()) {}

void cell_counter::count(const double* y, std::size_t n) {
    const double cells = static_cast<double>(cells_.counts.size());
    for (std::size_t i = 0; i < n; ++i) {
        lowest_ = std::min(lowest_, y[i]);
        highest_ = std::max(highest_, y[i]);
        const double at = (y[i] - cells_.low) * scale_;
        if (at < 0.0) {
            ++cells_.below;
        } else if (at >= cells) {
            ++cells_.above;
        } else {
            ++cells_.counts[static_cast<std::size_t>(at)];
        }
    }
}

void cell_counter::add(const cell_counter& other) {
    for (std::size_t c = 0; c < cells_.counts.size(); ++c) cells_.counts[c] += other.cells_.counts[c];
    cells_.below += other.cells_.below;
    cells_.above += other.cells_.above;
    lowest_ = std::min(lowest_, other.lowest_);
    highest_ = std::max(highest_, other.highest_);
}

void output_record::take(const kernels& k, const double* y, std::size_t count) {
    for (cell_counter& c : plot) c.count(y, count);
    for (cell_counter& c : intervals) c.count(y, count);
    if (!intervals.empty()) return;
    kept_values::piece& l = low.with_room();
    kept_values::piece& h = high.with_room();
    if (count == column_length) {
        k.keep_tails(y, limits.low, limits.high, l.values.get(), &l.count, h.values.get(), &h.count);
        return;
    }
    for (std::size_t i = 0; i < count; ++i) {
        if (y[i] <= limits.low) l.values[l.count++] = y[i];
        if (y[i] >= limits.high) h.values[h.count++] = y[i];
    }
}

void output_record::take_over(output_record& other) {
    low.take_over(other.low);
    high.take_over(other.high);
    for (std::size_t i = 0; i < plot.size(); ++i) plot[i].add(other.plot[i]);
    for (std::size_t i = 0; i < intervals.size(); ++i) intervals[i].add(other.intervals[i]);
}

void storing_sink::take(std::span<const double* const> y, std::uint64_t first_trial, std::size_t count) {
    for (std::size_t i = 0; i < y.size(); ++i) {
        std::copy_n(y[i], count, values_[i].begin() + static_cast<std::ptrdiff_t>(first_trial - first_trial_));
    }
    moments_.take(kernels_, y, count);
}

void collecting_sink::take(std::span<const double* const> y, std::uint64_t, std::size_t count) {
    for (std::size_t i = 0; i < y.size(); ++i) records[i].take(kernels_, y[i], count);
    moments_.take(kernels_, y, count);
}

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
