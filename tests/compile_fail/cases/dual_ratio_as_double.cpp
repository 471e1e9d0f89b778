// first error: cannot convert .*double|no viable conversion .*double
#include <plumbline/units/dual.hpp>

double number(const plumbline::dual<plumbline::ratio::unit_type, 2>& r) {
#ifdef MISTAKE
    return r;
#else
    return r.value();
#endif
}
