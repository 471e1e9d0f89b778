#include <plumbline/uncertainty/distribution.hpp>

#include <cmath>

namespace plumbline::inline v0::uncertainty {

namespace {

struct to_u {
    double operator()(const normal& d) const { return d.u; }
    double operator()(const rectangular& d) const { return d.half_width / std::sqrt(3.0); }
    double operator()(const triangular& d) const { return d.half_width / std::sqrt(6.0); }
    double operator()(const repeated& d) const { return d.u; }
    double operator()(const trapezoidal& d) const {
        return std::sqrt((d.half_width * d.half_width + d.top_half_width * d.top_half_width) / 6.0);
    }
    double operator()(const arcsine& d) const { return d.half_width / std::sqrt(2.0); }
    double operator()(const two_point& d) const { return d.half_width; }
    double operator()(const coefficient_times_difference& d) const {
        return d.coefficient / std::sqrt(3.0) * std::sqrt(d.difference * d.difference + d.half_width * d.half_width / 3.0);
    }
};

struct to_degrees_of_freedom {
    double operator()(const normal& d) const { return d.degrees_of_freedom; }
    double operator()(const repeated& d) const { return d.degrees_of_freedom; }
    template <class Bounded>
    double operator()(const Bounded&) const {
        return infinite;  // limits are taken as exactly known (JCGM 100:2008, G.4.3)
    }
};

}  // namespace

double standard_uncertainty(const distribution& d) { return std::visit(to_u{}, d); }

double degrees_of_freedom(const distribution& d) { return std::visit(to_degrees_of_freedom{}, d); }

}  // namespace plumbline::inline v0::uncertainty
