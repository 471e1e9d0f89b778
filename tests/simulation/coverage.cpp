#include <algorithm>
#include <cmath>
#include <cstdint>
#include <exception>
#include <iterator>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/calibration/repetitions.hpp>
#include <plumbline/calibration/solve.hpp>
#include <plumbline/calibration/surroundings.hpp>
#include <plumbline/calibration/through_probe.hpp>
#include <plumbline/calibration/two_temperatures.hpp>
#include <plumbline/calibration/validation.hpp>
#include <plumbline/capture/statistics.hpp>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <simulation/coverage.hpp>
#include <stdexcept>
#include <thread>

namespace plumbline::simulation {

namespace {

// --- what the library is told: the data sheets, as plain data -----------------------------------------------------------------------------

front_end::resistor told(const part& p) {
    return {p.nominal * ohm, p.tolerance * one, p.temperature_coefficient * (one / kelvin)};
}

front_end::amplifier_stage told(const amplifier_sheet& a) {
    front_end::amplifier_stage stage;
    if (a.feedback) stage.gain = front_end::gain_resistors{told(*a.feedback), told(*a.ground)};
    stage.offset_limit = a.offset_limit * volt;
    stage.offset_drift = a.offset_drift * (volt / kelvin);
    stage.bias_current = a.current_limit * ampere;
    stage.bias_current_drift = a.current_drift * (ampere / kelvin);
    stage.open_loop_gain = a.least_gain;
    return stage;
}

front_end::chain told(const kind& k) {
    front_end::chain chain;
    chain.input.top = told(k.network.top);
    if (k.network.bottom) chain.input.bottom = told(*k.network.bottom);
    if (k.network.bias) {
        front_end::bias_branch bias;
        bias.branch = told(*k.network.bias);
        bias.from_converter_reference = !k.network.bias_supply;
        const part& supply = k.network.bias_supply ? *k.network.bias_supply : k.converter.reference;
        bias.supply = supply.nominal * volt;
        if (k.network.bias_supply) {
            bias.supply_tolerance = supply.tolerance * one;
            bias.supply_temperature_coefficient = supply.temperature_coefficient * (one / kelvin);
        }
        chain.input.bias = bias;
    }
    chain.adc.bits = k.converter.bits;
    chain.adc.reference = k.converter.reference.nominal * volt;
    chain.adc.reference_tolerance = k.converter.reference.tolerance * one;
    chain.adc.reference_temperature_coefficient = k.converter.reference.temperature_coefficient * (one / kelvin);
    chain.adc.offset_limit = k.converter.offset_limit * code;
    chain.adc.gain_error_limit = k.converter.gain_error_limit * one;
    chain.adc.integral_nonlinearity = k.converter.inl_limit * code;
    chain.adc.noise = k.converter.noise * code;
    if (k.converter.bow_limit > 0.0) {
        chain.adc.shape = front_end::converter::inl_shape::smooth;
        chain.adc.integral_nonlinearity = k.converter.bow_limit * code;
    }
    if (k.amplifier) chain.amplifier = told(*k.amplifier);
    if (k.converter.supply_limit > 0.0) chain.adc.reference_by_supply = k.converter.supply_limit * one;
    if (k.converter.sampling_limit > 0.0) {
        // Fed from a capacitor at the pin, as the simulated one takes its charge: on average.
        chain.pin = front_end::pin_details{
            k.converter.sampling_limit * farad, {}, 1e-6 * second, 100e-9 * farad, k.converter.leakage_limit * ampere};
    }
    chain.low = k.low * volt;
    chain.high = k.high * volt;
    return chain;
}

calibration::reference told(const statement& s, const std::string& id) {
    calibration::reference r;
    r.id = id;
    r.description = id;
    if (s.normal) {
        r.output = calibration::stated_voltage{s.value * volt, calibration::expanded{s.spread * volt, 2.0}};
    } else {
        r.output = calibration::stated_voltage{s.value * volt, calibration::limits{s.spread * volt, s.said_to_stand}};
    }
    return r;
}

// --- what happens ---------------------------------------------------------------------------------------------------------------------

double actual(const statement& s, generator& random) {
    if (s.lies == statement::truth::well_within) return s.value + s.spread / 2.5758 * random.normal();
    if (s.lies == statement::truth::at_the_limit) return s.value + (random.uniform() < 0.5 ? -s.spread : s.spread);
    return s.value + (s.normal ? 0.5 * s.spread * random.normal() : random.within(s.spread));
}

struct outcome {
    double error = 0.0;  ///< V, reading minus truth
    double U = 0.0;      ///< V
    bool refused = false;
    double low = 0.0;   ///< V, ends of the interval from trials, less the truth
    double high = 0.0;  ///< V
};

class laboratory {
public:
    /// @param trials  of each calibration, besides the convolution; 0: none
    laboratory(const kind& k, std::uint64_t trials)
        : kind_(k), trials_(trials), references_{told(k.zero, "zero"), told(k.reference, "reference")} {
        if (k.negative) references_.push_back(told(*k.negative, "negative"));
        setup_.channel = "A";
        setup_.range = "simulated";
        setup_.mode.sample_rate = 10e3 * hertz;
        setup_.chain = told(k);
        setup_.temperature_half_width = k.calibration_half_width * kelvin;
        setup_.limit = {1.0 * volt, 0.0 * one};
        setup_.ambient.degrees = k.calibration_temperature;
        if (k.longest_time) setup_.longest_time = *k.longest_time * second;
        if (k.largest_hum) setup_.largest_hum = *k.largest_hum * volt;
        if (k.slow > 0.0) {
            setup_.slow.emplace().amplitude = k.slow * volt;
            if (k.slow_at > 0.0) setup_.slow->at = k.slow_at * hertz;
        }
    }

