#pragma once
// Blocks of trials: drawn, computed and handed on, by several threads in the same way as by one.

#include "draws.hpp"

#include <algorithm>
#include <memory>
#include <new>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <span>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

inline constexpr std::uint64_t block_length = 4096;  ///< trials by one seeding of the generators

/// Blocks of a run, by number. Trials are counted in parts of part_length, each with blocks of its own, the last of them shorter; a fixed
/// number of trials is one part, an adaptive one has as many as it takes.
struct block_range {
    std::uint64_t part_length = 0;
    std::uint64_t first = 0;
    std::uint64_t last = 0;  ///< the one after the last

    [[nodiscard]] std::uint64_t blocks_of_part() const { return (part_length + block_length - 1) / block_length; }
    [[nodiscard]] block_range of_parts(std::uint64_t from, std::uint64_t to) const {
        return {part_length, from * blocks_of_part(), to * blocks_of_part()};
    }
};

struct block {
    std::uint64_t number;       ///< of all blocks, names its random numbers
    std::uint64_t first_trial;  ///< of all trials
    std::uint64_t length;

    block(const block_range& range, std::uint64_t number_)
        : number(number_),
          first_trial(number / range.blocks_of_part() * range.part_length + number % range.blocks_of_part() * block_length),
          length(std::min(block_length, range.part_length - number % range.blocks_of_part() * block_length)) {}
};

/// What takes the trials in, one for each thread.
class sink {
public:
    virtual ~sink() = default;
    /// @param y  of each output, `count` finite results from trial first_trial on; readable for a whole column
    virtual void take(std::span<const double* const> y, std::uint64_t first_trial, std::size_t count) = 0;
    virtual void end_block(const block& b) = 0;
};

class runner {
public:
    /// All is kept by reference and must outlive the runner.
    runner(const trial_program& program, const std::vector<program_output>& outputs, const monte_carlo_settings& settings);

    /// Runs the blocks; sinks.size() threads, the caller's among them.
    /// @param done  trials before these, for progress; the total told is settings.trials
    /// @throws refused_trial, cancelled, or what the progress callback threw
    void run(const block_range& range, std::span<sink* const> sinks, std::uint64_t done) const;

    [[nodiscard]] const kernels& inner_loops() const noexcept { return kernels_; }

private:
    class workspace;
    struct state_of_run;
    void work(const block_range& range, sink& to, state_of_run& run, bool callers_thread) const;
    void run_block(const block& b, workspace& w, sink& to) const;
    [[noreturn]] void refuse(workspace& w, std::uint64_t trial, std::size_t column_trial, const std::string& found) const;
    void find_refused(workspace& w, std::uint64_t first_trial, std::size_t count) const;

    const trial_program& program_;
    const std::vector<program_output>& outputs_;
    const monte_carlo_settings& settings_;
    const kernels& kernels_;
    draw_plan plan_;
};

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
