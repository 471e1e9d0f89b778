#include <plumbline/capture/report.hpp>

#include <plumbline/capture/code_density.hpp>
#include <plumbline/capture/position.hpp>
#include <plumbline/capture/quantisation.hpp>
#include <plumbline/capture/sine_fit.hpp>
#include <plumbline/error.hpp>
#include <plumbline/uncertainty/input.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace plumbline::inline v0::capture {

namespace {

constexpr double most_on_an_end = 1e-3;   // share of samples, as a calibration allows
constexpr double drift_stands_out = 5.7;  // t of 12 degrees of freedom that chance passes once in 10 000
constexpr codes worth_saying = 0.1 * code;

bool drifts(const one_pass_statistics& of, codes half_width) {
    if (!of.slope) return false;
    const codes size = of.slope->change > codes() ? of.slope->change : -of.slope->change;
    return size > std::max(worth_saying, largest_false_trend(half_width)) && size > drift_stands_out * of.slope->u;
}

std::string by_quantisation(const one_pass_statistics& of) {
    constexpr double many = 1e9;  // samples, whose scatter is known as well as it can be
    return fmt::format(
        "the mean may be off by up to {:.2g} codes whatever their number, for too little noise carries it between the codes; "
        "go by the position, or add noise of half a code rms or more ahead of the converter",
        quantisation_in(of, many).half_width.value());
}

std::string by_slow_noise(const one_pass_statistics& of) {
    return fmt::format(
        "slow noise keeps u at {:.3g} codes, expected noise that averages out: more samples will not help; take short "
        "captures by turns, zero and reference and zero again",
        of.floor.value());
}

std::string of_the_mean(const one_pass_statistics& of, codes half_width) {
    if (drifts(of, half_width)) return "the codes drift: no longer capture helps before they have settled";
    if (!(of.s > codes())) return "all samples lie on one code: no longer capture helps, a little noise would";
    if (of.longer == longer_capture::does_not_help) return by_slow_noise(of);
    const char* const doubt = of.longer == longer_capture::cannot_be_told ? ", as far as so few can tell" : "";
    const auto n = samples_for(of, 0.5 * of.s / std::sqrt(of.n_eff));
    return n ? fmt::format("its noise averages out: a quarter of u takes {} samples{}", *n, doubt)
             : fmt::format("its noise averages out, quantisation does not: {}{}", by_quantisation(of), doubt);
}

std::string in_periods(double per_sample) { return fmt::format("one period in {:.4g} samples", 1.0 / per_sample); }

/// Frequency and, where the sample rate is known, whose it may be.
std::string frequency_of(const strongest_line& line) {
    if (!line.at) {
        return in_periods(line.periods_per_sample) +
               " (state the sample rate to have it in hertz, and to know whether it may be mains)";
    }
    return fmt::format("{:.4g} Hz, {},", line.at->value(),
                       may_be_mains(line) ? "where mains and its harmonics lie"
                                          : "more likely of an inverter or a charge controller than of mains (50 or 60 Hz and "
                                            "harmonics)");
}

void add_stuck_bits(std::vector<std::string>& all, const one_pass_statistics& of) {
    for (const stuck_bit& b : stuck_bits(of.counts, of.bottom_code)) {
        all.push_back(fmt::format(
            "bit {} is {} in all samples, expected bits that change; look for a bridged or broken data line", b.bit, b.value));
    }
}

void add_disturbances(std::vector<std::string>& all, const one_pass_statistics& of, codes half_width) {
    if (drifts(of, half_width)) {
        all.push_back(fmt::format(
            "the codes moved by {:+.2f} from first to last, standard uncertainty {:.2f}, expected none; let instrument "
            "and source warm up and settle",
            of.slope->change.value(), of.slope->u.value()));
    }
    if (of.far_out && of.far_out->count > 0) {
        all.push_back(
            fmt::format("{} samples lie outside {:.1f} to {:.1f}, where this noise has none; they are kept and move the mean by "
                        "{:+.3f} codes; look for glitches",
                        of.far_out->count, of.far_out->low, of.far_out->high, of.far_out->shift_of_mean.value()));
    }
    if (of.line && of.line->amplitude > std::max(worth_saying, largest_false_amplitude(half_width))) {
        all.push_back(fmt::format(
            "a sine of {} with an amplitude of {:.2f} codes moves the mean by up to {:.2g} codes, expected none; remove what "
            "runs at that frequency, or average whole periods: {} samples or a multiple",
            frequency_of(*of.line), of.line->amplitude.value(), of.line->largest_shift.value(), of.line->average_samples));
    }
    add_stuck_bits(all, of);
}

/// A value with as many decimals as two figures of its uncertainty have.
/// @pre u > 0
std::string with_u(double value, double u) {
    constexpr int most_zeros = 6;
    const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(u))), 0, 12);
    return fmt::format("{:.{}f} (u {})", value, decimals,
                       decimals > most_zeros ? fmt::format("{:.1e}", u) : fmt::format("{:.{}f}", u, decimals));
}

