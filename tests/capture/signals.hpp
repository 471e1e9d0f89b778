#pragma once
// Simulated captures with known truth, and what the library says of them. The signals are written apart from the library.

#include <cmath>
#include <plumbline/capture/one_pass.hpp>
#include <simulation/random.hpp>
#include <vector>

namespace signals {

using plumbline::capture::in_one_pass;
using plumbline::capture::one_pass_statistics;
using plumbline::simulation::generator;

constexpr double pi = 3.14159265358979323846;

/// What is sampled, in codes: truth apart from the library.
struct signal {
    std::size_t n = 1000;
    double noise = 1.0;
    double phi = 0.0;      ///< of AR(1): the noise of one sample in that of the next
    double flicker = 0.0;  ///< noise of each of some octaves of time, two apart
    double sine = 0.0;     ///< amplitude
    double periods_per_sample = 0.0;
    double drift = 0.0;  ///< from first to last
};

struct captured {
    plumbline::capture::run run;
    double position;
};

inline captured sampled(const signal& of, std::uint64_t seed) {
    generator random(seed);
    captured made{{{}, 10e3 * plumbline::hertz}, 2000.0 + random.uniform()};
    const double phase = random.uniform();
    double before = random.normal();
    std::vector<double> slow(10);
    for (double& x : slow) x = random.normal();
    made.run.codes.reserve(of.n);
    for (std::size_t i = 0; i < of.n; ++i) {
        const auto t = static_cast<double>(i);
        before = of.phi * before + std::sqrt(1.0 - of.phi * of.phi) * random.normal();
        double x = made.position + of.noise * before;
        if (of.flicker > 0.0) {
            for (std::size_t k = 0; k < slow.size(); ++k) {  // the sum of such processes has a spectrum near 1/f
                const double kept = std::exp(-std::ldexp(1.0, -2 * static_cast<int>(k)));
                slow[k] = kept * slow[k] + std::sqrt(1.0 - kept * kept) * random.normal();
                x += of.flicker * slow[k];
            }
        }
        x += of.sine * std::cos(2.0 * pi * (of.periods_per_sample * t + phase)) + of.drift * t / static_cast<double>(of.n - 1);
        made.run.codes.push_back(static_cast<std::int32_t>(std::lround(x)));
    }
    return made;
}

inline one_pass_statistics seen(const signal& of, std::uint64_t seed) { return in_one_pass(sampled(of, seed).run, 0, 4095); }

template <class Says>
int how_many(int captures, const signal& of, std::uint64_t seed, Says says) {
    int count = 0;
    for (int i = 0; i < captures; ++i) count += says(seen(of, seed + static_cast<std::uint64_t>(i))) ? 1 : 0;
    return count;
}

inline double u_of_mean(const one_pass_statistics& st) { return st.s.value() / std::sqrt(st.n_eff); }

}  // namespace signals
