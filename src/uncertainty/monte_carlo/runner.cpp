#include "runner.hpp"

#include "instruction_set.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstring>
#include <exception>
#include <limits>
#include <mutex>
#include <plumbline/uncertainty/random.hpp>
#include <thread>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

static_assert(kernel_column == column_length && kernel_lanes == generators_of_block);

/// A thread's columns and generators.
class runner::workspace {
public:
    explicit workspace(const runner& of)
        : memory_(new (alignment) double[of.plan_.columns() * column_length]()), columns_(memory_.get()) {
        for (const auto& c : of.program_.constants()) {
            std::fill_n(columns_ + c.place * column_length, column_length, c.value);
        }
        for (const program_output& y : of.outputs_) outputs_.push_back(columns_ + y.place * column_length);
    }

    void seed(std::uint64_t seed, std::uint64_t number) {
        const auto all = generators(seed, number);
        for (std::size_t lane = 0; lane < all.size(); ++lane) {
            for (std::size_t word = 0; word < 4; ++word) state_[word * kernel_lanes + lane] = all[lane][word];
        }
    }

    [[nodiscard]] double* columns() const noexcept { return columns_; }
    [[nodiscard]] std::uint64_t* state() noexcept { return state_; }
    [[nodiscard]] std::span<const double* const> outputs() const noexcept { return outputs_; }

private:
    static constexpr std::align_val_t alignment{64};
    struct release {
        void operator()(double* p) const { ::operator delete[](p, alignment); }
    };
    std::unique_ptr<double[], release> memory_;
    double* columns_;
    std::uint64_t state_[kernel_state]{};
    std::vector<const double*> outputs_;
};

/// What the threads of a run share.
struct runner::state_of_run {
    std::uint64_t done_before;
    std::atomic<std::uint64_t> next{0};  ///< block to be taken
    std::atomic<std::uint64_t> limit;    ///< first block that need not be run
    std::atomic<std::uint64_t> done{0};  ///< trials
    std::mutex guard;
    std::uint64_t failed_block = std::numeric_limits<std::uint64_t>::max();
    std::exception_ptr failure;
    std::uint64_t reported = 0;  ///< caller's thread only
};

runner::runner(const trial_program& program, const std::vector<program_output>& outputs, const monte_carlo_settings& settings)
    : program_(program),
      outputs_(outputs),
      settings_(settings),
      kernels_(chosen_kernels()),
      plan_(program, settings.correlations) {}

void runner::run(const block_range& range, std::span<sink* const> sinks, std::uint64_t done) const {
    state_of_run shared;
    shared.done_before = done;
    shared.next = range.first;
    shared.limit = range.last;
    std::vector<std::thread> helpers;
    const auto join = [&] {
        for (std::thread& t : helpers) t.join();
    };
    try {
        const auto useful = static_cast<std::size_t>(std::min<std::uint64_t>(sinks.size(), range.last - range.first));
        for (std::size_t i = 1; i < useful; ++i) {
            helpers.emplace_back([this, &range, &shared, to = sinks[i]] { work(range, *to, shared, false); });
        }
        work(range, *sinks.front(), shared, true);
    } catch (...) {  // a thread could not be started, or the callback threw
        shared.limit = 0;
        join();
        throw;
    }
    join();
    if (shared.failure) std::rethrow_exception(shared.failure);
    if (settings_.progress && shared.reported != shared.done && !settings_.progress(done + shared.done, settings_.trials)) {
        throw cancelled();
    }
}

// Blocks are taken in their order. When one fails, all before it have been taken and are still finished, and one of them may fail too: so
// the failure that is left is that of the lowest block, whatever the number of threads.
void runner::work(const block_range& range, sink& to, state_of_run& run, bool callers_thread) const {
    std::exception_ptr failure;
    std::uint64_t number = 0;
    try {
        workspace own(*this);
        while ((number = run.next.fetch_add(1)) < run.limit) {
            const block b(range, number);
            run_block(b, own, to);
            run.done += b.length;
            if (!callers_thread || !settings_.progress) continue;
            const std::uint64_t done = run.done;
            if (done - run.reported < settings_.trials / 100) continue;
            run.reported = done;
            bool go_on = false;
            try {
                go_on = settings_.progress(run.done_before + done, settings_.trials);
            } catch (...) {
                run.limit = 0;
                const std::lock_guard lock(run.guard);
                run.failed_block = 0;  // whatever a trial may do
                run.failure = std::current_exception();
                return;
            }
            if (go_on) continue;
            run.limit = 0;
            const std::lock_guard lock(run.guard);
            run.failed_block = 0;  // whatever a trial may do
            run.failure = std::make_exception_ptr(cancelled());
            return;
        }
    } catch (...) {
        failure = std::current_exception();
    }
    if (!failure) return;
    std::uint64_t limit = run.limit;
    while (number < limit && !run.limit.compare_exchange_weak(limit, number)) {
    }
    const std::lock_guard lock(run.guard);
    if (number < run.failed_block) {
        run.failed_block = number;
        run.failure = failure;
    }
}

void runner::run_block(const block& b, workspace& w, sink& to) const {
    w.seed(settings_.seed, b.number);
    for (std::uint64_t at = 0; at < b.length; at += column_length) {
        const auto count = static_cast<std::size_t>(std::min<std::uint64_t>(column_length, b.length - at));
        plan_.draw(kernels_, w.state(), w.columns());
        bool sound = true;
        try {
            for (const auto& step : program_.steps()) step(w.columns(), 0, column_length);
            // A sum is finite only where each number in it is.
            for (const double* y : w.outputs()) sound = sound && std::isfinite(kernels_.sum(y));
        } catch (...) {
            sound = false;  // one by one, to find the lowest; a trial beyond the last does not count
        }
        if (!sound) find_refused(w, b.first_trial + at, count);
        to.take(w.outputs(), b.first_trial + at, count);
    }
    to.end_block(b);
}

void runner::find_refused(workspace& w, std::uint64_t first_trial, std::size_t count) const {
    for (std::size_t i = 0; i < count; ++i) {
        std::string thrown;
        try {
            for (const auto& step : program_.steps()) step(w.columns(), i, i + 1);
        } catch (const std::exception& e) {
            thrown = std::string("the model threw \"") + e.what() + '"';
        } catch (...) {
            thrown = "the model threw something that is no std::exception";
        }
        if (!thrown.empty()) refuse(w, first_trial + i, i, thrown);
        for (const double* y : w.outputs()) {
            if (!std::isfinite(y[i])) refuse(w, first_trial + i, i, fmt::format("the model gave {}", y[i]));
        }
    }
}

void runner::refuse(workspace& w, std::uint64_t trial, std::size_t column_trial, const std::string& found) const {
    std::vector<std::pair<std::string, double>> inputs;
    for (const auto& in : program_.inputs()) {
        inputs.emplace_back(in.in.id, w.columns()[in.place * column_length + column_trial]);
    }
    throw refused_trial(trial, std::move(inputs), found);
}

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
