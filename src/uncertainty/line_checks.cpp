#include "line_checks.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty::line_checks {

namespace {

constexpr const char* look = "look at the data before a line is fitted";

}  // namespace

void refuse(const std::string& found, const std::string& expected, const std::string& remedy) {
    throw bad_input("straight line", found, expected, remedy);
}

void refuse_point(std::size_t i, const std::string& found, const std::string& expected, const std::string& remedy) {
    throw bad_input(fmt::format("straight line, point {}", i + 1), found, expected, remedy);
}

void expect_finite(list values, const char* symbol) {
    const auto bad = std::find_if_not(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
    if (bad == values.end()) return;
    refuse_point(static_cast<std::size_t>(bad - values.begin()), fmt::format("{} is {}", symbol, *bad), "a finite figure", look);
}

void expect_count(list values, const char* symbol, std::size_t n) {
    if (values.size() == n) return;
    refuse(fmt::format("{} {} for {} points", values.size(), symbol, n), "one for each point",
           "leave out no figure and no point");
}

void expect_lengths(list x, list y, std::size_t at_least) {
    if (x.size() != y.size()) {
        refuse(fmt::format("{} x and {} y", x.size(), y.size()), "as many of one as of the other", "leave out no figure");
    }
    if (x.size() < at_least) {
        refuse(fmt::format("{} point{}", x.size(), x.size() == 1 ? "" : "s"), fmt::format("at least {}", at_least),
               "measure at more points");
    }
}

void expect_positive(list u, const char* symbol) {
    const auto bad = std::find_if_not(u.begin(), u.end(), [](double v) { return v > 0.0; });
    if (bad == u.end()) return;
    refuse_point(static_cast<std::size_t>(bad - u.begin()), fmt::format("{} is {}", symbol, *bad), "more than 0",
                 "state what is known of this point; nothing is known exactly");
}

void expect_span(list x) {
    if (std::any_of(x.begin(), x.end(), [&](double v) { return v != x.front(); })) return;
    refuse(fmt::format("all {} points at x = {}", x.size(), x.front()), "at least two different x",
           "measure at points that lie apart");
}

void expect_matrix(list m, const char* symbol, std::size_t n) {
    if (m.size() != n * n) {
        refuse(fmt::format("{} figures in {}", m.size(), symbol), fmt::format("{0} x {0} for {0} points", n),
               "give the whole matrix, row by row");
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            if (std::isfinite(m[i * n + j])) continue;
            refuse(fmt::format("{}({}, {}) is {}", symbol, i + 1, j + 1, m[i * n + j]), "a finite figure", look);
        }
    }
}

void expect_symmetric(list m, const char* symbol, std::size_t n) {
    constexpr double rounding = 1e-12;
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            const double allowed = rounding * std::sqrt(std::abs(m[i * n + i]) * std::abs(m[j * n + j]));
            if (std::abs(m[i * n + j] - m[j * n + i]) <= allowed) continue;
            refuse(fmt::format("{0}({1}, {2}) is {3} and {0}({2}, {1}) is {4}", symbol, i + 1, j + 1, m[i * n + j], m[j * n + i]),
                   "one figure for both", "a covariance matrix is symmetric: look at where it was computed from");
        }
    }
}

std::vector<double> cholesky(list m, std::size_t n) {
    std::vector<double> factor(n * n, 0.0);
    const double rounding = static_cast<double>(n) * std::numeric_limits<double>::epsilon();
    for (std::size_t i = 0; i < n; ++i) {
        const double* const row = &factor[i * n];
        for (std::size_t j = 0; j <= i; ++j) {
            const double* const above = &factor[j * n];
            double rest = m[i * n + j];
            for (std::size_t k = 0; k < j; ++k) rest -= row[k] * above[k];
            if (j < i) {
                factor[i * n + j] = rest / above[j];
            } else if (rest > rounding * m[i * n + i]) {
                factor[i * n + i] = std::sqrt(rest);
            } else {
                return {};
            }
        }
    }
    return factor;
}

}  // namespace plumbline::inline v0::uncertainty::line_checks
