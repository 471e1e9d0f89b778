#pragma once
// Does a stated interval hold the truth as often as it says? Simulated instruments go through the library's real path: codes, statistics,
// correction, reading, budget. Here the two meet: the instruments know nothing of the library, the library nothing of the truth.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <simulation/instrument.hpp>
#include <string>
#include <vector>

namespace plumbline::simulation {

/// A voltage applied in a step: what is said of it, and how the truth lies about that.
struct statement {
    double value = 0.0;   ///< V
    double spread = 0.0;  ///< V: limits of a rectangular distribution, or U with k = 2 of a normal one
    bool normal = false;
    enum class truth {
        as_stated,
        well_within,
        at_the_limit
    } lies = truth::as_stated;   ///< well within: normal, 99 % within the limits (common practice, no source)
    bool said_to_stand = false;  ///< that the error stands at a limit is stated
};

/// A voltage to read: drawn with equal probability from volts +- jitter. The jitter spans many groups of codes, so that the INL of reading
/// and steps is independent, as the library takes it to be.
struct reading_point {
    std::string name;
    double volts = 0.0;
    double jitter = 0.0;
    double apart = 0.0;  ///< V; not 0: the difference of a second reading this much higher and this one
};

/// Zero and reference step in turn, 0-R-0-R-0.
struct turned {
    std::size_t captures = 5;
    double interval = 60.0;     ///< s
    double drift = 0.0;         ///< codes from one capture to the next, limit: the offset wanders along a straight line
    double reconnection = 0.0;  ///< V, rms, anew at each capture
};

/// Another channel of the same instrument, sampled before each sample of this one.
struct neighbour {
    double memory = 0.0;  ///< limit of what the multiplexer's capacitor keeps of its pin's voltage
    double low = 0.0;     ///< V, at its connector, for the two captures that show it
    double high = 0.0;    ///< V
};

/// A kind of calibration and what is read with it, one sample a reading, two for a difference.
struct kind {
    std::string name;
    network_sheet network;
    converter_sheet converter;
    double low = 0.0;   ///< V, ends of the range
    double high = 0.0;  ///< V
    statement zero;
    statement reference;
    std::optional<statement> negative;
    std::size_t samples = 256;               ///< of each step
    std::optional<double> longest_time{};    ///< s, stated: between any two captures and readings
    std::optional<double> largest_hum{0.0};  ///< V, stated
    double slow = 0.0;                       ///< V, amplitude of a sine slower than captures, stated; 0: nothing is
    double slow_at = 0.0;                    ///< Hz; 0: not stated
    std::optional<turned> turns{};
    std::optional<neighbour> other{};
    std::optional<double> earlier{};        ///< degrees Celsius: calibrated there too, with the same references
    double calibration_temperature = 21.0;  ///< degrees Celsius
    double calibration_half_width = 0.0;    ///< K, each step's temperature lies within it, independent of the other step's
    double temperature_difference = 0.0;    ///< K, reading minus calibration
    double temperature_half_width = 0.0;    ///< K, of that difference
    std::optional<part> probe{};            ///< in series, added for the readings
    std::optional<amplifier_sheet> amplifier{};
    double reading_rate = 0.0;  ///< Hz: not 0: readings are taken at this sample rate, the steps at 10 kHz
    std::vector<reading_point> readings;
    bool long_run_only = false;
    double most_U = 1.10;   ///< mean U over the quantile of |error| may come to this
    std::string because{};  ///< the physics of more than 1.10, or of being held more often than stated
    std::string finding{};  ///< where the library is known to break the rule: how. It must do so, or the finding is out of date
};

/// The kinds that are simulated. Every true value is drawn from the distribution that the data sheet or the statement gives, but for the noise,
/// which is one for all instruments of a kind: so is U then, and its mean tells whether it is too small. The noise enters behind the
/// non-linearity, so that the mean code has the INL of its place, as the library takes it.
[[nodiscard]] std::vector<kind> kinds();

/// The same with the noise ahead of a non-linearity in steps of 8 codes: it averages neighbouring steps, so that less INL is left than the
/// data sheet's limits, and the stated intervals hold somewhat more than they say. Over-coverage that is the physics.
[[nodiscard]] std::vector<kind> smeared_kinds();

/// What a capture can be besides: other resolutions, noise that is drawn, has a memory, goes as 1/f or hums; a bow; codes of unequal width;
/// better and worse references; meters well within their limits or at them; readings in a hot shed, through a probe, at another sample rate;
/// an amplifier ahead of the converter; a reference that its supply moves.
/// Each instrument's noise is drawn within a factor of two of its kind's, its logarithm with equal probability, or between the limits in the kind's
/// name; what is known to break the rule keeps the noise that it was found at. U goes with the noise, so that its mean may lie below the
/// quantile of all errors together. Their intervals must hold the truth at least as often as they say; those that may be padded say why in
/// `because`, written before the first run, and what the runs found is in `finding`.
[[nodiscard]] std::vector<kind> wider_kinds();

/// Twenty of these kinds, of either sort, their noise drawn as that of the wider ones, whose calibrations the long run evaluates by trials too:
/// one of each thing that an instrument, its noise, its reference and its use can have.
[[nodiscard]] std::vector<kind> kinds_by_trials();

/// One reading of one kind, over all its instruments.
struct cell {
    std::string kind;
    std::string reading;
    std::size_t instruments = 0;        ///< calibrated
    std::size_t refused = 0;            ///< whose calibration the library refused
    std::size_t covered = 0;            ///< instruments whose |reading - truth| <= U
    double mean_U = 0.0;                ///< V
    double quantile = 0.0;              ///< V, of |error| at the coverage probability
    double quantile_low = 0.0;          ///< V, 99.9 % interval of that quantile from its order statistics
    double quantile_high = 0.0;         ///< V
    std::size_t covered_by_trials = 0;  ///< instruments whose truth lies in the interval from trials
    double mean_U_by_trials = 0.0;      ///< V, half of that interval's length
};

/// The interval is held less often than stated, or U is larger than `of` allows (of fewer than 1000 instruments: beyond what chance may do to
/// the quantile); in words, "" if neither.
[[nodiscard]] std::string broken_rule(const kind& of, const cell& c);

/// Runs a kind. The same result for any number of threads. A calibration whose steps the library refuses is counted.
/// @param trials  of each calibration, which all its readings share, besides the convolution that gives U; 0: none
/// @throws std::exception  what else the library threw at an instrument whose parts all lie within their data sheets
[[nodiscard]] std::vector<cell> simulate(const kind& what, std::size_t instruments, unsigned threads, std::uint64_t trials = 0);

/// Counts between which a binomial count of n trials lies with 99.9 % probability: at most 0.05 % below first, at most 0.05 % above second.
struct count_bounds {
    std::size_t first = 0;
    std::size_t second = 0;
};
[[nodiscard]] count_bounds binomial_bounds(std::size_t n, double p);

}  // namespace plumbline::simulation