    /// A new instrument is made, calibrated and read once at each point.
    void one_instrument(std::uint64_t seed, outcome* to) const {
        generator random(seed);
        instrument unit{draw(kind_.network, random), draw(kind_.converter, random)};
        if (kind_.amplifier) unit.amplifier = draw(*kind_.amplifier, random);
        std::optional<instrument> other;
        if (kind_.other) {
            other = instrument{draw(kind_.network, random), unit.converter};
            unit.memory = kind_.other->memory * random.uniform();
            unit.pin_before = other->nodes({0.0, 0.0}, kind_.calibration_temperature).pin;
        }
        std::optional<calibrated_once> before;
        applied_voltages stand;
        if (kind_.earlier || kind_.turns) {
            stand.zero = actual(kind_.zero, random);
            stand.reference = actual(kind_.reference, random);
            if (kind_.negative) stand.negative = actual(*kind_.negative, random);
        }
        if (kind_.earlier) before = calibrated(unit, *kind_.earlier, stand, random);
        std::optional<calibrated_once> solved = calibrated(unit, kind_.calibration_temperature, stand, random);
        if (!solved || (kind_.earlier && !before)) {
            for (std::size_t i = 0; i < kind_.readings.size(); ++i) *to++ = {0.0, 0.0, true};
            return;
        }
        uncertainty::input_set& inputs = solved->inputs;
        if (before) {
            solved->of.temperatures =
                calibration::seen_by({before->of, before->inputs, references_}, {solved->of, inputs, references_},
                                     uncertainty::default_coverage_probability);
        }
        if (other) add_crosstalk(unit, *other, *solved, random);
        const calibration::range_calibration& result = solved->of;

        calibration::reading_conditions when;
        when.samples = 1.0;
        when.temperature_difference = kind_.temperature_difference * kelvin;
        when.temperature_half_width = kind_.temperature_half_width * kelvin;
        if (kind_.reading_rate > 0.0) when.sample_rate = kind_.reading_rate * hertz;
        instrument read_by = unit;
        if (kind_.reading_rate > 0.0) read_by.converter.besides.sample_rate = kind_.reading_rate;
        if (kind_.converter.supply_limit > 0.0)
            read_by.converter.reference.value *= 1.0 + random.within(kind_.converter.supply_limit);
        const double probe = kind_.probe ? draw(*kind_.probe, random).value : 0.0;
        std::vector<taken> readings;
        for (const reading_point& point : kind_.readings) {
            const double truth = point.volts + random.within(point.jitter);
            const double temperature =
                kind_.calibration_temperature + kind_.temperature_difference + random.within(kind_.temperature_half_width);
            if (other) read_by.pin_before = other->nodes({anywhere(random), 0.0}, temperature).pin;
            const auto sample = [&](double volts) {
                return static_cast<double>(read_by.capture({volts, probe}, 1, temperature, random).front()) * code;
            };
            const codes first = sample(truth);
            if (point.apart == 0.0) {
                readings.push_back({truth, calibration::read_mean{first}});
            } else {
                readings.push_back({point.apart, calibration::read_difference{first, sample(truth + point.apart)}});
            }
        }
        evaluate(readings, inputs, result, when, to);
        if (trials_ > 0) evaluate_by_trials(readings, inputs, result, when, seed, to);
    }

private:
    /// What was read, and what is true of it.
    struct taken {
        double truth = 0.0;
        calibration::kind_of_reading what;
    };

