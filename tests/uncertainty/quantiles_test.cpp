#include "../../src/uncertainty/quantiles.hpp"

#include <doctest/doctest.h>

#include <gsl/gsl_cdf.h>
#include <cmath>

namespace quantiles_test {

using namespace plumbline::uncertainty;

// GSL's functions of the same distributions, which share no code with Boost.Math.
TEST_CASE("quantiles are those of GSL from chances of 1/2 to 1e-20") {
    for (const double chance : {0.5, 0.05, 1e-3, 1e-5, 1e-10, 1e-20}) {
        CAPTURE(chance);
        CHECK(normal_exceeded_by(chance) == doctest::Approx(gsl_cdf_ugaussian_Qinv(chance)).epsilon(1e-12));
        for (const double freedom : {1.0, 3.0, 7.5, 100.0}) {
            CAPTURE(freedom);
            CHECK(chi_squared_exceeded_by(chance, freedom) == doctest::Approx(gsl_cdf_chisq_Qinv(chance, freedom)).epsilon(1e-9));
            CHECK(chance_of_chi_squared_above(gsl_cdf_chisq_Qinv(chance, freedom), freedom) ==
                  doctest::Approx(chance).epsilon(1e-9).scale(0));
            CHECK(chi_squared_quantile(chance, freedom) ==
                  doctest::Approx(gsl_cdf_chisq_Pinv(chance, freedom)).epsilon(1e-9).scale(0));
            // GSL's quantile of t is its weakest: asked the other way round
            CHECK(gsl_cdf_tdist_Q(student_t_exceeded_by(chance, freedom), freedom) ==
                  doctest::Approx(chance).epsilon(1e-9).scale(0));
        }
    }
}

}  // namespace quantiles_test
