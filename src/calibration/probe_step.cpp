#include <plumbline/calibration/probe_step.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <plumbline/error.hpp>
#include <vector>

namespace plumbline::inline v0::calibration {

namespace {

constexpr std::size_t fewest_periods = 5;
constexpr double fewest_samples_between = 30.0;
constexpr double least_step = 20.0;       // codes, and times the noise
constexpr double fastest_settling = 1.5;  // samples
constexpr double slowest_settling = 4.0;  // settlings that half a period must hold

/// The search of tau takes the settling that suits the noise best: what noise does to A and D doubles. Seen on simulated captures.
constexpr double of_search = 2.0;

/// A sample by the edge before it. Times in samples.
struct folded {
    double since;  ///< the edge's middle
    double sign;   ///< +1 after a rising edge
    double code;
};

struct edges {
    double first = 0.0;   ///< middle of the first rising edge
    double period = 0.0;  ///< samples
    double high = 0.0;    ///< from rising to falling edge
    std::size_t periods = 0;
};

[[noreturn]] void refuse(const std::string& where, const std::string& found, const std::string& expected,
                         const std::string& remedy) {
    throw bad_input(where, found, expected, remedy);
}

/// Times at which the codes pass the middle, told from noise by a quarter of the step each way.
void crossings(const std::vector<std::int32_t>& codes, double low, double high, std::vector<double>& rising,
               std::vector<double>& falling) {
    const double middle = 0.5 * (low + high);
    const double quarter = 0.25 * (high - low);
    int side = 0;
    std::size_t last = 0;  // last sample on the other side of the middle
    for (std::size_t i = 0; i < codes.size(); ++i) {
        const double c = codes[i];
        if (side != 0 && (c - middle) * side >= 0.0) last = i;
        const int now = c > middle + quarter ? 1 : c < middle - quarter ? -1 : 0;
        if (now == 0 || now == side) continue;
        if (side != 0 && last + 1 < codes.size()) {
            const double a = codes[last];
            const double b = codes[last + 1];
            (now > 0 ? rising : falling).push_back(static_cast<double>(last) + (middle - a) / (b - a));
        }
        side = now;
        last = i;
    }
}

edges find_edges(const capture::run& run, const square_wave& fed, double low, double high, const std::string& where) {
    std::vector<double> rising;
    std::vector<double> falling;
    crossings(run.codes, low, high, rising, falling);
    const double expected = (*run.sample_rate / fed.at).value();
    if (rising.size() < fewest_periods + 1 || falling.size() < fewest_periods) {
        refuse(where, fmt::format("{} periods", rising.empty() ? 0 : rising.size() - 1),
               fmt::format("{} or more", fewest_periods),
               fmt::format("capture at least {:.0f} samples", std::ceil(expected * static_cast<double>(fewest_periods + 2))));
    }
    edges e;
    e.periods = rising.size() - 1;
    // The line through the middles of the rising edges.
    const auto n = static_cast<double>(rising.size());
    double sum = 0.0;
    double weighted = 0.0;
    for (std::size_t k = 0; k < rising.size(); ++k) {
        sum += rising[k];
        weighted += (static_cast<double>(k) - 0.5 * (n - 1.0)) * rising[k];
    }
    e.period = 12.0 * weighted / (n * (n * n - 1.0));
    e.first = sum / n - 0.5 * (n - 1.0) * e.period;
    if (std::abs(e.period / expected - 1.0) > 0.01) {
        refuse(where, fmt::format("a period of {:.2f} samples", e.period),
               fmt::format("{:.2f} by frequency and sample rate", expected),
               "state the frequency of the square wave and the sample rate as they are");
    }
    for (const double f : falling) {
        const double turns = std::floor((f - e.first) / e.period);
        e.high += (f - e.first - turns * e.period) / static_cast<double>(falling.size());
    }
    const double between = std::min(e.high, e.period - e.high);
    if (between < fewest_samples_between) {
        refuse(where, fmt::format("{:.1f} samples between two edges", between), fmt::format("{} or more", fewest_samples_between),
               "sample faster, or take a slower square wave");
    }
    return e;
}

/// Least squares with up to four columns by normal equations; columns are of order one.
struct fit {
    std::array<double, 4> x{};
    std::array<double, 4> variance{};  ///< per unit variance of a sample
    double squares = 0.0;
    std::size_t n = 0;
};

fit solve(const std::vector<folded>& samples, double tau, double half, bool droops) {
    const std::size_t m = droops ? 4 : 3;
    std::array<std::array<double, 8>, 4> a{};
    std::array<double, 4> b{};
    std::vector<std::array<double, 4>> rows;
    rows.reserve(samples.size());
    for (const folded& s : samples) {
        const auto& r = rows.emplace_back(
            std::array<double, 4>{1.0, s.sign, s.sign * std::exp(-s.since / tau), s.sign * (s.since / half - 0.5)});
        for (std::size_t i = 0; i < m; ++i) {
            for (std::size_t k = i; k < m; ++k) a[i][k] += r[i] * r[k];
            b[i] += r[i] * s.code;
        }
    }
    for (std::size_t i = 0; i < m; ++i) {
        for (std::size_t k = 0; k < i; ++k) a[i][k] = a[k][i];
    }
    const auto normal = b;
    for (std::size_t i = 0; i < m; ++i) a[i][4 + i] = 1.0;
    for (std::size_t i = 0; i < m; ++i) {  // Gauss-Jordan; a is positive definite
        const double pivot = a[i][i];
        for (double& v : a[i]) v /= pivot;
        for (std::size_t k = 0; k < m; ++k) {
            if (k == i) continue;
            const double f = a[k][i];
            for (std::size_t c = 0; c < 8; ++c) a[k][c] -= f * a[i][c];
        }
    }
    fit out;
    out.n = samples.size();
    for (std::size_t i = 0; i < m; ++i) {
        for (std::size_t k = 0; k < m; ++k) out.x[i] += a[i][4 + k] * normal[k];
        out.variance[i] = a[i][4 + i];
    }
    for (std::size_t at = 0; at < samples.size(); ++at) {
        double residual = samples[at].code;
        for (std::size_t i = 0; i < m; ++i) residual -= rows[at][i] * out.x[i];
        out.squares += residual * residual;
    }
    return out;
}

struct settled {
    edges at;
    fit best;
    double tau = 0.0;  ///< samples
    double half = 0.0;
    double noise = 0.0;
    std::vector<folded> all;
    double slowest = 0.0;
    double fastest = 0.0;
};

settled settle(const capture::run& run, const square_wave& fed, int top_code, const std::string& where) {
    if (!run.sample_rate) refuse(where, "no sample rate", "that of the capture", "state it");
    if (run.codes.empty()) refuse(where, "an empty capture", "samples", "capture again");
    const auto [least, most] = std::minmax_element(run.codes.begin(), run.codes.end());
    if (*least <= 0 || *most >= top_code) {
        refuse(where, "codes on an end of the converter", "a square wave inside the range",
               "reduce its amplitude, or take another range");
    }
    // Low and high by the quarters of the sorted codes: overshoot does not count.
    std::vector<std::int32_t> sorted = run.codes;
    std::sort(sorted.begin(), sorted.end());
    const double low = sorted[sorted.size() / 4];
    const double high = sorted[sorted.size() * 3 / 4];
    if (high - low < least_step) {
        refuse(where, fmt::format("a step of {:.0f} codes", high - low), fmt::format("{} or more", least_step),
               "take a larger square wave, or a more sensitive range");
    }
    settled s;
    s.at = find_edges(run, fed, low, high, where);
    s.half = 0.5 * s.at.period;
    for (std::size_t i = 0; i < run.codes.size(); ++i) {
        const double phase = std::fmod(static_cast<double>(i) - s.at.first + s.at.period * 1e6, s.at.period);
        if (static_cast<double>(i) < s.at.first) continue;
        const bool up = phase < s.at.high;
        s.all.push_back({up ? phase : phase - s.at.high, up ? 1.0 : -1.0, static_cast<double>(run.codes[i])});
    }
    // The edge itself, that of the square wave and of one sample, is left out.
    const double edge = std::max(1.0, 1.5 * (fed.rise_time * *run.sample_rate).value());
    std::vector<folded> flat;
    for (const folded& f : s.all) {
        if (f.since >= edge) flat.push_back(f);
    }
    if (edge > 0.25 * s.half || flat.size() < 20) {
        refuse(where, "a rise time of the square wave that fills its flat parts", "less than a sixth of half a period",
               "take a faster edge or a slower square wave");
    }
    const bool droops = fed.droop > ratio(0.0);
    s.fastest = std::max(fastest_settling, edge / 3.0);
    s.slowest = std::min(s.at.high, s.at.period - s.at.high) / slowest_settling;
    constexpr int steps = 60;
    const double per_step = std::pow(s.slowest / s.fastest, 1.0 / steps);
    std::optional<fit> best;
    for (int i = 0; i <= steps; ++i) {
        const double tau = s.fastest * std::pow(per_step, i);
        const fit one = solve(flat, tau, s.half, droops);
        if (best && one.squares >= best->squares) continue;
        best = one;
        s.tau = tau;
    }
    s.best = *best;
    s.noise = std::sqrt(s.best.squares / static_cast<double>(s.best.n - 5));
    if (2.0 * s.best.x[1] < least_step * s.noise) {
        refuse(where, fmt::format("a step of {:.0f} codes in noise of {:.1f} codes", 2.0 * s.best.x[1], s.noise),
               fmt::format("a step of {} times the noise", least_step), "take a larger square wave, or a more sensitive range");
    }
    return s;
}

/// The mismatch whose compensation_step is 1 + d.
double mismatch_of(double d, const square_wave& fed) {
    const double r = fed.series.value();
    const double r_in = fed.input_resistance.value();
    return (1.0 + d) * r / (r - r_in * d) - 1.0;
}

/// Means of the folded rising edge in bins of a quarter of a sample, as fractions of the settled step from its lower level.
std::vector<std::array<double, 2>> rising_edge(const settled& s) {
    constexpr double bin = 0.25;
    const double base = s.best.x[0] - s.best.x[1];
    const double size = 2.0 * s.best.x[1];
    const auto before = static_cast<std::size_t>(0.5 * (s.at.period - s.at.high) / bin);
    const auto after = static_cast<std::size_t>(0.5 * s.at.high / bin);
    std::vector<double> sum(before + after, 0.0);
    std::vector<double> time(before + after, 0.0);
    std::vector<double> count(before + after, 0.0);
    const double low_part = s.at.period - s.at.high;
    for (const folded& f : s.all) {
        const double t = f.sign > 0.0 ? f.since : f.since - low_part;
        const double at = std::floor(t / bin) + static_cast<double>(before);
        if (at < 0.0 || at >= static_cast<double>(sum.size())) continue;
        const auto i = static_cast<std::size_t>(at);
        sum[i] += (f.code - base) / size;
        time[i] += t;
        count[i] += 1.0;
    }
    std::vector<std::array<double, 2>> out;
    for (std::size_t i = 0; i < sum.size(); ++i) {
        if (count[i] > 0.0) out.push_back({time[i] / count[i], sum[i] / count[i]});
    }
    return out;
}

/// When the edge first passes a level, by interpolation.
double crossing(const std::vector<std::array<double, 2>>& edge, double level) {
    for (std::size_t i = 1; i < edge.size(); ++i) {
        const auto& [t, v] = edge[i];
        const auto& [t0, v0] = edge[i - 1];
        if (v0 < level && v >= level) return t0 + (level - v0) / (v - v0) * (t - t0);
    }
    return edge.back()[0];
}

}  // namespace

probe_step probe_by_square_wave(const capture::run& run, const square_wave& fed, int top_code, const std::string& where) {
    const settled s = settle(run, fed, top_code, where);
    const double amplitude = s.best.x[1];
    const double D = s.best.x[2] / amplitude;
    const double u_D = of_search * s.noise * std::sqrt(s.best.variance[2]) / amplitude;
    const double seconds = 1.0 / run.sample_rate->value();
    probe_step found;
    found.periods = s.at.periods;
    found.step = 2.0 * amplitude * code;
    found.noise = s.noise * code;
    const double d_of = 0.5 * (1.0 + std::exp(-s.half / s.tau));
    const bool seen = std::abs(D) > 2.0 * u_D + 0.002;
    // A settling at the end of what can be seen is one that cannot be.
    if (seen && (s.tau <= s.fastest * 1.001 || s.tau >= s.slowest * 0.999)) {
        const bool fast = s.tau <= s.fastest * 1.001;
        refuse(where,
               fmt::format("a step that settles {}", fast ? "within a sample or two" : "for as long as the square wave lasts"),
               fast ? "a settling over several samples" : fmt::format("half a period of {} settlings or more", slowest_settling),
               fast ? "sample faster, or take a faster edge" : "take a slower square wave");
    }
    found.mismatch = ratio(mismatch_of(D * d_of, fed));
    // To first order; a twentieth of the mismatch for the model, a quarter of the droop for what the fit takes for settling: see tests.
    const double slope = (mismatch_of((D + 1e-6) * d_of, fed) - mismatch_of(D * d_of, fed)) / 1e-6;
    found.U_mismatch = ratio(2.0 * std::hypot(slope * u_D, 0.025 * std::abs(found.mismatch.value()), 0.125 * fed.droop.value()));
    found.time_constant = seen ? s.tau * seconds * second : duration();
    const auto edge = rising_edge(s);
    const double seen_rise = (crossing(edge, 0.9) - crossing(edge, 0.1)) * seconds;
    const double own = fed.rise_time.value();
    found.rise_time = duration::from_value(std::sqrt(std::max(0.0, seen_rise * seen_rise - own * own)));
    double highest = 0.0;
    for (const auto& [t, v] : edge) highest = std::max(highest, v - 1.0);
    found.overshoot = ratio(highest > 4.0 * s.noise / (2.0 * amplitude) ? highest : 0.0);
    return found;
}

probe_ratio ratio_by_steps(const capture::run& direct, const capture::run& divided, const square_wave& fed, int top_code,
                           const std::string& where) {
    const settled one = settle(direct, fed, top_code, where + ", direct");
    const settled ten = settle(divided, fed, top_code, where + ", through the probe");
    const double value = one.best.x[1] / ten.best.x[1];
    const auto relative = [](const settled& s) {
        // Half a code where the noise does not average it out.
        return std::hypot(of_search * s.noise * std::sqrt(s.best.variance[1]), s.noise < 0.5 ? 0.5 / std::sqrt(3.0) : 0.0) /
               s.best.x[1];
    };
    return {ratio(value), ratio(2.0 * value * std::hypot(relative(one), relative(ten))), 2.0 * one.best.x[1] * code,
            2.0 * ten.best.x[1] * code};
}

}  // namespace plumbline::inline v0::calibration
