// What a user of the library writes.

#include "first_order_subjects.hpp"

#include <tuple>

namespace plumbline::benchmarks::SUBJECT_BUILD {

namespace {

/// A type of this file's own: the linker must not take the code of another build for it.
struct own_model : reading_model {};

}  // namespace

void by_duals(const reading_inputs& inputs, first_order_figures& found) {
    const auto y = std::apply([](const auto&... each) { return uncertainty::first_order(own_model{}, each...); }, inputs);
    found = {y.value.value(), y.u.value(), y.degrees_of_freedom, y.sensitivities};
}

}  // namespace plumbline::benchmarks::SUBJECT_BUILD
