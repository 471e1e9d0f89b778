#pragma once
// What a capture of any length says, read once and kept in bounded memory: piece by piece, with the same bits as in one piece.
//
//     capture::one_pass seen(0, 4095, 10e3 * hertz);
//     while (...) seen.add(piece);
//     const capture::one_pass_statistics st = seen.statistics();
//
// Beside summarise (statistics.hpp), which holds the capture and what a calibration uses: this one also says where more samples stop
// helping, what lies far out, and which line in the spectrum is the strongest, wherever it is.

#include <plumbline/capture/statistics.hpp>
#include <plumbline/export.hpp>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace plumbline::inline v0::capture {

struct quantisation;  // quantisation.hpp

namespace kernel_detail {
struct kernels;
}

/// Whether a longer capture lowers the uncertainty of the mean.
enum class longer_capture {
    helps,           ///< the Allan variance falls as that of independent samples
    does_not_help,   ///< it has stopped falling: slow noise, or drift; or all samples lie on one code
    cannot_be_told,  ///< fewer samples than told_from
};

/// Samples too far from the median for noise of the width of the middle two thirds. Reported: no other figure leaves them out.
struct outliers {
    std::uint64_t count = 0;
    double low = 0.0;       ///< codes; an outlier lies below
    double high = 0.0;      ///< codes; or above
    codes shift_of_mean{};  ///< mean with them minus mean without
    friend bool operator==(const outliers&, const outliers&) = default;
};

/// The strongest sine found, wherever it lies.
struct strongest_line {
    double periods_per_sample = 0.0;    ///< frequency over sample rate, above 0, at most 1/2
    double u_periods_per_sample = 0.0;  ///< standard uncertainty: of least squares, or where spectra are averaged of half a bin
    std::optional<frequency> at{};      ///< where the sample rate is known
    double periods = 0.0;               ///< of it in the capture, at least 1
    codes amplitude{};                  ///< half of peak to peak
    codes largest_shift{};              ///< of the mean, whatever the phase: amplitude / (pi periods) unless periods is whole
    std::uint64_t average_samples =
        0;  ///< advice: as many samples, or a multiple, hold whole periods, to 1/500 of one where there is such a number
    double chance =
        1.0;  ///< that noise alone has as strong a line anywhere in its spectrum, by the height above its neighbourhood
    friend bool operator==(const strongest_line&, const strongest_line&) = default;
};

struct one_pass_statistics {
    std::uint64_t n = 0;
    codes mean{};
    codes s{};                     ///< of one sample, divisor n - 1; 0 when n is 1
    double n_eff = 0.0;            ///< u of the mean is s / sqrt(n_eff), floor of slow noise included; 1 <= n_eff <= n
    codes floor{};                 ///< of u of the mean, below which no number of samples leads; 0 where none is seen
    double chance_of_floor = 1.0;  ///< that the longest averages of independent samples scatter as much; 1 where none is seen
    longer_capture longer = longer_capture::cannot_be_told;
    std::uint64_t told_from = 0;  ///< the smallest n at which n_eff would be believed, by what is seen so far
    std::int32_t min = 0;
    std::int32_t max = 0;
    std::uint64_t at_bottom = 0;  ///< samples on the bottom code
    std::uint64_t at_top = 0;     ///< samples on the top code
    std::int32_t bottom_code = 0;
    std::vector<std::uint64_t> counts;     ///< histogram: samples on bottom_code + i
    std::optional<trend> slope{};          ///< absent below 16 samples
    std::optional<outliers> far_out{};     ///< absent below 64 samples, where the width is not known well enough
    bool spectrum_judged = false;          ///< false: fewer than 64 samples, or not asked for
    std::optional<strongest_line> line{};  ///< absent where none stands out
    std::optional<frequency>
        slowest_judged{};  ///< of one period in the capture: nothing is said of slower lines. Absent without rate
    friend bool operator==(const one_pass_statistics&, const one_pass_statistics&) = default;
};

/// Statistics of a capture read once.
///
/// Mean, s, end codes and outliers come from the histogram, whose counts are exact: they are as good at 10^8 samples as at 10^2.
///
/// The order of the samples is kept as sums of up to 65 536 equal parts (8192 without spectrum): samples first, then pairs, then fours
/// ... From them come trend and Allan variance, A(m) = mean of (next mean of m samples - this one)^2 / 2. m A(m) is s^2 for independent
/// samples and grows where they hang together; what it grows to, L, gives u^2 of the mean as L / n. L is raised along the lengths m of
/// which 16 or more fit into the capture, where m A(m) exceeds it by more than chance (1 in 1000 for all lengths together). It starts
/// from s^2, or from the correlation that summarise sees, which needs fewer samples.
///
/// Where A(m) has stopped falling - at the longest m more than 0.35 of what it was at a sixteenth of it, and visibly more than
/// independent samples have - no longer capture helps; u^2 is then the least A(m) at least, and the floor is its root. Noise that hangs
/// together for more than some two-hundredth of the capture looks the same; a longer capture tells them apart. Seen from 256 samples
/// on. n_eff is believed from told_from = 32 m on, with m the shortest length whose m A(m) is within 0.7 of L. (Thresholds: common
/// practice, no source; seen in simulation.) A line that was found is taken off before a floor is looked for; in n_eff it counts as
/// noise.
///
/// Outliers lie beyond median +- (z w (1 + 5 / sqrt n) + 1 code), w half the distance of the quantiles at 15.87 and 84.13 %, z the
/// normal quantile that one capture in 10 000 passes.
///
/// The strongest line is looked for among all frequencies from one period in the capture to half the sample rate, against the noise of
/// its neighbourhood with a slope of its own; chance finds one in fewer than 1 of 1000 captures (measured). Up to 65 536 samples it is
/// fitted by least squares with mean and trend. In longer captures, spectra of 16 384 samples are averaged, and lines slower than these
/// are looked for in the means of parts. Without gap up to 5 10^8 samples.
///
/// Memory: 2 MiB for 16 bits while samples come, 6 MiB more in statistics(), whatever n.
///
/// Sources (from memory): D. W. Allan, Statistics of atomic frequency standards, Proc. IEEE 54 (1966) 221-230; P. D. Welch, IEEE Trans.
/// Audio Electroacoust. 15 (1967) 70-73.
class PLUMBLINE_EXPORT one_pass {
public:
    /// @param bottom_code, top_code  of the converter, bottom_code < top_code, at most 2^20 codes
    /// @param sample_rate            above 0 and finite, where known
    /// @param spectrum               whether to look for lines
    /// @throws bad_input
    one_pass(std::int32_t bottom_code, std::int32_t top_code, std::optional<frequency> sample_rate = {}, bool spectrum = true);

