// Monte Carlo as a user meets it: reproducible, exact in its intervals, and plain about what it refuses.

#include "../slow_build.hpp"
#include "instruction_set_guard.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <plumbline/uncertainty/numerical_tolerance.hpp>
#include <set>
#include <stdexcept>
#include <thread>
#include <vector>

namespace uncertainty_monte_carlo_test {

using namespace plumbline;
using namespace plumbline::uncertainty;

namespace {

template <class Quantity>
sampled<Quantity> drawn(const std::string& id, double estimate, sampled_distribution spread) {
    return {sampled_input(id, unit_symbol<Quantity>, estimate, std::move(spread))};
}

struct divided {
    template <class V, class R>
    auto operator()(const V& v, const R& top, const R& bottom) const {
        return v * (bottom / (top + bottom));
    }
};

/// The output of a divider behind a 12 V battery (invented).
monte_carlo_result divider(const monte_carlo_settings& s) {
    return monte_carlo(s, divided{}, drawn<voltage>("battery", 12.4, normal{0.02}),
                       drawn<resistance>("top", 30e3, rectangular{300.0}),
                       drawn<resistance>("bottom", 10e3, repeated{40.0, 9.0}));
}

monte_carlo_settings trials(std::uint64_t n) {
    monte_carlo_settings s;
    s.trials = n;
    return s;
}

/// Both intervals by their definition, from all values in order (JCGM 101:2008, 7.7.2).
struct all_in_order {
    coverage_interval symmetric;
    coverage_interval shortest;
    all_in_order(std::vector<double> y, double p) {
        std::sort(y.begin(), y.end());
        const auto m = y.size();
        const auto q = static_cast<std::size_t>(std::floor(p * static_cast<double>(m) + 0.5));
        const std::size_t r = (m - q) % 2 == 0 ? (m - q) / 2 : (m - q + 1) / 2;
        symmetric = {y[r - 1], y[r - 1 + q]};
        shortest = {y[0], y[q]};
        for (std::size_t i = 1; i + q < m; ++i) {
            if (y[i + q] - y[i] < shortest.high - shortest.low) shortest = {y[i], y[i + q]};
        }
    }
};

/// Keeps what it returns. One thread alone; whole columns are computed, so there may be some more at the end.
template <class Model>
struct remembering {
    Model model;
    std::vector<double>* seen;
    ratio operator()(const ratio& x, const ratio& z) const {
        const double y = model(x.value(), z.value());
        seen->push_back(y);
        return y;
    }
};

template <class Model>
void check_exact(const char* name, Model model, std::uint64_t n, double p, const sampled_distribution& x,
                 const sampled_distribution& z) {
    CAPTURE(name);
    CAPTURE(n);
    CAPTURE(p);
    std::vector<double> seen;
    monte_carlo_settings s = trials(n);
    s.probability = p;
    const auto result = monte_carlo(s, remembering<Model>{model, &seen}, drawn<ratio>("x", 0.0, x), drawn<ratio>("z", 0.0, z));
    REQUIRE(seen.size() >= n);
    seen.resize(n);
    const all_in_order expected(seen, p);
    CHECK(result.outputs[0].symmetric == expected.symmetric);
    CHECK(result.outputs[0].shortest == expected.shortest);
    long double sum = 0.0L;
    for (const double y : seen) sum += y;
    const long double exact_mean = sum / static_cast<long double>(n);
    long double squares = 0.0L;
    for (const double y : seen) squares += (y - exact_mean) * (y - exact_mean);
    const auto mean = static_cast<double>(exact_mean);
    const auto deviation = static_cast<double>(std::sqrt(squares / static_cast<long double>(n - 1)));
    CHECK(std::abs(result.outputs[0].mean - mean) <= 1e-15 * std::abs(mean) + 1e-10 * deviation);
    CHECK(std::abs(result.outputs[0].standard_deviation - deviation) <=
          1e-10 * deviation + 1e-16 * std::abs(mean));  // its last place
}

}  // namespace

TEST_CASE("mean and standard deviation of a linear model are those of first order, but for chance") {
    monte_carlo_settings s = trials(1'000'000);
    const auto result = monte_carlo(
        s, [](const auto& a, const auto& b) { return 2.0 * a - b; }, drawn<voltage>("a", 1.5, rectangular{0.3}),
        drawn<voltage>("b", 0.5, normal{0.2}));
    const sampled_output& y = result.outputs.front();
    const double u = std::sqrt(4.0 * 0.3 * 0.3 / 3.0 + 0.2 * 0.2);
    CHECK(result.trials == 1'000'000);
    CHECK(y.unit == "V");
    CHECK(std::abs(y.mean - 2.5) < 5.0 * u / 1000.0);
    CHECK(std::abs(y.standard_deviation - u) < 5.0 * u / 1414.0);
}

TEST_CASE("the same seed gives the same bits for any number of threads and every instruction set, another seed others") {
    monte_carlo_settings s = trials(300'001);
    s.histogram_cells = 50;
    const monte_carlo_result single = divider(s);
    for (const std::string& set : instruction_sets()) {
        const instruction_set_guard forced(set);
        for (const unsigned threads : {1u, 2u, 5u, 0u}) {
            CAPTURE(set);
            CAPTURE(threads);
            s.threads = threads;
            CHECK(divider(s) == single);
        }
    }
    s.seed = 2;
    CHECK_FALSE(divider(s) == single);
    s.seed = 1;
    s.trials = 300'000;
    CHECK_FALSE(divider(s) == single);
}

TEST_CASE("what is drawn depends on the inputs' identities, not on the order in which a model asks for them") {
    const input_set none;
    const auto result = [&](bool a_first) {
        return monte_carlo(trials(10'000), none, [&](const in_trials& e) {
            const sampled_input a("a", "1", 0.0, normal{1.0});
            const sampled_input b("b", "1", 0.0, rectangular{1.0});
            if (a_first) static_cast<void>(e.given<ratio>(a));
            const auto y = e.given<ratio>(b);
            return e.apply([](const ratio& p, const ratio& q) { return p - q; }, e.given<ratio>(a), y);
        });
    };
    CHECK(result(true) == result(false));
}

TEST_CASE("an adaptive run has the same bits for any number of threads") {
    monte_carlo_settings s = trials(3'000'000);
    s.probability = 0.95;
    s.adaptive = adaptive_rule{};
    const monte_carlo_result single = divider(s);
    CHECK(single.settled);
    for (const unsigned threads : {2u, 7u}) {
        CAPTURE(threads);
        s.threads = threads;
        CHECK(divider(s) == single);
    }
}

TEST_CASE("both intervals are the exact order statistics, whatever the shape, the number of trials and the probability") {
    const auto sum = [](double x, double z) { return x + z; };
    const auto skewed = [](double x, double z) { return std::exp(x) + 0.1 * z; };
    const auto steps = [](double x, double z) { return std::floor(3.0 * x) + std::floor(z); };
    const auto alike = [](double, double) { return 7.25; };
    const auto cauchy = [](double x, double z) { return x / z; };
    const auto far = [](double x, double z) { return 1e9 + 1e-3 * (x + z); };
    for (const std::uint64_t n : {100u, 4'097u, 131'072u, 131'073u, 260'000u}) {
        if (slow::build && n > 100'000u) continue;
        check_exact("sum", sum, n, 0.95, normal{1.0}, rectangular{1.0});
        check_exact("rectangular", sum, n, 0.95, rectangular{1.0}, rectangular{0.0});
        check_exact("skewed", skewed, n, 0.9545, normal{1.0}, rectangular{1.0});
        check_exact("steps", steps, n, 0.95, normal{1.0}, normal{1.0});
        check_exact("long tails", cauchy, n, 0.95, normal{1.0}, normal{1.0});
        check_exact("far from zero", far, n, 0.95, normal{1.0}, normal{1.0});
        check_exact("half", sum, n, 0.5, normal{1.0}, arcsine{1.0});
        check_exact("nearly nothing", sum, n, 0.01, normal{1.0}, arcsine{1.0});
        check_exact("two points", sum, n, 0.95, normal{0.1}, two_point{1.0});
        check_exact("nearly all", sum, n, 0.99, normal{1.0}, triangular{1.0});
    }
    std::vector<double> seen;
    const auto result = monte_carlo(trials(200'000), remembering<decltype(alike)>{alike, &seen},
                                    drawn<ratio>("x", 0.0, normal{1.0}), drawn<ratio>("z", 0.0, normal{1.0}));
    CHECK(result.outputs[0].shortest == coverage_interval{7.25, 7.25});
    CHECK(result.outputs[0].standard_deviation == 0.0);
}

TEST_CASE("trials of a two-point input stand at one of its points, half of them at each") {
    std::vector<double> seen;
    const auto itself = [](double x, double) { return x; };
    const auto result = monte_carlo(trials(100'000), remembering<decltype(itself)>{itself, &seen},
                                    drawn<ratio>("x", 5.0, two_point{0.25}), drawn<ratio>("z", 0.0, normal{1.0}));
    const auto high = std::count(seen.begin(), seen.end(), 5.25);
    CHECK(high + std::count(seen.begin(), seen.end(), 4.75) == static_cast<std::ptrdiff_t>(seen.size()));
    CHECK(std::abs(static_cast<double>(high) - 0.5 * static_cast<double>(seen.size())) <=
          3.5 * 0.5 * std::sqrt(static_cast<double>(seen.size())));
    CHECK(std::abs(result.outputs[0].standard_deviation - 0.25) <= 1e-4);
}

TEST_CASE("where the first trials are no sample of the rest the intervals are exact all the same") {
    // A model with a memory, which no honest one has: the first trials spread widely, the rest do not. So the limits taken from the first
    // keep too few, and the run starts again with wider ones; a run is `columns` columns, which the model counts.
    constexpr std::uint64_t columns = 800;
    std::uint64_t calls = 0;
    std::vector<double> seen;
    const auto two_faced = [&](const ratio& x) -> ratio {
        const std::uint64_t trial = calls++ % (columns * column_length);
        if (trial == 0) seen.clear();
        seen.push_back(trial < 32'768 ? x.value() : 0.01 * x.value());
        return seen.back();
    };
    monte_carlo_settings s = trials(columns * column_length);
    s.probability = 0.95;
    const auto result = monte_carlo(s, two_faced, drawn<ratio>("x", 0.0, normal{1.0}));
    CHECK(calls > columns * column_length);
    REQUIRE(seen.size() == columns * column_length);
    const all_in_order expected(seen, 0.95);
    CHECK(result.outputs[0].symmetric == expected.symmetric);
    CHECK(result.outputs[0].shortest == expected.shortest);
}

TEST_CASE("intervals from cells are within their bound of the exact ones") {
    for (const std::uint64_t n : {50'000u, 400'000u}) {
        monte_carlo_settings s = trials(n);
        const monte_carlo_result exact = divider(s);
        s.exact_intervals = false;
        const monte_carlo_result cells = divider(s);
        const sampled_output& a = exact.outputs[0];
        const sampled_output& b = cells.outputs[0];
        CHECK(a.interval_bound == 0.0);
        CHECK(b.interval_bound > 0.0);
        CHECK(b.interval_bound < 1e-3 * a.standard_deviation);
        CHECK(std::abs(a.symmetric.low - b.symmetric.low) <= b.interval_bound);
        CHECK(std::abs(a.symmetric.high - b.symmetric.high) <= b.interval_bound);
        CHECK(b.shortest.high - b.shortest.low <= a.shortest.high - a.shortest.low + 2.0 * b.interval_bound);
        CHECK(a.mean == b.mean);
    }
}

TEST_CASE("a histogram holds every trial once") {
    monte_carlo_settings s = trials(250'000);
    s.histogram_cells = 40;
    s.threads = 3;
    const histogram plot = divider(s).outputs[0].plot;
    REQUIRE(plot.counts.size() == 40);
    std::uint64_t sum = plot.below + plot.above;
    for (const std::uint64_t c : plot.counts) sum += c;
    CHECK(sum == 250'000);
    CHECK(plot.low < plot.high);
    CHECK(plot.below + plot.above < 100);
    CHECK(*std::max_element(plot.counts.begin(), plot.counts.end()) > 10'000);
    CHECK(divider(trials(1000)).outputs[0].plot.counts.empty());
}

TEST_CASE("a model may branch, call the C library and return a bare number") {
    const auto result = monte_carlo(
        trials(200'000),
        [](const auto& x) {
            if (x > 0.0 * volt) return 1.0 + pow(x / volt, 3.0).value();
            return 1.0;
        },
        drawn<voltage>("x", 0.0, normal{1.0}));
    CHECK(result.outputs[0].unit == "1");
    // E[max(x, 0)^3] = sqrt(2 / pi), E[max(x, 0)^6] = 15 / 2
    const double mean = std::sqrt(2.0 / std::acos(-1.0));
    CHECK(std::abs(result.outputs[0].mean - 1.0 - mean) < 5.0 * std::sqrt((7.5 - mean * mean) / 200'000.0));
}

TEST_CASE("several results come with their covariance, and x - x is 0") {
    const auto result = monte_carlo(
        trials(500'000),
        [](const auto& a, const auto& b) {
            return std::tuple{a + b, a - b, a - a, a * b / volt};
        },
        drawn<voltage>("a", 2.0, normal{0.3}), drawn<voltage>("b", 1.0, normal{0.4}));
    REQUIRE(result.outputs.size() == 4);
    const double chance = 5.0 / std::sqrt(500'000.0);
    CHECK(std::abs(result.covariance[0] - 0.25) < chance * 0.36);
    CHECK(std::abs(result.covariance[1] - (0.09 - 0.16)) < chance * 0.3);
    CHECK(result.covariance[1] == result.covariance[4]);
    CHECK(std::abs(result.correlation(0, 1) - -0.07 / 0.25) < chance);
    CHECK(std::abs(result.covariance[3] - (1.0 * 0.09 + 2.0 * 0.16)) < chance * 0.5);
    CHECK(result.outputs[2].standard_deviation == 0.0);
    CHECK(result.outputs[2].shortest == coverage_interval{0.0, 0.0});
    CHECK(result.correlation(0, 2) == 0.0);
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(std::sqrt(result.covariance[5 * i]) == result.outputs[i].standard_deviation);
    }
}

TEST_CASE("stated correlations between normal inputs hold, also of less than full rank") {
    monte_carlo_settings s = trials(400'000);
    s.correlations = {{"a", "b", 0.6}, {"b", "c", -0.3}, {"d", "e", 1.0}, {"a", "elsewhere", 0.5}};
    const auto all = [](const auto&... x) { return std::tuple{x...}; };
    const auto result = monte_carlo(s, all, drawn<ratio>("a", 1.0, normal{1.0}), drawn<ratio>("d", 0.0, normal{2.0}),
                                    drawn<ratio>("b", 2.0, normal{0.5}), drawn<ratio>("c", 3.0, normal{2.0}),
                                    drawn<ratio>("e", 0.0, normal{3.0}));
    const double chance = 5.0 / std::sqrt(400'000.0);
    CHECK(std::abs(result.correlation(0, 2) - 0.6) < chance);
    CHECK(std::abs(result.correlation(2, 3) - -0.3) < chance);
    CHECK(std::abs(result.correlation(0, 3)) < chance);
    CHECK(std::abs(result.correlation(0, 1)) < chance);
    CHECK(std::abs(result.correlation(1, 4) - 1.0) < 1e-12);
    CHECK(std::abs(result.outputs[3].standard_deviation - 2.0) < 2.0 * chance);
    CHECK(std::abs(result.outputs[2].mean - 2.0) < 0.5 * chance);
}

TEST_CASE("jointly observed inputs are a joint t: their sum and each alone have the t they should, their squares go together") {
    // With nu degrees of freedom and correlation 0 the covariance of squares is nu^2 (1 / ((nu-2)(nu-4)) - 1 / (nu-2)^2), not 0.
    monte_carlo_settings s = trials(1'000'000);
    const double nu = 12.0;
    s.correlations = {{"a", "b", 0.0}, {"b", "c", 0.5}};
    s.probability = 0.95;
    const auto result = monte_carlo(
        s, [](const auto& a, const auto& b, const auto& c) { return std::tuple{a, b, c, b + c, a * a, b * b}; },
        drawn<ratio>("a", 0.0, repeated{1.0, nu}), drawn<ratio>("b", 0.0, repeated{1.0, nu}),
        drawn<ratio>("c", 0.0, repeated{1.0, nu}));
    const double u = std::sqrt(nu / (nu - 2.0));
    for (std::size_t i = 0; i < 4; ++i) {
        CAPTURE(i);
        const double scale = i < 3 ? 1.0 : std::sqrt(3.0);
        CHECK(std::abs(result.outputs[i].standard_deviation - scale * u) < 0.006 * scale);
        CHECK(std::abs(result.outputs[i].symmetric.high - scale * coverage_factor(0.95, nu)) < 0.02 * scale);
    }
    CHECK(std::abs(result.correlation(1, 2) - 0.5) < 0.01);
    const double squares = nu * nu * (1.0 / ((nu - 2.0) * (nu - 4.0)) - 1.0 / ((nu - 2.0) * (nu - 2.0)));
    CHECK(std::abs(result.covariance[4 * 6 + 5] - squares) < 0.1 * squares);
}

TEST_CASE("inputs that name one coefficient or one difference share it in every trial") {
    const auto effect = [](double coefficient, double difference, const char* coefficient_of, const char* factor) {
        return distribution{coefficient_times_difference{coefficient, difference, 3.0, coefficient_of, factor}};
    };
    const auto result = monte_carlo(
        trials(400'000), [](const auto&... x) { return std::tuple{x...}; },
        drawn<ratio>("part 1 now", 0.0, effect(1e-5, 8.0, "part 1", "now")),
        drawn<ratio>("part 1 then", 0.0, effect(2e-5, 5.0, "part 1", "then")),
        drawn<ratio>("part 2 now", 0.0, effect(1e-5, 8.0, "part 2", "now")),
        drawn<ratio>("alone", 1.0, effect(1e-5, 8.0, "", "")));
    const double u = 1e-5 / std::sqrt(3.0) * std::sqrt(8.0 * 8.0 + 3.0);
    CHECK(std::abs(result.outputs[0].standard_deviation - u) < 0.01 * u);
    CHECK(std::abs(result.outputs[3].mean - 1.0) < 0.01 * u);
    // E[alpha^2] d1 d2: what budgets add for a shared coefficient (budget.hpp, covariance)
    const double shared = 1e-5 * 2e-5 / 3.0 * 8.0 * 5.0;
    CHECK(std::abs(result.covariance[1] - shared) < 0.02 * shared);
    CHECK(std::abs(result.correlation(0, 2)) < 0.01);
    CHECK(std::abs(result.correlation(0, 3)) < 0.01);
    // The shared difference shows where the coefficients' sizes alone are looked at.
    const auto squares = monte_carlo(
        trials(400'000),
        [](const auto& a, const auto& b) {
            return std::tuple{a * a, b * b};
        },
        drawn<ratio>("part 1 now", 0.0, effect(1.0, 0.0, "part 1", "now")),
        drawn<ratio>("part 2 now", 0.0, effect(1.0, 0.0, "part 2", "now")));
    CHECK(squares.covariance[1] > 0.0);
    const double expected = (81.0 / 5.0 - 9.0) / 9.0;  // Var(d^2) E[a^2] E[b^2], d rectangular within +-3
    CHECK(std::abs(squares.covariance[1] - expected) < 0.1 * expected);
}

TEST_CASE("deviations that were seen are drawn as they were seen") {
    const auto result = monte_carlo(
        trials(300'000), [](const auto& x) { return x; }, drawn<voltage>("x", 10.0, seen_deviations{{-1.0, 0.0, 0.0, 5.0}}));
    CHECK(std::abs(result.outputs[0].mean - 11.0) < 5.0 * std::sqrt(5.5 / 300'000.0));
    CHECK(std::abs(result.outputs[0].standard_deviation * result.outputs[0].standard_deviation - 5.5) < 0.1);
    CHECK(result.outputs[0].symmetric == coverage_interval{9.0, 15.0});
}

TEST_CASE("the lowest trial that is not finite is refused with its inputs, whatever the number of threads") {
    const auto logarithm = [](const ratio& x) { return log(x); };
    monte_carlo_settings s = trials(1'000'000);
    s.seed = 4;
    std::uint64_t first = 0;
    for (const unsigned threads : {1u, 2u, 6u}) {
        CAPTURE(threads);
        s.threads = threads;
        try {
            static_cast<void>(monte_carlo(s, logarithm, drawn<ratio>("x", 4.2, normal{1.0})));
            FAIL("a logarithm of what is below zero was let through");
        } catch (const refused_trial& e) {
            if (threads == 1) first = e.trial();
            CHECK(e.trial() == first);
            REQUIRE(e.inputs().size() == 1);
            CHECK(e.inputs()[0].first == "x");
            CHECK(e.inputs()[0].second < 0.0);
            const std::string start = "Monte Carlo, trial " + std::to_string(first) + ": the model gave ";
            const std::string what = e.what();
            CHECK(what.substr(0, start.size()) == start);
            CHECK(what.find("nan with x = -") != std::string::npos);
            const std::string end =
                ", expected a finite result of every trial; keep the inputs where the model holds, or mend the model";
            CHECK(what.substr(what.size() - end.size()) == end);
        }
    }
    CHECK(first > 40'000);  // not among the first trials, which are run before the others
    // none before it
    s.threads = 1;
    s.trials = first;
    CHECK(monte_carlo(s, logarithm, drawn<ratio>("x", 4.2, normal{1.0})).trials == first);
    s.trials = first + 1;
    CHECK_THROWS_AS(static_cast<void>(monte_carlo(s, logarithm, drawn<ratio>("x", 4.2, normal{1.0}))), refused_trial);
}

TEST_CASE("a model that throws is refused likewise, and a second step that fails earlier wins over a first that fails later") {
    const input_set none;
    const auto throwing_above = [](double limit, const char* text) {
        return [limit, text](const ratio& x) {
            if (x > limit) throw std::domain_error(text);
            return x;
        };
    };
    const auto composition = [&](double in_first, double in_second) {
        return [&, in_first, in_second](const in_trials& e) {
            const auto x = e.given<ratio>(sampled_input("x", "1", 0.0, normal{1.0}));
            return e.apply(throwing_above(in_second, "second"), e.apply(throwing_above(in_first, "first"), x));
        };
    };
    const auto refusal = [&](double in_first, double in_second) -> std::string {
        try {
            static_cast<void>(monte_carlo(trials(100'000), none, composition(in_first, in_second)));
        } catch (const refused_trial& e) {
            return std::to_string(e.trial()) + ' ' + std::string(e.what()).substr(0, std::string(e.what()).find(" with"));
        }
        return "";
    };
    const std::string early = refusal(9.0, 2.0);
    const std::string trial = early.substr(0, early.find(' '));
    CHECK(early == trial + " Monte Carlo, trial " + trial + ": the model threw \"second\"");
    CHECK(refusal(4.0, 2.0) == early);
    const auto thrown = monte_carlo_settings{};
    CHECK_THROWS_AS(static_cast<void>(monte_carlo(
                        thrown, [](const ratio& x) -> ratio { throw x.value(); }, drawn<ratio>("x", 0.0, normal{1.0}))),
                    refused_trial);
}

TEST_CASE("a trial beyond the last may do what it likes") {
    // 300 trials are two columns; the trials 300 to 511 are drawn and thrown away.
    std::set<double> counted;
    std::size_t thrown_away = 0;
    const auto x = drawn<ratio>("x", 0.0, normal{1.0});
    static_cast<void>(monte_carlo(
        trials(300),
        [&](const ratio& value) {
            if (counted.size() < 300) counted.insert(value.value());
            return value;
        },
        x));
    const auto result = monte_carlo(
        trials(300),
        [&](const ratio& value) -> ratio {
            if (counted.contains(value.value())) return value;
            ++thrown_away;
            throw std::runtime_error("beyond");
        },
        x);
    CHECK(thrown_away > 0);
    CHECK(result.trials == 300);
}

TEST_CASE("progress is told on the caller's thread, rises to the total, and can stop the run") {
    monte_carlo_settings s = trials(2'000'000);
    s.threads = 3;
    const auto caller = std::this_thread::get_id();
    std::vector<std::uint64_t> told;
    s.progress = [&](std::uint64_t done, std::uint64_t of) {
        CHECK(std::this_thread::get_id() == caller);
        CHECK(of == 2'000'000);
        told.push_back(done);
        return true;
    };
    const monte_carlo_result whole = divider(s);
    CHECK(told.size() >= 10);
    CHECK(told.size() <= 150);
    CHECK(std::is_sorted(told.begin(), told.end()));
    CHECK(told.back() == 2'000'000);

    std::atomic<std::uint64_t> calls{0};
    s.progress = [](std::uint64_t done, std::uint64_t) { return done < 400'000; };
    const auto counted = [&calls](const ratio& x) {
        calls.fetch_add(1, std::memory_order_relaxed);
        return x;
    };
    CHECK_THROWS_WITH_AS(static_cast<void>(monte_carlo(s, counted, drawn<ratio>("x", 0.0, normal{1.0}))),
                         "Monte Carlo: stopped by its progress callback", cancelled);
    CHECK(calls < 1'900'000);

    s.progress = [](std::uint64_t, std::uint64_t) -> bool { throw std::logic_error("of the callback"); };
    CHECK_THROWS_WITH_AS(static_cast<void>(divider(s)), "of the callback", std::logic_error);

    s.progress = nullptr;
    CHECK(divider(s) == whole);  // nothing is left behind
}

TEST_CASE("settings out of range are refused with a remedy") {
    const auto refused = [](const monte_carlo_settings& s, const char* text) {
        CHECK_THROWS_WITH_AS(static_cast<void>(divider(s)), text, bad_input);
    };
    monte_carlo_settings s;
    s.trials = 1;
    refused(s, "Monte Carlo: 1 trials, expected 2 to 10^12; correct the number");
    s.trials = 10;
    refused(s,
            "Monte Carlo: 10 trials for a coverage probability of 0.9544997361036416, expected enough that some lie inside the "
            "interval "
            "and some outside; take more trials");
    for (const double p : {0.0, 1.0, -0.5, std::numeric_limits<double>::quiet_NaN()}) {
        s = {};
        s.probability = p;
        CHECK_THROWS_AS(static_cast<void>(divider(s)), bad_input);
    }
    s = {};
    s.probability = 1.0;
    refused(
        s,
        "Monte Carlo: coverage probability 1, expected more than 0 and less than 1; state it as a fraction, 0.9545 for instance");
    s = {};
    s.histogram_cells = 2'000'000;
    refused(s, "Monte Carlo: 2000000 cells of a histogram, expected 1000000 or fewer; ask for fewer");
    s = {};
    s.adaptive = adaptive_rule{0};
    refused(s, "Monte Carlo: 0 significant digits, expected 1 to 6; ask for fewer");
    s.adaptive = adaptive_rule{2, 0.0};
    refused(s, "Monte Carlo: 0 of the numerical tolerance, expected more than 0; use 1, or 0.2 to validate first order");
    s.adaptive = adaptive_rule{};
    s.exact_intervals = false;
    refused(s,
            "Monte Carlo: an adaptive rule with intervals from cells, expected exact intervals, which it watches; leave "
            "exact_intervals "
            "as it is");
    s = {};
    s.adaptive = adaptive_rule{};
    s.trials = 19'999;
    refused(s,
            "Monte Carlo: at most 19999 trials, expected at least two blocks of 10000 for an adaptive rule at this coverage "
            "probability; "
            "allow more");
}

TEST_CASE("inputs and correlations that cannot be drawn are refused by name") {
    const auto draws_of = [](const sampled_distribution& spread, double estimate = 0.0) {
        return [=] {
            static_cast<void>(monte_carlo(
                trials(1000), [](const ratio& x) { return x; }, drawn<ratio>("x", estimate, spread)));
        };
    };
    const auto text = [](const char* found) {
        return std::string("input x: ") + found +
               ", expected figures that are finite and not negative; correct the figures of this input";
    };
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_WITH_AS(draws_of(normal{1.0}, nan)(), text("estimate nan").c_str(), bad_input);
    CHECK_THROWS_WITH_AS(draws_of(normal{-1.0})(), text("standard uncertainty -1").c_str(), bad_input);
    CHECK_THROWS_WITH_AS(draws_of(rectangular{infinite})(), text("standard uncertainty inf").c_str(), bad_input);
    CHECK_THROWS_WITH_AS(draws_of(repeated{1.0, 0.0})(), text("0 degrees of freedom").c_str(), bad_input);
    CHECK_THROWS_WITH_AS(draws_of(curvilinear_trapezoid{1.0, 2.0})(), text("half-width 1 known within +-2").c_str(), bad_input);
    CHECK_THROWS_WITH_AS(draws_of(seen_deviations{})(), text("no deviation seen").c_str(), bad_input);
    CHECK_THROWS_WITH_AS(draws_of(seen_deviations{{1.0, nan}})(), text("a deviation of nan").c_str(), bad_input);

    const auto two = [](double r, const sampled_distribution& a, const sampled_distribution& b) {
        return [=] {
            monte_carlo_settings s = trials(1000);
            s.correlations = {{"a", "b", r}};
            static_cast<void>(monte_carlo(
                s, [](const ratio& x, const ratio& y) { return x + y; }, drawn<ratio>("a", 0.0, a), drawn<ratio>("b", 0.0, b)));
        };
    };
    CHECK_THROWS_WITH_AS(two(1.5, normal{1.0}, normal{1.0})(),
                         "correlation of a and b: coefficient 1.5, expected -1 to 1, between two inputs; correct it", bad_input);
    CHECK_THROWS_WITH_AS(
        two(0.5, normal{1.0}, rectangular{1.0})(),
        "correlation of a and b: b, whose distribution is neither normal nor of repeated readings, expected inputs that are "
        "normal or from repeated readings; let both depend on one shared input instead",
        bad_input);
    CHECK_THROWS_WITH_AS(
        two(0.5, repeated{1.0, 5.0}, repeated{1.0, 6.0})(),
        "correlation of a and b: 5 and 6 degrees of freedom, expected the same for both: a joint normal or a joint t "
        "distribution; state both alike, or let both depend on one shared input instead",
        bad_input);

    monte_carlo_settings s = trials(1000);
    s.correlations = {{"a", "b", 0.9}, {"b", "c", 0.9}, {"a", "c", -0.9}};
    CHECK_THROWS_WITH_AS(
        static_cast<void>(monte_carlo(
            s, [](const ratio& x, const ratio& y, const ratio& z) { return x + y + z; }, drawn<ratio>("a", 0.0, normal{1.0}),
            drawn<ratio>("b", 0.0, normal{1.0}), drawn<ratio>("c", 0.0, normal{1.0}))),
        "correlations of a, b and c: coefficients that contradict each other, expected ones that can hold at the same time; "
        "correct the coefficients",
        bad_input);

    const auto shared = [](double half_width) { return coefficient_times_difference{1.0, 0.0, half_width, "", "room"}; };
    CHECK_THROWS_WITH_AS(
        static_cast<void>(monte_carlo(
            trials(1000), [](const ratio& x, const ratio& y) { return x + y; }, drawn<ratio>("a", 0.0, shared(1.0)),
            drawn<ratio>("b", 0.0, shared(2.0)))),
        "difference \"room\": 0 +- 1 in one input and 0 +- 2 in another, expected one and the same difference in all inputs "
        "that name it; name them apart, or state them alike",
        bad_input);
    CHECK_THROWS_WITH_AS(
        static_cast<void>(monte_carlo(
            trials(1000), [](const voltage& x) { return x; }, sampled<voltage>{sampled_input("a", "K", 0.0, normal{1.0})})),
        "input a: unit K, expected unit V; use the record as it was written", bad_input);
    CHECK_THROWS_WITH_AS(
        static_cast<void>(monte_carlo(
            trials(1000), [](const ratio& x, const ratio& y) { return x + y; }, drawn<ratio>("a", 0.0, normal{1.0}),
            drawn<ratio>("a", 0.0, normal{2.0}))),
        "input a: two inputs of this id that differ, expected one input for each id; give each source of error its own "
        "identity, and one source the same figures everywhere",
        bad_input);
}

TEST_CASE("a t of two or fewer degrees of freedom has no standard deviation: none is stated, and an adaptive run is refused") {
    const auto run = [](double nu, bool adaptive) {
        monte_carlo_settings s = trials(200'000);
        s.probability = 0.95;
        if (adaptive) s.adaptive = adaptive_rule{};
        return monte_carlo(
            s, [](const ratio& x) { return x; }, drawn<ratio>("mean of three", 0.0, repeated{1.0, nu}));
    };
    const monte_carlo_result two = run(2.0, false);
    CHECK(two.outputs[0].standard_deviation == infinite);
    CHECK(std::abs(two.outputs[0].symmetric.high - coverage_factor(0.95, 2.0)) < 0.1);
    CHECK(std::isfinite(run(2.5, false).outputs[0].standard_deviation));
    CHECK_THROWS_WITH_AS(
        static_cast<void>(run(2.0, true)),
        "Monte Carlo: input mean of three with 2 degrees of freedom: its t has no standard deviation that trials could settle "
        "on, expected more than 2 under an adaptive rule; take more readings, or a fixed number of trials and the intervals "
        "alone",
        bad_input);
}

TEST_CASE("an adaptive run that may not go on says that it has not settled") {
    monte_carlo_settings s = trials(50'000);
    s.probability = 0.95;
    s.adaptive = adaptive_rule{4};
    const monte_carlo_result result = divider(s);
    CHECK_FALSE(result.settled);
    CHECK(result.trials == 50'000);
    REQUIRE(result.tolerances.size() == 1);
    CHECK(result.tolerances[0] == tolerance_of(result.outputs[0].standard_deviation, 4).delta);
}

TEST_CASE("an adaptive run states what a fixed one over its trials would: exact intervals, the moments of all") {
    std::vector<double> seen;
    const auto sum = [](double x, double z) { return x + z; };
    monte_carlo_settings s = trials(5'000'000);
    s.probability = 0.95;
    s.adaptive = adaptive_rule{1};
    const auto result = monte_carlo(s, remembering<decltype(sum)>{sum, &seen}, drawn<ratio>("x", 0.0, normal{1.0}),
                                    drawn<ratio>("z", 0.0, rectangular{1.0}));
    REQUIRE(result.settled);
    // Parts of 10^4 trials are forty columns, the last of them cut.
    std::vector<double> kept;
    for (std::size_t part = 0; part < result.trials / 10'000; ++part) {
        const auto first = seen.begin() + static_cast<std::ptrdiff_t>(part * 40 * column_length);
        kept.insert(kept.end(), first, first + 10'000);
    }
    const all_in_order expected(kept, 0.95);
    CHECK(result.outputs[0].symmetric == expected.symmetric);
    CHECK(result.outputs[0].shortest == expected.shortest);
}

}  // namespace uncertainty_monte_carlo_test
