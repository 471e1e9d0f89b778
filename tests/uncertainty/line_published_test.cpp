// Straight lines of NIST StRD, York, ISO/TS 28037:2010 and JCGM 100:2008, H.3. The rows come from tests/reference.

#include <plumbline/uncertainty/line_use.hpp>

#include "../reference/correct_digits.hpp"
#include "../reference/published.hpp"

#include <algorithm>
#include <cmath>
#include <plumbline/uncertainty/coverage.hpp>
#include <string>
#include <vector>

namespace line_published_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using published::check_digits;
using published::check_printed;
using published::check_recomputed;
using published::entry;

namespace {

using numbers = std::vector<double>;

numbers list(const nlohmann::json& e, const char* key) { return e.at("inputs").at(key).get<numbers>(); }

numbers roots(numbers squares) {
    for (double& v : squares) v = std::sqrt(v);
    return squares;
}

/// n x n with these on its diagonal.
numbers diagonal(const numbers& values) {
    const std::size_t n = values.size();
    numbers m(n * n, 0.0);
    for (std::size_t i = 0; i < n; ++i) m[i * n + i] = values[i];
    return m;
}

numbers squares(numbers values) {
    for (double& v : values) v *= v;
    return values;
}

void check_line_recomputed(const nlohmann::json& e, const straight_line<>& line, const char* chi_squared) {
    check_recomputed(e, "a", line.intercept, 1e-13);
    check_recomputed(e, "b", line.slope, 1e-13);
    check_recomputed(e, "u_a", line.u_intercept(), 1e-13);
    check_recomputed(e, "u_b", line.u_slope, 1e-13);
    check_recomputed(e, "cov_ab", line.covariance(), 1e-13);
    check_recomputed(e, chi_squared, line.chi_squared, 1e-13);
}

void check_line_printed(const nlohmann::json& e, const straight_line<>& line) {
    check_printed(e, "a", line.intercept);
    check_printed(e, "b", line.slope);
    check_printed(e, "u_a", line.u_intercept());
    check_printed(e, "u_b", line.u_slope);
    check_printed(e, "cov_ab", line.covariance());
    CHECK(line.degrees_of_freedom == e.at("expected").at("dof").get<std::size_t>());
}

}  // namespace

// Exact rational arithmetic on the data rounded to doubles leaves 13.99 digits of the intercept, 14.00 of the standard deviations and 13.70 of
// the sum of squares; the slope is certified to 15 figures, which is 14.35 digits of it.
TEST_CASE("Norris of NIST StRD has more than 13 correct digits everywhere, 14 in the slope") {
    const auto e = entry("nist-strd", "strd-norris");
    const numbers x = list(e, "x");
    const numbers y = list(e, "y");
    const straight_line<> line = fit_line(unweighted_points<>{x, y});
    const auto& certified = e.at("expected");
    const double s = line.residual_deviation;
    const double nu = static_cast<double>(line.degrees_of_freedom);
    const double residual = s * s * nu;
    // sum of squares of the line about its mean: slope^2 S_xx, with u_slope = s / sqrt(S_xx)
    const double regression = line.slope * line.slope * (s / line.u_slope) * (s / line.u_slope);
    CHECK(line.degrees_of_freedom == 34);
    CHECK(line.degrees_of_freedom_of_u == 34.0);
    check_digits("Norris B0", line.intercept, certified["b"][0], 13.7);
    check_digits("Norris B1", line.slope, certified["b"][1], 14.2);
    check_digits("Norris sd(B0)", line.u_intercept(), certified["sd_b"][0], 13.6);
    check_digits("Norris sd(B1)", line.u_slope, certified["sd_b"][1], 13.6);
    check_digits("Norris residual sd", s, certified["residual_sd"], 13.6);
    check_digits("Norris residual ss", residual, certified["residual_ss"], 13.4);
    check_digits("Norris regression ss", regression, certified["regression_ss"], 14.5);
    check_digits("Norris R squared", regression / (regression + residual), certified["r_squared"], 14.5);
    check_digits("Norris F", regression / (s * s), certified["F"], 13.4);
}

