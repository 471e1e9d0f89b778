// What a user would write instead: thirteen derivatives worked out on paper.

#include "first_order_subjects.hpp"

#include <cmath>

namespace plumbline::benchmarks::SUBJECT_BUILD {

void by_hand(const bare_inputs& inputs, first_order_figures& found) {
    const auto& e = inputs.estimate;
    const double zero = e[0] + e[1];
    const double one_over_span = 1.0 / ((e[2] + e[3]) - zero);
    const double r = ((e[4] + e[5]) - zero) * one_over_span;
    const double v0 = r * e[6];
    const double linearity = 1.0 + e[7];
    const double warm = 1.0 + e[8] * e[9];
    const double drift = 1.0 + e[10];
    const double one_over_loop = 1.0 / (e[11] + e[12]);
    const double q = e[11] * one_over_loop;
    const double by_v0 = linearity * warm * drift + q;
    const double gain = by_v0 * e[6] * one_over_span;
    auto& c = found.sensitivities;
    c[0] = c[1] = -(1.0 - r) * gain;
    c[2] = c[3] = -r * gain;
    c[4] = c[5] = gain;
    c[6] = r * by_v0;
    c[7] = v0 * warm * drift;
    c[8] = v0 * linearity * drift * e[9];
    c[9] = v0 * linearity * drift * e[8];
    c[10] = v0 * linearity * warm;
    c[11] = v0 * (1.0 - q) * one_over_loop;
    c[12] = -v0 * q * one_over_loop;
    double variance = 0.0;
    double satterthwaite = 0.0;
    for (std::size_t i = 0; i < c.size(); ++i) {
        const double contribution = c[i] * inputs.u[i];
        const double squared = contribution * contribution;
        variance += squared;
        satterthwaite += squared * squared / inputs.degrees_of_freedom[i];
    }
    found.value = v0 * by_v0;
    found.u = std::sqrt(variance);
    found.degrees_of_freedom = variance * variance / satterthwaite;
}

}  // namespace plumbline::benchmarks::SUBJECT_BUILD
