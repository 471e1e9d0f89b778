#include "tails.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

namespace {

constexpr double endless = std::numeric_limits<double>::infinity();

/// The lowest values of a sample by rank, sorted only where a rank is looked for. With sign -1 the highest, as the lowest of the negated.
///
/// The values fall into cells of equal width by a map that keeps their order. A cell is sorted when it is wanted; for the others it is
/// enough to know its limits.
class ordered_end {
public:
    static constexpr std::size_t cells = 4096;

    /// @param wanted  how many of the lowest will be looked for
    ordered_end(const kept_values& values, double sign, std::uint64_t wanted) : values_(values), sign_(sign) {
        place_cells(wanted);
        std::vector<std::uint64_t> count(cells, 0);
        each([&](double, std::size_t cell) { ++count[cell]; });
        start_.resize(cells + 1, 0);
        for (std::size_t c = 0; c < cells; ++c) start_[c + 1] = start_[c] + count[c];
        wanted_.assign(cells, false);
    }

    [[nodiscard]] std::size_t cell_of_rank(std::uint64_t rank) const {
        return static_cast<std::size_t>(std::upper_bound(start_.begin(), start_.end(), rank) - start_.begin()) - 1;
    }
    [[nodiscard]] std::uint64_t start(std::size_t cell) const { return start_[cell]; }
    /// Limits of a cell's values. Wider than exact by far more than rounding.
    [[nodiscard]] double at_least(std::size_t cell) const { return cell == 0 ? -endless : edge(cell) - slack(cell); }
    [[nodiscard]] double at_most(std::size_t cell) const {
        return cell == cells - 1 ? endless : edge(cell + 1) + slack(cell + 1);
    }

    void want(std::size_t cell) { wanted_[cell] = true; }

    /// Sorts the cells wanted.
    void sort() {
        position_.assign(cells, 0);
        std::uint64_t total = 0;
        for (std::size_t c = 0; c < cells; ++c) {
            position_[c] = total;
            if (wanted_[c]) total += start_[c + 1] - start_[c];
        }
        sorted_.resize(static_cast<std::size_t>(total));
        std::vector<std::uint64_t> next = position_;
        each([&](double v, std::size_t cell) {
            if (wanted_[cell]) sorted_[static_cast<std::size_t>(next[cell]++)] = v;
        });
        for (std::size_t c = 0; c < cells; ++c) {
            if (wanted_[c]) std::sort(sorted_.data() + position_[c], sorted_.data() + next[c]);
        }
    }
    /// Value of a rank, from 0, in a cell that was sorted; of the highest, the value itself and not the negated one.
    [[nodiscard]] double at(std::uint64_t rank, std::size_t cell) const {
        return sign_ * sorted_[static_cast<std::size_t>(position_[cell] + (rank - start_[cell]))];
    }
    [[nodiscard]] double at(std::uint64_t rank) const { return at(rank, cell_of_rank(rank)); }

private:
    [[nodiscard]] double edge(std::size_t cell) const { return origin_ + static_cast<double>(cell) / scale_; }
    [[nodiscard]] double slack(std::size_t cell) const {
        return 1e-14 * (std::abs(origin_) + std::abs(static_cast<double>(cell) / scale_));
    }

    /// Cells from the 2 % quantile of what is wanted to beyond its highest, as a sample of the values has them. A long tail lies in cell 0,
    /// what is not wanted in the last.
    void place_cells(std::uint64_t wanted) {
        constexpr std::size_t sample_size = 4096;
        const std::uint64_t size = values_.size();
        const auto stride = static_cast<std::size_t>(std::max<std::uint64_t>(1, size / sample_size));
        std::vector<double> sample;
        std::size_t skipped = 0;
        for (const auto& piece : values_.pieces()) {
            std::size_t i = skipped;
            for (; i < piece.count; i += stride) sample.push_back(sign_ * piece.values[i]);
            skipped = i - piece.count;
        }
        std::sort(sample.data(), sample.data() + sample.size());
        const double last = static_cast<double>(sample.size() - 1);
        const double wanted_here = last * static_cast<double>(wanted) / static_cast<double>(size);
        origin_ = sample[static_cast<std::size_t>(0.02 * wanted_here)];
        const double top =
            sample[static_cast<std::size_t>(std::min(last, std::ceil(wanted_here + 4.0 * std::sqrt(wanted_here)) + 1.0))];
        scale_ = static_cast<double>(cells - 2) / (top - origin_);
        if (!std::isfinite(scale_) || !(scale_ > 0.0)) scale_ = std::numeric_limits<double>::min();  // all alike: one cell
    }

    template <class Each>
    void each(const Each& what) const {
        constexpr double last = static_cast<double>(cells - 1);
        for (const auto& piece : values_.pieces()) {
            for (std::size_t i = 0; i < piece.count; ++i) {
                const double v = sign_ * piece.values[i];
                what(v, static_cast<std::size_t>(std::min(std::max((v - origin_) * scale_, 0.0), last)));
            }
        }
    }

    const kept_values& values_;
    double sign_;
    double origin_ = 0.0;
    double scale_ = 1.0;
    std::vector<std::uint64_t> start_;
    std::vector<bool> wanted_;
    std::vector<std::uint64_t> position_;
    std::vector<double> sorted_;
};

}  // namespace

std::uint64_t kept_values::size() const {
    std::uint64_t sum = 0;
    for (const piece& p : pieces_) sum += p.count;
    return sum;
}

void kept_values::take_over(kept_values& other) {
    for (piece& p : other.pieces_) pieces_.push_back(std::move(p));
    other.pieces_.clear();
}

