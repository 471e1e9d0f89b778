#pragma once
// From inputs and their correlations to the columns drawn for them.

#include "kernels.hpp"

#include <functional>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/trials.hpp>
#include <vector>

namespace plumbline::inline v0::uncertainty::monte_carlo_detail {

/// What fills a program's input columns, in an order that depends on the program alone.
class draw_plan {
public:
    /// @throws bad_input  see monte_carlo()
    draw_plan(const trial_program& program, const std::vector<correlation>& correlations);

    /// Columns of the program and, after them, those drawn in passing.
    [[nodiscard]] std::size_t columns() const noexcept { return columns_; }

    void draw(const kernels& k, std::uint64_t* state, double* columns) const {
        for (const step& s : steps_) s(k, state, columns);
    }

private:
    using step = std::function<void(const kernels&, std::uint64_t*, double*)>;
    struct shared_columns;

    void add_alone(const trial_program::drawn_input& in, shared_columns& shared);
    void add_joint(const std::vector<const trial_program::drawn_input*>& group, const std::vector<correlation>& correlations);

    std::vector<step> steps_;
    std::size_t columns_;
};

/// Lower triangular factor L of a correlation matrix, L L^T, row by row. A matrix of less than full rank, r = 1 for instance, has one too.
/// @throws bad_input  no such matrix: the coefficients contradict each other. `where` names them
[[nodiscard]] std::vector<double> cholesky(std::vector<double> matrix, std::size_t n, const std::string& where);

}  // namespace plumbline::inline v0::uncertainty::monte_carlo_detail
