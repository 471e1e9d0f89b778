#include "bench.hpp"

#include <doctest/doctest.h>
#include <cmath>
#include <limits>
#include <plumbline/error.hpp>
#include <plumbline/front_end/node.hpp>
#include <string>

namespace solve_test {

using namespace plumbline;
using namespace plumbline::calibration;
using plumbline::uncertainty::input_set;

namespace {

struct refusal {
    std::string text = "no exception";
    int number = 0;
};

refusal refused(const step& zero, const step& reference, const range_setup& setup = bench::ten_volts(),
                const std::vector<calibration::reference>& references = bench::references()) {
    input_set inputs;
    refusal r;
    try {
        (void)solve(setup, {zero, reference, {}}, references, inputs);
    } catch (const bad_step& e) {
        r = {e.what(), static_cast<int>(e.why())};
    } catch (const bad_input& e) {
        r = {e.what(), 0};
    }
    CHECK(inputs.all().empty());  // nothing half-solved
    return r;
}

step zero_at(double mean, double s = 0.8) { return bench::stepped("short", bench::seen(mean, s)); }
step five_at(double mean, double s = 0.8) { return bench::stepped("five", bench::seen(mean, s)); }

}  // namespace

TEST_CASE("a zero step on the bottom code is refused with the way out") {
    step clipped = zero_at(0.0);
    clipped.seen.at_bottom = 12000;
    clipped.seen.n = 12000;
    const refusal r = refused(clipped, five_at(2800.0));
    CHECK(r.number == 101);
    CHECK(
        r.text ==
        "zero step, channel A, range 8 V: 12000 of 12000 samples on code 0, expected at most 1 in 1000 on an end code; the true "
        "zero lies below it: calibrate at two voltages above zero instead");
}

TEST_CASE("a reference step on the top code is refused with the way out") {
    step clipped = five_at(4095.0);
    clipped.seen.at_top = 2;
    const refusal r = refused(zero_at(1400.0), clipped);
    CHECK(r.number == 101);
    CHECK(r.text ==
          "reference step, channel A, range 8 V: 2 of 1000 samples on code 4095, expected at most 1 in 1000 on an end code; "
          "apply a "
          "lower reference voltage, or choose a higher range");
    clipped.seen.at_top = 1;  // one in a thousand is let through
    CHECK(refused(zero_at(1400.0), clipped).number == 106);
}

TEST_CASE("identical steps are refused") {
    const refusal r = refused(zero_at(1400.25), five_at(1400.25));
    CHECK(r.number == 102);
    CHECK(r.text ==
          "zero and reference step, channel A, range 8 V: mean code 1400.25 at 0 V and 1400.25 at 5 V, expected two voltages on "
          "two "
          "codes; check that the reference was connected during its step and the input shorted during the other");
}

TEST_CASE("swapped steps are refused") {
    const refusal r = refused(zero_at(bench::code_of(5.0)), five_at(bench::code_of(0.0)));
    CHECK(r.number == 104);
    CHECK(r.text ==
          "zero and reference step, channel A, range 8 V: mean code 2113.31 at 0 V and 1622.38 at 5 V, expected codes that rise "
          "with "
          "the voltage; the captures are swapped: each has the code of the other's voltage");
}

TEST_CASE("too small a span is refused") {
    auto references = bench::references();
    references[1].output->value = 0.5 * volt;
    const refusal r = refused(zero_at(bench::code_of(0.0)), five_at(bench::code_of(0.5)), bench::ten_volts(), references);
    CHECK(r.number == 105);
    CHECK(r.text ==
          "zero and reference step, channel A, range 8 V: a span of 49.1 codes between the steps, expected at least 205, a "
          "twentieth "
          "of the converter's; apply a larger reference voltage (the range reaches 8 V)");
}

TEST_CASE("a gain far from nominal is refused, ten times or a thousand") {
    auto references = bench::references();
    references[1].output->value = 5000.0 * volt;  // millivolts entered as volts
    const refusal r = refused(zero_at(bench::code_of(0.0)), five_at(bench::code_of(5.0)), bench::ten_volts(), references);
    CHECK(r.number == 106);
    CHECK(r.text ==
          "reference step, channel A, range 8 V: a gain of 10.1847 V/code, +99700.4 % off nominal, expected 0.0102051 V/code "
          "within "
          "8.4 % by resistors and converter; millivolts entered as volts give 1000 times nominal: state the applied voltage in "
          "volts");
}

TEST_CASE("steps without numbers are refused") {
    CHECK(refused(zero_at(std::nan("")), five_at(2800.0)).text ==
          "zero step, channel A, range 8 V: a mean code of nan with a scatter of 0.8, expected finite figures; look at the "
          "capture");
    step single = five_at(2800.0);
    single.seen.n = 1;
    CHECK(refused(zero_at(1400.0), single).text ==
          "reference step, channel A, range 8 V: 1 sample, expected at least 2; capture more: one sample shows no scatter");
    auto references = bench::references();
    references[1].output->value = std::numeric_limits<double>::infinity() * volt;
    CHECK(refused(zero_at(1400.0), five_at(2800.0), bench::ten_volts(), references).text ==
          "reference step, channel A, range 8 V: an applied voltage of inf V, expected a finite voltage; correct the session");
}

TEST_CASE("an applied voltage that nobody states is refused") {
    CHECK(refused(zero_at(1400.0), bench::stepped("meter", bench::seen(2800.0))).text ==
          "applied voltage, A/8 V: reference \"meter\" without a voltage, expected a value with U and k or limits, a part, a "
          "divider, or a meter with "
          "its reading; "
          "state the "
          "voltage at the step or with the reference");
    CHECK(refused(zero_at(1400.0), bench::stepped("six", bench::seen(2800.0))).text ==
          "reference step, channel A, range 8 V: reference \"six\", which is not described, expected one of the references; "
          "describe it, or "
          "correct its id");
}

TEST_CASE("one reference cannot be stated with U here and with limits there") {
    step zero = zero_at(1400.0);
    zero.source = {"five", stated_voltage{0.0 * volt, expanded{1e-3 * volt, 2.0}}};
    CHECK(refused(zero, five_at(2800.0)).text ==
          "reference step, channel A, range 8 V: reference \"five\" stated with U and k in one place and with limits in another, "
          "expected one "
          "form for all uses, since its error is one; state all its voltages in the same form");
}

TEST_CASE("a capture on one code keeps half a code and says so") {
    input_set inputs;
    step zero = zero_at(1622.0, 0.0);
    zero.seen.min = zero.seen.max = 1622;
    const range_calibration c = solve(bench::ten_volts(), {zero, five_at(bench::code_of(5.0)), {}}, bench::references(), inputs);
    CHECK(std::get<uncertainty::rectangular>(inputs.at("A/8 V/zero/quantisation")->spread).half_width == 0.5);
    REQUIRE(c.findings.size() == 2);
    CHECK(c.findings[0].number == 201);
    CHECK(c.findings[1].number == 210);  // the bench has no negative step
    CHECK(c.findings[0].text ==
          "all 1000 samples on code 1622: quantisation hides the noise and half a code either way is kept as "
          "uncertainty; a little noise and averaging would lower it");
    CHECK(c.result.u_offset.value() > 0.0);
}

TEST_CASE("a check with an independent reference is judged with its own uncertainty") {
    input_set inputs;
    const auto references = bench::references();
    const range_calibration c =
        solve(bench::ten_volts(), {zero_at(bench::code_of(0.0)), five_at(bench::code_of(5.0)), {}}, references, inputs);
    const check_point good =
        check(c, "-4 V", false, bench::metered(-4.0, bench::seen(bench::code_of(-4.01))), references, inputs);
    CHECK(std::abs(good.applied_value.value() + 4.0) <= 1e-12);
    CHECK(std::abs(good.error.value() + 0.01) <= 1e-9);
    CHECK(std::abs(good.permissible.value() - 0.04) <= 1e-12);
    CHECK(good.verdict == conformity::verdict::pass);
    CHECK(good.tests_reference);
    CHECK(good.U.value() > 0.0);
    const check_point bad =
        check(c, "-4 V again", false, bench::metered(-4.0, bench::seen(bench::code_of(-4.05))), references, inputs);
    CHECK_FALSE(bad.verdict == conformity::verdict::pass);
}

TEST_CASE("a check with the reference that calibrated shows next to no error and does not test it") {
    input_set inputs;
    const auto references = bench::references();
    const range_calibration c =
        solve(bench::ten_volts(), {zero_at(bench::code_of(0.0)), five_at(bench::code_of(5.0)), {}}, references, inputs);
    const check_point same = check(c, "5 V again", false, five_at(bench::code_of(5.0)), references, inputs);
    CHECK_FALSE(same.tests_reference);
    // the reference's own error drops out of indication minus applied
    input_set other = inputs;
    const check_point metered =
        check(c, "5 V metered", false, bench::metered(5.0, bench::seen(bench::code_of(5.0))), references, other);
    CHECK(same.U.value() < metered.U.value());
    CHECK_FALSE(check(c, "1 V divided", false, bench::stepped("one", bench::seen(bench::code_of(1.0))), references, inputs)
                    .tests_reference);
}

TEST_CASE("a divider as reference is loaded by the input that it feeds") {
    // closed form of the node between divider and input, written out: Vth and Rs of the divider, open voltage and Rin of the input
    const double v_th = 5.0 * 1e3 / (4e3 + 1e3);
    const double r_s = 4e3 * 1e3 / (4e3 + 1e3);
    const double shunt = 1.0 / 150e3 + 1.0 / 200e3;
    const double r_in = 1e6 + 1.0 / shunt;
    const double v_open = 3.3 / 200e3 / shunt;
    const double expected = v_th + (v_open - v_th) * r_s / (r_s + r_in);
    input_set inputs;
    const auto references = bench::references();
    const range_calibration c =
        solve(bench::ten_volts(), {zero_at(bench::code_of(0.0)), five_at(bench::code_of(5.0)), {}}, references, inputs);
    const check_point point = check(c, "1 V", false, bench::stepped("one", bench::seen(bench::code_of(1.0))), references, inputs);
    CHECK(std::abs(point.applied_value.value() - expected) <= 1e-12);
    CHECK(std::abs(expected - 1.0) > 2e-4);  // the load shows
}

TEST_CASE("the nominal gain and open voltage are those of the node equation") {
    const front_end::chain c = bench::ten_volts().chain;
    const double conductance = 1.0 / 1e6 + 1.0 / 150e3 + 1.0 / 200e3;
    CHECK(std::abs(front_end::nominal_gain(c).value() - 1e6 * conductance * 3.3 / 4096.0) <= 1e-15);
    CHECK(std::abs(front_end::nominal_offset(c).value() + 1e6 / 200e3 * 3.3) <= 1e-12);
    CHECK(std::abs(front_end::nominal_input_resistance(c).value() - (1e6 + 1.0 / (1.0 / 150e3 + 1.0 / 200e3))) <= 1e-6);
}

TEST_CASE("a check at another coverage probability has another k") {
    input_set inputs;
    const auto references = bench::references();
    const range_calibration c =
        solve(bench::ten_volts(), {zero_at(bench::code_of(0.0)), five_at(bench::code_of(5.0)), {}}, references, inputs);
    const step observed = bench::metered(-4.0, bench::seen(bench::code_of(-4.01)));
    const check_point two_sigma = check(c, "-4 V", false, observed, references, inputs);
    const check_point higher = check(c, "-4 V", false, observed, references, inputs, 0.99);
    CHECK(higher.k > 1.15 * two_sigma.k);
    CHECK(std::abs(higher.U.value() / higher.k - two_sigma.U.value() / two_sigma.k) <= 1e-15);
}

}  // namespace solve_test