coverage_ranks ranks_of(std::uint64_t trials, double probability) {
    const double m = static_cast<double>(trials);
    // int(pM + 1/2) is pM where that is whole, and is not misled where it is whole but for rounding.
    const auto q = std::clamp<std::uint64_t>(static_cast<std::uint64_t>(std::llround(probability * m)), 1, trials - 1);
    return {q, std::max<std::uint64_t>(1, (trials - q + 1) / 2)};
}

interval_pair exact_intervals(const kept_values& low_end, const kept_values& high_end, std::uint64_t trials, double probability) {
    const coverage_ranks ranks = ranks_of(trials, probability);
    const std::uint64_t k =
        trials - ranks.q;  // interval r, from 0 to k - 1, is from the r-th lowest to the (k - 1 - r)-th highest
    ordered_end low(low_end, 1.0, k);
    ordered_end high(high_end, -1.0, k);
    const std::uint64_t symmetric = ranks.symmetric - 1;
    low.want(low.cell_of_rank(symmetric));
    high.want(high.cell_of_rank(k - 1 - symmetric));

    // Runs of r with both ends in the same two cells; a run can hold the shortest interval only if its least possible length is not above
    // the greatest possible of some other.
    struct run {
        std::uint64_t first, last;
        std::size_t low_cell, high_cell;
        double shortest;
    };
    std::vector<run> runs;
    double good_enough = endless;
    for (std::uint64_t r = 0; r < k;) {
        const std::size_t i = low.cell_of_rank(r);
        const std::size_t j = high.cell_of_rank(k - 1 - r);
        const std::uint64_t last = std::min(low.start(i + 1) - 1, k - 1 - high.start(j));
        runs.push_back({r, std::min(last, k - 1), i, j, -high.at_most(j) - low.at_most(i)});
        good_enough = std::min(good_enough, -high.at_least(j) - low.at_least(i));
        r = last + 1;
    }
    std::erase_if(runs, [&](const run& a) { return a.shortest > good_enough; });
    for (const run& a : runs) {
        low.want(a.low_cell);
        high.want(a.high_cell);
    }
    low.sort();
    high.sort();

    interval_pair found{{low.at(symmetric), high.at(k - 1 - symmetric)}, {-endless, endless}};
    for (const run& a : runs) {
        for (std::uint64_t r = a.first; r <= a.last; ++r) {
            const double from = low.at(r, a.low_cell);
            const double to = high.at(k - 1 - r, a.high_cell);
            if (to - from < found.shortest.high - found.shortest.low) found.shortest = {from, to};
        }
    }
    return found;
}

interval_pair intervals_of_cells(const histogram& cells, double lowest, double highest, std::uint64_t trials, double probability,
                                 double& bound) {
    const coverage_ranks ranks = ranks_of(trials, probability);
    const double width = (cells.high - cells.low) / static_cast<double>(cells.counts.size());
    bound = 0.5 * width;

    // Edges with the number of trials below them; the outermost two are the extremes of all trials.
    struct cell {
        double from, to;
        std::uint64_t end;  // trials in this cell and below
    };
    std::vector<cell> all = {{lowest, cells.low, cells.below}};
    for (std::size_t c = 0; c < cells.counts.size(); ++c) {
        all.push_back({cells.low + width * static_cast<double>(c), cells.low + width * static_cast<double>(c + 1),
                       all.back().end + cells.counts[c]});
    }
    all.push_back({cells.high, highest, trials});
    std::erase_if(all, [before = std::uint64_t{0}](const cell& c) mutable { return std::exchange(before, c.end) == c.end; });
    const auto middle = [](const cell& c) { return 0.5 * (c.from + c.to); };
    const auto of_rank = [&](std::uint64_t rank) -> const cell& {  // from 0
        return *std::upper_bound(all.begin(), all.end(), rank, [](std::uint64_t r, const cell& c) { return r < c.end; });
    };
    const auto interval_at = [&](std::uint64_t r) {
        const cell& a = of_rank(r);
        const cell& b = of_rank(r + ranks.q);
        return std::pair{coverage_interval{middle(a), middle(b)}, 0.5 * std::max(a.to - a.from, b.to - b.from)};
    };
    const auto symmetric = interval_at(ranks.symmetric - 1);
    std::pair<coverage_interval, double> shortest = interval_at(0);
    const auto consider = [&](std::uint64_t r) {
        if (r >= trials - ranks.q) return;
        const auto here = interval_at(r);
        if (here.first.high - here.first.low < shortest.first.high - shortest.first.low) shortest = here;
    };
    for (const cell& c : all) {  // the length changes only where an end passes from one cell to the next
        consider(c.end);
        if (c.end >= ranks.q) consider(c.end - ranks.q);
    }
    bound = std::max(symmetric.second, shortest.second);
    return {symmetric.first, shortest.first};
}

tail_limits limits_from(std::vector<double> pilot, std::uint64_t trials, double probability, double margin) {
    const double n = static_cast<double>(pilot.size());
    const double share = static_cast<double>(trials - ranks_of(trials, probability).q) / static_cast<double>(trials);
    const double rank = std::ceil(n * share + margin * std::sqrt(n * share * (1.0 - share))) + 1.0;
    if (!(rank < n)) return {endless, -endless};
    const auto at = static_cast<std::ptrdiff_t>(rank);
    double* const begin = pilot.data();  // pointers: half the time where nothing is inlined
    double* const end = begin + pilot.size();
    std::nth_element(begin, begin + at, end);
    const double low = begin[at];
    std::nth_element(begin, end - 1 - at, end);
    return {low, *(end - 1 - at)};
}

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
