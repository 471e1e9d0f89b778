#pragma once
// The problem that is timed: a voltage read with a two-point correction, in its first numbers and in others (all invented). Its physics is
// simplified on purpose. Ten quantities by thirteen distributions.
//
// Answers of the first numbers, computed independently: V = 3.4099139 V; first order u = 1.906216 mV, effective degrees of freedom 820.4,
// k(95 %) = 1.9629; Monte Carlo with 3e8 trials: mean 3.4099140 V, standard deviation 1.92722 mV, symmetric 95 % interval [3.4061672,
// 3.4136625] V.

#include <cmath>
#include <plumbline/uncertainty/fixed_inputs.hpp>
#include <plumbline/units/quantities.hpp>
#include <tuple>

namespace plumbline::benchmarks {

/// V = V0 (1 + dlin)(1 + alpha dT)(1 + drift) + V0 Rs / (Rs + Rin), V0 = (c - c0) / (c1 - c0) Vref; each code with half a code besides.
struct reading_model {
    template <class C, class V, class R, class A, class K, class O>
    constexpr auto operator()(const C& c0, const C& q0, const C& c1, const C& q1, const C& c, const C& q, const V& reference,
                              const R& linearity, const A& alpha, const K& warmer, const R& drift, const O& source,
                              const O& input) const {
        const auto zero = c0 + q0;
        const auto v0 = ((c + q) - zero) / ((c1 + q1) - zero) * reference;
        return v0 * (1.0 + linearity) * (1.0 + alpha * warmer) * (1.0 + drift) + v0 * (source / (source + input));
    }
};

struct reading_problem {
    double c0, u_c0, c1, u_c1, c, u_c, half_code;
    double reference, reference_half_width;
    double linearity_half_width, alpha_half_width, warmer_half_width, drift_half_width;
    double source, source_half_width, input, u_input;
};

inline constexpr reading_problem first_numbers = {12.4,         0.1,   4002.7, 0.1,  2731.0, 0.8,   0.5, 5.0, 2.5e-3,
                                                  2.0 / 4096.0, 25e-6, 10.0,   1e-4, 1000.0, 500.0, 1e6, 1e4};
inline constexpr reading_problem other_numbers = {31.7,         0.25,  3877.1, 0.15, 641.0,  1.3,   0.5,   12.0, 1.8e-2,
                                                  1.0 / 4096.0, 50e-6, 15.0,   3e-4, 4700.0, 900.0, 2.2e6, 3e4};

/// Estimate, u and degrees of freedom of each input; u in closed form as JCGM 100:2008, 4.3 has it.
inline auto inputs_of(const reading_problem& p) {
    using uncertainty::figures;
    const double rectangular = 1.0 / std::sqrt(3.0);
    const double triangular = 1.0 / std::sqrt(6.0);
    constexpr double of_64_codes = 63.0;
    constexpr double of_input = 50.0;
    const auto given = []<class Quantity>(Quantity, double estimate, double u, double nu = uncertainty::infinite) {
        return figures<Quantity>{Quantity::from_value(estimate), Quantity::from_value(u), nu};
    };
    return std::tuple{given(codes(), p.c0, p.u_c0, of_64_codes),
                      given(codes(), 0.0, p.half_code * rectangular),
                      given(codes(), p.c1, p.u_c1, of_64_codes),
                      given(codes(), 0.0, p.half_code * rectangular),
                      given(codes(), p.c, p.u_c, of_64_codes),
                      given(codes(), 0.0, p.half_code * rectangular),
                      given(voltage(), p.reference, p.reference_half_width * rectangular),
                      given(ratio(), 0.0, p.linearity_half_width * rectangular),
                      given(per_kelvin(), 0.0, p.alpha_half_width * rectangular),
                      given(kelvins(), 0.0, p.warmer_half_width * rectangular),
                      given(ratio(), 0.0, p.drift_half_width * rectangular),
                      given(resistance(), p.source, p.source_half_width * triangular),
                      given(resistance(), p.input, p.u_input, of_input)};
}
using reading_inputs = decltype(inputs_of(first_numbers));

inline auto first_order_of(const reading_inputs& inputs) {
    return std::apply([](const auto&... figures) { return uncertainty::first_order(reading_model{}, figures...); }, inputs);
}

/// What a run states.
struct run_figures {
    double mean, standard_deviation, symmetric_low, symmetric_high, shortest_low, shortest_high;
};

// The peers, of two builds: random numbers by the scalar generators named, every result kept.
namespace plain {
run_figures xoshiro_ziggurat_selection(const reading_problem& p, std::size_t trials, double probability, unsigned long seed);
run_figures mt19937_normal_sort(const reading_problem& p, std::size_t trials, double probability, unsigned long seed);
}  // namespace plain
namespace native {
run_figures xoshiro_ziggurat_selection(const reading_problem& p, std::size_t trials, double probability, unsigned long seed);
run_figures mt19937_normal_sort(const reading_problem& p, std::size_t trials, double probability, unsigned long seed);
}  // namespace native

}  // namespace plumbline::benchmarks
