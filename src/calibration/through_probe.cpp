#include "through_probe.hpp"

#include <fmt/format.h>

#include <cmath>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::calibration {

namespace {

void expect_probe(const range_calibration& of, const front_end::probe& p) {
    const auto expect = [&](bool good, const std::string& found, const char* expected) {
        if (good) return;
        throw bad_input("probe at channel " + of.channel + ", range " + of.range, found, expected,
                        "correct the description of the probe");
    };
    if (p.calibrated_together) return;
    if (p.factor) {
        const double factor = p.factor->value.value();
        const double u = p.factor->u.value();
        expect(factor > 1.0 && std::isfinite(factor), fmt::format("a factor of {}", factor), "a finite one of more than 1");
        expect(u >= 0.0 && std::isfinite(u), fmt::format("a factor known to {}", u), "a finite u of 0 or more");
        return;
    }
    expect(p.series.value() > 0.0 && std::isfinite(p.series.value()), fmt::format("a resistance of {} ohm", p.series.value()),
           "a finite one of more than 0 ohm");
    expect(p.tolerance.value() >= 0.0 && p.tolerance.value() < 1.0, fmt::format("a tolerance of {}", p.tolerance.value()),
           "a fraction from 0 to less than 1");
}

}  // namespace

uncertainty::uncertain<voltage> through_probe(const uncertainty::input_set& inputs, const range_calibration& of,
                                              const uncertainty::uncertain<voltage>& at_connector, const front_end::probe& probe,
                                              const reading_conditions& when) {
    expect_probe(of, probe);
    return models::reading_at_tip(uncertainty::with_sensitivities{inputs}, of, at_connector, probe, when);
}

uncertainty::uncertain<voltage> difference_through_probe(const uncertainty::input_set& inputs, const range_calibration& of,
                                                         const uncertainty::uncertain<voltage>& at_connector,
                                                         const front_end::probe& probe, const reading_conditions& when) {
    expect_probe(of, probe);
    return models::difference_at_tip(uncertainty::with_sensitivities{inputs}, of, at_connector, probe, when);
}

}  // namespace plumbline::inline v0::calibration