TEST_CASE("NoInt1 of NIST StRD, a line through the origin, has more than 14 correct digits") {
    const auto e = entry("nist-strd", "strd-noint1");
    const numbers x = list(e, "x");
    const numbers y = list(e, "y");
    const straight_line<> line = fit_line_through_origin(unweighted_points<>{x, y});
    const auto& certified = e.at("expected");
    const double s = line.residual_deviation;
    const double residual = s * s * static_cast<double>(line.degrees_of_freedom);
    const double regression = line.slope * line.slope * (s / line.u_slope) * (s / line.u_slope);
    CHECK(line.intercept == 0.0);
    CHECK(line.u_intercept() == 0.0);
    check_digits("NoInt1 B1", line.slope, certified["b"][0], 14.5);
    check_digits("NoInt1 sd(B1)", line.u_slope, certified["sd_b"][0], 14.5);
    check_digits("NoInt1 residual sd", s, certified["residual_sd"], 14.5);
    check_digits("NoInt1 residual ss", residual, certified["residual_ss"], 14.5);
    check_digits("NoInt1 regression ss", regression, certified["regression_ss"], 14.5);
    check_digits("NoInt1 R squared", regression / (regression + residual), certified["r_squared"], 14.5);
    check_digits("NoInt1 F", regression / (s * s), certified["F"], 14.5);
}

TEST_CASE("weighted lines of ISO/TS 28037, clause 6, come out, and their use forward and inverse") {
    for (const char* id : {"iso28037-6-wls-equal", "iso28037-6-wls-unequal"}) {
        const auto e = entry("iso-ts-28037", id);
        const numbers x = list(e, "x");
        const numbers y = list(e, "y");
        const numbers u_y = list(e, "u_y");
        const straight_line<> line = fit_line(weighted_points<>{x, y, u_y});
        check_line_printed(e, line);
        check_printed(e, "chi2", line.chi_squared);
        check_line_recomputed(e, line, "chi2");
        CHECK(verdict(line).consistent);
        const auto& inverse = e.at("inputs").at("inverse");
        const auto at = x_at(line, inverse.at("y0"), inverse.at("u_y0"));
        check_printed(e, "inverse_x", at.value);
        check_printed(e, "inverse_u", at.u);
        check_recomputed(e, "inverse_x", at.value, 1e-13);
        check_recomputed(e, "inverse_u", at.u, 1e-13);

        // the same as one covariance matrix
        const numbers U_y = diagonal(squares(u_y));
        check_line_recomputed(e, fit_line(correlated_points<>{x, y, U_y}), "chi2");
    }
    const auto e = entry("iso-ts-28037", "iso28037-6-wls-equal");
    const straight_line<> line = fit_line(weighted_points<>{list(e, "x"), list(e, "y"), list(e, "u_y")});
    check_recomputed(e, "chi2_95", verdict(line).limit, 1e-13);
    const auto& forward = e.at("inputs").at("forward");
    const auto at = y_at(line, forward.at("x0"), forward.at("u_x0"));
    check_printed(e, "forward_y", at.value);
    check_printed(e, "forward_u", at.u);
    check_recomputed(e, "forward_y", at.value, 1e-13);
    check_recomputed(e, "forward_u", at.u, 1e-13);
}

TEST_CASE("the drifting resistance standard of JCGM GUM-6, 10.6.4, is predicted as its table 5 has it") {
    const auto e = entry("gum6", "gum6-10.6.4-drifting-resistor");
    const numbers t = list(e, "t_days");
    const numbers y = list(e, "y_1e6");
    const double u = e.at("inputs").at("u_y_1e6");
    const double at = e.at("inputs").at("predict_at_days");
    const straight_line<> line = fit_line(weighted_points<>{t, y, numbers(t.size(), u)});
    check_recomputed(e, "slope_1e6_per_day", line.slope, 1e-12);
    check_recomputed(e, "mean_t", line.centre, 1e-13);
    check_recomputed(e, "y_at_mean_1e6", line.height, 1e-13);
    const double residual = u * std::sqrt(line.chi_squared / static_cast<double>(line.degrees_of_freedom));
    check_printed(e, "residual_sd_1e6", residual);
    check_recomputed(e, "residual_sd_1e6", residual, 1e-11);
    const auto predicted = y_at(line, at, 0.0);
    check_printed(e, "y_pred_1e6", predicted.value);
    check_recomputed(e, "y_pred_1e6", predicted.value, 1e-13);
    check_printed(e, "u_pred_1e6", predicted.u);
    check_recomputed(e, "u_pred_1e6", predicted.u, 1e-11);
    // U with the 18 degrees of freedom of the residuals, although u is a stated one
    const double U = coverage_factor(0.95, static_cast<double>(line.degrees_of_freedom)) * predicted.u;
    check_printed(e, "U95_pred_1e6", U);
    check_recomputed(e, "U95_1e6", U, 1e-11);
}

