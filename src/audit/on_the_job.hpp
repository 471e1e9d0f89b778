#pragma once
// The instrument on the job: what a voltage at the source becomes on the way to a reading, and how well that reading is known.

#include <optional>
#include <plumbline/audit/job.hpp>
#include <plumbline/audit/report.hpp>
#include <plumbline/record/record.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <plumbline/uncertainty/uncertain.hpp>
#include <vector>

namespace plumbline::inline v0::audit {

/// A reading of one value, from its source to what the person notes down.
struct outcome {
    voltage value;              ///< at the source, or the difference there
    uncertainty::budget known;  ///< of the reading, at the job's confidence
    voltage loading;            ///< reading less value where the source's nominal resistance is not corrected for
    voltage attenuation;        ///< size of what bandwidth, compensation and sampling may take away or add
    voltage allowed;            ///< 0 where no error is limited

    [[nodiscard]] voltage uncorrected() const;
    /// U and all that is left uncorrected: the guard band of a decision. GUM F.2.4.5 would correct for it, here it is not.
    [[nodiscard]] voltage guard() const { return known.U * volt + uncorrected(); }
};

/// What a trial of a change takes as done.
enum class assuming { nothing, calibrated_with_the_probe };

class on_the_job {
public:
    /// @throws bad_input  as audit()
    on_the_job(const record::record& r, const job& j, assuming also = assuming::nothing);

    [[nodiscard]] const calibration::range_calibration& range() const { return range_; }
    [[nodiscard]] double years() const { return years_; }
    [[nodiscard]] bool drift_known() const { return drift_known_; }
    [[nodiscard]] frequency sample_rate() const { return rate_; }
    [[nodiscard]] bool at_another_rate() const;                          ///< than that of the calibration
    [[nodiscard]] double effective_samples() const { return samples_; }  ///< that a mean counts for

    /// Poles that stand between source and converter, as far as they are known.
    [[nodiscard]] const std::vector<frequency>& poles() const { return poles_; }
    /// Rise time of all of them, 0 without any.
    [[nodiscard]] duration rise_time() const;
    /// A sine's amplitude after them, 1 before.
    [[nodiscard]] double amplitude(frequency f) const;

    /// Nominal resistance between source and connector.
    [[nodiscard]] resistance in_series() const;
    /// Voltage at the connector, nominal.
    [[nodiscard]] voltage at_connector(voltage at_source) const;

    /// Difference and peak to peak: from the low to the high end whatever `at` is.
    [[nodiscard]] outcome read(voltage at) const;
    /// Where it is worst in relation to what is allowed.
    [[nodiscard]] outcome worst() const;

    /// Probability that a reading is off by no more than allowed, by the distribution of all its terms, with all that is left uncorrected to
    /// one side.
    [[nodiscard]] double conformity(const outcome& o) const;

    /// What a reading is off by at most, with the job's confidence: the least allowed for which conformity reaches it.
    [[nodiscard]] voltage off(const outcome& o) const;

private:
    /// The sample rate, where it is another one and the record knows what that does.
    [[nodiscard]] std::optional<frequency> counted_rate() const;
    [[nodiscard]] uncertainty::uncertain<voltage> reading(voltage at) const;
    [[nodiscard]] voltage attenuated() const;

    const record::record& record_;
    const job& job_;
    assuming also_;
    const calibration::range_calibration& range_;
    calibration::use_conditions use_;
    bool drift_known_ = false;
    kelvins difference_;
    double years_ = 0.0;
    frequency rate_;
    double samples_ = 1.0;
    std::vector<frequency> poles_;
};

}  // namespace plumbline::inline v0::audit
