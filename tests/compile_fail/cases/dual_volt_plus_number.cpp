// first error: a bare number has no unit
#include <plumbline/units/dual.hpp>

using volts = plumbline::dual<plumbline::voltage::unit_type, 2>;

volts shift(const volts& v) {
#ifdef MISTAKE
    return 1 + v;
#else
    return 1 * plumbline::volt + v;
#endif
}