TEST_CASE("lines with both axes uncertain of ISO/TS 28037, clauses 7 and 8, come out, point by point and as matrices") {
    for (const char* id : {"iso28037-7-gdr", "iso28037-8-gdr-covariance"}) {
        const auto e = entry("iso-ts-28037", id);
        const numbers x = list(e, "x");
        const numbers y = list(e, "y");
        const numbers u_x = list(e, "u_x");
        const numbers u_y = list(e, "u_y");
        const numbers covariance = e.at("inputs").contains("cov_xy") ? list(e, "cov_xy") : numbers(x.size(), 0.0);
        const straight_line<> line = fit_line(both_uncertain_points<>{x, y, u_x, u_y, covariance});
        if (!e.at("expected").empty()) check_line_printed(e, line);
        check_line_recomputed(e, line, "chi2");
        CHECK(verdict(line).consistent);
        const numbers U_x = diagonal(squares(u_x));
        const numbers U_y = diagonal(squares(u_y));
        const numbers U_xy = diagonal(covariance);
        check_line_recomputed(e, fit_line(all_correlated_points<>{x, y, U_x, U_y, U_xy}), "chi2");
    }
}

TEST_CASE("u known up to a factor comes from the residuals: ISO/TS 28037, annex E") {
    const auto e = entry("iso-ts-28037", "iso28037-e-unknown-scale");
    const numbers x = list(e, "x");
    const numbers y = list(e, "y");
    const numbers u_y = list(e, "u_y");
    const straight_line<> stated = fit_line(weighted_points<>{x, y, u_y});
    check_recomputed(e, "a", stated.intercept, 1e-13);
    check_recomputed(e, "b", stated.slope, 1e-13);
    check_recomputed(e, "u_a_unscaled", stated.u_intercept(), 1e-13);
    check_recomputed(e, "u_b_unscaled", stated.u_slope, 1e-13);
    check_recomputed(e, "cov_unscaled", stated.covariance(), 1e-13);
    check_recomputed(e, "chi2", stated.chi_squared, 1e-11);  // 14 digits of y less the line leave 12
    const straight_line<> scaled = scaled_to_residuals(stated);
    const straight_line<> unweighted = fit_line(unweighted_points<>{x, y});
    for (const straight_line<>& line : {scaled, unweighted}) {
        check_recomputed(e, "u_a", line.u_intercept(), 1e-12);
        check_recomputed(e, "u_b", line.u_slope, 1e-12);
        check_recomputed(e, "cov_ab", line.covariance(), 1e-12);
        CHECK(line.degrees_of_freedom_of_u == 4.0);
        // the alternative of the annex divides by m - 4: the standard deviation of t with m - 2 degrees of freedom
        const double nu = line.degrees_of_freedom_of_u;
        const double of_t = std::sqrt(nu / (nu - 2.0));
        check_recomputed(e, "u_a_tilde", line.u_intercept() * of_t, 1e-12);
        check_recomputed(e, "u_b_tilde", line.u_slope * of_t, 1e-12);
    }
    check_recomputed(e, "sigma_hat", unweighted.residual_deviation, 1e-12);
    check_recomputed(e, "sigma_tilde", unweighted.residual_deviation * std::sqrt(2.0), 1e-12);
}

TEST_CASE("Pearson's data with York's weights have York's line and u") {
    const auto e = entry("york", "york-pearson-weights");
    const auto u_of = [](numbers weights) {
        for (double& w : weights) w = 1.0 / std::sqrt(w);
        return weights;
    };
    const numbers x = list(e, "x");
    const numbers y = list(e, "y");
    const numbers u_x = u_of(list(e, "weight_x"));
    const numbers u_y = u_of(list(e, "weight_y"));
    const straight_line<> line = fit_line(both_uncertain_points<>{x, y, u_x, u_y});
    check_printed(e, "a", line.intercept);
    check_printed(e, "b", line.slope);
    check_line_recomputed(e, line, "S");
    const straight_line<> scaled = scaled_to_residuals(line);
    check_printed(e, "u_a_scaled", scaled.u_intercept());
    check_printed(e, "u_b_scaled", scaled.u_slope);
    check_printed(e, "S_factor", scaled.u_slope / line.u_slope);
    check_recomputed(e, "sqrt_S_over_dof", scaled.u_slope / line.u_slope, 1e-13);
    check_recomputed(e, "S_over_dof", line.chi_squared / static_cast<double>(line.degrees_of_freedom), 1e-13);
    CHECK(verdict(line).consistent);  // 11.87 of 15.5 for 8 degrees of freedom
}

