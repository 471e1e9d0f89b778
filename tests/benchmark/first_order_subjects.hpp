#pragma once
// First order of the reference problem: by dual quantities and with derivatives by hand, in several builds.

#include "reference_problem.hpp"

#include <array>

namespace plumbline::benchmarks {

/// What both state.
struct first_order_figures {
    double value, u, degrees_of_freedom;
    std::array<double, 13> sensitivities;
};

/// The inputs as somebody who works by hand has them.
struct bare_inputs {
    std::array<double, 13> estimate, u, degrees_of_freedom;
};

namespace optimised_2 {
void by_duals(const reading_inputs& inputs, first_order_figures& found);
}
namespace optimised_3 {
void by_duals(const reading_inputs& inputs, first_order_figures& found);
}
namespace plain_2 {
void by_hand(const bare_inputs& inputs, first_order_figures& found);
}
namespace plain_3 {
void by_hand(const bare_inputs& inputs, first_order_figures& found);
}
namespace native_2 {
void by_hand(const bare_inputs& inputs, first_order_figures& found);
}
namespace native_3 {
void by_hand(const bare_inputs& inputs, first_order_figures& found);
}

}  // namespace plumbline::benchmarks
