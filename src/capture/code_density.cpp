#include <plumbline/capture/code_density.hpp>

#include <plumbline/error.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace plumbline::inline v0::capture {

namespace {

constexpr double fewest_of_a_code = 25.0;
constexpr std::size_t fewest_codes = 4;
constexpr double steadiest = 2.1;  // kurtosis
constexpr double narrowest = 0.1;  // codes
constexpr double samples_that_tell = 16.0;

struct occupied_range {
    std::size_t lowest = 0;
    std::size_t highest = 0;
    double samples = 0.0;
    std::size_t most_frequent = 0;
};

occupied_range occupied(const std::vector<std::uint64_t>& counts) {
    occupied_range r;
    bool any = false;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        if (counts[i] == 0) continue;
        if (!any) r.lowest = i;
        any = true;
        r.highest = i;
        r.samples += static_cast<double>(counts[i]);
        if (counts[i] > counts[r.most_frequent]) r.most_frequent = i;
    }
    return r;
}

double kurtosis(const std::vector<std::uint64_t>& counts, double n) {
    double mean = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) mean += static_cast<double>(counts[i]) * static_cast<double>(i) / n;
    double second = 0.0;
    double fourth = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double off = static_cast<double>(i) - mean;
        const double weight = static_cast<double>(counts[i]) * (off * off);
        second += weight;
        fourth += weight * (off * off);
    }
    return n * fourth / (second * second);
}

/// An edge's height, in proportion to voltage, and its derivative, from the share of samples below it.
struct edge {
    double p = 0.0;
    double height = 0.0;
    double slope = 0.0;
};

edge edge_at(double p, stimulus by) {
    if (by == stimulus::ramp) return {p, p, 1.0};
    return {p, -std::cos(std::numbers::pi * p), std::numbers::pi * std::sin(std::numbers::pi * p)};
}

}  // namespace

code_density_test test_code_density(const std::vector<std::uint64_t>& counts, std::int32_t bottom_code, stimulus by) {
    code_density_test r;
    const occupied_range range = occupied(counts);
    const double n = range.samples;
    const std::size_t codes = range.highest > range.lowest ? range.highest - range.lowest - 1 : 0;
    if (codes < fewest_codes) {
        r.not_testable = fmt::format(
            "not testable: {} codes came up, expected {} or more; a steady voltage tests no widths: apply a slow ramp or a sine "
            "over the range",
            n > 0.0 ? range.highest - range.lowest + 1 : 0, fewest_codes + 2);
        return r;
    }
    const double shape = kurtosis(counts, n);
    if (shape > steadiest) {
        r.not_testable = fmt::format(
            "not testable: the codes pile up about the middle as noise on a steady voltage does (kurtosis {:.2f}), expected the "
            "even spread of a "
            "ramp (1.8) or that of a sine (1.5); apply a slow ramp or a sine over the range",
            shape);
        return r;
    }

    std::vector<edge> edges;
    double below = 0.0;
    for (std::size_t i = range.lowest; i < range.highest; ++i) {
        below += static_cast<double>(counts[i]);
        edges.push_back(edge_at(below / n, by));
    }
    const edge& first = edges.front();
    const edge& last = edges.back();
    const double span = last.height - first.height;
    const double code_height = span / static_cast<double>(codes);
    // Scarcest where the stimulus is fastest: a sine in its middle.
    const double steepest = by == stimulus::ramp ? 1.0 : std::numbers::pi;
    const double scarcest = n * code_height / steepest;
    if (scarcest < fewest_of_a_code) {
        r.not_testable = fmt::format(
            "not testable: {:.1f} samples for a code where they are scarcest, expected {:.0f} or more; capture {:.0f} "
            "samples or more in place of {:.0f}",
            scarcest, fewest_of_a_code, std::ceil(n * fewest_of_a_code / scarcest), n);
        return r;
    }

    r.first_code = static_cast<std::int32_t>(bottom_code + static_cast<std::int64_t>(range.lowest) + 1);
    const auto covariance = [&](const edge& a, const edge& b) { return (std::min(a.p, b.p) - a.p * b.p) / n; };
    for (std::size_t i = 0; i < codes; ++i) {
        const double width = (edges[i + 1].height - edges[i].height) / code_height;
        const double count = static_cast<double>(counts[range.lowest + 1 + i]);
        // p of a code as wide as one, at its middle
        const edge middle = edge_at(0.5 * (edges[i].p + edges[i + 1].p), by);
        r.dnl.push_back(width - 1.0);
        r.u_dnl.push_back(middle.slope * std::sqrt(std::max(count, 1.0)) / n / code_height);
        if (width <= narrowest) r.missing.push_back(r.first_code + static_cast<std::int32_t>(i));

        const edge& at = edges[i];
        const double share = (at.height - first.height) / span;
        r.inl.push_back(share * static_cast<double>(codes) - static_cast<double>(i));
        const edge* of[] = {&first, &at, &last};
        const double by_p[] = {-(1.0 - share) * first.slope, at.slope, -share * last.slope};
        double variance = 0.0;
        for (std::size_t a = 0; a < 3; ++a) {
            for (std::size_t b = 0; b < 3; ++b) variance += by_p[a] * by_p[b] * covariance(*of[a], *of[b]);
        }
        r.u_inl.push_back(std::sqrt(std::max(variance, 0.0)) / code_height);
    }
    return r;
}

