#include <plumbline/calibration/comparison.hpp>

#include "models.hpp"
#include "range_inputs.hpp"

namespace plumbline::inline v0::calibration {

comparison compare(const std::string& name, const applied& first, const applied& second, const std::vector<reference>& references,
                   celsius ambient, kelvins temperature_half_width, uncertainty::input_set& inputs, double probability) {
    const std::string where = "comparison " + name;
    uncertainty::input_set next = inputs;
    const auto prepared = [&](const applied& a, const char* which) -> moment {
        if (a.source || models::find(references, a.reference, where).divider) {
            throw bad_input(where, std::string("a divider or a source resistance in the ") + which,
                            "voltages that do not depend on what they feed",
                            "measure at the terminals, and state the reading or the value");
        }
        moment at{"comparison/" + name + '/' + which, std::string(which) + " of comparison " + name, where, ambient,
                  temperature_half_width};
        add_applied_voltage(next, a, references, at);
        return at;
    };
    const moment at_first = prepared(first, "first");
    const moment at_second = prepared(second, "second");
    const uncertainty::with_sensitivities e{next};
    const front_end::chain fed_by_none;
    const auto difference =
        e.apply(models::difference{}, models::applied_voltage(e, where, fed_by_none, references, second, at_second),
                models::applied_voltage(e, where, fed_by_none, references, first, at_first));
    const uncertainty::budget b = make_convolved_budget(difference, probability);
    if (!(b.U > 0.0)) {
        throw bad_input(where, "two voltages with one and the same error", "two references that can disagree",
                        "compare it with another reference");
    }
    inputs = std::move(next);
    return {name, first, second, difference.value, voltage::from_value(b.U), b.covered.k, std::abs(b.value) / b.U};
}

}  // namespace plumbline::inline v0::calibration
