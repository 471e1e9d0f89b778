#pragma once
// Refusals that all fits of straight lines share.

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace plumbline::inline v0::uncertainty::line_checks {

using list = std::span<const double>;

/// @throws bad_input  that
[[noreturn]] void refuse(const std::string& found, const std::string& expected, const std::string& remedy);
/// Point i counts from 0 here and from 1 in the message.
[[noreturn]] void refuse_point(std::size_t i, const std::string& found, const std::string& expected, const std::string& remedy);

/// @throws bad_input  x and y of unlike length, or too few
void expect_lengths(list x, list y, std::size_t at_least);
/// @throws bad_input  not n of them
void expect_count(list values, const char* symbol, std::size_t n);
/// @throws bad_input  one of them is not
void expect_finite(list values, const char* symbol);
void expect_positive(list u, const char* symbol);
/// @throws bad_input  all x the same
void expect_span(list x);
/// @throws bad_input  not n x n, or a figure not finite
void expect_matrix(list m, const char* symbol, std::size_t n);
/// @throws bad_input  m(i, j) is not m(j, i)
void expect_symmetric(list m, const char* symbol, std::size_t n);

/// Lower triangle L with L L^T = m, row by row; empty if m is not positive definite (to rounding).
[[nodiscard]] std::vector<double> cholesky(list m, std::size_t n);

}  // namespace plumbline::inline v0::uncertainty::line_checks
