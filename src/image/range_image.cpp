#include "range_image.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/error.hpp>
#include <plumbline/image/instrument_reading.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/coverage.hpp>
#include <utility>

namespace plumbline::inline v0::image {

namespace {

using calibration::range_calibration;

constexpr double microvolt = 1e-6;
constexpr double sixteenth = microvolt / 16.0;
constexpr double slope_unit = 1.0 / 4294967296.0;  // 2^-32
constexpr double no_noise = 1e18;                  // samples that leave none
constexpr double days_per_year = 365.0;

/// What is smaller than this part of something is its rounding: as a digit of the image it would differ from computer to computer.
constexpr double rounding = 1e-12;

/// a + c x^2 with x = V - Vc, nowhere below some part of U^2.
struct curve {
    double a = 0.0;  ///< V^2
    double c = 0.0;
};

struct point {
    double x;  ///< V - Vc, V
    double y;  ///< part of U^2, V^2
};

/// c by least squares, a as large as it takes. Between two points y is taken as no larger than at the larger end, the curve as at its lowest.
curve above(const std::vector<point>& points) {
    double s1 = 0.0;
    double s2 = 0.0;
    double t0 = 0.0;
    double t1 = 0.0;
    for (const point& p : points) {
        const double square = p.x * p.x;
        s1 += square;
        s2 += square * square;
        t0 += p.y;
        t1 += p.y * square;
    }
    const auto n = static_cast<double>(points.size());
    const double spread = s2 - s1 * s1 / n;
    curve of;
    if (spread > 0.0) of.c = std::max(0.0, (t1 - s1 * t0 / n) / spread);
    if (of.c * s1 < rounding * t0) of.c = 0.0;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const point& l = points[i == 0 ? 0 : i - 1];
        const point& r = points[i];
        const bool around_centre = (l.x <= 0.0) != (r.x < 0.0);
        const double lowest = around_centre ? 0.0 : std::min(l.x * l.x, r.x * r.x);
        of.a = std::max(of.a, std::max(l.y, r.y) - of.c * lowest);
    }
    return of;
}

class range_maker {
public:
    range_maker(const record::record& r, const range_calibration& of, const calibration::use_conditions& use, const reach& within,
                std::string where)
        : r_(r), of_(of), use_(use), within_(within), where_(std::move(where)), line_(make_line()) {
        expect_lines_of_steps();
        for (int i = 0; i <= state_codes; ++i)
            for (const std::uint16_t n : {std::uint16_t{1}, std::uint16_t{8}, most_samples()})
                for (const std::uint16_t kelvin : {std::uint16_t{0}, within_.centikelvin})
                    for (const std::uint16_t days : {std::uint16_t{0}, within_.days})
                        add_state({code_at(i, state_codes), n, kelvin, days});
    }

    [[nodiscard]] range_image make(const place& at) const {
        range_image made;
        made.what.channel = at.channel;
        made.what.number = at.number;
        made.what.mode = at.mode;
        put_text(made.what.name, sizeof made.what.name, name_of(of_), where_ + ", name for the display");
        made.what.line = line_;
        made.what.uncertainty = make_form();
        made.statement = {name_of(of_), fixed_point_error(line_), largest_line_error(), largest_excess(made.what.uncertainty)};
        return made;
    }

private:
    static constexpr int cells = 200;       // between the codes at which u is looked at
    static constexpr int state_codes = 16;  // the same of U, whose k takes longer

    /// A state in which the instrument may read, with U there.
    struct state {
        double code;
        std::uint16_t samples;
        std::uint16_t centikelvin;
        std::uint16_t days;
        double k = 0.0;
        double U = 0.0;
    };

    [[noreturn]] void refuse(const std::string& what, const std::string& found, const std::string& expected,
                             const std::string& remedy) const {
        throw bad_input(where_ + ", " + what, found, expected, remedy);
    }

