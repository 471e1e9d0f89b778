#include <doctest/doctest.h>
#include <fmt/format.h>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <plumbline/uncertainty/coverage.hpp>
#include <simulation/coverage.hpp>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

namespace coverage_long_test {

using namespace plumbline::simulation;

namespace {

constexpr std::size_t instruments = 20'000;
const std::string kept_table = std::string(PLUMBLINE_SOURCE_DIR "/tests/simulation/coverage-table.txt");

#if defined(__clang__)
const std::string compiler = "clang++ " __clang_version__;
#else
const std::string compiler = "g++ " __VERSION__;
#endif

std::string row(const cell& c) {
    return fmt::format("{:<34} {:<17} {:>8.2f} {:>10.3f} {:>10.3f} {:>8.3f}\n", c.kind, c.reading,
                       100.0 * static_cast<double>(c.covered) / static_cast<double>(c.instruments), 1e3 * c.mean_U,
                       1e3 * c.quantile, c.mean_U / c.quantile);
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

/// Names alike, figures within one unit of the last digit that is printed.
bool agree(const std::string& a, const std::string& b) {
    constexpr std::size_t names = 52;
    if (a.size() < names || a.substr(0, names) != b.substr(0, names)) return false;
    std::istringstream x(a.substr(names));
    std::istringstream y(b.substr(names));
    constexpr double last_digit[] = {0.01, 0.001, 0.001, 0.001};
    for (double unit : last_digit) {
        double p = 0.0;
        double q = 0.0;
        if (!(x >> p) || !(y >> q) || std::abs(p - q) > 1.0001 * unit) return false;
    }
    return true;
}

}  // namespace

TEST_CASE(
    "stated intervals hold the truth of 20 000 simulated instruments of each kind as often as they say, and are not padded") {
    const count_bounds expected = binomial_bounds(instruments, plumbline::uncertainty::default_coverage_probability);
    std::string table = "# compiled by " + compiler + "\n";
    table += fmt::format("# {} instruments of each kind; stated coverage 95.45 %, 99.9 % bounds {:.2f} % to {:.2f} %\n",
                         instruments, 100.0 * static_cast<double>(expected.first) / static_cast<double>(instruments),
                         100.0 * static_cast<double>(expected.second) / static_cast<double>(instruments));
    table += fmt::format("# {:<32} {:<17} {:>8} {:>10} {:>10} {:>8}\n", "kind", "reading", "held %", "mean U mV", "quant. mV",
                         "ratio");
    const auto run = [&](const kind& what, std::size_t most_covered) {
        for (const cell& c : simulate(what, instruments, std::thread::hardware_concurrency())) {
            CAPTURE(c.kind);
            CAPTURE(c.reading);
            CHECK(c.instruments == instruments);
            CHECK(c.covered >= expected.first);
            CHECK(c.covered <= most_covered);
            CHECK(c.mean_U >= 0.97 * c.quantile);
            CHECK(c.mean_U <= 1.10 * c.quantile);
            table += row(c);
        }
    };
    for (const kind& what : kinds()) run(what, expected.second);
    for (const kind& what : smeared_kinds()) run(what, instruments);
    MESSAGE(table);

    if (std::getenv("PLUMBLINE_KEEP_COVERAGE_TABLE") != nullptr) {
        std::ofstream(kept_table, std::ios::binary) << table;
        MESSAGE("kept as " << kept_table);
    }
    std::ifstream in(kept_table, std::ios::binary);
    const std::string kept{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
    const std::vector<std::string> then = lines_of(kept);
    const std::vector<std::string> now = lines_of(table);
    REQUIRE(then.size() == now.size());
    if (then.front() == now.front()) {
        CHECK(kept == table);
        return;
    }
    CHECK(then.at(1) == now.at(1));
    for (std::size_t i = 3; i < now.size(); ++i) {
        CAPTURE(then[i]);
        CAPTURE(now[i]);
        CHECK(agree(then[i], now[i]));
    }
}

}  // namespace coverage_long_test