    void evaluate(const std::vector<taken>& readings, const uncertainty::input_set& inputs,
                  const calibration::range_calibration& of, const calibration::reading_conditions& when, outcome* to) const {
        for (const taken& each : readings) {
            const auto* two = std::get_if<calibration::read_difference>(&each.what);
            const auto read = two == nullptr ? one_reading(inputs, of, std::get<calibration::read_mean>(each.what).c, when)
                                             : calibration::difference(inputs, references_, of, two->first, two->second, when);
            const double U = uncertainty::make_convolved_budget(read, uncertainty::default_coverage_probability,
                                                                calibration::correlations_of(of))
                                 .U;
            *to++ = {read.value.value() - each.truth, U, false};
        }
    }

    /// All readings of an instrument by one run.
    void evaluate_by_trials(const std::vector<taken>& readings, const uncertainty::input_set& inputs,
                            const calibration::range_calibration& of, const calibration::reading_conditions& when,
                            std::uint64_t seed, outcome* to) const {
        std::vector<calibration::kind_of_reading> what;
        for (const taken& each : readings) what.push_back(each.what);
        const calibration::budget_of_reading budget = calibration::read_at_calibration{when, told_probe()};
        calibration::validation_settings run;
        run.trials = trials_;
        run.seed = seed;
        run.correlations = calibration::correlations_of(of);
        const auto found = calibration::validate_readings(of, references_, inputs, what, budget, run);
        for (std::size_t i = 0; i < readings.size(); ++i) {
            to[i].low = found[i].by_trials.low.value() - readings[i].truth;
            to[i].high = found[i].by_trials.high.value() - readings[i].truth;
        }
    }

    /// What the library is told of the probe ahead of the input.
    [[nodiscard]] std::optional<front_end::probe> told_probe() const {
        if (!kind_.probe) return std::nullopt;
        front_end::probe p;
        p.name = "probe";
        p.series = kind_.probe->nominal * ohm;
        p.tolerance = kind_.probe->tolerance * one;
        return p;
    }

    /// A reading as the person takes it: through a probe, where there is one.
    [[nodiscard]] uncertainty::uncertain<voltage> one_reading(const uncertainty::input_set& inputs,
                                                              const calibration::range_calibration& of, codes c,
                                                              const calibration::reading_conditions& when) const {
        if (kind_.converter.supply_limit > 0.0) {  // the chain states it: conditions of use that add nothing
            calibration::use_conditions use;
            use.temperature_half_width = when.temperature_half_width;
            return calibration::reading_in_use(inputs, references_, of, c, when.samples, use, when.temperature_difference);
        }
        const auto seen = calibration::reading(inputs, references_, of, c, when);
        return kind_.probe ? calibration::through_probe(inputs, of, seen, *told_probe(), when) : seen;
    }

    struct calibrated_once {
        uncertainty::input_set inputs;
        calibration::range_calibration of;
    };

    /// Where one set of references serves several captures; else each capture draws its own.
    struct applied_voltages {
        std::optional<double> zero;
        std::optional<double> reference;
        std::optional<double> negative;
    };

    /// Nothing where the library refuses.
    [[nodiscard]] std::optional<calibrated_once> calibrated(const instrument& unit, double at, const applied_voltages& stand,
                                                            generator& random) const {
        calibration::steps steps;
        if (kind_.turns) {
            const turned& turns = *kind_.turns;
            const double drift = random.within(turns.drift);
            for (std::size_t i = 0; i < turns.captures; ++i) {
                const bool of_reference = i % 2 == 1;
                instrument now = unit;  // as it is read: in the middle of the series
                now.converter.offset += drift * (static_cast<double>(i) - 0.5 * static_cast<double>(turns.captures - 1));
                const double volts = *(of_reference ? stand.reference : stand.zero) + turns.reconnection * random.normal();
                const calibration::step one = of_reference ? step_of(now, kind_.reference, "reference", at, volts, random)
                                                           : step_of(now, kind_.zero, "zero", at, volts, random);
                if (i == 0) steps.zero = one;
                if (i == 1) steps.reference = one;
                steps.turns.push_back({static_cast<double>(i) * turns.interval * second, one.evidence, one.seen});
            }
        } else {
            steps.zero = step_of(unit, kind_.zero, "zero", at, stand.zero, random);
            steps.reference = step_of(unit, kind_.reference, "reference", at, stand.reference, random);
        }
        if (kind_.negative) steps.negative = step_of(unit, *kind_.negative, "negative", at, stand.negative, random);
        calibration::range_setup setup = setup_;
        setup.ambient.degrees = at;
        calibrated_once once;
        try {
            once.of = calibration::solve(setup, steps, references_, once.inputs);
        } catch (const bad_step&) {
            return std::nullopt;
        }
        return once;
    }

    /// Anywhere in the range: what another channel holds.
    double anywhere(generator& random) const { return kind_.low + (kind_.high - kind_.low) * random.uniform(); }