    /// One line, or the one between two through the zero step.
    [[nodiscard]] embedded::correction make_line() const {
        const volts_per_code gain = of_.negative_result ? 0.5 * (of_.result.gain + of_.negative_result->gain) : of_.result.gain;
        const voltage at_zero = of_.result.offset + of_.result.gain * of_.zero.seen.mean;
        const voltage offset = at_zero - gain * of_.zero.seen.mean;
        constexpr double largest_gain = embedded::largest_gain * microvolt;
        if (!(std::abs(gain.value()) < largest_gain)) {
            refuse("gain", fmt::format("found {} V/code", gain.value()), fmt::format("less than {} V/code", largest_gain),
                   "calibrate the connector behind its divider");
        }
        const std::int32_t top = of_.chain.adc.top_code();
        if (top > std::numeric_limits<std::uint16_t>::max()) {
            refuse("converter", fmt::format("found {} bits", of_.chain.adc.bits), "at most 16",
                   "let the firmware shorten its codes to 16 bits, and calibrate so");
        }
        const double low = calibration::code_at(of_, of_.chain.low).value();
        const double high = calibration::code_at(of_, of_.chain.high).value();
        constexpr double on_the_end = 1e-6;  // codes: an end that falls on a code takes it in, whatever the last bit says
        const double first = std::ceil(std::max(1.0, std::min(low, high) - on_the_end));
        const double last = std::floor(std::min(top - 1.0, std::max(low, high) + on_the_end));
        if (!(first <= last)) {
            refuse("codes",
                   fmt::format("found {:.1f} to {:.1f} from the ends of the range", std::min(low, high), std::max(low, high)),
                   fmt::format("codes between 1 and {}", top - 1), "correct the ends of the range in the session");
        }
        const auto fine = [](double volts) { return std::llround(std::ldexp(volts / microvolt, 16)); };
        constexpr double largest = 2147.0;
        const double ends[] = {offset.value(), offset.value() + gain.value() * first, offset.value() + gain.value() * last};
        for (const double volts : ends) {
            if (std::abs(volts) <= largest) continue;
            refuse("voltage", fmt::format("found {:.6g} V", volts),
                   fmt::format("at most {} V over the codes, code 0 among them", largest),
                   "calibrate the connector behind its divider");
        }
        return embedded::make_correction(fine(gain.value()), fine(offset.value()), static_cast<std::uint16_t>(first),
                                         static_cast<std::uint16_t>(last));
    }

    /// Gain and offset, which the instrument uses, come from the steps, which U comes from.
    void expect_lines_of_steps() const {
        for (const codes& c : {line_.first_code * code, of_.zero.seen.mean, line_.last_code * code}) {
            const voltage v = calibration::reading(r_.inputs, r_.references, of_, c, calibration::at_calibration(of_)).value;
            const codes by_line = calibration::code_at(of_, v);
            if (std::abs((by_line - c).value()) <= 1e-6) continue;
            refuse("correction", fmt::format("found that its line has {:.6f} V at code {:.6f}", v.value(), by_line.value()),
                   fmt::format("code {:.6f}, by the steps that it comes from", c.value()), "use the record as it was written");
        }
    }

    /// Code i of n + 1 from the first in range to the last.
    [[nodiscard]] double code_at(int i, int n) const {
        return line_.first_code + static_cast<double>(line_.last_code - line_.first_code) * i / n;
    }

    /// Codes at which u is looked at: evenly over the range, and on both sides of the zero step, where u of two lines has a peak.
    [[nodiscard]] std::vector<double> codes_of_curve() const {
        std::vector<double> all;
        for (int i = 0; i <= cells; ++i) all.push_back(code_at(i, cells));
        const double zero = of_.zero.seen.mean.value();
        for (const double c : {zero - 1e-6, zero + 1e-6})
            if (c > all.front() && c < all.back()) all.push_back(c);
        std::sort(all.begin(), all.end());
        return all;
    }

