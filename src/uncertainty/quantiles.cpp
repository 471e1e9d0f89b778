#include "quantiles.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

using in_double = boost::math::policies::policy<boost::math::policies::promote_double<false>>;
using chi_squared_in_double = boost::math::chi_squared_distribution<double, in_double>;

}  // namespace

double normal_exceeded_by(double chance) {
    return boost::math::quantile(boost::math::complement(boost::math::normal_distribution<double, in_double>(), chance));
}

double student_t_exceeded_by(double chance, double degrees_of_freedom) {
    const boost::math::students_t_distribution<double, in_double> t(degrees_of_freedom);
    return boost::math::quantile(boost::math::complement(t, chance));
}

double chi_squared_exceeded_by(double chance, double degrees_of_freedom) {
    return boost::math::quantile(boost::math::complement(chi_squared_in_double(degrees_of_freedom), chance));
}

double chi_squared_quantile(double probability, double degrees_of_freedom) {
    return boost::math::quantile(chi_squared_in_double(degrees_of_freedom), probability);
}

double chance_of_chi_squared_above(double x, double degrees_of_freedom) {
    return boost::math::cdf(boost::math::complement(chi_squared_in_double(degrees_of_freedom), x));
}

}  // namespace plumbline::inline v0::uncertainty