    /// This channel at the voltage of its zero step, the other at one end and at the other.
    void add_crosstalk(instrument unit, const instrument& other, calibrated_once& to, generator& random) const {
        calibration::seen_crosstalk seen;
        seen.channel = "B";
        seen.range = "simulated";
        seen.low = kind_.other->low * volt;
        seen.high = kind_.other->high * volt;
        const double held = actual(kind_.zero, random);
        const auto at = [&](double volts) {
            unit.pin_before = other.nodes({volts, 0.0}, kind_.calibration_temperature).pin;
            return step_of(unit, kind_.zero, "crosstalk", kind_.calibration_temperature, held, random).seen;
        };
        seen.low_seen = at(kind_.other->low);
        seen.high_seen = at(kind_.other->high);
        calibration::add_crosstalk(to.of, std::move(seen), setup_.chain, to.inputs);
    }

    /// @param volts  at the connector, where they are those of another capture too
    calibration::step step_of(const instrument& unit, const statement& applied, const std::string& id, double at,
                              const std::optional<double>& volts, generator& random) const {
        const double temperature = at + random.within(kind_.calibration_half_width);
        capture::run run;
        run.codes = unit.capture({volts ? *volts : actual(applied, random), 0.0}, kind_.samples, temperature, random);
        run.sample_rate = setup_.mode.sample_rate;
        calibration::step step;
        step.source.reference = id;
        step.evidence.file = id + ".csv";
        step.evidence.sample_rate = setup_.mode.sample_rate;
        step.seen = capture::summarise(run, setup_.chain.adc.bottom_code(), setup_.chain.adc.top_code());
        return step;
    }

