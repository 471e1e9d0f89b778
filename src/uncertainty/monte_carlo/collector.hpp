#pragma once
// What is kept of the trials: moments of each block, tails, cells.

#include "moments.hpp"
#include "runner.hpp"
#include "tails.hpp"

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

/// Counts values into a histogram.
class cell_counter {
public:
    cell_counter(double low, double high, std::size_t cells);
    void count(const double* y, std::size_t n);
    void add(const cell_counter& other);
    [[nodiscard]] const histogram& cells() const noexcept { return cells_; }
    [[nodiscard]] double lowest() const noexcept { return lowest_; }
    [[nodiscard]] double highest() const noexcept { return highest_; }

private:
    histogram cells_;
    double scale_;
    double lowest_;
    double highest_;
};

/// Of one result, what its intervals and its plot need.
struct output_record {
    tail_limits limits{};
    kept_values low;
    kept_values high;
    std::vector<cell_counter> plot;       ///< one or none
    std::vector<cell_counter> intervals;  ///< one or none: intervals by cells instead of tails

    void take(const kernels& k, const double* y, std::size_t count);
    void take_over(output_record& other);
};

/// Moments of a block, column by column.
class block_moments {
public:
    explicit block_moments(std::size_t results) : block_(results), column_(results) {}
    void take(const kernels& k, std::span<const double* const> y, std::size_t count) {
        column_.of_column(k, y, count);
        block_.add(column_);
    }
    [[nodiscard]] moments finished() { return std::exchange(block_, moments(block_.mean.size())); }

private:
    moments block_;
    moments column_;
};

/// Keeps every value, in the order of the trials, besides the moments of blocks.
class storing_sink : public sink {
public:
    /// @param values        [output][trial - first_trial]
    /// @param of_block      moments by block number less first_block
    storing_sink(const kernels& k, std::vector<std::vector<double>>& values, std::uint64_t first_trial,
                 std::vector<moments>& of_block, std::uint64_t first_block)
        : kernels_(k),
          values_(values),
          first_trial_(first_trial),
          of_block_(of_block),
          first_block_(first_block),
          moments_(values.size()) {}
    void take(std::span<const double* const> y, std::uint64_t first_trial, std::size_t count) override;
    void end_block(const block& b) override {
        of_block_[static_cast<std::size_t>(b.number - first_block_)] = moments_.finished();
    }

private:
    const kernels& kernels_;
    std::vector<std::vector<double>>& values_;
    std::uint64_t first_trial_;
    std::vector<moments>& of_block_;
    std::uint64_t first_block_;
    block_moments moments_;
};

/// Keeps tails and counts cells, besides the moments of blocks.
class collecting_sink : public sink {
public:
    collecting_sink(const kernels& k, std::vector<output_record> empty, std::vector<moments>& of_block, std::uint64_t first_block)
        : records(std::move(empty)), kernels_(k), of_block_(of_block), first_block_(first_block), moments_(records.size()) {}
    void take(std::span<const double* const> y, std::uint64_t first_trial, std::size_t count) override;
    void end_block(const block& b) override {
        of_block_[static_cast<std::size_t>(b.number - first_block_)] = moments_.finished();
    }

    std::vector<output_record> records;

private:
    const kernels& kernels_;
    std::vector<moments>& of_block_;
    std::uint64_t first_block_;
    block_moments moments_;
};

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
