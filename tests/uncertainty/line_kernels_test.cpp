// The sums under a weighted line: the same bits from every instruction set, and a chi-squared as good as two centred passes.

#include "../../src/uncertainty/monte_carlo/instruction_set.hpp"
#include "instruction_set_guard.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <limits>
#include <plumbline/uncertainty/line.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <random>
#include <vector>

namespace line_kernels_test {

using namespace plumbline::uncertainty;
namespace mc = plumbline::uncertainty::monte_carlo_detail;

namespace {

using numbers = std::vector<double>;

/// Invented points near a line.
struct points {
    numbers x, y, u;
    points(std::size_t n, unsigned seed) {
        std::mt19937_64 bits(seed);
        std::uniform_real_distribution<double> even(0.0, 1.0);
        std::normal_distribution<double> error;
        for (std::size_t i = 0; i < n; ++i) {
            x.push_back(3.0 + 10.0 * even(bits));
            u.push_back(0.1 + even(bits));
            y.push_back(-3.0 + 0.7 * x.back() + u.back() * error(bits));
        }
    }
};

const mc::kernels& kernels_named(const std::string& set) {
    const instruction_set_guard forced(set);
    return mc::chosen_kernels();
}

numbers as_numbers(const mc::line_sums& s) { return {s.w, s.dx_dx, s.dx, s.r, s.dx_r, s.r_r, s.sound ? 1.0 : 0.0}; }
numbers as_numbers(const straight_line<>& l) {
    return {l.centre, l.height, l.slope, l.intercept, l.u_height, l.u_slope, l.chi_squared, l.residual_deviation};
}
bool same_bits(const numbers& a, const numbers& b) {
    return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0;
}

/// The four lanes one point at a time.
mc::line_sums by_lanes(const points& p, bool weighted, double x0, double y0, double slope) {
    std::array<std::array<double, 4>, 6> lanes{};
    const std::size_t n = p.x.size();
    const std::size_t whole = n / 4 * 4;
    for (std::size_t i = 0; i < n; ++i) {
        const std::size_t lane = i < whole ? i % 4 : i - (n - 4);  // the last ones are read together with those before them
        const double dx = p.x[i] - x0;
        const double r = (p.y[i] - y0) - slope * dx;
        const double w = weighted ? 1.0 / (p.u[i] * p.u[i]) : 1.0;
        const std::array<double, 6> terms{w, w * dx * dx, w * dx, w * r, w * dx * r, w * r * r};
        for (std::size_t k = 0; k < terms.size(); ++k) lanes[k][lane] += terms[k];
    }
    const auto total = [&](std::size_t k) { return (lanes[k][0] + lanes[k][2]) + (lanes[k][1] + lanes[k][3]); };
    return {total(0), total(1), total(2), total(3), total(4), total(5), true};
}

}  // namespace

TEST_CASE(
    "sums over points of a line are those of four lanes, to the last bit, by every instruction set that this machine runs") {
    const std::vector<std::string> here = instruction_sets();
    for (const char* set : {"avx2", "avx512"}) {
        if (std::find(here.begin(), here.end(), set) == here.end())
            MESSAGE("skipped, this machine does not run it: " << std::string(set));
    }
    for (const std::string& set : here) {
        for (const std::size_t n : {4U, 5U, 6U, 7U, 8U, 11U, 31U, 1000U, 1001U, 1002U, 1003U}) {
            for (const bool weighted : {true, false}) {
                CAPTURE(set);
                CAPTURE(n);
                CAPTURE(weighted);
                const points p(n, static_cast<unsigned>(n));
                const mc::line_sums found =
                    kernels_named(set).line(p.x.data(), p.y.data(), weighted ? p.u.data() : nullptr, n, 8.1, 2.7, 0.69);
                CHECK(same_bits(as_numbers(found), as_numbers(by_lanes(p, weighted, 8.1, 2.7, 0.69))));
            }
        }
    }
}

TEST_CASE("a u that is negative or not finite is seen at any place, by every instruction set that this machine runs") {
    constexpr double inf = std::numeric_limits<double>::infinity();
    for (const std::string& set : instruction_sets()) {
        for (const double bad : {-0.1, -inf, inf, -0.0}) {
            for (std::size_t place = 0; place < 11; ++place) {
                CAPTURE(set);
                CAPTURE(bad);
                CAPTURE(place);
                points p(11, 1);
                const auto sums = [&] { return kernels_named(set).line(p.x.data(), p.y.data(), p.u.data(), 11, 8.0, 2.0, 0.7); };
                CHECK(sums().sound);
                p.u[place] = bad;
                CHECK_FALSE(sums().sound);
            }
        }
        points p(11, 1);
        p.u[7] = std::numeric_limits<double>::max();
        CHECK(kernels_named(set).line(p.x.data(), p.y.data(), p.u.data(), 11, 8.0, 2.0, 0.7).sound);
    }
}

TEST_CASE("a line of many points has the same bits whatever instruction set is forced") {
    for (const std::size_t n : {128U, 129U, 10000U}) {
        const points p(n, 7);
        const auto fits = [&](const std::string& set) {
            const instruction_set_guard forced(set);
            numbers all = as_numbers(fit_line(weighted_points<>{p.x, p.y, p.u}));
            for (const straight_line<>& line :
                 {fit_line(unweighted_points<>{p.x, p.y}), fit_line_through_origin(weighted_points<>{p.x, p.y, p.u})}) {
                const numbers more = as_numbers(line);
                all.insert(all.end(), more.begin(), more.end());
            }
            return all;
        };
        for (const std::string& set : instruction_sets()) {
            CAPTURE(n);
            CAPTURE(set);
            CHECK(same_bits(fits(set), fits("plain")));
        }
    }
}

TEST_CASE("chi-squared and intercept are as near to long double as two centred passes in double, within 5 % on average") {
    for (const std::size_t n : {3U, 11U, 30U, 200U}) {
        double ours_chi = 0.0, theirs_chi = 0.0, ours_intercept = 0.0, theirs_intercept = 0.0;
        for (unsigned seed = 1; seed <= 400; ++seed) {
            const points p(n, seed);
            const auto two_passes = [&]<class Number>(Number) {
                Number w = 0, w_x = 0, w_y = 0, w_xx = 0, w_xy = 0, chi_squared = 0;
                const auto weight = [&](std::size_t i) {
                    return 1 / (static_cast<Number>(p.u[i]) * static_cast<Number>(p.u[i]));
                };
                for (std::size_t i = 0; i < n; ++i) {
                    w += weight(i);
                    w_x += weight(i) * static_cast<Number>(p.x[i]);
                    w_y += weight(i) * static_cast<Number>(p.y[i]);
                }
                const auto dx = [&](std::size_t i) { return static_cast<Number>(p.x[i]) - w_x / w; };
                const auto dy = [&](std::size_t i) { return static_cast<Number>(p.y[i]) - w_y / w; };
                for (std::size_t i = 0; i < n; ++i) {
                    w_xx += weight(i) * dx(i) * dx(i);
                    w_xy += weight(i) * dx(i) * dy(i);
                }
                const Number slope = w_xy / w_xx;
                for (std::size_t i = 0; i < n; ++i) {
                    const Number r = dy(i) - slope * dx(i);
                    chi_squared += weight(i) * r * r;
                }
                return std::array<Number, 2>{chi_squared, w_y / w - slope * (w_x / w)};
            };
            const auto exact = two_passes(0.0L);
            const auto theirs = two_passes(0.0);
            const straight_line<> line = fit_line(weighted_points<>{p.x, p.y, p.u});
            const auto off = [](double found, long double right) {
                return std::abs(static_cast<double>((found - right) / right));
            };
            ours_chi += off(line.chi_squared, exact[0]);
            theirs_chi += off(theirs[0], exact[0]);
            ours_intercept += off(line.intercept, exact[1]);
            theirs_intercept += off(theirs[1], exact[1]);
        }
        CAPTURE(n);
        CHECK(ours_chi <= 1.05 * theirs_chi);
        CHECK(ours_intercept <= 1.05 * theirs_intercept);
    }
}

}  // namespace line_kernels_test