/// The most negative and the most positive, and where the larger of them is.
std::string extremes(const std::vector<double>& of, const std::vector<double>& u, std::int32_t first_code) {
    const auto [low, high] = std::minmax_element(of.begin(), of.end());
    const auto at = (-*low > *high ? low : high) - of.begin();
    return fmt::format("{:+.2f} to {:+.2f} codes, largest at code {} (u {:.2g})", *low, *high, first_code + at,
                       u[static_cast<std::size_t>(at)]);
}

std::string missing_codes(const std::vector<std::int32_t>& of) {
    constexpr std::size_t most_shown = 10;
    const std::size_t shown = std::min(of.size(), most_shown);
    return fmt::format(
        "{} missing, narrower than a tenth of a code, expected none: {}{}; look for a converter or data lines that "
        "are damaged",
        of.size(), fmt::join(of.begin(), of.begin() + static_cast<std::ptrdiff_t>(shown), ", "), of.size() > shown ? " ..." : "");
}

}  // namespace

std::vector<std::string> sentences(const one_pass_statistics& of) {
    const codes half_width = quantisation_in(of, of.n_eff).half_width;
    std::vector<std::string> all;
    const double u = of.s.value() / std::sqrt(of.n_eff);
    all.push_back(
        fmt::format("{} samples, codes {} to {}: mean {:.4f}, s {:.3g}, u of the mean {:.2g} by {:.0f} independent ones", of.n,
                    of.min, of.max, of.mean.value(), of.s.value(), u, of.n_eff));
    all.push_back(statement(position_of(of.counts, of.bottom_code, of.n_eff)));
    const char* const suffix = of.n >= of.told_from                          ? ""
                               : of.longer == longer_capture::cannot_be_told ? ": capture as many or more"
                                                                             : ", a number that grows with what is slow";
    all.push_back(fmt::format("u is to be believed from {} samples on, by how long these hang together{}", of.told_from, suffix));
    all.push_back(of_the_mean(of, half_width));
    for (const bool top : {false, true}) {
        const std::uint64_t count = top ? of.at_top : of.at_bottom;
        if (static_cast<double>(count) <= most_on_an_end * static_cast<double>(of.n)) continue;
        all.push_back(fmt::format("{} samples lie on the {} code, expected at most 1 in 1000; {}", count, top ? "top" : "bottom",
                                  top ? "apply less, or choose a higher range" : "the true value lies below it: apply more"));
    }
    add_disturbances(all, of, half_width);
    if (!of.spectrum_judged) {
        all.emplace_back(of.n < 64 ? "lines in the spectrum were not looked for: capture 64 samples or more"
                                   : "lines in the spectrum were not looked for: ask for the spectrum");
    } else {
        all.push_back(
            fmt::format("what is slower than {}, cannot be judged: it passes for an offset; capture longer, or state its size as "
                        "the range's slow_disturbance, which gives it rows in the budget",
                        of.slowest_judged ? fmt::format("{:.3g} Hz, one period in the capture", of.slowest_judged->value())
                                          : fmt::format("one period in {} samples, the whole capture", of.n)));
    }
    return all;
}