    const kind& kind_;
    std::uint64_t trials_;
    std::vector<calibration::reference> references_;
    calibration::range_setup setup_;
};

/// A seed that depends on the kind's name, so that adding a kind leaves the others as they are. FNV-1a, 64 bits.
std::uint64_t seed_of(const std::string& name) {
    std::uint64_t hash = 0xcbf29ce484222325U;
    for (char c : name) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3U;
    return hash;
}

cell summed_up(const kind& what, std::size_t reading, const std::vector<outcome>& all) {
    const std::size_t stride = what.readings.size();
    cell c;
    c.kind = what.name;
    c.reading = what.readings[reading].name;
    std::vector<double> errors;
    for (std::size_t i = reading; i < all.size(); i += stride) {
        if (all[i].refused) {
            ++c.refused;
            continue;
        }
        errors.push_back(std::abs(all[i].error));
        if (errors.back() <= all[i].U) ++c.covered;
        c.mean_U += all[i].U;
        if (all[i].low <= 0.0 && all[i].high >= 0.0) ++c.covered_by_trials;
        c.mean_U_by_trials += 0.5 * (all[i].high - all[i].low);
    }
    c.instruments = errors.size();
    if (errors.empty()) return c;
    c.mean_U /= static_cast<double>(c.instruments);
    c.mean_U_by_trials /= static_cast<double>(c.instruments);
    std::sort(errors.begin(), errors.end());
    constexpr double p = uncertainty::default_coverage_probability;
    const double rank = p * static_cast<double>(c.instruments - 1);
    const auto below = static_cast<std::size_t>(rank);
    const double part = rank - static_cast<double>(below);
    c.quantile = errors[below] + part * (errors[std::min(below + 1, c.instruments - 1)] - errors[below]);
    // The number of errors below the true quantile is binomial.
    const count_bounds bounds = binomial_bounds(c.instruments, p);
    c.quantile_low = errors[bounds.first == 0 ? 0 : bounds.first - 1];
    c.quantile_high = errors[std::min(bounds.second, c.instruments - 1)];
    return c;
}

// --- kinds ------------------------------------------------------------------------------------------------------------------------------

/// Each instrument's noise within a factor of two of the kind's, unless that draws it or breaks the rule at its own.
kind with_noise_drawn(kind k) {
    if (k.finding.empty() && k.converter.least_noise < 0.0) k.converter.noise_factor = 2.0;
    return k;
}

part resistor(double ohms, double per_kelvin_limit) { return {ohms, 0.01, per_kelvin_limit}; }

/// +-10 V onto 3.3 V, biased from the converter's reference.
kind bipolar(const std::string& name) {
    kind k;
    k.name = name + ", bipolar";
    k.network = {resistor(1e6, 50e-6), resistor(430e3, 50e-6), resistor(300e3, 50e-6), {}};
    k.converter = {12, {3.3, 0.005, 30e-6}, 4.0, 0.002, 0.5, 8, 0.7, false};
    k.low = -10.0;
    k.high = 10.0;
    k.zero = {0.0, 20e-6, false};
    k.reference = {4.096, 1e-3, true};
    k.readings = {{"zero", 0.0, 0.5},      {"inside", 2.0, 0.5},        {"at the reference", 4.096, 0.5}, {"beyond it", 8.0, 0.5},
                  {"negative", -3.0, 0.5}, {"far negative", -8.0, 0.5}, {"full scale", 9.4, 0.4}};
    return k;
}

/// 0 to 12 V onto 3.3 V. A shorted input could sit on code 0, so both points lie above it.
kind unipolar(const std::string& name) {
    kind k = bipolar("");
    k.name = name + ", unipolar";
    k.network = {resistor(330e3, 50e-6), resistor(100e3, 50e-6), {}, {}};
    k.low = 0.0;
    k.high = 12.0;
    k.zero = {1.0, 0.3e-3, false};
    k.readings = {{"below both", 0.5, 0.25},        {"at the lower", 1.0, 0.3}, {"inside", 2.5, 0.3},
                  {"at the reference", 4.096, 0.3}, {"beyond it", 8.0, 0.5},    {"far beyond", 11.0, 0.5}};
    return k;
}

/// Slopes that differ by up to 0.5 %, found by a third step. What spans the zero step uses both sides.
kind of_two_slopes(kind k) {
    k.converter.slope_limit = 0.005;
    k.negative = statement{-4.096, 1.5e-3, true};
    k.readings = {{"zero", 0.0, 0.5},
                  {"inside", 2.0, 0.5},
                  {"beyond it", 8.0, 0.5},
                  {"negative", -3.0, 0.5},
                  {"far negative", -8.0, 0.5},
                  {"1 V apart", 1.5, 0.4, 1.0},
                  {"1 V apart, -", -6.0, 0.4, 1.0},
                  {"across zero", -2.0, 0.5, 5.0}};
    return k;
}

kind in_the_heat(kind k) {
    k.converter.bits = 14;
    k.converter.inl_limit = 1.0;
    for (part* p : {&k.network.top, &*k.network.bottom}) p->temperature_coefficient = 100e-6;
    if (k.network.bias) k.network.bias->temperature_coefficient = 100e-6;
    k.temperature_difference = 15.0;  // 21 to 36 degrees
    k.temperature_half_width = 1.0;
    return k;
}

kind at_any_temperature(kind k) {
    k = in_the_heat(std::move(k));
    k.temperature_difference = 0.0;
    k.temperature_half_width = 10.0;
    return k;
}

kind swinging(kind k) {
    k = in_the_heat(std::move(k));
    k.converter.inl_limit = 0.2;
    k.calibration_half_width = 5.0;
    k.temperature_difference = 0.0;
    k.temperature_half_width = 5.0;
    return k;
}

kind with_own_supply(kind k) {
    k.network.bias_supply = part{5.0, 0.01, 100e-6};
    k.network.bias->nominal = 470e3;
    k.network.bottom->nominal = 330e3;
    std::erase_if(k.readings, [](const reading_point& r) { return r.name == "full scale"; });  // the converter ends at 9.7 V
    return k;
}

/// +-10 V onto 0.4 V to 1.66 V, and by 1.9 onto the converter: what drifts at the amplifier's input is sixteen times as much at the connector.
kind amplified(kind k) {
    k.network = {resistor(1e6, 50e-6), resistor(100e3, 50e-6), resistor(200e3, 50e-6), {}};
    k.amplifier = amplifier_sheet{resistor(9e3, 50e-6), resistor(10e3, 50e-6), 2e-3, 20e-6, 20e-9, 0.5e-9, 1e4};
    return in_the_heat(std::move(k));
}

kind without_noise(kind k) {
    k.converter.noise = 0.0;
    k.converter.inl_limit = 0.3;
    k.because = "codes that do not change do not show that there is no noise: what they could hide is counted";
    return k;
}

kind of_few_samples(kind k) {
    k.samples = 16;
    k.converter.noise = 1.0;
    return k;
}

kind meter_limited(kind k) {
    k.reference = {4.096, 20e-3, false};
    return k;
}

kind noise_limited(kind k) {
    k.converter.noise = 4.0;
    return k;
}

}  // namespace

std::vector<kind> kinds() {
    return {swinging(bipolar("steps and reading within 5 K")),
            swinging(unipolar("steps and reading within 5 K")),
            in_the_heat(bipolar("15 K warmer")),
            in_the_heat(with_own_supply(bipolar("15 K warmer, own supply"))),
            in_the_heat(unipolar("15 K warmer")),
            at_any_temperature(bipolar("within 10 K")),
            at_any_temperature(unipolar("within 10 K")),
            without_noise(bipolar("no noise")),
            without_noise(unipolar("no noise")),
            of_few_samples(bipolar("16 samples")),
            of_few_samples(unipolar("16 samples")),
            meter_limited(bipolar("meter-limited")),
            meter_limited(unipolar("meter-limited")),
            of_two_slopes(bipolar("two slopes, three steps")),
            of_two_slopes(meter_limited(bipolar("two slopes, meter-limited"))),
            noise_limited(bipolar("noise-limited")),
            noise_limited(unipolar("noise-limited"))};
}

std::vector<kind> smeared_kinds() {
    const auto smeared = [](kind k) {
        k.converter.noise_ahead = true;
        return k;
    };
    return {smeared(of_few_samples(bipolar("16 samples, smeared INL"))),
            smeared(of_few_samples(unipolar("16 samples, smeared INL"))),
            smeared(in_the_heat(unipolar("15 K warmer, smeared INL")))};
}

namespace {

/// What a calibration may have besides one capture for each step, and what its captures do not show.
template <class Add>
void add_further_evidence(const Add& add) {
    const auto turning = [](turned by, double noise) {
        return [=](kind& k) {
            k.turns = by;
            k.converter.noise = noise;
        };
    };
    // Expected before the first run: t of 2 degrees of freedom is wide for each series by as much as its scatter may come out too small.
    const char* few =
        "few turns: t is as wide as a scatter that may come out too small needs, wider than the errors are on average";
    add(unipolar("5 captures in turn"), turning({5, 60.0, 2.0, 1e-3}, 0.7), few);
    add(unipolar("9 captures in turn"), turning({9, 60.0, 2.0, 3e-3}, 0.2), few);
    add(bipolar("15 captures in turn"), turning({15, 60.0, 1.0, 10e-3}, 0.7));
    const auto beside = [](neighbour other) {
        return [=](kind& k) {
            k.other = other;
            k.converter.inl_limit = 0.2;
        };
    };
    add(bipolar("another channel"), beside({4e-3, -8.0, 8.0}));
    add(unipolar("another channel"), beside({4e-3, 0.0, 12.0}),
        "what the other channel holds lies to one side of 0 V, the row to both");
    const auto warmed = [](double difference, double half_width) {
        return [=](kind& k) {
            k = in_the_heat(std::move(k));
            k.earlier = k.calibration_temperature - 15.0;
            k.calibration_half_width = 0.5;
            k.temperature_difference = difference;
            k.temperature_half_width = half_width;
        };
    };
    add(bipolar("earlier, 15 K warmer"), warmed(15.0, 1.0));
    add(unipolar("earlier, 15 K warmer"), warmed(15.0, 1.0));
    add(bipolar("earlier, within 10 K"), warmed(0.0, 10.0));
    add(unipolar("earlier, 8 K colder"), warmed(-8.0, 1.0));
    constexpr double bipolar_volts_per_code = 5.365e-3;  // nominally
    const auto short_of_a_period = [](bool stated, std::size_t samples) {
        return [=](kind& k) {
            k.samples = samples;
            k.converter.besides.hum = 2.0;
            k.largest_hum.reset();
            if (stated) k.largest_hum = k.converter.besides.hum * bipolar_volts_per_code;
        };
    };
    const char* twice =
        "what half a period shows of hum counts as noise that hangs together, and hum besides with all of its size";
    add(bipolar("hum, 1/7 period, stated"), short_of_a_period(true, 30));
    add(bipolar("hum, 1/2 period, stated"), short_of_a_period(true, 100), "", twice);
    add(bipolar("hum, 1/2 period, unsaid"), short_of_a_period(false, 100), "", twice);
    add(
        bipolar("no hum, 16 samples"),
        [](kind& k) {
            k = of_few_samples(std::move(k));
            k.largest_hum.reset();
        },
        "a capture shorter than a period does not show that there is no hum: what its scatter could hide is counted",
        "twice as much as is needed: state largest_hum");
    const auto disturbed = [](double at, double stated_at) {
        return [=](kind& k) {
            k.samples = 1000;  // 0.1 s
            k.converter.besides.hum = 3.0;
            k.converter.besides.hum_frequency = at;
            k.slow = k.converter.besides.hum * bipolar_volts_per_code;
            k.slow_at = stated_at;
            k.long_run_only = true;
        };
    };
    add(bipolar("1.4 Hz, stated"), disturbed(1.4, 1.4));
    add(bipolar("0.01 Hz, size stated"), disturbed(0.01, 0.0));
    const auto line_at = [](double frequency, std::size_t samples) {
        return [=](kind& k) {
            k.converter.besides.hum = 3.0;
            k.converter.besides.hum_frequency = frequency;
            k.samples = samples;
        };
    };
    add(bipolar("inverter at 52.3 Hz"), line_at(52.3, 1050));
    add(bipolar("line at 380 Hz"), line_at(380.0, 1000),
        "a sine off the mains counts as noise that hangs together, and averages out faster than that");
    const auto flickering = [](double slowest) {
        return [=](kind& k) {
            k.converter.besides.slowest = slowest;
            k.converter.besides.flicker =
                0.53 * std::sqrt(std::floor(0.5 * std::log2(0.5 * slowest)) + 1.0);  // each of the same size
            k.samples = 4000;
            k.long_run_only = true;
        };
    };
    add(unipolar("1/f to half a day"), flickering(33554432.0));
    add(unipolar("1/f that ends"), flickering(32768.0),
        "how long noise goes on wandering is not seen in a capture: a day is counted, and this noise ends after 41 s",
        "up to 1.6 beyond the reference: state longest_time");
}

}  // namespace

std::vector<kind> wider_kinds() {
    std::vector<kind> all;
    const auto add = [&](kind k, auto&& change, const char* because = "", const char* finding = "") {
        change(k);
        k.because = because;
        k.finding = finding;
        if (*because != '\0') k.most_U = 1.4;
        all.push_back(with_noise_drawn(std::move(k)));
    };
    add(unipolar("8 bits"), [](kind& k) {
        k.converter.bits = 8;
        k.converter.inl_step = 1;
        k.converter.offset_limit = 0.5;
    });
    add(bipolar("10 bits"), [](kind& k) { k.converter.bits = 10; });
    add(bipolar("16 bits, 0.01 %"), [](kind& k) {
        k.converter.bits = 16;
        k.converter.noise = 2.5;
        k.converter.inl_limit = 4.0;
        k.converter.inl_step = 64;
        k.reference = {4.096, 0.41e-3, false};
    });
    add(unipolar("reference of 2 %"), [](kind& k) { k.reference = {4.096, 82e-3, false}; });
    const auto drawn = [](double least, double most) {
        return [=](kind& k) {
            k.converter.least_noise = least;
            k.converter.noise = most;
        };
    };
    add(bipolar("noise drawn, 0 to 0.5"), drawn(0.0, 0.5));
    add(bipolar("noise drawn, 0.5 to 2"), drawn(0.5, 2.0));
    add(unipolar("noise drawn, 2 to 5"), drawn(2.0, 5.0));
    const auto humming = [](std::size_t samples) {
        return [=](kind& k) {
            k.converter.besides.hum = 3.0;
            k.samples = samples;
        };
    };
    add(bipolar("hum, ten periods"), humming(2000));
    add(unipolar("hum, 2.3 periods"), humming(460));
    add(bipolar("AR(1) noise"), [](kind& k) {
        k.converter.noise = 2.0;
        k.converter.besides.noise_memory = 0.8;
        k.samples = 1000;
    });
    const auto flickering = [](kind& k) {
        k.converter.besides.flicker = 1.5;
        k.samples = 4000;
        // No slower than its slowest part: density 1/f down to half of that one's corner frequency, 1 / (2 pi memory), 41 s of it.
        constexpr double two_pi = 6.283185307179586;
        k.longest_time = 2.0 * two_pi * k.converter.besides.slowest / k.converter.besides.sample_rate;
    };
    add(unipolar("1/f noise"), flickering);
    add(unipolar("1/f noise below white"), [&](kind& k) {
        flickering(k);
        k.converter.noise *= 2.0;
    });
    add(bipolar("bow"), [](kind& k) {
        k.converter.bow_limit = 2.0;
        k.converter.inl_limit = 0.0;
    });
    add(
        bipolar("codes of unequal width"),
        [](kind& k) {
            k.converter.inl_step = 1;
            k.converter.inl_limit = 0.5;
            k.converter.noise_ahead = true;
        },
        "noise ahead of the quantiser averages codes that lie side by side, and the data sheet's limits are counted in full");
    const auto meter = [](statement::truth lies) { return [=](kind& k) { k.reference = {4.096, 20e-3, false, lies}; }; };
    add(bipolar("meter well within"), meter(statement::truth::well_within), "limits do not say how the errors lie within them");
    add(bipolar("meter at limit, unsaid"), meter(statement::truth::at_the_limit), "",
        "an error that always stands at a limit is not the rectangular one that limits are taken for (JCGM 100:2008, 4.3.7)");
    add(bipolar("meter at its limit"), [](kind& k) {
        k.reference = {4.096, 20e-3, false, statement::truth::at_the_limit, true};
    });
    add(unipolar("hot shed"), [](kind& k) {
        k = in_the_heat(std::move(k));
        k.converter.bits = 12;
        k.converter.inl_limit = 0.5;
        k.temperature_difference = 24.0;  // 21 to 45 degrees
        k.temperature_half_width = 5.0;
    });
    add(unipolar("x10 probe afterwards"), [](kind& k) {
        k.probe = part{3.87e6, 0.01, 0.0};  // nine times 430 kohm
        for (reading_point& r : k.readings) {
            r.volts *= 10.0;
            r.jitter *= 10.0;
        }
    });
    const auto faster = [](kind& k) {
        k.converter.sampling_limit = 10e-12;
        k.reading_rate = 50e3;
    };
    add(unipolar("another sample rate"), faster);
    add(bipolar("another sample rate"), faster);
    add(bipolar("x10 probe, 15 K warmer"), [](kind& k) {
        k = in_the_heat(std::move(k));
        k.probe = part{10.6e6, 0.01, 0.0};  // nine times what the input has; the open connector's 1.4 V lift its voltage
        std::erase_if(k.readings, [](const reading_point& r) { return r.name == "full scale"; });
        for (reading_point& r : k.readings) {
            r.volts *= 10.0;
            r.jitter *= 10.0;
        }
    });
    add(unipolar("leaking pin, 15 K warmer"), [](kind& k) {
        k = in_the_heat(std::move(k));
        k.temperature_half_width = 5.0;
        k.converter.sampling_limit = 5e-12;
        k.converter.leakage_limit = 10e-9;
    });
    add(bipolar("amplifier, 15 K warmer"), [](kind& k) { k = amplified(std::move(k)); });
    const auto supplied = [](kind& k) { k.converter.supply_limit = 0.004; };
    add(bipolar("reference from the supply"), supplied);
    add(unipolar("reference from the supply"), supplied);
    add_further_evidence(add);
    return all;
}

std::vector<kind> kinds_by_trials() {
    std::vector<kind> all;
    const auto take = [&](std::vector<kind> from, const std::vector<std::string>& names) {
        for (const std::string& name : names) {
            const auto found = std::find_if(from.begin(), from.end(), [&](const kind& k) { return k.name == name; });
            if (found == from.end()) throw std::logic_error("no kind of instrument is called " + name);
            all.push_back(with_noise_drawn(std::move(*found)));
        }
    };
    take(kinds(), {"no noise, bipolar", "16 samples, unipolar"});
    take(wider_kinds(),
         {"8 bits, unipolar", "10 bits, bipolar", "16 bits, 0.01 %, bipolar", "reference of 2 %, unipolar",
          "noise drawn, 0 to 0.5, bipolar", "noise drawn, 0.5 to 2, bipolar", "noise drawn, 2 to 5, unipolar",
          "hum, ten periods, bipolar", "hum, 2.3 periods, unipolar", "AR(1) noise, bipolar", "1/f noise, unipolar",
          "bow, bipolar", "codes of unequal width, bipolar", "meter well within, bipolar", "meter at its limit, bipolar",
          "hot shed, unipolar", "x10 probe afterwards, unipolar", "another sample rate, unipolar"});
    return all;
}

std::string broken_rule(const kind& of, const cell& c) {
    const std::size_t least = binomial_bounds(c.instruments, uncertainty::default_coverage_probability).first;
    if (c.covered < least) return "short";
    if (c.mean_U > of.most_U * (c.instruments < 1000 ? c.quantile_high : c.quantile)) return "padded";
    return "";
}

std::vector<cell> simulate(const kind& what, std::size_t instruments, unsigned threads, std::uint64_t trials) {
    const laboratory lab(what, trials);
    const std::size_t points = what.readings.size();
    std::vector<outcome> all(instruments * points);
    std::vector<std::exception_ptr> failures(threads);
    {
        std::vector<std::jthread> crew;
        for (unsigned t = 0; t < threads; ++t) {
            crew.emplace_back([&, t] {
                try {
                    for (std::size_t i = t; i < instruments; i += threads)
                        lab.one_instrument(seed_of(what.name) + i, &all[i * points]);
                } catch (...) {
                    failures[t] = std::current_exception();
                }
            });
        }
    }
    for (const std::exception_ptr& failure : failures) {
        if (failure) std::rethrow_exception(failure);
    }
    std::vector<cell> cells;
    for (std::size_t r = 0; r < points; ++r) cells.push_back(summed_up(what, r, all));
    return cells;
}

count_bounds binomial_bounds(std::size_t n, double p) {
    constexpr double tail = 0.0005;
    const auto trials = static_cast<double>(n);
    const auto probability = [&](std::size_t i) {
        const auto k = static_cast<double>(i);
        return std::exp(std::lgamma(trials + 1.0) - std::lgamma(k + 1.0) - std::lgamma(trials - k + 1.0) + k * std::log(p) +
                        (trials - k) * std::log1p(-p));
    };
    count_bounds bounds{0, n};
    for (double below = probability(0); below <= tail; below += probability(++bounds.first)) {
    }
    for (double above = probability(n); above <= tail; above += probability(--bounds.second)) {
    }
    return bounds;
}

}  // namespace plumbline::simulation
