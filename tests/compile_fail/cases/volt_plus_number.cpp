// first error: a bare number has no unit
#include <plumbline/units/quantities.hpp>

plumbline::voltage shift(plumbline::voltage v) {
#ifdef MISTAKE
    return v + 1.0;
#else
    return v + 1.0 * plumbline::volt;
#endif
}