    /// Samples in their order, any number at a time.
    /// @throws bad_input  a code the converter does not have, by its place in the capture; what stands before it has been added
    void add(std::span<const std::int32_t> samples);

    /// States the sample rate, or another one, of all samples. @throws bad_input  it is not above 0 and finite
    void sampled_at(frequency rate);

    [[nodiscard]] std::uint64_t size() const noexcept { return n_; }

    /// What has been seen so far; more may be added afterwards. @throws bad_input  nothing was added
    [[nodiscard]] one_pass_statistics statistics() const;

private:
    void count(const std::int32_t* samples, std::size_t n);
    void sum_up(const kernel_detail::kernels& kernels, const std::int32_t* samples, std::size_t n);
    void halve();
    void to_segments(const std::int32_t* samples, std::size_t n);
    void add_segment(const double* samples);
    [[nodiscard]] std::vector<std::uint64_t> counts() const;

    std::int32_t bottom_;
    std::int32_t top_;
    std::optional<frequency> sample_rate_;
    bool spectrum_;
    std::uint64_t n_ = 0;
    std::vector<std::uint32_t> tables_;  ///< four histograms side by side: one would wait for its own last increment
    std::vector<std::uint64_t> counts_;  ///< what has been taken out of them, before they run over
    std::uint64_t in_tables_ = 0;
    std::size_t most_parts_;
    std::vector<std::uint64_t> parts_;  ///< of part_length_ samples each, the sum of their distances from the bottom code
    std::uint64_t part_length_ = 1;
    std::uint64_t in_part_ = 0;
    std::uint64_t part_ = 0;
    std::vector<double> segment_;  ///< not yet in the spectrum
    std::vector<double> spectrum_sum_;
    std::vector<double> turns_;
    std::uint64_t segments_ = 0;
};

/// The same of a capture in memory.
[[nodiscard]] PLUMBLINE_EXPORT one_pass_statistics in_one_pass(const run& r, std::int32_t bottom_code, std::int32_t top_code,
                                                               bool spectrum = true);

/// Outliers beyond what this share of captures without any has; seen.far_out is that of 1 in 10 000. Nothing below 64 samples.
/// @param chance  above 0, below 1
[[nodiscard]] PLUMBLINE_EXPORT std::optional<outliers> outliers_in(const one_pass_statistics& seen, double chance);

/// Whether a line may be of mains: 50 or 60 Hz or one of their first ten harmonics, to mains_tolerance and 6 u of its frequency. Others are
/// more likely an inverter's or a charge controller's. False without sample rate. (Ten, and 6: common practice, no source.)
[[nodiscard]] PLUMBLINE_EXPORT bool may_be_mains(const strongest_line& line);

/// What quantisation leaves in the mean: of_mean (quantisation.hpp) by the scatter seen here.
/// @param n_eff  of these samples, seen.n_eff; or of as many such as these as are thought of, 1 at least
[[nodiscard]] PLUMBLINE_EXPORT quantisation quantisation_in(const one_pass_statistics& seen, double n_eff);

/// How many samples such as these bring the expanded uncertainty of the mean (k = 2) down to U. Of fewer samples than seen.told_from
/// (longer is cannot_be_told) it goes by an n_eff that is not to be believed yet, and may be far too small; a drift is not looked at.
/// @param U           codes, above 0 and finite
/// @param half_width  codes: what quantisation leaves whatever the number, quantisation_in(...).half_width
/// @return            nothing: no number does, slow noise or quantisation is in the way
/// @throws bad_input  U is not above 0 and finite
[[nodiscard]] PLUMBLINE_EXPORT std::optional<std::uint64_t> samples_for(const one_pass_statistics& seen, codes U,
                                                                        codes half_width);

/// The same with what quantisation leaves in as many samples: few may not prove that their noise dithers, where more of them do.
/// @return  nothing: no number below 10^15 does
[[nodiscard]] PLUMBLINE_EXPORT std::optional<std::uint64_t> samples_for(const one_pass_statistics& seen, codes U);

}  // namespace plumbline::inline v0::capture
