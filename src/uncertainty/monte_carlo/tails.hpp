#pragma once
// Exact order statistics at both ends of a sample, from the values there alone.

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <span>
#include <vector>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

/// Values in pieces: growing copies nothing and takes no more than is used.
class kept_values {
public:
    static constexpr std::size_t piece_length = 8192;
    static constexpr std::size_t room = 264;  ///< a column and the width of a vector

    struct piece {
        std::unique_ptr<double[]> values;
        std::size_t count = 0;
    };

    /// A piece with room for a column more.
    piece& with_room() {
        if (pieces_.empty() || pieces_.back().count + room > piece_length) {
            pieces_.push_back({std::unique_ptr<double[]>(new double[piece_length]), 0});
        }
        return pieces_.back();
    }
    [[nodiscard]] const std::vector<piece>& pieces() const noexcept { return pieces_; }
    [[nodiscard]] std::uint64_t size() const;
    void take_over(kept_values& other);
    void clear() { pieces_.clear(); }

private:
    std::vector<piece> pieces_;
};

/// Ranks of a coverage interval among M ordered values (JCGM 101:2008, 7.7.2): [y(r), y(r + q)], counted from 1.
struct coverage_ranks {
    std::uint64_t q;          ///< p M as a whole number
    std::uint64_t symmetric;  ///< r of the probabilistically symmetric interval
};
[[nodiscard]] coverage_ranks ranks_of(std::uint64_t trials, double probability);

struct interval_pair {
    coverage_interval symmetric;
    coverage_interval shortest;
};

/// Both intervals. low_end holds the lowest values of the sample, at least trials - q of them, all that are not above some value; high_end
/// the highest likewise.
[[nodiscard]] interval_pair exact_intervals(const kept_values& low_end, const kept_values& high_end, std::uint64_t trials,
                                            double probability);

/// The same from a histogram; `bound` is the greatest distance of an end from its order statistic. lowest and highest: of all trials.
[[nodiscard]] interval_pair intervals_of_cells(const histogram& cells, double lowest, double highest, std::uint64_t trials,
                                               double probability, double& bound);

/// What lies beyond these is kept.
struct tail_limits {
    double low;
    double high;
};
/// From a sample that the trials begin with, so that as many of all as needed, trials - q at each end, are kept: unless the sample is
/// `margin` standard deviations from what is typical.
[[nodiscard]] tail_limits limits_from(std::vector<double> pilot, std::uint64_t trials, double probability, double margin);

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
