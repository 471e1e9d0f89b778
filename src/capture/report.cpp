#include <plumbline/capture/report.hpp>

#include <plumbline/capture/code_density.hpp>
#include <plumbline/capture/position.hpp>
#include <plumbline/capture/quantisation.hpp>
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

std::string of_the_mean(const one_pass_statistics& of, codes half_width) {
    if (drifts(of, half_width)) return "the codes drift: no longer capture helps before they have settled";
    const double u = of.s.value() / std::sqrt(of.n_eff);
    switch (of.longer) {
        case longer_capture::helps:
            return fmt::format("its noise averages out: a quarter of u takes {} samples",
                               samples_for(of, 0.5 * u * code, codes()).value_or(0));
        case longer_capture::does_not_help:
            if (!(of.s > codes())) return "all samples lie on one code: no longer capture helps, a little noise would";
            return fmt::format(
                "slow noise keeps u at {:.3g} codes, expected noise that averages out: more samples will not help; take short "
                "captures by turns, zero and reference and zero again",
                of.floor.value());
        default:
            return fmt::format("u is not to be believed below {} samples: capture as many or more", of.told_from);
    }
}

/// The statistics that of_mean reads.
statistics for_quantisation(const one_pass_statistics& of) {
    return {.n = static_cast<std::size_t>(of.n),
            .mean = of.mean,
            .s = of.s,
            .n_eff = of.n_eff,
            .min = of.min,
            .max = of.max,
            .at_bottom = static_cast<std::size_t>(of.at_bottom),
            .at_top = static_cast<std::size_t>(of.at_top),
            .drift = codes()};
}

std::string frequency_of(const strongest_line& line) {
    return line.at ? fmt::format("{:.4g} Hz", line.at->value()) : fmt::format("{:.4g} periods a sample", line.periods_per_sample);
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
            "a sine at {} with an amplitude of {:.2f} codes moves the mean by up to {:.2g} codes, expected none; remove what "
            "runs at that frequency, or average whole periods: {} samples or a multiple",
            frequency_of(*of.line), of.line->amplitude.value(), of.line->largest_shift.value(), of.line->average_samples));
    }
    for (const stuck_bit& b : stuck_bits(of.counts, of.bottom_code)) {
        all.push_back(fmt::format(
            "bit {} is {} in all samples, expected bits that change; look for a bridged or broken data line", b.bit, b.value));
    }
}

}  // namespace

std::vector<std::string> sentences(const one_pass_statistics& of) {
    const codes half_width = of_mean(for_quantisation(of)).half_width;
    std::vector<std::string> all;
    const double u = of.s.value() / std::sqrt(of.n_eff);
    all.push_back(
        fmt::format("{} samples, codes {} to {}: mean {:.4f}, s {:.3g}, u of the mean {:.2g} by {:.0f} independent ones", of.n,
                    of.min, of.max, of.mean.value(), of.s.value(), u, of.n_eff));
    all.push_back(statement(position_of(of.counts, of.bottom_code, of.n_eff)));
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
    } else if (of.slowest_judged) {
        all.push_back(fmt::format(
            "what is slower than {:.3g} Hz, one period in the capture, cannot be judged: it passes for an offset; capture "
            "longer, or give it a row in the budget",
            of.slowest_judged->value()));
    }
    return all;
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
