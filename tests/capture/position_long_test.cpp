#include <doctest/doctest.h>

#include <cmath>
#include <plumbline/capture/position.hpp>
#include <simulation/random.hpp>
#include <slow_build.hpp>
#include <vector>

namespace position_long_test {

using namespace plumbline;

TEST_CASE("95.45 % of intervals hold the position and the noise, from no noise to 1.5 codes and from 4 samples to 1000") {
    constexpr int captures = 500;
    constexpr int least = 462;  // 95.45 % less 3.3 standard deviations
    for (const int n : {4, 16, 100, 1000}) {
        for (const double sigma : {0.0, 0.03, 0.1, 0.2, 0.3, 0.5, 0.8, 1.5}) {
            int of_mu = 0;
            int of_sigma = 0;
            for (int i = 0; i < captures; ++i) {
                simulation::generator random(900 + static_cast<std::uint64_t>(i));
                const double mu = 30.0 + (i + 0.5) / captures;
                std::vector<std::uint64_t> counts(64);
                for (int k = 0; k < n; ++k) ++counts[static_cast<std::size_t>(std::lround(mu + sigma * random.normal()))];
                const capture::position p = capture::position_of(counts, 0, n);
                of_mu += p.low.value() <= mu && mu <= p.high.value() ? 1 : 0;
                of_sigma += p.sigma_low.value() <= sigma && sigma <= p.sigma_high.value() ? 1 : 0;
            }
            CAPTURE(n);
            CAPTURE(sigma);
            CHECK(of_mu >= least);
            // Of 4 samples s^2 - 1/12 says little of sigma: Sheppard's correction is of the mean.
            if (n > 4) CHECK(of_sigma >= least);
        }
    }
}

}  // namespace position_long_test