std::uint64_t samples_for_code_density(int bits, double u) {
    if (bits < 1 || bits > 24 || !(u > 0.0 && std::isfinite(u))) {
        throw bad_input("samples for a code density test", fmt::format("{} bits and an uncertainty of {} codes", bits, u),
                        "1 to 24 bits, and an uncertainty above 0 and finite", "correct them");
    }
    return static_cast<std::uint64_t>(std::ceil(std::numbers::pi * std::ldexp(1.0, bits - 1) / (u * u)));
}

std::vector<stuck_bit> stuck_bits(const std::vector<std::uint64_t>& counts, std::int32_t bottom_code) {
    const occupied_range range = occupied(counts);
    if (!(range.samples > 0.0)) return {};
    const auto code_of = [&](std::size_t i) {
        return static_cast<std::uint32_t>(bottom_code) +
               static_cast<std::uint32_t>(i);  // two's complement: bits of negative codes too
    };
    std::uint32_t ever_set = 0;
    std::uint32_t always_set = ~std::uint32_t{0};
    for (std::size_t i = range.lowest; i <= range.highest; ++i) {
        if (counts[i] == 0) continue;
        ever_set |= code_of(i);
        always_set &= code_of(i);
    }
    const std::uint32_t constant = ~ever_set | always_set;
    std::uint32_t candidates = 0;
    for (int bit = 0; bit < 31; ++bit) {
        const std::size_t reach = std::size_t{1} << static_cast<unsigned>(bit);
        if (range.highest - range.lowest < reach) break;
        double moved = 0.0;
        for (std::size_t i = range.lowest; i <= range.highest; ++i) {
            const std::size_t off = i > range.most_frequent ? i - range.most_frequent : range.most_frequent - i;
            if (off >= reach) moved += static_cast<double>(counts[i]);
        }
        if (moved >= samples_that_tell) candidates |= constant & (std::uint32_t{1} << static_cast<unsigned>(bit));
    }
    if (candidates == 0) return {};
    double allowed = 0.0;
    double used = 0.0;
    for (std::size_t i = range.lowest; i <= range.highest; ++i) {
        if ((code_of(i) & candidates) != (always_set & candidates)) continue;
        allowed += 1.0;
        used += counts[i] != 0 ? 1.0 : 0.0;
    }
    if (used < 3.0 || used < 0.75 * allowed) return {};
    std::vector<stuck_bit> all;
    for (int bit = 0; bit < 31; ++bit) {
        const std::uint32_t mask = std::uint32_t{1} << static_cast<unsigned>(bit);
        if ((candidates & mask) != 0) all.push_back({bit, (always_set & mask) != 0 ? 1 : 0});
    }
    return all;
}

}  // namespace plumbline::inline v0::capture
