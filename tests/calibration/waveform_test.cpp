#include <plumbline/calibration/waveform.hpp>

#include <doctest/doctest.h>

#include "bench.hpp"

#include <algorithm>
#include <cstdint>
#include <plumbline/uncertainty/budget.hpp>
#include <vector>

namespace waveform_test {

using namespace plumbline;
using namespace plumbline::calibration;
namespace un = plumbline::uncertainty;

namespace {

step metered(double volts, double steeper) {
    const double zero = bench::code_of(0.0);
    return bench::metered(volts, bench::seen(zero + (volts < 0.0 ? steeper : 1.0) * (bench::code_of(volts) - zero)));
}

struct solved {
    std::vector<reference> all = bench::references();
    un::input_set inputs;
    range_calibration of;
    solved(double at, std::optional<double> other_side) {
        std::optional<step> third;
        if (other_side) third = metered(*other_side, 0.97);
        of = solve(bench::ten_volts(),
                   {bench::stepped("short", bench::seen(bench::code_of(0.0))), metered(at, other_side ? 0.97 : 1.0), third}, all,
                   inputs);
        of.compact = compact_form(of, all, inputs);
    }
};

}  // namespace

TEST_CASE("a waveform's volts are the readings of its codes, and its U is never below theirs nor above by more than is stated") {
    for (const solved& s : {solved(5.0, {}), solved(5.0, -5.0), solved(-5.0, 5.0)}) {
        CAPTURE(s.of.negative.has_value());
        CAPTURE(s.of.reference.seen.mean.value());
        std::vector<std::uint16_t> codes;
        const double from = code_at(s.of, s.of.chain.low).value();
        const double to = code_at(s.of, s.of.chain.high).value();
        for (double c = std::ceil(from); c <= to; c += 17.0) codes.push_back(static_cast<std::uint16_t>(c));
        for (const double beside : {-1.0, 0.0, 1.0}) {
            codes.push_back(static_cast<std::uint16_t>(s.of.zero.seen.mean.value() + beside));
        }
        REQUIRE(codes.size() > 90);
        std::vector<float> volts(codes.size()), U(codes.size());
        capture::to_volts(std::span<const std::uint16_t>(codes), code_to_volts(s.of), volts, U);
        double farthest = 0.0, least = 1e9, most = 0.0;
        for (std::size_t i = 0; i < codes.size(); ++i) {
            const auto r = reading(s.inputs, s.all, s.of, static_cast<double>(codes[i]) * code, at_calibration(s.of));
            const double own = make_convolved_budget(r).U;
            farthest = std::max(farthest, std::abs(static_cast<double>(volts[i]) - r.value.value()));
            least = std::min(least, static_cast<double>(U[i]) / own);
            most = std::max(most, static_cast<double>(U[i]) / own);
        }
        constexpr double of_float = 2e-7 * 40.0;  // of |gain c| + |offset|, below 40 V here
        CHECK(farthest <= of_float);
        CHECK(least >= 1.0 - 2e-7);
        CHECK(most <= 1.0 + s.of.compact.largest_excess + 1e-3);  // which is looked for at 200 points
        CHECK(most > 1.0);
    }
}

}  // namespace waveform_test