    template <class Visit>
    void each_step(const Visit& visit) const {
        if (of_.turns.empty()) {
            visit(of_.zero.seen);
            visit(of_.reference.seen);
        }
        for (const calibration::repeated_capture& c : of_.turns) visit(c.seen);  // the steps hold all of theirs together
        if (of_.negative) visit(of_.negative->seen);
    }

    /// What the mean of a capture was worth, at least.
    [[nodiscard]] std::uint16_t most_samples() const {
        double most = std::numeric_limits<std::uint16_t>::max();
        each_step([&](const capture::statistics& s) { most = std::min(most, std::floor(s.n_eff)); });
        return static_cast<std::uint16_t>(std::max(1.0, most));
    }

    /// Samples that count for one independent one, at most.
    [[nodiscard]] double samples_for_one() const {
        double most = 1.0;
        each_step([&](const capture::statistics& s) { most = std::max(most, static_cast<double>(s.n) / s.n_eff); });
        return most;
    }

    [[nodiscard]] uncertainty::uncertain<voltage> reading(double c, const reading_state& when) const {
        return instrument_reading(r_, of_, line_, use_, c * code, when);
    }

    /// u^2 of a reading, V^2.
    [[nodiscard]] double variance(double c, const reading_state& when) const {
        const auto y = reading(c, when);
        return uncertainty::covariance(y.dependences, y.dependences, r_.correlations);
    }

    void add_state(state s) {
        const reading_state when{static_cast<double>(s.samples), 0.01 * s.centikelvin * kelvin, s.days / days_per_year};
        const auto of = uncertainty::make_convolved_budget(reading(s.code, when), r_.coverage_probability, r_.correlations);
        s.k = of.covered.k;
        s.U = of.U;
        states_.push_back(s);
    }

    /// No k between the states is larger than at one of them or of a normal sum: bounded terms alone make it smaller.
    [[nodiscard]] double largest_k() const {
        double k = uncertainty::coverage_factor(r_.coverage_probability, uncertainty::infinite);
        for (const state& s : states_) k = std::max(k, s.k);
        return k;
    }

    template <class Unit>
    [[nodiscard]] std::uint32_t rounded_up(double square, Unit unit, double largest, const char* what) const {
        const double root = std::ceil(std::sqrt(square) / unit);
        if (root <= largest) return static_cast<std::uint32_t>(root);
        refuse(what, fmt::format("found {:.3g} of the largest figure that the image can hold", root / largest),
               "no more than that", "see in the budget which input is so large, and correct it");
    }

