#include <doctest/doctest.h>
#include <fmt/format.h>
#include <cmath>
#include <cstdint>
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
constexpr std::size_t wider_instruments = 5000;
constexpr std::uint64_t trials = 100'000;
const std::string folder = PLUMBLINE_SOURCE_DIR "/tests/simulation/";

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

/// The table is the kept one: to the byte from the same compiler, else within the last digits.
void compare_with_kept(const char* name, const std::string& table) {
    const std::string file = folder + name;
    MESSAGE(table);

    if (std::getenv("PLUMBLINE_KEEP_COVERAGE_TABLE") != nullptr) {
        std::ofstream(file, std::ios::binary) << table;
        MESSAGE("kept as " << file);
    }
    std::ifstream in(file, std::ios::binary);
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
        if (now[i].starts_with('#')) {
            CHECK(then[i] == now[i]);
            continue;
        }
        CAPTURE(then[i]);
        CAPTURE(now[i]);
        CHECK(agree(then[i], now[i]));
    }
}

/// PLUMBLINE_COVERAGE_KINDS names, by a part of their names, the only kinds to run of the wider ones and by trials; the others' rows are
/// then the kept ones.
bool wanted(const kind& what) {
    const char* part = std::getenv("PLUMBLINE_COVERAGE_KINDS");
    return part == nullptr || what.name.find(part) != std::string::npos;
}

/// A kind's rows in the kept table, with what is said ahead of them; "" where it has none.
std::string kept_rows(const char* name, const std::string& of) {
    std::ifstream in(folder + name, std::ios::binary);
    std::string said;
    std::string rows;
    for (std::string line; std::getline(in, line);) {
        const bool its = line.starts_with(fmt::format("{:<34} ", of));
        if (its) rows += said + line + '\n';
        said = line.starts_with("# may") || line.starts_with("# found") ? said + line + '\n' : "";
    }
    return rows;
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
    for (const kind& what : kinds()) run(what, what.because.empty() ? expected.second : instruments);
    for (const kind& what : smeared_kinds()) run(what, instruments);
    compare_with_kept("coverage-table.txt", table);
}

TEST_CASE("stated intervals hold the truth of 5000 simulated instruments of each wider kind at least as often as they say") {
    std::string table = "# compiled by " + compiler + "\n";
    table += fmt::format("# {} instruments of each kind; stated coverage 95.45 %\n", wider_instruments);
    table += fmt::format("# {:<32} {:<17} {:>8} {:>10} {:>10} {:>8} {:>8}\n", "kind", "reading", "held %", "mean U mV",
                         "quant. mV", "ratio", "refused");
    for (const kind& what : wider_kinds()) {
        if (!wanted(what)) {
            table += kept_rows("wider-coverage-table.txt", what.name);
            continue;
        }
        if (!what.because.empty()) table += fmt::format("# may come to {}: {}\n", what.most_U, what.because);
        if (!what.finding.empty()) table += fmt::format("# found: {}\n", what.finding);
        std::string broken;
        for (const cell& c : simulate(what, wider_instruments, std::thread::hardware_concurrency())) {
            CHECK(c.instruments + c.refused == wider_instruments);
            CHECK(c.instruments > wider_instruments / 2);
            const std::string rule = broken_rule(what, c);
            if (!rule.empty()) broken += c.reading + " " + rule + "; ";
            std::string line = row(c);
            line.back() = ' ';
            table += line + fmt::format("{:>8}{}{}\n", c.refused, rule.empty() ? "" : " ", rule);
        }
        CAPTURE(what.name);
        CAPTURE(broken);
        CHECK(broken.empty() == what.finding.empty());
    }
    compare_with_kept("wider-coverage-table.txt", table);
}

// The intervals above are by convolution, which takes a thousandth of the time. These are drawn.
TEST_CASE(
    "intervals from 100 000 trials of each of 5000 calibrations hold the truth as often, and are as long as the stated ones") {
    std::string table = "# compiled by " + compiler + "\n";
    table +=
        fmt::format("# {} instruments of each kind, {} trials of each; stated coverage 95.45 %\n", wider_instruments, trials);
    table += fmt::format("# {:<32} {:<17} {:>8} {:>10} {:>10} {:>8} {:>8} {:>8}\n", "kind", "reading", "held %", "mean U mV",
                         "quant. mV", "ratio", "to U", "refused");
    for (const kind& what : kinds_by_trials()) {
        if (!wanted(what)) {
            table += kept_rows("coverage-by-trials-table.txt", what.name);
            continue;
        }
        if (!what.because.empty()) table += fmt::format("# may come to {}: {}\n", what.most_U, what.because);
        if (!what.finding.empty()) table += fmt::format("# found: {}\n", what.finding);
        std::string broken;
        for (const cell& by_convolution : simulate(what, wider_instruments, std::thread::hardware_concurrency(), trials)) {
            cell c = by_convolution;
            c.covered = c.covered_by_trials;
            c.mean_U = c.mean_U_by_trials;
            CAPTURE(c.kind);
            CAPTURE(c.reading);
            CHECK(c.instruments + c.refused == wider_instruments);
            CHECK(c.instruments > wider_instruments / 2);
            const std::string rule = broken_rule(what, c);
            if (!rule.empty()) broken += c.reading + " " + rule + "; ";
            const double to_U = c.mean_U / by_convolution.mean_U;
            CHECK(to_U >= 0.999);
            CHECK(to_U <= (what.samples < 20 ? 1.03 : 1.01));
            std::string line = row(c);
            line.back() = ' ';
            table += line + fmt::format("{:>8.4f} {:>8}{}{}\n", to_U, c.refused, rule.empty() ? "" : " ", rule);
        }
        CAPTURE(what.name);
        CAPTURE(broken);
        CHECK(broken.empty() == what.finding.empty());
    }
    compare_with_kept("coverage-by-trials-table.txt", table);
}

}  // namespace coverage_long_test
