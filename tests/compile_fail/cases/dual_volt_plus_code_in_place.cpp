// first error: a raw code is not a voltage until a correction has been applied
#include <plumbline/units/dual.hpp>

using volts = plumbline::dual<plumbline::voltage::unit_type, 2>;

void add(volts& v, [[maybe_unused]] plumbline::codes c) {
#ifdef MISTAKE
    v += c;
#else
    v += plumbline::volt;
#endif
}