    [[nodiscard]] embedded::uncertainty_form make_form() const {
        const double centre = std::round(of_.compact.centre.value() / microvolt) * microvolt;
        if (!(std::abs(centre) <= 2147.0))
            refuse("compact form", fmt::format("found its centre at {} V", centre), "one within 2147 V",
                   "correct the record's maker");
        const double K2 = std::pow(largest_k(), 2);
        const double kelvins_away = std::max<double>(within_.centikelvin, 100) * 0.01;
        const double years_away = std::max<double>(within_.days, 365) / days_per_year;
        std::vector<point> base;
        std::vector<point> by_kelvin;
        std::vector<point> by_year;
        double noise = 0.0;
        for (const double c : codes_of_curve()) {
            const double x = on_line(line_, c * code).value() - centre;
            const double still = variance(c, {no_noise, {}, 0.0});
            const auto per_square = [&](const reading_state& away, double distance) {
                const double more = variance(c, away) - still;
                return more > rounding * still ? K2 * more / (distance * distance) : 0.0;
            };
            noise = std::max(noise, K2 * (variance(c, {1.0, {}, 0.0}) - still));
            base.push_back({x, K2 * still});
            by_kelvin.push_back({x, per_square({no_noise, kelvins_away * kelvin, 0.0}, kelvins_away)});
            by_year.push_back({x, per_square({no_noise, {}, years_away}, years_away)});
        }
        curve of = above(base);
        const curve kelvin_curve = above(by_kelvin);
        const curve year_curve = above(by_year);
        // the instrument takes V for the slope as it shows it, rounded: by so much U^2 may come out smaller
        const double steepest = of.c + kelvin_curve.c * kelvins_away * kelvins_away + year_curve.c * years_away * years_away;
        const double farthest = std::max(std::abs(base.front().x), std::abs(base.back().x));
        of.a += 2.0 * steepest * farthest * fixed_point_error(line_).value();

        constexpr double most = std::numeric_limits<std::uint32_t>::max();
        embedded::uncertainty_form form{};
        form.floor = rounded_up(of.a, sixteenth, embedded::largest_term, "floor of the uncertainty");
        form.slope = rounded_up(of.c, slope_unit, most, "slope of the uncertainty");
        form.centre = static_cast<std::int32_t>(std::lround(centre / microvolt));
        form.noise = rounded_up(noise * samples_for_one(), sixteenth, embedded::largest_term, "noise");
        form.most_samples = most_samples();
        form.per_kelvin.floor = rounded_up(kelvin_curve.a, sixteenth, most, "growth of the floor per kelvin");
        form.per_kelvin.slope = rounded_up(kelvin_curve.c, slope_unit, most, "growth of the slope per kelvin");
        form.per_year.floor = rounded_up(year_curve.a, sixteenth, most, "growth of the floor per year");
        form.per_year.slope = rounded_up(year_curve.c, slope_unit, most, "growth of the slope per year");
        for (const std::uint16_t c : {line_.first_code, line_.last_code}) {
            if (shown(form, {static_cast<double>(c), 1, within_.centikelvin, within_.days}) < embedded::unstated) continue;
            refuse("uncertainty", "found more than 67 V at an end of the range, far from the calibration", "less",
                   "see in the budget in use which input is so large, and correct it");
        }
        return form;
    }

    /// What the instrument shows as its plus-or-minus, microvolts.
    [[nodiscard]] std::uint32_t shown(const embedded::uncertainty_form& form, const state& s) const {
        const auto v = static_cast<std::int32_t>(std::lround(on_line(line_, s.code * code).value() / microvolt));
        return embedded::plus_or_minus(form, v, s.samples, s.centikelvin, s.days);
    }

    [[nodiscard]] voltage largest_line_error() const {
        voltage largest;
        for (int i = 0; of_.negative_result && i <= cells; ++i) {
            const codes c = code_at(i, cells) * code;
            const voltage of_record =
                calibration::reading(r_.inputs, r_.references, of_, c, calibration::at_calibration(of_)).value;
            largest = std::max(largest, std::abs((on_line(line_, c) - of_record).value()) * volt);
        }
        return largest;
    }

    [[nodiscard]] double largest_excess(const embedded::uncertainty_form& form) const {
        double largest = 0.0;
        for (const state& s : states_) largest = std::max(largest, shown(form, s) * microvolt / s.U - 1.0);
        return largest;
    }

    const record::record& r_;
    const range_calibration& of_;
    const calibration::use_conditions& use_;
    reach within_;
    std::string where_;
    embedded::correction line_;
    std::vector<state> states_;
};

}  // namespace

std::string name_of(const range_calibration& range) { return range.channel + " " + range.range; }

void put_text(char* field, std::size_t size, const std::string& text, const std::string& where) {
    if (text.size() > size) {
        throw bad_input(where, fmt::format("found \"{}\", {} bytes", text, text.size()), fmt::format("at most {}", size),
                        "shorten it in the session and give the record a number of its own");
    }
    const auto acts = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; };
    if (std::any_of(text.begin(), text.end(), acts)) {
        throw bad_input(where, "found a control character", "a text on one line",
                        "remove it in the session and give the record a number of its own");
    }
    std::fill(std::copy(text.begin(), text.end(), field), field + size, '\0');
}

range_image make_range(const record::record& r, const range_calibration& of, const calibration::use_conditions& use,
                       const place& at, const reach& within, const std::string& where) {
    return range_maker(r, of, use, within, where).make(at);
}

}  // namespace plumbline::inline v0::image
