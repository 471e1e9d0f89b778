// What a user would write instead: a loop over scalar random numbers, all results in one array, then selection or sorting.

#include "reference_problem.hpp"

#include <algorithm>
#include <bit>
#include <boost/random/normal_distribution.hpp>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

namespace plumbline::benchmarks::PEER_BUILD {

namespace {

/// xoshiro256++ of D. Blackman and S. Vigna, seeded by splitmix64 as its authors advise.
class xoshiro {
public:
    using result_type = std::uint64_t;
    explicit xoshiro(std::uint64_t seed) {
        for (std::uint64_t& word : state_) {
            std::uint64_t z = (seed += 0x9e3779b97f4a7c15u);
            z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
            z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
            word = z ^ (z >> 31);
        }
    }
    static constexpr result_type min() { return 0; }
    static constexpr result_type max() { return ~result_type{0}; }
    result_type operator()() {
        const std::uint64_t result = std::rotl(state_[0] + state_[3], 23) + state_[0];
        const std::uint64_t t = state_[1] << 17;
        state_[2] ^= state_[0];
        state_[3] ^= state_[1];
        state_[1] ^= state_[2];
        state_[0] ^= state_[3];
        state_[2] ^= t;
        state_[3] = std::rotl(state_[3], 45);
        return result;
    }

private:
    std::uint64_t state_[4];
};

/// All results of the problem, from a generator and a standard normal distribution over it.
template <class Engine, class Normal>
std::vector<double> trials_of(const reading_problem& p, std::size_t trials, Engine engine, Normal normal) {
    const auto within = [&](double half_width) { return (static_cast<double>(engine() >> 11) * 0x1p-52 - 1.0) * half_width; };
    std::vector<double> results(trials);
    for (double& y : results) {
        const double c0 = p.c0 + p.u_c0 * normal(engine) + within(p.half_code);
        const double c1 = p.c1 + p.u_c1 * normal(engine) + within(p.half_code);
        const double c = p.c + p.u_c * normal(engine) + within(p.half_code);
        const double v0 = (c - c0) / (c1 - c0) * (p.reference + within(p.reference_half_width));
        const double linearity = 1.0 + within(p.linearity_half_width);
        const double warm = 1.0 + within(p.alpha_half_width) * within(p.warmer_half_width);
        const double drift = 1.0 + within(p.drift_half_width);
        const double source = p.source + within(0.5 * p.source_half_width) + within(0.5 * p.source_half_width);
        const double input = p.input + p.u_input * normal(engine);
        y = v0 * linearity * warm * drift + v0 * (source / (source + input));
    }
    return results;
}

/// Both intervals once the lowest and the highest k are in order.
run_figures figures(const std::vector<double>& y, std::size_t q, double mean, double deviation) {
    const std::size_t r = (y.size() - q + 1) / 2 - 1;
    run_figures f{mean, deviation, y[r], y[r + q], y[0], y[q]};
    for (std::size_t i = 1; i < y.size() - q; ++i) {
        if (y[i + q] - y[i] < f.shortest_high - f.shortest_low) {
            f.shortest_low = y[i];
            f.shortest_high = y[i + q];
        }
    }
    return f;
}

template <bool select>
run_figures stated(std::vector<double> y, double probability) {
    double sum = 0.0;
    for (const double v : y) sum += v;
    const double mean = sum / static_cast<double>(y.size());
    double squares = 0.0;
    for (const double v : y) squares += (v - mean) * (v - mean);
    const double deviation = std::sqrt(squares / static_cast<double>(y.size() - 1));
    const auto q = static_cast<std::size_t>(probability * static_cast<double>(y.size()) + 0.5);
    if constexpr (select) {
        const auto low = y.begin() + static_cast<std::ptrdiff_t>(y.size() - q);
        const auto high = y.begin() + static_cast<std::ptrdiff_t>(q);
        std::nth_element(y.begin(), low, y.end());
        std::nth_element(low, high, y.end());
        std::sort(y.begin(), low);
        std::sort(high, y.end());
    } else {
        std::sort(y.begin(), y.end());
    }
    return figures(y, q, mean, deviation);
}

}  // namespace

run_figures xoshiro_ziggurat_selection(const reading_problem& p, std::size_t trials, double probability, unsigned long seed) {
    return stated<true>(trials_of(p, trials, xoshiro(seed), boost::random::normal_distribution<double>()), probability);
}

run_figures mt19937_normal_sort(const reading_problem& p, std::size_t trials, double probability, unsigned long seed) {
    return stated<false>(trials_of(p, trials, std::mt19937_64(seed), std::normal_distribution<double>()), probability);
}

}  // namespace plumbline::benchmarks::PEER_BUILD
