// first error: these two quantities come from two systems of units
#include <boost/units/systems/si/electric_potential.hpp>
#include <plumbline/units/quantities.hpp>

plumbline::voltage sum(plumbline::voltage v, boost::units::quantity<boost::units::si::electric_potential> w) {
#ifdef MISTAKE
    return v + w;
#else
    return v + plumbline::voltage(w);
#endif
}