TEST_CASE("27 points with correlated errors have York's line, and their scatter is more than they state") {
    const auto e = entry("york", "york-correlated-errors");
    const numbers x = list(e, "x");
    const numbers y = list(e, "y");
    const numbers u_x = roots(list(e, "var_x"));
    const numbers u_y = roots(list(e, "var_y"));
    const numbers covariance = list(e, "cov_xy");
    const straight_line<> line = fit_line(both_uncertain_points<>{x, y, u_x, u_y, covariance});
    check_printed(e, "a", line.intercept);
    check_printed(e, "b", line.slope);
    check_recomputed(e, "a", line.intercept, 1e-13);
    check_recomputed(e, "b", line.slope, 1e-13);
    check_recomputed(e, "S", line.chi_squared, 1e-12);
    check_recomputed(e, "u_a", line.u_intercept(), 1e-12);
    check_recomputed(e, "u_b", line.u_slope, 1e-12);
    check_recomputed(e, "cov_ab", line.covariance(), 1e-12);
    const straight_line<> scaled = scaled_to_residuals(line);
    check_printed(e, "u_a_scaled", scaled.u_intercept());
    check_printed(e, "u_b_scaled", scaled.u_slope);
    check_printed(e, "S_factor", scaled.u_slope / line.u_slope);
    CHECK_FALSE(verdict(line).consistent);
    const numbers U_x = diagonal(list(e, "var_x"));
    const numbers U_y = diagonal(list(e, "var_y"));
    const numbers U_xy = diagonal(covariance);
    const straight_line<> by_matrices = fit_line(all_correlated_points<>{x, y, U_x, U_y, U_xy});
    check_recomputed(e, "a", by_matrices.intercept, 1e-13);
    check_recomputed(e, "b", by_matrices.slope, 1e-13);
}

TEST_CASE("the thermometer of GUM H.3 has its line, its centre, and its correction at 30 degrees") {
    const auto e = entry("gum", "gum-h3-thermometer-line");
    numbers t = list(e, "t_C");
    const numbers b = list(e, "correction_C");
    const double t0 = e.at("inputs").at("t0_C");
    for (double& v : t) v -= t0;
    const straight_line<> line = fit_line(unweighted_points<>{t, b});
    check_printed(e, "y1", line.intercept);
    check_printed(e, "y2", line.slope);
    check_printed(e, "s_y1", line.u_intercept());
    check_printed(e, "s_y2", line.u_slope);
    check_printed(e, "s", line.residual_deviation);
    check_printed(e, "t_min_u", line.centre + t0);
    check_recomputed(e, "t_mean", line.centre + t0, 1e-13);
    check_printed(e, "y1_centred", line.height);
    check_printed(e, "s_y1_centred", line.u_height);
    const double r = line.covariance() / (line.u_intercept() * line.u_slope);
    check_recomputed(e, "r", r, 1e-12);
    CHECK(std::abs(r - e["expected"]["r"].get<double>()) <= e["tolerance"]["absolute"]["r"].get<double>());
    check_recomputed(e, "y1", line.intercept, 1e-12);
    check_recomputed(e, "y2", line.slope, 1e-12);
    check_recomputed(e, "s_y1", line.u_intercept(), 1e-12);
    check_recomputed(e, "s_y2", line.u_slope, 1e-12);
    check_recomputed(e, "s", line.residual_deviation, 1e-12);
    CHECK(line.degrees_of_freedom == e["expected"]["dof"].get<std::size_t>());
    for (std::size_t i = 0; i < t.size(); ++i) {
        const double predicted = y_at(line, t[i], 0.0).value;
        CHECK(std::abs(predicted - e["expected"]["predicted"][i].get<double>()) <= 5e-5);
        CHECK(std::abs(b[i] - predicted - e["expected"]["residual"][i].get<double>()) <= 5e-5);
    }
    const double predict_at = e.at("inputs").at("predict_at_C");
    const auto at_30 = y_at(line, predict_at - t0, 0.0);
    check_printed(e, "b_30", at_30.value);
    check_printed(e, "u_b_30", at_30.u);
    check_printed(e, "u2_b_30", at_30.u * at_30.u);
    check_recomputed(e, "b_30", at_30.value, 1e-12);
    check_recomputed(e, "u_b_30", at_30.u, 1e-12);
}

}  // namespace line_published_test
