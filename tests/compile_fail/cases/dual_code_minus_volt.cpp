// first error: a raw code is not a voltage until a correction has been applied
#include <plumbline/units/dual.hpp>

using volts = plumbline::dual<plumbline::voltage::unit_type, 2>;
using codes = plumbline::dual<plumbline::codes::unit_type, 2>;

codes difference(const codes& c, [[maybe_unused]] const volts& v) {
#ifdef MISTAKE
    return c - v;
#else
    return c - c;
#endif
}