std::string for_wanted(const one_pass_statistics& of, codes U) {
    const std::string wanted = fmt::format("U = {:.4g} codes (k = 2) of the mean", U.value());
    const auto n = samples_for(of, U);
    const bool moves = drifts(of, quantisation_in(of, of.n_eff).half_width) && std::abs(of.slope->change.value()) > U.value();
    if (n && !moves) {
        return fmt::format(
            "{} takes {} samples such as these{}{}", wanted, *n, *n <= of.n ? ": these are enough" : "",
            of.longer == longer_capture::cannot_be_told
                ? fmt::format("; capture {} first, so few cannot tell how long their noise hangs together", of.told_from)
                : "");
    }
    const bool slow = of.longer == longer_capture::does_not_help && !(2.0 * of.floor < U);
    return fmt::format("no number of samples gives {}: {}", wanted,
                       moves                    ? "the codes drift; let instrument and source warm up and settle"
                       : slow && of.s > codes() ? by_slow_noise(of)
                                                : by_quantisation(of));
}

std::vector<std::string> sentences(const one_pass_statistics& of, stimulus by) {
    std::vector<std::string> all;
    all.push_back(
        fmt::format("{} samples of a {}, codes {} to {}", of.n, by == stimulus::ramp ? "ramp" : "sine", of.min, of.max));
    const code_density_test test = test_code_density(of.counts, of.bottom_code, by);
    if (!test.not_testable.empty()) {
        all.push_back("code density " + test.not_testable);
    } else {
        const auto last = static_cast<std::int64_t>(test.dnl.size()) + test.first_code - 1;
        all.push_back(fmt::format("code density of codes {} to {}: differential non-linearity (DNL) {}", test.first_code, last,
                                  extremes(test.dnl, test.u_dnl, test.first_code)));
        all.push_back(fmt::format("integral non-linearity (INL) from the line through first and last edge {}",
                                  extremes(test.inl, test.u_inl, test.first_code)));
        all.push_back(test.missing.empty() ? "no code is missing" : missing_codes(test.missing));
    }
    add_stuck_bits(all, of);
    return all;
}

std::vector<std::string> sentences(const sine_fit& of) {
    if (!of.not_testable.empty()) return {"sine fit " + of.not_testable};
    const bool four = of.u_periods_per_sample > 0.0;
    const double f = of.periods_per_sample;
    const std::string frequency =
        !four   ? (of.at ? fmt::format("{:.6g} Hz", of.at->value()) : in_periods(f))
        : of.at ? with_u(of.at->value(), of.u_at->value()) + " Hz"
                : fmt::format("one period in {} samples", with_u(1.0 / f, of.u_periods_per_sample / (f * f)));
    return {fmt::format("sine fit of {}: {}, amplitude {} codes, offset {} codes",
                        four ? "four parameters" : "three parameters, frequency taken as exact", frequency,
                        with_u(of.amplitude.value(), of.u_amplitude.value()), with_u(of.offset.value(), of.u_offset.value())),
            fmt::format("noise and distortion {} codes rms, of which quantisation makes 0.289; signal to them (SINAD) {} dB",
                        with_u(of.noise.value(), of.u_noise.value()), with_u(of.sinad, of.u_sinad)),
            fmt::format("effective number of bits (ENOB) of full scale {}", with_u(of.enob, of.u_enob))};
}

uncertainty::input slow_disturbance(const std::string& id, const std::string& step, const std::string& source,
                                    codes largest_shift) {
    if (!(std::isfinite(largest_shift.value()) && largest_shift >= codes())) {
        throw bad_input("disturbance that cannot be judged, " + step, fmt::format("{} codes", largest_shift.value()),
                        "a finite figure that is not negative", "state how large it may be");
    }
    return {id,  "disturbance that cannot be judged, " + step, source, unit_symbol<codes>,
            0.0, uncertainty::arcsine{largest_shift.value()}};
}

}  // namespace plumbline::inline v0::capture
